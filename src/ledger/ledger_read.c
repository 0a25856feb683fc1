/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_read.h"

#include <stdlib.h>
#include <string.h>

#include "arena.h"
#include "ledger_private.h"

/* So many lines are copied out before they are shown: no transaction stays open while the caller takes its time. */
enum { BATCH_ROWS = 512, BATCH_BYTES = 128 * 1024 };

struct batch {
	struct ledger *ledger;
	const struct ledger_query *query;
	int64_t after_id;     /* lines up to it were shown */
	int64_t to_id;        /* lines after it are not, */
	int64_t to_amendment; /* nor amendments after it: they came after the call had begun */
	int64_t from_meter;   /* the meters of the query's name lie between these ids: */
	int64_t to_meter;     /* lines of others are passed over before their name is asked for */
	bool more;            /* may be: the last batch was full */
	size_t count;
	size_t used, size;  /* of bytes */
	char *bytes;        /* texts and lines of the rows, from malloc() */
	struct arena notes; /* texts of amendments */
	struct ledger_row rows[BATCH_ROWS];
};

#define ROW_COLUMNS                                                                                                \
	"SELECT id, received_us, monotonic_us, meter, run, paste, line, col, role, flags, unit, decimals, value, " \
	"temp_c, standard_percent, taken_us, label, sequence, status, raw FROM readings "

#define ROW_RANGE "id > ?1 AND id <= ?2 AND role <= ?3 "

#define ROW_FILTER                                                                                       \
	"AND meter BETWEEN ?8 AND ?9 AND (?5 = '' OR meter IN (SELECT id FROM meters WHERE name = ?5)) " \
	"AND received_us >= ?6 AND received_us < ?7 "

/* The three ways to a row: by id alone; through the index of a run; by id, of one meter or time. */
static sqlite3_stmt *rows_statement(struct ledger *ledger, const struct ledger_query *query, enum status *status,
                                    struct error *error)
{
	if (query->run != 0)
		return sql_statement(ledger, STATEMENT_ROWS_OF_RUN,
		                     ROW_COLUMNS "INDEXED BY readings_by_run WHERE run = ?4 AND " ROW_RANGE ROW_FILTER
		                                 "ORDER BY id",
		                     status, error);
	if (query->meter.len > 0 || query->since_us != 0 || query->until_us != 0)
		return sql_statement(ledger, STATEMENT_ROWS_OF_METER,
		                     ROW_COLUMNS "NOT INDEXED WHERE " ROW_RANGE ROW_FILTER "ORDER BY id", status,
		                     error);
	return sql_statement(ledger, STATEMENT_ROWS, ROW_COLUMNS "NOT INDEXED WHERE " ROW_RANGE "ORDER BY id", status,
	                     error);
}

static int64_t since(const struct ledger_query *query)
{
	return query->since_us != 0 ? query->since_us : INT64_MIN;
}

static int64_t until(const struct ledger_query *query)
{
	return query->until_us != 0 ? query->until_us : INT64_MAX;
}

static void rows_bind(sqlite3_stmt *statement, const struct batch *batch)
{
	const struct ledger_query *query = batch->query;

	sqlite3_bind_int64(statement, 1, batch->after_id);
	sqlite3_bind_int64(statement, 2, batch->to_id);
	sqlite3_bind_int(statement, 3, query->raw_lines ? LEDGER_RAW : READING_STANDARD);
	if (query->run != 0)
		sqlite3_bind_int64(statement, 4, query->run);
	if (sqlite3_bind_parameter_count(statement) < 7)
		return;
	sql_bind_text(statement, 5, query->meter);
	sqlite3_bind_int64(statement, 6, since(query));
	sqlite3_bind_int64(statement, 7, until(query));
	sqlite3_bind_int64(statement, 8, batch->from_meter);
	sqlite3_bind_int64(statement, 9, batch->to_meter);
}

/* Its slices last until the next step. */
static void row_read(struct ledger_row *row, sqlite3_stmt *statement)
{
	struct ledger_entry *entry = &row->entry;

	entry->id = sqlite3_column_int64(statement, 0);
	entry->received_us = sqlite3_column_int64(statement, 1);
	entry->monotonic_us = sqlite3_column_int64(statement, 2);
	entry->meter = sqlite3_column_int64(statement, 3);
	entry->run = sqlite3_column_int64(statement, 4);
	entry->paste = sqlite3_column_int64(statement, 5);
	entry->line = (uint32_t)sqlite3_column_int64(statement, 6);
	entry->column = (uint32_t)sqlite3_column_int64(statement, 7);
	entry->role = (uint8_t)sqlite3_column_int(statement, 8);
	entry->flags = (uint8_t)sqlite3_column_int(statement, 9);
	entry->shown.unit = (enum unit)sqlite3_column_int(statement, 10);
	entry->shown.decimals = sqlite3_column_int(statement, 11);
	entry->shown.value = sqlite3_column_double(statement, 12);
	entry->temp_c = sql_number_or_nan(statement, 13);
	entry->standard_percent = sql_number_or_nan(statement, 14);
	entry->taken_us = sql_time(statement, 15);
	entry->label = sql_text(statement, 16);
	entry->sequence = sql_text(statement, 17);
	entry->status = sql_text(statement, 18);
	entry->raw = sql_text(statement, 19);
	row->note = (struct slice){ NULL, 0 };
	row->role = entry->role;
	row->flags = entry->flags;
	row->moved = false;
}

