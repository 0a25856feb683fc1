/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <Rmath.h>

#include "precision.h"

/* {1, 2} and {3, 4}, by hand: s_r^2 1/2, s_d^2 4, n 2, s_L^2 7/4, s_R 3/2; df_R = 2.25^2 / (2^2/1 + 0.25^2/2). */
static void two_groups_by_hand(void **state)
{
	static const struct brew_summary groups[] = { { .n = 2, .mean = 1.5, .ss = 0.5 },
		                                      { .n = 0, .mean = NAN, .ss = 0 },
		                                      { .n = 2, .mean = 3.5, .ss = 0.5 } };
	struct precision p = precision_of(groups, 3);

	(void)state;
	assert_int_equal(p.groups, 2);
	assert_int_equal(p.readings, 4);
	assert_near(p.mean, 2.5, 0);
	assert_near(p.nbar, 2, 0);
	assert_rel_near(p.s_r, sqrt(0.5), 1e-15);
	assert_rel_near(p.ms_between, 4, 1e-15);
	assert_rel_near(p.var_between_raw, 1.75, 1e-15);
	assert_rel_near(p.s_R, 1.5, 1e-15);
	assert_rel_near(p.s_means, sqrt(2), 1e-15);
	assert_near(p.df_r, 2, 0);
	assert_rel_near(p.df_R, 5.0625 / 4.03125, 1e-14);
	assert_rel_near(p.r_limit, 1.959964 * sqrt(2) * sqrt(0.5), 1e-7);
	assert_rel_near(p.R_limit, 1.959964 * sqrt(2) * 1.5, 1e-7);
}

static void a_negative_component_is_kept_raw_and_reported_0(void **state)
{
	static const struct brew_summary groups[] = { { .n = 2, .mean = 1, .ss = 8 }, { .n = 2, .mean = 1, .ss = 8 } };
	struct precision p = precision_of(groups, 2);

	(void)state;
	assert_rel_near(p.var_between_raw, -4, 1e-15); /* (0 - 8) / 2 */
	assert_near(p.s_L, 0, 0);
	assert_near(p.s_R, p.s_r, 0);
	assert_true(isnan(p.df_R));
}

static void one_group_has_repeatability_only(void **state)
{
	static const struct brew_summary group = { .n = 3, .mean = 1.38, .ss = 0.0002 };
	struct precision p = precision_of(&group, 1);

	(void)state;
	assert_rel_near(p.s_r, 0.01, 1e-12);
	assert_near(p.mean, 1.38, 1e-15);
	assert_true(isnan(p.s_L) && isnan(p.s_R) && isnan(p.nbar) && isnan(p.df_R) && isnan(p.s_means));
}

static void one_reading_each_has_no_repeatability(void **state)
{
	static const struct brew_summary groups[] = { { .n = 1, .mean = 1, .ss = 0 }, { .n = 1, .mean = 3, .ss = 0 } };
	struct precision p = precision_of(groups, 2);

	(void)state;
	assert_true(isnan(p.s_r) && isnan(p.r_limit) && isnan(p.s_L) && isnan(p.s_R));
	assert_near(p.df_r, 0, 0);
	assert_rel_near(p.s_means, sqrt(2), 1e-15);
	assert_true(isnan(precision_of(NULL, 0).mean));
}

static void one_group_without_spread_is_pooled_in(void **state)
{
	static const double same[] = { 1.38, 1.38, 1.38 }, spread[] = { 1.37, 1.38, 1.39 };
	struct brew_summary groups[2] = { brew_summary_of(same, 3), brew_summary_of(spread, 3) };

	(void)state;
	assert_near(groups[0].ss, 0, 0);
	assert_near(brew_sd(&groups[0]), 0, 0);
	assert_rel_near(precision_of(groups, 2).s_r, sqrt(0.0002 / 4), 1e-10);
}

/* Values on the grid of 1/1024, so that the offset itself is exact. */
static void an_offset_costs_no_digits(void **state)
{
	static const double steps[2][3] = { { 3, 7, 4 }, { 11, 12, 19 } };
	struct brew_summary near[2], far[2];
	double x[3];
	struct precision p, q;

	(void)state;
	for (size_t g = 0; g < 2; g++) {
		near[g] = brew_summary_of(steps[g], 3);
		for (size_t i = 0; i < 3; i++)
			x[i] = 1e6 + steps[g][i] / 1024;
		far[g] = brew_summary_of(x, 3);
	}
	p = precision_of(near, 2);
	q = precision_of(far, 2);
	assert_rel_near(q.s_r * 1024, p.s_r, 1e-12);
	assert_rel_near(q.s_R * 1024, p.s_R, 1e-6); /* group means near 1e6 are rounded to 1e-10 */
}

