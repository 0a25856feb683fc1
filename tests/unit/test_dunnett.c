/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values are held in tests/reference; here: limits, refusals, unequal groups. */
#include "near.h"

#include "dunnett.h"

static void correlations(void **state)
{
	(void)state;
	assert_near(dunnett_lambda(4, 4), sqrt(0.5), 1e-15);
	assert_near(dunnett_lambda(3, 1), sqrt(0.75), 1e-15);
	assert_near(dunnett_lambda(0, 4), NAN, 0.0);
	assert_near(dunnett_lambda(4, 0), NAN, 0.0);
}

static void refuses(void **state)
{
	static const double good[] = { 0.5, 0.6 };
	static const double bad[][2] = { { 0.5, 1.0 }, { -0.1, 0.5 }, { 0.5, NAN } };

	(void)state;
	for (size_t i = 0; i < 3; i++) {
		assert_near(dunnett_cdf(2.0, bad[i], 2, 5.0, SIDES_TWO), NAN, 0.0);
		assert_near(dunnett_tail(2.0, bad[i], 2, 5.0, SIDES_TWO), NAN, 0.0);
		assert_near(dunnett_critical(0.05, bad[i], 2, 5.0, SIDES_TWO), NAN, 0.0);
	}
	assert_near(dunnett_cdf(2.0, good, 0, 5.0, SIDES_TWO), NAN, 0.0);
	assert_near(dunnett_tail(2.0, good, 2, 0.0, SIDES_TWO), NAN, 0.0);
	assert_near(dunnett_tail(NAN, good, 2, 5.0, SIDES_TWO), NAN, 0.0);
	assert_near(dunnett_tail_equal(2.0, 0.5, 0, 5.0, SIDES_TWO), NAN, 0.0);
	assert_near(dunnett_critical(0.0, good, 2, 5.0, SIDES_TWO), NAN, 0.0);
	assert_near(dunnett_critical(1.0, good, 2, 5.0, SIDES_TWO), NAN, 0.0);
	/* two-sided any alpha has a limit; one-sided, none above P(any T > 0) */
	assert_near(dunnett_critical(0.9, good, 2, 5.0, SIDES_ONE), NAN, 0.0);
	assert_true(dunnett_critical(0.9, good, 2, 5.0, SIDES_TWO) > 0.0);
}

static void limits(void **state)
{
	static const double lambda[] = { 0.5, 0.6, 0.7 };

	(void)state;
	assert_near(dunnett_cdf(0.0, lambda, 3, 5.0, SIDES_TWO), 0.0, 0.0);
	assert_near(dunnett_tail(0.0, lambda, 3, 5.0, SIDES_TWO), 1.0, 0.0);
	assert_near(dunnett_tail(-1.0, lambda, 3, 5.0, SIDES_TWO), 1.0, 0.0);
	assert_near(dunnett_cdf(INFINITY, lambda, 3, 5.0, SIDES_TWO), 1.0, 0.0);
	assert_near(dunnett_cdf(INFINITY, lambda, 3, 5.0, SIDES_ONE), 1.0, 0.0);
	assert_near(dunnett_cdf(-INFINITY, lambda, 3, 5.0, SIDES_ONE), 0.0, 0.0);
	assert_near(dunnett_tail(INFINITY, lambda, 3, 5.0, SIDES_TWO), 0.0, 0.0);
	assert_near(dunnett_tail(-INFINITY, lambda, 3, 5.0, SIDES_ONE), 1.0, 0.0);
}

/* Both sides of 1 integrated apart, for groups from a tenth to a hundred times the control. */
static void tail_complements_cdf(void **state)
{
	static const double dfs[] = { 1, 2, 7, 60, INFINITY };
	double lambda[6];

	(void)state;
	for (size_t i = 0; i < 6; i++)
		lambda[i] = sqrt(pow(10.0, 0.5 * (double)i - 1.0) / (1.0 + pow(10.0, 0.5 * (double)i - 1.0)));
	for (size_t i = 0; i < 5; i++)
		for (double c = -4.0; c < 9.0; c += 0.7) {
			if (c > 0.0)
				assert_near(dunnett_cdf(c, lambda, 6, dfs[i], SIDES_TWO) +
				                    dunnett_tail(c, lambda, 6, dfs[i], SIDES_TWO),
				            1.0, 1e-11);
			assert_near(dunnett_cdf(c, lambda, 6, dfs[i], SIDES_ONE) +
			                    dunnett_tail(c, lambda, 6, dfs[i], SIDES_ONE),
			            1.0, 1e-11);
		}
}

