/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The whole analysis on small invented runs whose results can be worked out by hand, and on data that give none. */
#include "near.h"

#include <Rmath.h>
#include <string.h>

#include "analysis.h"
#include "correct.h"
#include "joint_aliasing.h"
#include "run_builder.h"

static struct analysis *analyse(struct run *run, const struct settings *settings)
{
	struct analysis *analysis = NULL;
	struct error error = ERROR_INIT;

	assert_int_equal(analysis_make(&analysis, run, settings, &error), STATUS_OK);
	assert_non_null(analysis);
	return analysis;
}

static struct settings standard(void)
{
	struct settings settings;

	settings_init(&settings);
	return settings;
}

static struct correction steps_of(const struct analysis *analysis, size_t reading)
{
	struct correction steps;

	correct_steps(&steps, analysis, reading);
	return steps;
}

static bool says(const struct analysis *analysis, enum topic topic, const char *words)
{
	for (size_t i = 0; i < analysis->sentence_count; i++)
		if (analysis->sentences[i].topic == topic && strstr(analysis->sentences[i].text, words))
			return true;
	return false;
}

static void finish(struct analysis *analysis, struct run *run)
{
	analysis_free(analysis);
	run_free(run);
}

/* Two treatments, three brews each, one reading a brew: yield = 14 TDS, so 19.6, 19.88, 20.16 against 21.0, 21.28, 21.56. */
static struct run *two_treatments(void)
{
	static const double tds[] = { 1.40, 1.42, 1.44, 1.50, 1.52, 1.54 };
	struct run *run = build_run();
	char label[8];

	for (size_t i = 0; i < 6; i++) {
		snprintf(label, sizeof(label), "%c%zu", i < 3 ? 'A' : 'B', i % 3 + 1);
		build_reading(run, build_brew(run, label, i < 3 ? "coarse" : "fine"), tds[i]);
	}
	return run;
}

static void compares_brew_means(void **state)
{
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis = analyse(run, &settings);
	const struct comparison *c = &analysis->comparison;

	(void)state;
	/* by hand: yield = 280 g · TDS / 20 g */
	assert_near(analysis->brews[0].yield.yield_percent, 19.6, 1e-12);
	assert_near(analysis->treatments[0].mean, 19.88, 1e-12);
	assert_near(analysis->treatments[1].mean, 21.28, 1e-12);
	/* s² = 0.28² in both groups; SS between = 3 · 2 · 0.7² = 2.94; F = 2.94 / 0.0784 = 37.5 on 1 and 4 */
	assert_near(c->s_brew, 0.28, 1e-12);
	assert_near(c->s_brew_df, 4, 0);
	assert_near(c->oneway.f, 37.5, 1e-9);
	/* two treatments: Tukey is the t test. t = √37.5, two-sided p on 4 df by the closed form of Student's t with 4 df */
	assert_int_equal(c->pair_count, 1);
	assert_near(c->pairs[0].difference, 1.4, 1e-12);
	{
		double t = sqrt(37.5);
		double x = t / sqrt(t * t + 4);
		double p = 1 - x * (1 + (1 - x * x) / 2); /* P(|T| > t) = 1 - x (1 + (1 - x²)/2), x = t/√(t²+4) */

		assert_near(c->pairs[0].p, p, 1e-8);
	}
	/* half width = t(0.975, 4) s √(2/3), t = 2.7764451052 (table of Student's t) */
	assert_near(c->pairs[0].half_width, 2.7764451052 * 0.28 * sqrt(2.0 / 3.0), 1e-7);
	assert_int_equal(c->pairs[0].verdict, VERDICT_DIFFER);
	assert_int_equal(c->pairs[0].a, 1);
	assert_string_equal(analysis->treatments[1].letters, "a");
	assert_string_equal(analysis->treatments[0].letters, "b");
	assert_true(says(analysis, TOPIC_RESULT, "fine and coarse differ"));
	assert_true(says(analysis, TOPIC_METER, "No cup was read twice"));
	finish(analysis, run);
}

static void readings_of_a_cup_do_not_count_as_brews(void **state)
{
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *once = analyse(run, &settings);
	double p = once->comparison.pairs[0].p;
	struct analysis *thrice;

	(void)state;
	analysis_free(once);
	for (uint32_t b = 0; b < 6; b++)
		for (size_t i = 0; i < 20; i++)
			build_reading(run, b, run->readings[b].value);
	thrice = analyse(run, &settings);
	assert_near(thrice->comparison.s_brew_df, 4, 0);
	assert_near(thrice->comparison.pairs[0].p, p, 1e-12);
	finish(thrice, run);
}

/* A zero check at 20 °C; of the six samples one is 2.5 °C away from it, one has no temperature, one is at 45 °C. */
static void temperatures_that_matter_are_counted(void **state)
{
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;

	(void)state;
	run->meters[0].compensated = false;
	run->readings[1].line->temp_c = 22.5;
	run->readings[2].line->temp_c = NAN;
	run->readings[3].line->temp_c = 45;
	build_zero(run, 0.0);
	build_zero(run, 0.0)->line->temp_c = NAN; /* no sample: not counted */
	analysis = analyse(run, &settings);
	assert_int_equal(analysis->samples.far, 2);
	assert_int_equal(analysis->samples.without_temp, 1);
	assert_int_equal(analysis->samples.beyond, 1);
	assert_near(analysis->samples.worst, steps_of(analysis, 2).possible_error_percent, 0);
	assert_true(says(analysis, TOPIC_METER, "2 readings were taken more than 2.0 °C away"));
	assert_true(says(analysis, TOPIC_METER, "1 reading comes from a meter that does not compensate"));
	assert_true(says(analysis, TOPIC_METER, "1 reading lies outside the strengths and temperatures"));
	finish(analysis, run);
}