/* Makes room for a line longer than a whole batch. */
static bool batch_grow(struct batch *batch, size_t wanted)
{
	char *bytes = realloc(batch->bytes, wanted);

	if (!bytes)
		return false;
	batch->bytes = bytes;
	batch->size = wanted;
	return true;
}

static void keep(struct batch *batch, struct slice *slice)
{
	char *to = batch->bytes + batch->used;

	if (slice->len > 0)
		memcpy(to, slice->text, slice->len);
	batch->used += slice->len;
	slice->text = to;
}

/* Copies what row's slices show; false: no room is left in the batch, or, in an empty one, no memory. */
static bool row_keep(struct batch *batch, struct ledger_row *row)
{
	struct ledger_entry *entry = &row->entry;
	size_t len = entry->label.len + entry->sequence.len + entry->status.len + entry->raw.len;

	if (len > batch->size - batch->used && (batch->count > 0 || !batch_grow(batch, len)))
		return false;
	keep(batch, &entry->label);
	keep(batch, &entry->sequence);
	keep(batch, &entry->status);
	keep(batch, &entry->raw);
	row->label = entry->label;
	return true;
}

static enum status rows_take(struct batch *batch, sqlite3_stmt *statement, struct error *error)
{
	int rc = SQLITE_ROW;

	batch->count = 0;
	batch->used = 0;
	batch->more = false;
	while (!batch->more && (rc = sqlite3_step(statement)) == SQLITE_ROW) {
		struct ledger_row *row = &batch->rows[batch->count];

		row_read(row, statement);
		if (!row_keep(batch, row)) {
			if (batch->count == 0)
				return error_set(error, STATUS_MEMORY, "%s: no memory left", batch->ledger->path);
			batch->more = true;
			break;
		}
		batch->after_id = row->entry.id;
		batch->more = ++batch->count == BATCH_ROWS;
	}
	return sql_ok(rc) ? STATUS_OK : sql_failed(batch->ledger, rc, "read it", error);
}

static enum status batch_fill(struct batch *batch, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement = rows_statement(batch->ledger, batch->query, &status, error);

	if (status != STATUS_OK)
		return status;
	rows_bind(statement, batch);
	status = rows_take(batch, statement, error);
	sql_reset(statement);
	return status;
}

static struct ledger_row *batch_row(struct batch *batch, size_t *at, int64_t id)
{
	while (*at < batch->count && batch->rows[*at].entry.id < id)
		++*at;
	return *at < batch->count && batch->rows[*at].entry.id == id ? &batch->rows[*at] : NULL;
}

/* What is in force of the amendments of one reading. */
struct amended {
	struct slice excluded_for, moved_for;
};

static bool note_make(struct batch *batch, struct ledger_row *row, const struct amended *amended)
{
	const char *note;

	row->note = row->flags & READING_EXCLUDED ? amended->excluded_for : amended->moved_for;
	if (!(row->flags & READING_EXCLUDED) || !row->moved)
		return true;
	note = arena_print(&batch->notes, "%.*s; %.*s", SLICE_ARG(amended->excluded_for),
	                   SLICE_ARG(amended->moved_for));
	row->note = slice_from(note);
	return note != NULL;
}

/* One row of amendments: reading, action, label, role, reason. */
static bool amend(struct batch *batch, struct ledger_row *row, struct amended *amended, sqlite3_stmt *statement)
{
	struct slice action = sql_text(statement, 1);
	struct slice reason = arena_copy(&batch->notes, sql_text(statement, 4));

	if (!reason.text)
		return false;
	if (slice_equal(action, SLICE_OF("exclude"))) {
		row->flags |= READING_EXCLUDED;
		amended->excluded_for = reason;
	} else if (slice_equal(action, SLICE_OF("restore"))) {
		row->flags &= (uint8_t)~READING_EXCLUDED;
	} else {
		row->label = arena_copy(&batch->notes, sql_text(statement, 2));
		row->role = (uint8_t)sqlite3_column_int(statement, 3);
		row->moved = true;
		amended->moved_for = reason;
	}
	return row->label.text && note_make(batch, row, amended);
}

static enum status amendments_take(struct batch *batch, sqlite3_stmt *statement, struct error *error)
{
	struct ledger_row *row, *last = NULL;
	struct amended amended = { { NULL, 0 }, { NULL, 0 } };
	size_t at = 0;
	int rc;

	while ((rc = sqlite3_step(statement)) == SQLITE_ROW) {
		row = batch_row(batch, &at, sqlite3_column_int64(statement, 0));
		if (!row)
			continue;
		if (row != last)
			amended = (struct amended){ { NULL, 0 }, { NULL, 0 } };
		last = row;
		if (!amend(batch, row, &amended, statement))
			return error_set(error, STATUS_MEMORY, "%s: no memory left", batch->ledger->path);
	}
	return rc == SQLITE_DONE ? STATUS_OK : sql_failed(batch->ledger, rc, "read its amendments", error);
}

