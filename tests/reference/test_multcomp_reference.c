/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Comparisons of treatments (oneway, welch, spread_tests, pairwise, letters)
 * against R, SAS, Matlab and NIST on published data sets. Data and sources:
 * data/README-comparisons.md.
 */
#include "near.h"

#include <Rmath.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dunnett_of_groups.h"
#include "csv_table.h"
#include "group_table.h"
#include "letters.h"
#include "oneway.h"
#include "pairwise.h"
#include "spread_tests.h"
#include "studentized_range.h"
#include "welch.h"

enum { MOST_PAIRS = 40, LETTER_ROOM = 40 };

static const struct claim five_percent = { 0.05, 0.0 };

/* One set's rows of the expected values. */
struct expected {
	struct csv_table csv;
	const char *set;
	struct group_table data;
	struct oneway anova;
};

static void expected_open(struct expected *expected, const char *set)
{
	char name[64];

	snprintf(name, sizeof(name), "r_%s.csv", set);
	expected->csv = csv_table_read("multcomp_expected.csv");
	expected->set = set;
	group_table_read(&expected->data, name, "group", NULL);
	expected->anova = oneway_of_values(expected->data.group, expected->data.count);
}

static void expected_close(struct expected *expected)
{
	csv_table_release(&expected->csv);
	group_table_release(&expected->data);
}

static double want(const struct expected *expected, const char *test, const char *item, const char *quantity)
{
	return csv_lookup(&expected->csv, "value", "set", expected->set, "test", test, "item", item, "quantity",
	                  quantity, NULL);
}

/* The expected file names pairs as R does, "second-first" in the order of the factor's levels. */
static void split_pair(const struct expected *expected, const char *item, size_t *a, size_t *b)
{
	char text[64];
	char *dash;

	snprintf(text, sizeof(text), "%s", item);
	dash = strchr(text, '-');
	assert_non_null(dash);
	*dash = '\0';
	*a = group_table_find(&expected->data, text);
	*b = group_table_find(&expected->data, dash + 1);
}

static void anova_meets_r(void **state)
{
	static struct expected x;
	struct oneway sums;

	expected_open(&x, *state);
	assert_rel_near(x.anova.f, want(&x, "anova", "", "F"), 1e-11);
	assert_near(x.anova.df_between, want(&x, "anova", "", "df1"), 0.0);
	assert_near(x.anova.df_within, want(&x, "anova", "", "df2"), 0.0);
	assert_rel_near(x.anova.p, want(&x, "anova", "", "p"), 1e-10);
	assert_rel_near(x.anova.ms_within, want(&x, "anova", "", "MSE"), 1e-11);
	assert_rel_near(x.anova.ss_between, want(&x, "anova", "", "SSB"), 1e-11);
	assert_rel_near(x.anova.ss_within, want(&x, "anova", "", "SSW"), 1e-11);
	sums = oneway_of_summaries(x.data.summary, x.data.count);
	assert_rel_near(sums.f, want(&x, "anova", "", "F"), 1e-11);
	for (size_t i = 0; i < x.data.count; i++) {
		assert_near((double)x.data.summary[i].n, want(&x, "group", x.data.name[i], "n"), 0.0);
		assert_rel_near(x.data.summary[i].mean, want(&x, "group", x.data.name[i], "mean"), 1e-12);
		assert_rel_near(x.data.summary[i].sd, want(&x, "group", x.data.name[i], "sd"), 1e-12);
	}
	expected_close(&x);
}

static void spreads_meet_r(void **state)
{
	static struct expected x;
	double scratch[GROUP_TABLE_VALUES];
	struct welch_anova welch;
	struct bartlett bartlett;
	struct oneway forsythe;

	expected_open(&x, *state);
	welch = welch_anova(x.data.summary, x.data.count);
	assert_rel_near(welch.f, want(&x, "welch_anova", "", "F"), 1e-10);
	assert_rel_near(welch.df1, want(&x, "welch_anova", "", "df1"), 0.0);
	assert_rel_near(welch.df2, want(&x, "welch_anova", "", "df2"), 1e-10);
	assert_rel_near(welch.p, want(&x, "welch_anova", "", "p"), 1e-10);
	bartlett = spread_bartlett(x.data.summary, x.data.count);
	assert_rel_near(bartlett.k2, want(&x, "bartlett", "", "K2"), 1e-10);
	assert_near(bartlett.df, want(&x, "bartlett", "", "df"), 0.0);
	assert_rel_near(bartlett.p, want(&x, "bartlett", "", "p"), 1e-10);
	forsythe = spread_levene(x.data.group, x.data.count, CENTRE_MEDIAN, scratch);
	assert_rel_near(forsythe.f, want(&x, "brown_forsythe", "", "F"), 1e-10);
	assert_near(forsythe.df_between, want(&x, "brown_forsythe", "", "df1"), 0.0);
	assert_near(forsythe.df_within, want(&x, "brown_forsythe", "", "df2"), 0.0);
	assert_rel_near(forsythe.p, want(&x, "brown_forsythe", "", "p"), 1e-10);
	expected_close(&x);
}

