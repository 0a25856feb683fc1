/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Worked balances stand in tests/reference/test_mass_balance.c. */
#include "near.h"
#include "yield.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static const struct yield_input nothing = {
	.method = METHOD_PERCOLATION,
	.dose_g = NAN,
	.water_g = NAN,
	.beverage_g = NAN,
	.bypass_g = NAN,
	.evaporated_g = NAN,
	.moisture_percent = NAN,
	.tds_percent = NAN,
	.retention_g_per_g = NAN,
};

static struct yield_input drip(void)
{
	struct yield_input in = nothing;

	in.dose_g = 20;
	in.water_g = 320;
	in.beverage_g = 278;
	in.tds_percent = 1.38;
	return in;
}

static struct yield_input steep(void)
{
	struct yield_input in = nothing;

	in.method = METHOD_IMMERSION;
	in.dose_g = 15;
	in.water_g = 250;
	in.tds_percent = 1.30;
	return in;
}

static struct yield computed(const struct yield_input *in)
{
	struct yield out;

	yield_compute(in, &out);
	return out;
}

/* -- one brew ------------------------------------------------------------------------ */

static void percolation_of_one_brew(void **state)
{
	struct yield_input in = drip();
	struct yield out;

	(void)state;
	in.moisture_percent = 1.5;
	out = computed(&in);
	assert_near(out.beverage_used_g, 278, 0);
	assert_near(out.bed_tds_percent, 1.38, 0);
	assert_near(out.solids_g, 278 * 0.0138, 1e-12);
	assert_near(out.yield_percent, 19.182, 1e-12); /* 278 · 1.38 / 20 */
	assert_near(out.yield_dry_percent, 19.182 / 0.985, 1e-12);
	assert_near(out.retained_water_g, 320 - 278 * 0.9862, 1e-12);
	assert_near(out.retained_water_per_g, 2.2918, 0.00005); /* data/mass_balance.csv, MB03 and MB04 */
	assert_near(out.retained_liquid_per_g, 2.3239, 0.00005);
	assert_near(out.ratio_bed, 16, 0);
	assert_near(out.ratio_total, 16, 0);
	assert_int_equal(out.flags, 0);
}

static void immersion_of_one_brew(void **state)
{
	struct yield_input in = steep();
	struct yield out = computed(&in);

	(void)state;
	assert_near(out.yield_percent, 21.9520, 0.00005); /* Liang et al. 2021, Eq. 17 */
	assert_near(out.yield_dry_percent, NAN, 0);
	assert_near(out.beverage_used_g, NAN, 0); /* an immersion needs no beverage */
	assert_near(out.retained_water_g, NAN, 0);
	assert_int_equal(out.flags, 0);
	in.beverage_g = 220;
	assert_near(computed(&in).yield_percent, 21.9520, 0.00005);
	assert_near(computed(&in).retained_water_per_g, (250 - 220 * 0.987) / 15, 1e-12);
}

static void bypass_leaves_the_yield_alone(void **state)
{
	struct yield_input plain = drip();
	struct yield_input diluted = drip();

	(void)state;
	diluted.bypass_g = 150;
	diluted.beverage_g += 150;
	diluted.tds_percent = tds_after_bypass_percent(1.38, 278, 150);
	assert_near(computed(&diluted).yield_percent, computed(&plain).yield_percent, 1e-12);
	assert_near(computed(&diluted).bed_tds_percent, 1.38, 1e-12);
	assert_near(computed(&diluted).retained_water_per_g, computed(&plain).retained_water_per_g, 1e-12);
	assert_near(computed(&diluted).retained_liquid_per_g, computed(&plain).retained_liquid_per_g, 1e-12);
	assert_near(computed(&diluted).ratio_bed, 16, 0);
	assert_near(computed(&diluted).ratio_total, 23.5, 0);
}