/*
 * Two comparisons with a known spread, in closed form: both T <= 0 has
 * probability 1/4 + asin(rho)/(2 pi), rho = lambda_1 lambda_2 (Sheppard).
 */
static void orthant_of_two(void **state)
{
	static const double pi = 3.14159265358979323846;

	(void)state;
	for (double a = 0.1; a < 1.0; a += 0.2)
		for (double b = 0.05; b < 1.0; b += 0.3) {
			double lambda[] = { a, b };
			double want = 0.25 + asin(a * b) / (2.0 * pi);

			assert_near(dunnett_cdf(0.0, lambda, 2, INFINITY, SIDES_ONE), want, 1e-12);
			/* the spread plays no part in the sign */
			assert_near(dunnett_cdf(0.0, lambda, 2, 3.0, SIDES_ONE), want, 1e-12);
		}
}

static void equal_groups_are_one(void **state)
{
	static const double lambda[] = { 0.6, 0.6, 0.6, 0.6 };
	static const double apart[] = { 0.6, 0.6, 0.60000000001, 0.6 };

	(void)state;
	for (double c = 0.5; c < 7.0; c += 1.0) {
		double tail = dunnett_tail(c, lambda, 4, 6.0, SIDES_TWO);

		assert_rel_near(dunnett_tail_equal(c, 0.6, 4, 6.0, SIDES_TWO), tail, 1e-12);
		assert_rel_near(dunnett_tail(c, apart, 4, 6.0, SIDES_TWO), tail, 1e-9);
	}
}

static void critical_value_has_its_tail(void **state)
{
	static const double lambda[] = { 0.2, 0.7, 0.9 };

	(void)state;
	for (double alpha = 0.001; alpha < 0.4; alpha *= 3.0)
		for (double df = 1.0; df < 1e4; df *= 5.0) {
			double two = dunnett_critical(alpha, lambda, 3, df, SIDES_TWO);
			double one = dunnett_critical(alpha, lambda, 3, df, SIDES_ONE);

			assert_true(one < two);
			assert_rel_near(dunnett_tail(two, lambda, 3, df, SIDES_TWO), alpha, 1e-11);
			assert_rel_near(1.0 - dunnett_cdf(one, lambda, 3, df, SIDES_ONE), alpha, 1e-9);
		}
}

static void below_agrees_with_the_tail(void **state)
{
	static const double dfs[] = { 0.7, 1, 2, 5.5, 24, 300, 1e5, INFINITY };

	(void)state;
	for (size_t m = 1; m < 400; m = m * 3)
		for (size_t i = 0; i < sizeof(dfs) / sizeof(dfs[0]); i++)
			for (double lambda = 0.1; lambda < 0.95; lambda += 0.3) {
				double c = 2.0 + 0.4 * log((double)m);
				double tail = dunnett_tail_equal(c, lambda, m, dfs[i], SIDES_TWO);

				for (double off = 1e-8; off < 0.3; off *= 3) {
					assert_true(dunnett_tail_equal_below(c, lambda, m, dfs[i], SIDES_TWO,
					                                     tail * (1 + off)));
					assert_false(dunnett_tail_equal_below(c, lambda, m, dfs[i], SIDES_TWO,
					                                      tail * (1 - off)));
				}
			}
	assert_false(dunnett_tail_equal_below(NAN, 0.5, 3, 5.0, SIDES_TWO, 0.05));
	assert_false(dunnett_tail_equal_below(0.0, 0.5, 3, 5.0, SIDES_TWO, 0.05));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(correlations),
		cmocka_unit_test(refuses),
		cmocka_unit_test(limits),
		cmocka_unit_test(tail_complements_cdf),
		cmocka_unit_test(orthant_of_two),
		cmocka_unit_test(equal_groups_are_one),
		cmocka_unit_test(critical_value_has_its_tail),
		cmocka_unit_test(below_agrees_with_the_tail),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
