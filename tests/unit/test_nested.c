/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <Rmath.h>

#include "nested.h"
#include "nested_blocked.h"
#include "random.h"

#define BREW(t, count, average, squares)                                           \
	{                                                                          \
		.n = (count), .mean = (average), .ss = (squares), .treatment = (t) \
	}

/*
 * Two treatments, two brews each of two readings, by hand:
 * brew means 1, 3 | 6, 8; ss within 0.5 each. ss_brew 2(1+1) + 2(1+1) = 8 on 2, ms 4; ss_treatment 8 * 2.5^2 = 50;
 * ss_reading 2 on 4, ms 0.5; var_brew (4 - 0.5)/2 = 1.75; F 50/4 = 12.5 on 1 and 2.
 */
static const struct brew_summary balanced[] = { BREW(0, 2, 1, 0.5), BREW(1, 2, 6, 0.5), BREW(0, 2, 3, 0.5),
	                                        BREW(1, 2, 8, 0.5) };

static void balanced_by_hand(void **state)
{
	struct nested_treatment t[2];
	struct nested_anova a;

	(void)state;
	nested_anova(&a, t, 2, balanced, 4);
	assert_near(a.mean, 4.5, 0);
	assert_rel_near(a.ms_brew, 4, 1e-15);
	assert_rel_near(a.ms_treatment, 50, 1e-15);
	assert_rel_near(a.ms_reading, 0.5, 1e-15);
	assert_rel_near(a.k1, 2, 1e-15);
	assert_rel_near(a.k2, 2, 1e-15);
	assert_rel_near(a.var_brew, 1.75, 1e-15);
	assert_rel_near(a.var_total, 2.25, 1e-15);
	assert_rel_near(a.df_total, 5.0625 / (4.0 / 2 + 0.0625 / 4), 1e-14);
	assert_rel_near(a.f, 12.5, 1e-14);
	assert_near(a.f_df_denominator, 2, 1e-14);
	assert_rel_near(a.p, 1 - sqrt(12.5 / 14.5), 1e-10); /* F(1, 2) is t(2) squared */
	assert_near(t[0].mean, 2, 0);
	assert_near(t[1].mean, 7, 0);
	assert_int_equal(t[1].readings, 4);
}

/* In balanced data with positive estimates REML is ANOVA (Searle, Casella and McCulloch 1992, 6.6). */
static void balanced_reml_is_anova(void **state)
{
	struct nested_treatment t[2];
	struct nested_reml fit;
	struct nested_contrast d;

	(void)state;
	nested_reml(&fit, t, 2, balanced, 4);
	assert_rel_near(fit.var_brew, 1.75, 1e-12);
	assert_rel_near(fit.var_reading, 0.5, 1e-12);
	assert_false(fit.at_boundary);
	assert_true(fit.slope_at_zero > 0);
	assert_rel_near(t[0].se, 1, 1e-12); /* sqrt(4 / 4) */
	d = nested_difference(&fit, t, 1, 0);
	assert_rel_near(d.estimate, 5, 1e-14);
	assert_rel_near(d.se, sqrt(2), 1e-12);
	assert_rel_near(d.df, 2, 1e-9); /* ms_brew alone: its 2 df */
}

static void contrasts_agree_with_differences(void **state)
{
	static const struct brew_summary brews[] = { BREW(0, 3, 1.0, 0.2), BREW(0, 1, 1.6, 0),   BREW(1, 2, 2.0, 0.1),
		                                     BREW(1, 4, 2.7, 0.5), BREW(2, 2, 3.1, 0.3), BREW(2, 3, 3.0, 0.2),
		                                     BREW(2, 1, 3.9, 0) };
	static const double minus[] = { 1, 0, -1, 0 }, third[] = { 0.5, 0.5, -1, 0 };
	struct nested_treatment t[4];
	struct nested_reml fit;
	struct nested_contrast d, c;

	(void)state;
	nested_reml(&fit, t, 4, brews, 7); /* treatment 3 has no brew */
	assert_int_equal(fit.treatments, 3);
	assert_true(isnan(t[3].mean) && isnan(t[3].se) && isnan(t[3].df));
	d = nested_difference(&fit, t, 0, 2);
	c = nested_contrast(&fit, t, minus, 4);
	assert_near(c.estimate, d.estimate, 0);
	assert_near(c.se, d.se, 0);
	assert_near(c.df, d.df, 0);
	c = nested_contrast(&fit, t, third, 4);
	assert_rel_near(c.estimate, 0.5 * (t[0].mean + t[1].mean) - t[2].mean, 1e-14);
	assert_rel_near(c.se, sqrt(0.25 * (1 / t[0].weight + 1 / t[1].weight) + 1 / t[2].weight), 1e-14);
	assert_true(c.df <= 4);
	assert_true(isnan(nested_difference(&fit, t, 0, 3).estimate));
	assert_true(isnan(nested_difference(&fit, t, 0, 3).df));
}