static void bypass_leaves_the_yield_of_an_immersion_alone(void **state)
{
	struct yield_input plain = steep();
	struct yield_input diluted = steep();

	(void)state;
	diluted.bypass_g = 80;
	diluted.beverage_g = 220 + 80;
	diluted.tds_percent = tds_after_bypass_percent(1.30, 220, 80);
	assert_near(computed(&diluted).yield_percent, computed(&plain).yield_percent, 1e-12);
	diluted.beverage_g = 80; /* nothing but bypass in the cup */
	assert_near(computed(&diluted).yield_percent, NAN, 0);
}

static void a_beverage_that_was_not_weighed_is_estimated(void **state)
{
	struct yield_input in = drip();
	struct yield out;

	(void)state;
	in.beverage_g = NAN;
	out = computed(&in);
	assert_int_equal(out.flags, YIELD_BEVERAGE_ESTIMATED);
	assert_near(out.beverage_used_g, 283.9181, 0.00005); /* data/mass_balance.csv, MB05, MB06: 2.0 g/g */
	assert_near(out.yield_percent, 19.5903, 0.00005);
	assert_near(out.retained_water_g, NAN, 0); /* it would only repeat the guess */
	in.retention_g_per_g = 2.2918;
	assert_near(computed(&in).beverage_used_g, 278, 0.001);
	in.bypass_g = 100;
	assert_near(computed(&in).beverage_used_g, 278 + 100 / 0.9862, 0.001);
}

static void an_immersion_with_bypass_needs_the_cup(void **state)
{
	struct yield_input in = steep();

	(void)state;
	in.bypass_g = 50;
	assert_int_equal(computed(&in).flags, YIELD_BEVERAGE_ESTIMATED);
	/* Cup (250 + 50 - 2·15)/0.987 = 273.56 g; bed strength 1.30·273.56/223.56 %; by Eq. 17. */
	assert_near(computed(&in).beverage_used_g, 270 / 0.987, 1e-10);
	assert_near(computed(&in).yield_percent, 26.942, 0.002);
}

static void evaporated_water_met_neither_cup_nor_grounds(void **state)
{
	struct yield_input in = drip();
	struct yield_input soaked = steep();

	(void)state;
	in.evaporated_g = 6;
	assert_near(computed(&in).retained_water_g, 320 - 6 - 278 * 0.9862, 1e-12);
	assert_near(computed(&in).yield_percent, 19.182, 1e-12);
	soaked.evaporated_g = 5;
	assert_near(computed(&soaked).yield_percent, 21.9520 * 245 / 250, 0.00005);
	soaked.evaporated_g = 251;
	assert_near(computed(&soaked).yield_percent, NAN, 0);
}

static void masses_that_cannot_be_right_are_flagged(void **state)
{
	struct yield_input in = drip();

	(void)state;
	in.beverage_g = 330;
	assert_int_equal(computed(&in).flags, YIELD_RETENTION_NEGATIVE | YIELD_RETENTION_UNUSUAL);
	in.beverage_g = 310; /* 0.7 g/g */
	assert_int_equal(computed(&in).flags, YIELD_RETENTION_UNUSUAL);
	in.beverage_g = 230; /* 4.7 g/g */
	assert_int_equal(computed(&in).flags, YIELD_RETENTION_UNUSUAL);
	in = drip();
	in.dose_g = 3; /* 3.836 g of solids */
	assert_true(computed(&in).flags & YIELD_IMPOSSIBLE);
}

static void without_water_the_yield_stands_the_retention_not(void **state)
{
	struct yield_input in = drip();
	struct yield out;

	(void)state;
	in.water_g = NAN;
	out = computed(&in);
	assert_near(out.yield_percent, 19.182, 1e-12);
	assert_near(out.retained_water_g, NAN, 0);
	assert_near(out.ratio_bed, NAN, 0);
	assert_int_equal(out.flags, 0);
}

struct bad_case {
	const char *name;
	double dose_g, water_g, beverage_g, bypass_g, tds_percent, retention;
};

