/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sessions, checks, cups, months and sums of an audit; all readings are invented, all right answers by hand. */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "audit.h"
#include "audit_words.h"
#include "by_row.h"
#include "reading.h"

#define SECOND_US INT64_C(1000000)
#define HOUR_US   (3600 * SECOND_US)
#define DAY_US    (24 * HOUR_US)
#define START_US  INT64_C(1772355600000000) /* 2026-03-01 09:00 UTC */

struct scene {
	struct audit *audit;
	struct audit_reading next;
};

static struct scene scene_of(const struct audit_query *query, struct meter meter)
{
	struct scene scene = { .audit = audit_new(query) };
	struct error error = ERROR_INIT;
	uint32_t index;

	assert_non_null(scene.audit);
	meter.name = slice_from("one");
	assert_int_equal(audit_meter_add(scene.audit, &meter, &index, &error), STATUS_OK);
	scene.next = (struct audit_reading){
		.id = 1,
		.at_us = START_US,
		.shown = { 0, 2, UNIT_TDS_PERCENT },
		.temp_c = NAN,
		.standard_percent = NAN,
		.meter = index,
		.timed = true,
	};
	return scene;
}

static struct scene scene_new(void)
{
	const struct audit_query query = audit_query_standard();

	return scene_of(&query, meter_standard());
}

/* A reading, a second after the one before. */
static void put(struct scene *scene, enum reading_role role, const char *label, double value)
{
	scene->next.role = (uint8_t)role;
	scene->next.label = slice_from(label);
	scene->next.shown.value = value;
	assert_true(audit_add(scene->audit, &scene->next));
	scene->next.id++;
	scene->next.at_us += scene->next.at_us != READING_NO_TIME ? SECOND_US : 0;
}

static void cup(struct scene *scene, const char *label, double a, double b)
{
	put(scene, READING_SAMPLE, label, a);
	put(scene, READING_SAMPLE, label, b);
}

static void zero(struct scene *scene, double value)
{
	put(scene, READING_ZERO, "", value);
}

static void standard(struct scene *scene, double strength, double value)
{
	scene->next.standard_percent = strength;
	put(scene, READING_STANDARD, "", value);
	scene->next.standard_percent = NAN;
}

static void at(struct scene *scene, double hours)
{
	scene->next.at_us = START_US + (int64_t)(hours * (double)HOUR_US);
}

static struct audit_meter *finish(struct scene *scene)
{
	struct error error = ERROR_INIT;

	assert_int_equal(audit_finish(scene->audit, &error), STATUS_OK);
	return &scene->audit->meters[0];
}

static bool said(const struct audit *audit, const char *words)
{
	for (size_t i = 0; i < audit->note_count; i++)
		if (strstr(audit->notes[i].text, words))
			return true;
	print_message("# not said: %s\n", words);
	return false;
}

/* -- cups and sessions -------------------------------------------------------------- */

/* Squares 0.0002 on 1 and 0.0006 on 2 degrees of freedom: s = √(0.0008/3). */
static void cups_are_pooled(void **state)
{
	struct scene scene = scene_new();
	struct audit_meter *meter;

	(void)state;
	put(&scene, READING_SAMPLE, "A1", 1.40);
	put(&scene, READING_SAMPLE, "B1", 1.50);
	put(&scene, READING_SAMPLE, "A1", 1.42); /* cups in turns are cups all the same */
	put(&scene, READING_SAMPLE, "B1", 1.50);
	put(&scene, READING_SAMPLE, "B1", 1.53);
	put(&scene, READING_SAMPLE, "C1", 9.00); /* read once: says nothing */
	meter = finish(&scene);
	assert_rel_near(meter->s_r, sqrt(0.0008 / 3), 1e-12);
	assert_near(meter->df, 3, 0);
	assert_int_equal(meter->spread.cups, 2);
	assert_int_equal(meter->sessions_seen, 1);
	assert_near(meter->step, 0.01, 1e-15);
	audit_free(scene.audit);
}

