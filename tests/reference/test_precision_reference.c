/* SPDX-License-Identifier: GPL-3.0-or-later */
/* precision.h and outliers.h against ISO 5725-2, ASTM E691 and their tables. Sources: data/README-stats2.md. */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "csv_table.h"
#include "outliers.h"
#include "precision.h"

#define MOST 16

struct labs {
	struct brew_summary lab[MOST];
	double mean[MOST];
	size_t count;
};

/* All rows whose column `key` is level, grouped by lab; rows of one lab need not stand together. */
static struct labs read_level(const char *file, const char *key, const char *level, const char *value)
{
	struct csv_table table = csv_table_read(file);
	struct labs labs = { .count = 0 };
	double y[MOST][MOST];
	size_t n[MOST] = { 0 };

	for (size_t row = 0; row < table.rows; row++) {
		size_t lab = csv_count(&table, row, "lab") - 1;

		assert_true(lab < MOST && n[lab] < MOST);
		if (strcmp(csv_text(&table, row, key), level) != 0)
			continue;
		y[lab][n[lab]++] = csv_number(&table, row, value);
		if (lab >= labs.count)
			labs.count = lab + 1;
	}
	for (size_t i = 0; i < labs.count; i++) {
		labs.lab[i] = brew_summary_of(y[i], n[i]);
		labs.mean[i] = labs.lab[i].mean;
	}
	csv_table_release(&table);
	return labs;
}

static void meets_row(const struct labs *labs, const struct csv_table *want, size_t row, bool has_s_x)
{
	struct precision p = precision_of(labs->lab, labs->count);
	struct outlier_test c = cochran_test(labs->lab, labs->count);
	struct outlier_test high = grubbs_single_test(labs->mean, labs->count, OUTLIER_HIGH, OUTLIER_TWO_SIDED);
	struct outlier_test low = grubbs_single_test(labs->mean, labs->count, OUTLIER_LOW, OUTLIER_TWO_SIDED);
	const double tolerance = 1e-10;

	assert_int_equal(p.groups, csv_count(want, row, "p"));
	assert_int_equal(p.readings, csv_count(want, row, "N"));
	assert_rel_near(p.mean, csv_number(want, row, "mean"), tolerance);
	assert_rel_near(p.nbar, csv_number(want, row, "nbar"), tolerance);
	assert_rel_near(p.ms_between, csv_number(want, row, "MSB"), tolerance);
	assert_rel_near(p.ms_within, csv_number(want, row, "MSW"), tolerance);
	assert_rel_near(p.s_r, csv_number(want, row, "s_r"), tolerance);
	assert_rel_near(p.var_between_raw, csv_number(want, row, "sL2_raw"), tolerance);
	assert_rel_near(p.s_L, csv_number(want, row, "s_L"), tolerance);
	assert_rel_near(p.s_R, csv_number(want, row, "s_R"), tolerance);
	assert_near(p.df_r, csv_number(want, row, "df_r"), 0);
	assert_rel_near(p.df_R, csv_number(want, row, "df_R_satt"), tolerance);
	assert_rel_near(PRECISION_LIMIT_PRINTED * p.s_r, csv_number(want, row, "r"), tolerance);
	assert_rel_near(PRECISION_LIMIT_PRINTED * p.s_R, csv_number(want, row, "R"), tolerance);
	assert_rel_near(c.statistic, csv_number(want, row, "cochran_C"), tolerance);
	assert_int_equal(c.index[0] + 1, csv_count(want, row, "cochran_lab"));
	assert_rel_near(high.statistic, csv_number(want, row, "G_high"), tolerance);
	assert_rel_near(low.statistic, csv_number(want, row, "G_low"), tolerance);
	if (has_s_x)
		assert_rel_near(p.s_means, csv_number(want, row, "s_x"), tolerance);
}

/* ISO 5725-2:1994 annex B.1; the standard prints these to three decimals. */
static void coal_sulfur(void **state)
{
	static const double printed[][3] = {
		{ 0.690, 0.015, 0.026 }, { 1.252, 0.029, 0.061 }, { 1.667, 0.017, 0.035 }, { 3.250, 0.026, 0.058 }
	};
	struct csv_table want = csv_table_read("iso5725_coal_sulfur_expected.csv");

	(void)state;
	for (size_t row = 0; row < want.rows; row++) {
		struct labs labs = read_level("iso5725_coal_sulfur.csv", "level", csv_text(&want, row, "level"), "y");
		struct precision p = precision_of(labs.lab, labs.count);

		meets_row(&labs, &want, row, false);
		assert_near(p.mean, printed[row][0], 5.1e-4);
		assert_near(p.s_r, printed[row][1], 5.1e-4);
		assert_near(p.s_R, printed[row][2], 5.1e-4);
	}
	csv_table_release(&want);
}

