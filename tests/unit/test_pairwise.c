/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <Rmath.h>
#include <stdlib.h>

#include "dunnett.h"
#include "dunnett_of_groups.h"
#include "pairwise.h"
#include "random.h"
#include "studentized_range.h"

static void places_of_pairs(void **state)
{
	size_t place = 0;

	(void)state;
	assert_int_equal(pairs_count(0), 0);
	assert_int_equal(pairs_count(1), 0);
	assert_int_equal(pairs_count(2), 1);
	assert_int_equal(pairs_count(1000), 499500);
	for (size_t a = 0; a < 7; a++)
		for (size_t b = a + 1; b < 7; b++)
			assert_int_equal(pair_place(a, b, 7), place++);
	assert_int_equal(place, pairs_count(7));
}

/*
 * One pair of four brews each, spread 0.3 on 6 degrees of freedom. Tables of t: 2.446912 (0.975), 1.943180
 * (0.95); standard error 0.3 sqrt(1/2): half widths 0.519069 and 0.412211.
 */
struct verdict_case {
	const char *name;
	double difference;
	double margin;
	enum verdict verdict;
	bool small;
};

static struct verdict_case verdict_cases[] = {
	{ "clear and large", 0.8, 0.5, VERDICT_DIFFER, false },
	{ "just clear of 0", 0.5191, 0.5, VERDICT_DIFFER, false },
	{ "just not clear of 0", 0.5190, 0.5, VERDICT_OPEN, false },
	{ "clear, below 0", -0.6, 0.5, VERDICT_DIFFER, false },
	{ "clear, but inside a wide margin", 0.6, 1.1, VERDICT_DIFFER, true },
	{ "clear, and just not inside", 0.6, 1.0122, VERDICT_DIFFER, false },
	{ "just inside the margin", 0.0877, 0.5, VERDICT_SAME, false },
	{ "just inside, below 0", -0.0877, 0.5, VERDICT_SAME, false },
	{ "just not inside the margin", 0.0879, 0.5, VERDICT_OPEN, false },
	{ "equal means, margin too narrow", 0.0, 0.4, VERDICT_OPEN, false },
	{ "equal means, no margin", 0.0, 0.0, VERDICT_OPEN, false },
	{ "equal means, margin unknown", 0.0, NAN, VERDICT_OPEN, false },
	{ "equal means, margin negative", 0.0, -1.0, VERDICT_OPEN, false },
};

static void verdict_of_two(void **state)
{
	const struct verdict_case *c = *state;
	struct group_summary groups[] = { { 4, 20.0, 0.3 }, { 4, 20.0 - c->difference, 0.3 } };
	struct claim claim = { 0.05, c->margin };
	struct pair_result tukey;
	struct pair_result howell = pair_games_howell(groups, 2, 0, 1, 0, claim);
	struct pair_result dunnett;

	pairs_tukey(&tukey, groups, 2, 0.09, 6.0, claim);
	dunnett_of_groups(&dunnett, groups, 2, 1, 0.09, 6.0, claim);
	assert_int_equal(tukey.verdict, c->verdict);
	assert_int_equal(howell.verdict, c->verdict);
	assert_int_equal(dunnett.verdict, c->verdict);
	assert_int_equal(tukey.small, c->small);
	assert_int_equal(dunnett.small, c->small);
	assert_near(tukey.half_width, 0.519069, 2e-6);
	assert_near(tukey.same_half_width, 0.412211, 2e-6);
	assert_near(howell.half_width, tukey.half_width, 1e-9);
	assert_near(howell.df, 6.0, 1e-12);
	assert_near(dunnett.half_width, tukey.half_width, 1e-9);
	assert_near(dunnett.same_half_width, tukey.same_half_width, 1e-9);
	assert_near(tukey.p, 2.0 * pt(-fabs(dunnett.statistic), 6.0, 1, 0), 1e-11);
	assert_near(dunnett.p, tukey.p, 1e-11);
	assert_near(howell.p, tukey.p, 1e-9);
}

/* Games and Howell without spread have no scale at all; Tukey's pooled spread may be 0 by the display's step. */
static void no_spread(void **state)
{
	static const struct group_summary groups[] = { { 3, 1.4, 0.0 }, { 3, 1.4, 0.0 }, { 3, 1.5, 0.0 } };
	static const struct claim claim = { 0.05, 0.5 };
	struct pair_result pairs[3];

	(void)state;
	pairs_tukey(pairs, groups, 3, 0.0, 6.0, claim);
	assert_int_equal(pairs[0].verdict, VERDICT_SAME);
	assert_near(pairs[0].half_width, 0.0, 0.0);
	assert_near(pairs[0].p, 1.0, 0.0);
	assert_int_equal(pairs[1].verdict, VERDICT_DIFFER);
	assert_true(pairs[1].small);
	assert_near(pairs[1].p, 0.0, 0.0);
	pairs_games_howell(pairs, groups, 3, claim);
	assert_int_equal(pairs[1].verdict, VERDICT_OPEN);
	assert_near(pairs[1].p, NAN, 0.0);
	assert_near(pairs[1].half_width, NAN, 0.0);
}

