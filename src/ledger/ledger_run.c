/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_run.h"

#include <inttypes.h>

#include "arena.h"
#include "ledger_private.h"

#define MARK_OPENED SLICE_OF("opened")
#define MARK_CLOSED SLICE_OF("closed")

/* One id that a statement, with its parameters bound, finds; 0: none. */
static enum status id_found(struct ledger *ledger, sqlite3_stmt *statement, int64_t *id, struct error *error)
{
	enum status status = STATUS_OK;
	int rc = sqlite3_step(statement);

	*id = rc == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : 0;
	if (!sql_ok(rc))
		status = sql_failed(ledger, rc, "look for the run", error);
	sql_reset(statement);
	return status;
}

enum { MARK_NONE, MARK_IS_OPENED, MARK_IS_CLOSED };

/* Sets *mark to the newest mark of the run; MARK_NONE: there is none, nor such a run where it was stored whole. */
static enum status run_last_mark(struct ledger *ledger, int64_t id, int64_t *mark, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	statement = sql_statement(ledger, STATEMENT_RUN_LAST_MARK,
	                          "SELECT CASE mark WHEN 'opened' THEN 1 ELSE 2 END FROM run_marks WHERE run = ?1 "
	                          "ORDER BY id DESC LIMIT 1",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, id);
	return id_found(ledger, statement, mark, error);
}

static enum status run_mark(struct ledger *ledger, int64_t id, struct slice mark, int64_t at_us, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	statement = sql_statement(ledger, STATEMENT_RUN_MARK,
	                          "INSERT INTO run_marks (run, mark, at_us) VALUES (?1, ?2, ?3)", &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, id);
	sql_bind_text(statement, 2, mark);
	sqlite3_bind_int64(statement, 3, at_us);
	return sql_insert(ledger, statement, "store the run", NULL, error);
}

static enum status run_known(struct ledger *ledger, struct slice name, struct slice manifest, int64_t *id,
                             struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	statement = sql_statement(ledger, STATEMENT_RUN_KNOWN, "SELECT id FROM runs WHERE name = ?1 AND manifest = ?2",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sql_bind_text(statement, 1, name);
	sql_bind_text(statement, 2, manifest);
	return id_found(ledger, statement, id, error);
}

static enum status run_insert(struct ledger *ledger, struct slice name, struct slice manifest, int64_t *id,
                              struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	statement = sql_statement(ledger, STATEMENT_RUN_ADD, "INSERT INTO runs (name, manifest) VALUES (?1, ?2)",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sql_bind_text(statement, 1, name);
	sql_bind_text(statement, 2, manifest);
	return sql_insert(ledger, statement, "store the run", id, error);
}

enum status ledger_run_open(struct ledger *ledger, struct slice name, struct slice manifest, int64_t at_us, int64_t *id,
                            struct error *error)
{
	int64_t mark = MARK_NONE;
	enum status status;
	bool own;

	if (slice_blank(name))
		return error_set(error, STATUS_INVALID, "%s: cannot open a run without a name", ledger->path);
	status = ledger_enter(ledger, &own, error);
	if (status != STATUS_OK)
		return status;
	status = run_known(ledger, name, manifest, id, error);
	if (status == STATUS_OK && *id == 0)
		status = run_insert(ledger, name, manifest, id, error);
	if (status == STATUS_OK)
		status = run_last_mark(ledger, *id, &mark, error);
	if (status == STATUS_OK && mark != MARK_IS_OPENED)
		status = run_mark(ledger, *id, MARK_OPENED, at_us, error);
	return ledger_leave(ledger, own, status, error);
}

enum status ledger_run_close(struct ledger *ledger, int64_t id, int64_t at_us, struct error *error)
{
	int64_t mark = MARK_NONE;
	bool own;
	enum status status = ledger_enter(ledger, &own, error);

	if (status != STATUS_OK)
		return status;
	status = run_last_mark(ledger, id, &mark, error);
	if (status == STATUS_OK && mark == MARK_NONE)
		status = error_set(error, STATUS_INVALID, "%s: there is no run %" PRId64, ledger->path, id);
	if (status == STATUS_OK && mark == MARK_IS_OPENED)
		status = run_mark(ledger, id, MARK_CLOSED, at_us, error);
	return ledger_leave(ledger, own, status, error);
}

enum status ledger_run_find(struct ledger *ledger, struct slice name, int64_t *id, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	statement = sql_statement(ledger, STATEMENT_RUN_FIND,
	                          "SELECT id FROM runs WHERE name = ?1 ORDER BY id DESC LIMIT 1", &status, error);
	if (status != STATUS_OK)
		return status;
	sql_bind_text(statement, 1, name);
	return id_found(ledger, statement, id, error);
}

static bool run_copy(struct ledger_run *run, sqlite3_stmt *statement, struct arena *texts)
{
	*run = (struct ledger_run){
		.id = sqlite3_column_int64(statement, 0),
		.name = arena_copy(texts, sql_text(statement, 1)),
		.manifest = arena_copy(texts, sql_text(statement, 2)),
		.opened_us = sqlite3_column_int64(statement, 3),
		.closed_us = sql_time(statement, 4),
	};
	return run->name.text && run->manifest.text;
}

static enum status run_after(struct ledger *ledger, struct ledger_run *run, struct arena *texts, bool *found,
                             struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	int rc;

	statement = sql_statement(ledger, STATEMENT_RUNS,
	                          "SELECT id, name, manifest, (SELECT min(at_us) FROM run_marks WHERE run = runs.id), "
	                          "(SELECT CASE mark WHEN 'closed' THEN at_us END FROM run_marks WHERE run = runs.id "
	                          "ORDER BY id DESC LIMIT 1) FROM runs WHERE id > ?1 ORDER BY id LIMIT 1",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, run->id);
	rc = sqlite3_step(statement);
	*found = rc == SQLITE_ROW;
	if (*found && !run_copy(run, statement, texts))
		status = error_set(error, STATUS_MEMORY, "%s: no memory left", ledger->path);
	else if (!sql_ok(rc))
		status = sql_failed(ledger, rc, "read its runs", error);
	sql_reset(statement);
	return status;
}

enum status ledger_each_run(struct ledger *ledger,
                            enum status (*each)(void *context, const struct ledger_run *run, struct error *error),
                            void *context, struct error *error)
{
	struct ledger_run run = { .id = 0 };
	struct arena texts = ARENA_INIT;
	enum status status;
	bool found = false;

	do {
		status = run_after(ledger, &run, &texts, &found, error);
		if (status == STATUS_OK && found)
			status = each(context, &run, error);
		arena_release(&texts);
	} while (status == STATUS_OK && found);
	return status;
}
