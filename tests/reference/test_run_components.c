/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Variance components, Mandel's and Grubbs' statistics as a whole analysis tells them, against R (lme4; qf; the sources stand
 * in oracle/run_components.R) and the printed tables of ISO 5725-2. The readings go in as % TDS, which the correction chain
 * hands on unchanged.
 */
#include "near.h"

#include <string.h>

#include "analysis.h"
#include "csv_table.h"
#include "run_builder.h"

/* A run of the file's readings; of each cup the first `most` only, and no cup called without. */
static struct run *run_of(const struct csv_table *table, size_t most, const char *without)
{
	struct run *run = build_run();
	const char *blocks[64];
	uint32_t brew = 0;
	size_t readings = 0;
	bool blocked = strcmp(table->cells[1], "block") == 0;

	for (size_t row = 0; row < table->rows; row++) {
		const char *label = csv_text(table, row, "brew");

		if (strcmp(label, without) == 0)
			continue;
		if (row == 0 || !slice_equal(run->brews[brew].label, slice_from(label))) {
			brew = build_brew(run, label, csv_text(table, row, "treatment"));
			blocks[brew] = blocked ? csv_text(table, row, "block") : "";
			readings = 0;
		}
		if (readings++ < most)
			build_reading(run, brew, csv_number(table, row, "y"));
	}
	if (blocked)
		build_words(run, "block", COLUMN_WORD + BREW_BLOCK, blocks);
	return run;
}

static struct analysis *analysis_of(struct run *run)
{
	static struct settings settings;
	struct analysis *analysis = NULL;
	struct error error = ERROR_INIT;

	settings_init(&settings);
	strcpy(settings.response, "tds");
	assert_int_equal(analysis_make(&analysis, run, &settings, &error), STATUS_OK);
	return analysis;
}

struct set {
	const char *name, *file;
	size_t readings;
	const char *without;
	bool by_reml;
	double tolerance; /* of lme4's estimates: it stops short of the optimum by up to so much, relatively */
	double df;        /* of brews within treatments */
};

static const struct set sets[] = {
	{ "S1", "synthetic_nested_S1.csv", 99, "", true, 1e-6, 7 },
	{ "S2", "synthetic_nested_S2.csv", 99, "", true, 1e-6, 4 },
	{ "S3", "synthetic_nested_S3.csv", 99, "", true, 1e-6, 7 },
	{ "S1_balanced", "synthetic_nested_S1.csv", 2, "C1", false, 1e-11, 6 },
	{ "blocked", "nested_blocked.csv", 99, "", true, 1e-5, 13 },
};

#define WANT(quantity) csv_lookup(&want, "value", "set", sets[i].name, "quantity", quantity, NULL)

static void components_meet_r(void **state)
{
	struct csv_table want = csv_table_read("run_components.csv");

	(void)state;
	for (size_t i = 0; i < sizeof(sets) / sizeof(sets[0]); i++) {
		struct csv_table table = csv_table_read(sets[i].file);
		struct run *run = run_of(&table, sets[i].readings, sets[i].without);
		struct analysis *analysis = analysis_of(run);
		const struct components *c = &analysis->components;

		print_message("%s\n", sets[i].name);
		assert_true(c->known);
		assert_int_equal(c->by_reml, sets[i].by_reml);
		assert_int_equal(analysis->comparison.blocked, strcmp(sets[i].name, "blocked") == 0);
		assert_near(c->brew.variance, WANT("brew_variance"), sets[i].tolerance * WANT("brew_variance"));
		assert_rel_near(c->reading.variance, WANT("reading_variance"), sets[i].tolerance);
		assert_near(c->brew.share, WANT("brew_share"), 100 * sets[i].tolerance);
		assert_near(c->brew.share + c->reading.share, 100, 1e-9);
		assert_near(sqrt(c->brew.lower), WANT("brew_sd_lower"), 1e-10);
		assert_near(sqrt(c->brew.upper), WANT("brew_sd_upper"), 1e-10);
		assert_near(c->share_lower, WANT("share_lower"), 1e-8);
		assert_near(c->share_upper, WANT("share_upper"), 1e-8);
		assert_near(sqrt(c->reading.upper), WANT("reading_sd_upper"), 1e-10);
		/* never more than the brews give, however large Satterthwaite's formula makes it */
		assert_near(analysis->comparison.s_brew_df, sets[i].df, 0);
		assert_true(c->brew.variance > 0 ? c->brew.df <= sets[i].df : isnan(c->brew.df));
		analysis_free(analysis);
		run_free(run);
		csv_table_release(&table);
	}
	csv_table_release(&want);
}

/* Yields are TDS times beverage over dose, 14 here: spreads 14 times, shares the same. */
static void yields_have_the_shares_of_their_strengths(void **state)
{
	struct csv_table table = csv_table_read("synthetic_nested_S1.csv");
	struct run *run = run_of(&table, 99, "");
	struct analysis *tds = analysis_of(run);
	struct analysis *yield = NULL;
	struct error error = ERROR_INIT;
	struct settings settings;
	const struct components *a = &tds->components;

	(void)state;
	settings_init(&settings);
	assert_int_equal(analysis_make(&yield, run, &settings, &error), STATUS_OK);
	assert_rel_near(yield->components.brew.variance, 14 * 14 * a->brew.variance, 1e-7);
	assert_rel_near(yield->components.brew.share, a->brew.share, 1e-7);
	analysis_free(yield);
	analysis_free(tds);
	run_free(run);
	csv_table_release(&table);
}

