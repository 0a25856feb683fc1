/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values are held in tests/reference; here: limits, refusals, plans. */
#include "near.h"

#include <Rmath.h>

#include "power.h"

static void central_cases(void **state)
{
	(void)state;
	for (double df = 1.0; df < 1e4; df *= 3.0)
		for (double t = -6.0; t < 9.0; t += 0.75) {
			assert_near(noncentral_t_tail(t, df, 0.0), pt(t, df, 0, 0), 1e-12);
			if (t > 0.0)
				assert_rel_near(noncentral_f_tail(t, 3.0, df, 0.0), pf(t, 3.0, df, 0, 0), 1e-11);
		}
}

/* R 4.2.2: uniroot(function(d) pt(q, df, d, lower.tail = FALSE) - 0.8, c(1, 9), tol = 1e-12), tail within 1e-11. */
static void shift_of_a_critical_value(void **state)
{
	(void)state;
	assert_near(power_shift(2, 5, 0.8), 2.88826679456, 1e-8);
	assert_near(power_shift(3.5, 2, 0.8), 4.67514387248, 1e-8);
	assert_true(isnan(power_shift(0, 5, 0.8)) && isnan(power_shift(2, 0, 0.8)) && isnan(power_shift(2, 5, 1)) &&
	            isnan(power_shift(NAN, 5, 0.8)));
}

/* R 4.2.2: pnt is good to some 1e-12, pnbeta stops at 1e-9. */
static void noncentral_against_library(void **state)
{
	(void)state;
	for (double df = 1.0; df < 200.0; df *= 3.0)
		for (double ncp = 0.5; ncp < 20.0; ncp *= 2.0)
			for (double t = 0.5; t < 12.0; t *= 2.0) {
				/* beyond, the library says that it can't */
				if (noncentral_t_tail(t, df, ncp) > 1e-8)
					assert_near(noncentral_t_tail(t, df, ncp), 1.0 - pnt(t, df, ncp, 1, 0), 1e-11);
				assert_near(noncentral_f_tail(t, 4.0, df, ncp), 1.0 - pnf(t, 4.0, df, ncp, 1, 0), 2e-9);
			}
}

/* F on 1 degree of freedom is t squared, of both signs. */
static void f_is_t_squared(void **state)
{
	(void)state;
	for (double df = 1.0; df < 300.0; df *= 4.0)
		for (double ncp = 0.0; ncp < 60.0; ncp = 2.0 * ncp + 0.3)
			for (double t = 0.2; t < 100.0; t *= 2.0)
				assert_near(noncentral_f_tail(t * t, 1.0, df, ncp * ncp),
				            noncentral_t_tail(t, df, ncp) + noncentral_t_tail(t, df, -ncp), 2e-12);
}

static void limits(void **state)
{
	(void)state;
	assert_near(noncentral_t_tail(INFINITY, 5.0, 1.0), 0.0, 0.0);
	assert_near(noncentral_t_tail(-INFINITY, 5.0, 1.0), 1.0, 0.0);
	assert_near(noncentral_t_tail(1.0, INFINITY, 2.0), pnorm(1.0, 0, 1, 1, 0), 1e-15);
	assert_near(noncentral_t_tail(2.0, 5.0, 1e9), 1.0, 1e-11);
	assert_near(noncentral_f_tail(0.0, 2.0, 5.0, 1.0), 1.0, 0.0);
	assert_near(noncentral_f_tail(INFINITY, 2.0, 5.0, 1.0), 0.0, 0.0);
	assert_near(noncentral_f_tail(3.0, 2.0, 5.0, 1e6), 1.0, 1e-12);
	assert_near(noncentral_f_tail(1e30, 2.0, 5.0, 1.0), 0.0, 1e-12);
}