static void coal_sulfur_h_and_k(void **state)
{
	struct csv_table want = csv_table_read("iso5725_coal_sulfur_hk.csv");

	(void)state;
	for (size_t row = 0; row < want.rows; row++) {
		struct labs labs = read_level("iso5725_coal_sulfur.csv", "level", csv_text(&want, row, "level"), "y");
		size_t lab = csv_count(&want, row, "lab") - 1;
		double h[MOST], k[MOST];

		mandel_h(h, labs.lab, labs.count);
		mandel_k(k, labs.lab, labs.count);
		assert_rel_near(h[lab], csv_number(&want, row, "h"), 1e-9);
		assert_rel_near(k[lab], csv_number(&want, row, "k_iso"), 1e-9);
	}
	csv_table_release(&want);
}

static void glucose(void **state)
{
	struct csv_table want = csv_table_read("e691_glucose_expected.csv");

	(void)state;
	for (size_t row = 0; row < want.rows; row++) {
		bool reported = strcmp(csv_text(&want, row, "set"), "as_reported") == 0;
		struct labs labs = read_level("e691_glucose.csv", "material", csv_text(&want, row, "material"),
		                              reported ? "y_as_reported" : "y_corrected");

		meets_row(&labs, &want, row, true);
	}
	csv_table_release(&want);
}

static void glucose_h_and_k(void **state)
{
	struct csv_table want = csv_table_read("e691_glucose_hk_as_reported.csv");

	(void)state;
	for (size_t row = 0; row < want.rows; row++) {
		struct labs labs = read_level("e691_glucose.csv", "material", csv_text(&want, row, "material"),
		                              "y_as_reported");
		size_t lab = csv_count(&want, row, "lab") - 1;
		double h[MOST], k[MOST];

		mandel_h(h, labs.lab, labs.count);
		mandel_k(k, labs.lab, labs.count);
		assert_rel_near(h[lab], csv_number(&want, row, "h"), 1e-9);
		assert_rel_near(k[lab], csv_number(&want, row, "k"), 1e-9);
	}
	csv_table_release(&want);
}

/* One misread value of 24: flagged beyond 1 % (limit 0.615), and what it does to s_r. */
static void one_bad_reading_is_flagged(void **state)
{
	struct labs bad = read_level("e691_glucose.csv", "material", "C", "y_as_reported");
	struct labs good = read_level("e691_glucose.csv", "material", "C", "y_corrected");
	struct outlier_test test = cochran_test(bad.lab, bad.count);

	(void)state;
	assert_near(test.statistic, 0.725286, 1e-6);
	assert_near(test.critical_1, 0.615, 6e-4);
	assert_int_equal(test.mark, OUTLIER_STATISTICAL);
	assert_int_equal(test.index[0], 3);
	assert_near(precision_of(bad.lab, bad.count).s_r, 2.748, 5e-4);
	assert_near(precision_of(good.lab, good.count).s_r, 1.543, 5e-4);
	assert_int_equal(cochran_test(good.lab, good.count).mark, OUTLIER_NONE);
}

static void pentosans(void **state)
{
	struct csv_table want = csv_table_read("e691_pentosans_expected.csv");

	(void)state;
	for (size_t row = 0; row < want.rows; row++) {
		struct labs labs = read_level("e691_pentosans.csv", "mat", csv_text(&want, row, "material"), "y");

		meets_row(&labs, &want, row, true);
	}
	csv_table_release(&want);
}

static void cochran_limits(void **state)
{
	struct csv_table table = csv_table_read("crit_cochran.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t p = csv_count(&table, row, "p"), n = csv_count(&table, row, "n");

		assert_near(cochran_critical(p, n, 0.05), csv_number(&table, row, "c05"), 1e-9);
		assert_near(cochran_critical(p, n, 0.01), csv_number(&table, row, "c01"), 1e-9);
	}
	assert_near(cochran_critical(8, 3, 0.05), 0.516, 6e-4); /* ISO 5725-2 table 4 */
	csv_table_release(&table);
}

