/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which cup is on the prism, step by step; and whether its readings agree while it is there. */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "cup_turn.h"
#include "live_check.h"

static const struct slice labels[] = { { "A1", 2 }, { "A2", 2 }, { "B1", 2 } };
static const struct cup_order order = { labels, 3 };
static const struct slice no_label = { NULL, 0 };

static void assert_on(const struct cup_turn *turn, const char *label)
{
	char text[CUP_TURN_TEXT];

	assert_string_equal(cup_turn_label(text, sizeof(text), turn), label);
}

static void take(struct cup_turn *turn, unsigned readings)
{
	for (unsigned i = 0; i < readings; i++)
		cup_turn_take(turn, no_label);
}

static void the_turn_moves_on_after_the_wanted_readings(void **state)
{
	unsigned taken[3] = { 0, 3, 0 }; /* A2 was read before */
	struct cup_turn turn;
	struct cup_taken last;

	(void)state;
	cup_turn_start(&turn, &order, taken, 3, false);
	assert_on(&turn, "A1");
	assert_int_equal(cup_turn_next(&turn), 2);
	last = cup_turn_take(&turn, no_label);
	assert_int_equal(last.count, 1);
	assert_int_equal(last.goal, 3);
	assert_false(last.finished);
	take(&turn, 1);
	last = cup_turn_take(&turn, no_label);
	assert_true(last.finished && last.moved && !last.all_done);
	assert_true(slice_equal(last.label, SLICE_OF("A1")));
	assert_on(&turn, "B1");
	take(&turn, 2);
	last = cup_turn_take(&turn, no_label);
	assert_true(last.finished && last.all_done);
	assert_on(&turn, "");
	assert_int_equal(cup_turn_done(&turn), 3);
	last = cup_turn_take(&turn, no_label); /* of no cup */
	assert_int_equal(last.count, 0);
	assert_int_equal(taken[0] + taken[1] + taken[2], 9);
}

static void a_check_goes_back_to_the_cup_that_was_there(void **state)
{
	unsigned taken[3] = { 0 };
	struct cup_turn turn;

	(void)state;
	cup_turn_start(&turn, &order, taken, 2, false);
	take(&turn, 1);
	cup_turn_check(&turn, 0);
	assert_on(&turn, "zero");
	take(&turn, 2);
	assert_on(&turn, "A1");
	assert_int_equal(taken[0], 1);
	cup_turn_check(&turn, 5);
	assert_on(&turn, "standard 5.00");
	assert_near(cup_turn_take(&turn, no_label).standard_percent, 5, 0);
	cup_turn_check(&turn, 0); /* one check after another: still back to the cup */
	take(&turn, 2);
	assert_on(&turn, "A1");
}

static void a_label_of_the_line_goes_before_the_turn(void **state)
{
	unsigned taken[3] = { 0 };
	struct cup_turn turn;
	struct cup_taken last;

	(void)state;
	cup_turn_start(&turn, &order, taken, 3, false);
	last = cup_turn_take(&turn, SLICE_OF("B1"));
	assert_true(slice_equal(last.label, SLICE_OF("B1")));
	assert_int_equal(taken[2], 1);
	assert_on(&turn, "A1");
	last = cup_turn_take(&turn, SLICE_OF("nobody"));
	assert_true(slice_equal(last.label, SLICE_OF("nobody")));
	assert_false(last.finished);
	/* of a reading that does not count nothing is noted */
	last = cup_turn_pass(&turn, no_label);
	assert_true(slice_equal(last.label, SLICE_OF("A1")));
	assert_int_equal(taken[0], 0);
}

static void steps_stop_at_both_ends(void **state)
{
	unsigned taken[3] = { 0 };
	struct cup_turn turn;

	(void)state;
	cup_turn_start(&turn, &order, taken, 3, false);
	assert_false(cup_turn_step(&turn, -1));
	assert_true(cup_turn_step(&turn, 1) && cup_turn_step(&turn, 1));
	assert_on(&turn, "B1");
	assert_false(cup_turn_step(&turn, 1));
	cup_turn_none(&turn);
	assert_on(&turn, "");
	assert_true(cup_turn_step(&turn, -1));
	assert_on(&turn, "B1");
	cup_turn_none(&turn);
	assert_true(cup_turn_step(&turn, 1));
	assert_on(&turn, "A1");
}

