/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Budgets of the GUM and of whole yields stand in tests/reference/test_budget_reference.c. */
#include <stdlib.h>
#include <string.h>

#include "budget.h"
#include "near.h"

static const struct yield_input drip = { METHOD_PERCOLATION, 20, 320, 278, NAN, NAN, NAN, 1.38, NAN };
static const struct yield_input drip_unweighed = { METHOD_PERCOLATION, 20, 320, NAN, NAN, NAN, NAN, 1.38, NAN };
static const struct yield_input steep = { METHOD_IMMERSION, 15, 250, NAN, NAN, NAN, NAN, 1.30, NAN };
static const struct yield_input steep_bypass = { METHOD_IMMERSION, 15, 250, 300, 80, NAN, NAN, 0.95, NAN };

static const struct brew_knowledge ordinary = {
	.reading_s_percent = 0.012,
	.reading_df = 10,
	.reading_count = 3,
	.meter_step_percent = 0.01,
	.meter_limit_percent = 0.03,
	.temp_u_percent = NAN,
	.retention_u = NAN,
	.dose = { .step_g = 0.1, .limit_g = 0.2, .by_difference = true, .shared_scale = true },
	.water = { .step_g = 1, .limit_g = NAN },
	.beverage = { .step_g = 0.1, .limit_g = 0.2, .by_difference = false, .shared_scale = false },
	.bypass = { .step_g = 1, .limit_g = NAN },
};

static struct budget_source source(size_t input, double u, double df, enum budget_scope scope)
{
	return (struct budget_source){ "", input, u, df, SHAPE_NORMAL, scope };
}

/* -- single uncertainties -------------------------------------------------------------- */

static void uncertainties_of_type_b(void **state)
{
	(void)state;
	/* GUM F.2.2.1: 0.29 of the step; 4.3.7: a/√3. The long digits are those of data/yield_budget.csv. */
	assert_near(step_u(0.1), 0.0288675134595, 1e-12);
	assert_near(limit_u(0.05), 0.0288675134595, 1e-12);
	assert_near(difference_u(0.1), 0.0408248290464, 1e-12);
	assert_near(hypot(mean_u(0.006, 3, 0.01), limit_u(0.02)), 0.0123962359879, 1e-12);
	assert_near(beverage_estimate_u(20, 1.38, 0.3), 6 / 0.9862, 1e-12);
}

static void identical_readings_are_not_certain(void **state)
{
	(void)state;
	assert_near(mean_u(0, 3, 0.01), step_u(0.01), 0);
}

static void uncertainties_of_nonsense(void **state)
{
	(void)state;
	assert_near(step_u(-0.1), NAN, 0);
	assert_near(limit_u(INFINITY), NAN, 0);
	assert_near(difference_u(NAN), NAN, 0);
	assert_near(mean_u(0.01, 0, 0.01), NAN, 0);
	assert_near(mean_u(-0.01, 3, 0.01), NAN, 0);
	assert_near(beverage_estimate_u(0, 1.38, 0.3), NAN, 0);
	assert_near(beverage_estimate_u(20, 100, 0.3), NAN, 0);
	assert_near(beverage_estimate_u(20, 1.38, -0.3), NAN, 0);
}

/* -- combining ---------------------------------------------------------------------------- */

static void effective_df_has_its_limits(void **state)
{
	double parts[] = { 3, 4 };

	(void)state;
	assert_near(effective_df(parts, (double[]){ INFINITY, INFINITY }, 2), INFINITY, 0);
	assert_near(effective_df(parts, (double[]){ 5, INFINITY }, 2), 625.0 * 5 / 81, 1e-12);
	assert_near(effective_df(parts, (double[]){ 5, 0 }, 2), NAN, 0);
	assert_near(effective_df(parts, (double[]){ 5, NAN }, 2), NAN, 0);
	assert_near(effective_df((double[]){ 0, 0 }, (double[]){ 5, 5 }, 2), INFINITY, 0);
	assert_near(effective_df(NULL, NULL, 0), INFINITY, 0);
}

