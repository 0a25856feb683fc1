/* SPDX-License-Identifier: GPL-3.0-or-later */
/* control_chart.h against the e-Handbook's worked charts and published run lengths. Sources: data/README-stats2.md. */
#include "near.h"

#include "control_chart.h"
#include "csv_table.h"
#include "describe.h"

#define MOST 32

static void constants(void **state)
{
	struct csv_table table = csv_table_read("control_constants.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t n = csv_count(&table, row, "n");

		assert_near(chart_d2(n), csv_number(&table, row, "d2"), 1e-9);
		assert_near(chart_d3(n), csv_number(&table, row, "d3"), 1e-9);
		assert_near(chart_c4(n), csv_number(&table, row, "c4"), 1e-9);
		assert_near(chart_E2(n), csv_number(&table, row, "E2"), 2e-9);
		assert_near(chart_D4(n), csv_number(&table, row, "D4"), 2e-9);
		assert_near(chart_D3(n), csv_number(&table, row, "D3"), 2e-9);
		assert_near(chart_A2(n), csv_number(&table, row, "A2"), 2e-9);
		assert_near(chart_B4(n), csv_number(&table, row, "B4"), 2e-9);
		assert_near(chart_B3(n), csv_number(&table, row, "B3"), 2e-9);
	}
	csv_table_release(&table);
}

/* The widely printed four-place table, from memory, beyond the reference file: d2 and d3 of 15, 20 and 25. */
static void constants_of_large_groups(void **state)
{
	(void)state;
	assert_near(chart_d2(15), 3.472, 5.1e-4);
	assert_near(chart_d3(15), 0.756, 1.1e-3);
	assert_near(chart_d2(20), 3.735, 5.1e-4);
	assert_near(chart_d3(20), 0.729, 1.1e-3);
	assert_near(chart_d2(25), 3.931, 5.1e-4);
	assert_near(chart_d3(25), 0.708, 1.1e-3);
}

/* e-Handbook 6.3.2.2 uses d2 = 1.128: 45.8159 and 55.8041; with d2 = 2/sqrt(pi) 45.817588 and 55.802412. */
static void individuals(void **state)
{
	double x[MOST];
	size_t n = csv_column(x, MOST, "nist_individuals_6322.csv", "x");
	struct individuals_chart chart = individuals_chart_of(x, n);

	(void)state;
	assert_near(chart.centre, 50.81, 1e-12);
	assert_near(chart.mr_mean, 1.8778, 5e-5);
	assert_near(chart.lower, 45.817588, 5e-7);
	assert_near(chart.upper, 55.802412, 5e-7);
	assert_near(chart.centre - 3 * chart.mr_mean / 1.128, 45.8159, 5.1e-5);
	assert_near(chart.centre + 3 * chart.mr_mean / 1.128, 55.8041, 5.1e-5);
	assert_true(chart.provisional);
	assert_false(chart.step_limited);
}

static void ewma_of_the_handbook(void **state)
{
	const struct ewma_chart chart = { .lambda = 0.3, .width = 3, .centre = 50, .sigma = 2.0539 };
	struct csv_table table = csv_table_read("nist_ewma_6324.csv");
	struct ewma_point points[MOST];
	double x[MOST];
	size_t n = csv_column(x, MOST, "nist_ewma_6324.csv", "x");

	(void)state;
	ewma_chart_points(points, &chart, x, n);
	for (size_t i = 0; i < n; i++) {
		assert_near(points[i].z, csv_number(&table, i, "ewma"), 1e-6);
		assert_near(points[i].z, csv_number(&table, i, "ewma_printed"), 0.005);
		assert_near(points[i].lower, csv_number(&table, i, "lcl_exact"), 1e-7);
		assert_near(points[i].upper, csv_number(&table, i, "ucl_exact"), 1e-7);
	}
	assert_near(50 - ewma_chart_reach(&chart), 47.4115, 1e-4);
	assert_near(50 + ewma_chart_reach(&chart), 52.5884, 1e-4);
	csv_table_release(&table);
}

