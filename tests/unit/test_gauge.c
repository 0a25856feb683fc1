/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "gauge.h"

/*
 * One artefact, two runs of two days of two readings, by hand: day means 1, 3 | 6, 8 and sd 1 each.
 * s1 1; s2^2 = (2 + 2)/2 = 2; run means 2, 7: s3^2 = 12.5. var_day 2 - 1/2, var_run 12.5 - 2/2.
 */
static void levels_by_hand(void **state)
{
	static const struct gauge_day days[] = {
		{ .artefact = 0, .run = 0, .n = 2, .mean = 1, .sd = 1 },
		{ .artefact = 0, .run = 1, .n = 2, .mean = 6, .sd = 1 },
		{ .artefact = 0, .run = 0, .n = 2, .mean = 3, .sd = 1 },
		{ .artefact = 0, .run = 1, .n = 2, .mean = 8, .sd = 1 },
		{ .artefact = 0, .run = 1, .n = 0, .mean = NAN, .sd = NAN },
	};
	struct gauge_levels g = gauge_levels_of(days, 5, 1, 2);

	(void)state;
	assert_rel_near(g.s1, 1, 1e-15);
	assert_near(g.df1, 4, 0);
	assert_rel_near(g.s2, sqrt(2), 1e-15);
	assert_near(g.df2, 2, 0);
	assert_rel_near(g.s3, sqrt(12.5), 1e-15);
	assert_near(g.df3, 1, 0);
	assert_rel_near(g.var_day, 1.5, 1e-14);
	assert_rel_near(g.var_run, 11.5, 1e-14);
	assert_rel_near(g.s_reading, sqrt(14), 1e-14);
}

static void one_run_has_no_third_level(void **state)
{
	static const struct gauge_day days[] = { { .n = 1, .mean = 1 }, { .n = 3, .mean = 3, .sd = 0.5 } };
	struct gauge_levels g = gauge_levels_of(days, 2, 2, 1), none = gauge_levels_of(NULL, 0, 0, 0);

	(void)state;
	assert_rel_near(g.s1, 0.5, 1e-15);
	assert_near(g.df1, 2, 0);
	assert_rel_near(g.s2, sqrt(2), 1e-15);
	assert_rel_near(g.var_day, 2 - 0.25 / 1.5, 1e-14); /* harmonic mean of 1 and 3 readings */
	assert_true(isnan(g.s3) && isnan(g.var_run) && isnan(g.s_reading));
	assert_true(isnan(none.s1) && isnan(none.s2) && isnan(none.s3));
}

static void days_that_are_not_alike(void **state)
{
	static const struct brew_summary uneven[] = { { .n = 2, .mean = 1, .ss = 1 }, { .n = 3, .mean = 2, .ss = 1 } };
	static const struct brew_summary single[] = { { .n = 1, .mean = 1 }, { .n = 1, .mean = 2 } };
	struct gauge_days g = gauge_days_of(uneven, 2);

	(void)state;
	assert_near(g.mean, 1.5, 0);
	assert_true(isnan(g.s_a) && isnan(g.u_mean) && isnan(g.p));
	assert_true(isnan(gauge_days_of(uneven, 1).f));
	assert_true(isnan(gauge_days_of(single, 2).s_b));
	assert_true(isnan(gauge_days_of(NULL, 0).mean));
}

/* Every cell the same distance apart: no interaction at all; samples 0, 2, operators 0, 1, ss 1 in each cell of two. */
static void crossed_by_hand(void **state)
{
	static const struct brew_summary cells[] = { { .n = 2, .mean = 10, .ss = 1 },
		                                     { .n = 2, .mean = 11, .ss = 1 },
		                                     { .n = 2, .mean = 12, .ss = 1 },
		                                     { .n = 2, .mean = 13, .ss = 1 } };
	struct gauge_crossed g = gauge_crossed_of(cells, 2, 2);

	(void)state;
	assert_rel_near(g.ms_sample, 8, 1e-14);   /* 4 (1 + 1) */
	assert_rel_near(g.ms_operator, 2, 1e-14); /* 4 (1/4 + 1/4) */
	assert_near(g.ms_interaction, 0, 1e-14);
	assert_rel_near(g.ms_reading, 1, 1e-14);
	assert_rel_near(g.var_sample, 2, 1e-14);
	assert_rel_near(g.var_operator, 0.5, 1e-14);
	assert_rel_near(g.var_interaction, -0.5, 1e-14);
	assert_rel_near(g.s_gauge, sqrt(1.5), 1e-14); /* the negative one counts as 0 */
	assert_rel_near(g.share_gauge, 1.5 / 3.5, 1e-14);
	assert_near(g.categories, 1, 0); /* sqrt(2) sqrt(2) / sqrt(1.5) = 1.63 */
}

static void crossed_with_holes(void **state)
{
	static const struct brew_summary cells[] = { { .n = 2, .mean = 1, .ss = 1 },
		                                     { .n = 2, .mean = 2, .ss = 1 },
		                                     { .n = 2, .mean = 3, .ss = 1 },
		                                     { .n = 1, .mean = 4, .ss = 0 } };

	(void)state;
	assert_true(isnan(gauge_crossed_of(cells, 2, 2).ms_sample));
	assert_true(isnan(gauge_crossed_of(cells, 1, 2).var_sample));
	assert_true(isnan(gauge_crossed_of(cells, 2, 1).var_operator));
	assert_true(isnan(gauge_crossed_of(cells + 3, 2, 2).categories));
}

static void categories(void **state)
{
	(void)state;
	assert_near(gauge_categories(3.6, 1), 5, 0); /* 5.09 */
	assert_near(gauge_categories(0.1, 1), 1, 0);
	assert_near(gauge_categories(0, 1), 1, 0);
	assert_true(isinf(gauge_categories(1, 0)));
	assert_true(isnan(gauge_categories(0, 0)) && isnan(gauge_categories(-1, 1)) && isnan(gauge_categories(1, NAN)));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(levels_by_hand),          cmocka_unit_test(one_run_has_no_third_level),
		cmocka_unit_test(days_that_are_not_alike), cmocka_unit_test(crossed_by_hand),
		cmocka_unit_test(crossed_with_holes),      cmocka_unit_test(categories),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
