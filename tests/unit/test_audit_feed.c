/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the lines of a ledger to an audit, and what earlier runs in it say. All of it is invented. */
#include "ledger_scene.h"

#include "audit.h"
#include "audit_feed.h"
#include "audit_history.h"
#include "ledger_amend.h"
#include "ledger_event.h"
#include "ledger_run.h"

#define SECOND_US INT64_C(1000000)
#define DAY_US    (86400 * SECOND_US)

static struct audit *audit_start(void)
{
	const struct audit_query query = audit_query_standard();
	struct audit *audit = audit_new(&query);

	assert_non_null(audit);
	return audit;
}

static int64_t add(struct scene *scene, int64_t meter, enum reading_role role, const char *label, double value,
                   int64_t received_us, int64_t monotonic_us)
{
	struct ledger_entry entry = scene_entry(meter, label, value);

	entry.role = (uint8_t)role;
	entry.received_us = received_us;
	entry.monotonic_us = monotonic_us;
	assert_done(ledger_append(scene->ledger, &entry, &error));
	return entry.id;
}

static bool told(const struct faults *faults, const char *words)
{
	for (size_t i = 0; i < faults->count; i++)
		if (strstr(faults->items[i].text, words))
			return true;
	for (size_t i = 0; i < faults->count; i++)
		print_message("# %s\n", faults->items[i].text);
	return false;
}

static void feed(struct scene *scene, struct audit *audit, const struct audit_feed_query *query, struct faults *faults)
{
	assert_done(audit_feed_ledger(audit, scene->ledger, query, faults, &error));
	assert_done(audit_finish(audit, &error));
}

/* Two meters, an excluded reading, one that was moved to another cup: as amended, and each to its meter. */
static void lines_go_to_their_meters_as_amended(void **state)
{
	const struct audit_feed_query query = { .since_us = 0 };
	struct scene *scene = *state;
	struct audit *audit = audit_start();
	struct faults faults = FAULTS_INIT;
	int64_t other = scene_meter(scene->ledger, "other meter"), bad, astray;
	struct amendment exclusion = { .at_us = SCENE_TIME_US,
		                       .action = AMENDMENT_EXCLUDE,
		                       .reason = SLICE_OF("bubble") };
	struct amendment move = { .at_us = SCENE_TIME_US,
		                  .action = AMENDMENT_MOVE,
		                  .label = SLICE_OF("A1"),
		                  .role = READING_SAMPLE,
		                  .reason = SLICE_OF("wrong cup") };

	add(scene, scene->meter, READING_ZERO, "", 0.01, SCENE_TIME_US, 1 * SECOND_US);
	add(scene, scene->meter, READING_SAMPLE, "A1", 1.40, SCENE_TIME_US + 1, 2 * SECOND_US);
	add(scene, other, READING_SAMPLE, "A1", 1.44, SCENE_TIME_US + 2, 3 * SECOND_US);
	bad = add(scene, scene->meter, READING_SAMPLE, "A1", 1.90, SCENE_TIME_US + 3, 4 * SECOND_US);
	astray = add(scene, scene->meter, READING_SAMPLE, "B1", 1.42, SCENE_TIME_US + 4, 5 * SECOND_US);
	exclusion.reading = bad;
	assert_done(ledger_amend_append(scene->ledger, &exclusion, &error));
	move.reading = astray;
	assert_done(ledger_amend_append(scene->ledger, &move, &error));
	feed(scene, audit, &query, &faults);
	assert_int_equal(audit->meter_count, 2);
	assert_int_equal(audit->meters[0].counts.readings, 4);
	assert_int_equal(audit->meters[0].counts.excluded, 1);
	assert_int_equal(audit->meters[1].counts.readings, 1);
	assert_near(audit->meters[0].s_r, sqrt(0.0002), 1e-9);
	assert_int_equal(faults.count, 0);
	audit_free(audit);
	faults_release(&faults);
}

