/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * From a time to the ids that may have it. Ids follow no clock, but wherever a line was received earlier than the one
 * before it, a row of turns says so: between two turns the time only grows, and can be searched by halving. An index by time
 * would cost every commit a page.
 */
#include "ledger_private.h"

/* A clock set back more often than that: everything is read instead. */
enum { MOST_TURNS = 1000 };

/* A statement with its parameter bound: the id that it gives, or else other. */
static enum status id_or(struct ledger *ledger, sqlite3_stmt *statement, int64_t other, int64_t *id,
                         struct error *error)
{
	enum status status = STATUS_OK;
	int rc = sqlite3_step(statement);

	*id = rc == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : other;
	if (!sql_ok(rc))
		status = sql_failed(ledger, rc, "read it", error);
	sql_reset(statement);
	return status;
}

/* The first turn after id; past where there is none up to it. */
static enum status turn_after(struct ledger *ledger, int64_t id, int64_t past, int64_t *turn, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	statement = sql_statement(ledger, STATEMENT_TURN_AFTER,
	                          "SELECT id FROM turns WHERE id > ?1 AND id < ?2 ORDER BY id LIMIT 1", &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, id);
	sqlite3_bind_int64(statement, 2, past);
	return id_or(ledger, statement, past, turn, error);
}

/* The last turn up to id; first where there is none after it. */
static enum status turn_before(struct ledger *ledger, int64_t id, int64_t first, int64_t *turn, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	statement = sql_statement(ledger, STATEMENT_TURN_BEFORE,
	                          "SELECT id FROM turns WHERE id <= ?1 AND id > ?2 ORDER BY id DESC LIMIT 1", &status,
	                          error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, id);
	sqlite3_bind_int64(statement, 2, first);
	return id_or(ledger, statement, first, turn, error);
}

/* Sets *id to the line at or after it, and *us to when it was received; *id to INT64_MAX where there is none. */
static enum status received_at(struct ledger *ledger, int64_t *id, int64_t *us, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	int rc;

	statement = sql_statement(ledger, STATEMENT_RECEIVED,
	                          "SELECT id, received_us FROM readings WHERE id >= ?1 ORDER BY id LIMIT 1", &status,
	                          error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, *id);
	rc = sqlite3_step(statement);
	*id = rc == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : INT64_MAX;
	*us = sqlite3_column_int64(statement, 1);
	if (!sql_ok(rc))
		status = sql_failed(ledger, rc, "read it", error);
	sql_reset(statement);
	return status;
}

/* The first id in [first, past) received at us or later; past where none is. There is no turn in between. */
static enum status halve(struct ledger *ledger, int64_t first, int64_t past, int64_t us, int64_t *found,
                         struct error *error)
{
	enum status status = STATUS_OK;

	while (status == STATUS_OK && first < past) {
		int64_t middle = first + (past - first) / 2, id = middle, received_us = 0;

		status = received_at(ledger, &id, &received_us, error);
		if (id >= past || received_us >= us)
			past = middle;
		else
			first = id + 1;
	}
	*found = first;
	return status;
}

/* Moves *first up to the first line that may be meant. */
static enum status range_begin(struct ledger *ledger, int64_t since_us, int64_t *first, int64_t past,
                               struct error *error)
{
	int64_t from = *first, turn = from, found = from;
	enum status status = STATUS_OK;

	for (int turns = 0; status == STATUS_OK && from < past; turns++) {
		if (turns == MOST_TURNS)
			return STATUS_OK;
		status = turn_after(ledger, from, past, &turn, error);
		if (status == STATUS_OK)
			status = halve(ledger, from, turn, since_us, &found, error);
		if (found < turn)
			break;
		from = turn;
	}
	*first = found;
	return status;
}

/* Moves *past down to behind the last line that may be meant. */
static enum status range_end(struct ledger *ledger, int64_t until_us, int64_t first, int64_t *past, struct error *error)
{
	int64_t to = *past, turn = first, found = to;
	enum status status = STATUS_OK;

	for (int turns = 0; status == STATUS_OK && to > first; turns++) {
		if (turns == MOST_TURNS)
			return STATUS_OK;
		status = turn_before(ledger, to - 1, first, &turn, error);
		if (status == STATUS_OK)
			status = halve(ledger, turn, to, until_us, &found, error);
		if (found > turn)
			break;
		to = turn;
	}
	*past = found;
	return status;
}

enum status ledger_time_range(struct ledger *ledger, int64_t since_us, int64_t until_us, int64_t *first, int64_t *last,
                              struct error *error)
{
	int64_t past = *last + 1;
	enum status status = range_begin(ledger, since_us, first, past, error);

	if (status == STATUS_OK)
		status = range_end(ledger, until_us, *first, &past, error);
	*last = past - 1;
	return status;
}
