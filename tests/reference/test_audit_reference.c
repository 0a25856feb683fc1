/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The audit against published examples, through the same calls as readings of a meter go. Sources of the data files:
 * data/README-stats2.md, data/README-comparisons.md; others stand beside the numbers.
 */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "audit.h"
#include "audit_chart.h"
#include "audit_gauge.h"
#include "audit_pair.h"
#include "csv_table.h"
#include "reading.h"

#define HOUR_US INT64_C(3600000000)

enum { MOST = 64 };

/* -- repeatability: ISO 5725-2:1994, B.1 ---------------------------------------- */

static struct audit *audit_of(const char *meter_name, const char *second)
{
	const struct audit_query query = audit_query_standard();
	struct audit *audit = audit_new(&query);
	struct error error = ERROR_INIT;
	struct meter meter = meter_standard();
	uint32_t index;

	assert_non_null(audit);
	meter.name = slice_from(meter_name);
	assert_int_equal(audit_meter_add(audit, &meter, &index, &error), STATUS_OK);
	meter.name = slice_from(second);
	if (second)
		assert_int_equal(audit_meter_add(audit, &meter, &index, &error), STATUS_OK);
	return audit;
}

static void add_reading(struct audit *audit, uint32_t meter, const char *label, double value, int decimals)
{
	static int64_t id;
	const struct audit_reading reading = {
		.id = id + 1,
		.at_us = INT64_C(1770000000000000) + id * 1000000,
		.label = slice_from(label),
		.shown = { value, decimals, UNIT_TDS_PERCENT },
		.temp_c = NAN,
		.standard_percent = NAN,
		.meter = meter,
		.role = READING_SAMPLE,
		.timed = true,
	};

	id++;
	assert_true(audit_add(audit, &reading));
}

/* Laboratories are the cups. Printed: s_r 0.015, 0.029, 0.017, 0.026 for the four levels. */
static void repeatability_of_sulfur_in_coal(void **state)
{
	static const double printed[] = { 0.015, 0.029, 0.017, 0.026 };
	static const double df[] = { 19, 18, 19, 19 };
	struct csv_table data = csv_table_read("iso5725_coal_sulfur.csv");
	struct csv_table want = csv_table_read("iso5725_coal_sulfur_expected.csv");
	struct error error = ERROR_INIT;

	(void)state;
	for (size_t level = 0; level < 4; level++) {
		struct audit *audit = audit_of("scales", NULL);

		for (size_t row = 0; row < data.rows; row++)
			if (csv_count(&data, row, "level") == level + 1)
				add_reading(audit, 0, csv_text(&data, row, "lab"), csv_number(&data, row, "y"), 2);
		assert_int_equal(audit_finish(audit, &error), STATUS_OK);
		assert_near(audit->meters[0].s_r, printed[level], 5e-4);
		assert_rel_near(audit->meters[0].s_r, csv_number(&want, level, "s_r"), 1e-11);
		assert_near(audit->meters[0].df, df[level], 0);
		assert_int_equal(audit->meters[0].spread.cups, 8);
		/* 1.959964 √2 s_r; the standard prints 2.8 */
		assert_rel_near(audit->meters[0].limit, 2.771808 * csv_number(&want, level, "s_r"), 1e-6);
		audit_free(audit);
	}
	csv_table_release(&want);
	csv_table_release(&data);
}

/* -- control charts ----------------------------------------------------------------- */

static struct audit_chart chart_of(struct audit_point *points, const double *x, size_t n, enum audit_subject subject)
{
	struct audit_chart chart = { .subject = subject, .points = points, .n = n };

	for (size_t i = 0; i < n; i++)
		points[i] = (struct audit_point){
			.at_us = (int64_t)i * HOUR_US, .id = (int64_t)i + 1, .value = x[i], .df = 5
		};
	assert_true(chart_compute(&chart, NAN));
	return chart;
}