static void a_cup_read_again_gets_as_many_readings_more(void **state)
{
	unsigned taken[3] = { 0 };
	struct cup_turn turn;

	(void)state;
	cup_turn_start(&turn, &order, taken, 2, false);
	take(&turn, 2);
	assert_on(&turn, "A2");
	assert_true(cup_turn_again(&turn)); /* straight after it moved on: the one before */
	assert_on(&turn, "A1");
	take(&turn, 1);
	assert_on(&turn, "A1");
	take(&turn, 1);
	assert_on(&turn, "A2");
	assert_int_equal(taken[0], 4);
	assert_true(cup_turn_set(&turn, SLICE_OF("A1"))); /* full, named by hand: again */
	take(&turn, 1);
	assert_on(&turn, "A1");
}

static void cups_out_of_the_order_stay_until_another_is_named(void **state)
{
	static const struct cup_order none = { NULL, 0 };
	char longest[CUP_LABEL + 2];
	unsigned taken[1] = { 0 };
	struct cup_turn turn;

	(void)state;
	cup_turn_start(&turn, &none, taken, 3, true);
	assert_on(&turn, "");
	assert_false(cup_turn_step(&turn, 1));
	assert_false(cup_turn_again(&turn));
	assert_true(cup_turn_set(&turn, SLICE_OF("X")));
	take(&turn, 7);
	assert_on(&turn, "X");
	assert_int_equal(cup_turn_count(&turn), 7);
	memset(longest, 'x', sizeof(longest));
	assert_true(cup_turn_set(&turn, (struct slice){ longest, CUP_LABEL - 1 }));
	assert_false(cup_turn_set(&turn, (struct slice){ longest, CUP_LABEL }));
	assert_false(cup_turn_set(&turn, no_label));
}

/* -- do the readings agree? ---------------------------------------------------------- */

struct check_case {
	const char *name;
	double values[6];
	size_t n;
	double known_sd, known_df;
	enum live_verdict verdict;
};

/*
 * With a spread s known for sure two readings may differ by 2.772 s, three have a range of at most 3.314 s (95 % points
 * of the studentized range, ISO 5725-6:1994, table 1: 2.8 and 3.3). Step 0.01, s = 0.01, unless a row says otherwise.
 */
static const struct check_case check_cases[] = {
	{ "one reading tells nothing", { 1.38 }, 1, 0.01, 1e9, LIVE_FINE },
	{ "two within 2.77 s", { 1.38, 1.40 }, 2, 0.01, 1e9, LIVE_FINE },
	{ "two beyond 2.77 s", { 1.38, 1.41 }, 2, 0.01, 1e9, LIVE_OUTSIDE },
	{ "three within 3.31 s", { 1.38, 1.41, 1.39 }, 3, 0.01, 1e9, LIVE_FINE },
	{ "three beyond 3.31 s", { 1.38, 1.42, 1.39 }, 3, 0.01, 1e9, LIVE_OUTSIDE },
	{ "a spread known from few readings allows more", { 1.38, 1.42, 1.39 }, 3, 0.01, 2, LIVE_FINE },
	{ "falling three times, by more than two may differ", { 1.42, 1.40, 1.39 }, 3, 0.01, 1e9, LIVE_DRIFTING },
	{ "falling three times, by less", { 1.40, 1.39, 1.38 }, 3, 0.01, 1e9, LIVE_FINE },
	{ "rising at the end of five", { 1.40, 1.39, 1.40, 1.41, 1.43 }, 5, 0.01, 1e9, LIVE_DRIFTING },
	{ "all equal", { 1.40, 1.40, 1.40 }, 3, 0.0, 8, LIVE_FINE },
	{ "never less than the step hides: 0.01 / √12 × 2.77 = 0.008", { 1.40, 1.41 }, 2, 0.0, 8, LIVE_OUTSIDE },
	{ "before anything is known one step is taken as the spread", { 1.40, 1.42 }, 2, 0.0, 0, LIVE_FINE },
	{ "… and no more", { 1.40, 1.43 }, 2, 0.0, 0, LIVE_OUTSIDE },
};

