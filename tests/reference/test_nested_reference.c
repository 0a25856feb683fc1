/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * nested.h and nested_random.h against 30-digit optima, published ANOVA
 * estimates and R (lme4, lmerTest). Sources: data/README-stats2.md.
 */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "csv_table.h"
#include "nested.h"
#include "nested_blocked.h"
#include "nested_random.h"

#define MOST 64

struct brews {
	struct brew_summary brew[MOST];
	size_t count;
	struct nested_treatment treatment[MOST];
	size_t treatments;
};

/* Rows of one brew stand together; treatments are A, B, ... */
static struct brews read_brews(const char *set)
{
	char name[64];
	struct brews brews = { .count = 0 };
	struct csv_table table;
	double y[MOST];
	size_t n = 0;

	snprintf(name, sizeof(name), "synthetic_nested_%s.csv", set);
	table = csv_table_read(name);
	for (size_t row = 0; row < table.rows; row++) {
		bool last = row + 1 == table.rows ||
		            strcmp(csv_text(&table, row, "brew"), csv_text(&table, row + 1, "brew")) != 0;

		y[n++] = csv_number(&table, row, "y");
		if (!last)
			continue;
		brews.brew[brews.count] = brew_summary_of(y, n);
		brews.brew[brews.count].treatment = (size_t)(csv_text(&table, row, "treatment")[0] - 'A');
		if (brews.brew[brews.count].treatment >= brews.treatments)
			brews.treatments = brews.brew[brews.count].treatment + 1;
		brews.count++;
		n = 0;
	}
	csv_table_release(&table);
	return brews;
}

static double expected(const struct csv_table *table, const char *set, const char *quantity)
{
	return csv_lookup(table, "value", "set", set, "quantity", quantity, NULL);
}

static void anova_meets_exact_arithmetic(void **state)
{
	const char *set = *state;
	struct csv_table table = csv_table_read("synthetic_nested_expected.csv");
	struct brews b = read_brews(set);
	struct nested_anova a;

	nested_anova(&a, b.treatment, b.treatments, b.brew, b.count);
#define CHECK(member, quantity)                                                                                       \
	assert_rel_near(a.member,                                                                                     \
	                csv_lookup(&table, "value", "set", set, "method", "anova_type1", "quantity", quantity, NULL), \
	                1e-11)
	CHECK(ss_treatment, "SS_treat");
	CHECK(df_treatment, "df_treat");
	CHECK(ss_brew, "SS_brew");
	CHECK(df_brew, "df_brew");
	CHECK(ss_reading, "SS_read");
	CHECK(df_reading, "df_read");
	CHECK(ms_treatment, "MS_treat");
	CHECK(ms_brew, "MS_brew");
	CHECK(ms_reading, "MS_read");
	CHECK(k1, "k1");
	CHECK(k2, "k2");
	CHECK(var_brew_raw, "var_brew_raw");
	CHECK(var_reading, "var_read");
	CHECK(f_denominator, "den_treat");
	CHECK(f, "F_treat");
	CHECK(df_total, "df_total");
	CHECK(f_df_denominator, "df_den");
	CHECK(p, "p_treat");
#undef CHECK
	csv_table_release(&table);
}

static void reml_meets_the_optimum(void **state)
{
	const char *set = *state;
	struct csv_table table = csv_table_read("nested_reml_high_precision.csv");
	struct brews b = read_brews(set);
	struct nested_reml fit;

	nested_reml(&fit, b.treatment, b.treatments, b.brew, b.count);
	assert_rel_near(fit.var_brew, expected(&table, set, "var_brew"), 1e-12);
	assert_rel_near(fit.var_reading, expected(&table, set, "var_read"), 1e-12);
	assert_rel_near(fit.loglik, expected(&table, set, "loglik"), 1e-13);
	csv_table_release(&table);
}