/* e-Handbook 6.3.2.2: centre 50.81, mean range 1.8778; 45.8159 and 55.8041 with d2 = 1.128 in place of 2/√π = 1.128379. */
static void individuals_of_the_handbook(void **state)
{
	struct audit_point points[MOST];
	double x[MOST];
	size_t n = csv_column(x, MOST, "nist_individuals_6322.csv", "x");
	struct audit_chart chart = chart_of(points, x, n, AUDIT_ZERO);

	(void)state;
	assert_near(chart.limits.centre, 50.81, 1e-12);
	assert_near(chart.limits.mr_mean, 1.8778, 5e-5);
	assert_near(chart.lower, 45.817588, 5e-7);
	assert_near(chart.upper, 55.802412, 5e-7);
	assert_near(chart.limits.centre - (chart.limits.centre - chart.lower) * 1.1283791671 / 1.128, 45.8159, 5.1e-5);
	assert_near(chart.limits.centre + (chart.upper - chart.limits.centre) * 1.1283791671 / 1.128, 55.8041, 5.1e-5);
	assert_int_equal(chart.base, n);
	assert_true(chart.provisional);
	assert_int_equal(chart.told, 0);
}

/*
 * e-Handbook 2.6.2, the spread of each check against the pooled one, s1 = 0.06139: limit s1 √F(0.05; 5, 125) =
 * 0.0928313. The audit's chance of a false alarm is 0.0027 in place of 0.05, and F(0.0027; 5, 100) = 3.930363487 (R 4.2, qf):
 * of the first 20 checks.
 */
static void spread_of_the_check_standard(void **state)
{
	struct audit_point points[MOST];
	double sd[MOST], squares = 0;
	size_t n = csv_column(sd, MOST, "nist_checkstandard_mpc62.csv", "sd6");
	struct audit_chart chart = chart_of(points, sd, n, AUDIT_REPEATABILITY);

	(void)state;
	assert_int_equal(n, 25);
	assert_int_equal(chart.base, 20);
	for (size_t i = 0; i < 20; i++)
		squares += sd[i] * sd[i];
	assert_rel_near(chart.pooled, sqrt(squares / 20), 1e-13);
	assert_near(chart.pooled_df, 100, 0);
	for (size_t i = 0; i < n; i++) {
		assert_rel_near(points[i].upper, sqrt(squares / 20 * 3.930363487), 1e-9);
		assert_false(points[i].signals & CHART_BEYOND_3);
	}
}

struct rule {
	const char *name;
	unsigned signal;
	size_t n;
	double tail[16]; /* in sigma from the centre; the last one completes the run */
};

/* The tests for special causes of ISO 7870-2:2013, 8, behind twenty points without any. */
static void run_rule(void **state)
{
	static const double base[20] = { 0.3, -0.9, 1.6, -0.2, -1.7, 0.4,  1.1,  -1.3, 0.1,  -0.6,
		                         1.7, -0.8, 0.2, -1.5, 0.9,  -0.1, -0.7, 1.5,  -0.3, -0.4 };
	const struct rule *rule = *state;
	struct audit_point points[MOST];
	struct audit_chart chart;
	double x[MOST], centre = 0, ranges = 0, sigma;

	for (size_t i = 0; i < 20; i++) {
		centre += base[i] / 20;
		ranges += i > 0 ? fabs(base[i] - base[i - 1]) / 19 : 0;
	}
	sigma = ranges / 1.1283791670955126;
	memcpy(x, base, sizeof(base));
	for (size_t i = 0; i < rule->n; i++)
		x[20 + i] = centre + sigma * rule->tail[i];
	chart = chart_of(points, x, 20 + rule->n, AUDIT_ZERO);
	assert_int_equal(chart.base, 20);
	assert_false(chart.provisional);
	assert_rel_near(chart.sigma, sigma, 1e-10);
	for (size_t i = 0; i < 20; i++)
		assert_int_equal(points[i].signals, 0);
	assert_true(points[19 + rule->n].signals & rule->signal);
	assert_false(points[18 + rule->n].signals & rule->signal);
	assert_true(points[19 + rule->n].told);
}

