/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * store.h: what came in and is not in the ledger yet. Lines and events wait here in their order; all that wait go into
 * the ledger as one group, and only then are they given out as stored.
 *
 * While the ledger refuses (disk full, another program writing) they go on waiting, up to STORE_MOST bytes, and are
 * tried again; what comes beyond that bound is lost, and counted.
 */
#ifndef BREWSPREAD_STORE_H
#define BREWSPREAD_STORE_H

#include <stdbool.h>
#include <stdint.h>

#include "clock.h"
#include "cup_turn.h"
#include "ledger.h"
#include "ledger_append.h"
#include "ledger_event.h"

enum {
	STORE_MOST = 64 << 20, /* bytes that may wait */
	STORE_GROUP = 4096,    /* lines and events in one group at most */
};

struct station_meter;

/* One line or event, with what belongs to its acknowledgement. */
struct store_item {
	struct store_item *next;
	bool is_event;
	bool left_out;             /* the ledger does not take what it says: it is not stored */
	struct ledger_entry entry; /* unless is_event; its slices show bytes */
	struct ledger_event event;
	struct station_meter *meter; /* NULL: of none */
	struct cup_taken taken;      /* of a reading; its label is that of entry */
	size_t size;
	char bytes[];
};

enum store_state {
	STORE_STORING,
	STORE_WAITING, /* for another program that writes to the ledger */
	STORE_FAILING, /* the ledger refuses */
};

struct store {
	struct ledger *ledger; /* lent */
	struct store_item *first, *last;
	size_t count, bytes;
	size_t lost; /* lines that found no room, since it began to fail */
	enum store_state state;
	int64_t since_us; /* monotonic: when the state began; */
	int64_t retry_us; /* when it is tried again */
	int64_t backoff_us;
	bool told;          /* for the station: somebody was told of the state */
	struct error error; /* why it is not STORE_STORING */
};

void store_init(struct store *store, struct ledger *ledger);

/* Forgets what waits. */
void store_release(struct store *store);

/* Takes a copy of entry. False: there is no room, or no memory; it is counted as lost. */
bool store_add_line(struct store *store, const struct ledger_entry *entry, struct station_meter *meter,
                    const struct cup_taken *taken);

/* Takes a copy of event. An event that finds no room is forgotten. */
void store_add_event(struct store *store, const struct ledger_event *event, struct station_meter *meter);

/*
 * Brings what waits into the ledger, where it is time to try. What was stored, ids set, in the order in which it came:
 * to be given back, one by one, with store_item_free(). NULL: nothing.
 */
struct store_item *store_commit(struct store *store, const struct moment *now);

/* Takes NULL. */
void store_item_free(struct store_item *item);

/* When store_commit() wants to be called; CLOCK_NEVER: nothing waits. */
int64_t store_deadline_us(const struct store *store);

#endif