static void one_brew_each_says_nothing_about_treatments(void **state)
{
	static const struct brew_summary brews[] = { BREW(0, 3, 1, 0.02), BREW(1, 3, 2, 0.04) };
	struct nested_treatment t[2];
	struct nested_anova a;
	struct nested_reml fit;

	(void)state;
	nested_anova(&a, t, 2, brews, 2);
	assert_near(a.df_brew, 0, 0);
	assert_true(isnan(a.ms_brew) && isnan(a.k1) && isnan(a.var_brew) && isnan(a.f) && isnan(a.p));
	assert_true(isnan(a.var_total) && isnan(a.df_total));
	assert_rel_near(a.ms_reading, 0.015, 1e-14);
	assert_true(isnan(nested_interval_brew(&a, 0.95).lower));
	assert_true(nested_interval_reading(&a, 0.95).upper > 0.015);
	nested_reml(&fit, t, 2, brews, 2);
	assert_true(isnan(fit.var_brew) && isnan(fit.loglik) && isnan(t[0].se) && isnan(t[0].df));
	assert_near(t[1].mean, 2, 0);
	assert_true(isnan(nested_difference(&fit, t, 0, 1).se));
}

/* The ordinary one-way F of 1, 2, 3 against 4, 6, 8: ss 2 and 8 on 4, 24 between; F 24/2.5 = 9.6. */
static void one_reading_each_is_a_one_way_analysis(void **state)
{
	static const struct brew_summary brews[] = { BREW(0, 1, 1, 0), BREW(0, 1, 2, 0), BREW(0, 1, 3, 0),
		                                     BREW(1, 1, 4, 0), BREW(1, 1, 6, 0), BREW(1, 1, 8, 0) };
	struct nested_treatment t[2];
	struct nested_anova a;
	struct nested_reml fit;

	(void)state;
	nested_anova(&a, t, 2, brews, 6);
	assert_rel_near(a.f, 24 / 2.5, 1e-14);
	assert_near(a.f_df_denominator, 4, 0);
	assert_rel_near(a.var_total, 2.5, 1e-14);
	assert_near(a.df_total, 4, 0);
	assert_true(isnan(a.var_brew) && isnan(a.var_reading));
	nested_reml(&fit, t, 2, brews, 6);
	assert_true(isnan(fit.var_brew) && isnan(fit.var_reading));
	assert_near(t[1].mean, 6, 0);
}

static void one_treatment_has_components_but_no_test(void **state)
{
	static const struct brew_summary brews[] = { BREW(0, 2, 1, 0.5), BREW(0, 2, 3, 0.5), BREW(0, 0, NAN, 0),
		                                     BREW(0, 2, 5, 0.5) };
	struct nested_treatment t[1];
	struct nested_anova a;
	struct nested_reml fit;

	(void)state;
	nested_anova(&a, t, 1, brews, 4);
	assert_int_equal(a.brews, 3);
	assert_true(isnan(a.ms_treatment) && isnan(a.k2) && isnan(a.f) && isnan(a.p));
	assert_rel_near(a.var_brew, (8 - 0.5) / 2, 1e-14); /* means 1, 3, 5: ms_brew 2 * 4 */
	nested_reml(&fit, t, 1, brews, 4);
	assert_rel_near(fit.var_brew, 3.75, 1e-12);
	assert_rel_near(t[0].mean, 3, 1e-15);
}

static void no_readings_at_all(void **state)
{
	struct nested_treatment t[2];
	struct nested_anova a;
	struct nested_reml fit;

	(void)state;
	nested_anova(&a, t, 2, NULL, 0);
	assert_int_equal(a.brews, 0);
	assert_true(isnan(a.f) && isnan(a.mean) && isnan(a.var_brew));
	nested_reml(&fit, t, 2, NULL, 0);
	assert_true(isnan(fit.var_brew) && isnan(t[0].mean));
}