static void refuses(void **state)
{
	(void)state;
	assert_near(noncentral_t_tail(NAN, 5.0, 1.0), NAN, 0.0);
	assert_near(noncentral_t_tail(1.0, 0.0, 1.0), NAN, 0.0);
	assert_near(noncentral_t_tail(1.0, 5.0, NAN), NAN, 0.0);
	assert_near(noncentral_f_tail(NAN, 2.0, 5.0, 1.0), NAN, 0.0);
	assert_near(noncentral_f_tail(1.0, 0.0, 5.0, 1.0), NAN, 0.0);
	assert_near(noncentral_f_tail(1.0, 2.0, 5.0, -1.0), NAN, 0.0);
	assert_near(power_t(POWER_PAIRED, 1.0, 1.0, 0.05), NAN, 0.0);
	assert_near(power_t(POWER_PAIRED, 3.0, NAN, 0.05), NAN, 0.0);
	assert_near(power_t(POWER_PAIRED, 3.0, 1.0, 1.0), NAN, 0.0);
	assert_near(power_t_strict(POWER_TWO_SAMPLE, 1.0, 1.0, 0.05), NAN, 0.0);
	assert_near(power_t_n(POWER_TWO_SAMPLE, 0.0, 0.8, 0.05), NAN, 0.0);
	assert_near(power_t_n(POWER_TWO_SAMPLE, 1.0, 0.05, 0.05), NAN, 0.0);
	assert_near(power_t_n(POWER_TWO_SAMPLE, 1.0, 1.0, 0.05), NAN, 0.0);
	assert_near(power_t_n(POWER_TWO_SAMPLE, 1e-6, 0.8, 0.05), NAN, 0.0);
	assert_near(power_t_effect(POWER_TWO_SAMPLE, 1.0, 0.8, 0.05), NAN, 0.0);
	assert_near(power_t_effect(POWER_TWO_SAMPLE, 3.0, 0.8, 0.0), NAN, 0.0);
	assert_near(power_oneway(1, 5.0, 1.0, 0.05), NAN, 0.0);
	assert_near(power_oneway(3, 1.0, 1.0, 0.05), NAN, 0.0);
	assert_near(power_oneway(3, 5.0, -1.0, 0.05), NAN, 0.0);
	assert_near(power_oneway_n(1, 1.0, 0.8, 0.05), NAN, 0.0);
	assert_near(power_oneway_n(3, 0.0, 0.8, 0.05), NAN, 0.0);
	assert_near(power_oneway_n(3, 1.0, 0.04, 0.05), NAN, 0.0);
	assert_near(brew_mean_variance(0.1, 0.2, 0), NAN, 0.0);
	assert_near(detectable_difference(1, 3, 0.1, 0.2, 0.8, 0.05), NAN, 0.0);
}

/* No effect: the finding is a false alarm. */
static void no_effect_is_alpha(void **state)
{
	(void)state;
	assert_near(power_t(POWER_TWO_SAMPLE, 4, 0.0, 0.05), 0.025, 1e-13);
	assert_near(power_t_strict(POWER_PAIRED, 4, 0.0, 0.05), 0.05, 1e-13);
	assert_near(power_t(POWER_TWO_SAMPLE, 4, -1.0, 0.05), power_t(POWER_TWO_SAMPLE, 4, 1.0, 0.05), 0.0);
	assert_near(power_oneway(4, 3, 0.0, 0.05), 0.05, 1e-13);
}

static void searches_find_their_power(void **state)
{
	(void)state;
	for (double effect = 0.01; effect < 40.0; effect *= 3.0)
		for (double power = 0.3; power < 0.99; power += 0.15) {
			double n = power_t_n(POWER_PAIRED, effect, power, 0.05);
			double groups = power_oneway_n(5, effect, power, 0.01);

			if (!isnan(n))
				assert_near(power_t(POWER_PAIRED, n, effect, 0.05), power, 1e-11);
			if (!isnan(groups))
				assert_near(power_oneway(5, groups, effect, 0.01), power, 1e-11);
			assert_true(effect > 20.0 || (n > 1.0 && groups > 1.0));
		}
	for (double n = 2.0; n < 1e5; n *= 4.0) {
		double effect = power_t_effect(POWER_TWO_SAMPLE, n, 0.8, 0.05);

		assert_near(power_t(POWER_TWO_SAMPLE, n, effect, 0.05), 0.8, 1e-11);
	}
}

