/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tables: only added to, strict, and taken on from every version that ever was. */
#include <sqlite3.h>

#include "ledger_scene.h"

#include "ledger_amend.h"
#include "ledger_event.h"
#include "ledger_run.h"
#include "ledger_schema.h"

#define FIXTURES "fixtures/ledgers"

static sqlite3 *raw_open(const char *path)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	return db;
}

/* The message of what SQLite refuses; "" where it does not. */
static const char *raw_refusal(sqlite3 *db, const char *sql)
{
	return sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK ? "" : sqlite3_errmsg(db);
}

static int raw_int(sqlite3 *db, const char *sql)
{
	sqlite3_stmt *statement;
	int number;

	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
	number = sqlite3_column_int(statement, 0);
	sqlite3_finalize(statement);
	return number;
}

/* A copy of the file of that version in the scene's folder. */
static void scene_version(struct scene *scene, int version)
{
	char path[64];

	scene_folder(scene);
	snprintf(path, sizeof(path), FIXTURES "/version-%d.ledger", version);
	file_copy(path, scene->path);
}

static const char *const tables[] = { "sessions", "meters",     "runs",   "run_marks", "pastes",
	                              "readings", "amendments", "events", "turns" };

/* From any program: the triggers stand in the file. */
static void no_table_can_be_altered(void **state)
{
	struct scene scene;
	sqlite3 *db;

	(void)state;
	scene_version(&scene, schema_newest());
	db = raw_open(scene.path);
	for (size_t i = 0; i < sizeof(tables) / sizeof(tables[0]); i++) {
		char sql[128];

		snprintf(sql, sizeof(sql), "UPDATE %s SET id = id + 100", tables[i]);
		assert_non_null(strstr(raw_refusal(db, sql), "only added to"));
		snprintf(sql, sizeof(sql), "DELETE FROM %s WHERE id = 8 OR id = 1", tables[i]);
		assert_non_null(strstr(raw_refusal(db, sql), "only added to"));
		snprintf(sql, sizeof(sql), "DELETE FROM %s", tables[i]);
		assert_non_null(strstr(raw_refusal(db, sql), "only added to"));
		/* takes a row out without a delete trigger */
		snprintf(sql, sizeof(sql), "INSERT OR REPLACE INTO %s SELECT * FROM %s LIMIT 1", tables[i], tables[i]);
		assert_non_null(strstr(raw_refusal(db, sql), "only added to"));
		assert_int_equal(raw_int(db, "SELECT total_changes()"), 0);
	}
	assert_string_equal(raw_refusal(db, "UPDATE readings SET value = 1.5 WHERE id = 2"),
	                    "a ledger is only added to: no update of readings");
	sqlite3_close(db);
	scene_close(&scene);
}

/* Every table that is there: one that is added later without triggers fails here. */
static void every_table_has_its_triggers(void **state)
{
	struct scene *scene = *state;
	sqlite3 *db = raw_open(scene->path);

	assert_int_equal(raw_int(db,
	                         "SELECT count(*) FROM sqlite_schema t WHERE type = 'table' AND 3 <> (SELECT count(*) "
	                         "FROM sqlite_schema g WHERE g.type = 'trigger' AND g.name LIKE t.name || '_no_%')"),
	                 0);
	assert_int_equal(raw_int(db, "SELECT count(*) FROM sqlite_schema WHERE type = 'table'"),
	                 sizeof(tables) / sizeof(tables[0]));
	assert_int_equal(raw_int(db,
	                         "SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND "
	                         "NOT strict AND name <> 'sqlite_schema'"),
	                 0);
	sqlite3_close(db);
}

struct strict_case {
	const char *name;
	const char *value, *temp, *raw, *role;
	const char *words;
};

