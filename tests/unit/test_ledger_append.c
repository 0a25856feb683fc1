/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is added comes back as it was, in groups or alone; what makes no sense is refused before anything is stored. */
#include <inttypes.h>
#include <limits.h>
#include <sqlite3.h>

#include "ledger_scene.h"

#include "ledger_event.h"
#include "ledger_paste.h"
#include "ledger_run.h"

static void everything_of_a_line_comes_back(void **state)
{
	struct scene *scene = *state;
	static const char raw[] = "\x02R 007\0TDS 1.40 %\xff\xb0 22.4\r";
	struct ledger_entry entry = {
		.received_us = SCENE_TIME_US + 1,
		.monotonic_us = 123456789,
		.taken_us = SCENE_TIME_US - 500000,
		.meter = scene->meter,
		.line = 7,
		.column = 4,
		.role = READING_STANDARD,
		.flags = READING_REPEAT | READING_QUESTIONED,
		.label = slice_from("Äthiopien 3"),
		.raw = { raw, sizeof(raw) - 1 },
		.sequence = slice_from("007"),
		.status = slice_from("LOW BATT"),
		.shown = { 1.40, 2, UNIT_BRIX },
		.temp_c = 22.4,
		.standard_percent = 10.02,
	};
	struct seen seen;

	assert_done(ledger_run_open(scene->ledger, slice_from("march"), slice_from("m.csv"), 1, &entry.run, &error));
	assert_done(ledger_paste_add(scene->ledger, slice_from("t.txt"), slice_from("x"), 1, &entry.paste, &error));
	assert_done(ledger_append(scene->ledger, &entry, &error));
	seen = scene_see(scene->ledger, (struct ledger_query){ 0 });
	assert_int_equal(seen.count, 1);
	assert_int_equal(seen.row.entry.id, 1);
	assert_int_equal(seen.row.entry.received_us, SCENE_TIME_US + 1);
	assert_int_equal(seen.row.entry.monotonic_us, 123456789);
	assert_int_equal(seen.row.entry.taken_us, SCENE_TIME_US - 500000);
	assert_int_equal(seen.row.entry.meter, entry.meter);
	assert_int_equal(seen.row.entry.run, entry.run);
	assert_int_equal(seen.row.entry.paste, entry.paste);
	assert_int_equal(seen.row.entry.line, 7);
	assert_int_equal(seen.row.entry.column, 4);
	assert_int_equal(seen.row.entry.role, READING_STANDARD);
	assert_int_equal(seen.row.entry.flags, READING_REPEAT | READING_QUESTIONED);
	assert_string_equal(seen.label, "Äthiopien 3");
	assert_int_equal(seen.row.entry.raw.len, sizeof(raw) - 1);
	assert_memory_equal(seen.raw, raw, sizeof(raw) - 1);
	assert_string_equal(seen.sequence, "007"); /* C08: no number was made of it */
	assert_string_equal(seen.status, "LOW BATT");
	assert_near(seen.row.entry.shown.value, 1.40, 0.0);
	assert_int_equal(seen.row.entry.shown.decimals, 2);
	assert_int_equal(seen.row.entry.shown.unit, UNIT_BRIX);
	assert_near(seen.row.entry.temp_c, 22.4, 0.0);
	assert_near(seen.row.entry.standard_percent, 10.02, 0.0);
}

static void what_was_not_told_comes_back_as_not_told(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = LEDGER_ENTRY_INIT;
	struct seen seen;

	entry.received_us = SCENE_TIME_US;
	entry.meter = scene->meter;
	entry.role = READING_SAMPLE;
	entry.shown = (struct shown){ -0.01, 2, UNIT_TDS_PERCENT };
	assert_done(ledger_append(scene->ledger, &entry, &error));
	seen = scene_see(scene->ledger, (struct ledger_query){ 0 });
	assert_int_equal(seen.row.entry.taken_us, READING_NO_TIME);
	assert_int_equal(seen.row.entry.monotonic_us, 0);
	assert_int_equal(seen.row.entry.run, 0);
	assert_int_equal(seen.row.entry.paste, 0);
	assert_true(isnan(seen.row.entry.temp_c));
	assert_true(isnan(seen.row.entry.standard_percent));
	assert_int_equal(seen.row.entry.raw.len, 0);
	assert_int_equal(seen.row.label.len, 0);
	assert_int_equal(seen.row.entry.status.len, 0);
	assert_near(seen.row.entry.shown.value, -0.01, 0.0);
}

