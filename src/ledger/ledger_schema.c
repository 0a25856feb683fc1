/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_schema.h"

#include <stdio.h>

#include "ledger_private.h"

/* Infinities are REAL too; the bounds keep them out. */
static const char *const first_sql[] = {
	"CREATE TABLE sessions (\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  started_us INTEGER NOT NULL,\n"
	"  boot TEXT NOT NULL,\n"
	"  process INTEGER NOT NULL\n"
	") STRICT",
	"CREATE TABLE meters (\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  seen_us INTEGER NOT NULL,\n"
	"  name TEXT NOT NULL CHECK (name <> ''),\n"
	"  port TEXT NOT NULL,\n"
	"  profile TEXT NOT NULL,\n"
	"  unit INTEGER NOT NULL CHECK (unit BETWEEN 0 AND 3),\n"
	"  compensated INTEGER NOT NULL CHECK (compensated IN (0, 1)),\n"
	"  scale_factor REAL NOT NULL CHECK (scale_factor BETWEEN -1e300 AND 1e300),\n"
	"  cal_temp_c REAL NOT NULL CHECK (cal_temp_c BETWEEN -1e300 AND 1e300),\n"
	"  step REAL CHECK (step BETWEEN -1e300 AND 1e300),\n"
	"  accuracy REAL CHECK (accuracy BETWEEN -1e300 AND 1e300)\n"
	") STRICT",
	"CREATE TABLE runs (\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  name TEXT NOT NULL CHECK (name <> ''),\n"
	"  manifest TEXT NOT NULL,\n"
	"  UNIQUE (name, manifest)\n"
	") STRICT",
	"CREATE TABLE run_marks (\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  run INTEGER NOT NULL REFERENCES runs (id),\n"
	"  mark TEXT NOT NULL CHECK (mark IN ('opened', 'closed')),\n"
	"  at_us INTEGER NOT NULL\n"
	") STRICT",
	"CREATE TABLE pastes (\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  at_us INTEGER NOT NULL,\n"
	"  name TEXT NOT NULL,\n"
	"  digest TEXT NOT NULL CHECK (length(digest) = 64)\n"
	") STRICT",
	"CREATE TABLE readings (\n"
	"  id INTEGER PRIMARY KEY CHECK (id > 0),\n"
	"  received_us INTEGER NOT NULL,\n"
	"  monotonic_us INTEGER,\n"
	"  session INTEGER NOT NULL REFERENCES sessions (id),\n"
	"  meter INTEGER NOT NULL REFERENCES meters (id),\n"
	"  run INTEGER REFERENCES runs (id),\n"
	"  paste INTEGER REFERENCES pastes (id),\n"
	"  line INTEGER CHECK (line > 0),\n"
	"  col INTEGER CHECK (col > 0),\n"
	"  role INTEGER NOT NULL CHECK (role BETWEEN 0 AND 3),\n"
	"  flags INTEGER NOT NULL CHECK (flags BETWEEN 0 AND 255),\n"
	"  unit INTEGER NOT NULL CHECK (unit BETWEEN 0 AND 3),\n"
	"  decimals INTEGER NOT NULL CHECK (decimals BETWEEN 0 AND 17),\n"
	"  value REAL CHECK (value BETWEEN -1e300 AND 1e300),\n"
	"  temp_c REAL CHECK (temp_c BETWEEN -1e300 AND 1e300),\n"
	"  standard_percent REAL CHECK (standard_percent BETWEEN -1e300 AND 1e300),\n"
	"  taken_us INTEGER,\n"
	"  label TEXT NOT NULL,\n"
	"  sequence TEXT,\n"
	"  status TEXT,\n"
	"  raw BLOB NOT NULL,\n"
	"  CHECK ((role = 3) = (value IS NULL))\n"
	") STRICT",
	"CREATE TABLE amendments (\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  reading INTEGER NOT NULL REFERENCES readings (id),\n"
	"  at_us INTEGER NOT NULL,\n"
	"  action TEXT NOT NULL CHECK (action IN ('exclude', 'restore', 'move')),\n"
	"  label TEXT,\n"
	"  role INTEGER CHECK (role BETWEEN 0 AND 2),\n"
	"  reason TEXT NOT NULL CHECK (reason <> ''),\n"
	"  author TEXT NOT NULL,\n"
	"  CHECK ((action = 'move') = (label IS NOT NULL)),\n"
	"  CHECK ((action = 'move') = (role IS NOT NULL))\n"
	") STRICT",
	"CREATE TABLE events (\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  at_us INTEGER NOT NULL,\n"
	"  monotonic_us INTEGER,\n"
	"  session INTEGER NOT NULL REFERENCES sessions (id),\n"
	"  meter INTEGER REFERENCES meters (id),\n"
	"  run INTEGER REFERENCES runs (id),\n"
	"  kind TEXT NOT NULL CHECK (kind <> ''),\n"
	"  text TEXT NOT NULL\n"
	") STRICT",
	"CREATE TABLE turns (\n"
	"  id INTEGER PRIMARY KEY REFERENCES readings (id)\n"
	") STRICT",
	"CREATE TRIGGER readings_turn AFTER INSERT ON readings\n"
	"WHEN NEW.received_us < (SELECT received_us FROM readings WHERE id < NEW.id ORDER BY id DESC LIMIT 1)\n"
	"BEGIN INSERT INTO turns (id) VALUES (NEW.id); END",
	"CREATE INDEX run_marks_by_run ON run_marks (run)",
	"CREATE INDEX pastes_by_digest ON pastes (digest)",
	"CREATE INDEX readings_by_run ON readings (run) WHERE run IS NOT NULL",
	"CREATE INDEX amendments_by_reading ON amendments (reading)",
	NULL,
};