/* D08: SQLite would take text into a column of numbers, and add it up as one. */
static void row_is_refused(void **state)
{
	const struct strict_case *c = *state;
	struct scene scene;
	char sql[512];
	sqlite3 *db;

	scene_version(&scene, schema_newest());
	db = raw_open(scene.path);
	snprintf(
		sql, sizeof(sql),
		"INSERT INTO readings (received_us, session, meter, role, flags, unit, decimals, value, temp_c, label, raw) "
		"VALUES (1, 1, 1, %s, 0, 1, 2, %s, %s, 'A1', %s)",
		c->role, c->value, c->temp, c->raw);
	if (*c->words)
		assert_non_null(strstr(raw_refusal(db, sql), c->words));
	else
		assert_string_equal(raw_refusal(db, sql), "");
	sqlite3_close(db);
	scene_close(&scene);
}

struct names {
	char text[256];
};

static enum status name_runs(void *context, const struct ledger_run *run, struct error *error)
{
	struct names *names = context;

	(void)error;
	assert_int_equal(run->opened_us, 1772359300000000);
	assert_int_equal(run->closed_us, 1772366400000000);
	snprintf(names->text, sizeof(names->text), "%.*s %.*s", SLICE_ARG(run->name), SLICE_ARG(run->manifest));
	return STATUS_OK;
}

static enum status count_events(void *context, const struct ledger_event *event, struct error *error)
{
	(void)event;
	(void)error;
	++*(int *)context;
	return STATUS_OK;
}

/* What fixtures/ledgers/README.md says is in each of the files. */
static void assert_content(struct ledger *ledger)
{
	struct seen seen;
	struct names names;
	int events = 0;

	assert_int_equal(scene_see(ledger, (struct ledger_query){ 0 }).count, 7);
	seen = scene_see(ledger, (struct ledger_query){ .from_id = 4, .to_id = 4, .raw_lines = true });
	assert_int_equal(seen.row.entry.raw.len, 5);
	assert_memory_equal(seen.raw, "R\0\xff 1", 5);
	seen = scene_see(ledger, (struct ledger_query){ .from_id = 5, .to_id = 5 });
	assert_string_equal(seen.label, "A2");
	assert_string_equal(seen.note, "was the cup beside it");
	assert_int_equal(seen.row.flags, 0);
	seen = scene_see(ledger, (struct ledger_query){ .from_id = 2, .to_id = 2 });
	assert_int_equal(seen.row.flags, READING_EXCLUDED);
	assert_string_equal(seen.note, "still warm");
	seen = scene_see(ledger, (struct ledger_query){ .meter = slice_from("pasted text") });
	assert_int_equal(seen.count, 2);
	assert_near(seen.row.entry.standard_percent, 10.02, 0.0);
	assert_done(ledger_each_run(ledger, name_runs, &names, &error));
	assert_string_equal(names.text, "papers papers/manifest.csv");
	assert_done(ledger_each_event(ledger, 0, count_events, &events, &error));
	assert_int_equal(events, 2);
}

static void every_version_is_taken_on(void **state)
{
	(void)state;
	for (int version = 1; version <= schema_newest(); version++) {
		struct scene scene;
		sqlite3 *db;

		scene_version(&scene, version);
		assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_WRITE, &error));
		assert_content(scene.ledger);
		scene.meter = 1;
		assert_int_equal(scene_add(&scene, "A1", 1.41), 9);
		ledger_free(scene.ledger);
		db = raw_open(scene.path);
		assert_int_equal(raw_int(db, "PRAGMA user_version"), schema_newest());
		assert_int_equal(
			raw_int(db, "SELECT count(*) FROM pragma_integrity_check WHERE integrity_check = 'ok'"), 1);
		sqlite3_close(db);
		assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_WRITE, &error));
		scene_close(&scene);
	}
}

