/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading a ledger: which lines, in which order, with which amendments; and what reading costs those who write. */
#include <sqlite3.h>

#include "ledger_scene.h"

#include "ledger_amend.h"
#include "ledger_paste.h"
#include "ledger_run.h"

#define HOUR_US INT64_C(3600000000)

/* 40 lines, an hour apart: odd ids of the first meter, even ones of the second; 11 to 20 in a run; each tenth unread. */
static void fill(struct scene *scene, int64_t *run)
{
	int64_t second = scene_meter(scene->ledger, "second meter");

	assert_done(ledger_run_open(scene->ledger, slice_from("march"), slice_from("m.csv"), 1, run, &error));
	assert_done(ledger_begin(scene->ledger, &error));
	for (int64_t i = 1; i <= 40; i++) {
		struct ledger_entry entry = scene_entry(i % 2 ? scene->meter : second, "A1", (double)i);

		entry.received_us = SCENE_TIME_US + i * HOUR_US;
		entry.run = i >= 11 && i <= 20 ? *run : 0;
		if (i % 10 == 0)
			entry.role = LEDGER_RAW;
		assert_done(ledger_append(scene->ledger, &entry, &error));
	}
	assert_done(ledger_commit(scene->ledger, &error));
}

struct query_case {
	const char *name;
	struct ledger_query query; /* run is 1 for the run's id; times in hours after the start */
	size_t count;
	int64_t first, last; /* ids, counted by hand from fill()'s description */
};

static void query_gives(void **state)
{
	const struct query_case *c = *state;
	struct ledger_query query = c->query;
	struct scene scene;
	struct seen seen;

	scene_open(&scene);
	fill(&scene, &query.run);
	query.run = c->query.run ? query.run : 0;
	query.since_us = query.since_us ? SCENE_TIME_US + query.since_us * HOUR_US : 0;
	query.until_us = query.until_us ? SCENE_TIME_US + query.until_us * HOUR_US : 0;
	seen = scene_see(scene.ledger, query);
	assert_int_equal(seen.count, c->count);
	assert_int_equal(seen.first_id, c->first);
	assert_int_equal(seen.count ? seen.row.entry.id : 0, c->last);
	scene_close(&scene);
}

/*
 * Lines received at these hours, one after the other, and every range of hours asked for: against what looking at each of
 * them gives. The clock is set back three times, once to before everything.
 */
static void ranges_of_time_over_a_clock_set_back(void **state)
{
	static const int hours[] = { 5, 6, 6, 7, 9, 4, 5, 8, 8, 12, 1, 2, 6, 20, 6, 6, 7, 30 };
	enum { LINES = sizeof(hours) / sizeof(hours[0]) };
	struct scene *scene = *state;

	for (int i = 0; i < LINES; i++) {
		struct ledger_entry entry = scene_entry(scene->meter, "A1", i);

		entry.received_us = SCENE_TIME_US + hours[i] * HOUR_US;
		assert_done(ledger_append(scene->ledger, &entry, &error));
	}
	for (int since = 0; since < 32; since++) {
		for (int until = since; until < 32; until++) {
			struct ledger_query query = { .since_us = SCENE_TIME_US + since * HOUR_US,
				                      .until_us = SCENE_TIME_US + until * HOUR_US };
			struct seen seen = scene_see(scene->ledger, query);
			double sum = 0;
			size_t count = 0;

			for (int i = 0; i < LINES; i++)
				if (hours[i] >= since && hours[i] < until) {
					sum += i;
					count++;
				}
			assert_int_equal(seen.count, count);
			assert_near(seen.sum, sum, 0.0);
		}
	}
}