static enum status batch_amend(struct batch *batch, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	arena_release(&batch->notes);
	if (batch->count == 0 || batch->to_amendment == 0)
		return STATUS_OK;
	statement = sql_statement(batch->ledger, STATEMENT_AMENDMENTS_BETWEEN,
	                          "SELECT reading, action, label, role, reason FROM amendments "
	                          "WHERE reading BETWEEN ?1 AND ?2 AND id <= ?3 ORDER BY reading, id",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, batch->rows[0].entry.id);
	sqlite3_bind_int64(statement, 2, batch->rows[batch->count - 1].entry.id);
	sqlite3_bind_int64(statement, 3, batch->to_amendment);
	status = amendments_take(batch, statement, error);
	sql_reset(statement);
	return status;
}

/* Steps a statement that gives two numbers, with its parameters bound. */
static enum status two_numbers(struct ledger *ledger, sqlite3_stmt *statement, int64_t *first, int64_t *second,
                               struct error *error)
{
	enum status status = STATUS_OK;
	int rc = sqlite3_step(statement);

	if (rc == SQLITE_ROW) {
		*first = sqlite3_column_int64(statement, 0);
		*second = sqlite3_column_int64(statement, 1);
	} else {
		status = sql_failed(ledger, rc, "read it", error);
	}
	sql_reset(statement);
	return status;
}

static enum status meters_between(struct batch *batch, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	batch->from_meter = INT64_MIN;
	batch->to_meter = INT64_MAX;
	if (batch->query->meter.len == 0)
		return STATUS_OK;
	statement = sql_statement(batch->ledger, STATEMENT_METERS_NAMED,
	                          "SELECT min(id), max(id) FROM meters WHERE name = ?1", &status, error);
	if (status != STATUS_OK)
		return status;
	sql_bind_text(statement, 1, batch->query->meter);
	return two_numbers(batch->ledger, statement, &batch->from_meter, &batch->to_meter, error);
}

static enum status batch_start(struct batch *batch, struct error *error)
{
	const struct ledger_query *query = batch->query;
	enum status status;
	sqlite3_stmt *statement;
	int64_t first;

	batch->after_id = query->from_id > 0 ? query->from_id - 1 : 0;
	statement = sql_statement(batch->ledger, STATEMENT_NEWEST,
	                          "SELECT (SELECT max(id) FROM readings), (SELECT max(id) FROM amendments)", &status,
	                          error);
	if (status == STATUS_OK)
		status = two_numbers(batch->ledger, statement, &batch->to_id, &batch->to_amendment, error);
	if (status == STATUS_OK)
		status = meters_between(batch, error);
	if (query->to_id > 0 && query->to_id < batch->to_id)
		batch->to_id = query->to_id;
	if (status == STATUS_OK && query->run == 0 && (query->since_us != 0 || query->until_us != 0)) {
		first = batch->after_id + 1;
		status = ledger_time_range(batch->ledger, since(query), until(query), &first, &batch->to_id, error);
		batch->after_id = first - 1;
	}
	return status;
}

static enum status batch_show(struct batch *batch,
                              enum status (*each)(void *context, const struct ledger_row *row, struct error *error),
                              void *context, struct error *error)
{
	enum status status = STATUS_OK;

	for (size_t i = 0; status == STATUS_OK && i < batch->count; i++)
		status = each(context, &batch->rows[i], error);
	return status;
}

enum status ledger_each(struct ledger *ledger, const struct ledger_query *query,
                        enum status (*each)(void *context, const struct ledger_row *row, struct error *error),
                        void *context, struct error *error)
{
	struct batch *batch = malloc(sizeof(*batch));
	char *bytes = malloc(BATCH_BYTES);
	enum status status;

	if (!batch || !bytes) {
		free(batch);
		free(bytes);
		return error_set(error, STATUS_MEMORY, "%s: no memory left", ledger->path);
	}
	batch->ledger = ledger;
	batch->query = query;
	batch->after_id = batch->to_id = batch->to_amendment = 0;
	batch->count = 0;
	batch->bytes = bytes;
	batch->size = BATCH_BYTES;
	batch->notes = (struct arena)ARENA_INIT;
	status = batch_start(batch, error);
	batch->more = true;
	while (status == STATUS_OK && batch->more) {
		status = batch_fill(batch, error);
		if (status == STATUS_OK)
			status = batch_amend(batch, error);
		if (status == STATUS_OK)
			status = batch_show(batch, each, context, error);
	}
	arena_release(&batch->notes);
	free(batch->bytes);
	free(batch);
	return status;
}

int64_t ledger_row_taken_us(const struct ledger_row *row)
{
	if (row->entry.taken_us != READING_NO_TIME)
		return row->entry.taken_us;
	if (row->entry.paste != 0 || (row->flags & READING_STALE))
		return READING_NO_TIME;
	return row->entry.received_us;
}