/* Two treatments whose brew component is 0: the df of its difference would jump to the 15 of the readings. */
static void boundary_set(void **state)
{
	struct brews b = read_brews("S2");
	struct nested_reml fit;
	struct nested_contrast d;

	(void)state;
	nested_reml(&fit, b.treatment, b.treatments, b.brew, b.count);
	assert_true(fit.at_boundary);
	assert_near(fit.slope_at_zero, -10865.05, 5e-3);
	d = nested_difference(&fit, b.treatment, 0, 1);
	assert_near(d.estimate, -0.03375, 1e-14); /* lmerTest: -0.03375, 0.007083333333, 15 */
	assert_rel_near(d.se, 0.007083333333333, 1e-12);
	assert_rel_near(d.df_uncapped, 15, 1e-10);
	assert_near(d.df, 4, 0);
}

static void means_and_differences_meet_the_optimum(void **state)
{
	const char *set = *state;
	struct csv_table table = csv_table_read("nested_reml_high_precision.csv");
	struct brews b = read_brews(set);
	struct nested_reml fit;
	char name[32];

	nested_reml(&fit, b.treatment, b.treatments, b.brew, b.count);
	for (size_t i = 0; i < b.treatments; i++) {
		snprintf(name, sizeof(name), "mean_%c", (char)('A' + i));
		assert_rel_near(b.treatment[i].mean, expected(&table, set, name), 1e-13);
		snprintf(name, sizeof(name), "se_%c", (char)('A' + i));
		assert_rel_near(b.treatment[i].se, expected(&table, set, name), 1e-11);
		for (size_t j = i + 1; j < b.treatments; j++) {
			struct nested_contrast d = nested_difference(&fit, b.treatment, i, j);

			snprintf(name, sizeof(name), "diff_%c_minus_%c", (char)('A' + i), (char)('A' + j));
			assert_rel_near(d.estimate, expected(&table, set, name), 1e-11);
			snprintf(name, sizeof(name), "se_%c_minus_%c", (char)('A' + i), (char)('A' + j));
			assert_rel_near(d.se, expected(&table, set, name), 1e-11);
			snprintf(name, sizeof(name), "df_%c_minus_%c", (char)('A' + i), (char)('A' + j));
			assert_rel_near(d.df_uncapped, expected(&table, set, name), 1e-10);
		}
	}
	csv_table_release(&table);
}

/* One set of nested_ep05_sim.csv; a run is the inner unit, a day the outer one. Rows of one run stand together. */
static struct brews read_days(const char *set, bool all)
{
	struct brews brews = { .treatments = 20 };
	struct csv_table table = csv_table_read("nested_ep05_sim.csv");
	double y[4];
	size_t n = 0;

	for (size_t row = 0; row < table.rows; row++) {
		bool last = row + 1 == table.rows ||
		            strcmp(csv_text(&table, row, "run"), csv_text(&table, row + 1, "run")) != 0;

		if (strcmp(csv_text(&table, row, "set"), set) != 0)
			continue;
		if (all || csv_count(&table, row, "dropped_in_unbalanced") == 0)
			y[n++] = csv_number(&table, row, "y");
		if (!last)
			continue;
		assert_true(brews.count < MOST);
		brews.brew[brews.count] = brew_summary_of(y, n);
		brews.brew[brews.count++].treatment = csv_count(&table, row, "day") - 1;
		n = 0;
	}
	csv_table_release(&table);
	return brews;
}

/* Published to six decimals; recomputed to thirteen digits. */
static void random_anova_meets_published(void **state)
{
	const char *set = *state;
	struct csv_table table = csv_table_read("nested_ep05_sim_expected.csv");

	for (int all = 0; all < 2; all++) {
		const char *name = all ? "balanced_type1" : "unbalanced_type1";
		struct brews b = read_days(set, all);
		struct nested_random r;

		nested_random_anova(&r, b.treatment, b.treatments, b.brew, b.count);
#define CHECK(member, column, tolerance) \
	assert_near(r.member, csv_lookup(&table, column, "set", set, "case", name, NULL), tolerance)
		CHECK(var_outer, "sas_day", 5.1e-7);
		CHECK(var_inner, "sas_run", 5.1e-7);
		CHECK(var_reading, "sas_error", 5.1e-7);
		CHECK(var_outer, "var_day", 1e-11);
		CHECK(var_inner, "var_run", 1e-11);
		CHECK(var_reading, "var_error", 1e-11);
		CHECK(k_inner, "k_run", 1e-11);
		CHECK(k_outer_inner, "k_run_in_day", 1e-11);
		CHECK(k_outer, "k_day", 1e-11);
#undef CHECK
	}
	csv_table_release(&table);
}

