/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <Rmath.h>

#include "welch.h"

/* Equal n and equal spreads: Welch's df is 2(n - 1), his t the pooled one. */
static void equal_spreads(void **state)
{
	static const struct group_summary a = { 5, 21.0, 0.4 };
	static const struct group_summary b = { 5, 20.5, 0.4 };
	struct welch_t t = welch_t(&a, &b, 0.95);
	double error = 0.4 * sqrt(0.4);

	(void)state;
	assert_near(t.difference, 0.5, 0.0);
	assert_near(t.standard_error, error, 1e-15);
	assert_near(t.df, 8.0, 1e-13);
	assert_near(t.t, 0.5 / error, 1e-13);
	assert_near(t.p, 2.0 * pt(-0.5 / error, 8.0, 1, 0), 1e-14);
	/* t quantile 0.975 on 8 degrees of freedom: 2.306004 in any table */
	assert_near(t.upper - t.difference, 2.306004 * error, 1e-6);
	assert_near(t.difference - t.lower, 2.306004 * error, 1e-6);
	assert_near(welch_t(&b, &a, 0.95).t, -t.t, 1e-13);
}

/* By hand: v = 1/4 and 4/2; df = (9/4)^2 / ((1/4)^2/3 + 2^2/1). */
static void unequal_spreads(void **state)
{
	static const struct group_summary a = { 4, 3.0, 1.0 };
	static const struct group_summary b = { 2, 0.0, 2.0 };

	(void)state;
	assert_near(welch_df(&a, &b), 5.0625 / (0.0625 / 3.0 + 4.0), 1e-13);
	assert_near(welch_t(&a, &b, 0.95).t, 2.0, 1e-14);
}

static void one_without_spread(void **state)
{
	static const struct group_summary a = { 4, 3.0, 0.0 };
	static const struct group_summary b = { 3, 0.0, 2.0 };

	(void)state;
	assert_near(welch_df(&a, &b), 2.0, 1e-13);
	assert_near(welch_t(&a, &b, 0.95).t, 3.0 / sqrt(4.0 / 3.0), 1e-13);
}

static void too_little_to_tell(void **state)
{
	static const struct group_summary none[][2] = {
		{ { 1, 3.0, NAN }, { 4, 1.0, 0.5 } },
		{ { 4, 3.0, 0.5 }, { 0, NAN, NAN } },
		{ { 4, 3.0, 0.0 }, { 4, 1.0, 0.0 } },
	};

	(void)state;
	for (size_t i = 0; i < 3; i++) {
		struct welch_t t = welch_t(&none[i][0], &none[i][1], 0.95);
		struct welch_anova anova = welch_anova(none[i], 2);

		assert_near(t.df, NAN, 0.0);
		assert_near(t.standard_error, NAN, 0.0);
		assert_near(t.p, NAN, 0.0);
		assert_near(t.lower, NAN, 0.0);
		assert_near(anova.f, NAN, 0.0);
		assert_near(anova.p, NAN, 0.0);
	}
	assert_near(welch_t(&none[0][0], &none[0][1], 0.95).difference, 2.0, 0.0);
	assert_near(welch_anova(none[0] + 1, 1).f, NAN, 0.0);
}

/* Two groups: F = t^2 on the same degrees of freedom; a common offset of a million changes nothing. */
static void two_groups_are_t(void **state)
{
	static const struct group_summary groups[] = { { 6, 1000020.3, 0.5 }, { 4, 1000021.1, 1.1 } };
	struct welch_anova anova = welch_anova(groups, 2);
	struct welch_t t = welch_t(&groups[0], &groups[1], 0.95);

	(void)state;
	assert_rel_near(anova.f, t.t * t.t, 1e-8);
	assert_rel_near(anova.df2, t.df, 1e-12);
	assert_rel_near(anova.p, t.p, 1e-8);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(equal_spreads),      cmocka_unit_test(unequal_spreads),
		cmocka_unit_test(one_without_spread), cmocka_unit_test(too_little_to_tell),
		cmocka_unit_test(two_groups_are_t),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
