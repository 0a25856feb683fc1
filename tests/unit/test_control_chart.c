/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <string.h>

#include "control_chart.h"

#define MOST 20

static void constants_have_a_range(void **state)
{
	(void)state;
	assert_true(isnan(chart_d2(1)) && isnan(chart_d2(26)) && isnan(chart_d3(1)) && isnan(chart_d3(26)));
	assert_true(isnan(chart_c4(1)) && isnan(chart_D4(1)) && isnan(chart_D3(1)) && isnan(chart_B3(1)));
	assert_rel_near(chart_c4(2), sqrt(2 / M_PI), 1e-14);
	assert_rel_near(chart_d2(2), 2 / sqrt(M_PI), 1e-10);
	assert_near(chart_D3(6), 0, 0);
	assert_true(chart_D3(7) > 0);
}

static void too_few_points(void **state)
{
	static const double x[] = { 1.38 };
	struct individuals_chart one = individuals_chart_of(x, 1), none = individuals_chart_of(NULL, 0);

	(void)state;
	assert_near(one.centre, 1.38, 0);
	assert_true(isnan(one.sigma) && isnan(one.lower) && isnan(one.mr_upper) && isnan(one.zero_share));
	assert_true(one.provisional && !one.step_limited);
	assert_true(isnan(none.centre));
}

/* A display that hardly moves: more than a third of the moving ranges 0. */
static void the_display_step_is_noticed(void **state)
{
	static const double stuck[] = { 1, 1, 1, 2, 2, 1 }, third[] = { 1, 1, 2, 1 };
	struct individuals_chart chart = individuals_chart_of(stuck, 6);

	(void)state;
	assert_rel_near(chart.zero_share, 0.6, 1e-15);
	assert_true(chart.step_limited);
	assert_rel_near(chart.mr_mean, 0.4, 1e-15);
	assert_false(individuals_chart_of(third, 4).step_limited); /* just a third */
}

static void twenty_points_settle_the_limits(void **state)
{
	double x[20];

	(void)state;
	for (size_t i = 0; i < 20; i++)
		x[i] = 1e6 + (double)(i % 2);
	assert_true(individuals_chart_of(x, 19).provisional);
	assert_false(individuals_chart_of(x, 20).provisional);
	assert_near(individuals_chart_of(x, 20).centre, 1e6 + 0.5, 0);
}

/* lambda 1 remembers nothing: z is x and the limits are those of single points at once. */
static void ewma_without_memory(void **state)
{
	static const double x[] = { 3, 5, 4 };
	const struct ewma_chart chart = { .lambda = 1, .width = 3, .centre = 4, .sigma = 0.5 };
	struct ewma_point points[3];

	(void)state;
	ewma_chart_points(points, &chart, x, 3);
	for (size_t i = 0; i < 3; i++) {
		assert_near(points[i].z, x[i], 1e-15);
		assert_near(points[i].lower, 2.5, 1e-15);
		assert_near(points[i].upper, 5.5, 1e-15);
	}
}

static void ewma_limits_open_up(void **state)
{
	static const double x[] = { 1, 1, 1 };
	const struct ewma_chart chart = { .lambda = 0.2, .width = 3, .centre = 0, .sigma = 1 };
	struct ewma_point points[3];

	(void)state;
	ewma_chart_points(points, &chart, x, 3);
	assert_rel_near(points[0].upper, 0.6, 1e-14); /* 3 lambda sigma */
	assert_rel_near(points[1].upper, 3 * sqrt(0.04 + 0.04 * 0.64), 1e-14);
	assert_rel_near(points[2].z, 1 - 0.8 * 0.8 * 0.8, 1e-14);
	assert_rel_near(ewma_chart_reach(&chart), 1, 1e-14); /* 3 sqrt(0.2 / 1.8) */
}

struct signal_case {
	const char *name;
	double x[MOST];
	size_t n;
	size_t first; /* the first point that carries the signal; n: none does */
	unsigned signal;
};