static void coverage_factors(void **state)
{
	(void)state;
	/* Table G.2 of the GUM, to its three decimals. */
	assert_near(coverage_factor(0.95, 1), 12.71, 0.005);
	assert_near(coverage_factor(0.95, 10), 2.23, 0.005);
	assert_near(coverage_factor(0.99, 20), 2.85, 0.005);
	assert_near(coverage_factor(0.95, INFINITY), 1.959963985, 1e-9);              /* normal quantile */
	assert_near(coverage_factor(0.95, 10.9), coverage_factor(0.95, 10), 0);       /* rounded down */
	assert_near(coverage_factor(0.95, 11 - 1e-12), coverage_factor(0.95, 11), 0); /* but not for rounding's sake */
	assert_near(coverage_factor(0.95, 0.9), NAN, 0);
	assert_near(coverage_factor(0.95, NAN), NAN, 0);
	assert_near(coverage_factor(0, 10), NAN, 0);
	assert_near(coverage_factor(1, 10), NAN, 0);
}

static void own_and_common_are_kept_apart(void **state)
{
	double sensitivity[] = { 2, 1 };
	struct budget_source sources[] = {
		source(0, 1.5, 6, SCOPE_OWN),
		source(1, 4, INFINITY, SCOPE_COMMON),
	};
	double shares[2];
	struct budget got;

	(void)state;
	budget_combine(10, sensitivity, sources, 2, 0.95, &got, shares);
	assert_near(got.value, 10, 0);
	assert_near(got.u, 5, 1e-15); /* 3 and 4 */
	assert_near(got.u_own, 3, 1e-15);
	assert_near(got.u_common, 4, 1e-15);
	assert_near(got.df, 625.0 * 6 / 81, 1e-12);
	assert_near(got.df_own, 6, 1e-12);
	assert_near(shares[0], 36, 1e-12);
	assert_near(shares[1], 64, 1e-12);
	assert_near(got.expanded, got.coverage * 5, 1e-12);
	assert_near(budget_difference_u(&got, &got), sqrt(18), 1e-12);
}

static void a_budget_of_nothing(void **state)
{
	double sensitivity[] = { 1 };
	struct budget_source none = source(0, 0, 5, SCOPE_OWN);
	struct budget_source bad = source(0, -1, 5, SCOPE_OWN);
	double share;
	struct budget got;

	(void)state;
	budget_combine(3, sensitivity, NULL, 0, 0.95, &got, NULL);
	assert_near(got.u, 0, 0);
	assert_near(got.expanded, 0, 0);
	budget_combine(3, sensitivity, &none, 1, 0.95, &got, &share);
	assert_near(got.u, 0, 0);
	assert_near(share, NAN, 0);
	budget_combine(3, sensitivity, &bad, 1, 0.95, &got, &share);
	assert_near(got.u, NAN, 0);
	assert_near(got.expanded, NAN, 0);
	assert_near(share, NAN, 0);
}

static void correlation_adds_or_cancels(void **state)
{
	double c[] = { 1, -1 };
	double u[] = { 2, 2 };

	(void)state;
	assert_near(correlated_u(c, u, (double[]){ 1, 0, 0, 1 }, 2), sqrt(8), 1e-15);
	assert_near(correlated_u(c, u, (double[]){ 1, 1, 1, 1 }, 2), 0, 0);
	assert_near(correlated_u(c, u, (double[]){ 1, -1, -1, 1 }, 2), 4, 1e-15);
	assert_near(correlated_u(c, u, (double[]){ 1, 2, 2, 1 }, 2), NAN, 0); /* a correlation of 2 cannot be */
	/* 0.1, 0.2 and their sum: variance 0 but for rounding. */
	assert_near(correlated_u((double[]){ 1, 1, -1 }, (double[]){ 0.1, 0.2, 0.3 },
	                         (double[]){ 1, 1, 1, 1, 1, 1, 1, 1, 1 }, 3),
	            0, 1e-8);
}

/* -- yields ---------------------------------------------------------------------------------- */