static void readings_agree_or_not(void **state)
{
	const struct check_case *c = *state;
	struct live_spread spread = { .squares = c->known_sd * c->known_sd * c->known_df, .df = c->known_df };
	struct live_result result = live_check(c->values, c->n, 0.01, &spread);

	if (result.verdict != c->verdict)
		fail_msg("verdict %d, not %d; range %g, limit %g, change %g", result.verdict, c->verdict, result.range,
		         result.limit, result.change);
}

static void what_is_told_of_the_readings(void **state)
{
	struct live_spread spread = { .squares = 0 };
	struct live_result result;

	(void)state;
	live_spread_add(&spread, (const double[]){ 1.40, 1.42 }, 2, false);
	live_spread_add(&spread, (const double[]){ 1.50 }, 1, false);
	live_spread_add(&spread, (const double[]){ 1.50, 1.51, 1.52 }, 3, false);
	assert_near(spread.squares, 0.0002 + 0.0002, 1e-12); /* 2 × 0.01² each */
	assert_near(spread.df, 3, 0);
	result = live_check((const double[]){ 1.41, 1.40, 1.60 }, 3, 0.01, &spread);
	assert_int_equal(result.verdict, LIVE_OUTSIDE);
	assert_near(result.apart, 1.60 - 1.405, 1e-12);
	assert_near(result.mean, 4.41 / 3, 1e-12);
	result = live_check(NULL, 0, 0.01, &spread);
	assert_int_equal(result.verdict, LIVE_FINE);
	assert_true(isnan(result.mean) && isnan(result.sd));
}

/* A slip in the first cup, then cups that agree: what the slip allowed is forgotten once enough is known without it. */
static void one_slip_is_outlived(void **state)
{
	const double slip[] = { 1.38, 1.73, 1.38 }, fine[] = { 1.40, 1.41, 1.40 }, odd[] = { 1.41, 1.40, 1.49 };
	struct live_spread spread = { .squares = 0 };

	(void)state;
	live_spread_add(&spread, slip, 3, true);
	assert_int_equal(live_check(odd, 3, 0.01, &spread).verdict, LIVE_FINE);
	for (int cup = 0; cup < 3; cup++)
		live_spread_add(&spread, fine, 3, false);
	assert_int_equal(live_check(odd, 3, 0.01, &spread).verdict, LIVE_OUTSIDE);
}

/* A meter whose readings scatter by more than its step: cups are doubted, until that is known, and then no more. */
static void a_meter_that_scatters_is_believed_in_the_end(void **state)
{
	const double cup[] = { 1.36, 1.44, 1.40 };
	struct live_spread spread = { .squares = 0 };

	(void)state;
	assert_int_equal(live_check(cup, 2, 0.01, &spread).verdict, LIVE_OUTSIDE);
	live_spread_add(&spread, cup, 3, true);
	live_spread_add(&spread, cup, 3, true);
	assert_int_equal(live_check(cup, 2, 0.01, &spread).verdict, LIVE_FINE);
	assert_int_equal(live_check(cup, 3, 0.01, &spread).verdict, LIVE_FINE);
}

int main(void)
{
	const struct CMUnitTest turns[] = {
		cmocka_unit_test(the_turn_moves_on_after_the_wanted_readings),
		cmocka_unit_test(a_check_goes_back_to_the_cup_that_was_there),
		cmocka_unit_test(a_label_of_the_line_goes_before_the_turn),
		cmocka_unit_test(steps_stop_at_both_ends),
		cmocka_unit_test(a_cup_read_again_gets_as_many_readings_more),
		cmocka_unit_test(cups_out_of_the_order_stay_until_another_is_named),
		cmocka_unit_test(what_is_told_of_the_readings),
		cmocka_unit_test(one_slip_is_outlived),
		cmocka_unit_test(a_meter_that_scatters_is_believed_in_the_end),
	};
	struct CMUnitTest checks[sizeof(check_cases) / sizeof(check_cases[0])];
	int failed;

	for (size_t i = 0; i < sizeof(check_cases) / sizeof(check_cases[0]); i++)
		checks[i] = (struct CMUnitTest){ .name = check_cases[i].name,
			                         .test_func = readings_agree_or_not,
			                         .initial_state = (void *)(uintptr_t)&check_cases[i] };
	failed = cmocka_run_group_tests_name("turns", turns, NULL, NULL);
	failed += cmocka_run_group_tests_name("checks", checks, NULL, NULL);
	return failed;
}