/* Readings that all agree within their brews: the brews' own variance, 2 in each treatment, and B - t df. */
static void no_spread_within_brews(void **state)
{
	static const struct brew_summary brews[] = { BREW(0, 3, 1, 0), BREW(0, 2, 3, 0), BREW(1, 3, 6, 0),
		                                     BREW(1, 5, 8, 0) };
	struct nested_treatment t[2];
	struct nested_reml fit;
	struct nested_contrast d;

	(void)state;
	nested_reml(&fit, t, 2, brews, 4);
	assert_near(fit.var_reading, 0, 0);
	assert_rel_near(fit.var_brew, 2, 1e-15);
	assert_true(isinf(fit.loglik));
	assert_rel_near(t[0].mean, 2, 1e-15); /* each brew counts once */
	d = nested_difference(&fit, t, 1, 0);
	assert_rel_near(d.estimate, 5, 1e-15);
	assert_rel_near(d.se, sqrt(2), 1e-15);
	assert_rel_near(d.df, 2, 1e-14);
}

static void next_to_no_spread_within_brews(void **state)
{
	static const struct brew_summary brews[] = { BREW(0, 3, 1, 1e-40), BREW(0, 2, 3, 0), BREW(1, 3, 6, 0),
		                                     BREW(1, 5, 8, 0) };
	struct nested_treatment t[2];
	struct nested_reml fit;

	(void)state;
	nested_reml(&fit, t, 2, brews, 4);
	assert_near(fit.var_reading, 0, 0);
	assert_rel_near(fit.var_brew, 2, 1e-15);
}

static void no_spread_at_all(void **state)
{
	static const struct brew_summary brews[] = { BREW(0, 2, 1.38, 0), BREW(0, 2, 1.38, 0), BREW(1, 2, 1.38, 0),
		                                     BREW(1, 2, 1.38, 0) };
	struct nested_treatment t[2];
	struct nested_anova a;
	struct nested_reml fit;
	struct nested_contrast d;

	(void)state;
	nested_anova(&a, t, 2, brews, 4);
	assert_near(a.var_brew, 0, 0);
	assert_true(isnan(a.f) && isnan(a.p));
	nested_reml(&fit, t, 2, brews, 4);
	assert_near(fit.var_brew, 0, 0);
	assert_near(fit.var_reading, 0, 0);
	d = nested_difference(&fit, t, 0, 1);
	assert_near(d.estimate, 0, 0);
	assert_near(d.se, 0, 0);
	assert_near(d.df, 2, 0);
}

/* Brews that differ less than their readings would make them: component 0, one variance for all, df held at B - t. */
static void boundary_holds_the_df(void **state)
{
	static const struct brew_summary brews[] = { BREW(0, 3, 1.0, 2), BREW(0, 3, 1.1, 2), BREW(1, 3, 2.0, 2),
		                                     BREW(1, 3, 2.1, 2) };
	struct nested_treatment t[2];
	struct nested_anova a;
	struct nested_reml fit;
	struct nested_contrast d;

	(void)state;
	nested_anova(&a, t, 2, brews, 4);
	assert_true(a.var_brew_raw < 0);
	assert_near(a.var_brew, 0, 0);
	assert_rel_near(a.var_total, a.ms_reading, 1e-15);
	assert_near(a.df_total, 8, 0);
	nested_reml(&fit, t, 2, brews, 4);
	assert_true(fit.at_boundary);
	assert_near(fit.var_brew, 0, 0);
	assert_rel_near(fit.var_reading, (8 + 2 * 3 * 0.005) / 10, 1e-13); /* 12 readings about 2 means */
	assert_true(fit.slope_at_zero < 0);
	d = nested_difference(&fit, t, 0, 1);
	assert_rel_near(d.df_uncapped, 10, 1e-10);
	assert_near(d.df, 2, 0);
	assert_near(t[0].df, 2, 0);
	assert_near(fit.covariance[0], 0, 0);
}

/* ms_brew 0 while k2 > k1: the test's denominator is negative, so there is no test. */
static void a_negative_denominator_is_not_tested(void **state)
{
	static const struct brew_summary brews[] = { BREW(0, 1, 1, 0), BREW(0, 1, 1, 0), BREW(0, 20, 1, 20),
		                                     BREW(1, 20, 2, 20) };
	struct nested_treatment t[2];
	struct nested_anova a;

	(void)state;
	nested_anova(&a, t, 2, brews, 4);
	assert_true(a.k2 > a.k1);
	assert_true(a.f_denominator < 0);
	assert_true(isnan(a.f) && isnan(a.p));
}

