/* SPDX-License-Identifier: GPL-3.0-or-later */
/* station_meter.c: one meter: source → lines → profile → what waits to be stored. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "builtin_profiles.h"
#include "ledger_meter.h"
#include "station_private.h"
#include "text.h"

static const int64_t unread_every_us = 1000000;

static bool about_copy(struct station_meter *meter, const struct bench_meter *about)
{
	meter->about = *about;
	meter->about.name = arena_print(&meter->memory, "%s", about->name);
	meter->about.port = arena_print(&meter->memory, "%s", about->port);
	meter->about.profile = arena_print(&meter->memory, "%s", about->profile);
	return meter->about.name && meter->about.port && meter->about.profile;
}

/* The text of the profile: the ledger keeps it with the meter, and settings that are read again are compared by it. */
static enum status profile_text_load(struct station_meter *meter, struct error *error)
{
	/* NOLINTNEXTLINE(clang-analyzer-core.NullDereference): called once the texts were copied */
	const struct profile_def *def = builtin_profile_find(slice_from(meter->about.profile));
	struct text text = TEXT_INIT;
	enum status status;

	if (def) {
		meter->profile_text = strdup(def->ini);
	} else {
		status = text_load(&text, meter->about.profile, error);
		if (status != STATUS_OK)
			return status;
		meter->profile_text = slice_string((struct slice){ text.bytes, text.len });
		text_release(&text);
	}
	return meter->profile_text ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory for a profile");
}

static enum status source_make(struct station_meter *meter, struct error *error)
{
	struct source_request request = {
		.where = meter->about.port,
		.profile = meter->profile,
		.name = slice_from(meter->about.name),
		.stale = meter->about.drop_waiting ? SOURCE_STALE_DROP : SOURCE_STALE_MARK,
	};

	meter->scratch = profile_scratch_new(meter->profile);
	if (!meter->scratch)
		return error_set(error, STATUS_MEMORY, "no memory for meter %s", meter->about.name);
	return source_new(&meter->source, &request, error);
}

static enum status ledger_register(struct station_meter *meter, struct station *station, struct error *error)
{
	struct ledger_meter row = {
		.seen_us = clock_wall_us(),
		.meter = meter->profile->meter,
		.port = slice_from(meter->about.port),
		.profile = slice_from(meter->profile_text),
	};
	enum status status;

	row.meter.name = slice_from(meter->about.name);
	status = ledger_meter_add(station->ledger, &row, error);
	meter->id = row.id;
	return status;
}

enum status station_meter_new(struct station_meter **out, struct station *station, const struct bench_meter *about,
                              struct faults *faults, struct error *error)
{
	struct station_meter *meter = calloc(1, sizeof(*meter));
	enum status status = STATUS_OK;

	*out = NULL;
	if (!meter || !about_copy(meter, about))
		status = error_set(error, STATUS_MEMORY, "no memory for meter %s", about->name);
	if (status == STATUS_OK)
		status = profile_text_load(meter, error);
	if (status == STATUS_OK)
		status = profile_open(&meter->profile, meter->about.profile, faults, error);
	if (status == STATUS_OK)
		status = source_make(meter, error);
	if (status == STATUS_OK)
		status = ledger_register(meter, station, error);
	if (status == STATUS_OK && !station_run_join(station, meter))
		status = error_set(error, STATUS_MEMORY, "no memory for meter %s", about->name);
	if (status == STATUS_OK)
		*out = meter;
	else
		station_meter_free(meter);
	return status;
}

void station_meter_free(struct station_meter *meter)
{
	if (!meter)
		return;
	source_free(meter->source);
	profile_scratch_free(meter->scratch);
	profile_free(meter->profile);
	free(meter->profile_text);
	free(meter->taken);
	arena_release(&meter->memory);
	free(meter);
}

/* What came with a reading that makes it known again, cut where it is longer than any meter counts. */
static struct sent sent_of(const struct profile_reading *reading)
{
	struct sent sent = { .value = reading->shown.value };
	size_t sequence = reading->seq.len < sizeof(sent.sequence) ? reading->seq.len : sizeof(sent.sequence) - 1;
	size_t label = reading->label.len < sizeof(sent.label) ? reading->label.len : sizeof(sent.label) - 1;

	if (sequence > 0)
		memcpy(sent.sequence, reading->seq.text, sequence);
	if (label > 0)
		memcpy(sent.label, reading->label.text, label);
	return sent;
}

/* Did the meter send it before: the same number of its count with the same value and label? Remembers it. */
static bool sent_before(struct station_meter *meter, const struct profile_reading *reading)
{
	struct sent sent = sent_of(reading);
	size_t held = meter->recent_count < METER_RECENT ? meter->recent_count : METER_RECENT;

	if (reading->seq.len == 0)
		return false;
	for (size_t i = 0; i < held; i++) {
		const struct sent *before = &meter->recent[i];

		if (before->value == sent.value && strcmp(before->sequence, sent.sequence) == 0 &&
		    strcmp(before->label, sent.label) == 0)
			return true;
	}
	meter->recent[meter->recent_count++ % METER_RECENT] = sent;
	return false;
}