struct break_case {
	const char *name;
	double hours;
	int64_t run, source;
	size_t sessions;
};

/* The same label in another session is another cup. */
static void sessions_break(void **state)
{
	const struct break_case *c = *state;
	struct scene scene = scene_new();
	struct audit_meter *meter;

	cup(&scene, "A1", 1.40, 1.40);
	scene.next.at_us += (int64_t)(c->hours * (double)HOUR_US);
	scene.next.run = c->run;
	scene.next.source = c->source;
	cup(&scene, "A1", 1.80, 1.80);
	meter = finish(&scene);
	assert_int_equal(meter->session_count, c->sessions);
	if (c->sessions == 2)
		assert_near(meter->s_r, 0, 0);
	else
		assert_rel_near(meter->s_r, sqrt(0.16 / 3), 1e-12);
	audit_free(scene.audit);
}

static struct break_case breaks[] = {
	{ "a short pause is none", 3.9, 0, 0, 1 },
	{ "four hours without a reading", 4.01, 0, 0, 2 },
	{ "a clock set back by hours", -5, 0, 0, 2 },
	{ "a clock set back a little", -0.5, 0, 0, 1 },
	{ "another run", 0, 7, 0, 2 },
	{ "another source", 0, 0, 3, 2 },
};

static void what_does_not_count_is_counted(void **state)
{
	struct scene scene = scene_new();
	const struct audit_counts *counts;
	struct audit_meter *meter;

	(void)state;
	cup(&scene, "A1", 1.40, 1.40);
	scene.next.flags = READING_EXCLUDED;
	put(&scene, READING_SAMPLE, "A1", 2.00);
	scene.next.flags = READING_OUT_OF_RANGE;
	put(&scene, READING_SAMPLE, "A1", 99.0);
	scene.next.flags = READING_REPEAT;
	put(&scene, READING_SAMPLE, "A1", 1.50);
	scene.next.flags = READING_STALE;
	put(&scene, READING_SAMPLE, "A1", 1.60);
	scene.next.flags = READING_QUESTIONED; /* used all the same */
	put(&scene, READING_SAMPLE, "A1", 1.40);
	scene.next.flags = 0;
	put(&scene, READING_SAMPLE, "", 1.45);
	put(&scene, READING_SAMPLE, "A1", 45.0); /* beyond what can be, though nobody flagged it */
	put(&scene, READING_STANDARD, "", 1.70); /* of a strength that was not told */
	meter = finish(&scene);
	counts = &meter->counts;
	assert_near(meter->s_r, 0, 0);
	assert_near(meter->df, 2, 0);
	assert_int_equal(counts->readings, 10);
	assert_int_equal(counts->excluded, 1);
	assert_int_equal(counts->out_of_range, 2);
	assert_int_equal(counts->repeated, 2);
	assert_int_equal(counts->questioned, 1);
	assert_int_equal(counts->unlabelled, 1);
	assert_int_equal(counts->unmeasured, 1);
	assert_true(said(scene.audit, "1 of 10 readings was excluded by hand, 10.0 %: what is left looks better"));
	audit_free(scene.audit);
}

static void more_cups_than_a_hand_holds(void **state)
{
	struct scene scene = scene_new();
	struct audit_meter *meter;
	char label[16];

	(void)state;
	for (int i = 0; i < 3000; i++) {
		snprintf(label, sizeof(label), "C%d", i);
		cup(&scene, label, 1.40, 1.42);
	}
	meter = finish(&scene);
	assert_int_equal(meter->spread.cups, 3000);
	assert_rel_near(meter->s_r, sqrt(0.0002), 1e-9);
	assert_int_equal(meter->sessions_seen, 1);
	audit_free(scene.audit);
}

