/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What to weigh for a check standard, and how well it is known; all right values by hand, indices from ICUMSA (1974). */
#include "near.h"

#include <string.h>

#include "check_standard.h"

static struct check_standard_query usual(void)
{
	return (struct check_standard_query){
		.strength_percent = 2,
		.total_g = 200,
		.temp_c = 20,
		.scale_step_g = 0.1,
		.scale_accuracy_g = NAN,
		.meter_factor = 0.85,
	};
}

/* u(mass) = 0.1/√6 = 0.0408248 g; u(w) = 100/200² · 0.0408248 · √(196² + 4²) = 0.0200083 %. */
static void two_per_cent_of_two_hundred_grams(void **state)
{
	struct check_standard_query query = usual();
	struct error error = ERROR_INIT;
	struct check_standard made;

	(void)state;
	assert_int_equal(check_standard_make(&made, &query, &error), STATUS_OK);
	assert_near(made.sucrose_g, 4.0, 1e-12);
	assert_near(made.water_g, 196.0, 1e-12);
	assert_near(made.strength_percent, 2, 1e-12);
	assert_near(made.tds_percent, 1.70, 1e-12);
	assert_near(made.mass_u_g, 0.0408248, 1e-7);
	assert_near(made.strength_u, 0.0200083, 1e-7);
	assert_near(made.strength_expanded, 2 * made.strength_u, 0);
	assert_near(made.sucrose_share, 100 * 196.0 * 196 / (196.0 * 196 + 16), 1e-9);
	assert_near(made.index_20, 1.335866, 5e-7);
	assert_near(made.index, made.index_20, 1e-9);
	assert_near(made.index_expanded, 0.0400 * 0.001446, 2e-7); /* ICUMSA: 0.001446 from 1.5 to 2.5 % */
	assert_near(made.total_for_aim_g, 200 * 0.0400163 / 0.02, 0.01);
}

/* An accuracy of ± 0.3 g adds 0.3/√3 = 0.173205: √(0.0408248² + 0.173205²) = 0.177951. */
static void the_scales_accuracy_counts(void **state)
{
	struct check_standard_query query = usual();
	struct error error = ERROR_INIT;
	struct check_standard made;

	(void)state;
	query.scale_accuracy_g = 0.3;
	assert_int_equal(check_standard_make(&made, &query, &error), STATUS_OK);
	assert_near(made.mass_u_g, 0.177951, 1e-6);
}

/* 3.3 % of 100 g on scales of 1 g: 3 g and 97 g, which is 3 %. */
static void masses_are_whole_steps_and_the_strength_is_theirs(void **state)
{
	struct check_standard_query query = usual();
	struct error error = ERROR_INIT;
	struct check_standard made;

	(void)state;
	query.strength_percent = 3.3;
	query.total_g = 100;
	query.scale_step_g = 1;
	assert_int_equal(check_standard_make(&made, &query, &error), STATUS_OK);
	assert_near(made.sucrose_g, 3, 0);
	assert_near(made.water_g, 97, 0);
	assert_near(made.strength_percent, 3, 1e-12);
	assert_near(made.tds_percent, 2.55, 1e-12);
}

static void an_index_at_another_temperature_is_lower_when_warmer(void **state)
{
	struct check_standard_query query = usual();
	struct error error = ERROR_INIT;
	struct check_standard made;

	(void)state;
	query.temp_c = 25;
	assert_int_equal(check_standard_make(&made, &query, &error), STATUS_OK);
	assert_near(made.index_20, 1.335866, 5e-7);
	/* water loses 0.00049 from 20 to 25 °C (IAPWS R9-97: 1.33299, 1.33250 at 589 nm); 2 % hardly more */
	assert_near(made.index_20 - made.index, 0.0005, 3e-5);
}

struct refusal {
	const char *name;
	double strength, total, temp, step;
	const char *words;
};

static void refused(void **state)
{
	const struct refusal *c = *state;
	struct check_standard_query query = usual();
	struct error error = ERROR_INIT;
	struct check_standard made;

	query.strength_percent = c->strength;
	query.total_g = c->total;
	query.temp_c = c->temp;
	query.scale_step_g = c->step;
	assert_int_equal(check_standard_make(&made, &query, &error), STATUS_INVALID);
	if (!strstr(error.text, c->words))
		fail_msg("\"%s\" does not say \"%s\"", error.text, c->words);
}

static struct refusal refusals[] = {
	{ "water", 0, 200, 20, 0.1, "expected above 0" },
	{ "below nothing", -1, 200, 20, 0.1, "expected above 0" },
	{ "past all sugar", 101, 200, 20, 0.1, "up to 85 %" },
	{ "no number", NAN, 200, 20, 0.1, "expected above 0" },
	{ "no mass", 2, 0, 20, 0.1, "expected more than 0" },
	{ "steam", 2, 200, 150, 0.1, "no index is known at 150" },
	{ "scales too coarse for the sugar", 2, 20, 20, 1, "expected a larger mass" },
};

int main(void)
{
	const struct CMUnitTest fixed[] = {
		cmocka_unit_test(two_per_cent_of_two_hundred_grams),
		cmocka_unit_test(the_scales_accuracy_counts),
		cmocka_unit_test(masses_are_whole_steps_and_the_strength_is_theirs),
		cmocka_unit_test(an_index_at_another_temperature_is_lower_when_warmer),
	};
	struct CMUnitTest by_row[sizeof(refusals) / sizeof(refusals[0])];
	int failed = cmocka_run_group_tests_name("check standard", fixed, NULL, NULL);

	for (size_t i = 0; i < sizeof(refusals) / sizeof(refusals[0]); i++)
		by_row[i] = (struct CMUnitTest){ .name = refusals[i].name,
			                         .test_func = refused,
			                         .initial_state = &refusals[i] };
	return failed + cmocka_run_group_tests_name("refused", by_row, NULL, NULL);
}
