/* SPDX-License-Identifier: GPL-3.0-or-later */
/* station_told.c: what waits is stored, and only what is stored is told. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "number.h"
#include "reading_json.h"
#include "station_private.h"
#include "timestamp.h"

static const int64_t busy_told_after_us = 2000000;

/* "1.38 % TDS" */
static const char *shown_print(char *out, size_t size, const struct shown *shown)
{
	char number[NUMBER_TEXT];
	const char *unit = unit_symbol(shown->unit);

	snprintf(out, size, "%s%s%s", number_print(number, sizeof(number), shown->value, shown->decimals),
	         unit[0] ? " " : "", unit);
	return out;
}

/* What is on the prism, by the reading's own label and role. */
static void cup_print(char *out, size_t size, const struct ledger_entry *entry)
{
	char number[NUMBER_TEXT];

	if (entry->role == READING_ZERO)
		snprintf(out, size, "zero");
	else if (entry->role == READING_STANDARD)
		snprintf(out, size, "standard %s", number_print(number, sizeof(number), entry->standard_percent, 2));
	else
		snprintf(out, size, "%.*s", SLICE_ARG(entry->label));
}

/* Another cup than before: what the last one showed counts for the spread to expect. */
static void cup_change(struct station_meter *meter, const struct ledger_entry *entry)
{
	char cup[CUP_TURN_TEXT];

	cup_print(cup, sizeof(cup), entry);
	if (strcmp(cup, meter->cup) == 0 && meter->cup_role == entry->role && meter->shown.unit == entry->shown.unit)
		return;
	if (meter->cup[0])
		live_spread_add(&meter->spread, meter->values, meter->value_count, meter->doubted);
	memcpy(meter->cup, cup, sizeof(cup));
	meter->cup_role = entry->role;
	meter->value_count = meter->count = 0;
	meter->doubted = false;
}

static void value_add(struct station_meter *meter, double value)
{
	if (meter->value_count == METER_VALUES) {
		memmove(meter->values, meter->values + 1, (METER_VALUES - 1) * sizeof(meter->values[0]));
		meter->value_count--;
	}
	meter->values[meter->value_count++] = value;
	meter->count++;
}

/* What live_check() found, for somebody who has the cup in hand: what to do comes first. */
static void warning_print(struct station_meter *meter)
{
	const struct live_result *live = &meter->live;
	int decimals = meter->shown.decimals;
	char by[NUMBER_TEXT], limit[NUMBER_TEXT];

	meter->warning[0] = '\0';
	number_print(limit, sizeof(limit), live->limit, decimals + 1);
	if (live->verdict == LIVE_DRIFTING)
		snprintf(meter->warning, sizeof(meter->warning),
		         "wait, then read %s again: it keeps %s, by %s so far (readings of a cup differ by up to %s)",
		         meter->cup, live->change > 0 ? "rising" : "falling",
		         number_print(by, sizeof(by), fabs(live->change), decimals), limit);
	else if (live->verdict == LIVE_OUTSIDE)
		snprintf(meter->warning, sizeof(meter->warning),
		         "read %s again: the last one is %s %s the others (%zu readings of a cup range over up to %s)",
		         meter->cup, number_print(by, sizeof(by), fabs(live->apart), decimals + 1),
		         live->apart > 0 ? "above" : "below",
		         meter->value_count < LIVE_MOST ? meter->value_count : (size_t)LIVE_MOST, limit);
}

static void live_look(struct station_meter *meter, const struct ledger_entry *entry)
{
	cup_change(meter, entry);
	meter->shown = entry->shown;
	meter->temp_c = entry->temp_c;
	meter->warning[0] = '\0';
	meter->live = (struct live_result){ .mean = NAN, .sd = NAN, .range = NAN, .limit = NAN };
	if (!meter->cup[0])
		return;
	value_add(meter, entry->shown.value);
	meter->live = live_check(meter->values, meter->value_count, shown_step(entry->shown), &meter->spread);
	meter->doubted = meter->doubted || meter->live.verdict != LIVE_FINE;
	warning_print(meter);
}

/* One line of JSON that holds until the next; NULL: no memory. */
static const char *told_json(struct station *station, const struct store_item *item)
{
	const struct ledger_entry *entry = &item->entry;
	struct reading_facts facts = {
		.entry = entry,
		.label = entry->label,
		.role = entry->role,
		.flags = entry->flags,
		.meter = slice_from(item->meter->about.name),
		.run = slice_from(station->run.id == entry->run ? station->run.name : ""),
	};
	struct reading_place place = {
		.count = item->taken.count,
		.goal = item->taken.goal,
		.warning = slice_from(item->meter->warning),
	};

	return reading_json(&station->told, &facts, &place);
}

static void recent_keep(struct station *station, const char *json)
{
	char *text = strdup(json);

	if (!text)
		return;
	if (station->recent_count == STATION_RECENT) {
		free(station->recent[0]);
		memmove(station->recent, station->recent + 1, (STATION_RECENT - 1) * sizeof(station->recent[0]));
		station->recent_count--;
	}
	station->recent[station->recent_count++] = text;
}