/* Ring of sessions: the newest are kept, the sums hold all. */
static void more_sessions_than_are_kept(void **state)
{
	struct scene scene = scene_new();
	struct audit_meter *meter;

	(void)state;
	for (int i = 0; i < AUDIT_SESSIONS_KEPT + 100; i++) {
		at(&scene, 24.0 * i);
		zero(&scene, i < 100 ? 0.10 : 0.00);
		cup(&scene, "A1", 1.40, 1.42);
	}
	meter = finish(&scene);
	assert_int_equal(meter->sessions_seen, AUDIT_SESSIONS_KEPT + 100);
	assert_int_equal(meter->session_count, AUDIT_SESSIONS_KEPT);
	assert_int_equal(meter->sessions[0].first_us, START_US + 100 * DAY_US);
	assert_int_equal(meter->zero.checks, AUDIT_CHECKS_KEPT + 100);
	assert_int_equal(meter->zero_check_count, AUDIT_CHECKS_KEPT);
	assert_near(meter->zero_checks[0].value, 0, 1e-12);
	assert_near(meter->df, AUDIT_SESSIONS_KEPT + 100, 0);
	audit_free(scene.audit);
}

/* What each unit is as TDS of coffee: 0.85 of sucrose per cent; an index has the slope of ICUMSA's at 0 %. */
struct unit_case {
	const char *name;
	enum unit unit;
	double low, high, s;
};

static void units_are_told_as_tds(void **state)
{
	const struct unit_case *c = *state;
	struct scene scene = scene_new();
	struct audit_meter *meter;

	scene.next.shown.unit = c->unit;
	scene.next.shown.decimals = 5;
	cup(&scene, "A1", c->low, c->high);
	meter = finish(&scene);
	assert_rel_near(meter->s_r, c->s, 2e-3);
	audit_free(scene.audit);
}

static struct unit_case units[] = {
	{ "coffee TDS", UNIT_TDS_PERCENT, 1.40, 1.42, 0.014142 },
	{ "sucrose per cent", UNIT_BRIX, 1.40, 1.42, 0.85 * 0.014142 },
	/* index of 1 and 2 % sucrose at 20 °C, ICUMSA 1974: 1.334420, 1.335866 */
	{ "index", UNIT_INDEX, 1.334420, 1.335866, 0.85 * 0.707107 },
};

/* -- months -------------------------------------------------------------------------- */

static void months_are_calendar_months(void **state)
{
	/* UTC: 2023-12-31 23:59:50, 2024-01-01 00:00:10, 2024-02-29 12:00, 2024-03-01 00:00:00, 1969-12-31 23:00 */
	static const int64_t seconds[] = { 1704067190, 1704067210, 1709208000, 1709251200, -3600 };
	static const char *const names[] = { "1969-12", "2023-12", "2024-01", "2024-02", "2024-03" };
	struct scene scene = scene_new();
	struct audit_meter *meter;

	(void)state;
	for (size_t i = 0; i < 5; i++) {
		scene.next.at_us = seconds[i] * SECOND_US;
		scene.next.run = (int64_t)i + 1;
		cup(&scene, "A1", 1.40, 1.42);
	}
	meter = finish(&scene);
	assert_int_equal(meter->month_count, 5);
	for (size_t i = 0; i < 5; i++) {
		assert_string_equal(when_month(meter->months[i].from_us).text, names[i]);
		assert_int_equal(meter->months[i].sessions, 1);
		assert_rel_near(meter->months[i].s_r, sqrt(0.0002), 1e-10);
	}
	audit_free(scene.audit);
}

static void without_times_there_are_no_months(void **state)
{
	struct scene scene = scene_new();
	struct audit_meter *meter;

	(void)state;
	scene.next.at_us = READING_NO_TIME;
	scene.next.timed = false;
	zero(&scene, 0.01);
	cup(&scene, "A1", 1.40, 1.42);
	meter = finish(&scene);
	assert_int_equal(meter->month_count, 0);
	assert_int_equal(meter->session_count, 1);
	assert_true(meter->first_us == READING_NO_TIME);
	assert_true(isnan(meter->zero.hourly.slope));
	audit_free(scene.audit);
}

/* -- zero ------------------------------------------------------------------------------ */