static struct rule rules[] = {
	{ "rule: beyond 3 sigma", CHART_BEYOND_3, 2, { 2.9, 3.1 } },
	{ "rule: beyond 3 sigma, below", CHART_BEYOND_3, 2, { -2.9, -3.1 } },
	{ "rule: nine on one side", CHART_NINE_ONE_SIDE, 9, { 0.2, 0.9, 0.1, 0.5, 0.3, 1.3, 0.6, 0.2, 0.4 } },
	{ "rule: six rising", CHART_SIX_STEADY, 6, { -1.3, -0.9, -0.3, 0.3, 0.7, 1.1 } },
	{ "rule: six falling", CHART_SIX_STEADY, 6, { 1.3, 0.9, 0.3, -0.3, -0.7, -1.1 } },
	{ "rule: fourteen up and down",
	  CHART_FOURTEEN_ZIGZAG,
	  14,
	  /* the second goes on upwards from the base, so that the run begins with the first */
	  { 0.8, 1.4, -0.3, 1.2, 0.1, 0.7, -1.3, 0.4, -0.5, 1.5, -0.1, 0.8, -1.4, 0.2 } },
	{ "rule: two of three beyond 2", CHART_TWO_OF_THREE, 3, { 2.2, 0.4, 2.3 } },
	{ "rule: two of three beyond 2, below", CHART_TWO_OF_THREE, 2, { -2.2, -2.3 } },
	{ "rule: four of five beyond 1", CHART_FOUR_OF_FIVE, 5, { 1.2, 1.3, 0.1, 1.4, 1.2 } },
	{ "rule: fifteen within 1",
	  CHART_FIFTEEN_CLOSE,
	  16,
	  /* the first is beyond, so that the run begins behind it */
	  { 1.2, 0.2, -0.4, 0.6, 0.1, -0.8, 0.3, -0.2, 0.7, -0.5, -0.1, 0.4, -0.7, 0.5, -0.3, 0.2 } },
	{ "rule: eight beyond 1 on both sides", CHART_EIGHT_FAR, 8, { 1.3, -1.4, 1.2, 1.5, -1.3, -1.2, 1.4, -1.5 } },
};

/* -- instrument studies ----------------------------------------------------------------- */

static struct audit_gauge *gauge_of(const struct gauge_load *loads, size_t n, size_t samples, size_t operators,
                                    size_t days)
{
	const struct audit_query query = audit_query_standard();
	struct audit_gauge *gauge = calloc(1, sizeof(*gauge));

	assert_non_null(gauge);
	gauge->load = arena_take(&gauge->memory, n * sizeof(*loads));
	assert_non_null(gauge->load);
	memcpy(gauge->load, loads, n * sizeof(*loads));
	gauge->loads = n;
	gauge->samples = samples;
	gauge->operators = operators;
	gauge->days = days;
	gauge->step = NAN;
	assert_true(audit_gauge_compute(gauge, &query));
	return gauge;
}

/* Wafers are samples, the two runs operators, a day's six readings a load. */
static size_t read_probe(struct gauge_load *loads, const char *probe, size_t wafer_from, size_t wafers)
{
	struct csv_table table = csv_table_read("nist_gauge_mpc61.csv");
	size_t n = 0;

	for (size_t row = 0; row < table.rows; row++) {
		double s = csv_number(&table, row, "s");
		size_t wafer = csv_count(&table, row, "wafer") - 138;

		if (strcmp(csv_text(&table, row, "probe"), probe) != 0 || wafer < wafer_from ||
		    wafer >= wafer_from + wafers)
			continue;
		assert_true(n < MOST);
		loads[n++] = (struct gauge_load){
			.label = slice_from("load"),
			.sample = wafer - wafer_from,
			.operator= csv_count(&table, row, "run") - 1,
			.readings = { .n = 6, .mean = csv_number(&table, row, "y"), .ss = 5 * s * s },
		};
	}
	csv_table_release(&table);
	return n;
}