static void sensitivities_of_percolation(void **state)
{
	double c[YIELD_QUANTITIES];

	(void)state;
	yield_sensitivity(&drip, c);
	assert_rel_near(c[QUANTITY_TDS], 278 / 20.0, 1e-9); /* Y = t·B/m, by differentiation */
	assert_rel_near(c[QUANTITY_BEVERAGE], 1.38 / 20, 1e-9);
	assert_rel_near(c[QUANTITY_DOSE], -1.38 * 278 / 400, 1e-9);
	assert_near(c[QUANTITY_WATER], 0, 0);
	assert_near(c[QUANTITY_BYPASS], 0, 0);
	assert_near(c[QUANTITY_RETENTION], 0, 0);
}

static void sensitivities_with_an_estimated_beverage(void **state)
{
	double c[YIELD_QUANTITIES];
	double dry = 0.9862;

	(void)state;
	yield_sensitivity(&drip_unweighed, c);
	assert_rel_near(c[QUANTITY_RETENTION], -1.38 / dry, 1e-9); /* Y = t (W - R m)/((1 - t) m) */
	assert_rel_near(c[QUANTITY_WATER], 1.38 / dry / 20, 1e-9);
	assert_rel_near(c[QUANTITY_DOSE], -1.38 * 320 / dry / 400, 1e-9);
	assert_rel_near(c[QUANTITY_TDS], (320 - 40) / 20.0 / (dry * dry), 1e-9);
	assert_near(c[QUANTITY_BEVERAGE], 0, 0);
}

static void sensitivities_of_immersion(void **state)
{
	double c[YIELD_QUANTITIES];
	double t = 0.013;

	(void)state;
	yield_sensitivity(&steep, c);
	assert_rel_near(c[QUANTITY_TDS], 250 / 15.0 / pow(1 - t, 2), 1e-9); /* Y = 100 t/(1 - t)·W/m */
	assert_rel_near(c[QUANTITY_WATER], 100 * t / (1 - t) / 15, 1e-9);
	assert_rel_near(c[QUANTITY_DOSE], -100 * t / (1 - t) * 250 / 225, 1e-9);
	assert_near(c[QUANTITY_RETENTION], 0, 0);
	yield_sensitivity(&steep_bypass, c);
	/* s = 0.0095·300/220 before bypass; dY/dV = 100 W/m · s/(1 - s)²/(B - V). */
	assert_rel_near(c[QUANTITY_BYPASS], 100 * 250 / 15.0 * (2.85 / 220) / pow(1 - 2.85 / 220, 2) / 220, 1e-9);
	assert_true(c[QUANTITY_BEVERAGE] < 0);
}

static void a_brew_without_a_yield_has_no_budget(void **state)
{
	struct yield_input brew = drip;
	double c[YIELD_QUANTITIES];
	struct budget_source sources[BREW_SOURCES_MAX];
	struct budget got;
	size_t n;

	(void)state;
	brew.tds_percent = NAN;
	yield_sensitivity(&brew, c);
	for (int i = 0; i < YIELD_QUANTITIES; i++)
		assert_near(c[i], NAN, 0);
	n = brew_sources(&brew, &ordinary, sources);
	yield_budget(&brew, sources, n, 0.95, &got, NULL);
	assert_near(got.u, NAN, 0);
}

static const struct budget_source *find(const struct budget_source *sources, size_t n, const char *name)
{
	for (size_t i = 0; i < n; i++) {
		if (strcmp(sources[i].name, name) == 0)
			return &sources[i];
	}
	return NULL;
}

static void sources_of_an_ordinary_brew(void **state)
{
	struct budget_source sources[BREW_SOURCES_MAX];
	size_t n = brew_sources(&drip, &ordinary, sources);

	(void)state;
	assert_int_equal(n, 7);
	assert_near(find(sources, n, "spread of the readings")->u, 0.012 / sqrt(3), 1e-15);
	assert_near(find(sources, n, "spread of the readings")->df, 10, 0);
	assert_int_equal(find(sources, n, "spread of the readings")->shape, SHAPE_STUDENT);
	assert_int_equal(find(sources, n, "meter's stated accuracy")->scope, SCOPE_COMMON);
	assert_near(find(sources, n, "dose: scale's step")->u, 0.1 / sqrt(6), 1e-15);
	assert_int_equal(find(sources, n, "dose: scale's step")->shape, SHAPE_TRIANGULAR);
	assert_int_equal(find(sources, n, "dose: scale's accuracy")->scope, SCOPE_COMMON);
	assert_near(find(sources, n, "beverage: scale's step")->u, 0.1 / sqrt(12), 1e-15);
	assert_int_equal(find(sources, n, "beverage: scale's accuracy")->scope, SCOPE_OWN); /* scales differ */
	assert_null(find(sources, n, "water: scale's step"));                               /* plays no part */
	assert_null(find(sources, n, "thermometer"));
}