static void random_reml_meets_the_optimum(void **state)
{
	const char *set = *state;
	struct csv_table table = csv_table_read("nested_reml_high_precision.csv");
	struct brews b = read_days(set, false);
	struct nested_random r;
	char name[32];

	snprintf(name, sizeof(name), "EP05_%s_unbalanced", set);
	nested_random_reml(&r, b.treatment, b.treatments, b.brew, b.count);
	assert_true(r.converged);
	assert_rel_near(r.var_outer, expected(&table, name, "var_day"), 1e-10);
	assert_rel_near(r.var_inner, expected(&table, name, "var_run"), 1e-10);
	assert_rel_near(r.var_reading, expected(&table, name, "var_error"), 1e-10);
	csv_table_release(&table);
}

#define MOST_FIXED 8

struct blocked_space {
	double work[4 * MOST_FIXED * MOST_FIXED + 2 * MOST_FIXED];
	size_t columns[MOST_FIXED];
};

/* One block only is no block: the same optimum, means apart. */
static void one_block_is_none(void **state)
{
	const char *set = *state;
	struct csv_table table = csv_table_read("nested_reml_high_precision.csv");
	struct brews b = read_brews(set);
	struct blocked_space space;
	struct nested_blocked fit;
	struct nested_contrast d;

	assert_true(nested_blocked_work(b.treatments, 1) <= sizeof(space.work) / sizeof(double));
	nested_blocked_reml(&fit, b.treatments, 1, b.brew, b.count, space.work, space.columns);
	assert_rel_near(fit.reml.var_brew, expected(&table, set, "var_brew"), 1e-11);
	assert_rel_near(fit.reml.var_reading, expected(&table, set, "var_read"), 1e-11);
	assert_rel_near(fit.reml.loglik, expected(&table, set, "loglik"), 1e-12);
	if (strcmp(set, "S2") != 0) {
		d = nested_blocked_difference(&fit, b.brew, b.count, 0, 2);
		assert_rel_near(d.estimate, expected(&table, set, "diff_A_minus_C"), 1e-10);
		assert_rel_near(d.se, expected(&table, set, "se_A_minus_C"), 1e-10);
		assert_rel_near(d.df_uncapped, expected(&table, set, "df_A_minus_C"), 1e-9);
	} else {
		assert_true(fit.reml.at_boundary);
		assert_near(fit.reml.slope_at_zero, -10865.05, 5e-3);
		d = nested_blocked_difference(&fit, b.brew, b.count, 0, 1);
		assert_rel_near(d.df_uncapped, 15, 1e-10);
		assert_near(d.df, 4, 0);
	}
	csv_table_release(&table);
}