/* The tolerances are R's: its ptukey is good to some 1e-9 here, its qtukey stops near 1e-6. */
static void assert_pair_meets_r(const struct expected *x, const struct pair_result *pair, const char *test,
                                const char *item)
{
	double scale = pair->standard_error;

	assert_near(pair->difference, want(x, test, item, "diff"), 1e-10 * (scale + fabs(pair->difference)));
	assert_rel_near(pair->statistic, want(x, test, item, "q"), 1e-11);
	assert_near(pair->p, want(x, test, item, "p_adj"), 5e-9);
	assert_near(pair->lower, want(x, test, item, "lwr"), 5e-6 * scale);
	assert_near(pair->upper, want(x, test, item, "upr"), 5e-6 * scale);
}

/* Calls check for every pair of test once, a and b as R has them. */
static void for_pairs(struct expected *x, const char *test,
                      void (*check)(const struct expected *x, const char *item, size_t a, size_t b))
{
	size_t seen = 0;

	for (size_t row = 0; row < x->csv.rows; row++) {
		size_t a;
		size_t b;

		if (strcmp(csv_text(&x->csv, row, "set"), x->set) != 0 ||
		    strcmp(csv_text(&x->csv, row, "test"), test) != 0 ||
		    strcmp(csv_text(&x->csv, row, "quantity"), "diff") != 0)
			continue;
		split_pair(x, csv_text(&x->csv, row, "item"), &a, &b);
		check(x, csv_text(&x->csv, row, "item"), a, b);
		seen++;
	}
	assert_int_equal(seen, pairs_count(x->data.count));
}

static void check_tukey(const struct expected *x, const char *item, size_t a, size_t b)
{
	struct tukey_rule rule = tukey_rule(x->data.count, x->anova.ms_within, x->anova.df_within, five_percent);
	struct pair_result pair = pair_tukey(&rule, x->data.summary, a, b);

	pair.p = pair_tukey_p(&rule, &pair);
	assert_pair_meets_r(x, &pair, "tukey_kramer", item);
}

static void check_games_howell(const struct expected *x, const char *item, size_t a, size_t b)
{
	struct pair_result pair = pair_games_howell(x->data.summary, x->data.count, a, b, 0, five_percent);

	assert_rel_near(pair.df, want(x, "games_howell", item, "df"), 1e-11);
	assert_pair_meets_r(x, &pair, "games_howell", item);
}

static void all_pairs_meet_r(void **state)
{
	static struct expected x;

	expected_open(&x, *state);
	for_pairs(&x, "tukey_kramer", check_tukey);
	for_pairs(&x, "games_howell", check_games_howell);
	expected_close(&x);
}

/* Welch's t of every pair, and Holm's correction over the pairs of both kinds of t. */
static void holm_meets_r(void **state)
{
	static const char *const tests[] = { "pairwise_t_pooled", "pairwise_t_welch" };
	static struct expected x;
	double raw[MOST_PAIRS];
	double holm[MOST_PAIRS];
	struct ranked scratch[MOST_PAIRS];

	expected_open(&x, *state);
	for (size_t t = 0; t < 2; t++) {
		const char *item[MOST_PAIRS];
		size_t count = 0;

		for (size_t row = 0; row < x.csv.rows; row++) {
			size_t a;
			size_t b;

			if (strcmp(csv_text(&x.csv, row, "set"), x.set) != 0 ||
			    strcmp(csv_text(&x.csv, row, "test"), tests[t]) != 0 ||
			    strcmp(csv_text(&x.csv, row, "quantity"), "p_raw") != 0)
				continue;
			item[count] = csv_text(&x.csv, row, "item");
			split_pair(&x, item[count], &a, &b);
			struct welch_t welch = welch_t(&x.data.summary[a], &x.data.summary[b], 0.95);
			struct tukey_rule rule = tukey_rule(2, x.anova.ms_within, x.anova.df_within, five_percent);
			struct pair_result pooled = pair_tukey(&rule, x.data.summary, a, b);

			raw[count] = t ? welch.p : pair_tukey_p(&rule, &pooled);
			assert_rel_near(t ? fabs(welch.t) : pooled.statistic * M_SQRT1_2,
			                fabs(want(&x, tests[t], item[count], "t")), 1e-11);
			assert_rel_near(raw[count], want(&x, tests[t], item[count], "p_raw"), 1e-9);
			count++;
		}
		assert_int_equal(count, pairs_count(x.data.count));
		holm_adjust(holm, raw, count, scratch);
		for (size_t i = 0; i < count; i++)
			assert_rel_near(holm[i], want(&x, tests[t], item[i], "p_holm"), 1e-9);
	}
	expected_close(&x);
}