static void one_brew_each_claims_nothing(void **state)
{
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;

	(void)state;
	for (size_t i = 0; i < 3; i++) {
		uint32_t brew = build_brew(run, (const char *[]){ "A", "B", "C" }[i],
		                           (const char *[]){ "x", "y", "z" }[i]);

		build_reading(run, brew, 1.40 + 0.1 * (double)i);
		build_reading(run, brew, 1.42 + 0.1 * (double)i);
	}
	analysis = analyse(run, &settings);
	assert_int_equal(analysis->comparison.source, SPREAD_NONE);
	assert_int_equal(analysis->comparison.pair_count, 3);
	for (size_t i = 0; i < 3; i++) {
		assert_int_equal(analysis->comparison.pairs[i].verdict, VERDICT_OPEN);
		assert_near(analysis->comparison.pairs[i].p, NAN, 0);
	}
	assert_false(analysis->comparison.letters);
	/* s_r = 0.02/√2 in every cup; the limit of means of two: 1.959964 · √2 · s_r/√2 · 14 yield points a % TDS */
	assert_near(analysis->comparison.meter_limit, 1.959964 * 0.02 / sqrt(2.0) * 14, 1e-6);
	assert_true(says(analysis, TOPIC_RESULT, "brewed once"));
	assert_true(says(analysis, TOPIC_RESULT, "3 of 3 differences exceed"));
	finish(analysis, run);
}

/* Five single brews with a history of 12 degrees of freedom: |d| > q(0.05; 5, 12) s, q = 4.50771 (published tables: 4.51). */
static void history_gives_provisional_verdicts(void **state)
{
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;

	(void)state;
	settings.history_sd = 0.25;
	settings.history_df = 12;
	for (size_t i = 0; i < 5; i++) {
		char label[2] = { (char)('A' + i), 0 };

		build_reading(run, build_brew(run, label, label), 1.40 + 0.05 * (double)i);
	}
	analysis = analyse(run, &settings);
	assert_int_equal(analysis->comparison.source, SPREAD_HISTORY);
	assert_near(analysis->comparison.pairs[0].half_width, 4.50771 * 0.25, 5e-6);
	assert_true(says(analysis, TOPIC_RESULT, "provisional"));
	finish(analysis, run);
}

static void corrects_for_the_zero_between_checks(void **state)
{
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;
	uint32_t brew = build_brew(run, "A", "x");

	(void)state;
	build_zero(run, 0.00)->line->taken_us = 0;
	build_reading(run, brew, 1.40)->line->taken_us = 750000000; /* three quarters of the way */
	build_zero(run, 0.04)->line->taken_us = 1000000000;
	analysis = analyse(run, &settings);
	/* the offset in force is 0.03 % TDS; the slope of the scale changes by 1 % between 0 and 1.4 %, hence the tolerance */
	assert_near(analysis->tds_percent[1], 1.37, 1e-3);
	assert_int_equal(steps_of(analysis, 1).zero_kind, ZERO_INTERPOLATED);
	assert_int_equal(analysis->zero_count, 2);
	assert_near(analysis->zeros[1].tds_percent, 0.04, 1e-4);
	finish(analysis, run);
}

static void without_times_the_order_stands_for_them(void **state)
{
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;
	uint32_t brew = build_brew(run, "A", "x");

	(void)state;
	build_zero(run, 0.00);
	build_reading(run, brew, 1.40);
	build_zero(run, 0.02);
	build_zero(run, 0.04); /* two checks in a row are one: 0.03 at place 2.5 */
	build_reading(run, brew, 1.40);
	analysis = analyse(run, &settings);
	assert_near(analysis->tds_percent[1], 1.40 - 0.03 / 2.5, 1e-3);
	assert_near(analysis->tds_percent[4], 1.37, 1e-3);
	finish(analysis, run);
}

static void a_reading_left_out_is_left_out(void **state)
{
	static const unsigned flags[] = { READING_EXCLUDED, READING_OUT_OF_RANGE, READING_REPEAT, READING_STALE };
	struct settings settings = standard();

	(void)state;
	for (size_t i = 0; i < sizeof(flags) / sizeof(flags[0]); i++) {
		struct run *run = two_treatments();
		struct analysis *analysis;

		build_reading(run, 0, 9.99)->flags = (uint8_t)flags[i];
		analysis = analyse(run, &settings);
		assert_int_equal(analysis->brews[0].used, 1);
		assert_int_equal(analysis->brews[0].count, 2);
		assert_near(analysis->brews[0].tds_percent, 1.40, 0);
		assert_int_equal(analysis->readings_used, 6);
		finish(analysis, run);
	}
}

static void names_that_are_not_there_are_refused(void **state)
{
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis = (struct analysis *)&settings;
	struct error error = ERROR_INIT;

	(void)state;
	strcpy(settings.control, "medium");
	assert_int_equal(analysis_make(&analysis, run, &settings, &error), STATUS_INVALID);
	assert_null(analysis);
	assert_non_null(strstr(error.text, "coarse, fine"));
	settings.control[0] = '\0';
	strcpy(settings.response, "smell");
	assert_int_equal(analysis_make(&analysis, run, &settings, &error), STATUS_INVALID);
	assert_non_null(strstr(error.text, "yield, tds, retention"));
	run_free(run);
}

/* Dunnett with one treatment against the control is the t test, so equals Tukey's of two. */
static void compares_with_the_control(void **state)
{
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;

	(void)state;
	strcpy(settings.control, "Coarse");
	analysis = analyse(run, &settings);
	assert_int_equal(analysis->comparison.control, 0);
	assert_int_equal(analysis->comparison.against_count, 1);
	assert_near(analysis->comparison.against[0].difference, 1.4, 1e-12);
	assert_near(analysis->comparison.against[0].p, analysis->comparison.pairs[0].p, 1e-8);
	assert_near(analysis->comparison.against[0].half_width, analysis->comparison.pairs[0].half_width, 1e-6);
	finish(analysis, run);
}

static void any_numeric_column_can_be_compared(void **state)
{
	static const double seconds[] = { 150, 152, 154, 180, 182, 184 };
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;

	(void)state;
	build_numbers(run, "brew time", BREW_TIME_S, seconds);
	strcpy(settings.response, "brew_time");
	analysis = analyse(run, &settings);
	assert_near(analysis->comparison.pairs[0].difference, 30, 1e-12);
	assert_near(analysis->comparison.s_brew, 2, 1e-12);
	assert_near(analysis->comparison.response.margin, NAN, 0);
	finish(analysis, run);
	run = two_treatments();
	strcpy(settings.response, "retention");
	analysis = analyse(run, &settings);
	/* (320 - 280 (1 - 0.0140)) / 20 */
	assert_near(analysis->brews[0].response, (320 - 280 * 0.986) / 20, 1e-12);
	finish(analysis, run);
}