static void grubbs_limits(void **state)
{
	struct csv_table table = csv_table_read("crit_grubbs_single.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t n = csv_count(&table, row, "n");

		assert_near(grubbs_single_critical(n, 0.05, OUTLIER_ONE_SIDED), csv_number(&table, row, "one_sided_05"),
		            1e-9);
		assert_near(grubbs_single_critical(n, 0.01, OUTLIER_ONE_SIDED), csv_number(&table, row, "one_sided_01"),
		            1e-9);
		assert_near(grubbs_single_critical(n, 0.05, OUTLIER_TWO_SIDED), csv_number(&table, row, "two_sided_05"),
		            1e-9);
		assert_near(grubbs_single_critical(n, 0.01, OUTLIER_TWO_SIDED), csv_number(&table, row, "two_sided_01"),
		            1e-9);
		/* the printed table is rounded unevenly */
		assert_near(grubbs_single_critical(n, 0.05, OUTLIER_TWO_SIDED), csv_number(&table, row, "iso_table_05"),
		            9e-4);
		assert_near(grubbs_single_critical(n, 0.01, OUTLIER_TWO_SIDED), csv_number(&table, row, "iso_table_01"),
		            9e-4);
	}
	csv_table_release(&table);
}

/* The printed table, and the independent simulation of 8e6 samples beside it. */
static void double_grubbs_limits(void **state)
{
	struct csv_table table = csv_table_read("crit_grubbs_double.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t n = csv_count(&table, row, "n");

		assert_near(grubbs_double_critical(n, 5), csv_number(&table, row, "iso_printed_5pct_two_sided"), 0);
		assert_near(grubbs_double_critical(n, 1), csv_number(&table, row, "iso_printed_1pct_two_sided"), 0);
		assert_near(grubbs_double_critical(n, 5), csv_number(&table, row, "mc_tail_0_025"), 5e-4);
		assert_near(grubbs_double_critical(n, 1), csv_number(&table, row, "mc_tail_0_005"), 8e-4);
	}
	csv_table_release(&table);
}

static void mandel_limits(void **state)
{
	static const struct {
		double alpha;
		const char *name;
	} levels[] = { { 0.05, "05" }, { 0.01, "01" }, { 0.005, "005" } };
	struct csv_table table = csv_table_read("crit_mandel_hk.csv");
	char column[16];

	(void)state;
	for (size_t row = 0; row < table.rows; row++)
		for (size_t i = 0; i < 3; i++) {
			size_t p = csv_count(&table, row, "p");

			snprintf(column, sizeof(column), "h%s", levels[i].name);
			assert_near(mandel_h_limit(p, levels[i].alpha), csv_number(&table, row, column), 1e-9);
			for (size_t n = 2; n <= 6; n++) {
				snprintf(column, sizeof(column), "k%s_n%zu", levels[i].name, n);
				assert_near(mandel_k_limit(p, n, levels[i].alpha), csv_number(&table, row, column),
				            1e-9);
			}
		}
	csv_table_release(&table);
}

/* e-Handbook 1.3.5.17.1: G 2.468765, one-sided 5 % limit 2.031652. */
static void uranium(void **state)
{
	struct csv_table table = csv_table_read("nist_grubbs_uranium.csv");
	struct outlier_test one, two;
	double y[MOST];

	(void)state;
	for (size_t i = 0; i < table.rows; i++)
		y[i] = csv_number(&table, i, "y");
	one = grubbs_single_test(y, table.rows, OUTLIER_HIGH, OUTLIER_ONE_SIDED);
	two = grubbs_single_test(y, table.rows, OUTLIER_EITHER, OUTLIER_TWO_SIDED);
	assert_near(one.statistic, 2.46876461121, 1e-9);
	assert_near(one.statistic, 2.468765, 5.1e-7);
	assert_near(one.critical_5, 2.031652, 5.1e-7);
	assert_near(one.critical_5, 2.03165200155, 1e-9);
	assert_near(two.critical_5, 2.126645, 5.1e-7);
	assert_int_equal(one.mark, OUTLIER_STATISTICAL);
	assert_int_equal(two.mark, OUTLIER_STATISTICAL);
	assert_int_equal(two.index[0], 7);
	csv_table_release(&table);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(coal_sulfur),
		cmocka_unit_test(coal_sulfur_h_and_k),
		cmocka_unit_test(glucose),
		cmocka_unit_test(glucose_h_and_k),
		cmocka_unit_test(one_bad_reading_is_flagged),
		cmocka_unit_test(pentosans),
		cmocka_unit_test(cochran_limits),
		cmocka_unit_test(grubbs_limits),
		cmocka_unit_test(double_grubbs_limits),
		cmocka_unit_test(mandel_limits),
		cmocka_unit_test(uranium),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