/* p_exact stands for numerical integration; below 1e-8 it is limited by an absolute 1e-10. */
static void dunnett_meets_exact(void **state)
{
	static struct expected x;
	struct pair_result pairs[GROUP_TABLE_GROUPS];
	const char *control = NULL;

	expected_open(&x, *state);
	for (size_t row = 0; row < x.csv.rows && !control; row++)
		if (strcmp(csv_text(&x.csv, row, "set"), x.set) == 0 &&
		    strcmp(csv_text(&x.csv, row, "test"), "dunnett_two_sided") == 0)
			control = strchr(csv_text(&x.csv, row, "item"), '-') + 1;
	assert_non_null(control);
	dunnett_of_groups(pairs, x.data.summary, x.data.count, group_table_find(&x.data, control), x.anova.ms_within,
	                  x.anova.df_within, five_percent);
	for (size_t i = 0; i < x.data.count - 1; i++) {
		char item[64];

		snprintf(item, sizeof(item), "%s-%s", x.data.name[pairs[i].a], control);
		assert_near(pairs[i].difference, want(&x, "dunnett_two_sided", item, "diff"), 1e-9);
		assert_rel_near(pairs[i].statistic, want(&x, "dunnett_two_sided", item, "t"), 1e-11);
		assert_near(pairs[i].p, want(&x, "dunnett_two_sided", item, "p_exact"), 3e-10);
		assert_rel_near(pairs[i].half_width / pairs[i].standard_error,
		                want(&x, "dunnett_two_sided", item, "crit_05"), 5e-9);
	}
	expected_close(&x);
}

/* Limits printed by SAS (the first set with a rounded q) and NIST (two places, q rounded to 4.05); p by Matlab. */
static void tukey_meets_print(void **state)
{
	const char *set = *state;
	struct csv_table csv = csv_table_read("tukey_published_expected.csv");
	static struct group_table data;
	struct oneway anova;
	struct tukey_rule rule;
	size_t seen = 0;
	double printed = strcmp(set, "nist_prc471") == 0 ? 0.005 : strcmp(set, "same") == 0 ? 5e-5 : 2e-7;

	group_table_read(&data, "tukey_published.csv", "group", set);
	anova = oneway_of_values(data.group, data.count);
	rule = tukey_rule(data.count, anova.ms_within, anova.df_within, five_percent);
	for (size_t row = 0; row < csv.rows; row++) {
		const char *item = csv_text(&csv, row, "pair");
		struct pair_result pair;

		if (strcmp(csv_text(&csv, row, "set"), set) != 0)
			continue;
		pair = pair_tukey(&rule, data.summary, (size_t)(item[0] - '1'), (size_t)(item[2] - '1'));
		pair.p = pair_tukey_p(&rule, &pair);
		assert_near(pair.difference, csv_number(&csv, row, "diff"), 1e-12);
		assert_rel_near(pair.statistic, csv_number(&csv, row, "q"), 1e-11);
		assert_near(pair.p, csv_number(&csv, row, "p_adj"), 1e-8);
		assert_near(pair.lower, csv_number(&csv, row, "printed_lwr"), printed);
		assert_near(pair.upper, csv_number(&csv, row, "printed_upr"), printed);
		if (!isnan(csv_number(&csv, row, "matlab_p")))
			assert_near(pair.p, csv_number(&csv, row, "matlab_p"), 1e-9);
		seen++;
	}
	assert_int_equal(seen, pairs_count(data.count));
	group_table_release(&data);
	csv_table_release(&csv);
}