static const char *const first_tables[] = {
	"sessions", "meters", "runs", "run_marks", "pastes", "readings", "amendments", "events", "turns", NULL,
};

static const char *const words_sql[] = {
	"CREATE VIEW readings_in_words AS SELECT\n"
	"  r.id,\n"
	"  strftime('%Y-%m-%dT%H:%M:%fZ', r.received_us / 1e6, 'unixepoch') AS received,\n"
	"  m.name AS meter,\n"
	"  (SELECT name FROM runs WHERE id = r.run) AS run,\n"
	"  CASE coalesce((SELECT role FROM amendments WHERE reading = r.id AND action = 'move'\n"
	"                 ORDER BY id DESC LIMIT 1), r.role)\n"
	"    WHEN 0 THEN 'sample' WHEN 1 THEN 'zero' WHEN 2 THEN 'standard' ELSE 'not read' END AS role,\n"
	"  coalesce((SELECT label FROM amendments WHERE reading = r.id AND action = 'move'\n"
	"            ORDER BY id DESC LIMIT 1), r.label) AS cup,\n"
	"  CASE WHEN r.value IS NOT NULL THEN printf('%.*f', r.decimals, r.value) END AS shown,\n"
	"  CASE r.unit WHEN 1 THEN 'tds' WHEN 2 THEN 'brix' WHEN 3 THEN 'nd' ELSE 'none' END AS unit,\n"
	"  r.temp_c,\n"
	"  coalesce((SELECT action = 'exclude' FROM amendments\n"
	"            WHERE reading = r.id AND action IN ('exclude', 'restore')\n"
	"            ORDER BY id DESC LIMIT 1), 0) AS excluded,\n"
	"  (SELECT reason FROM amendments WHERE reading = r.id ORDER BY id DESC LIMIT 1) AS last_reason,\n"
	"  CAST(r.raw AS TEXT) AS line\n"
	"FROM readings r JOIN meters m ON m.id = r.meter",
	NULL,
};

static const char *const no_tables[] = { NULL };

static const struct schema_step steps[] = {
	{
		.version = 1,
		.about = "what was captured, and what was said about it later",
		.sql = first_sql,
		.tables = first_tables,
	},
	{
		.version = 2,
		.about = "the readings in words, for other programs that read SQLite",
		.sql = words_sql,
		.tables = no_tables,
	},
};

enum { STEPS = sizeof(steps) / sizeof(steps[0]) };

const struct schema_step *schema_steps(size_t *count)
{
	*count = STEPS;
	return steps;
}

int schema_newest(void)
{
	return steps[STEPS - 1].version;
}

static bool do_print(sqlite3 *db, const char *format, const char *table)
{
	char *sql = sqlite3_mprintf(format, table, table, table);
	int rc = sql ? sqlite3_exec(db, sql, NULL, NULL, NULL) : SQLITE_NOMEM;

	sqlite3_free(sql);
	return rc == SQLITE_OK;
}

/*
 * The triggers that keep a table from being altered. The third is for INSERT OR REPLACE, which takes a row out without
 * asking the second.
 */
static bool only_added_to(sqlite3 *db, const char *table)
{
	return do_print(db,
	                "CREATE TRIGGER %w_no_update BEFORE UPDATE ON %w\n"
	                "BEGIN SELECT RAISE(ABORT, 'a ledger is only added to: no update of %w'); END",
	                table) &&
	       do_print(db,
	                "CREATE TRIGGER %w_no_delete BEFORE DELETE ON %w\n"
	                "BEGIN SELECT RAISE(ABORT, 'a ledger is only added to: no delete from %w'); END",
	                table) &&
	       do_print(db,
	                "CREATE TRIGGER %w_no_replace BEFORE INSERT ON %w\n"
	                "WHEN EXISTS (SELECT 1 FROM %w WHERE id = NEW.id)\n"
	                "BEGIN SELECT RAISE(ABORT, 'a ledger is only added to: no replacing'); END",
	                table);
}