static struct ledger_entry entry_of(const struct station *station, const struct station_meter *meter,
                                    const struct source_event *event)
{
	struct ledger_entry entry = LEDGER_ENTRY_INIT;

	entry.received_us = event->when.wall_us;
	entry.monotonic_us = event->when.monotonic_us;
	entry.meter = meter->id;
	entry.run = station->run.id;
	entry.raw = event->line.raw;
	if (event->stale)
		entry.flags |= READING_STALE;
	return entry;
}

/* A line that gives no reading: kept all the same. */
static void raw_take(struct station *station, struct station_meter *meter, const struct source_event *event)
{
	struct ledger_entry entry = entry_of(station, meter, event);

	store_add_line(&station->store, &entry, meter, &(struct cup_taken){ .count = 0 });
}

static void reading_take(struct station *station, struct station_meter *meter, const struct source_event *event,
                         const struct profile_reading *reading)
{
	struct ledger_entry entry = entry_of(station, meter, event);
	struct cup_taken taken;

	entry.taken_us = reading->taken_us;
	entry.shown = reading->shown;
	entry.temp_c = reading->temp_c;
	entry.sequence = reading->seq;
	entry.status = reading->status;
	if (sent_before(meter, reading))
		entry.flags |= READING_REPEAT;
	if (entry.flags & (READING_REPEAT | READING_STALE))
		taken = cup_turn_pass(&meter->turn, reading->label);
	else
		taken = cup_turn_take(&meter->turn, reading->label);
	entry.role = (uint8_t)taken.role;
	entry.label = taken.label;
	entry.standard_percent = taken.standard_percent;
	store_add_line(&station->store, &entry, meter, &taken);
	if (taken.moved)
		station_cup_note(station, meter);
}

/* Lines that are not read are told one by one, but no more than one a second. */
static void unread_tell(struct station *station, struct station_meter *meter, const struct source_event *event,
                        const char *why)
{
	char printed[LINE_PRINT];
	size_t untold = meter->unread_untold;

	meter->unread++;
	if (event->when.monotonic_us - meter->unread_told_us < unread_every_us && meter->unread_told_us != 0) {
		meter->unread_untold++;
		return;
	}
	meter->unread_told_us = event->when.monotonic_us;
	meter->unread_untold = 0;
	if (untold > 0)
		station_say(station, LOG_LEVEL_NOTICE, "%s: %zu more lines were kept, not read", meter->about.name,
		            untold);
	station_say(station, LOG_LEVEL_NOTICE, "%s: %s; the line is kept, not read: %s", meter->about.name, why,
	            line_print(printed, sizeof(printed), event->line.raw));
}

static void line_take(struct station *station, struct station_meter *meter, const struct source_event *event)
{
	struct profile_reading reading;
	enum line_kind kind;

	if (event->line.raw.len == 0)
		return;
	kind = event->damaged ? LINE_UNMATCHED :
	                        profile_match(meter->profile, meter->scratch, event->line.text, &reading);
	source_judge(meter->source, kind == LINE_READING || kind == LINE_NO_READING);
	switch (kind) {
	case LINE_READING:
		reading_take(station, meter, event, &reading);
		return;
	case LINE_NO_READING:
		break;
	case LINE_UNMATCHED:
		unread_tell(station, meter, event,
		            event->damaged ? "the port told of an error in it" : "it does not fit the profile");
		break;
	case LINE_ERROR:
		unread_tell(station, meter, event, profile_reason(meter->scratch));
		break;
	}
	raw_take(station, meter, event);
}

static void broken_take(struct station *station, struct station_meter *meter, const struct source_event *event)
{
	if (event->line.raw.len == 0)
		return;
	if (event->text[0])
		station_note(station, meter, LOG_LEVEL_NOTICE, "broken line", "%s", event->text);
	meter->unread += event->text[0] != '\0';
	raw_take(station, meter, event);
}

static void event_take(struct station *station, struct station_meter *meter, const struct source_event *event)
{
	switch (event->type) {
	case SOURCE_LINE:
		line_take(station, meter, event);
		break;
	case SOURCE_BROKEN:
		broken_take(station, meter, event);
		break;
	case SOURCE_OPENED:
		station_note(station, meter, LOG_LEVEL_NEWS, "opened", "%s", event->text);
		break;
	case SOURCE_GONE:
		station_note(station, meter, LOG_LEVEL_DOUBT, event->cause == SOURCE_UNPLUGGED ? "unplugged" : "gone",
		             "%s", event->text);
		break;
	case SOURCE_WAITING:
		station_note(station, meter, LOG_LEVEL_DOUBT, "waiting", "%s", event->text);
		break;
	case SOURCE_DIAGNOSIS:
		station_note(station, meter, LOG_LEVEL_DOUBT, "diagnosis", "%s", event->text);
		break;
	case SOURCE_NOTE:
		station_note(station, meter, LOG_LEVEL_NOTICE, "note", "%s", event->text);
		break;
	case SOURCE_END:
		station_note(station, meter, LOG_LEVEL_NEWS, "ended", "%s", event->text);
		break;
	}
}

void station_meter_step(struct station *station, struct station_meter *meter, short revents)
{
	struct source_event event;

	source_step(meter->source, revents, &station->now);
	while (source_next(meter->source, &event))
		event_take(station, meter, &event);
}
