/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_feed.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "audit_words.h"
#include "ledger_event.h"
#include "ledger_meter.h"
#include "ledger_read.h"

#define CLOCK_SLACK_US 2e6 /* that a clock is drawn back by without a word, as time servers do */
#define DAY_US         (86400 * INT64_C(1000000))

enum { CLOCKS_TOLD = 10, NAMES_LISTED = 20 };

/* A meter of the ledger, which may be one of several under a name. */
struct source_meter {
	int64_t id;
	uint32_t index; /* in the audit */
	struct meter meter;
};

struct feed {
	struct audit *audit;
	const struct audit_feed_query *query;
	struct faults *faults;
	const char *file;            /* name in places; the faults' */
	struct source_meter *meters; /* by id */
	size_t meter_count;
	const struct source_meter *last; /* that a line was of */
	int64_t current[AUDIT_METERS];   /* ledger id that the audit's meter stands for now */
	struct arena names;
	bool clocked; /* a line with a monotonic clock came */
	int64_t received_us, monotonic_us;
	int64_t epoch; /* of the clock: how often it was set back */
	uint64_t early;
	int64_t early_id;
	uint64_t lines;
	size_t steps;
	int64_t first_step_us, last_step_us;
};

static void tell(struct feed *feed, enum severity severity, const char *text)
{
	faults_add(feed->faults, severity, (struct place){ feed->file, 0, 0 }, "%s", text);
}

/* -- meters ------------------------------------------------------------------------------ */

static enum status take_meter(void *context, const struct ledger_meter *meter, struct error *error)
{
	struct feed *feed = context;
	struct source_meter *more;
	struct source_meter *taken;
	enum status status;

	if (feed->query->meter.len > 0 && !slice_equal(feed->query->meter, meter->meter.name))
		return STATUS_OK;
	more = realloc(feed->meters, (feed->meter_count + 1) * sizeof(*more));
	if (!more)
		return error_set(error, STATUS_MEMORY, "no memory for the meters");
	feed->meters = more;
	taken = &more[feed->meter_count];
	*taken = (struct source_meter){ .id = meter->id, .meter = meter->meter };
	taken->meter.name = arena_copy(&feed->names, meter->meter.name);
	if (!taken->meter.name.text)
		return error_set(error, STATUS_MEMORY, "no memory for the meters");
	status = audit_meter_add(feed->audit, &taken->meter, &taken->index, error);
	if (status == STATUS_OK) {
		feed->current[taken->index] = taken->id;
		feed->meter_count++;
	}
	return status;
}

struct name_list {
	char text[400];
	size_t used, count;
};

static enum status list_meter(void *context, const struct ledger_meter *meter, struct error *error)
{
	struct name_list *list = context;
	int len;

	(void)error;
	if (list->count++ >= NAMES_LISTED)
		return STATUS_OK;
	len = snprintf(list->text + list->used, sizeof(list->text) - list->used, "%s\"%.*s\"",
	               list->used > 0 ? ", " : "", SLICE_ARG(meter->meter.name));
	if (len > 0 && (size_t)len < sizeof(list->text) - list->used)
		list->used += (size_t)len;
	return STATUS_OK;
}

static enum status no_such_meter(struct ledger *ledger, const struct audit_feed_query *query, struct error *error)
{
	struct name_list list = { .used = 0 };
	enum status status = ledger_each_meter(ledger, list_meter, &list, error);

	if (status != STATUS_OK)
		return status;
	list.text[list.used] = '\0';
	return error_set(error, STATUS_INVALID, "no meter is called \"%.*s\"; in %s there %s %s",
	                 SLICE_ARG(query->meter), ledger_path(ledger), list.count == 1 ? "is" : "are",
	                 list.used > 0 ? list.text : "none");
}

static const struct source_meter *meter_of(const struct feed *feed, int64_t id)
{
	size_t low = 0, high = feed->meter_count;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (feed->meters[middle].id < id)
			low = middle + 1;
		else
			high = middle;
	}
	return low < feed->meter_count && feed->meters[low].id == id ? &feed->meters[low] : NULL;
}

/* -- lines ---------------------------------------------------------------------------------- */

/*
 * A clock that nobody sets goes on between two lines for no longer than the other one, even over sleep and a restart,
 * where it stands still or begins anew. If it does, the other was set back; or the file was moved to another computer.
 */
