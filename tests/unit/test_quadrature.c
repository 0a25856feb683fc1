/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <Rmath.h>

#include "quadrature.h"

static double always(const void *context, double w)
{
	(void)context;
	(void)w;
	return 1.0;
}

static double two_tails(const void *context, double w)
{
	(void)context;
	return 2.0 * normal_upper(w);
}

static const double dfs[] = { 0.5, 1, 1.5, 2, 3, 5, 10, 29.5, 100, 1e4, 1e7 };
enum { DFS = sizeof(dfs) / sizeof(dfs[0]) };

static void density_has_mass_one(void **state)
{
	(void)state;
	for (size_t i = 0; i < DFS; i++) {
		struct scale_mean mean = { always, NULL, dfs[i], 1.0, SCALE_STEP, INFINITY, 0.0, false };

		assert_near(scale_mean(&mean), 1.0, 1e-12);
	}
}

/* A normal value over an estimated spread is Student's t; with the bound, tails keep their digits. */
static void normal_over_scale_is_students_t(void **state)
{
	(void)state;
	for (size_t i = 0; i < DFS; i++)
		for (double t = 0.01; t < 100.0; t *= 2.5) {
			struct scale_mean bounded = { two_tails, NULL, dfs[i], t, SCALE_STEP, 1.0, 1.0, false };
			struct scale_mean plain = { two_tails, NULL, dfs[i], t, SCALE_STEP, INFINITY, 0.0, false };
			double want = 2.0 * pt(-t, dfs[i], 1, 0);

			if (want > 1e-280)
				assert_rel_near(scale_mean(&bounded), want, 1e-10);
			assert_near(scale_mean(&plain), want, 1e-12);
		}
}

static void rough_is_near(void **state)
{
	(void)state;
	for (size_t i = 0; i < DFS; i++)
		for (double t = 0.01; t < 100.0; t *= 2.5) {
			struct scale_mean rough = { two_tails, NULL, dfs[i], t, SCALE_STEP, 1.0, 1.0, true };

			assert_near(scale_mean(&rough), 2.0 * pt(-t, dfs[i], 1, 0), 2e-4);
		}
}

static void known_scale(void **state)
{
	struct scale_mean mean = { two_tails, NULL, INFINITY, 1.96, SCALE_STEP, 1.0, 1.0, false };

	(void)state;
	assert_near(scale_mean(&mean), 2.0 * pnorm(-1.96, 0, 1, 1, 0), 1e-15);
	mean.df = DF_KNOWN;
	assert_near(scale_mean(&mean), 2.0 * pnorm(-1.96, 0, 1, 1, 0), 1e-15);
}

static void scale_refuses(void **state)
{
	struct scale_mean mean = { two_tails, NULL, 0.0, 1.0, SCALE_STEP, 1.0, 1.0, false };

	(void)state;
	assert_near(scale_mean(&mean), NAN, 0.0);
	mean.df = NAN;
	assert_near(scale_mean(&mean), NAN, 0.0);
	mean.df = 3.0;
	mean.argument = NAN;
	assert_near(scale_mean(&mean), NAN, 0.0);
}

static double exponential_tail(const void *context, double x)
{
	(void)context;
	return exp(-x);
}

static double power_tail(const void *context, double x)
{
	(void)context;
	return 1.0 / (1.0 + x);
}

static double stuck_tail(const void *context, double x)
{
	(void)context;
	(void)x;
	return 0.5;
}

static double broken_tail(const void *context, double x)
{
	(void)context;
	return x < 1.05 ? 0.9 : NAN;
}

static void solves_tails(void **state)
{
	static const double starts[] = { 1e-3, 1.0, 3.0, 1e4 };

	(void)state;
	for (size_t i = 0; i < 4; i++) {
		assert_rel_near(tail_solve(exponential_tail, NULL, 0.05, starts[i]), 2.9957322735539909, 1e-12);
		assert_rel_near(tail_solve(exponential_tail, NULL, 1e-200, starts[i]), 460.51701859880916, 1e-12);
		assert_rel_near(tail_solve(power_tail, NULL, 1e-6, starts[i]), 999999.0, 1e-11);
		assert_rel_near(tail_solve(power_tail, NULL, 0.999, starts[i]), 1.0 / 0.999 - 1.0, 1e-9);
	}
}

static void solver_gives_up(void **state)
{
	(void)state;
	assert_near(tail_solve(stuck_tail, NULL, 0.05, 1.0), NAN, 0.0);
	assert_near(tail_solve(broken_tail, NULL, 0.05, 1.0), NAN, 0.0);
	assert_near(tail_solve(exponential_tail, NULL, 0.0, 1.0), NAN, 0.0);
	assert_near(tail_solve(exponential_tail, NULL, 1.0, 1.0), NAN, 0.0);
	assert_near(tail_solve(exponential_tail, NULL, NAN, 1.0), NAN, 0.0);
	assert_near(tail_solve(exponential_tail, NULL, 0.5, 0.0), NAN, 0.0);
	assert_near(tail_solve(exponential_tail, NULL, 0.5, NAN), NAN, 0.0);
}

static void normal_functions(void **state)
{
	(void)state;
	for (double z = -30.0; z <= 30.0; z += 1.25) {
		assert_rel_near(normal_lower(z), pnorm(z, 0, 1, 1, 0), 1e-13);
		assert_rel_near(normal_upper(z), pnorm(z, 0, 1, 0, 0), 1e-13);
		assert_rel_near(normal_density(z), dnorm(z, 0, 1, 0), 1e-13);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(density_has_mass_one), cmocka_unit_test(normal_over_scale_is_students_t),
		cmocka_unit_test(rough_is_near),        cmocka_unit_test(known_scale),
		cmocka_unit_test(scale_refuses),        cmocka_unit_test(solves_tails),
		cmocka_unit_test(solver_gives_up),      cmocka_unit_test(normal_functions),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
