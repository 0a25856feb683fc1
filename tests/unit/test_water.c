/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Published values stand in tests/reference/test_optics.c. */
#include "near.h"
#include "water.h"

/* Kell's denominator is in circulation with two digits swapped: that would give 996.729 and a tenth of a °Brix. */
static void kell_has_its_digits_in_order(void **state)
{
	(void)state;
	assert_near(water_density_kell(25), 997.0448954, 1e-6); /* an example in the library chemicals */
}

static void density_is_greatest_near_4_degrees(void **state)
{
	(void)state;
	assert_near(water_density(3.983035), 999.974950, 1e-9); /* Tanaka et al. 2001: maximum and its place */
	assert_true(water_density(3) < water_density(3.983035));
	assert_true(water_density(5) < water_density(3.983035));
}

static void the_change_of_formula_is_harmless(void **state)
{
	(void)state;
	assert_near(water_density(40), water_density_tanaka(40), 0);
	assert_near(water_density(40.0001), water_density_kell(40.0001), 0);
	assert_near(water_index(nextafter(40, 100)), water_index(40), 3e-7);
}

static void index_falls_with_temperature(void **state)
{
	(void)state;
	for (double t = 0; t < 99.5; t += 0.5)
		assert_true(water_index(t + 0.5) < water_index(t));
}

/* Slopes at 589.3 nm, 1e-5 per kelvin, computed separately from Kell's density. */
static void index_falls_as_fast_as_it_should(void **state)
{
	static const struct {
		double temp_c;
		double slope;
	} rows[] = { { 10, -5.00e-5 }, { 15, -7.05e-5 }, { 20, -8.86e-5 }, { 25, -10.49e-5 }, { 30, -11.97e-5 } };

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
		assert_near((water_index(rows[i].temp_c + 0.1) - water_index(rows[i].temp_c - 0.1)) / 0.2,
		            rows[i].slope, 0.01e-5);
}

static void air_at_15_and_20_degrees(void **state)
{
	(void)state;
	assert_near(air_index(15, SODIUM_D_UM), 1.0002771, 1e-7); /* Ciddor 1996, computed separately */
	assert_near(air_index(20, SODIUM_D_UM), 1.0002724, 1e-7);
}

static void outside_its_range_there_is_no_index(void **state)
{
	(void)state;
	assert_near(water_index(-12.1), NAN, 0);
	assert_near(water_index(100.1), NAN, 0);
	assert_near(water_index(NAN), NAN, 0);
	assert_near(water_index(INFINITY), NAN, 0);
	assert_near(water_index_absolute(-1, 298.15, 0.5893), NAN, 0);
	assert_near(water_index_absolute(1061, 298.15, 0.5893), NAN, 0);
	assert_near(water_index_absolute(997, 261.1, 0.5893), NAN, 0);
	assert_near(water_index_absolute(997, 773.2, 0.5893), NAN, 0);
	assert_near(water_index_absolute(997, 298.15, 0.19), NAN, 0);
	assert_near(water_index_absolute(997, 298.15, 1.2), NAN, 0);
	assert_near(water_index_absolute(0, 298.15, 0.5893), 1, 0); /* nothing there: a vacuum */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(kell_has_its_digits_in_order),
		cmocka_unit_test(density_is_greatest_near_4_degrees),
		cmocka_unit_test(the_change_of_formula_is_harmless),
		cmocka_unit_test(index_falls_with_temperature),
		cmocka_unit_test(index_falls_as_fast_as_it_should),
		cmocka_unit_test(air_at_15_and_20_degrees),
		cmocka_unit_test(outside_its_range_there_is_no_index),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