static void zero_checks_are_runs_of_readings(void **state)
{
	struct scene scene = scene_new();
	struct audit_meter *meter;

	(void)state;
	zero(&scene, 0.01);
	zero(&scene, 0.03); /* goes on */
	put(&scene, READING_SAMPLE, "A1", 1.40);
	zero(&scene, 0.00); /* a cup lay between */
	scene.next.at_us += 11 * 60 * SECOND_US;
	zero(&scene, 0.04); /* more than ten minutes later */
	meter = finish(&scene);
	assert_int_equal(meter->zero.checks, 3);
	assert_int_equal(meter->zero.readings, 4);
	assert_int_equal(meter->zero_checks[0].n, 2);
	assert_near(meter->zero_checks[0].value, 0.02, 5e-5); /* the scale of index is not quite straight */
	assert_near(moments_mean(&meter->zero.offset), 0.02, 5e-5);
	audit_free(scene.audit);
}

/* 0.01 % an hour in each of three sessions that begin at different levels: one slope, no residual. */
static void zero_drifts_within_sessions(void **state)
{
	struct scene scene = scene_new();
	struct audit_meter *meter;

	(void)state;
	scene.next.shown.decimals = 3;
	for (int day = 0; day < 3; day++)
		for (int hour = 0; hour < 3; hour++) {
			at(&scene, 24.0 * day + hour);
			zero(&scene, 0.05 * (day % 2) + 0.01 * hour);
			cup(&scene, "A1", 1.40, 1.40);
		}
	meter = finish(&scene);
	assert_int_equal(meter->zero.hourly.n, 3);
	assert_near(meter->zero.hourly.slope, 0.01, 2e-5);
	assert_near(meter->zero.hourly.df, 5, 0); /* 9 checks less 3 levels less a slope */
	assert_true(meter->zero.hourly.lower > 0.0098);
	assert_near(meter->zero.hours_to_step, 0.1, 1e-3); /* 0.001 % at 0.01 % an hour */
	assert_true(said(scene.audit, "Within a session its zero drifts by +0.0100 % TDS an hour"));
	audit_free(scene.audit);
}

/* 0.02 % a month of 365.2425/12 days. */
static void zero_moves_from_month_to_month(void **state)
{
	struct scene scene = scene_new();
	struct audit_meter *meter;

	(void)state;
	scene.next.shown.decimals = 4;
	for (int i = 0; i < 8; i++) {
		at(&scene, i * 30.436875 * 24);
		zero(&scene, 0.02 * i);
	}
	meter = finish(&scene);
	assert_near(meter->zero.monthly.slope, 0.02, 5e-5);
	assert_near(meter->zero.monthly.df, 6, 0);
	assert_true(said(scene.audit, "Its zero moves from month to month: +0.020"));
	audit_free(scene.audit);
}

static void without_a_zero_check_that_is_said(void **state)
{
	struct scene scene = scene_new();

	(void)state;
	cup(&scene, "A1", 1.40, 1.42);
	finish(&scene);
	assert_true(said(scene.audit, "No zero check is there"));
	assert_true(said(scene.audit, "No standard was read"));
	assert_true(said(scene.audit, "No reading tells its temperature."));
	audit_free(scene.audit);
}

/* -- standards --------------------------------------------------------------------------- */

static struct scene brix_scene(void)
{
	struct audit_query query = audit_query_standard();
	struct meter meter = meter_standard();
	struct scene scene;

	meter.unit = UNIT_BRIX;
	query.scale_step_g = 0.01;
	scene = scene_of(&query, meter);
	scene.next.shown.unit = UNIT_BRIX;
	return scene;
}