static void one_meter_since_a_day(void **state)
{
	const struct audit_feed_query query = { .meter = SLICE_OF("bench meter"),
		                                .since_us = SCENE_TIME_US + 10 * DAY_US };
	struct scene *scene = *state;
	struct audit *audit = audit_start();
	struct faults faults = FAULTS_INIT;
	int64_t other = scene_meter(scene->ledger, "other meter");

	for (int day = 0; day < 20; day++) {
		add(scene, scene->meter, READING_SAMPLE, "A1", 1.40, SCENE_TIME_US + day * DAY_US,
		    (day * 2 + 1) * SECOND_US);
		add(scene, other, READING_SAMPLE, "A1", 1.40, SCENE_TIME_US + day * DAY_US, (day * 2 + 2) * SECOND_US);
	}
	feed(scene, audit, &query, &faults);
	assert_int_equal(audit->meter_count, 1);
	assert_int_equal(audit->meters[0].counts.readings, 10);
	audit_free(audit);
	faults_release(&faults);
}

static void a_meter_that_is_not_there(void **state)
{
	const struct audit_feed_query query = { .meter = SLICE_OF("third") };
	struct scene *scene = *state;
	struct audit *audit = audit_start();
	struct faults faults = FAULTS_INIT;

	scene_meter(scene->ledger, "other meter");
	assert_told(audit_feed_ledger(audit, scene->ledger, &query, &faults, &error), STATUS_INVALID,
	            "there are \"bench meter\", \"other meter\"");
	audit_free(audit);
	faults_release(&faults);
}

static void an_empty_ledger(void **state)
{
	const struct audit_feed_query query = { .since_us = 0 };
	struct scene *scene = *state;
	struct audit *audit = audit_start();
	struct faults faults = FAULTS_INIT;

	feed(scene, audit, &query, &faults);
	assert_int_equal(audit->meter_count, 1);
	assert_int_equal(audit->meters[0].counts.readings, 0);
	audit_free(audit);
	faults_release(&faults);
}

/* The clock that nobody sets says two seconds, the other one three hours less: told, with the reading. */
static void a_clock_that_was_set_back(void **state)
{
	const struct audit_feed_query query = { .since_us = 0 };
	struct scene *scene = *state;
	struct audit *audit = audit_start();
	struct faults faults = FAULTS_INIT;

	add(scene, scene->meter, READING_SAMPLE, "A1", 1.40, SCENE_TIME_US, 1 * SECOND_US);
	add(scene, scene->meter, READING_SAMPLE, "A1", 1.42, SCENE_TIME_US - 3 * 3600 * SECOND_US, 3 * SECOND_US);
	feed(scene, audit, &query, &faults);
	assert_true(told(&faults, "the clock was set back by 10802 s before reading 2"));
	assert_int_equal(audit->meters[0].sessions_seen, 2);
	audit_free(audit);
	faults_release(&faults);
}

/* A restart begins the steady clock anew, sleep stops it: neither is the clock's fault. */
static void a_restart_and_a_sleep_are_no_steps(void **state)
{
	const struct audit_feed_query query = { .since_us = 0 };
	struct scene *scene = *state;
	struct audit *audit = audit_start();
	struct faults faults = FAULTS_INIT;

	add(scene, scene->meter, READING_SAMPLE, "A1", 1.40, SCENE_TIME_US, 90000 * SECOND_US);
	add(scene, scene->meter, READING_SAMPLE, "A1", 1.40, SCENE_TIME_US + 60 * SECOND_US, 5 * SECOND_US);
	add(scene, scene->meter, READING_SAMPLE, "A1", 1.40, SCENE_TIME_US + 7200 * SECOND_US, 8 * SECOND_US);
	feed(scene, audit, &query, &faults);
	assert_int_equal(faults.count, 0);
	audit_free(audit);
	faults_release(&faults);
}