/* Every line that came is kept, read or not. */
static void line_that_gave_no_reading_is_kept(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = LEDGER_ENTRY_INIT;
	struct seen seen;

	entry.received_us = SCENE_TIME_US;
	entry.meter = scene->meter;
	entry.shown.value = NAN; /* whatever stands there: nothing was shown */
	entry.raw = slice_from("*** SELF TEST OK ***");
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 0);
	seen = scene_see(scene->ledger, (struct ledger_query){ .raw_lines = true });
	assert_int_equal(seen.count, 1);
	assert_int_equal(seen.row.role, LEDGER_RAW);
	assert_string_equal(seen.raw, "*** SELF TEST OK ***");
}

static void long_line_comes_back_whole(void **state)
{
	struct scene *scene = *state;
	static char line[300000];
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);
	struct run *run = run_new();

	for (size_t i = 0; i < sizeof(line); i++)
		line[i] = (char)(i % 251);
	scene_add(scene, "A1", 1.37);
	entry.raw = (struct slice){ line, sizeof(line) };
	assert_done(ledger_append(scene->ledger, &entry, &error));
	scene_add(scene, "A1", 1.39);
	assert_done(ledger_load_run(scene->ledger, &(struct ledger_query){ 0 }, run, &error));
	assert_int_equal(run->reading_count, 3);
	assert_int_equal(run->readings[1].line->raw.len, sizeof(line));
	assert_memory_equal(run->readings[1].line->raw.text, line, sizeof(line));
	run_free(run);
}

/* Join and amendments decide them; they are no facts of the capture. */
static void flags_of_later_stages_are_not_stored(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);

	entry.flags = READING_EXCLUDED | READING_UNJOINED | READING_STALE;
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).row.flags, READING_STALE);
}

struct text_case {
	const char *name;
	const char *text;
	size_t len;
	const char *kept;
};

/* C17: no invalid UTF-8 reaches the file; C08: names are no numbers. */
static void label_is_kept_as(void **state)
{
	const struct text_case *c = *state;
	struct scene scene;
	struct ledger_entry entry;

	scene_open(&scene);
	entry = scene_entry(scene.meter, "", 1.38);
	entry.label = (struct slice){ c->text, c->len };
	assert_done(ledger_append(scene.ledger, &entry, &error));
	assert_string_equal(scene_see(scene.ledger, (struct ledger_query){ 0 }).label, c->kept);
	scene_close(&scene);
}

struct refused_case {
	const char *name;
	void (*spoil)(struct ledger_entry *entry);
	const char *words;
};

static void value_nan(struct ledger_entry *entry)
{
	entry->shown.value = NAN;
}

static void value_infinite(struct ledger_entry *entry)
{
	entry->shown.value = -INFINITY;
}

static void temp_infinite(struct ledger_entry *entry)
{
	entry->temp_c = INFINITY;
}

static void standard_infinite(struct ledger_entry *entry)
{
	entry->standard_percent = INFINITY;
}

static void decimals_many(struct ledger_entry *entry)
{
	entry->shown.decimals = 18;
}

static void decimals_negative(struct ledger_entry *entry)
{
	entry->shown.decimals = -1;
}

static void role_unknown(struct ledger_entry *entry)
{
	entry->role = 4;
}

static void meter_unknown(struct ledger_entry *entry)
{
	entry->meter = 77;
}