static void an_unweighed_beverage_is_estimated_and_said(void **state)
{
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;
	double retained, beverage;

	(void)state;
	run->brews[5].number[BREW_BEVERAGE_G] = NAN;
	analysis = analyse(run, &settings);
	retained = 0;
	for (size_t b = 0; b < 5; b++)
		retained += analysis->brews[b].yield.retained_water_per_g / 5;
	beverage = (320 - retained * 20) / (1 - 0.0154);
	assert_near(analysis->brews[5].yield.beverage_used_g, beverage, 1e-9);
	assert_true(analysis->brews[5].flags & BREW_ESTIMATED);
	assert_true(analysis->brews[5].budget.u > 2 * analysis->brews[4].budget.u);
	assert_true(says(analysis, TOPIC_DATA, "Not weighed after brewing: B3."));
	finish(analysis, run);
}

static void a_slip_of_the_scale_is_flagged(void **state)
{
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;

	(void)state;
	run->brews[2].number[BREW_BEVERAGE_G] = 208; /* 280 with two digits swapped */
	analysis = analyse(run, &settings);
	for (size_t b = 0; b < 6; b++)
		assert_int_equal((analysis->brews[b].flags & BREW_RETENTION_ODD) != 0, b == 2);
	assert_true(says(analysis, TOPIC_DATA, "kept in the grounds: A3."));
	finish(analysis, run);
}

static void a_scale_of_its_own_for_each_treatment_is_said(void **state)
{
	static const char *const own[] = { "s1", "s1", "s1", "s2", "s2", "s2" };
	static const char *const shared[] = { "s1", "s2", "s1", "s2", "s1", "s2" };
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;

	(void)state;
	build_words(run, "scale", COLUMN_WORD + BREW_SCALE, own);
	analysis = analyse(run, &settings);
	assert_true(says(analysis, TOPIC_FAIRNESS, "No two treatments share a scale"));
	/* 1 g of 280 g at the mean yield of 20.58 %: 0.0735 points */
	assert_true(says(analysis, TOPIC_FAIRNESS, "by 0.073 points"));
	finish(analysis, run);
	run = two_treatments();
	build_words(run, "scale", COLUMN_WORD + BREW_SCALE, shared);
	analysis = analyse(run, &settings);
	assert_false(says(analysis, TOPIC_FAIRNESS, "scale"));
	finish(analysis, run);
}

/* Six cups, each read three times by each of two meters; right shows what left shows and shift more. */
static struct run *two_meters(double shift)
{
	static const double apart[] = { 0.00, -0.01, 0.01 };
	struct run *run = two_treatments();
	uint16_t right = build_meter(run, "right");
	double first[6];

	run->meters[0].name = SLICE_OF("left");
	for (size_t i = 0; i < 6; i++)
		first[i] = run->readings[i].value;
	run->reading_count = 0;
	for (uint32_t b = 0; b < 6; b++)
		for (size_t i = 0; i < 6; i++)
			build_reading(run, b, first[b] + apart[i % 3] + (i < 3 ? 0 : shift))->meter = i < 3 ? 0 : right;
	return run;
}

static void meters_apart_are_no_scatter_of_readings(void **state)
{
	struct settings settings = standard();
	struct run *run = two_meters(0.05);
	struct analysis *analysis = analyse(run, &settings);
	const struct repeatability *r = &analysis->repeatability;

	(void)state;
	/* by hand: each meter's three readings of a cup have s = 0.01, on 2 degrees of freedom; 12 such groups */
	assert_near(r->s_r, 0.01, 1e-12);
	assert_near(r->df, 24, 0);
	assert_int_equal(r->cups, 6);
	assert_near(analysis->brews[0].tds_sd, 0.01, 1e-12);
	assert_near(analysis->brews[0].mandel_k, 1, 1e-9);
	/* the mean is still that of all of them */
	assert_near(analysis->brews[0].tds_percent, 1.425, 1e-12);
	/* slope within a group over 1, 2, 3: (0.01 - 0.00) / 2 */
	assert_near(r->drift, 0.005, 1e-12);
	/* the variance of readings in yield points: (14 · 0.01)² */
	assert_near(analysis->components.reading.variance, 0.14 * 0.14, 1e-9);
	assert_near(analysis->components.reading.df, 24, 0);
	assert_false(says(analysis, TOPIC_FAIRNESS, "meter"));
	finish(analysis, run);
}

static void cups_read_once_by_each_meter_tell_no_scatter(void **state)
{
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;
	uint16_t right = build_meter(run, "right");

	(void)state;
	for (uint32_t b = 0; b < 6; b++)
		build_reading(run, b, run->readings[b].value + 0.02)->meter = right;
	analysis = analyse(run, &settings);
	assert_true(isnan(analysis->repeatability.s_r));
	assert_true(isnan(analysis->repeatability.drift));
	assert_true(says(analysis, TOPIC_METER, "No cup was read twice by the same meter"));
	finish(analysis, run);
}

static void a_meter_of_its_own_for_each_treatment_is_said(void **state)
{
	struct settings settings = standard();
	struct run *run = two_treatments();
	uint16_t right = build_meter(run, "right");
	struct analysis *analysis;

	(void)state;
	for (size_t i = 3; i < 6; i++)
		run->readings[i].meter = right;
	analysis = analyse(run, &settings);
	assert_true(says(analysis, TOPIC_FAIRNESS, "No two treatments share a meter"));
	assert_false(says(analysis, TOPIC_FAIRNESS, "a tare wrong"));
	finish(analysis, run);
	/* one cup of the other treatment on the same meter: 3 of 3 and 1 of 3, V = √(1/2) by hand (χ² = 6 · 4/8) */
	run = two_treatments();
	right = build_meter(run, "right");
	run->readings[4].meter = run->readings[5].meter = right;
	analysis = analyse(run, &settings);
	assert_true(
		says(analysis, TOPIC_FAIRNESS, "The meter is unevenly spread over the treatments (association 0.71"));
	finish(analysis, run);
}