static void many_steps_are_told_in_short(void **state)
{
	const struct audit_feed_query query = { .since_us = 0 };
	struct scene *scene = *state;
	struct audit *audit = audit_start();
	struct faults faults = FAULTS_INIT;

	for (int i = 0; i < 26; i++)
		add(scene, scene->meter, READING_SAMPLE, "A1", 1.40, SCENE_TIME_US - i * 60 * SECOND_US,
		    (i + 1) * SECOND_US);
	feed(scene, audit, &query, &faults);
	assert_int_equal(faults.count, 11);
	assert_true(told(&faults, "and 15 times more"));
	audit_free(audit);
	faults_release(&faults);
}

static void steps_that_the_station_noted(void **state)
{
	const struct audit_feed_query query = { .since_us = 0 };
	struct scene *scene = *state;
	struct audit *audit = audit_start();
	struct faults faults = FAULTS_INIT;
	struct ledger_event event = { .at_us = SCENE_TIME_US,
		                      .kind = SLICE_OF("clock step"),
		                      .text = SLICE_OF("+3 s") };

	add(scene, scene->meter, READING_SAMPLE, "A1", 1.40, SCENE_TIME_US, 1 * SECOND_US);
	assert_done(ledger_event_add(scene->ledger, &event, &error));
	event.at_us += DAY_US;
	assert_done(ledger_event_add(scene->ledger, &event, &error));
	feed(scene, audit, &query, &faults);
	assert_true(told(&faults, "the computer's clock was set 2 times while readings were taken, from 2026-03-01"));
	assert_false(faults_any(&faults)); /* worth knowing, no more */
	audit_free(audit);
	faults_release(&faults);
}

static void times_that_cannot_be(void **state)
{
	const struct audit_feed_query query = { .since_us = 0 };
	struct scene *scene = *state;
	struct audit *audit = audit_start();
	struct faults faults = FAULTS_INIT;

	add(scene, scene->meter, READING_SAMPLE, "A1", 1.40, 600 * SECOND_US, 1 * SECOND_US);
	add(scene, scene->meter, READING_SAMPLE, "A1", 1.42, 601 * SECOND_US, 2 * SECOND_US);
	add(scene, scene->meter, READING_SAMPLE, "A1", 1.42, INT64_MAX - 1, 3 * SECOND_US);
	feed(scene, audit, &query, &faults);
	assert_true(told(&faults, "2 readings are dated before 2000, the first is reading 1"));
	assert_int_equal(audit->meters[0].counts.readings, 3);
	audit_free(audit);
	faults_release(&faults);
}

/* -- history ----------------------------------------------------------------------------------- */

static void manifest_write(const struct scene *scene, char *path, size_t size, const char *name, const char *text)
{
	FILE *file;

	snprintf(path, size, "%s/%s", scene->folder, name);
	file = fopen(path, "w");
	assert_non_null(file);
	fputs(text, file);
	fclose(file);
}

#define HEAD "brew,treatment,dose_g,water_g,beverage_g,sample_type,method\n"

/* Each brew 20 g to 300 g: a hundredth of TDS is 0.15 points. */
static int64_t run_add(struct scene *scene, const char *name, const char *text, const double *tds, size_t brews)
{
	char path[400], label[8];
	int64_t run;

	manifest_write(scene, path, sizeof(path), name, text);
	assert_done(ledger_run_open(scene->ledger, slice_from(name), slice_from(path), SCENE_TIME_US, &run, &error));
	for (size_t i = 0; i < brews; i++) {
		struct ledger_entry entry;

		snprintf(label, sizeof(label), "%c%zu", i < brews / 2 ? 'A' : 'B', i % (brews / 2) + 1);
		entry = scene_entry(scene->meter, label, tds[i]);
		entry.run = run;
		assert_done(ledger_append(scene->ledger, &entry, &error));
		assert_done(ledger_append(scene->ledger, &entry, &error));
	}
	return run;
}

#define FOUR(method)                                                                      \
	HEAD "A1,one,20,330,300,filter," method "\nA2,one,20,330,300,filter," method "\n" \
	     "B1,two,20,330,300,filter," method "\nB2,two,20,330,300,filter," method "\n"

/*
 * Within treatments, in points: run 1: 0.02 % TDS apart: 0.3, squares 0.045 each on 1 + 1; run 2: 0.04 and 0: 0.6 and 0,
 * squares 0.18. Pooled: √((0.09 + 0.18)/4) = 0.259808.
 */