/* The zero goes from 0.00 to 0.10 over two hours; a standard of 2 % that shows 2.05 in the middle is right. */
static void the_zero_is_taken_off_a_standard(void **state)
{
	struct scene scene = brix_scene();
	struct audit_meter *meter;

	(void)state;
	at(&scene, 0);
	zero(&scene, 0.00);
	at(&scene, 1);
	standard(&scene, 2.00, 2.05);
	at(&scene, 2);
	zero(&scene, 0.10);
	meter = finish(&scene);
	assert_int_equal(meter->standard_count, 1);
	assert_int_equal(meter->standards[0].zeroed, 1);
	assert_near(moments_mean(&meter->standards[0].shown), 0.05, 1e-9);
	assert_near(moments_mean(&meter->standards[0].bias), 0,
	            1e-3);                                      /* the index grows 1.5 % faster at 2 % than at 0 % */
	assert_near(meter->standards[0].index, 1.335866, 5e-7); /* ICUMSA 1974, 2 % at 20 °C */
	audit_free(scene.audit);
}

static void a_standard_without_a_zero_is_said(void **state)
{
	struct scene scene = brix_scene();
	struct audit_meter *meter;

	(void)state;
	for (int day = 0; day < 4; day++) {
		at(&scene, 24.0 * day);
		standard(&scene, 2.00, 2.04 + 0.01 * (day % 2));
		standard(&scene, 2.00, 2.04 + 0.01 * (day % 2));
	}
	meter = finish(&scene);
	assert_int_equal(meter->standards[0].checks, 4);
	assert_int_equal(meter->standards[0].readings, 8);
	assert_int_equal(meter->standards[0].zeroed, 0);
	assert_near(moments_mean(&meter->standards[0].bias), 0.045, 1e-9);
	/* 200 g, steps of 0.01 g: u = 0.01/√6 · 100/200² · √(196² + 4²) = 0.0020008 % */
	assert_near(meter->standards[0].u, 0.0020008, 1e-7);
	/* spread of the checks 0.0057735/√4, no less than a step's 0.01/√12 */
	assert_near(meter->standards[0].u_bias, hypot(0.00288675, 0.0020008), 1e-6);
	assert_true(meter->standards[0].lower > 0);
	assert_true(said(scene.audit, "The meter reads too high."));
	assert_true(said(scene.audit, "4 of its checks stood in a session without a zero check"));
	audit_free(scene.audit);
}

/* Bias of 0.01 % per % of strength: a line, slope 0.01. */
static void a_tilted_scale_shows_over_strengths(void **state)
{
	static const double strengths[] = { 1, 2, 5 };
	struct scene scene = brix_scene();
	struct audit_meter *meter;

	(void)state;
	scene.next.shown.decimals = 3;
	for (int day = 0; day < 6; day++) {
		at(&scene, 24.0 * day);
		for (size_t i = 0; i < 3; i++)
			standard(&scene, strengths[i], 1.01 * strengths[i] + (day % 2 ? 0.001 : -0.001));
	}
	meter = finish(&scene);
	assert_int_equal(meter->linearity.strengths, 3);
	assert_near(meter->linearity.line.slope, 0.01, 1e-9);
	assert_near(meter->linearity.line.at_mean, 0.01 * meter->linearity.line.mean_x, 1e-9);
	assert_near(meter->linearity.worst, 0, 1e-9);
	assert_true(meter->linearity.lack_p > 0.99);
	assert_true(said(scene.audit, "Over 3 strengths the bias changes with the strength: +1.00 %"));
	assert_true(said(scene.audit, "The standards lie on one line as far as they tell"));
	audit_free(scene.audit);
}