static void assert_undecided(const struct pair_result *pair)
{
	assert_int_equal(pair->verdict, VERDICT_OPEN);
	assert_near(pair->p, NAN, 0.0);
	assert_near(pair->half_width, NAN, 0.0);
	assert_near(pair->same_upper, NAN, 0.0);
	assert_false(pair->small);
}

/* One brew each, and no history: the difference stands, nothing is said about it. */
static void no_degrees_of_freedom(void **state)
{
	static const struct group_summary groups[] = { { 1, 20.0, NAN }, { 1, 22.0, NAN } };
	static const struct claim claim = { 0.05, 0.5 };
	struct pair_result pair;

	(void)state;
	pairs_tukey(&pair, groups, 2, NAN, 0.0, claim);
	assert_undecided(&pair);
	assert_near(pair.difference, -2.0, 0.0);
	dunnett_of_groups(&pair, groups, 2, 0, NAN, 0.0, claim);
	assert_undecided(&pair);
	assert_near(pair.difference, 2.0, 0.0);
	pair = pair_games_howell(groups, 2, 0, 1, 0, claim);
	assert_undecided(&pair);
}

static void empty_group(void **state)
{
	static const struct group_summary groups[] = { { 3, 20.0, 0.1 }, { 0, NAN, NAN }, { 3, 22.0, 0.1 } };
	static const struct claim claim = { 0.05, 0.5 };
	struct pair_result pairs[3];

	(void)state;
	pairs_tukey(pairs, groups, 3, 0.01, 4.0, claim);
	assert_int_equal(pairs[0].verdict, VERDICT_OPEN);
	assert_near(pairs[0].difference, NAN, 0.0);
	assert_near(pairs[0].p, NAN, 0.0);
	assert_int_equal(pairs[1].verdict, VERDICT_DIFFER);
	pairs_games_howell(pairs, groups, 3, claim);
	assert_int_equal(pairs[2].verdict, VERDICT_OPEN);
}

/* The order of out, the control left out, a and b as told. */
static void dunnett_walks_the_others(void **state)
{
	static const struct group_summary groups[] = {
		{ 4, 1.0, NAN }, { 6, 2.0, NAN }, { 3, 4.0, NAN }, { 4, 8.0, NAN }
	};
	static const struct claim claim = { 0.05, 0.5 };
	static const size_t others[] = { 0, 1, 3 };
	struct pair_result out[3];

	(void)state;
	dunnett_of_groups(out, groups, 4, 2, 1.0, 13.0, claim);
	for (size_t i = 0; i < 3; i++) {
		double inverse = 1.0 / (double)groups[others[i]].n + 1.0 / 3.0;

		assert_int_equal(out[i].a, others[i]);
		assert_int_equal(out[i].b, 2);
		assert_near(out[i].difference, groups[others[i]].mean - 4.0, 0.0);
		assert_near(out[i].statistic, out[i].difference / sqrt(inverse), 1e-14);
	}
}

/* Which bound serves SAME: few degrees of freedom the range, many the t at alpha/M; M by whether n are equal. */
static void factor_for_same(void **state)
{
	static const struct claim claim = { 0.05, 0.5 };
	struct tukey_rule few = tukey_rule(10, 1.0, 2.0, claim);
	struct tukey_rule many = tukey_rule(4, 1.0, 100.0, claim);

	(void)state;
	assert_near(few.factor, studentized_range_critical(0.05, 10, 2.0) / sqrt(2.0), 1e-12);
	assert_near(few.same_factor, few.factor, 0.0);
	assert_near(many.same_factor, qt(0.05 / 6.0, 100.0, 0, 0), 1e-12);
	tukey_rule_balance(&many);
	assert_near(many.same_factor, qt(0.05 / 4.0, 100.0, 0, 0), 1e-12);
	assert_true(many.same_factor < many.factor);
}

enum { SIMULATED = 40000, SIM_GROUPS = 4, SIM_BREWS = 3 };

