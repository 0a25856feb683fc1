/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values are held in tests/reference; here: limits, refusals, order. */
#include "near.h"

#include "studentized_range.h"

static void refuses(void **state)
{
	(void)state;
	assert_near(studentized_range_cdf(3.0, 1, 5.0), NAN, 0.0);
	assert_near(studentized_range_cdf(3.0, 3, 0.0), NAN, 0.0);
	assert_near(studentized_range_cdf(NAN, 3, 5.0), NAN, 0.0);
	assert_near(studentized_range_tail(3.0, 0, 5.0), NAN, 0.0);
	assert_near(studentized_range_tail(3.0, 3, -1.0), NAN, 0.0);
	assert_near(studentized_range_tail(NAN, 3, 5.0), NAN, 0.0);
	assert_near(studentized_range_tail(3.0, 3, NAN), NAN, 0.0);
	assert_near(studentized_range_critical(0.0, 3, 5.0), NAN, 0.0);
	assert_near(studentized_range_critical(1.0, 3, 5.0), NAN, 0.0);
	assert_near(studentized_range_critical(NAN, 3, 5.0), NAN, 0.0);
	assert_near(studentized_range_critical(0.05, 1, 5.0), NAN, 0.0);
	assert_near(studentized_range_critical(0.05, 3, 0.0), NAN, 0.0);
}

static void limits(void **state)
{
	static const double dfs[] = { 1, 2, 10, 1e9, INFINITY };

	(void)state;
	for (size_t i = 0; i < 5; i++) {
		assert_near(studentized_range_cdf(0.0, 4, dfs[i]), 0.0, 0.0);
		assert_near(studentized_range_cdf(-1.0, 4, dfs[i]), 0.0, 0.0);
		assert_near(studentized_range_tail(0.0, 4, dfs[i]), 1.0, 0.0);
		assert_near(studentized_range_cdf(INFINITY, 4, dfs[i]), 1.0, 0.0);
		assert_near(studentized_range_tail(INFINITY, 4, dfs[i]), 0.0, 0.0);
		assert_near(studentized_range_cdf(-INFINITY, 4, dfs[i]), 0.0, 0.0);
		assert_near(studentized_range_tail(-INFINITY, 4, dfs[i]), 1.0, 0.0);
		assert_near(studentized_range_tail(1e-12, 4, dfs[i]), 1.0, 1e-11);
	}
	assert_near(studentized_range_tail(1e3, 4, INFINITY), 0.0, 0.0);
	assert_near(studentized_range_tail(1e300, 4, 1e9), 0.0, 0.0);
}

/* Both are probabilities of the same thing, integrated apart; from 2 values to more than anybody brews. */
static void tail_complements_cdf(void **state)
{
	static const size_t ks[] = { 2, 3, 8, 30, 200, 1000, 5000 };
	static const double dfs[] = { 1, 2, 5, 40, 1e5, INFINITY };

	(void)state;
	for (size_t i = 0; i < sizeof(ks) / sizeof(ks[0]); i++)
		for (size_t j = 0; j < sizeof(dfs) / sizeof(dfs[0]); j++)
			for (double q = 0.3; q < 60.0; q *= 2.3)
				assert_near(studentized_range_cdf(q, ks[i], dfs[j]) +
				                    studentized_range_tail(q, ks[i], dfs[j]),
				            1.0, 3e-11);
}

static void grows_with_k_and_falls_with_df(void **state)
{
	(void)state;
	for (size_t k = 2; k < 2000; k = k * 3 / 2 + 1)
		for (double df = 1.0; df < 1e6; df *= 4.0) {
			double tail = studentized_range_tail(8.0, k, df);

			assert_true(studentized_range_tail(8.0, k + 1, df) > tail);
			assert_true(studentized_range_tail(8.1, k, df) < tail);
		}
	for (double df = 1.0; df < 1e5; df *= 2.0)
		assert_true(studentized_range_critical(0.05, 6, 2.0 * df) < studentized_range_critical(0.05, 6, df));
}

/* Beside the critical value, where the tail crosses alpha, from a hair's breadth to beyond where the rough tail decides. */
static void below_agrees_with_the_tail(void **state)
{
	static const double dfs[] = { 0.7, 1, 2, 5.5, 24, 300, 1e5, INFINITY };

	(void)state;
	for (size_t k = 2; k < 1500; k = k * 3)
		for (size_t i = 0; i < sizeof(dfs) / sizeof(dfs[0]); i++)
			for (double alpha = 1e-4; alpha < 0.5; alpha *= 8) {
				double critical = studentized_range_critical(alpha, k, dfs[i]);

				for (double off = 1e-8; off < 0.3; off *= 3) {
					assert_true(
						studentized_range_tail_below(critical * (1 + off), k, dfs[i], alpha));
					assert_false(
						studentized_range_tail_below(critical * (1 - off), k, dfs[i], alpha));
				}
			}
	assert_false(studentized_range_tail_below(NAN, 3, 5.0, 0.05));
	assert_false(studentized_range_tail_below(0.0, 3, 5.0, 0.05));
	assert_true(studentized_range_tail_below(INFINITY, 3, 5.0, 0.05));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(refuses),
		cmocka_unit_test(limits),
		cmocka_unit_test(tail_complements_cdf),
		cmocka_unit_test(grows_with_k_and_falls_with_df),
		cmocka_unit_test(below_agrees_with_the_tail),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
