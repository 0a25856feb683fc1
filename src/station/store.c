/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store.h"

#include <stdlib.h>
#include <string.h>

#define MS_US INT64_C(1000)

/* All in µs. */
static const int64_t busy_again_us = 20 * MS_US;
static const int64_t failed_again_us = 500 * MS_US;
static const int64_t failed_most_us = 5000 * MS_US;

void store_init(struct store *store, struct ledger *ledger)
{
	*store = (struct store){ .ledger = ledger };
}

void store_release(struct store *store)
{
	while (store->first) {
		struct store_item *next = store->first->next;

		store_item_free(store->first);
		store->first = next;
	}
	*store = (struct store){ .ledger = NULL };
}

void store_item_free(struct store_item *item)
{
	free(item);
}

/* Room for an item with extra bytes of text behind it; NULL: no room. */
static struct store_item *item_new(struct store *store, size_t extra)
{
	size_t size = sizeof(struct store_item) + extra;
	struct store_item *item;

	if (store->bytes + size > STORE_MOST)
		return NULL;
	item = calloc(1, size);
	if (item)
		item->size = size;
	return item;
}

static struct slice bytes_keep(char **at, struct slice slice)
{
	struct slice kept = { *at, slice.len };

	if (slice.len > 0)
		memcpy(*at, slice.text, slice.len);
	*at += slice.len;
	return kept;
}

static void item_queue(struct store *store, struct store_item *item)
{
	if (store->last)
		store->last->next = item;
	else
		store->first = item;
	store->last = item;
	store->count++;
	store->bytes += item->size;
}

bool store_add_line(struct store *store, const struct ledger_entry *entry, struct station_meter *meter,
                    const struct cup_taken *taken)
{
	size_t extra = entry->raw.len + entry->label.len + entry->sequence.len + entry->status.len;
	struct store_item *item = item_new(store, extra);
	char *at;

	if (!item) {
		store->lost++;
		return false;
	}
	at = item->bytes;
	item->entry = *entry;
	item->entry.raw = bytes_keep(&at, entry->raw);
	item->entry.label = bytes_keep(&at, entry->label);
	item->entry.sequence = bytes_keep(&at, entry->sequence);
	item->entry.status = bytes_keep(&at, entry->status);
	item->meter = meter;
	item->taken = *taken;
	item->taken.label = item->entry.label;
	item_queue(store, item);
	return true;
}

void store_add_event(struct store *store, const struct ledger_event *event, struct station_meter *meter)
{
	struct store_item *item = item_new(store, event->kind.len + event->text.len);
	char *at;

	if (!item)
		return;
	at = item->bytes;
	item->is_event = true;
	item->event = *event;
	item->event.kind = bytes_keep(&at, event->kind);
	item->event.text = bytes_keep(&at, event->text);
	item->meter = meter;
	item_queue(store, item);
}

/* Adds the first items to the open group; *after is the first that is not in it. */
static enum status group_fill(struct store *store, struct store_item **after, struct error *error)
{
	struct store_item *item = store->first;
	enum status status = STATUS_OK;

	for (size_t n = 0; item && n < STORE_GROUP; n++, item = item->next) {
		status = item->is_event ? ledger_event_add(store->ledger, &item->event, error) :
		                          ledger_append(store->ledger, &item->entry, error);
		item->left_out = status == STATUS_INVALID;
		if (status != STATUS_OK && status != STATUS_INVALID)
			break;
		status = STATUS_OK;
	}
	*after = item;
	return status;
}

static enum status group_store(struct store *store, struct store_item **after, struct error *error)
{
	enum status status = ledger_begin(store->ledger, error);

	if (status == STATUS_OK)
		status = group_fill(store, after, error);
	if (status == STATUS_OK)
		status = ledger_commit(store->ledger, error);
	else
		ledger_rollback(store->ledger);
	return status;
}

static void state_enter(struct store *store, enum store_state state, const struct moment *now)
{
	if (store->state == state)
		return;
	if (store->state == STORE_STORING || state == STORE_STORING)
		store->since_us = now->monotonic_us;
	store->state = state;
	store->told = false;
	store->backoff_us = failed_again_us;
}

static void put_off(struct store *store, enum status status, const struct moment *now)
{
	if (status == STATUS_BUSY) {
		state_enter(store, STORE_WAITING, now);
		store->retry_us = now->monotonic_us + busy_again_us;
		return;
	}
	state_enter(store, STORE_FAILING, now);
	store->retry_us = now->monotonic_us + store->backoff_us;
	store->backoff_us = store->backoff_us * 2 < failed_most_us ? store->backoff_us * 2 : failed_most_us;
}

/* Takes the items before after out of the queue. */
static struct store_item *items_take(struct store *store, struct store_item *after)
{
	struct store_item *stored = store->first;
	struct store_item *last = NULL;

	for (struct store_item *item = stored; item != after; item = item->next) {
		store->count--;
		store->bytes -= item->size;
		last = item;
	}
	if (last)
		last->next = NULL;
	store->first = after;
	if (!after)
		store->last = NULL;
	return stored;
}

struct store_item *store_commit(struct store *store, const struct moment *now)
{
	struct store_item *after = NULL;
	enum status status;

	if (!store->first || (store->state != STORE_STORING && now->monotonic_us < store->retry_us))
		return NULL;
	status = group_store(store, &after, &store->error);
	if (status != STATUS_OK) {
		put_off(store, status, now);
		return NULL;
	}
	state_enter(store, STORE_STORING, now);
	store->retry_us = 0;
	return items_take(store, after);
}

int64_t store_deadline_us(const struct store *store)
{
	return store->first ? store->retry_us : CLOCK_NEVER;
}