/* The check standard: mean 97.06984, level-2 spread 0.02680 (e-Handbook 2.6.2). */
static void ewma_of_the_check_standard(void **state)
{
	struct csv_table table = csv_table_read("nist_checkstandard_mpc62_ewma_expected.csv");
	struct ewma_point points[MOST];
	struct ewma_chart chart = { .lambda = 0.2, .width = 3 };
	double y[MOST], sd[MOST], squares = 0;
	size_t n = csv_column(y, MOST, "nist_checkstandard_mpc62.csv", "y");

	(void)state;
	csv_column(sd, MOST, "nist_checkstandard_mpc62.csv", "sd6");
	chart.centre = values_mean(y, n);
	chart.sigma = values_sd(y, n);
	assert_near(chart.centre, 97.06984, 5e-6);
	assert_near(chart.sigma, 0.02680, 5e-6);
	ewma_chart_points(points, &chart, y, n);
	for (size_t i = 0; i < n; i++) {
		assert_near(points[i].z, csv_number(&table, i, "ewma_lambda0.2"), 6e-8);
		assert_near(points[i].lower, csv_number(&table, i, "lcl_k3"), 6e-9);
		assert_near(points[i].upper, csv_number(&table, i, "ucl_k3"), 6e-9);
		squares += sd[i] * sd[i];
	}
	assert_near(sqrt(squares / (double)n), 0.0613879, 5e-8);
	assert_near(chart_sd_limit(sqrt(squares / (double)n), 5, 125, 0.05), 0.0928313, 5e-8);
	csv_table_release(&table);
}

/* Textbook values, from memory: 3 sigma charts signal once in 370.4, 43.89, 6.30, 2.00 points at shifts 0 to 3. */
static void run_lengths_of_individuals(void **state)
{
	(void)state;
	assert_near(individuals_run_length(3, 0), 370.4, 0.05);
	assert_near(individuals_run_length(3, 1), 43.89, 0.006);
	assert_near(individuals_run_length(3, -1), 43.89, 0.006);
	assert_near(individuals_run_length(3, 2), 6.30, 0.005);
	assert_near(individuals_run_length(3, 3), 2.00, 0.005);
	assert_near(ewma_run_length(1, 3, 0), 370.4, 0.05);
	assert_near(ewma_run_length(1, 3, 2), 6.30, 0.005);
}

struct run_length {
	double lambda, width, at_half_sigma, at_one_sigma;
};

/*
 * Lucas and Saccucci, Technometrics 32 (1990) 1-12, the schemes of in-control
 * length 500 as textbooks reprint them; from memory. The widths are
 * printed to three places, hence 1 % of 500.
 */
static void run_lengths_of_ewma(void **state)
{
	static const struct run_length cases[] = {
		{ 0.40, 3.054, 71.2, 14.3 },
		{ 0.20, 2.962, 41.8, 10.5 },
		{ 0.10, 2.814, 31.3, 10.3 },
		{ 0.05, 2.615, 28.8, 11.4 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		const struct run_length *c = &cases[i];

		assert_rel_near(ewma_run_length(c->lambda, c->width, 0), 500, 0.01);
		assert_near(ewma_run_length(c->lambda, c->width, 0.5), c->at_half_sigma, 0.06);
		assert_near(ewma_run_length(c->lambda, c->width, 1), c->at_one_sigma, 0.06);
	}
	assert_rel_near(ewma_run_length(0.25, 2.998, 0), 500, 0.01);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(constants),
		cmocka_unit_test(constants_of_large_groups),
		cmocka_unit_test(individuals),
		cmocka_unit_test(ewma_of_the_handbook),
		cmocka_unit_test(ewma_of_the_check_standard),
		cmocka_unit_test(run_lengths_of_individuals),
		cmocka_unit_test(run_lengths_of_ewma),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