static void a_bent_scale_leaves_its_line(void **state)
{
	static const double strengths[] = { 1, 2, 3 }, biases[] = { 0, 0.03, 0 };
	struct scene scene = brix_scene();
	struct audit_meter *meter;

	(void)state;
	scene.next.shown.decimals = 3;
	for (int day = 0; day < 6; day++) {
		at(&scene, 24.0 * day);
		for (size_t i = 0; i < 3; i++)
			standard(&scene, strengths[i], strengths[i] + biases[i] + (day % 2 ? 0.001 : -0.001));
	}
	meter = finish(&scene);
	assert_near(meter->linearity.line.slope, 0, 5e-4);
	assert_near(fabs(meter->linearity.worst), 0.02, 5e-4); /* 0.03 less the mean 0.01 */
	/*
	 * Off the line by 0.00 - 2 · 0.03 + 0.00 = -0.06. Variance of each mean: 18 · 0.001² on 15 over 6 checks is 2.0e-7;
	 * from weighing 0.01/√6 · 100/200² · √(198² + 2²), … : 4.0842e-6, 4.0033e-6, 3.9239e-6.
	 * F = 0.0036 / (4.2842e-6 + 4 · 4.2033e-6 + 4.1239e-6) = 142.7
	 */
	assert_rel_near(meter->linearity.lack_f, 142.7, 1e-3);
	assert_true(meter->linearity.lack_df1 == 1 && meter->linearity.lack_df2 > 1000);
	assert_true(said(scene.audit, "The standards do not lie on one line (p < 0.001"));
	audit_free(scene.audit);
}

/* A meter that is right in all it shows; bottles that are off by less than their weighing, ± 0.04 %, can tell. */
static void a_right_meter_is_not_blamed_for_its_bottles(void **state)
{
	static const double strengths[] = { 1, 2, 5 }, bottles[] = { 1.02, 1.97, 5.02 };
	struct scene scene = brix_scene();
	struct audit_meter *meter;

	(void)state;
	scene.audit->query.scale_step_g = 0.1;
	for (int day = 0; day < 10; day++) {
		at(&scene, 24.0 * day);
		for (size_t i = 0; i < 3; i++)
			standard(&scene, strengths[i], bottles[i] + (day % 2 ? 0.005 : -0.005));
	}
	meter = finish(&scene);
	assert_int_equal(meter->linearity.strengths, 3);
	assert_true(meter->linearity.line.lower < 0 && meter->linearity.line.upper > 0);
	assert_true(meter->linearity.lack_p > 0.05);
	assert_true(said(scene.audit, "No bias is shown."));
	assert_true(said(scene.audit, "does not seem to change with the strength"));
	assert_false(said(scene.audit, "do not lie on one line"));
	audit_free(scene.audit);
}

/* The bottle of 2 % grows stronger: the scale is judged by the others, and it is named. */
static void a_spoiling_bottle_tells_nothing_of_the_scale(void **state)
{
	static const double strengths[] = { 1, 2, 3, 5 };
	struct scene scene = brix_scene();
	struct audit_meter *meter;

	(void)state;
	for (int day = 0; day < 24; day++) {
		at(&scene, 24.0 * day);
		for (size_t i = 0; i < 4; i++)
			standard(&scene, strengths[i],
			         strengths[i] + (day % 2 ? 0.01 : -0.01) +
			                 (i == 1 && day >= 20 ? 0.1 * (day - 19) : 0));
	}
	meter = finish(&scene);
	assert_int_equal(meter->standard_count, 4);
	assert_int_equal(meter->linearity.strengths, 3);
	assert_int_equal(meter->linearity.left_out, 1 << 1);
	assert_near(meter->linearity.line.slope, 0, 1e-9);
	assert_true(said(scene.audit, "The standard of 2.00 % is left out of what follows about the scale"));
	assert_false(said(scene.audit, "do not lie on one line"));
	audit_free(scene.audit);
}

static void one_strength_too_many(void **state)
{
	struct scene scene = brix_scene();
	struct audit_meter *meter;

	(void)state;
	for (int i = 0; i <= AUDIT_STRENGTHS; i++)
		standard(&scene, 1 + 0.1 * i, 1 + 0.1 * i);
	meter = finish(&scene);
	assert_int_equal(meter->standard_count, AUDIT_STRENGTHS);
	assert_int_equal(meter->counts.unmeasured, 1);
	audit_free(scene.audit);
}

