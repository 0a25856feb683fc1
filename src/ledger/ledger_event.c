/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_event.h"

#include "arena.h"
#include "ledger_private.h"

static enum status event_insert(struct ledger *ledger, struct ledger_event *event, struct error *error)
{
	enum status status = ledger_session(ledger, error);
	sqlite3_stmt *statement;

	if (status != STATUS_OK)
		return status;
	statement = sql_statement(ledger, STATEMENT_EVENT_ADD,
	                          "INSERT INTO events (at_us, monotonic_us, session, meter, run, kind, text) "
	                          "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, event->at_us);
	sql_bind_id_or_null(statement, 2, event->monotonic_us);
	sqlite3_bind_int64(statement, 3, ledger->session);
	sql_bind_id_or_null(statement, 4, event->meter);
	sql_bind_id_or_null(statement, 5, event->run);
	sql_bind_text(statement, 6, event->kind);
	sql_bind_text(statement, 7, event->text);
	return sql_insert(ledger, statement, "store what happened", &event->id, error);
}

enum status ledger_event_add(struct ledger *ledger, struct ledger_event *event, struct error *error)
{
	enum status status;
	bool own;

	if (slice_blank(event->kind))
		return error_set(error, STATUS_INVALID, "%s: cannot store an event without its kind", ledger->path);
	status = ledger_enter(ledger, &own, error);
	if (status != STATUS_OK)
		return status;
	status = event_insert(ledger, event, error);
	return ledger_leave(ledger, own, status, error);
}

static bool event_copy(struct ledger_event *event, sqlite3_stmt *statement, struct arena *texts)
{
	*event = (struct ledger_event){
		.id = sqlite3_column_int64(statement, 0),
		.at_us = sqlite3_column_int64(statement, 1),
		.monotonic_us = sqlite3_column_int64(statement, 2),
		.meter = sqlite3_column_int64(statement, 3),
		.run = sqlite3_column_int64(statement, 4),
		.kind = arena_copy(texts, sql_text(statement, 5)),
		.text = arena_copy(texts, sql_text(statement, 6)),
	};
	return event->kind.text && event->text.text;
}

static enum status event_after(struct ledger *ledger, struct ledger_event *event, struct arena *texts, bool *found,
                               struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	int rc;

	statement = sql_statement(ledger, STATEMENT_EVENTS,
	                          "SELECT id, at_us, monotonic_us, meter, run, kind, text FROM events WHERE id > ?1 "
	                          "ORDER BY id LIMIT 1",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, event->id);
	rc = sqlite3_step(statement);
	*found = rc == SQLITE_ROW;
	if (*found && !event_copy(event, statement, texts))
		status = error_set(error, STATUS_MEMORY, "%s: no memory left", ledger->path);
	else if (!sql_ok(rc))
		status = sql_failed(ledger, rc, "read its events", error);
	sql_reset(statement);
	return status;
}

enum status ledger_each_event(struct ledger *ledger, int64_t after_id,
                              enum status (*each)(void *context, const struct ledger_event *event, struct error *error),
                              void *context, struct error *error)
{
	struct ledger_event event = { .id = after_id };
	struct arena texts = ARENA_INIT;
	enum status status;
	bool found = false;

	do {
		status = event_after(ledger, &event, &texts, &found, error);
		if (status == STATUS_OK && found)
			status = each(context, &event, error);
		arena_release(&texts);
	} while (status == STATUS_OK && found);
	return status;
}