static void sources_of_an_estimated_beverage(void **state)
{
	struct brew_knowledge known = ordinary;
	struct budget_source sources[BREW_SOURCES_MAX];
	struct budget weighed, estimated;
	size_t n;

	(void)state;
	n = brew_sources(&drip, &known, sources);
	yield_budget(&drip, sources, n, 0.95, &weighed, NULL);
	n = brew_sources(&drip_unweighed, &known, sources);
	yield_budget(&drip_unweighed, sources, n, 0.95, &estimated, NULL);
	assert_near(find(sources, n, "retention that the beverage is estimated from")->u, RETENTION_STANDARD_U, 0);
	assert_null(find(sources, n, "beverage: scale's step"));
	assert_true(estimated.u > weighed.u);
	known.retention_u = 0.1;
	known.reading_df = INFINITY;
	known.temp_u_percent = 0.006;
	n = brew_sources(&drip_unweighed, &known, sources);
	assert_near(find(sources, n, "retention that the beverage is estimated from")->u, 0.1, 0);
	assert_near(find(sources, n, "thermometer")->u, 0.006, 0);
	assert_int_equal(find(sources, n, "spread of the readings")->shape, SHAPE_NORMAL);
}

static void all_sources_fit(void **state)
{
	const struct weighing scale = { 0.1, 0.2, true, true };
	struct brew_knowledge known = { 0.01, 5, 3, 0.01, 0.03, 0.006, 0.2, scale, scale, scale, scale };
	struct yield_input brew = steep_bypass;
	struct budget_source sources[BREW_SOURCES_MAX];

	(void)state;
	assert_int_equal(brew_sources(&brew, &known, sources), 12); /* all but the retention */
	brew.beverage_g = NAN;
	assert_int_equal(brew_sources(&brew, &known, sources), 11); /* all but the beverage's two */
}

/* Nothing known: no sources, and an uncertainty of 0 that claims nothing but that. */
static void nothing_known_gives_no_sources(void **state)
{
	const struct weighing unknown = { NAN, NAN, false, false };
	struct brew_knowledge known = { NAN, NAN, 0, NAN, NAN, NAN, NAN, unknown, unknown, unknown, unknown };
	struct budget_source sources[BREW_SOURCES_MAX];

	(void)state;
	assert_int_equal(brew_sources(&drip, &known, sources), 0);
}

/* -- Monte Carlo ------------------------------------------------------------------------------ */

enum { DRAWS = 100000 };

static double first_input(const double *x, const void *context)
{
	(void)context;
	return x[0];
}

static double root_of_input(const double *x, const void *context)
{
	(void)context;
	return sqrt(x[0]);
}

/* One source of that shape and u = 2 about 5: SD, and the limits that 99 % lie within, in units of u. */
static void check_shape(enum budget_shape shape, double df, double sd, double limit, double limit_tol)
{
	double value = 5;
	struct budget_source of_shape = { "", 0, 2, df, shape, SCOPE_OWN };
	double *draws = malloc(DRAWS * sizeof(*draws));
	struct montecarlo got;

	assert_non_null(draws);
	montecarlo_run(&(struct montecarlo_task){ .model = first_input,
	                                          .context = NULL,
	                                          .values = &value,
	                                          .inputs = 1,
	                                          .sources = &of_shape,
	                                          .source_count = 1,
	                                          .seed = 11,
	                                          .confidence = 0.99 },
	               draws, DRAWS, &got);
	assert_near(got.mean, 5, 4 * 2 * sd / sqrt(DRAWS));
	assert_near(got.sd / 2, sd, 0.015 * sd);
	assert_near((got.high - 5) / 2, limit, limit_tol);
	assert_near((5 - got.low) / 2, limit, limit_tol);
	free(draws);
}

