/* SPDX-License-Identifier: GPL-3.0-or-later */
/* station_cups.c: what is on the prism, as people say. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "label.h"
#include "number.h"
#include "station_private.h"
#include "text.h"

void station_cup_note(struct station *station, struct station_meter *meter)
{
	char label[CUP_TURN_TEXT];
	struct ledger_event event = {
		.at_us = station->now.wall_us,
		.monotonic_us = station->now.monotonic_us,
		.meter = meter->id,
		.run = station->run.id,
		.kind = SLICE_OF("cup"),
	};

	event.text = slice_from(cup_turn_label(label, sizeof(label), &meter->turn));
	store_add_event(&station->store, &event, meter);
	station->stale_view = true;
}

/* Is it about that meter? NULL: about all that are there. */
static bool is_meant(const struct station *station, size_t i, const struct station_meter *meter)
{
	return station->meters[i]->source && (!meter || station->meters[i] == meter);
}

static void changed_tell(struct station *station, struct station_meter *meter)
{
	char label[CUP_TURN_TEXT];

	for (size_t i = 0; i < station->meter_count; i++)
		if (is_meant(station, i, meter)) {
			cup_turn_label(label, sizeof(label), &station->meters[i]->turn);
			station_say(station, LOG_LEVEL_NEWS, "%s: on the prism: %s", station->meters[i]->about.name,
			            label[0] ? label : "no cup");
			station_cup_note(station, station->meters[i]);
		}
}

/* The label as the manifest has it, where it differs in letter case alone. */
static struct slice label_resolve(struct station *station, struct slice label)
{
	const struct cup_order *order = &station->run.order;
	size_t found = CUP_NONE, alike = 0;

	if (cup_order_find(order, label) != CUP_NONE)
		return label;
	for (size_t i = 0; i < order->count; i++)
		if (label_nearly_same(order->labels[i], label)) {
			found = i;
			alike++;
		}
	if (alike == 1)
		return order->labels[found];
	if (station->run.id != 0)
		station_say(station, LOG_LEVEL_DOUBT,
		            "no cup of run %s is called \"%.*s\"; its readings are kept, but will not be joined",
		            station->run.name, SLICE_ARG(label));
	return label;
}

enum status station_cup_set(struct station *station, struct station_meter *meter, struct slice label,
                            struct error *error)
{
	struct arena memory = ARENA_INIT;
	struct slice key;
	enum status status = STATUS_OK;

	if (utf8_valid_part(label) < label.len || label_hidden(label) != 0)
		return error_set(error, STATUS_INVALID, "a cup's label is printable UTF-8");
	if (!label_key(&key, &memory, label))
		status = error_set(error, STATUS_MEMORY, "no memory");
	else if (key.len == 0 || key.len >= CUP_LABEL)
		status = error_set(error, STATUS_INVALID, "a cup's label has 1 to %d bytes", CUP_LABEL - 1);
	if (status == STATUS_OK) {
		struct slice resolved = label_resolve(station, key);

		for (size_t i = 0; i < station->meter_count; i++)
			if (is_meant(station, i, meter))
				cup_turn_set(&station->meters[i]->turn, resolved);
		changed_tell(station, meter);
	}
	arena_release(&memory);
	return status;
}

enum status station_cup_check(struct station *station, struct station_meter *meter, double standard_percent,
                              struct error *error)
{
	if (!(standard_percent >= 0 && standard_percent <= 85))
		return error_set(error, STATUS_INVALID, "a standard has a strength above 0 and up to 85 %% of sucrose");
	for (size_t i = 0; i < station->meter_count; i++)
		if (is_meant(station, i, meter))
			cup_turn_check(&station->meters[i]->turn, standard_percent);
	changed_tell(station, meter);
	return STATUS_OK;
}

static bool turn_move(struct cup_turn *turn, enum cup_move move)
{
	switch (move) {
	case CUP_NEXT:
		return cup_turn_step(turn, 1);
	case CUP_BACK:
		return cup_turn_step(turn, -1);
	case CUP_AGAIN:
		return cup_turn_again(turn);
	case CUP_OFF:
		cup_turn_none(turn);
		break;
	}
	return true;
}

enum status station_cup_move(struct station *station, struct station_meter *meter, enum cup_move move,
                             struct error *error)
{
	bool moved = false;

	for (size_t i = 0; i < station->meter_count; i++)
		if (is_meant(station, i, meter) && turn_move(&station->meters[i]->turn, move))
			moved = true;
	if (!moved)
		return error_set(error, STATUS_INVALID, "%s",
		                 station->run.order.count == 0 ?
		                         "there is no order of cups, since no run with a manifest is open" :
		                         "there is no cup in that direction");
	changed_tell(station, meter);
	return STATUS_OK;
}

static enum status standard_words(struct station *station, struct station_meter *meter, struct slice strength,
                                  struct error *error)
{
	double percent;

	if (strength.len > 0 && strength.text[strength.len - 1] == '%')
		strength = slice_trim(slice_part(strength, 0, strength.len - 1));
	if (!number_parse_any(&percent, NULL, strength) || !(percent > 0))
		return error_set(error, STATUS_INVALID,
		                 "a standard needs its strength in %% of sucrose, such as: standard 5.00");
	return station_cup_check(station, meter, percent, error);
}

enum status station_cup_words(struct station *station, struct station_meter *meter, struct slice words,
                              struct error *error)
{
	words = slice_trim(words);
	if (slice_equal_nocase(words, SLICE_OF("zero")))
		return station_cup_check(station, meter, 0, error);
	if (slice_equal_nocase(slice_part(words, 0, 8), SLICE_OF("standard")) &&
	    (words.len == 8 || words.text[8] == ' '))
		return standard_words(station, meter, slice_trim(slice_part(words, 8, words.len)), error);
	if (words.len > 2 && words.text[0] == '"' && words.text[words.len - 1] == '"')
		words = slice_part(words, 1, words.len - 1);
	return station_cup_set(station, meter, words, error);
}

enum status station_ask(struct station *station, struct station_meter *meter, struct error *error)
{
	enum status status = error_set(error, STATUS_INVALID, "no meter can be asked: their profiles have no [ask]");

	for (size_t i = 0; i < station->meter_count; i++) {
		enum status one;

		if (!is_meant(station, i, meter) || (!meter && station->meters[i]->profile->ask.len == 0))
			continue;
		one = source_ask(station->meters[i]->source, &station->now, error);
		status = status == STATUS_OK ? STATUS_OK : one;
	}
	return status;
}