static void every_version_is_read_as_it_is(void **state)
{
	(void)state;
	for (int version = 1; version <= schema_newest(); version++) {
		struct scene scene;
		size_t before, after;
		char *bytes, *again;

		scene_version(&scene, version);
		bytes = file_bytes(scene.path, &before);
		assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_READ, &error));
		assert_content(scene.ledger);
		ledger_free(scene.ledger);
		scene.ledger = NULL;
		again = file_bytes(scene.path, &after);
		assert_int_equal(before, after);
		assert_memory_equal(bytes, again, before);
		free(bytes);
		free(again);
		scene_close(&scene);
	}
}

/* An upgrade that cannot be finished leaves the file at its version. */
static void upgrade_is_done_whole_or_not_at_all(void **state)
{
	struct scene scene;
	sqlite3 *db;

	(void)state;
	scene_version(&scene, 1);
	db = raw_open(scene.path);
	assert_string_equal(raw_refusal(db, "CREATE TABLE readings_in_words (x)"), "");
	sqlite3_close(db);
	assert_told(ledger_open(&scene.ledger, scene.path, LEDGER_WRITE, &error), STATUS_IO, "make its tables");
	db = raw_open(scene.path);
	assert_int_equal(raw_int(db, "PRAGMA user_version"), 1);
	sqlite3_close(db);
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_READ, &error));
	scene_close(&scene);
}

static void steps_count_up_from_1(void **state)
{
	const struct schema_step *steps;
	size_t count;

	(void)state;
	steps = schema_steps(&count);
	for (size_t i = 0; i < count; i++)
		assert_int_equal(steps[i].version, i + 1);
	assert_int_equal(schema_newest(), count);
}

struct tamper_case {
	const char *name;
	const char *sql;
	const char *words;
};

static void tampered_ledger_is_refused(void **state)
{
	const struct tamper_case *c = *state;
	struct scene scene;
	sqlite3 *db;

	scene_version(&scene, schema_newest());
	db = raw_open(scene.path);
	assert_string_equal(raw_refusal(db, c->sql), "");
	sqlite3_close(db);
	assert_told(ledger_open(&scene.ledger, scene.path, LEDGER_WRITE, &error), STATUS_REFUSED, c->words);
	assert_told(ledger_open(&scene.ledger, scene.path, LEDGER_READ, &error), STATUS_REFUSED, c->words);
	scene_close(&scene);
}

/* Somebody's own view or index does no harm. */
static void additions_of_others_are_borne(void **state)
{
	struct scene scene;
	sqlite3 *db;

	(void)state;
	scene_version(&scene, schema_newest());
	db = raw_open(scene.path);
	assert_string_equal(raw_refusal(db, "CREATE VIEW mine AS SELECT value FROM readings; ANALYZE"), "");
	sqlite3_close(db);
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_WRITE, &error));
	assert_content(scene.ledger);
	scene_close(&scene);
}

/* The view for other programs, against what was typed in by hand from fixtures/ledgers/version-2.sql. */
static void view_says_the_readings_in_words(void **state)
{
	static const char *const want[] = {
		"1|2026-03-01T10:15:00.000Z|bench meter|papers|zero||0.01|tds|0",
		"2|2026-03-01T10:16:00.000Z|bench meter|papers|sample|A1|1.40|tds|1",
		"3|2026-03-01T10:17:00.000Z|bench meter|papers|sample|A1|1.40|tds|0",
		"4|2026-03-01T10:18:00.000Z|bench meter|papers|not read|A1|-|none|0",
		"5|2026-03-01T10:19:00.000Z|bench meter|papers|sample|A2|1.52|tds|0",
		"6|2026-03-01T12:01:40.000Z|pasted text|-|sample|E1|11.8|brix|0",
		"7|2026-03-01T12:01:40.000Z|pasted text|-|standard||10.0|brix|0",
		"8|2026-03-01T12:00:00.000Z|bench meter|-|sample|A3|1.61|tds|0",
	};
	struct scene scene;
	sqlite3_stmt *statement;
	sqlite3 *db;

	(void)state;
	scene_version(&scene, schema_newest());
	db = raw_open(scene.path);
	sqlite3_prepare_v2(
		db,
		"SELECT id || '|' || received || '|' || meter || '|' || ifnull(run, '-') || '|' || role || '|' || "
		"cup || '|' || ifnull(shown, '-') || '|' || unit || '|' || excluded FROM readings_in_words "
		"ORDER BY id",
		-1, &statement, NULL);
	for (size_t i = 0; i < sizeof(want) / sizeof(want[0]); i++) {
		assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
		assert_string_equal(sqlite3_column_text(statement, 0), want[i]);
	}
	assert_int_equal(sqlite3_step(statement), SQLITE_DONE);
	sqlite3_finalize(statement);
	sqlite3_close(db);
	scene_close(&scene);
}

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