/* Draws a run of SIM_BREWS brews each about these means: is any pair a margin apart said to lie inside it? */
static bool wrongly_inside(struct random *random, const double *means, double margin)
{
	struct group_summary groups[SIM_GROUPS];
	static struct tukey_rule rule;
	double squares = 0.0;

	if (rule.treatments == 0) {
		rule = tukey_rule(SIM_GROUPS, 1.0, SIM_GROUPS * (SIM_BREWS - 1), (struct claim){ 0.05, margin });
		tukey_rule_balance(&rule);
	}
	for (size_t i = 0; i < SIM_GROUPS; i++) {
		double x[SIM_BREWS];

		for (size_t j = 0; j < SIM_BREWS; j++)
			x[j] = means[i] + random_normal(random);
		groups[i] = values_summary(x, SIM_BREWS);
		squares += values_sum_of_squares(x, SIM_BREWS);
	}
	rule.mse = squares / rule.df;
	for (size_t a = 0; a < SIM_GROUPS; a++)
		for (size_t b = a + 1; b < SIM_GROUPS; b++) {
			struct pair_result pair = pair_tukey(&rule, groups, a, b);

			if (fabs(means[a] - means[b]) >= margin && (pair.verdict == VERDICT_SAME || pair.small))
				return true;
		}
	return false;
}

/*
 * Truths in which "inside the margin" is as tempting as can be while wrong:
 * two camps exactly a margin apart, and a staircase of margins. At most 5 % of
 * the runs may say so, as SAME or as small (here 40,000: standard error 0.11 %); half that shows that the bound is not idle.
 */
static void wrong_same_is_rare(void **state)
{
	static const double camps[] = { 0.0, 12.0, 0.0, 12.0 };
	static const double stairs[] = { 0.0, 12.0, 24.0, 36.0 };
	struct random random;
	size_t wrong_camps = 0;
	size_t wrong_stairs = 0;

	(void)state;
	random_seed(&random, 20240501);
	for (size_t i = 0; i < SIMULATED; i++) {
		wrong_camps += wrongly_inside(&random, camps, 12.0);
		wrong_stairs += wrongly_inside(&random, stairs, 12.0);
	}
	assert_in_range(wrong_camps, SIMULATED / 40, SIMULATED * 0.0535);
	assert_in_range(wrong_stairs, SIMULATED / 50, SIMULATED * 0.0535);
}

/* The check of the method's description: (.001 .01 .02 .03 .04 .9 .02). */
static void holm(void **state)
{
	static const double p[] = { 0.001, 0.01, 0.02, 0.03, 0.04, 0.9, 0.02 };
	static const double want[] = { 0.007, 0.06, 0.1, 0.1, 0.1, 0.9, 0.1 };
	double with_gap[] = { 0.04, NAN, 0.01, 0.9 };
	struct ranked scratch[7];
	double adjusted[7];

	(void)state;
	holm_adjust(adjusted, p, 7, scratch);
	for (size_t i = 0; i < 7; i++)
		assert_near(adjusted[i], want[i], 1e-15);
	holm_adjust(with_gap, with_gap, 4, scratch);
	assert_near(with_gap[0], 0.08, 1e-15);
	assert_near(with_gap[1], NAN, 0.0);
	assert_near(with_gap[2], 0.03, 1e-15);
	assert_near(with_gap[3], 0.9, 1e-15);
	holm_adjust(adjusted, p, 0, scratch);
}

static struct settle_query query_for(double difference, double margin)
{
	return (struct settle_query){
		.family = FAMILY_ALL_PAIRS,
		.treatments = 3,
		.difference = difference,
		.variance_sum = 2.0 * 0.09,
		.df_rate = 3.0,
		.claim = { 0.05, margin },
	};
}

/* With the number told the pair is settled, with one fewer it is not: rules of those designs decide. */
static void assert_settles(const struct settle_query *query)
{
	struct settle settle = brews_to_settle(query);
	struct group_summary groups[] = { { 0, query->difference, 0.3 }, { 0, 0.0, 0.3 }, { 0, 0.0, 0.3 } };

	assert_true(settle.brews >= 2);
	for (size_t n = settle.brews - 1; n <= settle.brews; n++) {
		double df = 3.0 * (double)(n - 1);
		struct tukey_rule rule = tukey_rule(3, 0.09, df, query->claim);
		struct pair_result pair;

		if (n < 2)
			continue;
		tukey_rule_balance(&rule);
		groups[0].n = groups[1].n = groups[2].n = n;
		pair = pair_tukey(&rule, groups, 0, 1);
		assert_int_equal(pair.verdict, n == settle.brews ? settle.verdict : VERDICT_OPEN);
	}
}

static void settles(void **state)
{
	static const double differences[] = { 3.0, 1.0, 0.7, 0.45, 0.3, 0.1, 0.0, -0.2, 0.03 };

	(void)state;
	for (size_t i = 0; i < sizeof(differences) / sizeof(differences[0]); i++) {
		struct settle_query query = query_for(differences[i], 0.5);

		assert_settles(&query);
	}
	struct settle_query far = query_for(1.0, 0.5);
	struct settle_query near = query_for(0.0, 0.5);

	assert_int_equal(brews_to_settle(&far).verdict, VERDICT_DIFFER);
	assert_int_equal(brews_to_settle(&near).verdict, VERDICT_SAME);
}