/* "A1 1.38 % TDS at 22.4 °C, 2 of 3", for where no view is shown. */
static void plain_tell(struct station *station, const struct store_item *item)
{
	const struct ledger_entry *entry = &item->entry;
	char shown[80], cup[CUP_TURN_TEXT], line[640], temp[48] = "", of[48] = "", words[READING_FLAG_WORDS];

	cup_print(cup, sizeof(cup), entry);
	if (!isnan(entry->temp_c))
		snprintf(temp, sizeof(temp), " at %.1f °C", entry->temp_c);
	if (item->taken.count > 0)
		snprintf(of, sizeof(of), item->taken.goal > 0 ? ", %u of %u" : ", %u", item->taken.count,
		         item->taken.goal);
	reading_flag_words(words, sizeof(words), entry->flags);
	snprintf(line, sizeof(line), "%s%s%s%s%s%s%s%s", station->meter_count > 1 ? item->meter->about.name : "",
	         station->meter_count > 1 ? ": " : "", cup, cup[0] ? " " : "",
	         shown_print(shown, sizeof(shown), &entry->shown), temp, of, words[0] ? ", " : "");
	snprintf(line + strlen(line), sizeof(line) - strlen(line), "%s", words);
	output_add_line(&station->out, line);
}

static void reading_tell(struct station *station, const struct store_item *item)
{
	const char *text = told_json(station, item);
	bool wanted = station->request.json || (station->control && control_followed(station->control));

	if (wanted && !text)
		station_say(station, LOG_LEVEL_DOUBT, "reading %lld is stored, and not told: no memory",
		            (long long)item->entry.id);
	if (text && station->request.json)
		output_add_line(&station->out, text);
	if (text && station->control)
		control_tell(station->control, text);
	if (!station->request.json && !station->request.view)
		plain_tell(station, item);
	if (text)
		recent_keep(station, text);
}

/* The cup has what was wanted of it. */
static void finish_tell(struct station *station, const struct store_item *item)
{
	struct station_meter *meter = item->meter;
	char next[CUP_TURN_TEXT], cup[CUP_TURN_TEXT];

	cup_print(cup, sizeof(cup), &item->entry);
	cup_turn_label(next, sizeof(next), &meter->turn);
	if (item->taken.moved && next[0])
		station_say(station, LOG_LEVEL_NEWS, "%s: %s has its %u readings; next is %s", meter->about.name, cup,
		            item->taken.count, next);
	else if (item->taken.all_done)
		station_say(station, LOG_LEVEL_NEWS,
		            "%s: %s has its %u readings, and with it every cup has: what comes now is of no cup",
		            meter->about.name, cup, item->taken.count);
	if (item->taken.finished && station->run.id != 0)
		report_child_want(&station->report, station->run.name);
}

static void reading_acknowledge(struct station *station, struct store_item *item)
{
	struct station_meter *meter = item->meter;
	const struct ledger_entry *entry = &item->entry;

	meter->readings++;
	if (entry->flags & (READING_REPEAT | READING_STALE)) {
		meter->warning[0] = '\0';
		station_say(station, LOG_LEVEL_NOTICE, "%s: reading %lld is kept, not counted: %s", meter->about.name,
		            (long long)entry->id,
		            entry->flags & READING_REPEAT ? "the meter sent it before" :
		                                            "it stood in the port's buffer");
	} else {
		live_look(meter, entry);
	}
	reading_tell(station, item);
	if (meter->warning[0])
		station_say(station, LOG_LEVEL_DOUBT, "%s: %s", meter->about.name, meter->warning);
	if (item->taken.finished || item->taken.moved)
		finish_tell(station, item);
}

static void item_acknowledge(struct station *station, struct store_item *item)
{
	struct station_meter *meter = item->meter;

	if (item->left_out) {
		station_say(station, LOG_LEVEL_DOUBT, "not stored: %s", station->store.error.text);
		return;
	}
	if (item->is_event)
		return;
	meter->last_us = item->entry.received_us;
	line_print(meter->last_line, sizeof(meter->last_line), item->entry.raw);
	if (item->entry.role != LEDGER_RAW)
		reading_acknowledge(station, item);
}

/* Tells when storing stops and when it goes on. */
static void state_tell(struct station *station)
{
	struct store *store = &station->store;
	int64_t for_us = station->now.monotonic_us - store->since_us;

	if (store->told)
		return;
	if (store->state == STORE_STORING) {
		if (station->refusal_told)
			station_say(station, LOG_LEVEL_NOTICE, "storing again");
	} else if (store->state == STORE_FAILING || for_us > busy_told_after_us) {
		station_say(station, LOG_LEVEL_FAILURE, "NOT STORING: %s; what comes is kept in memory and tried again",
		            store->error.text);
	} else {
		return;
	}
	station->refusal_told = store->state != STORE_STORING;
	notify_status(store->state == STORE_STORING ? "storing" : "not storing");
	store->told = true;
}

static void losses_tell(struct station *station)
{
	struct store *store = &station->store;

	if (store->lost > 0 && !station->lost_told)
		station_say(station, LOG_LEVEL_FAILURE, "memory for what waits is full: lines are being lost");
	station->lost_told = store->lost > 0;
	if (store->lost == 0 || store->state != STORE_STORING || store->count > 0)
		return;
	station_note(station, NULL, LOG_LEVEL_FAILURE, "lost", "%zu lines were lost while the ledger refused",
	             store->lost);
	store->lost = 0;
}

void station_store(struct station *station)
{
	struct store_item *item = store_commit(&station->store, &station->now);

	state_tell(station);
	while (item) {
		struct store_item *next = item->next;

		item_acknowledge(station, item);
		store_item_free(item);
		item = next;
		station->stale_view = true;
	}
	losses_tell(station);
}
