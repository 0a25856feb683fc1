/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the spread of one yield comes from: 300 g from 20 g, so a hundredth of TDS is 0.15 points. All by hand. */
#include "near.h"

#include "audit_effort.h"

/* Yield 1.4 · 15 = 21 points; a mass is known to 0.1/√6 = 0.0408248 g: 21 √((0.0408248/20)² + (0.0408248/300)²). */
#define WEIGHING 0.0429610

static void without_brewing_known(void **state)
{
	const struct audit_query query = audit_query_standard();
	struct audit_effort effort;

	(void)state;
	audit_effort_compute(&effort, &query, 0.01, 0, 1.4);
	assert_near(effort.yield_per_tds, 15, 0);
	assert_near(effort.reading_sd, 0.15, 1e-12);
	assert_near(effort.weighing_u, WEIGHING, 1e-6);
	assert_true(isnan(effort.brew_sd));
	assert_true(isnan(effort.share_brew));
	assert_int_equal(effort.best, 0);
	assert_near(effort.sd[0], hypot(0.15, WEIGHING), 1e-6);            /* one reading */
	assert_near(effort.sd[2], hypot(0.15 / sqrt(3), WEIGHING), 1e-6);  /* three */
	assert_near(effort.sd[5], hypot(0.15 / sqrt(10), WEIGHING), 1e-6); /* ten */
}

/* A spread between brews of 0.5 points holds three readings and the weighing: 0.25 - 0.0075 - 0.0018456 = 0.240654. */
static void brewing_is_what_is_left(void **state)
{
	struct audit_query query = audit_query_standard();
	struct audit_effort effort;

	(void)state;
	query.brew_sd = 0.5;
	audit_effort_compute(&effort, &query, 0.01, 0, 1.4);
	assert_near(effort.brew_sd, sqrt(0.240654), 1e-5);
	assert_near(effort.total_sd, 0.5, 1e-9);
	assert_near(effort.share_meter, 100 * 0.0075 / 0.25, 1e-6);
	assert_near(effort.share_weighing, 100 * WEIGHING * WEIGHING / 0.25, 1e-3);
	assert_near(effort.share_brew + effort.share_meter + effort.share_weighing + effort.share_load, 100, 1e-9);
	/* √(10/1) · 0.15/0.4924 = 0.963: one */
	assert_int_equal(effort.best, 1);
}

/* Loads of the prism count once, however many readings: √(0.24 …). */
static void loads_are_not_read_away(void **state)
{
	struct audit_query query = audit_query_standard();
	struct audit_effort effort;

	(void)state;
	query.brew_sd = 0.5;
	query.scale_step_g = 0;
	audit_effort_compute(&effort, &query, 0.01, 0.02, 1.4);
	assert_near(effort.load_sd, 0.3, 1e-12);
	assert_near(effort.weighing_u, 0, 0);
	/* 0.25 - 0.09 - 0.0075 */
	assert_near(effort.brew_sd, sqrt(0.1525), 1e-9);
	assert_near(effort.share_load, 36, 1e-9);
	assert_near(effort.sd[5], sqrt(0.1525 + 0.09 + 0.00225), 1e-9);
}

static void a_brewing_spread_below_the_meters_is_none(void **state)
{
	struct audit_query query = audit_query_standard();
	struct audit_effort effort;

	(void)state;
	query.brew_sd = 0.05;
	audit_effort_compute(&effort, &query, 0.01, 0, 1.4);
	assert_near(effort.brew_sd, 0, 0);
	assert_near(effort.share_brew, 0, 0);
	assert_near(effort.share_meter + effort.share_weighing, 100, 1e-9);
}

static void nothing_known(void **state)
{
	const struct audit_query query = audit_query_standard();
	struct audit_effort effort;

	(void)state;
	audit_effort_compute(&effort, &query, NAN, 0, NAN);
	assert_true(isnan(effort.reading_sd));
	assert_true(isnan(effort.sd[0]));
	assert_int_equal(effort.best, 0);
	/* 20 % of yield are assumed where no cup tells */
	assert_near(effort.weighing_u, WEIGHING * 20 / 21, 1e-6);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(without_brewing_known),   cmocka_unit_test(brewing_is_what_is_left),
		cmocka_unit_test(loads_are_not_read_away), cmocka_unit_test(a_brewing_spread_below_the_meters_is_none),
		cmocka_unit_test(nothing_known),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
