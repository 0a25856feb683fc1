/* SPDX-License-Identifier: GPL-3.0-or-later */
/* power.h against R 4.2.2 (power.t.test, power.anova.test). Data and sources: data/README-comparisons.md. */
#include "near.h"

#include <string.h>

#include "csv_table.h"
#include "power.h"

static enum power_test test_of(const struct csv_table *table, size_t row)
{
	return strcmp(csv_text(table, row, "type"), "paired") == 0 ? POWER_PAIRED : POWER_TWO_SAMPLE;
}

static void power_of_t(void **state)
{
	struct csv_table table = csv_table_read("power_t.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		double n = csv_number(&table, row, "n");
		double effect = csv_number(&table, row, "delta_over_sd");
		double alpha = csv_number(&table, row, "alpha");
		enum power_test test = test_of(&table, row);

		assert_near(power_t(test, n, effect, alpha), csv_number(&table, row, "power"), 2e-12);
		assert_near(power_t_strict(test, n, effect, alpha), csv_number(&table, row, "power_strict"), 2e-12);
	}
	csv_table_release(&table);
}

/* R's search for n stops at some 1e-6 of it. */
static void n_for_t(void **state)
{
	struct csv_table table = csv_table_read("power_t_n.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++)
		assert_rel_near(power_t_n(test_of(&table, row), csv_number(&table, row, "delta_over_sd"),
		                          csv_number(&table, row, "power"), csv_number(&table, row, "alpha")),
		                csv_number(&table, row, "n"), 1e-8);
	csv_table_release(&table);
}

/* R's non-central F stops its series at 1e-9. */
static void power_of_oneway(void **state)
{
	struct csv_table table = csv_table_read("power_anova.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++)
		assert_near(power_oneway(csv_count(&table, row, "groups"), csv_number(&table, row, "n"),
		                         csv_number(&table, row, "var_ratio"), csv_number(&table, row, "alpha")),
		            csv_number(&table, row, "power"), 1e-9);
	csv_table_release(&table);
}

static void n_for_oneway(void **state)
{
	struct csv_table table = csv_table_read("power_anova_n.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++)
		assert_rel_near(power_oneway_n(csv_count(&table, row, "groups"), csv_number(&table, row, "var_ratio"),
		                               csv_number(&table, row, "power"), 0.05),
		                csv_number(&table, row, "n"), 1e-8);
	csv_table_release(&table);
}

/* Printed in R's help pages of power.t.test and power.anova.test. */
static void help_pages(void **state)
{
	(void)state;
	assert_near(power_t(POWER_TWO_SAMPLE, 20, 1.0, 0.05), 0.8689528, 5e-8);
	assert_near(power_t_n(POWER_TWO_SAMPLE, 1.0, 0.90, 0.05), 22.02110, 6e-6);
	/* one-sided at 5 % is the chosen tail of two-sided at 10 % */
	assert_near(power_t_n(POWER_TWO_SAMPLE, 1.0, 0.90, 0.10), 17.84713, 1.5e-5);
	assert_near(power_oneway(4, 5, 1.0 / 3.0, 0.05), 0.3535594, 5e-8);
	assert_near(power_oneway(4, 5, 1.0 / 3.0, 0.05), 0.353559423815, 1e-9); /* R 4.2.2, more digits of the same */
	assert_near(power_oneway_n(4, 1.0 / 3.0, 0.80, 0.05), 11.92613, 2e-5);
}

/* Two groups: F is t squared, so power_oneway is the strict power of t; two independent ways of computing it. */
static void two_groups_are_t(void **state)
{
	(void)state;
	for (double effect = 0.0; effect < 5.0; effect += 0.4)
		for (double n = 2.0; n < 40.0; n *= 1.5)
			assert_near(power_oneway(2, n, 0.5 * effect * effect, 0.05),
			            power_t_strict(POWER_TWO_SAMPLE, n, effect, 0.05), 1e-12);
}

static void detectable(void **state)
{
	struct csv_table table = csv_table_read("power_detectable_difference.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		double sd_brew = csv_number(&table, row, "sb");
		double sd_reading = csv_number(&table, row, "se");
		size_t m = csv_count(&table, row, "m");

		assert_rel_near(sqrt(brew_mean_variance(sd_brew, sd_reading, m)),
		                csv_number(&table, row, "sd_brew_mean"), 1e-11);
		assert_rel_near(detectable_difference(csv_count(&table, row, "b"), m, sd_brew, sd_reading, 0.80, 0.05),
		                csv_number(&table, row, "delta_80"), 5e-6);
	}
	csv_table_release(&table);
}

static void best_readings(void **state)
{
	struct csv_table table = csv_table_read("optimal_readings.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		struct readings_plan plan = readings_best(csv_number(&table, row, "sb"), csv_number(&table, row, "se"),
		                                          csv_number(&table, row, "cost_brew"),
		                                          csv_number(&table, row, "cost_reading"));

		assert_rel_near(plan.real, csv_number(&table, row, "m_real"), 1e-11);
		assert_int_equal(plan.whole, csv_count(&table, row, "m_int"));
		assert_rel_near(plan.variance_times_cost, csv_number(&table, row, "var_times_cost"), 1e-11);
	}
	csv_table_release(&table);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(power_of_t),   cmocka_unit_test(n_for_t),       cmocka_unit_test(power_of_oneway),
		cmocka_unit_test(n_for_oneway), cmocka_unit_test(help_pages),    cmocka_unit_test(two_groups_are_t),
		cmocka_unit_test(detectable),   cmocka_unit_test(best_readings),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