static void bad_input_gives_no_yield(void **state)
{
	const struct bad_case *c = *state;
	struct yield_input in = nothing;

	in.dose_g = c->dose_g;
	in.water_g = c->water_g;
	in.beverage_g = c->beverage_g;
	in.bypass_g = c->bypass_g;
	in.tds_percent = c->tds_percent;
	in.retention_g_per_g = c->retention;
	assert_near(computed(&in).yield_percent, NAN, 0);
	assert_int_equal(computed(&in).flags & YIELD_BEVERAGE_ESTIMATED, 0);
}

static void a_method_that_is_none_gives_no_yield(void **state)
{
	struct yield_input in = drip();

	(void)state;
	in.method = (enum brew_method)7;
	assert_near(computed(&in).yield_percent, NAN, 0);
}

/* -- properties -------------------------------------------------------------------------- */

static void mixed_has_percolation_and_immersion_at_its_ends(void **state)
{
	(void)state;
	for (double t = 0.8; t < 12; t += 0.7) {
		assert_near(yield_mixed_percent(18, 300, 262, t, 0, 0.7), yield_percolation_percent(18, 262, t), 1e-12);
		assert_rel_near(yield_mixed_percent(18, 300, 262, t, t, 0), yield_immersion_percent(18, 300, t), 1e-12);
	}
}

static void dry_is_never_below_as_weighed(void **state)
{
	(void)state;
	for (double moisture = 0; moisture < 12; moisture += 0.5)
		assert_true(yield_dry_percent(20, moisture) >= 20);
	assert_near(yield_dry_percent(20, 0), 20, 0);
}

static void retention_and_beverage_undo_each_other(void **state)
{
	double kept = retained_water_per_g(20, 320, 278, 1.38, 3);

	(void)state;
	assert_near(beverage_from_retention_g(20, 320, 1.38, kept, 3), 278, 1e-10);
}

static void bypass_for_a_target_reaches_it(void **state)
{
	double water = bypass_for_target_g(2.10, 250, 1.30);

	(void)state;
	assert_near(tds_after_bypass_percent(2.10, 250, water), 1.30, 1e-12);
	assert_near(bypass_for_target_g(1.30, 250, 1.30), 0, 0);
	assert_near(bypass_for_target_g(1.30, 250, 1.40), NAN, 0);
	assert_near(bypass_for_target_g(1.30, 250, 0), NAN, 0);
}

/* Liang et al. 2021: what Eq. 11 predicts, Eq. 17 takes back to K·Emax, whatever the ratio. */
static void immersion_model_and_balance_agree(void **state)
{
	(void)state;
	for (double ratio = 3; ratio < 25; ratio += 1)
		assert_rel_near(yield_immersion_percent(1, ratio, immersion_tds_percent(ratio, 0.215)), 21.5, 1e-12);
}

static void evaporation_strengthens(void **state)
{
	(void)state;
	assert_near(tds_after_evaporation_percent(1.35, 0), 1.35, 1e-15);
	assert_true(tds_after_evaporation_percent(1.35, 2) > tds_after_evaporation_percent(1.35, 1));
	assert_near(tds_after_evaporation_percent(1.35, 100), NAN, 0);
	assert_near(tds_after_evaporation_percent(1.35, -1), NAN, 0);
}