/* A clock that goes back with every line: slower, and just as right. */
static void ranges_of_time_over_a_clock_running_backwards(void **state)
{
	struct scene *scene = *state;

	assert_done(ledger_begin(scene->ledger, &error));
	for (int i = 0; i < 3000; i++) {
		struct ledger_entry entry = scene_entry(scene->meter, "A1", i);

		entry.received_us = SCENE_TIME_US - i;
		assert_done(ledger_append(scene->ledger, &entry, &error));
	}
	assert_done(ledger_commit(scene->ledger, &error));
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ .until_us = SCENE_TIME_US - 2989 }).count, 10);
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ .since_us = SCENE_TIME_US - 9 }).count, 10);
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ .since_us = SCENE_TIME_US + 1 }).count, 0);
}

/* Over many batches each line comes once, and in order (see() asserts that). */
static void long_ledgers_come_whole(void **state)
{
	struct scene *scene = *state;
	struct seen seen;

	assert_done(ledger_begin(scene->ledger, &error));
	for (int i = 1; i <= 5000; i++)
		scene_add(scene, "A1", i);
	assert_done(ledger_commit(scene->ledger, &error));
	seen = scene_see(scene->ledger, (struct ledger_query){ 0 });
	assert_int_equal(seen.count, 5000);
	assert_near(seen.sum, 5000.0 * 5001.0 / 2.0, 0.0);
	assert_int_equal(seen.row.entry.id, 5000);
}

struct growing {
	struct scene *scene;
	size_t count;
};

static enum status add_while_reading(void *context, const struct ledger_row *row, struct error *error)
{
	struct growing *growing = context;

	(void)row;
	(void)error;
	growing->count++;
	scene_add(growing->scene, "B1", 1.0); /* the same handle */
	return STATUS_OK;
}

/* A reader that adds a line for each it sees would else never end. */
static void lines_added_meanwhile_are_not_seen(void **state)
{
	struct scene *scene = *state;
	struct growing growing = { scene, 0 };

	scene_add(scene, "A1", 1.0);
	scene_add(scene, "A1", 1.0);
	assert_done(ledger_each(scene->ledger, &(struct ledger_query){ 0 }, add_while_reading, &growing, &error));
	assert_int_equal(growing.count, 2);
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 4);
}

static enum status stop_at_second(void *context, const struct ledger_row *row, struct error *error)
{
	++*(int *)context;
	return row->entry.id == 2 ? error_set(error, STATUS_REFUSED, "enough") : STATUS_OK;
}

static void reading_stops_where_the_caller_says(void **state)
{
	struct scene *scene = *state;
	int count = 0;

	for (int i = 0; i < 5; i++)
		scene_add(scene, "A1", 1.0);
	assert_told(ledger_each(scene->ledger, &(struct ledger_query){ 0 }, stop_at_second, &count, &error),
	            STATUS_REFUSED, "enough");
	assert_int_equal(count, 2);
}

static void amend(struct scene *scene, int64_t reading, enum amendment_action action, const char *label, int role)
{
	struct amendment amendment = {
		.reading = reading,
		.at_us = SCENE_TIME_US,
		.action = action,
		.label = slice_from(label),
		.role = role,
		.reason = action == AMENDMENT_MOVE ? slice_from("wrong cup") : slice_from("spilt"),
	};

	assert_done(ledger_amend_append(scene->ledger, &amendment, &error));
}