/* More standards and zeros in one session than wait at a time. */
static void a_session_that_never_ends(void **state)
{
	struct scene scene = brix_scene();
	struct audit_meter *meter;

	(void)state;
	for (int i = 0; i < 700; i++) {
		standard(&scene, 2.00, 2.01);
		zero(&scene, 0.00);
	}
	meter = finish(&scene);
	assert_int_equal(meter->sessions_seen, 1);
	assert_int_equal(meter->standards[0].checks, 700);
	assert_int_equal(meter->zero.checks, 700);
	assert_near(moments_mean(&meter->standards[0].bias), 0.01, 1e-6);
	audit_free(scene.audit);
}

/* -- meters ---------------------------------------------------------------------------------- */

static void another_profile_under_the_same_name(void **state)
{
	struct scene scene = scene_new();
	struct error error = ERROR_INIT;
	struct meter other = meter_standard();
	struct audit_meter *meter;
	uint32_t index;

	(void)state;
	cup(&scene, "A1", 1.40, 1.42);
	other.name = slice_from("one");
	other.scale_factor = 0.425; /* shows half: what it shows counts twice */
	assert_int_equal(audit_meter_add(scene.audit, &other, &index, &error), STATUS_OK);
	assert_int_equal(index, 0);
	cup(&scene, "A1", 0.70, 0.71);
	meter = finish(&scene);
	assert_int_equal(scene.audit->meter_count, 1);
	assert_int_equal(meter->versions, 2);
	assert_true(meter->rescaled);
	assert_int_equal(meter->sessions_seen, 2);
	assert_rel_near(meter->s_r, sqrt(0.0002), 1e-10);
	assert_true(said(scene.audit, "whose numbers mean different things"));
	audit_free(scene.audit);
}

static void one_meter_too_many(void **state)
{
	struct scene scene = scene_new();
	struct error error = ERROR_INIT;
	struct meter meter = meter_standard();
	uint32_t index;
	char name[16];

	(void)state;
	for (int i = 1; i < AUDIT_METERS; i++) {
		snprintf(name, sizeof(name), "m%d", i);
		meter.name = slice_from(name);
		assert_int_equal(audit_meter_add(scene.audit, &meter, &index, &error), STATUS_OK);
		assert_int_equal(index, i);
	}
	meter.name = slice_from("last");
	assert_int_equal(audit_meter_add(scene.audit, &meter, &index, &error), STATUS_INVALID);
	assert_non_null(strstr(error.text, "expected --meter"));
	finish(&scene);
	audit_free(scene.audit);
}

static void readings_from_the_future_are_told(void **state)
{
	struct audit_query query = audit_query_standard();
	struct scene scene;

	(void)state;
	query.now_us = START_US + HOUR_US;
	scene = scene_of(&query, meter_standard());
	cup(&scene, "A1", 1.40, 1.42);
	at(&scene, 3);
	put(&scene, READING_SAMPLE, "A1", 1.41);
	finish(&scene);
	assert_int_equal(scene.audit->late, 1);
	assert_int_equal(scene.audit->late_id, 3);
	audit_free(scene.audit);
}

static void nothing_at_all(void **state)
{
	struct scene scene = scene_new();
	struct audit_meter *meter = finish(&scene);

	(void)state;
	assert_true(isnan(meter->s_r));
	assert_true(isnan(meter->limit));
	assert_int_equal(meter->chart_count, 0);
	assert_false(audit_alarm(scene.audit));
	assert_true(said(scene.audit, "No reading of it is in the time looked at."));
	audit_free(scene.audit);
	audit_free(NULL);
}

/* -- two meters ------------------------------------------------------------------------------ */

struct pair_case {
	const char *name;
	double offset, noise;
	double hours; /* between the meters */
	size_t n;     /* cups that pair */
	enum audit_verdict verdict;
	const char *words;
};