/* The same model by lme4 and lmerTest, which stop some 1e-6 short of the optimum. */
static void blocks_meet_lme4(void **state)
{
	struct csv_table data = csv_table_read("nested_blocked.csv"), want = csv_table_read("nested_lme4.csv");
	struct brew_summary brews[MOST];
	struct blocked_space space;
	struct nested_blocked fit;
	double y[8];
	size_t n = 0, count = 0;
	char name[32];

	(void)state;
	for (size_t row = 0; row < data.rows; row++) {
		y[n++] = csv_number(&data, row, "y");
		if (row + 1 < data.rows && strcmp(csv_text(&data, row, "brew"), csv_text(&data, row + 1, "brew")) == 0)
			continue;
		brews[count] = brew_summary_of(y, n);
		brews[count].treatment = (size_t)(csv_text(&data, row, "treatment")[0] - 'A');
		brews[count++].block = csv_count(&data, row, "block") - 1;
		n = 0;
	}
	nested_blocked_reml(&fit, 3, 4, brews, count, space.work, space.columns);
	assert_int_equal(fit.blocks, 4);
	assert_int_equal(fit.columns, 6);
	assert_near(fit.reml.df_cap, (double)count - 6, 0);
	assert_rel_near(fit.reml.var_brew, expected(&want, "blocked", "var_brew"), 1e-5);
	assert_rel_near(fit.reml.var_reading, expected(&want, "blocked", "var_reading"), 1e-5);
	assert_near(fit.reml.loglik, expected(&want, "blocked", "loglik"), 1e-9);
	for (size_t i = 0; i < 3; i++)
		for (size_t j = i + 1; j < 3; j++) {
			struct nested_contrast d = nested_blocked_difference(&fit, brews, count, i, j);

			snprintf(name, sizeof(name), "diff_%c_minus_%c", (char)('A' + i), (char)('A' + j));
			assert_rel_near(d.estimate, expected(&want, "blocked", name), 1e-5);
			snprintf(name, sizeof(name), "se_%c_minus_%c", (char)('A' + i), (char)('A' + j));
			assert_rel_near(d.se, expected(&want, "blocked", name), 1e-5);
			snprintf(name, sizeof(name), "df_%c_minus_%c", (char)('A' + i), (char)('A' + j));
			assert_rel_near(d.df_uncapped, expected(&want, "blocked", name), 1e-4);
		}
	csv_table_release(&want);
	csv_table_release(&data);
}

/* All rows kept the sets are balanced and their components positive, where REML is the published ANOVA. */
static void random_reml_of_balanced_sets(void **state)
{
	struct csv_table table = csv_table_read("nested_ep05_sim_expected.csv");

	(void)state;
	for (size_t set = 0; set < 3; set++) {
		static const char *const names[] = { "1", "2", "3" };
		const char *name = names[set];
		struct brews b = read_days(name, true);
		struct nested_random r;

		nested_random_reml(&r, b.treatment, b.treatments, b.brew, b.count);
		assert_true(r.converged);
#define WANT(column) csv_lookup(&table, column, "set", name, "case", "balanced_type1", NULL)
		assert_near(r.var_outer, WANT("var_day"), 1e-9);
		assert_near(r.var_inner, WANT("var_run"), 1e-9);
		assert_near(r.var_reading, WANT("var_error"), 1e-9);
#undef WANT
	}
	csv_table_release(&table);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		{ "anova S1", anova_meets_exact_arithmetic, NULL, NULL, "S1" },
		{ "anova S2", anova_meets_exact_arithmetic, NULL, NULL, "S2" },
		{ "anova S3", anova_meets_exact_arithmetic, NULL, NULL, "S3" },
		{ "reml S1", reml_meets_the_optimum, NULL, NULL, "S1" },
		{ "reml S2", reml_meets_the_optimum, NULL, NULL, "S2" },
		{ "reml S3", reml_meets_the_optimum, NULL, NULL, "S3" },
		cmocka_unit_test(boundary_set),
		{ "means S1", means_and_differences_meet_the_optimum, NULL, NULL, "S1" },
		{ "means S3", means_and_differences_meet_the_optimum, NULL, NULL, "S3" },
		{ "day, run, reading anova 1", random_anova_meets_published, NULL, NULL, "1" },
		{ "day, run, reading anova 2", random_anova_meets_published, NULL, NULL, "2" },
		{ "day, run, reading anova 3", random_anova_meets_published, NULL, NULL, "3" },
		{ "day, run, reading reml 1", random_reml_meets_the_optimum, NULL, NULL, "1" },
		{ "day, run, reading reml 2", random_reml_meets_the_optimum, NULL, NULL, "2" },
		{ "day, run, reading reml 3", random_reml_meets_the_optimum, NULL, NULL, "3" },
		cmocka_unit_test(random_reml_of_balanced_sets),
		{ "one block S1", one_block_is_none, NULL, NULL, "S1" },
		{ "one block S2", one_block_is_none, NULL, NULL, "S2" },
		{ "one block S3", one_block_is_none, NULL, NULL, "S3" },
		cmocka_unit_test(blocks_meet_lme4),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