bool schema_step_do(sqlite3 *db, const struct schema_step *step)
{
	for (const char *const *sql = step->sql; *sql; sql++)
		if (sqlite3_exec(db, *sql, NULL, NULL, NULL) != SQLITE_OK)
			return false;
	for (const char *const *table = step->tables; *table; table++)
		if (!only_added_to(db, *table))
			return false;
	return true;
}

static enum status step_take(struct ledger *ledger, const struct schema_step *step, struct error *error)
{
	char stamp[96];

	if (!schema_step_do(ledger->db, step))
		return sql_failed(ledger, sqlite3_extended_errcode(ledger->db), "make its tables", error);
	snprintf(stamp, sizeof(stamp), "PRAGMA application_id = %d; PRAGMA user_version = %d", LEDGER_APPLICATION_ID,
	         step->version);
	return sql_run(ledger, stamp, "make its tables", error);
}

enum status schema_upgrade(struct ledger *ledger, struct error *error)
{
	int64_t version = 0;
	enum status status = sql_run(ledger, "BEGIN IMMEDIATE", "upgrade it", error);

	if (status != STATUS_OK)
		return status;
	/* asked for within the transaction: another process may have been faster */
	status = sql_number(ledger, "PRAGMA user_version", "upgrade it", &version, error);
	for (size_t i = 0; status == STATUS_OK && i < STEPS; i++)
		if (steps[i].version > version)
			status = step_take(ledger, &steps[i], error);
	if (status == STATUS_OK)
		status = sql_run(ledger, "COMMIT", "upgrade it", error);
	if (status != STATUS_OK)
		sqlite3_exec(ledger->db, "ROLLBACK", NULL, NULL, NULL);
	return status;
}

/* Is what a row of sqlite_schema (type, name, sql) wants in the ledger, as there stands? */
static enum status object_verify(struct ledger *ledger, sqlite3_stmt *wanted, sqlite3_stmt *found, struct error *error)
{
	const char *type = (const char *)sqlite3_column_text(wanted, 0);
	const char *name = (const char *)sqlite3_column_text(wanted, 1);
	enum status status = STATUS_OK;
	int rc;

	sqlite3_bind_text(found, 1, type, -1, SQLITE_STATIC);
	sqlite3_bind_text(found, 2, name, -1, SQLITE_STATIC);
	rc = sqlite3_step(found);
	if (!sql_ok(rc))
		status = sql_failed(ledger, rc, "look at its tables", error);
	else if (rc == SQLITE_DONE)
		status = error_set(error, STATUS_REFUSED, "%s: is damaged: its %s \"%s\" is missing", ledger->path,
		                   type, name);
	else if (!slice_equal(sql_text(found, 0), sql_text(wanted, 2)))
		status = error_set(error, STATUS_REFUSED, "%s: is damaged: its %s \"%s\" was changed", ledger->path,
		                   type, name);
	sql_reset(found);
	return status;
}

static enum status objects_verify(struct ledger *ledger, sqlite3 *model, struct error *error)
{
	sqlite3_stmt *wanted = NULL, *found = NULL;
	enum status status = STATUS_OK;
	int rc = sqlite3_prepare_v2(model, "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL", -1,
	                            &wanted, NULL);

	if (rc == SQLITE_OK)
		rc = sqlite3_prepare_v2(ledger->db, "SELECT sql FROM sqlite_schema WHERE type = ?1 AND name = ?2", -1,
		                        &found, NULL);
	if (rc != SQLITE_OK)
		status = sql_failed(ledger, rc, "look at its tables", error);
	while (status == STATUS_OK && sqlite3_step(wanted) == SQLITE_ROW)
		status = object_verify(ledger, wanted, found, error);
	sqlite3_finalize(wanted);
	sqlite3_finalize(found);
	return status;
}

enum status schema_verify(struct ledger *ledger, int version, struct error *error)
{
	enum status status;
	sqlite3 *model = NULL;
	int rc = sqlite3_open(":memory:", &model);

	for (size_t i = 0; rc == SQLITE_OK && i < STEPS && steps[i].version <= version; i++)
		rc = schema_step_do(model, &steps[i]) ? SQLITE_OK : SQLITE_NOMEM;
	if (rc == SQLITE_OK)
		status = objects_verify(ledger, model, error);
	else
		status = sql_failed(ledger, rc, "look at its tables", error);
	sqlite3_close(model);
	return status;
}