/* Centre 0, sigma 1. Rules as ISO 7870-2:2013 words them. */
static void signals(void **state)
{
	static const struct signal_case cases[] = {
		{ "beyond 3 sigma", { 0, 3.1, 0 }, 3, 1, CHART_BEYOND_3 },
		{ "beyond 3 sigma below", { 0, -3.1 }, 2, 1, CHART_BEYOND_3 },
		{ "on the line is not beyond", { 3, -3 }, 2, 2, CHART_BEYOND_3 },
		{ "nine above", { .1, .5, .2, .1, .3, .2, .4, .1, .2 }, 9, 8, CHART_NINE_ONE_SIDE },
		{ "eight above", { -1, .5, .2, .1, .3, .2, .4, .1, .2 }, 9, 9, CHART_NINE_ONE_SIDE },
		{ "nine below", { 1, -.5, -.2, -.1, -.3, -.2, -.4, -.1, -.2, -.1 }, 10, 9, CHART_NINE_ONE_SIDE },
		{ "the centre is no side", { .1, .5, .2, .1, 0, .2, .4, .1, .2 }, 9, 9, CHART_NINE_ONE_SIDE },
		{ "six rising", { -1, -.5, 0, .1, .2, .9 }, 6, 5, CHART_SIX_STEADY },
		{ "six falling", { 1, .5, 0, -.1, -.2, -.9 }, 6, 5, CHART_SIX_STEADY },
		{ "five rising", { 0, -.5, 0, .1, .2, .9 }, 6, 6, CHART_SIX_STEADY },
		{ "equal neighbours do not rise", { -1, -.5, 0, 0, .2, .9, 1 }, 7, 7, CHART_SIX_STEADY },
		{ "fourteen alternating", { 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1 }, 14, 13, CHART_FOURTEEN_ZIGZAG },
		{ "thirteen alternating", { 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0 }, 13, 13, CHART_FOURTEEN_ZIGZAG },
		{ "an equal pair breaks it",
		  { 0, 1, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1, 0 },
		  14,
		  14,
		  CHART_FOURTEEN_ZIGZAG },
		{ "two of three", { 2.1, 0, 2.2 }, 3, 2, CHART_TWO_OF_THREE },
		{ "two of three at the start", { -2.1, -2.2 }, 2, 1, CHART_TWO_OF_THREE },
		{ "two of three on different sides", { 2.1, 0, -2.2 }, 3, 3, CHART_TWO_OF_THREE },
		{ "two of four", { 2.1, 0, 0, 2.2 }, 4, 4, CHART_TWO_OF_THREE },
		{ "four of five", { 1.1, 1.2, 0, 1.3, 1.4 }, 5, 4, CHART_FOUR_OF_FIVE },
		{ "four of five, the quiet one last", { 1.1, 1.2, 1.3, 0, 1.4 }, 5, 4, CHART_FOUR_OF_FIVE },
		{ "four of six", { 1.1, 1.2, 0, 1.3, 0, 1.4 }, 6, 6, CHART_FOUR_OF_FIVE },
		{ "fifteen close",
		  { .1, -.1, .9, -.9, .1, -.1, .9, 1, -1, .1, -.2, .1, .2, -.2, .1 },
		  15,
		  14,
		  CHART_FIFTEEN_CLOSE },
		{ "fourteen close",
		  { 2, -.1, .9, -.9, .1, -.1, .9, 1, -1, .1, -.2, .1, .2, -.2, .1 },
		  15,
		  15,
		  CHART_FIFTEEN_CLOSE },
		{ "eight far", { 1.1, -1.1, 1.2, -1.5, 1.1, 1.3, -1.2, 1.4 }, 8, 7, CHART_EIGHT_FAR },
		{ "eight far, one side only", { 1.1, 1.1, 1.2, 1.5, 1.1, 1.3, 1.2, 1.4 }, 8, 8, CHART_EIGHT_FAR },
		{ "seven far", { 1.1, -1.1, 1, -1.5, 1.1, 1.3, -1.2, 1.4 }, 8, 8, CHART_EIGHT_FAR },
		{ "a gap breaks two of three", { 2.1, NAN, 2.2 }, 3, 3, CHART_TWO_OF_THREE },
		{ "a gap breaks nine", { .1, .5, .2, .1, NAN, .2, .4, .1, .2 }, 9, 9, CHART_NINE_ONE_SIDE },
		{ "a gap breaks six", { -1, -.5, NAN, .1, .2, .9 }, 6, 6, CHART_SIX_STEADY },
	};
	unsigned got[MOST];

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		const struct signal_case *c = &cases[i];
		size_t first = 0;

		chart_signals(got, c->x, c->n, 0, 1);
		while (first < c->n && !(got[first] & c->signal))
			first++;
		if (first != c->first)
			fail_msg("%s: first at %zu, expected %zu", c->name, first, c->first);
	}
}

/* Without sigma nothing can be said about distances. */
static void signals_without_sigma(void **state)
{
	static const double x[] = { 9, 9.1, 9.2, 9.3, 9.4, 9.5, 9.6, 9.7, 9.8 };
	unsigned got[9];

	(void)state;
	chart_signals(got, x, 9, 0, NAN);
	assert_int_equal(got[8], CHART_NINE_ONE_SIDE | CHART_SIX_STEADY);
	assert_int_equal(got[5], CHART_SIX_STEADY);
	assert_int_equal(got[0], 0);
	chart_signals(got, x, 9, 0, 0);
	assert_int_equal(got[8], CHART_NINE_ONE_SIDE | CHART_SIX_STEADY);
}

static void every_signal_has_its_words(void **state)
{
	(void)state;
	for (int i = 0; i < CHART_SIGNALS; i++) {
		const char *text = chart_signal_text((enum chart_signal)(1 << i));

		assert_non_null(text);
		for (int j = 0; j < i; j++)
			assert_string_not_equal(text, chart_signal_text((enum chart_signal)(1 << j)));
	}
	assert_null(chart_signal_text((enum chart_signal)(1 << CHART_SIGNALS)));
}

static void limits_that_make_no_sense(void **state)
{
	(void)state;
	assert_true(isnan(chart_sd_limit(0.06, 0, 125, 0.05)) && isnan(chart_sd_limit(0.06, 5, 0, 0.05)));
	assert_true(isnan(chart_sd_limit(0.06, 5, 125, 0)));
	assert_true(isnan(individuals_run_length(0, 1)));
	assert_true(isnan(ewma_run_length(0.04, 3, 0)) && isnan(ewma_run_length(1.1, 3, 0)));
	assert_true(isnan(ewma_run_length(0.2, 0, 0)) && isnan(ewma_run_length(NAN, 3, 0)));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(constants_have_a_range),
		cmocka_unit_test(too_few_points),
		cmocka_unit_test(the_display_step_is_noticed),
		cmocka_unit_test(twenty_points_settle_the_limits),
		cmocka_unit_test(ewma_without_memory),
		cmocka_unit_test(ewma_limits_open_up),
		cmocka_unit_test(signals),
		cmocka_unit_test(signals_without_sigma),
		cmocka_unit_test(every_signal_has_its_words),
		cmocka_unit_test(limits_that_make_no_sense),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