int main(void)
{
	static struct strict_case strict[] = {
		{ "plain row is taken", "1.38", "22.4", "x'31'", "0", "" },
		{ "whole number is taken as a number", "1", "NULL", "x'31'", "0", "" },
		{ "D08 text as a value is refused", "'1.30 %'", "NULL", "x'31'", "0", "cannot store TEXT" },
		{ "D08 text as a temperature is refused", "1.3", "'22 C'", "x'31'", "0", "cannot store TEXT" },
		{ "line as text is refused", "1.3", "NULL", "'1.3'", "0", "cannot store TEXT" },
		{ "line that is missing is refused", "1.3", "NULL", "NULL", "0", "NOT NULL" },
		{ "D09 reading without a value is refused", "NULL", "NULL", "x'31'", "0", "CHECK" },
		{ "unread line with a value is refused", "1.3", "NULL", "x'31'", "3", "CHECK" },
		{ "D09 infinite value is refused", "9e999", "NULL", "x'31'", "0", "CHECK" },
		{ "D09 infinite temperature is refused", "1.3", "-9e999", "x'31'", "0", "CHECK" },
		{ "unknown role is refused", "1.3", "NULL", "x'31'", "9", "CHECK" },
	};
	static struct tamper_case tampers[] = {
		{ "missing trigger is noticed", "DROP TRIGGER readings_no_update", "readings_no_update" },
		{ "missing index is noticed", "DROP INDEX readings_by_run", "readings_by_run" },
		{ "missing table is noticed", "DROP TABLE events", "events" },
		{ "added column is noticed", "ALTER TABLE events ADD COLUMN colour TEXT", "was changed" },
		{ "weakened trigger is noticed",
		  "DROP TRIGGER events_no_delete; CREATE TRIGGER events_no_delete BEFORE DELETE ON events BEGIN SELECT 1; END",
		  "was changed" },
	};
	static const struct CMUnitTest plain[] = {
		cmocka_unit_test(no_table_can_be_altered),
		cmocka_unit_test_setup_teardown(every_table_has_its_triggers, scene_setup, scene_teardown),
		cmocka_unit_test(every_version_is_taken_on),
		cmocka_unit_test(every_version_is_read_as_it_is),
		cmocka_unit_test(upgrade_is_done_whole_or_not_at_all),
		cmocka_unit_test(steps_count_up_from_1),
		cmocka_unit_test(additions_of_others_are_borne),
		cmocka_unit_test(view_says_the_readings_in_words),
	};
	struct CMUnitTest tests[LENGTH(plain) + LENGTH(strict) + LENGTH(tampers)];
	size_t count = 0;

	for (size_t i = 0; i < LENGTH(plain); i++)
		tests[count++] = plain[i];
	for (size_t i = 0; i < LENGTH(strict); i++)
		tests[count++] = (struct CMUnitTest){ strict[i].name, row_is_refused, NULL, NULL, &strict[i] };
	for (size_t i = 0; i < LENGTH(tampers); i++)
		tests[count++] = (struct CMUnitTest){ tampers[i].name, tampered_ledger_is_refused, NULL, NULL,
			                              &tampers[i] };
	return cmocka_run_group_tests(tests, NULL, NULL);
}
