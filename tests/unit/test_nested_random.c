/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "nested_random.h"

#define RUN(day, average, squares)                                             \
	{                                                                      \
		.n = 2, .mean = (average), .ss = (squares), .treatment = (day) \
	}

/*
 * Days {1, 3}, {6, 8}, {5, 1} of two readings each with ss 0.5: ms_reading 0.5 on 3; ms_inner (4 + 4 + 16)/3 = 8;
 * day means 2, 7, 3: ms_outer 4 * (4 + 9 + 1)/2 = 28. Components 0.5, 3.75, 5.
 */
static const struct brew_summary balanced[] = { RUN(0, 1, 0.5), RUN(0, 3, 0.5), RUN(1, 6, 0.5),
	                                        RUN(1, 8, 0.5), RUN(2, 5, 0.5), RUN(2, 1, 0.5) };

static void balanced_by_hand(void **state)
{
	struct nested_treatment work[3];
	struct nested_random a, r;

	(void)state;
	nested_random_anova(&a, work, 3, balanced, 6);
	assert_rel_near(a.ms_outer, 28, 1e-14);
	assert_rel_near(a.ms_inner, 8, 1e-14);
	assert_rel_near(a.k_outer, 4, 1e-14);
	assert_rel_near(a.var_outer, 5, 1e-14);
	assert_rel_near(a.var_inner, 3.75, 1e-14);
	assert_rel_near(a.var_reading, 0.5, 1e-14);
	nested_random_reml(&r, work, 3, balanced, 6);
	assert_true(r.converged);
	assert_rel_near(r.var_outer, 5, 1e-9); /* balanced and positive: the ANOVA estimates */
	assert_rel_near(r.var_inner, 3.75, 1e-9);
	assert_rel_near(r.var_reading, 0.5, 1e-9);
	assert_rel_near(r.mean, 4, 1e-12);
	assert_rel_near(r.se_mean, sqrt(28.0 / 12), 1e-9);
}

/* Day means 4, 4, 4: the outer component is 0 and its squares go to the inner: (24 + 0)/(3 + 2) = 4.8. */
static void an_outer_component_of_0_is_pooled(void **state)
{
	static const struct brew_summary runs[] = { RUN(0, 3, 0.5), RUN(0, 5, 0.5), RUN(1, 3, 0.5),
		                                    RUN(1, 5, 0.5), RUN(2, 6, 0.5), RUN(2, 2, 0.5) };
	struct nested_treatment work[3];
	struct nested_random a, r;

	(void)state;
	nested_random_anova(&a, work, 3, runs, 6);
	assert_true(a.var_outer < 0);
	nested_random_reml(&r, work, 3, runs, 6);
	assert_near(r.var_outer, 0, 0);
	assert_rel_near(r.var_reading, 0.5, 1e-9);
	assert_rel_near(r.var_inner, (4.8 - 0.5) / 2, 1e-9);
}

/* Nothing but readings differ: one variance of all, on N - 1. */
static void both_components_0(void **state)
{
	static const struct brew_summary runs[] = { RUN(0, 4, 8), RUN(0, 4, 8), RUN(1, 4, 8), RUN(1, 4, 8) };
	struct nested_treatment work[2];
	struct nested_random r;

	(void)state;
	nested_random_reml(&r, work, 2, runs, 4);
	assert_near(r.var_outer, 0, 0);
	assert_near(r.var_inner, 0, 0);
	assert_rel_near(r.var_reading, 32.0 / 7, 1e-9);
	assert_true(r.converged);
}

/* Runs alike within their days, days apart: the inner component is 0, its squares go to the readings. */
static void an_inner_component_of_0(void **state)
{
	static const struct brew_summary runs[] = { RUN(0, 1, 2), RUN(0, 1, 2), RUN(1, 9, 2),
		                                    RUN(1, 9, 2), RUN(2, 5, 2), RUN(2, 5, 2) };
	struct nested_treatment work[3];
	struct nested_random r;

	(void)state;
	nested_random_reml(&r, work, 3, runs, 6);
	assert_near(r.var_inner, 0, 0);
	assert_rel_near(r.var_reading, 12.0 / 9, 1e-9);
	assert_rel_near(r.var_outer, (64 - 12.0 / 9) / 4, 1e-9); /* ms_outer 4 * 32/2 */
}

static void too_little_to_tell_apart(void **state)
{
	static const struct brew_summary one_day[] = { RUN(0, 1, 1), RUN(0, 2, 1) };
	static const struct brew_summary one_run_each[] = { RUN(0, 1, 1), RUN(1, 2, 1), RUN(2, 3, 1) };
	static const struct brew_summary no_spread[] = { RUN(0, 1, 0), RUN(0, 2, 0), RUN(1, 2, 0), RUN(1, 3, 0) };
	static const struct brew_summary gap[] = {
		RUN(0, 1, 1), RUN(0, 2, 1), RUN(2, 2, 1), { .n = 0, .treatment = 1 }
	};
	struct nested_treatment work[3];
	struct nested_random r;

	(void)state;
	nested_random_reml(&r, work, 1, one_day, 2);
	assert_true(isnan(r.var_outer) && isnan(r.var_reading) && !r.converged);
	assert_near(r.mean, 1.5, 0);
	nested_random_anova(&r, work, 1, one_day, 2);
	assert_true(isnan(r.var_outer) && isnan(r.k_outer));
	assert_rel_near(r.var_reading, 1, 1e-15);
	nested_random_anova(&r, work, 3, one_run_each, 3);
	assert_true(isnan(r.var_inner) && isnan(r.var_outer));
	nested_random_reml(&r, work, 2, no_spread, 4);
	assert_true(isnan(r.var_inner) && !r.converged);
	nested_random_reml(&r, work, 3, gap, 4); /* the middle day was never read */
	assert_int_equal(r.outers, 2);
	assert_true(r.converged);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(balanced_by_hand),         cmocka_unit_test(an_outer_component_of_0_is_pooled),
		cmocka_unit_test(both_components_0),        cmocka_unit_test(an_inner_component_of_0),
		cmocka_unit_test(too_little_to_tell_apart),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
