/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdlib.h>
#include <string.h>

#include "arena.h"
#include "ledger_meter.h"
#include "ledger_private.h"
#include "ledger_read.h"

/* A meter of the ledger, and where it stands in the run. */
struct known_meter {
	int64_t id;
	struct meter meter; /* its name in the run's memory */
	size_t index;       /* in run->meters; NOT_THERE: no reading of it was loaded yet */
};

enum { MOST_METERS = UINT16_MAX };

#define NOT_THERE SIZE_MAX

struct loading {
	struct ledger *ledger;
	struct run *run;
	struct known_meter *meters; /* by id, from malloc() */
	size_t meter_count;
	size_t used;                          /* of run->meters, with those that are to be added */
	struct slice label;                   /* the last one copied: one cup has many readings */
	const char *ledger_name, *paste_name; /* in the run's memory */
	int64_t paste;                        /* the last one whose name was asked for */
};

static enum status no_memory(const struct loading *loading, struct error *error)
{
	return error_set(error, STATUS_MEMORY, "%s: no memory left", loading->ledger->path);
}

static enum status meter_note(void *context, const struct ledger_meter *meter, struct error *error)
{
	struct loading *loading = context;
	struct known_meter *meters = realloc(loading->meters, (loading->meter_count + 1) * sizeof(*meters));
	struct known_meter *known;

	if (!meters)
		return no_memory(loading, error);
	loading->meters = meters;
	known = &meters[loading->meter_count++];
	*known = (struct known_meter){ .id = meter->id, .meter = meter->meter, .index = NOT_THERE };
	known->meter.name = arena_copy(&loading->run->memory, meter->meter.name);
	return known->meter.name.text ? STATUS_OK : no_memory(loading, error);
}

static int by_id(const void *key, const void *member)
{
	const int64_t *id = key;
	const struct known_meter *meter = member;

	return *id < meter->id ? -1 : *id > meter->id;
}

static enum status meter_index(struct loading *loading, int64_t id, uint16_t *index, struct error *error)
{
	struct known_meter *meter = bsearch(&id, loading->meters, loading->meter_count, sizeof(*loading->meters),
	                                    by_id);

	if (!meter)
		return error_set(error, STATUS_REFUSED, "%s: is damaged: a reading is of a meter that is not there",
		                 loading->ledger->path);
	if (meter->index == NOT_THERE) {
		if (loading->used > MOST_METERS)
			return error_set(error, STATUS_INVALID,
			                 "%s: more than %d meters; expected a run, or fewer of them",
			                 loading->ledger->path, MOST_METERS);
		meter->index = loading->used++;
	}
	*index = (uint16_t)meter->index;
	return STATUS_OK;
}

static bool label_copy(struct loading *loading, struct slice label)
{
	if (!loading->label.text || !slice_equal(loading->label, label))
		loading->label = arena_copy(&loading->run->memory, label);
	return loading->label.text != NULL;
}

static enum status paste_name(struct loading *loading, int64_t paste, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	int rc;

	if (paste == loading->paste)
		return STATUS_OK;
	statement = sql_statement(loading->ledger, STATEMENT_PASTE_NAME, "SELECT name FROM pastes WHERE id = ?1",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, paste);
	rc = sqlite3_step(statement);
	if (sql_ok(rc))
		loading->paste_name = arena_copy(&loading->run->memory, sql_text(statement, 0)).text;
	else
		status = sql_failed(loading->ledger, rc, "read it", error);
	sql_reset(statement);
	loading->paste = paste;
	return status == STATUS_OK && !loading->paste_name ? no_memory(loading, error) : status;
}

static enum status place_of(struct place *place, struct loading *loading, const struct ledger_entry *entry,
                            struct error *error)
{
	enum status status = STATUS_OK;

	if (entry->paste == 0) {
		*place = (struct place){ loading->ledger_name, (uint32_t)entry->id, 0 };
		return STATUS_OK;
	}
	status = paste_name(loading, entry->paste, error);
	*place = (struct place){ loading->paste_name, entry->line, entry->column };
	return status;
}

/* The row's line, whose texts are copied; one for each reading, as a meter sends them. */
static enum status line_load(struct reading_line **out, struct loading *loading, const struct ledger_row *row,
                             const struct place *place, struct error *error)
{
	struct arena *memory = &loading->run->memory;
	struct reading_line line = {
		.id = row->entry.id,
		.taken_us = ledger_row_taken_us(row),
		.raw = arena_copy(memory, row->entry.raw),
		.temp_c = row->entry.temp_c,
		.standard_percent = row->entry.standard_percent,
		.file = place->file,
		.number = place->line,
	};

	if (row->note.len > 0)
		line.note = arena_copy(memory, row->note);
	if (!line.raw.text || (row->note.len > 0 && !line.note.text) || !label_copy(loading, row->label))
		return no_memory(loading, error);
	line.label = loading->label;
	*out = run_add_line(loading->run, &line);
	return *out ? STATUS_OK : no_memory(loading, error);
}

static enum status reading_load(void *context, const struct ledger_row *row, struct error *error)
{
	struct loading *loading = context;
	struct place place = { .file = NULL };
	struct reading reading = {
		.value = row->entry.shown.value,
		.decimals = (uint16_t)row->entry.shown.decimals,
		.unit = (uint8_t)row->entry.shown.unit,
		.brew = READING_NO_BREW,
		.role = row->role,
		.flags = row->flags,
	};
	enum status status = meter_index(loading, row->entry.meter, &reading.meter, error);

	if (status == STATUS_OK)
		status = place_of(&place, loading, &row->entry, error);
	if (status == STATUS_OK)
		status = line_load(&reading.line, loading, row, &place, error);
	if (status != STATUS_OK)
		return status;
	reading.column = place.column;
	return run_add_reading(loading->run, &reading) ? STATUS_OK : no_memory(loading, error);
}

/* run->meters made anew, with those that readings were loaded of. */
static enum status meters_place(struct loading *loading, struct error *error)
{
	struct run *run = loading->run;
	struct meter *meters;

	if (loading->used == run->meter_count)
		return STATUS_OK;
	meters = arena_take(&run->memory, loading->used * sizeof(*meters));
	if (!meters)
		return no_memory(loading, error);
	if (run->meter_count > 0)
		memcpy(meters, run->meters, run->meter_count * sizeof(*meters));
	for (size_t i = 0; i < loading->meter_count; i++)
		if (loading->meters[i].index != NOT_THERE)
			meters[loading->meters[i].index] = loading->meters[i].meter;
	run->meters = meters;
	run->meter_count = loading->used;
	return STATUS_OK;
}

enum status ledger_load_run(struct ledger *ledger, const struct ledger_query *query, struct run *run,
                            struct error *error)
{
	struct loading loading = { .ledger = ledger, .run = run, .used = run->meter_count };
	struct ledger_query readings = *query;
	size_t before = run->reading_count;
	enum status status;

	readings.raw_lines = false;
	loading.ledger_name = arena_copy(&run->memory, slice_from(ledger->path)).text;
	status = loading.ledger_name ? ledger_each_meter(ledger, meter_note, &loading, error) :
	                               no_memory(&loading, error);
	if (status == STATUS_OK)
		status = ledger_each(ledger, &readings, reading_load, &loading, error);
	if (status == STATUS_OK)
		status = meters_place(&loading, error);
	if (status != STATUS_OK)
		run->reading_count = before; /* none of them has a meter */
	free(loading.meters);
	return status;
}
