/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "oneway.h"

/* By hand: means 2, 5, 8, grand 5; between 3 (9 + 0 + 9) = 54, within 2 + 2 + 2 = 6; F = 27/1. */
static const double a[] = { 1, 2, 3 };
static const double b[] = { 4, 5, 6 };
static const double c[] = { 7, 8, 9 };

static void assert_three_groups(const struct oneway *anova)
{
	assert_int_equal(anova->groups, 3);
	assert_int_equal(anova->n, 9);
	assert_near(anova->grand_mean, 5.0, 1e-15);
	assert_near(anova->ss_between, 54.0, 1e-13);
	assert_near(anova->ss_within, 6.0, 1e-13);
	assert_near(anova->df_between, 2.0, 0.0);
	assert_near(anova->df_within, 6.0, 0.0);
	assert_near(anova->ms_between, 27.0, 1e-13);
	assert_near(anova->ms_within, 1.0, 1e-13);
	assert_near(anova->f, 27.0, 1e-12);
	/* with 2 degrees of freedom above, P(F > f) = (1 + 2 f/df)^(-df/2) */
	assert_near(anova->p, pow(1.0 + 2.0 * 27.0 / 6.0, -3.0), 1e-15);
	assert_near(anova->r2, 0.9, 1e-15);
	assert_near(anova->residual_sd, 1.0, 1e-13);
}

static void three_groups(void **state)
{
	static const struct group_values values[] = { { a, 3 }, { b, 3 }, { c, 3 } };
	static const struct group_values with_empty[] = { { NULL, 0 }, { a, 3 }, { b, 3 }, { NULL, 0 }, { c, 3 } };
	static const struct group_summary summaries[] = { { 3, 2, 1 }, { 0, NAN, NAN }, { 3, 5, 1 }, { 3, 8, 1 } };
	struct oneway anova = oneway_of_values(values, 3);

	(void)state;
	assert_three_groups(&anova);
	anova = oneway_of_values(with_empty, 5);
	assert_three_groups(&anova);
	anova = oneway_of_summaries(summaries, 4);
	assert_three_groups(&anova);
}

static void a_million_on_top(void **state)
{
	double x[9];
	struct group_values groups[3];
	struct oneway anova;

	(void)state;
	for (size_t i = 0; i < 9; i++)
		x[i] = 1e6 + (double)(i + 1);
	for (size_t i = 0; i < 3; i++)
		groups[i] = (struct group_values){ x + 3 * i, 3 };
	anova = oneway_of_values(groups, 3);
	anova.grand_mean -= 1e6;
	assert_three_groups(&anova);
}

static void one_value_each(void **state)
{
	static const struct group_values groups[] = { { a, 1 }, { b, 1 }, { c, 1 } };
	static const struct group_values mixed[] = { { a, 3 }, { b, 1 } };
	static const struct group_summary single[] = { { 3, 2, 1 }, { 1, 4, NAN } };
	struct oneway anova = oneway_of_values(groups, 3);

	(void)state;
	assert_near(anova.ss_between, 18.0, 1e-13);
	assert_near(anova.df_within, 0.0, 0.0);
	assert_near(anova.ms_within, NAN, 0.0);
	assert_near(anova.residual_sd, NAN, 0.0);
	assert_near(anova.f, NAN, 0.0);
	assert_near(anova.p, NAN, 0.0);
	anova = oneway_of_values(mixed, 2);
	assert_near(anova.ss_between, 3.0, 1e-13); /* 3/4 (4 - 2)^2 */
	assert_near(anova.f, 3.0, 1e-12);
	anova = oneway_of_summaries(single, 2);
	assert_near(anova.f, 3.0, 1e-12);
}

static void too_few_groups(void **state)
{
	static const struct group_values one[] = { { a, 3 }, { NULL, 0 } };
	struct oneway anova = oneway_of_values(one, 2);

	(void)state;
	assert_int_equal(anova.groups, 1);
	assert_near(anova.residual_sd, 1.0, 1e-15);
	assert_near(anova.ms_between, NAN, 0.0);
	assert_near(anova.f, NAN, 0.0);
	anova = oneway_of_values(one + 1, 1);
	assert_int_equal(anova.n, 0);
	assert_near(anova.grand_mean, NAN, 0.0);
	assert_near(anova.df_between, 0.0, 0.0);
	anova = oneway_of_values(NULL, 0);
	assert_near(anova.p, NAN, 0.0);
	assert_near(anova.r2, NAN, 0.0);
}

static void no_spread(void **state)
{
	static const double low[] = { 1.3, 1.3 };
	static const double high[] = { 1.4, 1.4 };
	static const struct group_values apart[] = { { low, 2 }, { high, 2 } };
	static const struct group_values same[] = { { low, 2 }, { low, 2 } };
	struct oneway anova = oneway_of_values(apart, 2);

	(void)state;
	assert_near(anova.ss_within, 0.0, 0.0);
	assert_near(anova.f, INFINITY, 0.0);
	assert_near(anova.p, 0.0, 0.0);
	assert_near(anova.r2, 1.0, 0.0);
	anova = oneway_of_values(same, 2);
	assert_near(anova.f, NAN, 0.0);
	assert_near(anova.p, NAN, 0.0);
	assert_near(anova.r2, NAN, 0.0);
	assert_near(anova.residual_sd, 0.0, 0.0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(three_groups),   cmocka_unit_test(a_million_on_top), cmocka_unit_test(one_value_each),
		cmocka_unit_test(too_few_groups), cmocka_unit_test(no_spread),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
