/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "describe.h"

/* Hand-made: 2 4 4 4 5 5 7 9 has mean 5, sum of squares 32. */
static const double eight[] = { 9, 4, 2, 5, 4, 7, 5, 4 };
enum { EIGHT = sizeof(eight) / sizeof(eight[0]) };

static void eight_numbers(void **state)
{
	double scratch[EIGHT];
	double median = 0.0;

	(void)state;
	assert_near(values_sum(eight, EIGHT), 40.0, 0.0);
	assert_near(values_mean(eight, EIGHT), 5.0, 0.0);
	assert_near(values_mean_about(eight, EIGHT, 4.0), 1.0, 0.0);
	assert_near(values_sum_of_squares(eight, EIGHT), 32.0, 1e-14);
	assert_near(values_variance(eight, EIGHT), 32.0 / 7.0, 1e-14);
	assert_near(values_sd(eight, EIGHT), sqrt(32.0 / 7.0), 1e-15);
	assert_near(values_min(eight, EIGHT), 2.0, 0.0);
	assert_near(values_max(eight, EIGHT), 9.0, 0.0);
	assert_near(values_range(eight, EIGHT), 7.0, 0.0);
	assert_near(values_median(eight, EIGHT, scratch), 4.5, 0.0);
	/* distances from 4.5, sorted: .5 .5 .5 .5 .5 2.5 2.5 4.5 */
	assert_near(values_mad(eight, EIGHT, scratch, &median), 0.5, 0.0);
	assert_near(median, 4.5, 0.0);
	assert_near(values_mad(eight, EIGHT, scratch, NULL), 0.5, 0.0);
	assert_near(eight[0], 9.0, 0.0);
	struct group_summary summary = values_summary(eight, EIGHT);

	assert_int_equal(summary.n, EIGHT);
	assert_near(summary.mean, 5.0, 0.0);
	assert_near(summary.sd, sqrt(32.0 / 7.0), 1e-15);
}

static void nothing_at_all(void **state)
{
	struct moments moments = MOMENTS_INIT;
	struct pooled pooled = POOLED_INIT;
	double scratch[1] = { 0.0 };

	(void)state;
	assert_near(values_sum(NULL, 0), 0.0, 0.0);
	assert_near(values_mean(NULL, 0), NAN, 0.0);
	assert_near(values_mean_about(NULL, 0, 3.0), NAN, 0.0);
	assert_near(values_sum_of_squares(NULL, 0), NAN, 0.0);
	assert_near(values_sd(NULL, 0), NAN, 0.0);
	assert_near(values_min(NULL, 0), NAN, 0.0);
	assert_near(values_max(NULL, 0), NAN, 0.0);
	assert_near(values_range(NULL, 0), NAN, 0.0);
	assert_near(values_median(NULL, 0, scratch), NAN, 0.0);
	assert_near(values_mad(NULL, 0, scratch, NULL), NAN, 0.0);
	assert_near(quantile_sorted(NULL, 0, 0.5), NAN, 0.0);
	assert_near(moments_mean(&moments), NAN, 0.0);
	assert_near(moments_sd(&moments), NAN, 0.0);
	assert_near(pooled_sd(&pooled), NAN, 0.0);
	ranked_sort(NULL, 0);
}

static void one_number(void **state)
{
	static const double one[] = { 1.38 };
	struct moments moments = MOMENTS_INIT;
	double scratch[1];

	(void)state;
	moments_add(&moments, one[0]);
	assert_near(values_mean(one, 1), 1.38, 0.0);
	assert_near(values_sum_of_squares(one, 1), 0.0, 0.0);
	assert_near(values_sd(one, 1), NAN, 0.0);
	assert_near(values_range(one, 1), 0.0, 0.0);
	assert_near(values_median(one, 1, scratch), 1.38, 0.0);
	assert_near(values_mad(one, 1, scratch, NULL), 0.0, 0.0);
	assert_near(moments_mean(&moments), 1.38, 0.0);
	assert_near(moments_variance(&moments), NAN, 0.0);
}

/* Readings of 1.38, 1.39, 1.40 on top of a million: the spread keeps the digits that binary64 has left for it. */
static void large_offset(void **state)
{
	static const double offset[] = { 1000001.38, 1000001.39, 1000001.40 };
	static const double equal[] = { 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1 };
	struct moments moments = MOMENTS_INIT;

	(void)state;
	for (size_t i = 0; i < 3; i++)
		moments_add(&moments, offset[i]);
	assert_near(values_sd(offset, 3), 0.01, 1.2e-10);
	assert_near(moments_sd(&moments), 0.01, 1.2e-10);
	assert_near(moments_mean(&moments), 1000001.39, 2e-10);
	assert_near(values_sd(equal, 7), 0.0, 0.0);
	assert_near(values_mean(equal, 7), 0.1, 0.0);
}

/* 1e100 and -1e100 cancel; a plain sum loses the 1 between them. */
static void sum_is_compensated(void **state)
{
	static const double x[] = { 1.0, 1e100, 1.0, -1e100 };

	(void)state;
	assert_near(values_sum(x, 4), 2.0, 0.0);
}