/* In one pass over all of them: what is of one reading does not leak into the next. */
static void amendments_are_applied_to_their_reading_alone(void **state)
{
	struct scene *scene = *state;
	struct seen seen;

	for (int i = 1; i <= 4; i++)
		scene_add(scene, "A1", i);
	amend(scene, 3, AMENDMENT_MOVE, "B2", READING_SAMPLE);
	amend(scene, 1, AMENDMENT_EXCLUDE, "", 0);
	amend(scene, 3, AMENDMENT_EXCLUDE, "", 0);
	amend(scene, 2, AMENDMENT_MOVE, "", READING_ZERO);
	seen = scene_see(scene->ledger, (struct ledger_query){ .to_id = 1 });
	assert_string_equal(seen.label, "A1");
	assert_string_equal(seen.note, "spilt");
	assert_int_equal(seen.row.flags, READING_EXCLUDED);
	assert_false(seen.row.moved);
	seen = scene_see(scene->ledger, (struct ledger_query){ .to_id = 2 });
	assert_string_equal(seen.label, "");
	assert_string_equal(seen.note, "wrong cup");
	assert_int_equal(seen.row.role, READING_ZERO);
	assert_int_equal(seen.row.entry.role, READING_SAMPLE); /* as it came */
	assert_int_equal(seen.row.flags, 0);
	seen = scene_see(scene->ledger, (struct ledger_query){ .to_id = 3 });
	assert_string_equal(seen.label, "B2");
	assert_string_equal(seen.note, "spilt; wrong cup");
	assert_int_equal(seen.row.flags, READING_EXCLUDED);
	assert_true(seen.row.moved);
	assert_int_equal(seen.row.entry.label.len, 2); /* as it came */
	seen = scene_see(scene->ledger, (struct ledger_query){ 0 });
	assert_int_equal(seen.count, 4);
	assert_string_equal(seen.label, "A1");
	assert_string_equal(seen.note, "");
	assert_int_equal(seen.row.flags, 0);
	/* lines left out of the query have amendments too */
	assert_string_equal(scene_see(scene->ledger, (struct ledger_query){ .from_id = 4 }).note, "");
}

static enum status exclude_next(void *context, const struct ledger_row *row, struct error *error)
{
	struct growing *growing = context;

	(void)error;
	if (row->entry.id == 1)
		amend(growing->scene, 2000, AMENDMENT_EXCLUDE, "", 0);
	growing->count += row->flags & READING_EXCLUDED ? 1 : 0;
	return STATUS_OK;
}

/* A report sees one state of the ledger, though it does not keep a transaction open. */
static void amendments_made_meanwhile_are_not_seen(void **state)
{
	struct scene *scene = *state;
	struct growing growing = { scene, 0 };

	assert_done(ledger_begin(scene->ledger, &error));
	for (int i = 1; i <= 2000; i++)
		scene_add(scene, "A1", i);
	assert_done(ledger_commit(scene->ledger, &error));
	scene_add(scene, "A1", 1);
	amend(scene, 2001, AMENDMENT_EXCLUDE, "", 0);
	assert_done(ledger_each(scene->ledger, &(struct ledger_query){ 0 }, exclude_next, &growing, &error));
	assert_int_equal(growing.count, 1);
}

static void run_is_loaded_with_readings_and_meters(void **state)
{
	struct scene *scene = *state;
	struct run *run = run_new();
	struct meter first = meter_standard();
	struct ledger_query query = { 0 };

	fill(scene, &query.run);
	first.name = slice_from("given before");
	run->meters = &first;
	run->meter_count = 1;
	amend(scene, 12, AMENDMENT_EXCLUDE, "", 0);
	amend(scene, 13, AMENDMENT_MOVE, "B1", READING_SAMPLE);
	assert_done(ledger_load_run(scene->ledger, &query, run, &error));
	ledger_free(scene->ledger); /* nothing of the run lies in the ledger's memory */
	scene->ledger = NULL;
	assert_int_equal(run->reading_count, 9); /* 11 to 19; 20 gave no reading */
	assert_int_equal(run->meter_count, 3);
	assert_string_equal(run->meters[0].name.text, "given before");
	assert_string_equal(run->meters[1].name.text, "bench meter"); /* in the order of first use */
	assert_string_equal(run->meters[2].name.text, "second meter");
	assert_near(run->meters[1].scale_factor, 0.85, 0.0);
	assert_int_equal(run->meters[1].unit, UNIT_TDS_PERCENT);
	assert_int_equal(reading_id(&run->readings[0]), 11);
	assert_int_equal(run->readings[0].meter, 1);
	assert_int_equal(run->readings[1].meter, 2);
	assert_int_equal(run->readings[0].line->taken_us, SCENE_TIME_US + 11 * HOUR_US);
	assert_string_equal(run->readings[0].line->raw.text, "TDS 1.38 %");
	assert_int_equal(run->readings[0].brew, READING_NO_BREW);
	assert_string_equal(run->readings[0].line->file, scene->path);
	assert_int_equal(run->readings[0].line->number, 11);
	assert_int_equal(run->readings[0].flags, 0);
	assert_int_equal(run->readings[1].flags, READING_EXCLUDED);
	assert_string_equal(run->readings[1].line->note.text, "spilt");
	assert_string_equal(run->readings[2].line->label.text, "B1");
	assert_string_equal(run->readings[2].line->note.text, "wrong cup");
	assert_near(run->readings[8].value, 19.0, 0.0);
	run_free(run);
}