/* Dunnett: fewer comparisons, so no more brews; the rule is pairs_dunnett()'s. */
static void settles_against_control(void **state)
{
	struct settle_query query = query_for(0.45, 0.1);
	static const struct claim claim = { 0.05, 0.1 };
	size_t brews;

	(void)state;
	query.family = FAMILY_CONTROL;
	brews = brews_to_settle(&query).brews;
	assert_true(brews >= 3 && brews < 100);
	for (size_t n = brews - 1; n <= brews; n++) {
		struct group_summary groups[] = { { n, 0.0, 0.3 }, { n, 0.45, 0.3 }, { n, 0.0, 0.3 } };
		struct pair_result out[2];

		dunnett_of_groups(out, groups, 3, 0, 0.09, 3.0 * (double)(n - 1), claim);
		assert_int_equal(out[0].verdict, n == brews ? VERDICT_DIFFER : VERDICT_OPEN);
	}
	query.difference = 0.0;
	query.claim.margin = 0.5;
	assert_int_equal(brews_to_settle(&query).verdict, VERDICT_SAME);
}

static void settling_has_limits(void **state)
{
	struct settle_query query = query_for(0.0, 0.0);

	(void)state;
	assert_int_equal(brews_to_settle(&query).brews, 0);
	assert_int_equal(brews_to_settle(&query).verdict, VERDICT_OPEN);
	query = query_for(1e-4, 0.0);
	assert_int_equal(brews_to_settle(&query).brews, 0);
	/* about (4.69 * 0.3/sqrt(2)/d)^2 * 2 = 99,000 for d = 0.00316 */
	query = query_for(0.00316, 0.0);
	assert_in_range(brews_to_settle(&query).brews, 65537, BREWS_MOST);
	query = query_for(NAN, 0.5);
	assert_int_equal(brews_to_settle(&query).brews, 0);
	query = query_for(1.0, 0.5);
	query.treatments = 1;
	assert_int_equal(brews_to_settle(&query).brews, 0);
	query = query_for(0.2, 0.5);
	query.variance_sum = 0.0;
	assert_int_equal(brews_to_settle(&query).brews, 2);
	assert_int_equal(brews_to_settle(&query).verdict, VERDICT_DIFFER);
	query.difference = 0.0;
	assert_int_equal(brews_to_settle(&query).verdict, VERDICT_SAME);
}

/* A spread known beforehand lets even one brew each settle. */
static void history_settles_sooner(void **state)
{
	struct settle_query query = query_for(3.0, 0.5);

	(void)state;
	query.df_base = 12.0;
	assert_int_equal(brews_to_settle(&query).brews, 1);
}

static void rate_of_welch_df(void **state)
{
	(void)state;
	assert_near(welch_df_rate(0.3, 0.3), 2.0, 1e-15);
	assert_near(welch_df_rate(0.3, 0.0), 1.0, 1e-15);
	assert_near(welch_df_rate(1.0, 2.0), 25.0 / 17.0, 1e-15);
	assert_near(welch_df_rate(1e-200, 2e-200), 25.0 / 17.0, 1e-14);
	assert_near(welch_df_rate(0.0, 0.0), NAN, 0.0);
}

int main(void)
{
	enum { VERDICTS = sizeof(verdict_cases) / sizeof(verdict_cases[0]) };
	const struct CMUnitTest others[] = {
		cmocka_unit_test(places_of_pairs),
		cmocka_unit_test(no_spread),
		cmocka_unit_test(empty_group),
		cmocka_unit_test(no_degrees_of_freedom),
		cmocka_unit_test(factor_for_same),
		cmocka_unit_test(dunnett_walks_the_others),
		cmocka_unit_test(wrong_same_is_rare),
		cmocka_unit_test(holm),
		cmocka_unit_test(settles),
		cmocka_unit_test(settles_against_control),
		cmocka_unit_test(settling_has_limits),
		cmocka_unit_test(history_settles_sooner),
		cmocka_unit_test(rate_of_welch_df),
	};
	struct CMUnitTest tests[VERDICTS];
	int failed;

	for (size_t i = 0; i < VERDICTS; i++)
		tests[i] = (struct CMUnitTest){
			.name = verdict_cases[i].name,
			.test_func = verdict_of_two,
			.initial_state = &verdict_cases[i],
		};
	failed = cmocka_run_group_tests_name("verdicts", tests, NULL, NULL);
	return failed + cmocka_run_group_tests_name("pairs", others, NULL, NULL);
}