/* Margin: 0.5 points · 20 g / 300 g = 0.0333 % TDS. */
static void cups_on_two_meters(void **state)
{
	const struct pair_case *c = *state;
	struct scene scene = scene_new();
	struct error error = ERROR_INIT;
	struct meter other = meter_standard();
	uint32_t index;
	char label[16];

	other.name = slice_from("two");
	assert_int_equal(audit_meter_add(scene.audit, &other, &index, &error), STATUS_OK);
	for (int i = 0; i < 10; i++) {
		snprintf(label, sizeof(label), "C%d", i);
		scene.next.meter = 0;
		scene.next.at_us = START_US + i * 60 * SECOND_US;
		put(&scene, READING_SAMPLE, label, 1.20 + 0.05 * i);
		scene.next.meter = index;
		scene.next.at_us = START_US + i * 60 * SECOND_US + (int64_t)(c->hours * (double)HOUR_US);
		put(&scene, READING_SAMPLE, label, 1.20 + 0.05 * i + c->offset + (i % 2 ? c->noise : -c->noise));
	}
	finish(&scene);
	assert_int_equal(scene.audit->pair_count, c->n > 0);
	if (c->n > 0) {
		const struct audit_pair *pair = &scene.audit->pairs[0];

		assert_int_equal(pair->n, c->n);
		assert_near(pair->bias, -c->offset, 1e-9);
		assert_near(pair->sd, c->noise * sqrt(10.0 / 9), 1e-9);
		assert_near(pair->margin, 0.5 * 20 / 300, 1e-12);
		assert_int_equal(pair->verdict, c->verdict);
		assert_true(said(scene.audit, c->words));
	}
	audit_free(scene.audit);
}

static struct pair_case pairs[] = {
	{ "alike", 0.005, 0.005, 0.5, 10, AUDIT_SAME, "may be used in one run" },
	{ "apart", 0.08, 0.005, 0.5, 10, AUDIT_APART, "must not be mixed in one run" },
	{ "can't tell", 0.03, 0.02, 0.5, 10, AUDIT_UNKNOWN, "one less two over 10 cups" },
	{ "the next day is no pair", 0, 0, 24, 0, AUDIT_UNKNOWN, NULL },
};

int main(void)
{
	const struct CMUnitTest fixed[] = {
		cmocka_unit_test(cups_are_pooled),
		cmocka_unit_test(what_does_not_count_is_counted),
		cmocka_unit_test(more_cups_than_a_hand_holds),
		cmocka_unit_test(more_sessions_than_are_kept),
		cmocka_unit_test(months_are_calendar_months),
		cmocka_unit_test(without_times_there_are_no_months),
		cmocka_unit_test(zero_checks_are_runs_of_readings),
		cmocka_unit_test(zero_drifts_within_sessions),
		cmocka_unit_test(zero_moves_from_month_to_month),
		cmocka_unit_test(without_a_zero_check_that_is_said),
		cmocka_unit_test(the_zero_is_taken_off_a_standard),
		cmocka_unit_test(a_standard_without_a_zero_is_said),
		cmocka_unit_test(a_tilted_scale_shows_over_strengths),
		cmocka_unit_test(a_bent_scale_leaves_its_line),
		cmocka_unit_test(a_right_meter_is_not_blamed_for_its_bottles),
		cmocka_unit_test(a_spoiling_bottle_tells_nothing_of_the_scale),
		cmocka_unit_test(one_strength_too_many),
		cmocka_unit_test(a_session_that_never_ends),
		cmocka_unit_test(another_profile_under_the_same_name),
		cmocka_unit_test(one_meter_too_many),
		cmocka_unit_test(readings_from_the_future_are_told),
		cmocka_unit_test(nothing_at_all),
	};
	struct CMUnitTest by_row[sizeof(breaks) / sizeof(breaks[0]) + sizeof(units) / sizeof(units[0]) +
	                         sizeof(pairs) / sizeof(pairs[0])];
	size_t count = 0;
	int failed = cmocka_run_group_tests_name("audit", fixed, NULL, NULL);

	BY_ROW(by_row, &count, breaks, sessions_break);
	BY_ROW(by_row, &count, units, units_are_told_as_tds);
	BY_ROW(by_row, &count, pairs, cups_on_two_meters);
	return failed + cmocka_run_group_tests_name("audit by row", by_row, NULL, NULL);
}
