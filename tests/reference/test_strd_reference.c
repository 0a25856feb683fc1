/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * describe.h and oneway.h against the certified values of NIST's Statistical
 * Reference Datasets (www.itl.nist.gov/div898/strd). Data: data/README-comparisons.md.
 */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "csv_table.h"
#include "describe.h"
#include "group_table.h"
#include "number.h"
#include "oneway.h"

enum { TREATMENTS = 9, MOST_REPLICATES = 2001, NUMACC = 1001 };

/* Correct digits: minus the logarithm of the relative error. */
static double digits(double got, double certified)
{
	return got == certified ? 99.0 : -log10(fabs((got - certified) / certified));
}

static void assert_digits(double got, double certified, double least, const char *what)
{
	double have = digits(got, certified);

	if (have < least) {
		print_message("# %s is %.17g, certified %.17g: %.1f digits, expected %.1f\n", what, got, certified,
		              have, least);
		fail();
	}
}

/* whole.tenth as decimal text, then read: added in floating point it would be another number. */
static double decimal(long long whole, int tenth)
{
	char text[40];
	double value = NAN;

	snprintf(text, sizeof(text), "%lld.%d", whole, tenth);
	assert_true(number_parse(&value, NULL, slice_from(text), '.'));
	return value;
}

struct univariate_case {
	const char *name;
	long long whole; /* of the NumAcc recipe; -1: values stand in a file */
	double mean_digits;
	double sd_digits;
};

/* NumAcc2 to 4: whole.2, then whole.1 and whole.3 in turn (headers of the NIST files). */
static size_t numacc_values(double *values, long long whole)
{
	values[0] = decimal(whole, 2);
	for (size_t i = 1; i < NUMACC; i++)
		values[i] = decimal(whole, i % 2 ? 1 : 3);
	return NUMACC;
}

static size_t univariate_values(double *values, const struct univariate_case *c)
{
	char name[64];
	struct csv_table table;
	size_t n;

	if (c->whole >= 0)
		return numacc_values(values, c->whole);
	snprintf(name, sizeof(name), "strd_univ_%s.csv", c->name);
	table = csv_table_read(name);
	n = table.rows;
	for (size_t i = 0; i < n; i++)
		values[i] = csv_number(&table, i, "y");
	csv_table_release(&table);
	return n;
}

static void univariate_meets_certified(void **state)
{
	const struct univariate_case *c = *state;
	static double x[NUMACC];
	size_t n = univariate_values(x, c);
	struct csv_table table = csv_table_read("strd_univ_certified.csv");
	double mean = csv_lookup(&table, "mean", "dataset", c->name, NULL);
	double sd = csv_lookup(&table, "sd", "dataset", c->name, NULL);
	struct moments all = MOMENTS_INIT;
	struct moments rest = MOMENTS_INIT;

	assert_int_equal(n, (size_t)csv_lookup(&table, "n", "dataset", c->name, NULL));
	assert_digits(values_mean(x, n), mean, c->mean_digits, "mean");
	assert_digits(values_sd(x, n), sd, c->sd_digits, "standard deviation");
	for (size_t i = 0; i < n; i++)
		moments_add(i < n / 3 ? &all : &rest, x[i]);
	moments_merge(&all, &rest);
	assert_digits(moments_mean(&all), mean, c->mean_digits, "mean of a stream in two parts");
	assert_digits(moments_sd(&all), sd, c->sd_digits, "standard deviation of a stream in two parts");
	csv_table_release(&table);
}

struct anova_case {
	const char *name;
	long long offset; /* of the SmLs recipe; 0: values stand in a file */
	size_t replicates;
	double least_digits;
};

/*
 * Treatment t has level 0.4, 0.3, 0.5, 0.3, 0.5, ... plus the offset; its
 * values are the level, then 0.1 below and 0.1 above it in turn (NIST's data description).
 */
static void smls_values(double *values, struct group_values *groups, const struct anova_case *c)
{
	static const int level[TREATMENTS] = { 4, 3, 5, 3, 5, 3, 5, 3, 5 };

	for (size_t t = 0; t < TREATMENTS; t++) {
		double *own = values + t * c->replicates;

		for (size_t i = 0; i < c->replicates; i++)
			own[i] = decimal(c->offset, level[t] + (i == 0 ? 0 : i % 2 ? -1 : 1));
		groups[t] = (struct group_values){ own, c->replicates };
	}
}