static void each_meter_has_a_zero_of_its_own(void **state)
{
	struct settings settings = standard();
	struct run *run = two_meters(0.0);
	struct analysis *analysis;

	(void)state;
	build_zero(run, 0.10);
	analysis = analyse(run, &settings);
	assert_true(says(analysis, TOPIC_METER,
	                 "1 reading of distilled water put the zero of meter left off by +0.100 % TDS; "
	                 "every reading of that meter is corrected for it."));
	assert_true(says(analysis, TOPIC_METER, "There is no reading of distilled water on meter right"));
	finish(analysis, run);
}

static void unequal_doses_are_said(void **state)
{
	static const double apart[] = { 20.0, 20.1, 20.0, 21.0, 21.1, 21.0 };
	static const double alike[] = { 20.0, 20.1, 20.2, 20.2, 20.1, 20.0 };
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;

	(void)state;
	build_numbers(run, "dose", BREW_DOSE_G, apart);
	analysis = analyse(run, &settings);
	assert_true(says(analysis, TOPIC_FAIRNESS, "dose was not equal"));
	finish(analysis, run);
	run = two_treatments();
	build_numbers(run, "dose", BREW_DOSE_G, alike);
	analysis = analyse(run, &settings);
	assert_true(says(analysis, TOPIC_FAIRNESS, "dose: 20.0 to 20.2 g"));
	finish(analysis, run);
}

static void brewing_one_after_the_other_is_said(void **state)
{
	static const double order[] = { 1, 2, 3, 4, 5, 6 };
	static const double mixed[] = { 1, 4, 5, 2, 3, 6 };
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;

	(void)state;
	build_numbers(run, "order", BREW_ORDER, order);
	analysis = analyse(run, &settings);
	assert_true(says(analysis, TOPIC_FAIRNESS, "one after the other"));
	finish(analysis, run);
	run = two_treatments();
	build_numbers(run, "order", BREW_ORDER, mixed);
	analysis = analyse(run, &settings);
	assert_false(says(analysis, TOPIC_FAIRNESS, "one after the other"));
	finish(analysis, run);
}

/* Three treatments with a covariate that rises with them: the smallest two-sided p of three ranks is 2/3! = 0.333. */
static void few_treatments_cannot_prove_a_cause(void **state)
{
	static const double width[] = { 10, 11, 12 };
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;

	(void)state;
	for (size_t i = 0; i < 3; i++) {
		char label[2] = { (char)('A' + i), 0 };

		build_reading(run, build_brew(run, label, label), 1.40 + 0.05 * (double)i);
	}
	build_numbers(run, "width", -1, width);
	analysis = analyse(run, &settings);
	assert_int_equal(analysis->covariate_count, 1);
	assert_near(analysis->covariates[0].kendall, 1, 1e-12);
	assert_near(analysis->covariates[0].kendall_p, 1.0 / 3, 1e-12);
	assert_near(analysis->covariates[0].slope, 0.7, 1e-9); /* 0.05 % TDS · 14 a step of 1 */
	assert_true(says(analysis, TOPIC_COVARIATE, "no pattern, however clear"));
	finish(analysis, run);
}

/* -- rounds ------------------------------------------------------------------ */

struct rounds_case {
	size_t n;
	const double *y;
	const size_t *treatment;
	const size_t *block;
};

static struct run *run_of_rounds(const struct rounds_case *c, double *numbers, const char **words)
{
	static const char *const names[] = { "1", "2", "3", "4", "5" };
	struct run *run = build_run();

	for (size_t i = 0; i < c->n; i++) {
		char label[24];

		snprintf(label, sizeof(label), "b%zu", i);
		build_brew(run, label, names[c->treatment[i] - 1]);
		numbers[i] = c->y[i];
		words[i] = names[c->block[i] - 1];
	}
	build_numbers(run, "yielded", -1, numbers);
	build_words(run, "block", COLUMN_WORD + BREW_BLOCK, words);
	return run;
}

/* Box, Hunter and Hunter, Statistics for Experimenters (1978), p. 209: blocks 264, treatments 70, residual 226 on 12. */
static void whole_rounds_are_taken_out_of_the_spread(void **state)
{
	static const double y[] = { 89, 88, 97, 94, 84, 77, 92, 79, 81, 87, 87, 85, 87, 92, 89, 84, 79, 81, 80, 88 };
	static const size_t treatment[] = { 1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4 };
	static const size_t block[] = { 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5 };
	struct rounds_case c = { 20, y, treatment, block };
	struct settings settings = standard();
	double numbers[20];
	const char *words[20];
	struct run *run = run_of_rounds(&c, numbers, words);
	struct analysis *analysis;

	(void)state;
	strcpy(settings.response, "yielded");
	analysis = analyse(run, &settings);
	assert_true(analysis->comparison.blocked);
	assert_false(analysis->comparison.block_adjusted);
	assert_near(analysis->comparison.block_row.ss, 264, 1e-9);
	assert_near(analysis->comparison.treatment_row.ss, 70, 1e-9);
	assert_near(analysis->comparison.residual_row.ss, 226, 1e-9);
	assert_near(analysis->comparison.s_brew_df, 12, 0);
	assert_near(analysis->comparison.pairs[0].standard_error, sqrt(2 * (226.0 / 12) / 5), 1e-9);
	assert_true(says(analysis, TOPIC_FAIRNESS, "5 rounds"));
	finish(analysis, run);
}

/*
 * Montgomery, Design and Analysis of Experiments (2001), catalyst example: effects -9/8, -7/8, -4/8, 20/8, adjusted
 * treatments 22.75, error 3.25 on 5; each pair meets twice in blocks of 3, so Var = 2 k s^2/(lambda v) = 3/4 s^2.
 */
