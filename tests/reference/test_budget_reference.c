/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Uncertainty budgets against the GUM (JCGM 100:2008) and its Monte Carlo supplement (JCGM 101:2008). */
#include <stdlib.h>
#include <string.h>

#include "budget.h"
#include "csv_rows.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static struct budget_source source(size_t input, double u, double df, enum budget_shape shape)
{
	return (struct budget_source){
		.name = "", .input = input, .u = u, .df = df, .shape = shape, .scope = SCOPE_OWN
	};
}

static double named(const struct csv_table *table, const char *column, const char *name)
{
	return csv_lookup(table, column, "name", name, NULL);
}

/* -- yields ------------------------------------------------------------------- */

static struct yield_input brew_of(const struct csv_row *row)
{
	return (struct yield_input){
		.method = METHOD_PERCOLATION,
		.dose_g = row->number[4],
		.water_g = NAN,
		.beverage_g = row->number[0],
		.bypass_g = NAN,
		.evaporated_g = NAN,
		.moisture_percent = NAN,
		.tds_percent = row->number[2],
		.retention_g_per_g = NAN,
	};
}

static void budget_of_a_yield(void **state)
{
	const struct csv_row *row = *state;
	const double *x = row->number;
	struct yield_input brew = brew_of(row);
	struct budget_source sources[] = {
		source(QUANTITY_BEVERAGE, x[1], INFINITY, SHAPE_RECTANGULAR),
		source(QUANTITY_TDS, x[3], INFINITY, SHAPE_RECTANGULAR),
		source(QUANTITY_DOSE, x[5], INFINITY, SHAPE_RECTANGULAR),
	};
	double u[] = { x[1], x[3], x[5] };
	double correlation[] = { 1, 0, x[6], 0, 1, 0, x[6], 0, 1 };
	double of_quantity[YIELD_QUANTITIES];
	double shares[3];
	struct budget budget;

	yield_budget(&brew, sources, 3, 0.95, &budget, shares);
	assert_rel_near(budget.value, x[7], 1e-12);
	for (int i = 0; i < 3; i++)
		assert_rel_near(shares[i] / 100, x[9 + i], 1e-8);
	yield_sensitivity(&brew, of_quantity);
	assert_rel_near(correlated_u((double[]){ of_quantity[QUANTITY_BEVERAGE], of_quantity[QUANTITY_TDS],
	                                         of_quantity[QUANTITY_DOSE] },
	                             u, correlation, 3),
	                x[8], 1e-9);
	if (x[6] == 0)
		assert_rel_near(budget.u, x[8], 1e-9);
}

static void montecarlo_of_a_yield(void **state)
{
	enum { DRAWS = 1000000 };
	struct csv_table table = csv_table_read("yield_montecarlo.csv");
	struct yield_input brew = { METHOD_PERCOLATION, 15, NAN, 250, NAN, NAN, NAN, 1.35, NAN };
	struct budget_source sources[] = {
		source(QUANTITY_BEVERAGE, limit_u(0.05), INFINITY, SHAPE_RECTANGULAR),
		source(QUANTITY_TDS, limit_u(0.005), INFINITY, SHAPE_RECTANGULAR),
		source(QUANTITY_DOSE, limit_u(0.05), INFINITY, SHAPE_RECTANGULAR),
	};
	double *draws = malloc(DRAWS * sizeof(*draws));
	struct montecarlo got;
	struct budget first_order;

	(void)state;
	assert_non_null(draws);
	yield_montecarlo(&brew, sources, 3, 20240229, 0.95, draws, DRAWS, &got);
	assert_near(got.mean, named(&table, "value", "mean"), 4 * 6.5e-5); /* four standard errors of a million draws */
	assert_near(got.sd, named(&table, "value", "sd"), 4 * 0.0648 / sqrt(2.0 * DRAWS));
	assert_near(got.low, named(&table, "value", "q_0.025"), 4 * 2e-4);
	assert_near(got.high, named(&table, "value", "q_0.975"), 4 * 2e-4);
	yield_budget(&brew, sources, 3, 0.95, &first_order, NULL);
	assert_near(first_order.u, named(&table, "value", "sd_first_order"), 1e-10);
	assert_near(got.sd, first_order.u, 3e-4);
	free(draws);
	csv_table_release(&table);
}