static void readings_per_brew(void **state)
{
	struct readings_plan plan;

	(void)state;
	assert_near(brew_mean_variance(0.3, 0.2, 4), 0.10, 1e-15);
	/* sd_brew 0: each reading is as good as a brew, and cheaper */
	plan = readings_best(0.0, 0.2, 10.0, 1.0);
	assert_near(plan.real, INFINITY, 0.0);
	assert_int_equal(plan.whole, READINGS_MOST);
	/* a perfect meter */
	plan = readings_best(0.3, 0.0, 10.0, 1.0);
	assert_near(plan.real, 0.0, 0.0);
	assert_int_equal(plan.whole, 1);
	plan = readings_best(0.0, 0.0, 10.0, 1.0);
	assert_int_equal(plan.whole, 1);
	/* one reading is the optimum where sd_brew >= sd_reading sqrt(10/1) */
	assert_int_equal(readings_best(0.64, 0.2, 10.0, 1.0).whole, 1);
	assert_int_equal(readings_best(1e-9, 0.2, 10.0, 1.0).whole, READINGS_MOST);
	assert_int_equal(readings_best(0.1, 0.2, 0.0, 1.0).whole, 0);
	assert_near(readings_best(0.1, 0.2, 10.0, -1.0).real, NAN, 0.0);
	assert_int_equal(readings_best(NAN, 0.2, 10.0, 1.0).whole, 0);
}

static struct plan_query plan_for(double difference)
{
	return (struct plan_query){
		.difference = difference,
		.power = 0.8,
		.alpha = 0.05,
		.sd_brew = 0.3,
		.sd_reading = 0.2,
		.cost_brew = 10.0,
		.cost_reading = 1.0,
		.readings_most = 5,
	};
}

/* Every plan within reach, one by one: none that reaches the power is cheaper. */
static void plan_is_the_cheapest(void **state)
{
	(void)state;
	for (double difference = 0.3; difference < 3.0; difference *= 1.5) {
		struct plan_query query = plan_for(difference);
		struct brew_plan plan = plan_cheapest(&query);
		double cheapest = INFINITY;

		for (size_t b = 2; b < 60; b++)
			for (size_t m = 1; m <= 5; m++) {
				double sd = sqrt(0.09 + 0.04 / (double)m);
				double cost = (double)b * (10.0 + (double)m);

				if (power_t(POWER_TWO_SAMPLE, (double)b, difference / sd, 0.05) >= 0.8)
					cheapest = fmin(cheapest, cost);
			}
		assert_near(plan.cost, cheapest, 0.0);
		assert_near(plan.cost, (double)plan.brews * (10.0 + (double)plan.readings), 0.0);
		assert_true(plan.power >= 0.8);
	}
}

static void plan_has_limits(void **state)
{
	struct plan_query query = plan_for(1e-4);
	struct brew_plan plan = plan_cheapest(&query);

	(void)state;
	assert_int_equal(plan.brews, 0);
	assert_near(plan.cost, NAN, 0.0);
	query = plan_for(100.0);
	plan = plan_cheapest(&query);
	assert_int_equal(plan.brews, 2);
	assert_int_equal(plan.readings, 1);
	query = plan_for(0.0);
	assert_int_equal(plan_cheapest(&query).brews, 0);
	query = plan_for(1.0);
	query.power = 1.0;
	assert_int_equal(plan_cheapest(&query).brews, 0);
	query = plan_for(1.0);
	query.cost_reading = 0.0;
	assert_int_equal(plan_cheapest(&query).brews, 0);
	query = plan_for(1.0);
	query.sd_brew = query.sd_reading = 0.0;
	assert_int_equal(plan_cheapest(&query).brews, 2);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(central_cases),
		cmocka_unit_test(noncentral_against_library),
		cmocka_unit_test(f_is_t_squared),
		cmocka_unit_test(limits),
		cmocka_unit_test(refuses),
		cmocka_unit_test(no_effect_is_alpha),
		cmocka_unit_test(searches_find_their_power),
		cmocka_unit_test(readings_per_brew),
		cmocka_unit_test(plan_is_the_cheapest),
		cmocka_unit_test(plan_has_limits),
		cmocka_unit_test(shift_of_a_critical_value),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