static void shapes_have_their_width(void **state)
{
	(void)state;
	check_shape(SHAPE_NORMAL, INFINITY, 1, 2.5758, 0.06);               /* normal quantile of 99.5 % */
	check_shape(SHAPE_RECTANGULAR, INFINITY, 1, 0.99 * sqrt(3), 0.005); /* by integration */
	check_shape(SHAPE_TRIANGULAR, INFINITY, 1, sqrt(6) * (1 - sqrt(0.01)), 0.02);
	check_shape(SHAPE_ARCSINE, INFINITY, 1, sqrt(2) * sin(0.495 * 3.14159265358979), 0.001);
	check_shape(SHAPE_STUDENT, 10, sqrt(10 / 8.0), 3.169, 0.12); /* GUM table G.2: 3.17 */
}

static void the_same_seed_brings_the_same_draws(void **state)
{
	struct budget_source sources[BREW_SOURCES_MAX];
	size_t n = brew_sources(&drip, &ordinary, sources);
	double draws[1000];
	struct montecarlo a, b, c;

	(void)state;
	yield_montecarlo(&drip, sources, n, 1, 0.95, draws, 1000, &a);
	yield_montecarlo(&drip, sources, n, 1, 0.95, draws, 1000, &b);
	yield_montecarlo(&drip, sources, n, 2, 0.95, draws, 1000, &c);
	assert_memory_equal(&a, &b, sizeof(a));
	assert_true(a.mean != c.mean);
	for (size_t i = 1; i < 1000; i++)
		assert_true(draws[i - 1] <= draws[i]);
}

static void first_order_and_draws_agree(void **state)
{
	static const struct yield_input *const brews[] = { &drip, &drip_unweighed, &steep, &steep_bypass };
	double *draws = malloc(DRAWS * sizeof(*draws));

	(void)state;
	assert_non_null(draws);
	for (size_t i = 0; i < 4; i++) {
		struct brew_knowledge known = ordinary;
		struct budget_source sources[BREW_SOURCES_MAX];
		struct budget first_order;
		struct montecarlo drawn;
		size_t n;

		known.reading_df = INFINITY; /* a Student's t is wider, by intention */
		n = brew_sources(brews[i], &known, sources);
		yield_budget(brews[i], sources, n, 0.95, &first_order, NULL);
		yield_montecarlo(brews[i], sources, n, 99, 0.95, draws, DRAWS, &drawn);
		assert_near(drawn.mean, first_order.value, 0.02 * first_order.u);
		assert_rel_near(drawn.sd, first_order.u, 0.01);
	}
	free(draws);
}

static void draws_that_cannot_be_made(void **state)
{
	double values[BUDGET_INPUTS_MAX + 1] = { 0 };
	struct budget_source good = source(0, 1, INFINITY, SCOPE_OWN);
	struct budget_source elsewhere = source(3, 1, INFINITY, SCOPE_OWN);
	struct budget_source shapeless = { "", 0, 1, INFINITY, (enum budget_shape)9, SCOPE_OWN };
	double draws[100];
	struct montecarlo got;

	(void)state;
	montecarlo_run(&(struct montecarlo_task){ .model = first_input,
	                                          .context = NULL,
	                                          .values = values,
	                                          .inputs = 1,
	                                          .sources = &good,
	                                          .source_count = 1,
	                                          .seed = 1,
	                                          .confidence = 0.95 },
	               draws, 1, &got);
	assert_near(got.mean, NAN, 0);
	montecarlo_run(&(struct montecarlo_task){ .model = first_input,
	                                          .context = NULL,
	                                          .values = values,
	                                          .inputs = 0,
	                                          .sources = NULL,
	                                          .source_count = 0,
	                                          .seed = 1,
	                                          .confidence = 0.95 },
	               draws, 100, &got);
	assert_near(got.mean, NAN, 0);
	montecarlo_run(&(struct montecarlo_task){ .model = first_input,
	                                          .context = NULL,
	                                          .values = values,
	                                          .inputs = BUDGET_INPUTS_MAX + 1,
	                                          .sources = &good,
	                                          .source_count = 1,
	                                          .seed = 1,
	                                          .confidence = 0.95 },
	               draws, 100, &got);
	assert_near(got.mean, NAN, 0);
	montecarlo_run(&(struct montecarlo_task){ .model = first_input,
	                                          .context = NULL,
	                                          .values = values,
	                                          .inputs = 3,
	                                          .sources = &elsewhere,
	                                          .source_count = 1,
	                                          .seed = 1,
	                                          .confidence = 0.95 },
	               draws, 100, &got);
	assert_near(got.mean, NAN, 0);
	montecarlo_run(&(struct montecarlo_task){ .model = first_input,
	                                          .context = NULL,
	                                          .values = values,
	                                          .inputs = 1,
	                                          .sources = &shapeless,
	                                          .source_count = 1,
	                                          .seed = 1,
	                                          .confidence = 0.95 },
	               draws, 100, &got);
	assert_near(got.mean, NAN, 0);
	montecarlo_run(&(struct montecarlo_task){ .model = root_of_input,
	                                          .context = NULL,
	                                          .values = values,
	                                          .inputs = 1,
	                                          .sources = &good,
	                                          .source_count = 1,
	                                          .seed = 1,
	                                          .confidence = 0.95 },
	               draws, 100, &got);
	assert_near(got.sd, NAN, 0);
}