static void rounds_without_every_treatment_adjust_the_differences(void **state)
{
	static const double y[] = { 73, 73, 75, 74, 75, 75, 67, 68, 72, 71, 72, 75 };
	static const size_t treatment[] = { 1, 3, 4, 1, 2, 3, 2, 3, 4, 1, 2, 4 };
	static const size_t block[] = { 1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4 };
	struct rounds_case c = { 12, y, treatment, block };
	struct settings settings = standard();
	double numbers[12];
	const char *words[12];
	struct run *run = run_of_rounds(&c, numbers, words);
	struct analysis *analysis;

	(void)state;
	strcpy(settings.response, "yielded");
	strcpy(settings.control, "1");
	analysis = analyse(run, &settings);
	assert_true(analysis->comparison.block_adjusted);
	assert_near(analysis->comparison.treatment_row.ss, 22.75, 1e-9);
	assert_near(analysis->comparison.residual_row.ss, 3.25, 1e-9);
	for (size_t i = 0; i < 3; i++) {
		const struct pair_result *pair = &analysis->comparison.against[i];
		char named = run->treatments[pair->a].name.text[0];
		double want = named == '4' ? 29.0 / 8 : named == '3' ? 5.0 / 8 : 2.0 / 8;
		assert_near(pair->difference, want, 1e-9);
		assert_near(pair->standard_error, sqrt(0.75 * 3.25 / 5), 1e-9);
	}
	finish(analysis, run);
}

/* -- data that give nothing ------------------------------------------------ */

/* Brews in the order given, each with its treatment and round. */
static struct run *rounds_run(const char *const *treatments, const char *const *rounds, size_t n)
{
	struct run *run = build_run();
	double order[16];
	char label[8];

	for (size_t i = 0; i < n; i++) {
		snprintf(label, sizeof(label), "%zu", i + 1);
		build_reading(run, build_brew(run, label, treatments[i]), 1.40 + 0.01 * (double)(i * i % 7));
		order[i] = (double)(i + 1);
	}
	build_words(run, "block", COLUMN_WORD + BREW_BLOCK, rounds);
	build_numbers(run, "order", COLUMN_NUMBER + BREW_ORDER, order);
	return run;
}

struct meeting_case {
	const char *name;
	const char *treatments[12], *rounds[12];
	size_t n;
	const char *says[2];
	const char *never; /* NULL: nothing to exclude */
};

static const struct meeting_case meeting_cases[] = {
	{ "whole rounds, same order",
	  { "a", "b", "a", "b", "a", "b" },
	  { "1", "1", "2", "2", "3", "3" },
	  6,
	  { "Every round held every treatment once", "The order was the same in every round" },
	  "never met" },
	{ "whole rounds, orders evened out",
	  { "a", "b", "b", "a", "a", "b", "b", "a" },
	  { "1", "1", "2", "2", "3", "3", "4", "4" },
	  8,
	  { "Every round held every treatment once", "Every treatment stood in every place of a round equally often" },
	  "The order was the same" },
	{ "all pairs, each in both orders",
	  { "a", "b", "b", "c", "c", "a", "b", "a", "c", "b", "a", "c" },
	  { "1", "1", "2", "2", "3", "3", "4", "4", "5", "5", "6", "6" },
	  12,
	  { "Each round held 2 of the 3 treatments, and every two of them met in 2 rounds", "equally often" },
	  "never met" },
	{ "a and c only by way of b",
	  { "a", "b", "b", "c", "a", "b", "b", "c" },
	  { "1", "1", "2", "2", "3", "3", "4", "4" },
	  8,
	  { "1 of 3 pairs of treatments never met in a round, such as a and c.", "compared only by way of others" },
	  "held every treatment" },
	{ "one of three always first",
	  { "a", "b", "c", "a", "c", "b", "a", "b", "c" },
	  { "1", "1", "1", "2", "2", "2", "3", "3", "3" },
	  9,
	  { "a stood in the same place of every round (a always as number 1)", "held every treatment" },
	  "The order was the same" },
	{ "one brew without a round",
	  { "a", "b", "b", "a", "a", "b" },
	  { "1", "1", "2", "2", "3", "" },
	  6,
	  { "1 brew names no round while others do", "counts as scatter" },
	  "held every treatment" },
	{ "unequal meetings",
	  { "a", "b", "a", "b", "b", "c", "c", "a" },
	  { "1", "1", "2", "2", "3", "3", "4", "4" },
	  8,
	  { "Two treatments met in 1 to 2 rounds (least:", "not all known equally well" },
	  "never met" },
};

static void rounds_are_counted(void **state)
{
	struct settings settings = standard();

	(void)state;
	for (size_t i = 0; i < sizeof(meeting_cases) / sizeof(meeting_cases[0]); i++) {
		const struct meeting_case *c = &meeting_cases[i];
		struct run *run = rounds_run(c->treatments, c->rounds, c->n);
		struct analysis *analysis = analyse(run, &settings);

		print_message("%s\n", c->name);
		assert_true(says(analysis, TOPIC_FAIRNESS, c->says[0]));
		assert_true(says(analysis, TOPIC_FAIRNESS, c->says[1]));
		assert_false(says(analysis, TOPIC_FAIRNESS, c->never));
		finish(analysis, run);
	}
}

/*
 * Worked out by hand. Of three treatments one (a) is what the scale adds less what the server adds: with dummies 1 for the
 * second scale and -1 for the second server the sum over a brew's two is 1 for a's brews (s2, v1) and 0 for the others, (s1, v1) and
 * (s2, v2). Each of the two alone leaves the treatments linked, and b and c share all they have.
 */