static void pasted_reading_is_placed_in_its_text(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);
	struct run *run = run_new();

	assert_done(ledger_paste_add(scene->ledger, slice_from("tray1.txt"), slice_from("a"), 1, &entry.paste, &error));
	entry.line = 31;
	entry.column = 4;
	assert_done(ledger_append(scene->ledger, &entry, &error));
	entry.taken_us = SCENE_TIME_US - 77;
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_done(ledger_paste_add(scene->ledger, slice_from("tray2.txt"), slice_from("b"), 1, &entry.paste, &error));
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_done(ledger_load_run(scene->ledger, &(struct ledger_query){ 0 }, run, &error));
	assert_string_equal(run->readings[0].line->file, "tray1.txt");
	assert_string_equal(run->readings[1].line->file, "tray1.txt");
	assert_string_equal(run->readings[2].line->file, "tray2.txt");
	assert_int_equal(run->readings[0].line->number, 31);
	assert_int_equal(run->readings[0].column, 4);
	assert_int_equal(run->readings[0].line->taken_us,
	                 READING_NO_TIME); /* when it was pasted is not when it was read */
	assert_int_equal(run->readings[1].line->taken_us, SCENE_TIME_US - 77);
	run_free(run);
}

/* S12: bytes that stood in the port's buffer before it was opened came at a time that nobody knows. */
static void stale_reading_has_no_time(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);
	struct run *run = run_new();

	entry.flags = READING_STALE;
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_done(ledger_load_run(scene->ledger, &(struct ledger_query){ 0 }, run, &error));
	assert_int_equal(run->readings[0].line->taken_us, READING_NO_TIME);
	assert_int_equal(run->readings[0].flags, READING_STALE);
	run_free(run);
}

static void loading_twice_adds_behind(void **state)
{
	struct scene *scene = *state;
	struct run *run = run_new();

	scene_add(scene, "A1", 1.38);
	assert_done(ledger_load_run(scene->ledger, &(struct ledger_query){ 0 }, run, &error));
	assert_done(ledger_load_run(scene->ledger, &(struct ledger_query){ .from_id = 2 }, run, &error));
	assert_int_equal(run->reading_count, 1);
	assert_int_equal(run->meter_count, 1);
	scene_add(scene, "A1", 1.39);
	assert_done(ledger_load_run(scene->ledger, &(struct ledger_query){ .from_id = 2 }, run, &error));
	assert_int_equal(run->reading_count, 2);
	run_free(run);
}

struct slow {
	struct scene *scene;
	char wal[320];
	long long largest;
	size_t count;
};

/* What a slow report meets: ten thousand lines come in while it looks at one. */
static enum status look_slowly(void *context, const struct ledger_row *row, struct error *not_needed)
{
	struct slow *slow = context;

	(void)row;
	(void)not_needed;
	slow->count++;
	for (int group = 0; group < 10; group++) {
		long long size;

		assert_done(ledger_begin(slow->scene->ledger, &error));
		for (int i = 0; i < 1000; i++)
			scene_add(slow->scene, "A1", 1.38);
		assert_done(ledger_commit(slow->scene->ledger, &error));
		size = file_size(slow->wal);
		slow->largest = size > slow->largest ? size : slow->largest;
	}
	return STATUS_OK;
}