/* e-Handbook 2.4.4, pages mpc442 and mpc443: probe 2362: s2 of wafer 140 0.02742, s3 of all wafers 0.0197. */
static void gauge_study_of_the_handbook(void **state)
{
	struct gauge_load loads[MOST];
	size_t n = read_probe(loads, "2362", 0, 5);
	struct audit_gauge *gauge = gauge_of(loads, n, 5, 2, 0);

	(void)state;
	assert_int_equal(n, 60);
	assert_rel_near(gauge->levels.s1, 0.0728667254, 1e-8); /* the last digit of what an independent program gave */
	assert_rel_near(gauge->levels.s2, 0.0361682407, 1e-8);
	assert_near(gauge->levels.s3, 0.0197, 1e-4); /* printed from rounded averages */
	assert_int_equal(gauge->readings, 360);
	audit_gauge_free(gauge);
	n = read_probe(loads, "2362", 2, 1);
	gauge = gauge_of(loads, n, 1, 2, 0);
	assert_int_equal(n, 12);
	assert_near(gauge->levels.s2, 0.02742, 5e-6);
	assert_near(gauge->levels.s3, 0.0289, 1e-4);
	audit_gauge_free(gauge);
}

/*
 * JCGM 100:2008, H.5: ten days, five readings a day, one artefact. Printed: mean 10.000097 V, s_a 128 µV, s_b 85 µV,
 * between days s_B 43 µV, u 18 µV, 13 µV were there no days.
 */
static void days_of_the_guide(void **state)
{
	struct csv_table data = csv_table_read("gum_h5.csv");
	struct gauge_load loads[MOST];
	struct audit_gauge *gauge;

	(void)state;
	assert_int_equal(data.rows, 10);
	for (size_t i = 0; i < data.rows; i++) {
		double sd = csv_number(&data, i, "sd_uV") * 1e-6;

		loads[i] = (struct gauge_load){
			.label = slice_from("day"),
			.day = i,
			.readings = { .n = 5, .mean = csv_number(&data, i, "mean_V"), .ss = 4 * sd * sd },
		};
	}
	gauge = gauge_of(loads, data.rows, 1, 0, data.rows);
	assert_near(gauge->by_day.mean, 10.000097, 5e-7);
	assert_near(gauge->by_day.s_a * 1e6, 128, 0.5);
	assert_near(gauge->by_day.s_b * 1e6, 85, 0.5);
	assert_near(gauge->by_day.u_mean * 1e6, 18, 0.5);
	assert_near(gauge->by_day.u_mean_pooled * 1e6, 13, 0.5);
	assert_near(gauge->by_day.f, 2.25, 0.02); /* the Guide divides rounded numbers */
	/* balanced: restricted maximum likelihood gives what the analysis of variance gives */
	assert_true(gauge->part[GAUGE_DAY].present);
	assert_near(gauge->part[GAUGE_DAY].sd * 1e6, 43, 0.5);
	assert_near(gauge->part[GAUGE_READING].sd * 1e6, 85, 0.5);
	assert_near(gauge->se_mean * 1e6, 18, 0.5);
	audit_gauge_free(gauge);
	csv_table_release(&data);
}

/* ASTM E691-99, table 1, glucose in serum, materials D and E: eight laboratories as operators, three readings each. */
static void laboratories_of_the_glucose_study(void **state)
{
	struct csv_table data = csv_table_read("e691_glucose.csv");
	struct csv_table want = csv_table_read("e691_glucose_expected.csv");

	(void)state;
	for (size_t row = 0; row < want.rows; row++) {
		const char *material = csv_text(&want, row, "material");
		struct gauge_load loads[8];
		struct audit_gauge *gauge;

		if (strcmp(csv_text(&want, row, "set"), "corrected") != 0 || !(csv_number(&want, row, "s_L") > 0))
			continue;
		for (size_t lab = 0; lab < 8; lab++) {
			double y[3], mean = 0;
			size_t n = 0;

			for (size_t i = 0; i < data.rows; i++)
				if (csv_count(&data, i, "lab") == lab + 1 &&
				    strcmp(csv_text(&data, i, "material"), material) == 0)
					y[n++] = csv_number(&data, i, "y_corrected");
			assert_int_equal(n, 3);
			mean = (y[0] + y[1] + y[2]) / 3;
			loads[lab] = (struct gauge_load){
				.label = slice_from("lab"),
				.operator= lab,
				.readings = { .n = 3,
				              .mean = mean,
				              .ss = (y[0] - mean) * (y[0] - mean) + (y[1] - mean) * (y[1] - mean) +
				                    (y[2] - mean) * (y[2] - mean) },
			};
		}
		gauge = gauge_of(loads, 8, 1, 8, 0);
		assert_rel_near(gauge->part[GAUGE_OPERATOR].sd, csv_number(&want, row, "s_L"), 1e-6);
		assert_rel_near(gauge->part[GAUGE_READING].sd, csv_number(&want, row, "s_r"), 1e-6);
		assert_rel_near(gauge->s_gauge, csv_number(&want, row, "s_R"), 1e-6);
		audit_gauge_free(gauge);
	}
	csv_table_release(&want);
	csv_table_release(&data);
}