static void columns_that_alias_together_are_named(void **state)
{
	static const char *const treatments[] = { "a", "a", "b", "b", "c", "c", "a", "b", "c" };
	static const char *const scales[] = { "s2", "s2", "s1", "s2", "s1", "s2", "s2", "s1", "s2" };
	static const char *const servers[] = { "v1", "v1", "v1", "v2", "v1", "v2", "v1", "v1", "v2" };
	static const char *const operators[] = { "x", "y", "x", "y", "y", "x", "x", "y", "x" };
	/* each treatment once with each pair of words of a Latin square: the treatment is told by both words, but not by their sum */
	static const char *const latin[] = { "a", "b", "c", "b", "c", "a", "c", "a", "b" };
	static const char *const rows[] = { "r1", "r1", "r1", "r2", "r2", "r2", "r3", "r3", "r3" };
	static const char *const places[] = { "p1", "p2", "p3", "p1", "p2", "p3", "p1", "p2", "p3" };
	struct settings settings = standard();
	struct analysis *analysis;
	struct run *run = build_run();
	size_t pair[2] = { 0, 1 };

	(void)state;
	for (size_t i = 0; i < 9; i++)
		build_reading(run, build_brew(run, (const char[]){ (char)('1' + (char)i), 0 }, treatments[i]), 1.4);
	build_words(run, "scale", COLUMN_WORD + BREW_SCALE, scales);
	build_words(run, "server", COLUMN_WORD + BREW_SERVER, servers);
	build_words(run, "operator", COLUMN_WORD + BREW_OPERATOR, operators);
	analysis = analyse(run, &settings);
	assert_int_equal(joint_aliasing_lost(analysis, pair, 2), 1);
	pair[1] = 2;
	assert_int_equal(joint_aliasing_lost(analysis, pair, 2), 0);
	assert_true(says(analysis, TOPIC_FAIRNESS,
	                 "Neither scale nor server alone goes with the treatments, but both together"));
	assert_false(says(analysis, TOPIC_FAIRNESS, "operator alone"));
	finish(analysis, run);

	run = build_run();
	for (size_t i = 0; i < 9; i++)
		build_reading(run, build_brew(run, (const char[]){ (char)('1' + (char)i), 0 }, latin[i]), 1.4);
	build_words(run, "kettle", -1, rows);
	build_words(run, "place", -1, places);
	analysis = analyse(run, &settings);
	pair[1] = 1;
	assert_int_equal(joint_aliasing_lost(analysis, pair, 2), 0);
	finish(analysis, run);
}

static void empty_runs_say_so(void **state)
{
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis = analyse(run, &settings);

	(void)state;
	assert_true(says(analysis, TOPIC_RESULT, "nothing to compare"));
	finish(analysis, run);
	run = build_run();
	build_brew(run, "A", "x");
	build_brew(run, "B", "y");
	analysis = analyse(run, &settings);
	assert_string_equal(analysis->brews[0].why, "it has no readings");
	assert_true(says(analysis, TOPIC_RESULT, "nothing to compare"));
	assert_true(says(analysis, TOPIC_DATA, "No result, so no part in the comparison: A, B."));
	finish(analysis, run);
}

static void equal_readings_leave_the_display_step(void **state)
{
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;

	(void)state;
	for (size_t i = 0; i < 4; i++) {
		char label[3] = { i < 2 ? 'A' : 'B', (char)('1' + i % 2), 0 };
		uint32_t brew = build_brew(run, label, i < 2 ? "x" : "y");

		for (size_t r = 0; r < 3; r++)
			build_reading(run, brew, 1.40);
	}
	analysis = analyse(run, &settings);
	assert_near(analysis->repeatability.s_r, 0, 0);
	assert_true(analysis->repeatability.step_limited);
	assert_near(analysis->repeatability.claimed, 0.01 / sqrt(12.0), 1e-12);
	assert_near(analysis->comparison.s_brew, 0, 0);
	assert_near(analysis->comparison.pairs[0].difference, 0, 0);
	assert_int_not_equal(analysis->comparison.pairs[0].verdict, VERDICT_DIFFER);
	finish(analysis, run);
}

static void one_treatment_is_described_not_compared(void **state)
{
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;

	(void)state;
	build_reading(run, build_brew(run, "A1", "x"), 1.40);
	build_reading(run, build_brew(run, "A2", "x"), 1.44);
	analysis = analyse(run, &settings);
	assert_int_equal(analysis->comparison.pair_count, 0);
	assert_near(analysis->treatments[0].mean, 19.88, 1e-12);
	assert_near(analysis->comparison.s_brew, 0.56 / sqrt(2.0), 1e-12);
	finish(analysis, run);
}

static void many_treatments_are_limited_and_say_so(void **state)
{
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;
	char label[16], name[16];

	(void)state;
	for (size_t t = 0; t < 200; t++)
		for (size_t b = 0; b < 2; b++) {
			snprintf(label, sizeof(label), "%zu-%zu", t, b);
			snprintf(name, sizeof(name), "t%zu", t);
			build_reading(run, build_brew(run, label, name), 1.2 + 0.001 * (double)t + 0.002 * (double)b);
		}
	analysis = analyse(run, &settings);
	assert_true(analysis->comparison.pairs_limited);
	assert_int_equal(analysis->comparison.pair_count, 199);
	/* 200 · 199 / 2; nobody is to read "none differs" of neighbours as one of all */
	assert_true(says(analysis, TOPIC_RESULT, "With 200 treatments there are 19900 pairs, too many to list"));
	assert_true(says(analysis, TOPIC_RESULT, "199 pairs of neighbours: 0 differ"));
	finish(analysis, run);
}

/* Every cup of one treatment shows 1.4 %, of the other 1.5 %, on a display of tenths: 14 points of yield a per cent. */
static struct run *coarse_display(void)
{
	struct run *run = build_run();
	char label[8];

	for (size_t i = 0; i < 6; i++) {
		uint32_t brew;

		snprintf(label, sizeof(label), "%zu", i + 1);
		brew = build_brew(run, label, i < 3 ? "a" : "b");
		run->brews[brew].number[BREW_BEVERAGE_G] = 280 + (i % 3 == 0) * 0.1;
		for (size_t n = 0; n < 3; n++)
			build_reading(run, brew, i < 3 ? 1.4 : 1.5)->decimals = 1;
	}
	return run;
}

static void a_coarse_display_is_no_certainty(void **state)
{
	struct settings settings = standard();
	struct run *run = coarse_display();
	struct analysis *analysis = analyse(run, &settings);
	const struct comparison *c = &analysis->comparison;
	double step_u = 14.0017 * 0.1 / sqrt(12), se;

	(void)state;
	assert_near(c->step_u, step_u, 1e-4);
	se = sqrt(c->s_brew * c->s_brew * 2 / 3 + 2 * step_u * step_u);
	assert_near(c->pairs[0].standard_error, se, 1e-4);
	assert_near(c->pairs[0].half_width, 2.7764451052 * se, 1e-3); /* t(0.975, 4) */
	assert_int_equal(c->pairs[0].verdict, VERDICT_OPEN);
	assert_near(analysis->treatments[0].upper - analysis->treatments[0].mean, 2.7764451052 * step_u, 1e-3);
	assert_true(says(analysis, TOPIC_RESULT, "Readings of one treatment scatter by less than the display's step"));
	finish(analysis, run);
	run = two_treatments(); /* brews apart by two steps and more: the display has no part in it */
	analysis = analyse(run, &settings);
	assert_near(analysis->comparison.step_u, 0, 0);
	assert_false(says(analysis, TOPIC_RESULT, "display's step"));
	finish(analysis, run);
}