/* Values on the grid of 1/1024: the offset is exact, so nothing may change but the rounded means. */
static void an_offset_costs_no_digits(void **state)
{
	static const double x[6][3] = { { 3, 7, 4 },    { 11, 12, 19 }, { 5, 6, 2 },
		                        { 30, 31, 36 }, { 22, 28, 25 }, { 33, 30, 29 } };
	struct brew_summary near[6], far[6];
	struct nested_treatment t[2], u[2];
	struct nested_reml fit, off;

	(void)state;
	for (size_t b = 0; b < 6; b++) {
		double shifted[3];

		for (size_t i = 0; i < 3; i++)
			shifted[i] = 1e6 + x[b][i] / 1024;
		near[b] = brew_summary_of(x[b], 3);
		far[b] = brew_summary_of(shifted, 3);
		near[b].treatment = far[b].treatment = b / 3;
	}
	nested_reml(&fit, t, 2, near, 6);
	nested_reml(&off, u, 2, far, 6);
	assert_rel_near(off.var_brew * 1024 * 1024, fit.var_brew, 1e-6);
	assert_rel_near(off.var_reading * 1024 * 1024, fit.var_reading, 1e-6);
	assert_near((u[1].mean - 1e6) * 1024, t[1].mean, 1e-6);
}

/* The interval's lower end is 0 exactly where F = ms_brew/ms_reading is critical; that is how it was made. */
static void interval_agrees_with_the_f_test(void **state)
{
	struct nested_anova a = { .df_brew = 7, .df_reading = 16, .k1 = 2.5, .ms_reading = 0.4 };
	double critical = qf(0.025, 7, 16, 0, 0);
	struct interval i;

	(void)state;
	a.ms_brew = 0.4 * critical * 1.0001;
	i = nested_interval_brew(&a, 0.95);
	assert_true(i.lower > 0 && i.lower < 1e-4);
	a.ms_brew = 0.4 * critical * 0.9999;
	i = nested_interval_brew(&a, 0.95);
	assert_near(i.lower, 0, 0);
	assert_true(i.upper > (a.ms_brew - 0.4) / 2.5);
	assert_true(isnan(nested_interval_brew(&a, 1).lower));
	assert_true(isnan(nested_interval_reading(&a, 0).upper));
}

/* R 4.2.2: 1 - qf(.975, 7, 16) / 5 and 1 - qf(.025, 7, 16) / 5. */
static void share_of_the_brews(void **state)
{
	struct nested_anova a = { .df_brew = 7, .df_reading = 16, .k1 = 2.5, .ms_reading = 0.4, .ms_brew = 2.0 };
	struct interval i = nested_interval_share(&a, 0.95);

	(void)state;
	assert_near(i.lower, 0.356113736336, 1e-11);
	assert_near(i.upper, 0.955974461165, 1e-11);
	a.ms_brew = 0.4; /* F = 1: no share is the likeliest, and the interval begins there */
	assert_near(nested_interval_share(&a, 0.95).lower, 0, 0);
	a.ms_brew = a.ms_reading = 0;
	assert_true(isnan(nested_interval_share(&a, 0.95).lower)); /* nothing varies: no share of it */
	a.var_brew_raw = NAN;
	assert_true(isnan(nested_interval_share(&a, 0.95).upper));
	assert_true(isnan(nested_interval_share(&a, 1).upper));
}

/* With the readings' share negligible it is the chi-square interval of ms_brew / k1. */
static void interval_of_brews_alone_is_chi_square(void **state)
{
	struct nested_anova a = { .df_brew = 8, .df_reading = 20, .k1 = 3, .ms_brew = 12, .ms_reading = 1e-12 };
	struct interval i = nested_interval_brew(&a, 0.95);

	(void)state;
	assert_rel_near(i.lower, 4 * 0.675457 * 0.675457, 2e-6); /* 8 df: factors 0.675457 and 1.915771 on s */
	assert_rel_near(i.upper, 4 * 1.915771 * 1.915771, 2e-6);
}

/* 95 % intervals of both components over simulated runs of 4 treatments x 3 brews x 3 readings. */
static void intervals_cover(void **state)
{
	const int runs = 4000;
	int reading = 0, brew = 0;
	struct random random;

	(void)state;
	random_seed(&random, 12);
	for (int run = 0; run < runs; run++) {
		struct brew_summary brews[12];
		struct nested_treatment t[4];
		struct nested_anova a;
		struct interval i;

		for (size_t b = 0; b < 12; b++) {
			double level = 0.8 * random_normal(&random), y[3];

			for (size_t k = 0; k < 3; k++)
				y[k] = level + random_normal(&random);
			brews[b] = brew_summary_of(y, 3);
			brews[b].treatment = b / 3;
		}
		nested_anova(&a, t, 4, brews, 12);
		i = nested_interval_reading(&a, 0.95);
		reading += i.lower <= 1 && 1 <= i.upper;
		i = nested_interval_brew(&a, 0.95);
		brew += i.lower <= 0.64 && 0.64 <= i.upper;
	}
	assert_near(reading / (double)runs, 0.95, 0.014); /* four standard errors */
	assert_near(brew / (double)runs, 0.95, 0.014);
}