static void watch_clock(struct feed *feed, const struct ledger_entry *entry)
{
	double wall, steady;
	bool back;

	if (entry->monotonic_us == 0 || entry->paste != 0)
		return;
	wall = (double)entry->received_us - (double)feed->received_us;
	steady = fmax((double)entry->monotonic_us - (double)feed->monotonic_us, 0);
	back = feed->clocked && wall < steady - CLOCK_SLACK_US;
	feed->clocked = true;
	feed->received_us = entry->received_us;
	feed->monotonic_us = entry->monotonic_us;
	if (!back || ++feed->epoch > CLOCKS_TOLD)
		return;
	faults_add(feed->faults, SEVERITY_WARNING, (struct place){ feed->file, 0, 0 },
	           "the clock was set back by %.0f s before reading %lld, %s, unless the ledger came from another "
	           "computer "
	           "then; the times on both sides are taken as they stand",
	           (steady - wall) / 1e6, (long long)entry->id, when_moment(entry->received_us).text);
}

static void watch_year(struct feed *feed, int64_t at_us, int64_t id)
{
	if (at_us != READING_NO_TIME && at_us < AUDIT_FIRST_YEAR_US && feed->early++ == 0)
		feed->early_id = id;
}

static bool switch_meter(struct feed *feed, const struct ledger_entry *entry)
{
	if (!feed->last || feed->last->id != entry->meter)
		feed->last = meter_of(feed, entry->meter);
	if (!feed->last || feed->current[feed->last->index] == feed->last->id)
		return true;
	feed->current[feed->last->index] = feed->last->id;
	return audit_meter_change(feed->audit, feed->last->index, &feed->last->meter);
}

static enum status take_line(void *context, const struct ledger_row *row, struct error *error)
{
	struct feed *feed = context;
	const struct ledger_entry *entry = &row->entry;
	int64_t taken_us = ledger_row_taken_us(row), at_us;
	struct audit_reading reading;

	feed->lines++;
	watch_clock(feed, entry);
	if (!switch_meter(feed, entry))
		return error_set(error, STATUS_MEMORY, "no memory for the audit");
	if (!feed->last)
		return STATUS_OK; /* added since the audit began */
	at_us = taken_us != READING_NO_TIME ? taken_us : entry->received_us;
	if (feed->query->since_us != 0 && at_us < feed->query->since_us)
		return STATUS_OK;
	reading = (struct audit_reading){
		.id = entry->id,
		.at_us = at_us,
		.source = entry->paste != 0 ? entry->paste : -1 - feed->epoch,
		.run = entry->run,
		.label = row->label,
		.shown = entry->shown,
		.temp_c = entry->temp_c,
		.standard_percent = entry->standard_percent,
		.meter = feed->last->index,
		.role = row->role,
		.flags = row->flags,
		.timed = taken_us != READING_NO_TIME,
	};
	watch_year(feed, reading.at_us, reading.id);
	return audit_add(feed->audit, &reading) ? STATUS_OK :
	                                          error_set(error, STATUS_MEMORY, "no memory for the audit");
}

static enum status take_event(void *context, const struct ledger_event *event, struct error *error)
{
	struct feed *feed = context;

	(void)error;
	if (!slice_equal(event->kind, SLICE_OF("clock step")) || event->at_us < feed->query->since_us)
		return STATUS_OK;
	if (feed->steps++ == 0)
		feed->first_step_us = event->at_us;
	feed->last_step_us = event->at_us;
	return STATUS_OK;
}

static void tell_rest(struct feed *feed)
{
	struct when first = when_moment(feed->first_step_us), last = when_moment(feed->last_step_us);

	if (feed->epoch > CLOCKS_TOLD)
		faults_add(feed->faults, SEVERITY_WARNING, (struct place){ feed->file, 0, 0 }, "and %lld times more",
		           (long long)(feed->epoch - CLOCKS_TOLD));
	if (feed->early > 0)
		faults_add(feed->faults, SEVERITY_WARNING, (struct place){ feed->file, 0, 0 },
		           "%llu readings are dated before %d, the first is reading %lld: a clock that was not set, or "
		           "times "
		           "without dates",
		           (unsigned long long)feed->early, AUDIT_FIRST_YEAR, (long long)feed->early_id);
	if (feed->steps == 1)
		faults_add(feed->faults, SEVERITY_NOTE, (struct place){ feed->file, 0, 0 },
		           "the computer's clock was set while readings were taken: %s", first.text);
	if (feed->steps > 1)
		faults_add(feed->faults, SEVERITY_NOTE, (struct place){ feed->file, 0, 0 },
		           "the computer's clock was set %zu times while readings were taken, from %s to %s",
		           feed->steps, first.text, last.text);
}