/* -- JCGM 101, 9.2: a sum of four ----------------------------------------------- */

static double sum_of_four(const double *x, const void *context)
{
	(void)context;
	return x[0] + x[1] + x[2] + x[3];
}

static void check_sum_of_four(enum budget_shape shape, const char *row)
{
	enum { DRAWS = 400000 };
	struct csv_table table = csv_table_read("yield_montecarlo.csv");
	double limit = named(&table, "value", row);
	double zeros[4] = { 0 };
	struct budget_source sources[4];
	double *draws = malloc(DRAWS * sizeof(*draws));
	struct montecarlo got;

	assert_non_null(draws);
	for (size_t i = 0; i < 4; i++)
		sources[i] = source(i, 1, INFINITY, shape);
	montecarlo_run(&(struct montecarlo_task){ .model = sum_of_four,
	                                          .context = NULL,
	                                          .values = zeros,
	                                          .inputs = 4,
	                                          .sources = sources,
	                                          .source_count = 4,
	                                          .seed = 1,
	                                          .confidence = 0.95 },
	               draws, DRAWS, &got);
	assert_near(got.mean, 0, 4 * 2 / sqrt(DRAWS));
	assert_near(got.sd, 2, 4 * 2 / sqrt(2.0 * DRAWS));
	/* Standard error of a 2.5 % point: √(0.025·0.975/m)/density, the density there is about 0.03. */
	assert_near(got.low, -limit, 4 * 0.0085);
	assert_near(got.high, limit, 4 * 0.0085);
	free(draws);
	csv_table_release(&table);
}

static void sum_of_four_normals(void **state)
{
	(void)state;
	check_sum_of_four(SHAPE_NORMAL, "jcgm101_9_2_2_limit");
}

static void sum_of_four_rectangles(void **state)
{
	(void)state;
	check_sum_of_four(SHAPE_RECTANGULAR, "jcgm101_9_2_3_limit");
}

/* -- GUM H.1: calibration of an end gauge --------------------------------------- */

enum { GAUGE_STANDARD, GAUGE_DIFFERENCE, GAUGE_EXPANSION, GAUGE_TEMP_DIFFERENCE, GAUGE_ALPHA, GAUGE_TEMP };

static const double gauge_nm[] = { 50000623, 215, 0, 0, 11.5e-6, -0.1 };

static double gauge_length(const double *x, const void *context)
{
	(void)context;
	return x[GAUGE_STANDARD] *
	               (1 - x[GAUGE_EXPANSION] * x[GAUGE_TEMP] - x[GAUGE_ALPHA] * x[GAUGE_TEMP_DIFFERENCE]) +
	       x[GAUGE_DIFFERENCE];
}

static void gum_h1_comparator(void **state)
{
	struct csv_table table = csv_table_read("gum_end_gauge.csv");
	double sensitivity[] = { 1 };
	struct budget_source sources[] = {
		source(0, 5.8, 24, SHAPE_NORMAL),                          /* H.1.3.2: repeated observations */
		source(0, 10 / coverage_factor(0.95, 5), 5, SHAPE_NORMAL), /* … random effects of the comparator */
		source(0, 20 / 3.0, 8, SHAPE_NORMAL),                      /* … its systematic effects */
	};
	struct budget d;

	(void)state;
	budget_combine(215, sensitivity, sources, COUNT(sources), 0.99, &d, NULL);
	assert_near(d.u, named(&table, "u_nm", "d"), 1e-6);
	assert_near(d.df, named(&table, "df", "d"), 1e-4);
	assert_near(d.u, named(&table, "printed", "d"), 0.05); /* as printed: 9.7, 25.6 */
	assert_near(d.df, 25.6, 0.05);
	csv_table_release(&table);
}

