/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Published values stand in tests/reference/test_optics.c. */
#include "near.h"
#include "sucrose.h"
#include "water.h"

static void the_inverse_undoes_the_index(void **state)
{
	static const double temps_c[] = { -5, 5, 10, 15, 20, 20.5, 25, 30, 40, 60, 100 };

	(void)state;
	for (size_t i = 0; i < sizeof(temps_c) / sizeof(temps_c[0]); i++) {
		for (double w = -20; w <= SUCROSE_PERCENT_MAX; w += 0.37)
			assert_near(sucrose_percent(sucrose_index(w, temps_c[i]), temps_c[i]), w, 1e-12);
	}
}

static void both_ends_of_the_scale_come_back(void **state)
{
	(void)state;
	assert_near(sucrose_percent(sucrose_index_20(0), 20), 0, 0);
	assert_near(sucrose_percent(1.33299, 20), 0, 0); /* ICUMSA 1974: water */
	assert_near(sucrose_percent(sucrose_index_20(SUCROSE_PERCENT_MAX), 20), SUCROSE_PERCENT_MAX, 1e-12);
	assert_near(sucrose_percent(1.50398, 20), SUCROSE_PERCENT_MAX, 0.0043); /* ICUMSA 1974; the fit lies lower */
}

static void index_rises_with_strength_and_falls_with_temperature(void **state)
{
	(void)state;
	for (double w = -5; w < 84.5; w += 0.5) {
		assert_true(sucrose_index(w + 0.5, 20) > sucrose_index(w, 20));
		assert_true(sucrose_index(w + 0.5, 35) > sucrose_index(w, 35));
	}
	for (double t = 0; t < 60; t += 1)
		assert_true(sucrose_index(10, t + 1) < sucrose_index(10, t));
}

static void water_has_the_index_of_water(void **state)
{
	(void)state;
	for (double t = 0; t <= 100; t += 2.5)
		assert_near(sucrose_index(0, t) - sucrose_index(0, 20), water_index(t) - water_index(20), 3e-16);
}

static void slope_is_that_of_the_index(void **state)
{
	(void)state;
	/* Derived from the table by hand: 0.001427 at 0 %, 0.001444 at 1.5 %, 0.001541 at 10 %. */
	assert_near(sucrose_slope_20(0), 0.001427, 5e-7);
	assert_near(sucrose_slope_20(1.5), 0.001444, 5e-7);
	assert_near(sucrose_slope_20(10), 0.001541, 5e-7);
	for (double w = 0.5; w < 84; w += 1)
		assert_rel_near(sucrose_slope_20(w), (sucrose_index_20(w + 1e-3) - sucrose_index_20(w - 1e-3)) / 2e-3,
		                1e-8);
}

static void below_zero_it_is_a_straight_line(void **state)
{
	double step = sucrose_index_20(0) - sucrose_index_20(-1);

	(void)state;
	assert_near(step, sucrose_slope_20(0), 1e-15);
	assert_near(sucrose_index_20(-3), sucrose_index_20(0) - 3 * step, 1e-15);
	assert_near(sucrose_slope_20(-3), sucrose_slope_20(0), 0);
	assert_near(sucrose_percent(sucrose_index_20(-3), 20), -3, 1e-12);
}

static void beyond_the_table_there_is_nothing(void **state)
{
	(void)state;
	assert_near(sucrose_index_20(85.1), NAN, 0);
	assert_near(sucrose_slope_20(85.1), NAN, 0);
	assert_near(sucrose_index(NAN, 20), NAN, 0);
	assert_near(sucrose_index(10, 120), NAN, 0);
	assert_near(sucrose_index(10, NAN), NAN, 0);
	assert_near(sucrose_percent(1.51, 20), NAN, 0);
	assert_near(sucrose_percent(INFINITY, 20), NAN, 0);
	assert_near(sucrose_percent(-INFINITY, 20), NAN, 0);
	assert_near(sucrose_percent(1.34, NAN), NAN, 0);
	assert_near(sucrose_percent(NAN, 20), NAN, 0);
}

static void the_model_says_where_it_ends(void **state)
{
	static const struct {
		double w;
		double temp_c;
		bool extrapolated;
	} rows[] = {
		{ 1.5, 20, false }, { 85, 20, false }, { -0.05, 20, false }, { -1.5, 20, true },
		{ 85.5, 20, true }, { 20, 40, false }, { 0, 10, false },     { 20.5, 25, true },
		{ 5, 9.9, true },   { 5, 40.1, true }, { NAN, 20, true },    { 5, NAN, true },
	};

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
		assert_int_equal(sucrose_extrapolated(rows[i].w, rows[i].temp_c), rows[i].extrapolated);
}

static void a_solution_is_made_by_mass(void **state)
{
	struct sucrose_solution made = sucrose_solution_make(12.5, 200, 20);

	(void)state;
	assert_near(made.sucrose_g, 25, 1e-12);
	assert_near(made.water_g, 175, 1e-12);
	assert_near(made.strength_percent, 12.5, 0);
	assert_near(made.index, 1.35171, 1e-5); /* OIV OENO 21/2004, table II */
	assert_near(sucrose_strength_percent(made.sucrose_g, made.water_g), 12.5, 1e-12);
	assert_near(sucrose_solution_make(0, 100, 20).water_g, 100, 0);
}

static void a_solution_that_cannot_be_made(void **state)
{
	(void)state;
	assert_near(sucrose_solution_make(-1, 100, 20).sucrose_g, NAN, 0);
	assert_near(sucrose_solution_make(86, 100, 20).index, NAN, 0);
	assert_near(sucrose_solution_make(10, 0, 20).water_g, NAN, 0);
	assert_near(sucrose_solution_make(10, INFINITY, 20).water_g, NAN, 0);
	assert_near(sucrose_strength_percent(-1, 10), NAN, 0);
	assert_near(sucrose_strength_percent(1, -0.5), NAN, 0);
	assert_near(sucrose_strength_percent(0, 0), NAN, 0);
	assert_near(sucrose_strength_percent(INFINITY, 1), NAN, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_inverse_undoes_the_index),
		cmocka_unit_test(both_ends_of_the_scale_come_back),
		cmocka_unit_test(index_rises_with_strength_and_falls_with_temperature),
		cmocka_unit_test(water_has_the_index_of_water),
		cmocka_unit_test(slope_is_that_of_the_index),
		cmocka_unit_test(below_zero_it_is_a_straight_line),
		cmocka_unit_test(beyond_the_table_there_is_nothing),
		cmocka_unit_test(the_model_says_where_it_ends),
		cmocka_unit_test(a_solution_is_made_by_mass),
		cmocka_unit_test(a_solution_that_cannot_be_made),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