/* What can't be read to its end is used as far as it goes. */
static enum status survive(struct feed *feed, enum status status, const struct error *error)
{
	char text[700];

	if (status == STATUS_OK || status == STATUS_MEMORY || feed->lines == 0)
		return status;
	snprintf(text, sizeof(text), "%s; the %llu readings before that are used", error->text,
	         (unsigned long long)feed->lines);
	tell(feed, SEVERITY_ERROR, text);
	return STATUS_OK;
}

static enum status feed_all(struct feed *feed, struct ledger *ledger, struct error *error)
{
	/* the ledger knows when lines arrived: later than they were taken, save for a time written without its zone */
	struct ledger_query lines = {
		.meter = feed->query->meter,
		.since_us = feed->query->since_us != 0 ? feed->query->since_us - DAY_US : 0,
	};
	enum status status = ledger_each_meter(ledger, take_meter, feed, error);

	if (status == STATUS_OK && feed->meter_count == 0 && feed->query->meter.len > 0)
		status = no_such_meter(ledger, feed->query, error);
	if (status != STATUS_OK)
		return status;
	status = survive(feed, ledger_each(ledger, &lines, take_line, feed, error), error);
	if (status == STATUS_OK)
		status = survive(feed, ledger_each_event(ledger, 0, take_event, feed, error), error);
	if (status == STATUS_OK)
		tell_rest(feed);
	return status;
}

enum status audit_feed_ledger(struct audit *audit, struct ledger *ledger, const struct audit_feed_query *query,
                              struct faults *faults, struct error *error)
{
	struct feed *feed = calloc(1, sizeof(*feed));
	enum status status;

	if (!feed)
		return error_set(error, STATUS_MEMORY, "no memory for the audit");
	feed->audit = audit;
	feed->query = query;
	feed->faults = faults;
	feed->file = arena_copy(&faults->texts, slice_from(ledger_path(ledger))).text;
	status = feed_all(feed, ledger, error);
	free(feed->meters);
	arena_release(&feed->names);
	free(feed);
	return status;
}

/* -- text -------------------------------------------------------------------------------------- */

static enum status take_reading(struct feed *feed, const struct reading *from, int64_t number, int64_t at_us,
                                const uint32_t *index, struct error *error)
{
	struct audit_reading reading;

	reading = (struct audit_reading){
		.id = reading_id(from),
		.at_us = at_us,
		.source = number,
		.run = number,
		.label = from->line->label,
		.shown = reading_shown(from),
		.temp_c = from->line->temp_c,
		.standard_percent = from->line->standard_percent,
		.meter = index ? index[from->meter] : 0,
		.role = from->role,
		.flags = from->flags,
		.timed = at_us != READING_NO_TIME,
	};
	watch_year(feed, from->line->taken_us, reading_id(from));
	return audit_add(feed->audit, &reading) ? STATUS_OK :
	                                          error_set(error, STATUS_MEMORY, "no memory for the audit");
}

enum status audit_feed_run(struct audit *audit, const struct run *run, size_t first, int64_t number,
                           const struct audit_feed_query *query, struct faults *faults, struct error *error)
{
	struct feed feed = { .audit = audit, .query = query, .faults = faults };
	uint32_t *index = calloc(run->meter_count + 1, sizeof(*index));
	int64_t at_us = READING_NO_TIME;
	enum status status = index ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory for the audit");

	for (size_t m = 0; status == STATUS_OK && m < run->meter_count; m++)
		status = audit_meter_add(audit, &run->meters[m], &index[m], error);
	for (size_t i = first; status == STATUS_OK && i < run->reading_count; i++) {
		const struct reading *reading = &run->readings[i];

		if (reading->line->taken_us != READING_NO_TIME)
			at_us = reading->line->taken_us;
		if (query->since_us != 0 && at_us != READING_NO_TIME && at_us < query->since_us)
			continue;
		if (query->meter.len > 0 && !slice_equal(run->meters[reading->meter].name, query->meter))
			continue;
		if (!feed.file)
			feed.file = reading->line->file;
		status = take_reading(&feed, reading, number, at_us, index, error);
	}
	if (status == STATUS_OK)
		tell_rest(&feed);
	free(index);
	return status;
}