static void gum_h1_combined(void **state)
{
	struct csv_table table = csv_table_read("gum_end_gauge.csv");
	double sensitivity[] = { 1, 1, -gauge_nm[GAUGE_STANDARD] * gauge_nm[GAUGE_TEMP],
		                 -gauge_nm[GAUGE_STANDARD] * gauge_nm[GAUGE_ALPHA] };
	struct budget_source sources[] = {
		source(GAUGE_STANDARD, 25, 18, SHAPE_NORMAL),
		source(GAUGE_DIFFERENCE, named(&table, "u_nm", "d"), named(&table, "df", "d"), SHAPE_NORMAL),
		source(GAUGE_EXPANSION, limit_u(1e-6), 50, SHAPE_RECTANGULAR),
		source(GAUGE_TEMP_DIFFERENCE, limit_u(0.05), 2, SHAPE_RECTANGULAR),
	};
	double shares[4];
	struct budget got;

	(void)state;
	budget_combine(50000838, sensitivity, sources, 4, 0.99, &got, shares);
	assert_near(got.u, named(&table, "u_nm", "combined"), 1e-5);
	assert_near(got.df, named(&table, "df", "combined"), 1e-4);
	assert_near(got.coverage, named(&table, "u_nm", "k_99_at_16"), 1e-6);
	assert_near(got.expanded, named(&table, "u_nm", "U_99"), 1e-3);
	assert_near(got.u, named(&table, "printed", "combined"), 0.5); /* as printed: 32, 16, 2.92, 93 */
	assert_near(floor(got.df), 16, 0);
	assert_near(got.coverage, named(&table, "printed", "k_99_at_16"), 0.005);
	assert_near(got.expanded, named(&table, "printed", "U_99"), 0.6); /* the GUM multiplies rounded figures */
	assert_near(sqrt(shares[2] / 100) * got.u, named(&table, "u_nm", "delta_alpha"), 1e-6);
	assert_near(sqrt(shares[3] / 100) * got.u, named(&table, "u_nm", "delta_theta"), 1e-6);
	csv_table_release(&table);
}

/* H.1.7: with the terms of second order u is 34 nm. Monte Carlo has them without being told. */
static void gum_h1_second_order(void **state)
{
	enum { DRAWS = 200000 };
	struct csv_table table = csv_table_read("gum_end_gauge.csv");
	double second_order = named(&table, "u_nm", "combined_with_second_order");
	struct budget_source sources[] = {
		source(GAUGE_STANDARD, 25, INFINITY, SHAPE_NORMAL),
		source(GAUGE_DIFFERENCE, named(&table, "u_nm", "d"), INFINITY, SHAPE_NORMAL),
		source(GAUGE_EXPANSION, limit_u(1e-6), INFINITY, SHAPE_RECTANGULAR),
		source(GAUGE_TEMP_DIFFERENCE, limit_u(0.05), INFINITY, SHAPE_RECTANGULAR),
		source(GAUGE_ALPHA, limit_u(2e-6), INFINITY, SHAPE_RECTANGULAR),
		source(GAUGE_TEMP, 0.2, INFINITY, SHAPE_NORMAL),
		source(GAUGE_TEMP, 0.5 / sqrt(2), INFINITY, SHAPE_ARCSINE), /* the bed's temperature swings by 0.5 °C */
	};
	double *draws = malloc(DRAWS * sizeof(*draws));
	struct montecarlo got;

	(void)state;
	assert_non_null(draws);
	montecarlo_run(&(struct montecarlo_task){ .model = gauge_length,
	                                          .context = NULL,
	                                          .values = gauge_nm,
	                                          .inputs = COUNT(gauge_nm),
	                                          .sources = sources,
	                                          .source_count = COUNT(sources),
	                                          .seed = 7,
	                                          .confidence = 0.99 },
	               draws, DRAWS, &got);
	assert_near(got.mean, 50000838, 4 * 33.8 / sqrt(DRAWS));
	assert_near(got.sd, second_order, 4 * 33.8 / sqrt(2.0 * DRAWS));
	assert_true(got.sd > named(&table, "u_nm", "combined") + 1);
	free(draws);
	csv_table_release(&table);
}

/* -- GUM H.2: resistance and reactance, correlated readings ----------------------- */

static double mean_of(const struct csv_table *table, const char *column)
{
	double sum = 0;

	for (size_t i = 0; i < table->rows; i++)
		sum += csv_number(table, i, column);
	return sum / (double)table->rows;
}

/* Covariance of the means of two columns. */
static double covariance_of(const struct csv_table *table, const char *a, const char *b)
{
	double n = (double)table->rows;
	double sum = 0;

	for (size_t i = 0; i < table->rows; i++)
		sum += (csv_number(table, i, a) - mean_of(table, a)) * (csv_number(table, i, b) - mean_of(table, b));
	return sum / (n * (n - 1));
}