/* e-Handbook, gear data. The print is single precision: 1e-4 of it. */
static void gear_meets_nist(void **state)
{
	struct csv_table csv = csv_table_read("nist_gear_expected.csv");
	static struct group_table data;
	double scratch[GROUP_TABLE_VALUES];
	struct bartlett bartlett;
	struct oneway median;
	struct oneway mean;

	(void)state;
	group_table_read(&data, "nist_gear.csv", "batch", NULL);
	bartlett = spread_bartlett(data.summary, data.count);
	median = spread_levene(data.group, data.count, CENTRE_MEDIAN, scratch);
	mean = spread_levene(data.group, data.count, CENTRE_MEAN, scratch);
	assert_near(bartlett.k2, csv_lookup(&csv, "value", "test", "bartlett_K2", NULL), 1e-9);
	assert_near(bartlett.k2, csv_lookup(&csv, "printed", "test", "bartlett_K2", NULL), 1e-4);
	assert_near(bartlett.p, csv_lookup(&csv, "value", "test", "bartlett_p", NULL), 1e-11);
	assert_near(median.f, csv_lookup(&csv, "value", "test", "brown_forsythe_F", NULL), 1e-10);
	assert_near(median.f, csv_lookup(&csv, "printed", "test", "brown_forsythe_F", NULL), 1e-4);
	assert_near(median.p, csv_lookup(&csv, "value", "test", "brown_forsythe_p", NULL), 1e-11);
	assert_near(mean.f, csv_lookup(&csv, "value", "test", "levene_mean_F", NULL), 1e-10);
	group_table_release(&data);
	csv_table_release(&csv);
}

/* R's help page of sleep: Welch F 3.4626 on 17.776 degrees of freedom, p 0.07939; interval -3.3654832 to 0.2054832. */
static void sleep_meets_r_help(void **state)
{
	static struct group_table data;
	struct welch_anova anova;
	struct welch_t t;

	(void)state;
	group_table_read(&data, "r_sleep.csv", "group", NULL);
	anova = welch_anova(data.summary, data.count);
	assert_near(anova.f, 3.4626, 5e-5);
	assert_near(anova.df2, 17.776, 5e-4);
	assert_near(anova.p, 0.07939, 5e-6);
	t = welch_t(&data.summary[0], &data.summary[1], 0.95);
	assert_near(t.t * t.t, 3.4626, 5e-5);
	assert_near(t.p, 0.07939, 5e-6);
	assert_near(t.lower, -3.3654832, 5e-8);
	assert_near(t.upper, 0.2054832, 5e-8);
	group_table_release(&data);
}

static bool share_a_letter(const char *a, const char *b)
{
	return a[strcspn(a, b)] != '\0';
}

/*
 * The expected letters fix which groups share one; ours must be theirs, for
 * both run from the largest mean, in which order the file lists the groups.
 */
static void letters_meet_expected(void **state)
{
	const char *set = *state;
	struct csv_table csv = csv_table_read("cld_expected.csv");
	const char *expected[GROUP_TABLE_GROUPS];
	double means[GROUP_TABLE_GROUPS];
	bool differ[GROUP_TABLE_GROUPS * GROUP_TABLE_GROUPS] = { false };
	size_t order[GROUP_TABLE_GROUPS];
	uint64_t words[LETTER_ROOM + 2];
	struct letters letters;
	size_t k = 0;

	for (size_t row = 0; row < csv.rows; row++)
		if (strcmp(csv_text(&csv, row, "set"), set) == 0) {
			means[k] = -(double)k;
			expected[k++] = csv_text(&csv, row, "letters");
		}
	assert_true(k >= 3);
	for (size_t a = 0; a < k; a++)
		for (size_t b = a + 1; b < k; b++)
			differ[a * k + b] = !share_a_letter(expected[a], expected[b]);
	letters = letters_find(means, differ, k, order, words, LETTER_ROOM);
	assert_true(letters.complete);
	for (size_t i = 0; i < k; i++) {
		char text[32];

		letters_text(&letters, i, text, sizeof(text));
		assert_string_equal(text, expected[i]);
	}
	csv_table_release(&csv);
}