/* D05: a reader that kept its statement open would keep the side file growing to gigabytes. */
static void side_file_stays_small_under_a_slow_report(void **state)
{
	struct scene *scene = *state;
	struct slow slow = { .scene = scene };
	struct ledger *reader;
	int64_t last = 0;

	for (int i = 0; i < 10; i++)
		scene_add(scene, "A1", 1.38);
	snprintf(slow.wal, sizeof(slow.wal), "%s-wal", scene->path);
	assert_done(ledger_open(&reader, scene->path, LEDGER_READ, &error));
	assert_done(ledger_each(reader, &(struct ledger_query){ 0 }, look_slowly, &slow, &error));
	assert_int_equal(slow.count, 10);
	assert_done(ledger_last_id(scene->ledger, &last, &error));
	assert_int_equal(last, 100010);
	assert_in_range(slow.largest, 1, 16 << 20);
	ledger_free(reader);
}

/* count lines of 2,500 bytes in one group. */
static void add_long_lines(struct scene *scene, int count)
{
	static char line[2500];
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);

	memset(line, 'x', sizeof(line));
	entry.raw = (struct slice){ line, sizeof(line) };
	assert_done(ledger_begin(scene->ledger, &error));
	for (int i = 0; i < count; i++)
		assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_done(ledger_commit(scene->ledger, &error));
}

static void side_file_is_cut_after_a_large_group(void **state)
{
	struct scene *scene = *state;
	char wal[320];

	snprintf(wal, sizeof(wal), "%s-wal", scene->path);
	add_long_lines(scene, 6000);
	assert_in_range(file_size(wal), 0, 4 << 20);
	ledger_free(scene->ledger); /* of a size at which every page is looked at when it is opened */
	assert_in_range(file_size(scene->path), LEDGER_SMALL_BYTES, LEDGER_LARGE_BYTES);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error));
	add_long_lines(scene, 10000);
	ledger_free(scene->ledger); /* and of one at which the newest lines are */
	assert_true(file_size(scene->path) > LEDGER_LARGE_BYTES);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error));
	assert_int_equal(scene_add(scene, "A1", 1.38), 16001);
}

/* From then on commits write over it, and do not wait for its new length as well. */
static void side_file_is_lengthened_for_one_who_writes_much(void **state)
{
	struct scene *scene = *state;
	char wal[320];

	snprintf(wal, sizeof(wal), "%s-wal", scene->path);
	for (int i = 0; i < 5; i++)
		scene_add(scene, "A1", 1.0);
	assert_in_range(file_size(wal), 1, 1 << 20);
	for (int i = 0; i < 20; i++)
		scene_add(scene, "A1", 1.0);
	assert_int_equal(file_size(wal), 4 << 20);
	for (int i = 0; i < 600; i++) /* until it is taken in, and over its beginning again */
		scene_add(scene, "A1", 1.0);
	assert_int_equal(file_size(wal), 4 << 20);
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 625);
	assert_done(ledger_check(scene->ledger, LEDGER_CHECK_ALL, &error));
}

/* The statement of another program that is never finished. */
static void side_file_of_a_foreign_reader_is_cut_when_it_goes(void **state)
{
	struct scene *scene = *state;
	sqlite3_stmt *statement;
	char wal[320];
	sqlite3 *db;

	snprintf(wal, sizeof(wal), "%s-wal", scene->path);
	scene_add(scene, "A1", 1.38);
	assert_int_equal(sqlite3_open(scene->path, &db), SQLITE_OK);
	sqlite3_prepare_v2(db, "SELECT id FROM readings", -1, &statement, NULL);
	assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
	for (int group = 0; group < 10; group++)
		add_long_lines(scene, 500);
	assert_true(file_size(wal) > 8 << 20); /* nothing else to be done while it reads */
	sqlite3_finalize(statement);
	scene_add(scene, "A1", 1.38);
	assert_in_range(file_size(wal), 0, 4 << 20);
	sqlite3_close(db);
}

#define SCENE_TEST(function) cmocka_unit_test_setup_teardown(function, scene_setup, scene_teardown)