static void run_unknown(struct ledger_entry *entry)
{
	entry->run = 77;
}

static void paste_unknown(struct ledger_entry *entry)
{
	entry->paste = 77;
}

/* Alone, and in a group, which goes on with what makes sense. */
static void entry_is_refused(void **state)
{
	const struct refused_case *c = *state;
	struct scene scene;
	struct ledger_entry entry;

	scene_open(&scene);
	entry = scene_entry(scene.meter, "A1", 1.38);
	c->spoil(&entry);
	assert_told(ledger_append(scene.ledger, &entry, &error), STATUS_INVALID, c->words);
	assert_done(ledger_begin(scene.ledger, &error));
	scene_add(&scene, "A1", 1.40);
	assert_told(ledger_append(scene.ledger, &entry, &error), STATUS_INVALID, c->words);
	scene_add(&scene, "A1", 1.41);
	assert_done(ledger_commit(scene.ledger, &error));
	assert_near(scene_see(scene.ledger, (struct ledger_query){ .raw_lines = true }).sum, 2.81, 1e-12);
	scene_close(&scene);
}

static void ids_count_up_from_1_in_the_order_of_the_calls(void **state)
{
	struct scene *scene = *state;
	int64_t last = 0;

	assert_int_equal(scene_add(scene, "A1", 1.38), 1);
	assert_done(ledger_begin(scene->ledger, &error));
	for (int i = 2; i <= 20; i++)
		assert_int_equal(scene_add(scene, "A2", 1.38), i);
	assert_done(ledger_commit(scene->ledger, &error));
	assert_int_equal(scene_add(scene, "A1", 1.38), 21);
	assert_done(ledger_last_id(scene->ledger, &last, &error));
	assert_int_equal(last, 21);
}

/* S28: the clock of the machine was set back by two weeks between two readings. */
static void clock_stepped_back_keeps_the_order_of_arrival(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);
	struct seen seen;

	assert_done(ledger_append(scene->ledger, &entry, &error));
	entry.received_us -= INT64_C(14) * 86400 * 1000000;
	entry.shown.value = 1.39;
	assert_done(ledger_append(scene->ledger, &entry, &error));
	seen = scene_see(scene->ledger, (struct ledger_query){ 0 }); /* itself asserts ascending ids */
	assert_int_equal(seen.count, 2);
	assert_near(seen.row.entry.shown.value, 1.39, 0.0);
	seen = scene_see(scene->ledger, (struct ledger_query){ .since_us = SCENE_TIME_US });
	assert_int_equal(seen.count, 1);
	assert_near(seen.row.entry.shown.value, 1.38, 0.0);
}

static void group_is_seen_by_others_only_when_it_is_stored(void **state)
{
	struct scene *scene = *state;
	struct ledger *reader;

	assert_done(ledger_open(&reader, scene->path, LEDGER_READ, &error));
	assert_done(ledger_begin(scene->ledger, &error));
	scene_add(scene, "A1", 1.38);
	scene_add(scene, "A1", 1.39);
	assert_int_equal(scene_see(reader, (struct ledger_query){ 0 }).count, 0);
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 2);
	assert_done(ledger_commit(scene->ledger, &error));
	assert_int_equal(scene_see(reader, (struct ledger_query){ 0 }).count, 2);
	ledger_free(reader);
}

static void group_given_up_leaves_nothing(void **state)
{
	struct scene *scene = *state;

	ledger_rollback(scene->ledger); /* none open: no effect */
	assert_done(ledger_commit(scene->ledger, &error));
	assert_done(ledger_begin(scene->ledger, &error));
	assert_told(ledger_begin(scene->ledger, &error), STATUS_INVALID, "already");
	assert_int_equal(scene_add(scene, "A1", 1.38), 1);
	ledger_rollback(scene->ledger);
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 0);
	assert_int_equal(scene_add(scene, "A1", 1.39), 1); /* the id was void; with it the row of the session */
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 1);
}

