/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What becomes of a chart's points: base, limits, the display's step, which signals are told. */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "audit_chart.h"

enum { MOST = 256 };

static struct audit_chart chart_of(struct audit_point *points, const double *x, size_t n, enum audit_subject subject,
                                   double step)
{
	struct audit_chart chart = { .subject = subject, .points = points, .n = n };

	assert_true(n <= MOST);
	for (size_t i = 0; i < n; i++)
		points[i] = (struct audit_point){ .id = (int64_t)i + 1, .value = x[i], .df = 4 };
	assert_true(chart_compute(&chart, step));
	return chart;
}

/* Twenty, from 40 on half of them, a hundred at most. */
static void the_base_leaves_room_for_a_drift(void **state)
{
	static const size_t points[] = { 2, 19, 20, 39, 40, 41, 60, 199, 200, 201, 5000 };
	static const size_t bases[] = { 2, 19, 20, 20, 20, 20, 30, 99, 100, 100, 100 };

	(void)state;
	for (size_t i = 0; i < sizeof(points) / sizeof(points[0]); i++)
		assert_int_equal(chart_base(points[i]), bases[i]);
}

/*
 * Ranges 0.02, 0.04, 0.02, 0.04, … of 0, 0.02, -0.02, 0, 0.04, 0, …: sigma is their mean over 1.128379. EWMA by hand:
 * z1 = 0.2 x1 + 0.8 centre, and so on.
 */
static void limits_and_weighted_mean_by_hand(void **state)
{
	static const double x[4] = { 0.00, 0.02, -0.02, 0.04 };
	struct audit_point points[MOST];
	struct audit_chart chart = chart_of(points, x, 4, AUDIT_ZERO, NAN);
	double sigma = (0.02 + 0.04 + 0.06) / 3 / 1.1283791671, z = 0.01;

	(void)state;
	assert_near(chart.limits.centre, 0.01, 1e-15);
	assert_near(chart.sigma, sigma, 1e-10);
	assert_near(chart.upper, 0.01 + 3 * sigma, 1e-10);
	assert_near(chart.lower, 0.01 - 3 * sigma, 1e-10);
	assert_true(isnan(points[0].range));
	assert_near(points[3].range, 0.06, 1e-15);
	for (size_t i = 0; i < 4; i++) {
		z = 0.2 * x[i] + 0.8 * z;
		assert_near(points[i].z, z, 1e-14);
		/* 3 sigma √(0.2/1.8 (1 - 0.64^t)) */
		assert_near(points[i].z_upper - 0.01, 3 * sigma * sqrt(0.2 / 1.8 * (1 - pow(0.64, (double)i + 1))),
		            1e-10);
	}
	assert_true(chart.provisional);
}

/* Readings that hardly leave one step of the display: no narrower limits than a step and a half, and no runs. */
static void the_display_sets_the_spread(void **state)
{
	struct audit_point points[MOST];
	double x[40];
	struct audit_chart chart;

	(void)state;
	for (size_t i = 0; i < 40; i++)
		x[i] = i % 7 == 0 ? 0.01 : 0.00;
	x[38] = 0.01;
	chart = chart_of(points, x, 40, AUDIT_ZERO, 0.01);
	assert_true(chart.step_limited);
	assert_near(chart.sigma, 0.005, 1e-15);
	assert_near(chart.upper - chart.limits.centre, 0.015, 1e-15);
	assert_int_equal(chart.told, 0);
	x[39] = 0.04;
	chart = chart_of(points, x, 40, AUDIT_ZERO, 0.01);
	assert_true(points[39].signals & CHART_BEYOND_3);
	assert_int_equal(chart.told, 1);
}

static void all_alike(void **state)
{
	struct audit_point points[MOST];
	double x[25] = { 0 };
	struct audit_chart chart = chart_of(points, x, 25, AUDIT_ZERO, NAN);

	(void)state;
	assert_int_equal(chart.told, 0);
	chart = chart_of(points, x, 25, AUDIT_REPEATABILITY, 0.01);
	assert_near(chart.pooled, 0, 0);
	assert_int_equal(chart.told, 0);
}