/* From the data to the letters, by Tukey-Kramer at 5 %. */
static void letters_of_data(void **state)
{
	const char *set = *state;
	bool nist = strcmp(set, "nist_prc471") == 0;
	struct csv_table csv = csv_table_read("cld_expected.csv");
	static struct group_table data;
	char file[64];
	struct pair_result pairs[MOST_PAIRS];
	double means[GROUP_TABLE_GROUPS];
	bool differ[GROUP_TABLE_GROUPS * GROUP_TABLE_GROUPS] = { false };
	size_t order[GROUP_TABLE_GROUPS];
	uint64_t words[LETTER_ROOM + 2];
	struct oneway anova;
	struct letters letters;

	snprintf(file, sizeof(file), "r_%s.csv", set);
	group_table_read(&data, nist ? "tukey_published.csv" : file, "group", nist ? set : NULL);
	anova = oneway_of_values(data.group, data.count);
	pairs_tukey(pairs, data.summary, data.count, anova.ms_within, anova.df_within, five_percent);
	for (size_t i = 0; i < pairs_count(data.count); i++)
		differ[pairs[i].a * data.count + pairs[i].b] = pairs[i].verdict == VERDICT_DIFFER;
	for (size_t i = 0; i < data.count; i++)
		means[i] = data.summary[i].mean;
	letters = letters_find(means, differ, data.count, order, words, LETTER_ROOM);
	for (size_t row = 0; row < csv.rows; row++) {
		char text[32];

		if (strcmp(csv_text(&csv, row, "set"), set) != 0)
			continue;
		letters_text(&letters, group_table_find(&data, csv_text(&csv, row, "group")), text, sizeof(text));
		assert_string_equal(text, csv_text(&csv, row, "letters"));
	}
	group_table_release(&data);
	csv_table_release(&csv);
}

/* Five single brews and a spread known with 12 degrees of freedom: q 4.50771, computed with R's qtukey. */
static void history_serves_single_brews(void **state)
{
	static const struct group_summary single[5] = {
		{ 1, 20.0, NAN }, { 1, 20.2, NAN }, { 1, 21.0, NAN }, { 1, 19.0, NAN }, { 1, 20.1, NAN },
	};
	double sd = 0.3;
	struct tukey_rule rule = tukey_rule(5, sd * sd, 12.0, five_percent);
	struct pair_result pair = pair_tukey(&rule, single, 2, 3);

	(void)state;
	assert_near(rule.factor * M_SQRT2, 4.50771, 5e-6);
	assert_near(pair.half_width, 4.50771 * sd, 5e-6);
	assert_int_equal(pair.verdict, VERDICT_DIFFER);
}

static char *r_sets[] = { "PlantGrowth", "warpbreaks_tension", "chickwts", "InsectSprays", "dunnett_blood" };
static char *published_sets[] = { "same", "diff", "extreme", "nist_prc471" };
static char *letter_sets[] = {
	"PlantGrowth",
	"warpbreaks_tension",
	"chickwts",
	"InsectSprays",
	"dunnett_blood",
	"nist_prc471",
	"truth_table_chain4_sig:AC+AD+BD",
	"truth_table_none4_sig:",
	"truth_table_all3_sig:AB+AC+BC",
	"truth_table_star5_sig:AE",
	"truth_table_nontransitive5_sig:AB+AD+BE+CE",
};

struct suite {
	struct CMUnitTest tests[80];
	char names[80][80];
	size_t count;
};

static void suite_add(struct suite *suite, const char *what, CMUnitTestFunction test, char **sets, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		char *name = suite->names[suite->count];

		snprintf(name, sizeof(suite->names[0]), "%s: %s", what, sets[i]);
		suite->tests[suite->count++] = (struct CMUnitTest){
			.name = name,
			.test_func = test,
			.initial_state = sets[i],
		};
	}
}

int main(void)
{
	static struct suite suite;

	suite_add(&suite, "anova", anova_meets_r, r_sets, 5);
	suite_add(&suite, "spreads", spreads_meet_r, r_sets, 5);
	suite_add(&suite, "all pairs", all_pairs_meet_r, r_sets, 5);
	suite_add(&suite, "Holm", holm_meets_r, r_sets, 5);
	suite_add(&suite, "Dunnett", dunnett_meets_exact, r_sets, 5);
	suite_add(&suite, "Tukey-Kramer in print", tukey_meets_print, published_sets, 4);
	suite_add(&suite, "letters", letters_meet_expected, letter_sets, 11);
	suite_add(&suite, "letters from data", letters_of_data, letter_sets, 6);
	suite.tests[suite.count++] = (struct CMUnitTest)cmocka_unit_test(gear_meets_nist);
	suite.tests[suite.count++] = (struct CMUnitTest)cmocka_unit_test(sleep_meets_r_help);
	suite.tests[suite.count++] = (struct CMUnitTest)cmocka_unit_test(history_serves_single_brews);
	return _cmocka_run_group_tests("multiple comparisons", suite.tests, suite.count, NULL, NULL);
}