static void closing_gives_an_open_group_up(void **state)
{
	struct scene *scene = *state;

	assert_done(ledger_begin(scene->ledger, &error));
	scene_add(scene, "A1", 1.38);
	ledger_free(scene->ledger);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error));
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 0);
}

/* Meters, runs, pastes and events that are added while a group is open share its fate. */
static void group_holds_all_that_is_added(void **state)
{
	struct scene *scene = *state;
	struct ledger_event event = { .at_us = 1, .kind = slice_from("opened"), .text = slice_from("x") };
	int64_t id, at_us;

	assert_done(ledger_begin(scene->ledger, &error));
	scene_meter(scene->ledger, "second meter");
	assert_done(ledger_run_open(scene->ledger, slice_from("r"), slice_from(""), 1, &id, &error));
	assert_done(ledger_paste_add(scene->ledger, slice_from("t"), slice_from("1.38"), 1, &id, &error));
	assert_done(ledger_event_add(scene->ledger, &event, &error));
	ledger_rollback(scene->ledger);
	assert_done(ledger_run_find(scene->ledger, slice_from("r"), &id, &error));
	assert_int_equal(id, 0);
	assert_done(ledger_paste_find(scene->ledger, slice_from("1.38"), &id, &at_us, &error));
	assert_int_equal(id, 0);
}

/* What would be SQL, were it not bound, is kept as the text it is. */
static void hostile_texts_are_texts(void **state)
{
	struct scene *scene = *state;
	static const char drop[] = "'); DROP TABLE readings; --";
	struct ledger_entry entry = scene_entry(scene->meter, drop, 1.38);
	int64_t id;

	entry.sequence = entry.status = entry.raw = slice_from(drop);
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_done(ledger_run_open(scene->ledger, slice_from(drop), slice_from(drop), 1, &id, &error));
	assert_done(ledger_run_find(scene->ledger, slice_from("' OR 1=1 --"), &id, &error));
	assert_int_equal(id, 0);
	assert_string_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).label, drop);
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ .meter = slice_from("x' OR '1'='1") }).count,
	                 0);
}