static void assert_anova_certified(const struct oneway *anova, const struct anova_case *c)
{
	struct csv_table table = csv_table_read("strd_anova_certified.csv");

	assert_near(anova->df_between, csv_lookup(&table, "df_between", "dataset", c->name, NULL), 0.0);
	assert_near(anova->df_within, csv_lookup(&table, "df_within", "dataset", c->name, NULL), 0.0);
	assert_digits(anova->ss_between, csv_lookup(&table, "ss_between", "dataset", c->name, NULL), c->least_digits,
	              "sum of squares between");
	assert_digits(anova->ss_within, csv_lookup(&table, "ss_within", "dataset", c->name, NULL), c->least_digits,
	              "sum of squares within");
	assert_digits(anova->ms_between, csv_lookup(&table, "ms_between", "dataset", c->name, NULL), c->least_digits,
	              "mean square between");
	assert_digits(anova->f, csv_lookup(&table, "F", "dataset", c->name, NULL), c->least_digits, "F");
	assert_digits(anova->r2, csv_lookup(&table, "r_squared", "dataset", c->name, NULL), c->least_digits, "R2");
	assert_digits(anova->residual_sd, csv_lookup(&table, "residual_sd", "dataset", c->name, NULL), c->least_digits,
	              "residual standard deviation");
	csv_table_release(&table);
}

static void anova_meets_certified(void **state)
{
	const struct anova_case *c = *state;
	static double values[TREATMENTS * MOST_REPLICATES];
	struct group_values groups[TREATMENTS];
	static struct group_table table;
	struct oneway anova;
	char name[64];

	if (c->offset) {
		smls_values(values, groups, c);
		anova = oneway_of_values(groups, TREATMENTS);
	} else {
		snprintf(name, sizeof(name), "strd_anova_%s.csv", c->name);
		group_table_read(&table, name, "treatment", NULL);
		anova = oneway_of_values(table.group, table.count);
		group_table_release(&table);
	}
	assert_anova_certified(&anova, c);
}

/* The recipe above gives NIST's own file. */
static void recipe_is_the_file(void **state)
{
	static const struct anova_case files[] = {
		{ "strd_anova_SmLs01.csv", 1, 21, 0 },
		{ "strd_anova_SmLs04.csv", 1000000, 21, 0 },
		{ "strd_anova_SmLs07.csv", 1000000000000, 21, 0 },
	};
	static double values[TREATMENTS * MOST_REPLICATES];
	struct group_values groups[TREATMENTS];

	(void)state;
	for (size_t f = 0; f < sizeof(files) / sizeof(files[0]); f++) {
		struct csv_table table = csv_table_read(files[f].name);

		smls_values(values, groups, &files[f]);
		assert_int_equal(table.rows, TREATMENTS * files[f].replicates);
		for (size_t i = 0; i < table.rows; i++)
			assert_near(values[i], csv_number(&table, i, "y"), 0.0);
		csv_table_release(&table);
	}
}

/* The last column: digits that binary64 input leaves, less what a compensated two-pass loses. */
static struct anova_case anova_cases[] = {
	{ "SiRstv", 0, 0, 12 },
	{ "AtmWtAg", 0, 0, 9 },
	{ "SmLs01", 1, 21, 13 },
	{ "SmLs02", 1, 201, 13 },
	{ "SmLs03", 1, 2001, 13 },
	{ "SmLs04", 1000000, 21, 9 },
	{ "SmLs05", 1000000, 201, 9 },
	{ "SmLs06", 1000000, 2001, 9 },
	{ "SmLs07", 1000000000000, 21, 3 },
	{ "SmLs08", 1000000000000, 201, 3 },
	{ "SmLs09", 1000000000000, 2001, 3 },
};

/* NumAcc3 and 4 read into binary64 are uncertain by 1e-10 and 2e-9: 9.4 and 8.3 digits of the 0.1. */
static struct univariate_case univariate_cases[] = {
	{ "Mavro", -1, 15, 12 },          { "Michelso", -1, 15, 12 }, { "Lottery", -1, 14.9, 14 },
	{ "NumAcc1", -1, 99, 99 },        { "NumAcc2", 1, 15, 14 },   { "NumAcc3", 1000000, 15, 9.4 },
	{ "NumAcc4", 10000000, 15, 8.2 },
};

int main(void)
{
	enum {
		ANOVAS = sizeof(anova_cases) / sizeof(anova_cases[0]),
		UNIVARIATES = sizeof(univariate_cases) / sizeof(univariate_cases[0])
	};
	struct CMUnitTest tests[ANOVAS + UNIVARIATES + 1];

	for (size_t i = 0; i < ANOVAS; i++)
		tests[i] = (struct CMUnitTest){
			.name = anova_cases[i].name,
			.test_func = anova_meets_certified,
			.initial_state = &anova_cases[i],
		};
	for (size_t i = 0; i < UNIVARIATES; i++)
		tests[ANOVAS + i] = (struct CMUnitTest){
			.name = univariate_cases[i].name,
			.test_func = univariate_meets_certified,
			.initial_state = &univariate_cases[i],
		};
	tests[ANOVAS + UNIVARIATES] = (struct CMUnitTest)cmocka_unit_test(recipe_is_the_file);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