static void add_brews(struct run *run, const char *treatment, const double *tds, size_t n)
{
	char label[16];

	for (size_t i = 0; i < n; i++) {
		snprintf(label, sizeof(label), "%s%zu", treatment, i + 1);
		build_reading(run, build_brew(run, label, treatment), tds[i]);
	}
}

/*
 * Grubbs' double test and Mandel's h of one treatment with eight brews, by hand: values 0, 0, 1, 1, 2, 2, 12, 13 tenths about
 * 31/8. Sum of squares of all 323 - 31²/8 = 202.875, without the two highest 10 - 6²/6 = 4: G = 4/202.875 = 0.019717, below
 * 0.0563 (1 %) and 0.1101 (5 %), ISO 5725-2 table 5, p = 8. The single test sees nothing: (13 - 3.875)/√(202.875/7) = 1.695
 * is below 2.126 (table 5, 5 %). Largest h is the same 1.695, below its limit of 1.75 (table 6, p = 8, 5 %).
 */
static void two_brews_apart_hide_from_the_single_test(void **state)
{
	static const double tds[] = { 1.0, 1.0, 1.1, 1.1, 1.2, 1.2, 2.2, 2.3 };
	static const double other[] = { 1.0, 1.1 };
	struct run *run = build_run();
	struct analysis *analysis;
	const struct apart *apart;

	(void)state;
	add_brews(run, "a", tds, 8);
	add_brews(run, "b", other, 2);
	analysis = analysis_of(run);
	apart = &analysis->treatments[0].apart;
	assert_near(apart->pair, 4 / 202.875, 1e-9);
	assert_near(apart->pair_5, 0.1101, 1e-12);
	assert_near(apart->pair_1, 0.0563, 1e-12);
	assert_near(apart->grubbs, (13 - 3.875) / sqrt(202.875 / 7), 1e-9);
	assert_near(apart->grubbs_5, 2.126, 1e-3);
	assert_near(apart->grubbs_1, 2.274, 1e-3);
	assert_near(apart->h_most, apart->grubbs, 1e-12);
	assert_near(apart->h_5, 1.75, 0.005);
	assert_near(apart->h_1, 2.0648901745, 1e-9); /* the closed form behind table 6 (data/crit_mandel_hk.csv) */
	for (size_t b = 0; b < 10; b++)
		assert_int_equal(analysis->brews[b].flags & (BREW_MEAN_OUTLIER | BREW_MEAN_STRAGGLER),
		                 b == 6 || b == 7 ? BREW_MEAN_OUTLIER : 0);
	/* two brews: each as far from their mean as the other */
	assert_true(isnan(analysis->brews[9].mandel_h));
	assert_int_equal(analysis->brews[9].h_mark, OUTLIER_NOT_TESTED);
	analysis_free(analysis);
	run_free(run);
}

/* Mandel's k of glucose C as reported (ASTM E691-99 table 1): one bad reading in laboratory 4. */
static void a_cup_that_scatters_is_marked_by_k(void **state)
{
	static const char *const labels[] = { "L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8" };
	struct csv_table table = csv_table_read("e691_glucose.csv");
	struct run *run = build_run();
	struct analysis *analysis;
	uint32_t brew = 0;

	(void)state;
	for (size_t l = 0; l < 8; l++)
		build_brew(run, labels[l], "C");
	for (size_t row = 0; row < table.rows; row++)
		if (strcmp(csv_text(&table, row, "material"), "C") == 0) {
			brew = (uint32_t)csv_count(&table, row, "lab") - 1;
			build_reading(run, brew, csv_number(&table, row, "y_as_reported") / 10);
		}
	analysis = analysis_of(run);
	/* ISO 5725-2 tables 6 and 7, p = 8, n = 3, by their closed forms (data/crit_mandel_hk.csv) */
	assert_near(analysis->repeatability.k_limit_5, 1.6689245762, 1e-9);
	assert_near(analysis->repeatability.k_limit, 1.96377703842, 1e-9);
	assert_near(analysis->repeatability.cochran, 0.725286, 1e-6);
	/* C = k² / p */
	assert_near(analysis->brews[3].mandel_k, sqrt(8 * 0.725286), 1e-5);
	assert_int_equal(analysis->brews[3].k_mark, OUTLIER_STATISTICAL);
	analysis_free(analysis);
	run_free(run);
	csv_table_release(&table);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(components_meet_r),
		cmocka_unit_test(yields_have_the_shares_of_their_strengths),
		cmocka_unit_test(two_brews_apart_hide_from_the_single_test),
		cmocka_unit_test(a_cup_that_scatters_is_marked_by_k),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