/* Two boots of one machine: monotonic times of different sessions are told apart. */
static void each_handle_that_adds_has_its_session(void **state)
{
	struct scene *scene = *state;
	sqlite3 *db;
	sqlite3_stmt *statement;

	scene_add(scene, "A1", 1.38);
	scene_add(scene, "A1", 1.38);
	ledger_free(scene->ledger);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error));
	scene_add(scene, "A1", 1.38);
	assert_int_equal(sqlite3_open_v2(scene->path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	sqlite3_prepare_v2(db,
	                   "SELECT (SELECT count(*) FROM sessions), (SELECT group_concat(session) FROM readings), "
	                   "(SELECT min(length(boot)) FROM sessions)",
	                   -1, &statement, NULL);
	assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
	assert_int_equal(sqlite3_column_int(statement, 0), 2);
	assert_string_equal(sqlite3_column_text(statement, 1), "1,1,2");
	assert_int_equal(sqlite3_column_int(statement, 2), 36); /* a UUID, proc(5) */
	sqlite3_finalize(statement);
	sqlite3_close(db);
}

/* Numbers are not rounded on the way. */
static void extreme_numbers_come_back(void **state)
{
	static const double values[] = { 0.0, 5e-324, 1.3330000000000002, -1e300, 1e300, 123456789012345678.0 };
	struct scene *scene = *state;

	for (size_t i = 0; i < sizeof(values) / sizeof(values[0]); i++) {
		struct ledger_entry entry = scene_entry(scene->meter, "A1", values[i]);
		struct seen seen;

		entry.received_us = i == 0 ? INT64_MAX - 1 : -1;
		entry.line = UINT32_MAX;
		assert_done(ledger_append(scene->ledger, &entry, &error));
		seen = scene_see(scene->ledger, (struct ledger_query){ .from_id = entry.id });
		assert_near(seen.row.entry.shown.value, values[i], 0.0);
		assert_int_equal(seen.row.entry.received_us, entry.received_us);
		assert_int_equal(seen.row.entry.line, UINT32_MAX);
	}
}

#define SCENE_TEST(function) cmocka_unit_test_setup_teardown(function, scene_setup, scene_teardown)

#define LENGTH(array)        (sizeof(array) / sizeof((array)[0]))

int main(void)
{
	static struct text_case texts[] = {
		{ "C08 label 01 stays 01", "01", 2, "01" },
		{ "C08 label 73928e05 stays as it is", "73928e05", 8, "73928e05" },
		{ "C08 label 1.30 % stays text", "1.30 %", 6, "1.30 %" },
		{ "label that says null", "NULL", 4, "NULL" },
		{ "accents stay", "caf\xc3\xa9", 5, "caf\xc3\xa9" },
		{ "byte that is no UTF-8 is replaced", "22\xb0", 3, "22\xef\xbf\xbd" },
		{ "broken sequence is replaced byte by byte", "\xe2\x82 A", 4, "\xef\xbf\xbd\xef\xbf\xbd A" },
		{ "NUL is replaced", "A\0B", 3,
		  "A\xef\xbf\xbd"
		  "B" },
		{ "NUL at both ends", "\0A\0", 3,
		  "\xef\xbf\xbd"
		  "A\xef\xbf\xbd" },
	};
	static struct refused_case refused[] = {
		{ "D09 value that is no number", value_nan, "finite" },
		{ "D09 infinite value", value_infinite, "finite" },
		{ "D09 infinite temperature", temp_infinite, "infinite" },
		{ "D09 infinite strength", standard_infinite, "infinite" },
		{ "eighteen decimals", decimals_many, "decimals" },
		{ "negative decimals", decimals_negative, "decimals" },
		{ "unknown role", role_unknown, "role" },
		{ "unknown meter", meter_unknown, "FOREIGN KEY" },
		{ "unknown run", run_unknown, "FOREIGN KEY" },
		{ "unknown paste", paste_unknown, "FOREIGN KEY" },
	};
	static const struct CMUnitTest plain[] = {
		SCENE_TEST(everything_of_a_line_comes_back),
		SCENE_TEST(what_was_not_told_comes_back_as_not_told),
		SCENE_TEST(line_that_gave_no_reading_is_kept),
		SCENE_TEST(long_line_comes_back_whole),
		SCENE_TEST(flags_of_later_stages_are_not_stored),
		SCENE_TEST(ids_count_up_from_1_in_the_order_of_the_calls),
		SCENE_TEST(clock_stepped_back_keeps_the_order_of_arrival),
		SCENE_TEST(group_is_seen_by_others_only_when_it_is_stored),
		SCENE_TEST(group_given_up_leaves_nothing),
		SCENE_TEST(closing_gives_an_open_group_up),
		SCENE_TEST(group_holds_all_that_is_added),
		SCENE_TEST(hostile_texts_are_texts),
		SCENE_TEST(each_handle_that_adds_has_its_session),
		SCENE_TEST(extreme_numbers_come_back),
	};
	struct CMUnitTest tests[LENGTH(plain) + LENGTH(texts) + LENGTH(refused)];
	size_t count = 0;

	for (size_t i = 0; i < LENGTH(plain); i++)
		tests[count++] = plain[i];
	for (size_t i = 0; i < LENGTH(texts); i++)
		tests[count++] = (struct CMUnitTest){ texts[i].name, label_is_kept_as, NULL, NULL, &texts[i] };
	for (size_t i = 0; i < LENGTH(refused); i++)
		tests[count++] = (struct CMUnitTest){ refused[i].name, entry_is_refused, NULL, NULL, &refused[i] };
	return cmocka_run_group_tests(tests, NULL, NULL);
}