/* A scale right within 0.5 g: u = 0.5/√3 g of the beverage and of the dose; by hand for 280 g, 20 g, 1.47 %. */
static void two_scales_stay_in_the_difference(void **state)
{
	static const char *const apart[] = { "s1", "s1", "s1", "s2", "s2", "s2" };
	static const char *const shared[] = { "s1", "s2", "s1", "s2", "s1", "s2" };
	struct settings settings = standard();
	double alone = NAN;

	(void)state;
	settings.scale_accuracy_g = 0.5;
	for (size_t way = 0; way < 3; way++) {
		struct run *run = two_treatments();
		struct analysis *analysis;
		const struct comparison *c;

		for (size_t b = 0; b < 6 && way > 0; b++)
			run->brews[b].word[BREW_SCALE] = slice_from(way == 1 ? apart[b] : shared[b]);
		analysis = analyse(run, &settings);
		c = &analysis->comparison;
		if (way == 0) {
			alone = c->pairs[0].standard_error;
			assert_near(c->scale_u, 0, 0);
		} else {
			double y = analysis->brews[analysis->budget_brew].yield.yield_percent;

			assert_near(c->scale_u, y * 0.5 / sqrt(3) * sqrt(1 / (280.0 * 280) + 1 / (20.0 * 20)), 1e-6);
			/* all of the one against all of the other; or two thirds against one third, of two scales */
			assert_rel_near(c->pairs[0].standard_error,
			                sqrt(alone * alone + (way == 1 ? 2.0 : 2.0 / 9) * c->scale_u * c->scale_u),
			                1e-9);
		}
		assert_true(says(analysis, TOPIC_RESULT, "weighed on different scales") == (way > 0));
		finish(analysis, run);
	}
}

/* Within rounds that lie apart, one treatment scatters and two do not; without the rounds' names the rounds drown it. */
static void unequal_spreads_show_within_rounds(void **state)
{
	static const double shift[] = { 0, 0.1, -0.1, 0.05, -0.05, 0.08 };
	static const double off[] = { 0.03, -0.04, 0.05, -0.03, 0.04, -0.05 };
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;
	char label[8], round[6][8];

	(void)state;
	for (size_t r = 0; r < 6; r++)
		for (size_t t = 0; t < 3; t++) {
			double tds = 1.4 + shift[r] + (t == 2 ? off[r] : 0.001 * (double)((r + t) % 3));
			uint32_t brew;

			snprintf(label, sizeof(label), "%zu%zu", r, t);
			snprintf(round[r], sizeof(round[r]), "r%zu", r);
			brew = build_brew(run, label, (const char *[]){ "a", "b", "c" }[t]);
			run->brews[brew].word[BREW_BLOCK] = slice_from(round[r]);
			build_reading(run, brew, tds);
		}
	analysis = analyse(run, &settings);
	assert_true(analysis->comparison.blocked);
	assert_true(analysis->comparison.levene_p < 0.05);
	assert_null(analysis->comparison.unequal);
	assert_true(says(analysis, TOPIC_RESULT, "the intervals are too short"));
	analysis_free(analysis);
	for (size_t b = 0; b < run->brew_count; b++)
		run->brews[b].word[BREW_BLOCK] = (struct slice){ 0 };
	analysis = analyse(run, &settings);
	assert_false(analysis->comparison.levene_p < 0.05);
	finish(analysis, run);
}

static void a_wait_that_nobody_waits_is_none(void **state)
{
	static const int64_t minutes[] = { 4, -1, 1441, 29453764 };
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;

	(void)state;
	for (size_t b = 0; b < 4; b++) {
		run->brews[b].brewed_us = INT64_C(1773479640000000);
		run->readings[b].line->taken_us = run->brews[b].brewed_us + minutes[b] * 60 * 1000000;
	}
	analysis = analyse(run, &settings);
	assert_near(analysis->brews[0].waited_s, 240, 1e-9);
	for (size_t b = 1; b < 4; b++)
		assert_true(isnan(analysis->brews[b].waited_s));
	finish(analysis, run);
}

/* Brewed at a time of day, read at a moment with a date: the nearest such time before it, if that is no half day. */
static void a_wait_from_a_time_of_day(void **state)
{
	static const int64_t read_minutes[] = { 10 * 60 + 35, 24 * 60 + 10, 10 * 60 + 29, 22 * 60 + 31 };
	static const int64_t brewed_minutes[] = { 10 * 60 + 30, 23 * 60 + 50, 10 * 60 + 30, 10 * 60 + 30 };
	static const double waited_s[] = { 300, 1200, NAN, NAN };
	struct settings settings = standard();
	struct run *run = two_treatments();
	struct analysis *analysis;

	(void)state;
	for (size_t b = 0; b < 4; b++) {
		run->brews[b].brewed_us = brewed_minutes[b] * 60 * 1000000;
		run->readings[b].line->taken_us = INT64_C(1772323200000000) + read_minutes[b] * 60 * 1000000;
	}
	analysis = analyse(run, &settings);
	for (size_t b = 0; b < 4; b++)
		assert_near(analysis->brews[b].waited_s, waited_s[b], 1e-9);
	finish(analysis, run);
}