static void functions_refuse_what_makes_no_sense(void **state)
{
	(void)state;
	assert_near(yield_percolation_percent(0, 278, 1.38), NAN, 0);
	assert_near(yield_percolation_percent(-20, 278, 1.38), NAN, 0);
	assert_near(yield_percolation_percent(20, -1, 1.38), NAN, 0);
	assert_near(yield_percolation_percent(20, 278, 100), NAN, 0);
	assert_near(yield_percolation_percent(20, INFINITY, 1.38), NAN, 0);
	assert_near(yield_percolation_percent(20, 278, -0.02), -0.278,
	            1e-12); /* a reading of water: noise, let through */
	assert_near(yield_immersion_percent(15, -1, 1.3), NAN, 0);
	assert_near(yield_mixed_percent(18, 300, -1, 1.35, 0.6, 0), NAN, 0);
	assert_near(yield_mixed_percent(0, 300, 262, 1.35, 0.6, 0), NAN, 0);
	assert_near(yield_dry_percent(20, 100), NAN, 0);
	assert_near(yield_dry_percent(20, -0.1), NAN, 0);
	assert_near(yield_per_tds(0, 278), NAN, 0);
	assert_near(retained_water_per_g(0, 320, 278, 1.38, 0), NAN, 0);
	assert_near(retained_liquid_per_g(20, 320, 278, 1.38, -1), NAN, 0);
	assert_near(beverage_from_retention_g(20, 30, 1.38, 2, 0), NAN, 0); /* the grounds keep more than there is */
	assert_near(tds_after_bypass_percent(2.1, 0, 150), NAN, 0);
	assert_near(tds_less_water_solids_percent(1.35, -1), NAN, 0);
	assert_near(immersion_tds_percent(0, 0.215), NAN, 0);
	assert_near(immersion_tds_short_percent(16, 0), NAN, 0);
	assert_near(oven_yield_percent(16, 0.215, -1, 0), NAN, 0);
}

int main(void)
{
	static struct bad_case cases[] = {
		{ "dose 0", 0, 320, 278, NAN, 1.38, NAN },
		{ "dose below 0", -20, 320, 278, NAN, 1.38, NAN },
		{ "no dose", NAN, 320, 278, NAN, 1.38, NAN },
		{ "no dose, no beverage", NAN, 320, NAN, NAN, 1.38, NAN },
		{ "infinite dose", INFINITY, 320, 278, NAN, 1.38, NAN },
		{ "no TDS", 20, 320, 278, NAN, NAN, NAN },
		{ "TDS 100", 20, 320, 278, NAN, 100, NAN },
		{ "neither water nor beverage", 20, NAN, NAN, NAN, 1.38, NAN },
		{ "beverage below 0 is not one to estimate", 20, 320, -278, NAN, 1.38, NAN },
		{ "water below 0", 20, -320, NAN, NAN, 1.38, NAN },
		{ "bypass below 0", 20, 320, NAN, -1, 1.38, NAN },
		{ "retention below 0", 20, 320, NAN, NAN, 1.38, -2 },
		{ "all of it kept", 20, 30, NAN, NAN, 1.38, NAN },
	};
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(percolation_of_one_brew),
		cmocka_unit_test(immersion_of_one_brew),
		cmocka_unit_test(bypass_leaves_the_yield_alone),
		cmocka_unit_test(bypass_leaves_the_yield_of_an_immersion_alone),
		cmocka_unit_test(a_beverage_that_was_not_weighed_is_estimated),
		cmocka_unit_test(an_immersion_with_bypass_needs_the_cup),
		cmocka_unit_test(evaporated_water_met_neither_cup_nor_grounds),
		cmocka_unit_test(masses_that_cannot_be_right_are_flagged),
		cmocka_unit_test(without_water_the_yield_stands_the_retention_not),
		cmocka_unit_test(a_method_that_is_none_gives_no_yield),
		cmocka_unit_test(mixed_has_percolation_and_immersion_at_its_ends),
		cmocka_unit_test(dry_is_never_below_as_weighed),
		cmocka_unit_test(retention_and_beverage_undo_each_other),
		cmocka_unit_test(bypass_for_a_target_reaches_it),
		cmocka_unit_test(immersion_model_and_balance_agree),
		cmocka_unit_test(evaporation_strengthens),
		cmocka_unit_test(functions_refuse_what_makes_no_sense),
	};
	struct CMUnitTest bad[COUNT(cases)];

	for (size_t i = 0; i < COUNT(cases); i++)
		bad[i] = (struct CMUnitTest){
			.name = cases[i].name,
			.test_func = bad_input_gives_no_yield,
			.initial_state = &cases[i],
		};
	return cmocka_run_group_tests(bad, NULL, NULL) + cmocka_run_group_tests(tests, NULL, NULL);
}