static void moments_merge_as_one(void **state)
{
	struct moments first = MOMENTS_INIT;
	struct moments second = MOMENTS_INIT;
	struct moments none = MOMENTS_INIT;

	(void)state;
	for (size_t i = 0; i < EIGHT; i++)
		moments_add(i < 3 ? &first : &second, eight[i]);
	moments_merge(&first, &none);
	assert_int_equal(first.n, 3);
	moments_merge(&first, &second);
	moments_merge(&none, &first);
	assert_int_equal(none.n, EIGHT);
	assert_near(moments_mean(&none), 5.0, 1e-15);
	assert_near(moments_variance(&none), 32.0 / 7.0, 1e-14);
	assert_near(none.min, 2.0, 0.0);
	assert_near(none.max, 9.0, 0.0);
}

/* Definition 7 of Hyndman and Fan (R's default): 1 2 4 8. */
static void quantiles(void **state)
{
	static const double x[] = { 1, 2, 4, 8 };

	(void)state;
	assert_near(quantile_sorted(x, 4, 0.0), 1.0, 0.0);
	assert_near(quantile_sorted(x, 4, 0.25), 1.75, 1e-15);
	assert_near(quantile_sorted(x, 4, 0.5), 3.0, 1e-15);
	assert_near(quantile_sorted(x, 4, 0.9), 6.8, 1e-14);
	assert_near(quantile_sorted(x, 4, 1.0), 8.0, 0.0);
	assert_near(quantile_sorted(x, 4, -0.1), NAN, 0.0);
	assert_near(quantile_sorted(x, 4, 1.1), NAN, 0.0);
	assert_near(quantile_sorted(x, 4, NAN), NAN, 0.0);
}

static void robust_scores(void **state)
{
	(void)state;
	assert_near(robust_z(3.0, 2.0, 0.5), 1.349, 1e-15);
	assert_near(robust_z(1.0, 2.0, 0.5), -1.349, 1e-15);
	assert_near(robust_z(2.0, 2.0, 0.0), 0.0, 0.0);
	assert_near(robust_z(2.1, 2.0, 0.0), INFINITY, 0.0);
	assert_near(robust_z(1.9, 2.0, 0.0), -INFINITY, 0.0);
}

static void pooled_spread(void **state)
{
	struct pooled pooled = POOLED_INIT;

	(void)state;
	pooled_add(&pooled, 8.0, 2.0);
	pooled_add(&pooled, 0.0, 0.0); /* one value */
	pooled_add(&pooled, NAN, 0.0); /* none */
	pooled_add(&pooled, 10.0, 1.0);
	assert_near(pooled.df, 3.0, 0.0);
	assert_near(pooled_sd(&pooled), sqrt(6.0), 1e-15);
}

/* Factors of the 95 % interval computed with R: sqrt(df/qchisq(c(.975, .025), df)). */
static void interval_of_a_spread(void **state)
{
	static const struct {
		double df;
		double lower;
		double upper;
	} cases[] = {
		{ 2, 0.520658, 6.284735 },  { 4, 0.599133, 2.873556 },  { 8, 0.675457, 1.915771 },
		{ 16, 0.744770, 1.521929 }, { 24, 0.780828, 1.391152 }, { 50, 0.836709, 1.243078 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct interval interval = sd_interval(2.0, cases[i].df, 0.95);

		assert_near(interval.lower, 2.0 * cases[i].lower, 1.1e-6);
		assert_near(interval.upper, 2.0 * cases[i].upper, 1.1e-6);
	}
}

static void interval_refuses(void **state)
{
	(void)state;
	assert_near(sd_interval(1.0, 0.0, 0.95).lower, NAN, 0.0);
	assert_near(sd_interval(1.0, 3.0, 1.0).upper, NAN, 0.0);
	assert_near(sd_interval(1.0, 3.0, 0.0).upper, NAN, 0.0);
	assert_near(sd_interval(-1.0, 3.0, 0.95).lower, NAN, 0.0);
	assert_near(sd_interval(NAN, 3.0, 0.95).lower, NAN, 0.0);
	assert_near(sd_interval(0.0, 3.0, 0.95).upper, 0.0, 0.0);
}

static void sorting_finds_the_way_back(void **state)
{
	struct ranked ranked[] = { { 2.0, 0 }, { 1.0, 1 }, { 2.0, 2 }, { -1.0, 3 } };
	static const size_t order[] = { 3, 1, 0, 2 };

	(void)state;
	ranked_sort(ranked, 4);
	for (size_t i = 0; i < 4; i++)
		assert_int_equal(ranked[i].index, order[i]);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(eight_numbers),      cmocka_unit_test(nothing_at_all),
		cmocka_unit_test(one_number),         cmocka_unit_test(large_offset),
		cmocka_unit_test(sum_is_compensated), cmocka_unit_test(moments_merge_as_one),
		cmocka_unit_test(quantiles),          cmocka_unit_test(robust_scores),
		cmocka_unit_test(pooled_spread),      cmocka_unit_test(interval_of_a_spread),
		cmocka_unit_test(interval_refuses),   cmocka_unit_test(sorting_finds_the_way_back),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
