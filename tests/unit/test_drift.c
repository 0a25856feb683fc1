/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "drift.h"

/* y 1, 2, 4 over 1, 2, 3: slope 1.5, residuals 1/6, -1/3, 1/6: s^2 = 1/6 on 1 df; se sqrt(1/12). By hand. */
static void one_line_by_hand(void **state)
{
	static const double x[] = { 1, 2, 3 }, y[] = { 1, 2, 4 };
	struct slope_test s = drift_slope(x, y, 3);

	(void)state;
	assert_rel_near(s.slope, 1.5, 1e-15);
	assert_rel_near(s.se, sqrt(1.0 / 12), 1e-14);
	assert_near(s.df, 1, 0);
	assert_rel_near(s.t, 1.5 * sqrt(12), 1e-14);
	assert_rel_near(s.p, 1 - 2 / M_PI * atan(s.t), 1e-12); /* Student's t on 1 df is Cauchy's law */
}

/* Levels of the brews, empty strata and lone readings play no part; NULL counts readings 1, 2, 3. */
static void levels_play_no_part(void **state)
{
	static const double y[] = { 1, 2, 4, 1000007, 50, 51, 53 }, x[] = { 1, 2, 3, 9, 4, 5, 6 };
	static const size_t start[] = { 0, 3, 3, 4, 7 };
	struct slope_test s = drift_pooled_slope(NULL, y, start, 4), given = drift_pooled_slope(x, y, start, 4);

	(void)state;
	assert_rel_near(s.slope, 1.5, 1e-14);
	assert_near(s.df, 3, 0); /* 2 + 2 - 1 */
	assert_rel_near(s.se, sqrt(2.0 / 6 / 3 / 4), 1e-13);
	assert_rel_near(given.slope, s.slope, 1e-14);
	assert_rel_near(given.se, s.se, 1e-13);
}

static void an_offset_costs_no_digits(void **state)
{
	static const double x[] = { 1, 2, 3 }, y[] = { 1e6 + 1 / 1024.0, 1e6 + 2 / 1024.0, 1e6 + 4 / 1024.0 };
	struct slope_test s = drift_slope(x, y, 3);

	(void)state;
	assert_rel_near(s.slope, 1.5 / 1024, 1e-14);
	assert_rel_near(s.t, 1.5 * sqrt(12), 1e-12);
}

static void too_little_for_a_slope(void **state)
{
	static const double x[] = { 2, 2, 2 }, y[] = { 1, 2, 4 };
	static const size_t lone[] = { 0, 1, 2, 3 }, none[] = { 0 };

	(void)state;
	assert_true(isnan(drift_slope(x, y, 3).slope));
	assert_true(isnan(drift_slope(NULL, y, 2).slope)); /* a line through two points has no df */
	assert_true(isnan(drift_pooled_slope(NULL, y, lone, 3).p));
	assert_true(isnan(drift_pooled_slope(NULL, y, none, 0).slope));
	assert_true(isnan(drift_power(1, 5, 1, 1, 0.05)) && isnan(drift_power(2, 1, 1, 1, 0.05)));
	assert_true(isnan(drift_power(3, 3, 1, 0, 0.05)) && isnan(drift_power(3, 3, 1, 1, 1)));
}

static void a_perfect_line(void **state)
{
	static const double rising[] = { 1, 2, 3, 4 }, level[] = { 1, 1, 1, 1 };
	struct slope_test s = drift_slope(NULL, rising, 4), flat = drift_slope(NULL, level, 4);

	(void)state;
	assert_near(s.se, 0, 0);
	assert_true(isinf(s.t));
	assert_near(s.p, 0, 0);
	assert_near(flat.slope, 0, 0);
	assert_true(isnan(flat.t) && isnan(flat.p));
}

static void ratio_of_known_series(void **state)
{
	static const double rising[] = { 1, 2, 3, 4 }, zigzag[] = { 1, 2, 1, 2 }, flat[] = { 1, 1, 1 };

	(void)state;
	assert_rel_near(von_neumann_ratio(rising, 4), 3.0 / 5, 1e-15);
	assert_rel_near(von_neumann_ratio(zigzag, 4), 3, 1e-15);
	assert_true(isnan(von_neumann_ratio(flat, 3)) && isnan(von_neumann_ratio(rising, 1)));
}

static void ratio_probabilities_have_ends(void **state)
{
	(void)state;
	assert_near(von_neumann_p(10, 0.09), 0, 0); /* below 2 - 2 cos(pi/10) = 0.0979 */
	assert_near(von_neumann_p(10, 3.95), 1, 0);
	assert_near(von_neumann_p(10, 2), 0.5, 1e-12);
	assert_near(von_neumann_p(10, 1.3) + von_neumann_p(10, 2.7), 1, 1e-12);
	assert_true(isnan(von_neumann_p(2, 1)) && isnan(von_neumann_p(5, NAN)));
	assert_true(isnan(von_neumann_critical(2, 0.05)) && isnan(von_neumann_critical(9, 0)));
}

/* Beyond 60 the normal law: at the seam it differs by no more than a normal law may. */
static void ratio_probabilities_join(void **state)
{
	(void)state;
	assert_near(von_neumann_p(61, 1.6), von_neumann_p(60, 1.6), 0.003);
	assert_near(von_neumann_critical(61, 0.05), von_neumann_critical(60, 0.05), 0.01);
	assert_rel_near(von_neumann_critical(100, 0.05), 2 - 1.6448536 * sqrt(4 * 98 / 9999.0), 1e-7);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(one_line_by_hand),
		cmocka_unit_test(levels_play_no_part),
		cmocka_unit_test(an_offset_costs_no_digits),
		cmocka_unit_test(too_little_for_a_slope),
		cmocka_unit_test(a_perfect_line),
		cmocka_unit_test(ratio_of_known_series),
		cmocka_unit_test(ratio_probabilities_have_ends),
		cmocka_unit_test(ratio_probabilities_join),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