/* A row of points with the same signal is told once; a new kind of signal, or one after a quiet point, again. */
static void a_row_of_signals_is_told_once(void **state)
{
	static const double base[20] = { 0.3, -0.9, 1.6, -0.2, -1.7, 0.4,  1.1,  -1.3, 0.1,  -0.6,
		                         1.7, -0.8, 0.2, -1.5, 0.9,  -0.1, -0.7, 1.5,  -0.3, -0.4 };
	struct audit_point points[MOST];
	double x[27];
	struct audit_chart chart;

	(void)state;
	memcpy(x, base, sizeof(base));
	for (size_t i = 20; i < 24; i++)
		x[i] = 9.0;
	x[24] = -9.0; /* far on the other side: one more of the same kind */
	x[25] = 0.0;
	x[26] = 0.1;
	chart = chart_of(points, x, 27, AUDIT_ZERO, NAN);
	assert_int_equal(points[19].signals, 0);
	assert_true(points[20].told);
	assert_true(points[20].signals & AUDIT_EWMA);
	assert_true(points[21].told); /* two of three beyond 2 sigma is new */
	assert_false(points[22].told);
	assert_true(chart.told >= 2);
}

/* Sessions of 4 degrees of freedom about a pooled s of 0.01. */
static void only_too_large_a_spread_is_a_signal(void **state)
{
	struct audit_point points[MOST];
	double x[41];
	struct audit_chart chart;

	(void)state;
	for (size_t i = 0; i < 41; i++)
		x[i] = i % 2 ? 0.012 : 0.0074833147735; /* squares 1.44e-4 and 0.56e-4: mean 1e-4 */
	x[40] = 0.0001;
	chart = chart_of(points, x, 41, AUDIT_REPEATABILITY, 0.001);
	assert_int_equal(chart.base, 20);
	assert_near(chart.pooled, 0.01, 1e-12);
	assert_near(chart.pooled_df, 80, 0);
	/* F(0.0027; 4, 80) = 4.444878431 (R 4.2, qf) */
	assert_near(points[0].upper, 0.01 * sqrt(4.444878431), 1e-9);
	assert_int_equal(points[40].signals, 0);
	/* a score is the normal z of the same probability: P(χ²(4) < 4 · 1.44) = 0.7821 (R): z = 0.7794 */
	assert_near(points[1].score, 0.7794, 5e-4);
	x[40] = 0.025;
	chart = chart_of(points, x, 41, AUDIT_REPEATABILITY, 0.001);
	assert_true(points[40].signals & CHART_BEYOND_3);
	assert_true(points[40].told);
	/* beyond all that doubles can tell: no infinity */
	x[40] = 10;
	chart = chart_of(points, x, 41, AUDIT_REPEATABILITY, 0.001);
	assert_near(points[40].score, 6, 0);
}

static void a_slow_drift_reaches_the_weighted_mean_first(void **state)
{
	static const double base[20] = { 0.3, -0.9, 1.6, -0.2, -1.7, 0.4,  1.1,  -1.3, 0.1,  -0.6,
		                         1.7, -0.8, 0.2, -1.5, 0.9,  -0.1, -0.7, 1.5,  -0.3, -0.4 };
	struct audit_point points[MOST];
	double x[60];
	size_t by_ewma = 0, by_point = 0;

	(void)state;
	for (size_t i = 0; i < 60; i++)
		x[i] = base[i % 20] + (i >= 40 ? 0.15 * (double)(i - 39) : 0);
	chart_of(points, x, 60, AUDIT_STANDARD, NAN);
	for (size_t i = 60; i-- > 40;) {
		by_ewma = points[i].signals & AUDIT_EWMA ? i : by_ewma;
		by_point = points[i].signals & CHART_BEYOND_3 ? i : by_point;
	}
	assert_true(by_ewma > 40);
	assert_true(by_point == 0 || by_ewma <= by_point);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_base_leaves_room_for_a_drift),
		cmocka_unit_test(limits_and_weighted_mean_by_hand),
		cmocka_unit_test(the_display_sets_the_spread),
		cmocka_unit_test(all_alike),
		cmocka_unit_test(a_row_of_signals_is_told_once),
		cmocka_unit_test(only_too_large_a_spread_is_a_signal),
		cmocka_unit_test(a_slow_drift_reaches_the_weighted_mean_first),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
