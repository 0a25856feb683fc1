/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "outliers.h"
#include "random.h"

struct single_case {
	const char *name;
	double x[8];
	size_t n;
	enum outlier_end end;
	enum outlier_mark mark;
	size_t index;
};

/* Two-sided limits for 8 values: 5 % 2.127, 1 % 2.274 (ISO 5725-2, table 5). G by hand from mean and s. */
static void grubbs_single_marks(void **state)
{
	static const struct single_case cases[] = {
		{ "quiet, G 1.43", { 1, 2, 3, 4, 5, 6, 7, 8 }, 8, OUTLIER_HIGH, OUTLIER_NONE, 7 },
		{ "straggler, G 2.20", { 1, 2, 3, 4, 5, 6, 7, 15 }, 8, OUTLIER_HIGH, OUTLIER_STRAGGLER, 7 },
		{ "outlier, G 2.42", { 1, 2, 3, 4, 5, 6, 7, 30 }, 8, OUTLIER_HIGH, OUTLIER_STATISTICAL, 7 },
		{ "low end of the same is quiet", { 1, 2, 3, 4, 5, 6, 7, 30 }, 8, OUTLIER_LOW, OUTLIER_NONE, 0 },
		{ "either end finds the low one",
		  { 4, 5, -23, 6, 7, 3, 2, 1 },
		  8,
		  OUTLIER_EITHER,
		  OUTLIER_STATISTICAL,
		  2 },
		{ "either end finds the high one",
		  { 4, 5, 30, 6, 7, 3, 2, 1 },
		  8,
		  OUTLIER_EITHER,
		  OUTLIER_STATISTICAL,
		  2 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		const struct single_case *c = &cases[i];
		struct outlier_test test = grubbs_single_test(c->x, c->n, c->end, OUTLIER_TWO_SIDED);

		if (test.mark != c->mark || test.index[0] != c->index)
			fail_msg("%s: mark %d at %zu, G %g", c->name, (int)test.mark, test.index[0], test.statistic);
		assert_int_equal(test.count, 1);
	}
}

static void grubbs_single_says_when_it_cannot(void **state)
{
	static const double two[] = { 1, 9 }, equal[] = { 1.38, 1.38, 1.38, 1.38 };
	struct outlier_test test = grubbs_single_test(two, 2, OUTLIER_HIGH, OUTLIER_TWO_SIDED);

	(void)state;
	assert_int_equal(test.mark, OUTLIER_NOT_TESTED);
	assert_int_equal(test.count, 0);
	assert_true(isnan(test.statistic));
	assert_int_equal(grubbs_single_test(equal, 4, OUTLIER_EITHER, OUTLIER_TWO_SIDED).mark, OUTLIER_NOT_TESTED);
	assert_true(isnan(grubbs_single_critical(2, 0.05, OUTLIER_TWO_SIDED)));
	assert_true(isnan(grubbs_single_critical(8, 0, OUTLIER_TWO_SIDED)));
	assert_true(isnan(grubbs_single_critical(8, 1, OUTLIER_ONE_SIDED)));
}

/* 1 .. 6, 30 and 31: without the two, 17.5 of 1111.5; by hand. Limit at 1 % 0.0563. */
static void grubbs_double_marks_a_pair(void **state)
{
	static const double high[] = { 1, 31, 3, 4, 5, 6, 30, 2 }, low[] = { 30, -1, 28, 27, 26, 25, 1, 29 };
	static const double quiet[] = { 1, 2, 3, 4, 5, 6, 7, 8 };
	struct outlier_test test = grubbs_double_test(high, 8, OUTLIER_HIGH);

	(void)state;
	assert_int_equal(test.mark, OUTLIER_STATISTICAL);
	assert_int_equal(test.count, 2);
	assert_int_equal(test.index[0], 1);
	assert_int_equal(test.index[1], 6);
	assert_rel_near(test.statistic, 17.5 / 1111.5, 1e-13);
	test = grubbs_double_test(low, 8, OUTLIER_EITHER);
	assert_int_equal(test.mark, OUTLIER_STATISTICAL);
	assert_int_equal(test.index[0], 1);
	assert_int_equal(test.index[1], 6);
	assert_int_equal(grubbs_double_test(high, 8, OUTLIER_LOW).mark, OUTLIER_NONE);
	assert_int_equal(grubbs_double_test(high, 8, OUTLIER_EITHER).index[0], 1);
	test = grubbs_double_test(quiet, 8, OUTLIER_HIGH);
	assert_int_equal(test.mark, OUTLIER_NONE);
	assert_rel_near(test.statistic, 17.5 / 42, 1e-14);
}

static void grubbs_double_says_when_it_cannot(void **state)
{
	double many[41];

	(void)state;
	for (size_t i = 0; i < 41; i++)
		many[i] = (double)(i * i);
	assert_int_equal(grubbs_double_test(many, 3, OUTLIER_HIGH).mark, OUTLIER_NOT_TESTED);
	assert_int_equal(grubbs_double_test(many, 41, OUTLIER_HIGH).mark, OUTLIER_NOT_TESTED);
	assert_int_equal(grubbs_double_test(many, 40, OUTLIER_HIGH).mark, OUTLIER_NONE);
	for (size_t i = 0; i < 41; i++)
		many[i] = 1.41;
	assert_int_equal(grubbs_double_test(many, 10, OUTLIER_HIGH).mark, OUTLIER_NOT_TESTED);
	assert_true(isnan(grubbs_double_critical(3, 5)));
	assert_true(isnan(grubbs_double_critical(41, 1)));
	assert_true(isnan(grubbs_double_critical(10, 2)));
}

/* The simulated part of the table: normal samples must fall below it in 2.5 % and 0.5 % of cases. */
static void grubbs_double_limits_hold_their_level(void **state)
{
	static const size_t sizes[] = { 21, 30, 40 };
	const int samples = 20000;
	struct random random;
	double x[40];

	(void)state;
	random_seed(&random, 1972);
	for (size_t s = 0; s < 3; s++) {
		int below_5 = 0, below_1 = 0;

		for (int i = 0; i < samples; i++) {
			double ratio;

			for (size_t k = 0; k < sizes[s]; k++)
				x[k] = random_normal(&random);
			ratio = grubbs_double_test(x, sizes[s], OUTLIER_HIGH).statistic;
			below_5 += ratio < grubbs_double_critical(sizes[s], 5);
			below_1 += ratio < grubbs_double_critical(sizes[s], 1);
		}
		assert_near(below_5 / (double)samples, 0.025, 0.0044); /* four standard errors */
		assert_near(below_1 / (double)samples, 0.005, 0.002);
	}
}

static void an_offset_changes_nothing(void **state)
{
	static const double x[] = { 1, 2, 3, 4, 5, 6, 7, 30 };
	double far[8];

	(void)state;
	for (size_t i = 0; i < 8; i++)
		far[i] = x[i] / 1024 + 1e6;
	assert_rel_near(grubbs_single_test(far, 8, OUTLIER_HIGH, OUTLIER_TWO_SIDED).statistic,
	                grubbs_single_test(x, 8, OUTLIER_HIGH, OUTLIER_TWO_SIDED).statistic, 1e-12);
	assert_rel_near(grubbs_double_test(far, 8, OUTLIER_HIGH).statistic,
	                grubbs_double_test(x, 8, OUTLIER_HIGH).statistic, 1e-12);
}

/* Variances 1, 4, 1, 10 (of n = 3, 3, 3, 2), two groups without: C = 10/16, limits those of p = 4, n = 3. */
static void cochran_takes_the_commonest_n(void **state)
{
	static const struct brew_summary groups[] = {
		{ .n = 3, .mean = 1, .ss = 2 }, { .n = 3, .mean = 2, .ss = 8 },  { .n = 0, .mean = NAN, .ss = 0 },
		{ .n = 3, .mean = 1, .ss = 2 }, { .n = 2, .mean = 1, .ss = 10 }, { .n = 1, .mean = 1, .ss = 0 },
	};
	struct outlier_test test = cochran_test(groups, 6);

	(void)state;
	assert_rel_near(test.statistic, 10.0 / 16, 1e-15);
	assert_int_equal(test.index[0], 4);
	assert_int_equal(test.count, 1);
	assert_near(test.critical_5, 0.768, 6e-4); /* ISO 5725-2, table 4, p = 4, n = 3 */
	assert_near(test.critical_1, 0.864, 6e-4);
	assert_int_equal(test.mark, OUTLIER_NONE);
}

/* n = 2 and n = 4 equally often: the smaller, whatever comes first. */
static void cochran_takes_the_smaller_of_equals(void **state)
{
	static const struct brew_summary groups[] = {
		{ .n = 4, .mean = 1, .ss = 3 },
		{ .n = 2, .mean = 1, .ss = 1 },
		{ .n = 4, .mean = 1, .ss = 3 },
		{ .n = 2, .mean = 1, .ss = 1 },
	};

	(void)state;
	assert_near(cochran_test(groups, 4).critical_5, 0.907, 6e-4); /* table 4, p = 4, n = 2 */
}

static void cochran_says_when_it_cannot(void **state)
{
	static const struct brew_summary flat[] = { { .n = 3, .mean = 1, .ss = 0 }, { .n = 3, .mean = 2, .ss = 0 } };
	static const struct brew_summary lone[] = { { .n = 3, .mean = 1, .ss = 2 }, { .n = 1, .mean = 2, .ss = 0 } };

	(void)state;
	assert_int_equal(cochran_test(flat, 2).mark, OUTLIER_NOT_TESTED);
	assert_int_equal(cochran_test(lone, 2).mark, OUTLIER_NOT_TESTED);
	assert_int_equal(cochran_test(NULL, 0).mark, OUTLIER_NOT_TESTED);
	assert_true(isnan(cochran_critical(1, 3, 0.05)));
	assert_true(isnan(cochran_critical(3, 1, 0.05)));
	assert_true(isnan(cochran_critical(3, 3, NAN)));
}

static void mandel_skips_what_has_no_readings(void **state)
{
	static const struct brew_summary groups[] = {
		{ .n = 3, .mean = 1e6 + 1, .ss = 2 },
		{ .n = 0, .mean = NAN, .ss = 0 },
		{ .n = 1, .mean = 1e6 + 3, .ss = 0 },
		{ .n = 2, .mean = 1e6 + 2, .ss = 3 },
	};
	double h[4], k[4];

	(void)state;
	mandel_h(h, groups, 4);
	mandel_k(k, groups, 4);
	assert_near(h[0], -1, 1e-12); /* means 1, 3, 2: s = 1 */
	assert_true(isnan(h[1]));
	assert_near(h[2], 1, 1e-12);
	assert_near(h[3], 0, 1e-12);
	assert_rel_near(k[0], sqrt(2 * 1.0 / 4), 1e-14); /* variances 1 and 3 of p = 2 */
	assert_rel_near(k[3], sqrt(2 * 3.0 / 4), 1e-14);
	assert_true(isnan(k[1]) && isnan(k[2]));
}

static void mandel_of_no_spread_is_undetermined(void **state)
{
	static const struct brew_summary flat[] = { { .n = 2, .mean = 1, .ss = 0 }, { .n = 2, .mean = 1, .ss = 0 } };
	double h[2], k[2];

	(void)state;
	mandel_h(h, flat, 2);
	mandel_k(k, flat, 2);
	assert_true(isnan(h[0]) && isnan(h[1]) && isnan(k[0]) && isnan(k[1]));
	assert_true(isnan(mandel_h_limit(2, 0.05)) && isnan(mandel_h_limit(5, 0)));
	assert_true(isnan(mandel_k_limit(1, 3, 0.05)) && isnan(mandel_k_limit(5, 1, 0.05)));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(grubbs_single_marks),
		cmocka_unit_test(grubbs_single_says_when_it_cannot),
		cmocka_unit_test(grubbs_double_marks_a_pair),
		cmocka_unit_test(grubbs_double_says_when_it_cannot),
		cmocka_unit_test(grubbs_double_limits_hold_their_level),
		cmocka_unit_test(an_offset_changes_nothing),
		cmocka_unit_test(cochran_takes_the_commonest_n),
		cmocka_unit_test(cochran_takes_the_smaller_of_equals),
		cmocka_unit_test(cochran_says_when_it_cannot),
		cmocka_unit_test(mandel_skips_what_has_no_readings),
		cmocka_unit_test(mandel_of_no_spread_is_undetermined),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