static void blocks_that_hide_a_treatment(void **state)
{
	static const struct brew_summary apart[] = {
		{ .n = 2, .mean = 1, .ss = 1, .treatment = 0, .block = 0 },
		{ .n = 2, .mean = 2, .ss = 1, .treatment = 0, .block = 0 },
		{ .n = 2, .mean = 3, .ss = 1, .treatment = 1, .block = 1 },
		{ .n = 2, .mean = 5, .ss = 1, .treatment = 1, .block = 1 },
	};
	double work[64 + 8];
	size_t columns[4];
	struct nested_blocked fit;

	(void)state;
	assert_int_equal(nested_blocked_work(2, 2), 72);
	assert_int_equal(nested_blocked_columns(2, 2), 4);
	nested_blocked_reml(&fit, 2, 2, apart, 4, work, columns);
	assert_true(isnan(fit.reml.var_brew) && isnan(fit.reml.loglik));
	assert_true(isnan(nested_blocked_difference(&fit, apart, 4, 0, 1).estimate));
}

static void blocks_without_brews_to_spare(void **state)
{
	static const struct brew_summary few[] = {
		{ .n = 2, .mean = 1, .ss = 1, .treatment = 0, .block = 0 },
		{ .n = 2, .mean = 2, .ss = 1, .treatment = 1, .block = 0 },
		{ .n = 0, .mean = NAN, .ss = 0, .treatment = 2, .block = 1 },
	};
	double work[4 * 25 + 10];
	size_t columns[5];
	struct nested_blocked fit;

	(void)state;
	nested_blocked_reml(&fit, 3, 2, few, 3, work, columns);
	assert_int_equal(fit.blocks, 1);
	assert_int_equal(fit.reml.treatments, 2);
	assert_true(isnan(fit.reml.var_brew));
	assert_true(isnan(nested_blocked_difference(&fit, few, 3, 0, 2).se));
}

/* Complete blocks, equal numbers: the components of the two-way table of brew means, by hand. */
static void blocks_balanced_by_hand(void **state)
{
	/* brew means 1, 4 | 3, 8 : interaction ss of means 1, times n = 2: ms_brew 2 on 1 df; ms_reading 0.25 on 4 */
	static const struct brew_summary brews[] = {
		{ .n = 2, .mean = 1, .ss = 0.25, .treatment = 0, .block = 0 },
		{ .n = 2, .mean = 4, .ss = 0.25, .treatment = 1, .block = 0 },
		{ .n = 2, .mean = 3, .ss = 0.25, .treatment = 0, .block = 1 },
		{ .n = 2, .mean = 8, .ss = 0.25, .treatment = 1, .block = 1 },
	};
	double work[72];
	size_t columns[4];
	struct nested_blocked fit;
	struct nested_contrast d;

	(void)state;
	nested_blocked_reml(&fit, 2, 2, brews, 4, work, columns);
	assert_rel_near(fit.reml.var_reading, 0.25, 1e-11);
	assert_rel_near(fit.reml.var_brew, (2 - 0.25) / 2, 1e-11);
	d = nested_blocked_difference(&fit, brews, 4, 1, 0);
	assert_rel_near(d.estimate, 4, 1e-13);
	assert_rel_near(d.se, 1, 1e-11); /* sqrt(2 * 2 / 4) */
	assert_rel_near(d.df, 1, 1e-8);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(balanced_by_hand),
		cmocka_unit_test(balanced_reml_is_anova),
		cmocka_unit_test(contrasts_agree_with_differences),
		cmocka_unit_test(one_brew_each_says_nothing_about_treatments),
		cmocka_unit_test(one_reading_each_is_a_one_way_analysis),
		cmocka_unit_test(one_treatment_has_components_but_no_test),
		cmocka_unit_test(no_readings_at_all),
		cmocka_unit_test(no_spread_within_brews),
		cmocka_unit_test(next_to_no_spread_within_brews),
		cmocka_unit_test(no_spread_at_all),
		cmocka_unit_test(boundary_holds_the_df),
		cmocka_unit_test(a_negative_denominator_is_not_tested),
		cmocka_unit_test(an_offset_costs_no_digits),
		cmocka_unit_test(interval_agrees_with_the_f_test),
		cmocka_unit_test(share_of_the_brews),
		cmocka_unit_test(interval_of_brews_alone_is_chi_square),
		cmocka_unit_test(intervals_cover),
		cmocka_unit_test(blocks_that_hide_a_treatment),
		cmocka_unit_test(blocks_without_brews_to_spare),
		cmocka_unit_test(blocks_balanced_by_hand),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