static void too_few_draws_have_no_limits(void **state)
{
	double value = 0;
	struct budget_source good = source(0, 1, INFINITY, SCOPE_OWN);
	double draws[100];
	struct montecarlo got;

	(void)state;
	montecarlo_run(&(struct montecarlo_task){ .model = first_input,
	                                          .context = NULL,
	                                          .values = &value,
	                                          .inputs = 1,
	                                          .sources = &good,
	                                          .source_count = 1,
	                                          .seed = 1,
	                                          .confidence = 0.95 },
	               draws, 20, &got);
	assert_true(isfinite(got.sd));
	assert_near(got.low, NAN, 0);
	assert_near(got.high, NAN, 0);
	montecarlo_run(&(struct montecarlo_task){ .model = first_input,
	                                          .context = NULL,
	                                          .values = &value,
	                                          .inputs = 1,
	                                          .sources = &good,
	                                          .source_count = 1,
	                                          .seed = 1,
	                                          .confidence = 0.95 },
	               draws, 40, &got);
	assert_near(got.low, draws[0], 0); /* JCGM 101, 7.7.2: q = 38, r = 1; from the first to the 39th */
	assert_near(got.high, draws[38], 0);
	montecarlo_run(&(struct montecarlo_task){ .model = first_input,
	                                          .context = NULL,
	                                          .values = &value,
	                                          .inputs = 1,
	                                          .sources = &good,
	                                          .source_count = 1,
	                                          .seed = 1,
	                                          .confidence = 1.0 },
	               draws, 100, &got);
	assert_near(got.low, NAN, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(uncertainties_of_type_b),
		cmocka_unit_test(identical_readings_are_not_certain),
		cmocka_unit_test(uncertainties_of_nonsense),
		cmocka_unit_test(effective_df_has_its_limits),
		cmocka_unit_test(coverage_factors),
		cmocka_unit_test(own_and_common_are_kept_apart),
		cmocka_unit_test(a_budget_of_nothing),
		cmocka_unit_test(correlation_adds_or_cancels),
		cmocka_unit_test(sensitivities_of_percolation),
		cmocka_unit_test(sensitivities_with_an_estimated_beverage),
		cmocka_unit_test(sensitivities_of_immersion),
		cmocka_unit_test(a_brew_without_a_yield_has_no_budget),
		cmocka_unit_test(sources_of_an_ordinary_brew),
		cmocka_unit_test(sources_of_an_estimated_beverage),
		cmocka_unit_test(all_sources_fit),
		cmocka_unit_test(nothing_known_gives_no_sources),
		cmocka_unit_test(shapes_have_their_width),
		cmocka_unit_test(the_same_seed_brings_the_same_draws),
		cmocka_unit_test(first_order_and_draws_agree),
		cmocka_unit_test(draws_that_cannot_be_made),
		cmocka_unit_test(too_few_draws_have_no_limits),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