static void earlier_runs_are_pooled(void **state)
{
	static const double first[] = { 1.40, 1.42, 1.50, 1.52 }, second[] = { 1.40, 1.44, 1.50, 1.50 };
	static const double third[] = { 1.40, 1.80, 1.50, 1.90 };
	struct history_query query = { .method = METHOD_PERCOLATION };
	struct scene *scene = *state;
	struct settings settings;
	struct history history;
	char gone[400], words[200];

	settings_init(&settings);
	run_add(scene, "first.csv", FOUR("percolation"), first, 4);
	run_add(scene, "second.csv", FOUR("percolation"), second, 4);
	run_add(scene, "steeped.csv", FOUR("immersion"), third, 4); /* of another method: not pooled */
	run_add(scene, "gone.csv", FOUR("percolation"), third, 4);
	snprintf(gone, sizeof(gone), "%s/gone.csv", scene->folder);
	unlink(gone);
	assert_done(audit_history(&history, scene->ledger, &query, &settings, &error));
	assert_int_equal(history.runs, 2);
	assert_int_equal(history.brews, 8);
	assert_int_equal(history.unreadable, 1);
	assert_near(history.df, 4, 0);
	assert_near(history.s_brew, 0.259808, 2e-6);
	assert_near(history.ratio, sqrt(0.09) / sqrt(0.045), 1e-6);
	assert_near(history.s_r, 0, 1e-12);
	assert_string_equal(history_words(words, sizeof(words), &history, "bench.ledger"),
	                    "from 2 earlier runs with 8 brews in bench.ledger");
	/* the run at hand is not its own history */
	snprintf(gone, sizeof(gone), "%s/second.csv", scene->folder);
	query.except = gone;
	assert_done(audit_history(&history, scene->ledger, &query, &settings, &error));
	assert_int_equal(history.runs, 1);
	assert_near(history.s_brew, sqrt(0.045), 2e-6);
	assert_true(history_apply(&settings, &history));
	assert_near(settings.history_df, 2, 0);
	assert_false(history_apply(&settings, &history)); /* what is set stays */
}

static void runs_that_say_nothing(void **state)
{
	static const double once[] = { 1.40, 1.50 };
	const struct history_query query = { .method = METHOD_PERCOLATION };
	struct scene *scene = *state;
	struct settings settings;
	struct history history;

	settings_init(&settings);
	assert_done(audit_history(&history, scene->ledger, &query, &settings, &error));
	assert_true(isnan(history.s_brew));
	run_add(scene, "once.csv", HEAD "A1,one,20,330,300,filter,percolation\nB1,two,20,330,300,filter,percolation\n",
	        once, 2);
	run_add(scene, "broken.csv", "no manifest at all\n", once, 2);
	assert_done(audit_history(&history, scene->ledger, &query, &settings, &error));
	assert_true(isnan(history.s_brew));
	assert_int_equal(history.runs, 0);
	assert_int_equal(history.looked_at, 1);
	assert_int_equal(history.unreadable, 1);
	assert_false(history_apply(&settings, &history));
	assert_true(isnan(settings.history_sd));
}

#define IN_A_LEDGER(test) cmocka_unit_test_setup_teardown(test, scene_setup, scene_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		IN_A_LEDGER(lines_go_to_their_meters_as_amended),
		IN_A_LEDGER(one_meter_since_a_day),
		IN_A_LEDGER(a_meter_that_is_not_there),
		IN_A_LEDGER(an_empty_ledger),
		IN_A_LEDGER(a_clock_that_was_set_back),
		IN_A_LEDGER(a_restart_and_a_sleep_are_no_steps),
		IN_A_LEDGER(many_steps_are_told_in_short),
		IN_A_LEDGER(steps_that_the_station_noted),
		IN_A_LEDGER(times_that_cannot_be),
		IN_A_LEDGER(earlier_runs_are_pooled),
		IN_A_LEDGER(runs_that_say_nothing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
