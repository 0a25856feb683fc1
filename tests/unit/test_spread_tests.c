/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "spread_tests.h"

/* By hand. Medians 2 and 10: distances 1 0 1 and 4 0 4; means 2/3 and 8/3, within 2/3 + 32/3, between 6. */
static void distances_from_medians(void **state)
{
	static const double a[] = { 1, 2, 3 };
	static const double b[] = { 6, 10, 14 };
	static const struct group_values groups[] = { { a, 3 }, { b, 3 } };
	double scratch[3];
	struct oneway median = spread_levene(groups, 2, CENTRE_MEDIAN, scratch);
	struct oneway mean = spread_levene(groups, 2, CENTRE_MEAN, scratch);

	(void)state;
	assert_near(median.ss_between, 6.0, 1e-13);
	assert_near(median.ss_within, 34.0 / 3.0, 1e-13);
	assert_near(median.f, 6.0 / (34.0 / 12.0), 1e-13);
	assert_near(mean.f, median.f, 1e-13); /* medians are the means here */
	assert_near(a[0], 1.0, 0.0);
}

static void centre_matters_when_skew(void **state)
{
	static const double a[] = { 0, 0, 9 };
	static const double b[] = { 1, 2, 3 };
	static const struct group_values groups[] = { { a, 3 }, { b, 3 }, { NULL, 0 } };
	double scratch[3];

	(void)state;
	/* medians 0 and 2: distances 0 0 9 and 1 0 1; means 3 and 2/3; within 54 + 2/3, between 49/6 */
	assert_near(spread_levene(groups, 3, CENTRE_MEDIAN, scratch).f, (49.0 / 6.0) / ((54.0 + 2.0 / 3.0) / 4.0),
	            1e-13);
	/* means 3 and 2: distances 3 3 6 and 1 0 1; means 4 and 2/3; within 6 + 2/3, between 50/3 */
	assert_near(spread_levene(groups, 3, CENTRE_MEAN, scratch).f, (50.0 / 3.0) / ((6.0 + 2.0 / 3.0) / 4.0), 1e-13);
}

/* Two values lie equally far from their median: nothing is left within. */
static void pairs_say_nothing(void **state)
{
	static const double a[] = { 1, 2 };
	static const double b[] = { 3, 7 };
	static const struct group_values groups[] = { { a, 2 }, { b, 2 } };
	double scratch[2];

	(void)state;
	assert_near(spread_levene(groups, 2, CENTRE_MEDIAN, scratch).f, INFINITY, 0.0);
	assert_near(spread_levene(groups, 1, CENTRE_MEDIAN, scratch).f, NAN, 0.0);
}

/* Two groups of 3, variances 1 and 4: K2 = (4 ln 2.5 - 2 ln 4)/(1 + (1 - 1/4)/3). */
static void bartlett_by_hand(void **state)
{
	static const struct group_summary groups[] = { { 3, 5.0, 1.0 }, { 3, 9.0, 2.0 } };
	struct bartlett bartlett = spread_bartlett(groups, 2);

	(void)state;
	assert_near(bartlett.k2, (4.0 * log(2.5) - 2.0 * log(4.0)) / 1.25, 1e-13);
	assert_near(bartlett.df, 1.0, 0.0);
	/* chi-square with 1 degree of freedom: erfc(sqrt(x/2)) */
	assert_near(bartlett.p, erfc(sqrt(0.5 * bartlett.k2)), 1e-14);
}

static void bartlett_refuses(void **state)
{
	static const struct group_summary flat[] = { { 3, 5.0, 0.0 }, { 3, 9.0, 2.0 } };
	static const struct group_summary single[] = { { 3, 5.0, 1.0 }, { 1, 9.0, NAN } };

	(void)state;
	assert_near(spread_bartlett(flat, 2).k2, NAN, 0.0);
	assert_near(spread_bartlett(single, 2).p, NAN, 0.0);
	assert_near(spread_bartlett(flat + 1, 1).k2, NAN, 0.0);
}

static void equal_spreads(void **state)
{
	static const struct group_summary groups[] = { { 4, 5.0, 0.3 }, { 4, 9.0, 0.3 }, { 4, 7.0, 0.3 } };

	(void)state;
	assert_near(spread_bartlett(groups, 3).k2, 0.0, 1e-13);
	assert_near(spread_bartlett(groups, 3).p, 1.0, 1e-6);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(distances_from_medians), cmocka_unit_test(centre_matters_when_skew),
		cmocka_unit_test(pairs_say_nothing),      cmocka_unit_test(bartlett_by_hand),
		cmocka_unit_test(bartlett_refuses),       cmocka_unit_test(equal_spreads),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