static void summaries_of_too_few(void **state)
{
	static const double one[] = { 1.38 };
	struct brew_summary none = brew_summary_of(NULL, 0), lone = brew_summary_of(one, 1);
	double df = -1;

	(void)state;
	assert_true(isnan(none.mean));
	assert_int_equal(none.n, 0);
	assert_near(lone.mean, 1.38, 0);
	assert_near(lone.ss, 0, 0);
	assert_true(isnan(brew_sd(&lone)));
	assert_true(isnan(brew_pooled_sd(&lone, 1, &df)));
	assert_near(df, 0, 0);
	assert_true(isnan(brew_pooled_sd(&lone, 1, NULL)));
}

struct claim_case {
	const char *name;
	double s, step, sd;
	bool limited;
};

static void the_display_limits_the_claim(void **state)
{
	static const struct claim_case cases[] = {
		{ "three identical readings", 0, 0.01, 0.002886751345948129, true }, /* 0.01 / sqrt(12) */
		{ "less than the rounding", 0.001, 0.01, 0.002886751345948129, true },
		{ "between rounding and step", 0.006, 0.01, 0.006, true },
		{ "the step itself", 0.01, 0.01, 0.01, false },
		{ "more than the step", 0.02, 0.01, 0.02, false },
		{ "step unknown", 0.001, 0, 0.001, false },
		{ "step not a number", 0.001, NAN, 0.001, false },
		{ "no spread known", NAN, 0.01, 0.002886751345948129, true },
	};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct sd_claim claim = sd_claimable(cases[i].s, cases[i].step);

		if (fabs(claim.sd - cases[i].sd) > 1e-16 || claim.limited != cases[i].limited)
			fail_msg("%s: %.17g, %d", cases[i].name, claim.sd, claim.limited);
	}
}

/* The mean of rounded values at each place between two steps by the normal distribution, not by the series. */
static double left_by_summing(double s, double step)
{
	const int places = 400;
	double squares = 0;

	for (int i = 0; i < places; i++) {
		double x = step * (i + 0.5) / places, mean = 0;

		for (int shown = -40; shown <= 41; shown++)
			mean += shown * step *
			        (pnorm((shown + 0.5) * step, x, s, 1, 0) - pnorm((shown - 0.5) * step, x, s, 1, 0));
		squares += (mean - x) * (mean - x);
	}
	return sqrt(squares / places);
}

static void rounding_is_averaged_away_by_scatter(void **state)
{
	(void)state;
	assert_rel_near(rounding_left(0, 0.1), 0.1 / sqrt(12), 1e-15);
	assert_rel_near(rounding_left(NAN, 0.1), 0.1 / sqrt(12), 1e-15);
	for (double s = 0.05; s < 0.6; s += 0.05)
		assert_near(rounding_left(s, 1), left_by_summing(s, 1), 1e-6);
	assert_near(rounding_left(0.25, 1), 0.06555, 1e-5); /* by hand: the first two terms */
	assert_near(rounding_left(1e-9, 1), 1 / sqrt(12), 1e-4);
	assert_near(rounding_left(3, 1), 0, 1e-30);
	assert_near(rounding_left(0.1, 0), 0, 0);
	assert_near(rounding_left(0.1, NAN), 0, 0);
}

static void the_scatter_before_rounding(void **state)
{
	(void)state;
	assert_rel_near(sd_before_rounding(1, 1), sqrt(11.0 / 12), 1e-15);
	assert_near(sd_before_rounding(0.2, 1), 0, 0);
	assert_near(sd_before_rounding(0.2, 0), 0.2, 1e-15);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(two_groups_by_hand),
		cmocka_unit_test(a_negative_component_is_kept_raw_and_reported_0),
		cmocka_unit_test(one_group_has_repeatability_only),
		cmocka_unit_test(one_reading_each_has_no_repeatability),
		cmocka_unit_test(one_group_without_spread_is_pooled_in),
		cmocka_unit_test(an_offset_costs_no_digits),
		cmocka_unit_test(summaries_of_too_few),
		cmocka_unit_test(the_display_limits_the_claim),
		cmocka_unit_test(rounding_is_averaged_away_by_scatter),
		cmocka_unit_test(the_scatter_before_rounding),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