static void a_treatment_with_few_brews_leaves_the_others_their_test(void **state)
{
	static const double tds[] = { 1.400, 1.401, 1.402, 1.399, 1.30, 1.50, 1.40, 1.60, 1.41, 1.42 };
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;
	char label[8];

	(void)state;
	for (size_t i = 0; i < 10; i++) {
		snprintf(label, sizeof(label), "%zu", i + 1);
		build_reading(run, build_brew(run, label, (const char *[]){ "a", "b", "c" }[i / 4]), tds[i]);
	}
	analysis = analyse(run, &settings);
	/* as without the third. Distances from the medians 1.4005 and 1.45, in thousandths: 0.5 0.5 1.5 1.5 and 150 50 50 150 */
	assert_near(analysis->comparison.levene_p, 2 * pt(-sqrt(2 * 99.0 * 99.0 / ((1.0 + 10000.0) / 6)), 6, 1, 0),
	            1e-9);
	assert_true(isfinite(analysis->comparison.welch_p));
	assert_int_equal(analysis->comparison.spread_left_out, 1);
	finish(analysis, run);
}

/* Five treatments close to one another: with the control alone a step is found that all pairs together do not show. */
static void letters_and_control_are_explained_where_they_disagree(void **state)
{
	static const double base[] = { 1.40, 1.412, 1.43, 1.431, 1.432, 1.433 };
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;
	bool shared = false;
	char label[8];

	(void)state;
	snprintf(settings.control, sizeof(settings.control), "a");
	for (size_t i = 0; i < 18; i++) {
		snprintf(label, sizeof(label), "%zu", i + 1);
		build_reading(run, build_brew(run, label, (const char *[]){ "a", "b", "c", "d", "e", "f" }[i / 3]),
		              base[i / 3] + 0.0045 * ((double)(i % 3) - 1));
	}
	analysis = analyse(run, &settings);
	for (size_t i = 0; i < 5; i++)
		shared = shared || (analysis->comparison.against[i].verdict == VERDICT_DIFFER &&
		                    strpbrk(analysis->treatments[analysis->comparison.against[i].a].letters,
		                            analysis->treatments[0].letters));
	assert_true(shared);
	assert_true(says(analysis, TOPIC_RESULT, "may share a letter with a and yet differ from it"));
	finish(analysis, run);
	run = two_treatments();
	snprintf(settings.control, sizeof(settings.control), "coarse");
	analysis = analyse(run, &settings);
	assert_false(says(analysis, TOPIC_RESULT, "share a letter"));
	finish(analysis, run);
}

/* Two treatments whose brews scatter by hundredths of a point, one by whole points. */
static void unequal_spreads_are_told_with_what_they_change(void **state)
{
	static const double tds[] = { 1.400, 1.401, 1.402, 1.399, 1.410, 1.411, 1.412, 1.409, 1.30, 1.50, 1.40, 1.60 };
	struct settings settings = standard();
	struct run *run = build_run();
	struct analysis *analysis;
	size_t otherwise = 0;
	char label[8], words[40];

	(void)state;
	for (size_t i = 0; i < 12; i++) {
		snprintf(label, sizeof(label), "%zu", i + 1);
		build_reading(run, build_brew(run, label, (const char *[]){ "a", "b", "c" }[i / 4]), tds[i]);
	}
	analysis = analyse(run, &settings);
	assert_true(analysis->comparison.levene_p < 0.05);
	/* pooled, a and b can't be told apart; by their own spreads of 0.0013 % TDS they differ by 0.14 points, eight times that */
	for (size_t i = 0; i < 3; i++)
		otherwise += analysis->comparison.unequal[i].verdict != analysis->comparison.pairs[i].verdict;
	assert_int_equal(otherwise, 1);
	snprintf(words, sizeof(words), "(Games–Howell) %zu of 3 verdicts", otherwise);
	assert_true(says(analysis, TOPIC_RESULT, "The brews of some treatments scatter more than those of others"));
	assert_true(says(analysis, TOPIC_RESULT, words));
	finish(analysis, run);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(compares_brew_means),
		cmocka_unit_test(readings_of_a_cup_do_not_count_as_brews),
		cmocka_unit_test(temperatures_that_matter_are_counted),
		cmocka_unit_test(one_brew_each_claims_nothing),
		cmocka_unit_test(history_gives_provisional_verdicts),
		cmocka_unit_test(corrects_for_the_zero_between_checks),
		cmocka_unit_test(without_times_the_order_stands_for_them),
		cmocka_unit_test(a_reading_left_out_is_left_out),
		cmocka_unit_test(names_that_are_not_there_are_refused),
		cmocka_unit_test(compares_with_the_control),
		cmocka_unit_test(any_numeric_column_can_be_compared),
		cmocka_unit_test(an_unweighed_beverage_is_estimated_and_said),
		cmocka_unit_test(a_slip_of_the_scale_is_flagged),
		cmocka_unit_test(a_scale_of_its_own_for_each_treatment_is_said),
		cmocka_unit_test(meters_apart_are_no_scatter_of_readings),
		cmocka_unit_test(cups_read_once_by_each_meter_tell_no_scatter),
		cmocka_unit_test(a_meter_of_its_own_for_each_treatment_is_said),
		cmocka_unit_test(each_meter_has_a_zero_of_its_own),
		cmocka_unit_test(unequal_doses_are_said),
		cmocka_unit_test(brewing_one_after_the_other_is_said),
		cmocka_unit_test(few_treatments_cannot_prove_a_cause),
		cmocka_unit_test(whole_rounds_are_taken_out_of_the_spread),
		cmocka_unit_test(rounds_without_every_treatment_adjust_the_differences),
		cmocka_unit_test(rounds_are_counted),
		cmocka_unit_test(columns_that_alias_together_are_named),
		cmocka_unit_test(empty_runs_say_so),
		cmocka_unit_test(equal_readings_leave_the_display_step),
		cmocka_unit_test(one_treatment_is_described_not_compared),
		cmocka_unit_test(many_treatments_are_limited_and_say_so),
		cmocka_unit_test(unequal_spreads_are_told_with_what_they_change),
		cmocka_unit_test(a_coarse_display_is_no_certainty),
		cmocka_unit_test(two_scales_stay_in_the_difference),
		cmocka_unit_test(unequal_spreads_show_within_rounds),
		cmocka_unit_test(a_wait_that_nobody_waits_is_none),
		cmocka_unit_test(a_wait_from_a_time_of_day),
		cmocka_unit_test(a_treatment_with_few_brews_leaves_the_others_their_test),
		cmocka_unit_test(letters_and_control_are_explained_where_they_disagree),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