#define LENGTH(array)        (sizeof(array) / sizeof((array)[0]))

int main(void)
{
	struct query_case queries[] = {
		{ "all readings", { 0 }, 36, 1, 39 },
		{ "all lines", { .raw_lines = true }, 40, 1, 40 },
		{ "a run", { .run = 1 }, 9, 11, 19 },
		{ "a run's lines", { .run = 1, .raw_lines = true }, 10, 11, 20 },
		{ "a run from an id on", { .run = 1, .from_id = 15 }, 5, 15, 19 },
		{ "a run up to an id", { .run = 1, .to_id = 12 }, 2, 11, 12 },
		{ "a run and one meter", { .run = 1, .meter = SLICE_OF("second meter") }, 4, 12, 18 },
		{ "a run within a time", { .run = 1, .since_us = 12, .until_us = 14 }, 2, 12, 13 },
		{ "one meter", { .meter = SLICE_OF("second meter") }, 16, 2, 38 },
		{ "one meter's lines", { .meter = SLICE_OF("second meter"), .raw_lines = true }, 20, 2, 40 },
		{ "no such meter", { .meter = SLICE_OF("third meter") }, 0, 0, 0 },
		{ "since", { .since_us = 35 }, 5, 35, 39 },
		{ "until is not included", { .until_us = 3 }, 2, 1, 2 },
		{ "since and until", { .since_us = 5, .until_us = 8 }, 3, 5, 7 },
		{ "one meter since", { .meter = SLICE_OF("second meter"), .since_us = 35 }, 2, 36, 38 },
		{ "one meter since, from an id on",
		  { .meter = SLICE_OF("second meter"), .since_us = 35, .from_id = 37 },
		  1,
		  38,
		  38 },
		{ "nothing so late", { .since_us = 100 }, 0, 0, 0 },
		{ "from an id on", { .from_id = 38 }, 2, 38, 39 },
		{ "up to an id", { .to_id = 3 }, 3, 1, 3 },
		{ "one id", { .from_id = 7, .to_id = 7 }, 1, 7, 7 },
		{ "an unread line by its id", { .from_id = 10, .to_id = 10 }, 0, 0, 0 },
		{ "after the end", { .from_id = 41 }, 0, 0, 0 },
		{ "backwards", { .from_id = 9, .to_id = 8 }, 0, 0, 0 },
	};
	static const struct CMUnitTest plain[] = {
		SCENE_TEST(ranges_of_time_over_a_clock_set_back),
		SCENE_TEST(ranges_of_time_over_a_clock_running_backwards),
		SCENE_TEST(long_ledgers_come_whole),
		SCENE_TEST(lines_added_meanwhile_are_not_seen),
		SCENE_TEST(reading_stops_where_the_caller_says),
		SCENE_TEST(amendments_are_applied_to_their_reading_alone),
		SCENE_TEST(amendments_made_meanwhile_are_not_seen),
		SCENE_TEST(run_is_loaded_with_readings_and_meters),
		SCENE_TEST(pasted_reading_is_placed_in_its_text),
		SCENE_TEST(stale_reading_has_no_time),
		SCENE_TEST(loading_twice_adds_behind),
		SCENE_TEST(side_file_stays_small_under_a_slow_report),
		SCENE_TEST(side_file_is_cut_after_a_large_group),
		SCENE_TEST(side_file_is_lengthened_for_one_who_writes_much),
		SCENE_TEST(side_file_of_a_foreign_reader_is_cut_when_it_goes),
	};
	struct CMUnitTest tests[LENGTH(plain) + LENGTH(queries)];
	size_t count = 0;

	for (size_t i = 0; i < LENGTH(plain); i++)
		tests[count++] = plain[i];
	for (size_t i = 0; i < LENGTH(queries); i++)
		tests[count++] = (struct CMUnitTest){ queries[i].name, query_gives, NULL, NULL, &queries[i] };
	return cmocka_run_group_tests(tests, NULL, NULL);
}