static void gum_h2(void **state)
{
	static const double independent[] = { 1, 0, 0, 0, 1, 0, 0, 0, 1 };
	static const char *const names[] = { "R", "X", "Z" };
	static const char *const columns[] = { "V_volt", "I_mA", "phi_rad" };
	struct csv_table data = csv_table_read("gum_impedance.csv");
	struct csv_table expected = csv_table_read("gum_impedance_expected.csv");
	double v = mean_of(&data, columns[0]);
	double i = mean_of(&data, columns[1]) / 1000; /* A */
	double phi = mean_of(&data, columns[2]);
	double value[] = { v / i * cos(phi), v / i * sin(phi), v / i };
	double sensitivity[3][3] = {
		{ value[0] / v, -value[0] / i, -value[1] },
		{ value[1] / v, -value[1] / i, value[0] },
		{ value[2] / v, -value[2] / i, 0 },
	};
	double u[3];
	double correlation[9];

	(void)state;
	for (size_t a = 0; a < 3; a++)
		u[a] = sqrt(covariance_of(&data, columns[a], columns[a]));
	for (size_t a = 0; a < 9; a++)
		correlation[a] = covariance_of(&data, columns[a / 3], columns[a % 3]) / (u[a / 3] * u[a % 3]);
	u[1] /= 1000;
	/* Printed in table H.2: s of the means 0.0032 V, 0.0095 mA, 0.00075 rad; r -0.36, 0.86, -0.65. */
	assert_near(u[0], 0.0032, 0.00005);
	assert_near(u[1], 0.0095e-3, 0.00005e-3);
	assert_near(u[2], 0.00075, 0.000005);
	assert_near(correlation[1], -0.36, 0.006);
	assert_near(correlation[2], 0.86, 0.006);
	assert_near(correlation[5], -0.65, 0.006);
	for (size_t q = 0; q < 3; q++) {
		assert_near(value[q], named(&expected, "value", names[q]), 1e-8);
		assert_near(correlated_u(sensitivity[q], u, correlation, 3), named(&expected, "u", names[q]), 1e-7);
		assert_near(correlated_u(sensitivity[q], u, correlation, 3), named(&expected, "printed_u", names[q]),
		            0.0006);
		assert_near(correlated_u(sensitivity[q], u, independent, 3),
		            named(&expected, "u_uncorrelated", names[q]), 1e-7);
	}
	csv_table_release(&data);
	csv_table_release(&expected);
}

/* -- GUM G.4.1: a product of three, relative uncertainties 0.25, 0.57, 0.82 % ------- */

static void gum_g41(void **state)
{
	double sensitivity[] = { 1, 1, 1 };
	struct budget_source sources[] = {
		source(0, 0.25, 9, SHAPE_NORMAL),
		source(1, 0.57, 4, SHAPE_NORMAL),
		source(2, 0.82, 14, SHAPE_NORMAL),
	};
	struct budget got;

	(void)state;
	budget_combine(100, sensitivity, sources, 3, 0.95, &got, NULL);
	assert_near(got.u, 1.03, 0.005); /* printed; the next digits computed separately */
	assert_near(got.u, 1.029466, 1e-6);
	assert_near(got.df, 19.0, 0.05);
	assert_near(got.df, 18.998742, 1e-6);
	assert_near(effective_df((double[]){ 0.25, 0.57, 0.82 }, (double[]){ 9, 4, 14 }, 3), 18.998742, 1e-6);
	/* The GUM has t = 2.09 at 19 degrees of freedom; cut off at 18 as its note to G.4.1 tells, it is 2.1009. */
	assert_near(got.coverage, 2.1009, 0.00005);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(montecarlo_of_a_yield),
		cmocka_unit_test(sum_of_four_normals),
		cmocka_unit_test(sum_of_four_rectangles),
		cmocka_unit_test(gum_h1_comparator),
		cmocka_unit_test(gum_h1_combined),
		cmocka_unit_test(gum_h1_second_order),
		cmocka_unit_test(gum_h2),
		cmocka_unit_test(gum_g41),
	};

	return cmocka_run_group_tests(tests, NULL, NULL) + csv_rows_run("yield_budget.csv", budget_of_a_yield);
}