/* -- two meters ---------------------------------------------------------------------------- */

/*
 * Bland and Altman, Lancet 327 (1986) 307-310: peak flow of 17 people on two instruments, the first reading of each.
 * Data and results from memory, each result reproduced: mean difference -2.1, s 38.8, limits -79.7 and 75.5 with 2 s
 * in place of 1.96 s, interval of the bias -22.0 to 17.8. Here in 1/100 l/min, so that they are strengths that can be.
 */
static void peak_flow_on_two_instruments(void **state)
{
	static const double first[] = { 494, 395, 516, 434, 476, 557, 413, 442, 650,
		                        433, 417, 656, 267, 478, 178, 423, 427 };
	static const double other[] = { 512, 430, 520, 428, 500, 600, 364, 380, 658,
		                        445, 432, 626, 260, 477, 259, 350, 451 };
	struct audit *audit = audit_of("large", "mini");
	struct error error = ERROR_INIT;
	const struct audit_pair *pair;
	char label[16];

	(void)state;
	for (size_t i = 0; i < 17; i++) {
		snprintf(label, sizeof(label), "P%zu", i);
		add_reading(audit, 0, label, first[i] / 100, 2);
		add_reading(audit, 1, label, other[i] / 100, 2);
	}
	assert_int_equal(audit_finish(audit, &error), STATUS_OK);
	assert_int_equal(audit->pair_count, 1);
	pair = &audit->pairs[0];
	assert_int_equal(pair->n, 17);
	assert_near(pair->bias * 100, -2.1, 0.05);
	assert_near(pair->sd * 100, 38.8, 0.05);
	assert_near((pair->bias - 2 * pair->sd) * 100, -79.7, 0.1);
	assert_near((pair->bias + 2 * pair->sd) * 100, 75.5, 0.1);
	assert_near(pair->bias_lower * 100, -22.0, 0.06);
	assert_near(pair->bias_upper * 100, 17.8, 0.06);
	assert_near(pair->low, pair->bias - 1.959964 * pair->sd, 1e-6);
	/* printed -114.3 to -45.1 about -79.7 with √3 for √(1 + 1.96²/2 · 17/16) and t = 2.12: half a width of 34.6 */
	assert_near((pair->low_upper - pair->low_lower) / 2 * 100, 34.6, 0.3);
	audit_free(audit);
}

int main(void)
{
	const struct CMUnitTest fixed[] = {
		cmocka_unit_test(repeatability_of_sulfur_in_coal),
		cmocka_unit_test(individuals_of_the_handbook),
		cmocka_unit_test(spread_of_the_check_standard),
		cmocka_unit_test(gauge_study_of_the_handbook),
		cmocka_unit_test(days_of_the_guide),
		cmocka_unit_test(laboratories_of_the_glucose_study),
		cmocka_unit_test(peak_flow_on_two_instruments),
	};
	struct CMUnitTest by_rule[sizeof(rules) / sizeof(rules[0])];
	int failed = cmocka_run_group_tests_name("published examples", fixed, NULL, NULL);

	for (size_t i = 0; i < sizeof(rules) / sizeof(rules[0]); i++)
		by_rule[i] =
			(struct CMUnitTest){ .name = rules[i].name, .test_func = run_rule, .initial_state = &rules[i] };
	return failed + cmocka_run_group_tests_name("rules", by_rule, NULL, NULL);
}
