/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * random_components.h against published data sets of crossed and nested random factors: exact where they are balanced
 * (there REML is the analysis of variance), lme4 where they are not. Sources: data/README-stats2.md.
 */
#include "near.h"

#include <string.h>

#include "csv_table.h"
#include "random_components.h"

enum { MOST = 160, LEVELS_MOST = 40 };

struct design {
	struct brew_summary cell[MOST];
	size_t count;
	size_t level[2][MOST];
	struct component_factor factor[2];
};

/* The number of a name among those seen in rows up to this one. */
static size_t level_of(const struct csv_table *table, size_t row, const char *column)
{
	const char *seen[LEVELS_MOST];
	size_t count = 0;

	for (size_t i = 0; i <= row; i++) {
		const char *name = csv_text(table, i, column);
		size_t k = 0;

		while (k < count && strcmp(seen[k], name) != 0)
			k++;
		if (k == count) {
			assert_true(count < LEVELS_MOST);
			seen[count++] = name;
		}
		if (i == row)
			return k;
	}
	return 0;
}

/* Each row is a cell of one reading. lost: every how-maniest row is left out; 0: none. */
static struct design read_design(const char *file, const char *response, const char *const factors[2], size_t lost)
{
	struct csv_table table = csv_table_read(file);
	struct design design = { .count = 0 };

	for (size_t row = 0; row < table.rows; row++) {
		double y = csv_number(&table, row, response);

		if (lost > 0 && (row + 1) % lost == 0)
			continue;
		assert_true(design.count < MOST);
		for (size_t f = 0; f < 2; f++) {
			size_t level = level_of(&table, row, factors[f]);

			design.level[f][design.count] = level;
			if (level >= design.factor[f].levels)
				design.factor[f].levels = level + 1;
		}
		design.cell[design.count++] = brew_summary_of(&y, 1);
	}
	csv_table_release(&table);
	return design;
}

static struct random_components fit(struct design *design)
{
	struct component_query query = {
		.cells = design->cell, .count = design->count, .factors = design->factor, .factor_count = 2
	};
	struct random_components out;

	for (size_t f = 0; f < 2; f++)
		design->factor[f].level = design->level[f];
	assert_true(random_components_reml(&out, &query));
	assert_true(out.converged);
	return out;
}

static double expected(const char *set, const char *quantity)
{
	struct csv_table table = csv_table_read("components_expected.csv");
	double value = csv_lookup(&table, "value", "set", set, "quantity", quantity, NULL);

	csv_table_release(&table);
	return value;
}

static void crossed_factors_meet_the_analysis_of_variance(void **state)
{
	struct design design = read_design("components_penicillin.csv", "diameter",
	                                   (const char *const[]){ "plate", "sample" }, 0);
	struct random_components out = fit(&design);

	(void)state;
	assert_rel_near(out.var[0], expected("penicillin_anova", "plate"), 1e-9);
	assert_rel_near(out.var[1], expected("penicillin_anova", "sample"), 1e-9);
	assert_rel_near(out.var[COMPONENT_READING], expected("penicillin_anova", "Residual"), 1e-9);
	assert_true(isnan(out.var[COMPONENT_CELL])); /* one reading a cell: not to be told from the readings */
	assert_rel_near(out.mean, expected("penicillin", "mean"), 1e-10);
	assert_rel_near(out.se_mean, expected("penicillin", "se_mean"), 1e-6);
}

static void nested_factors_meet_the_analysis_of_variance(void **state)
{
	struct design design = read_design("components_pastes.csv", "strength",
	                                   (const char *const[]){ "batch", "cask" }, 0);
	struct random_components out = fit(&design);

	(void)state;
	assert_rel_near(out.var[0], expected("pastes_anova", "batch"), 1e-9);
	assert_rel_near(out.var[1], expected("pastes_anova", "cask"), 1e-9);
	assert_rel_near(out.var[COMPONENT_READING], expected("pastes_anova", "Residual"), 1e-9);
	assert_rel_near(out.se_mean, expected("pastes", "se_mean"), 1e-6);
}

static void unbalanced_factors_meet_lme4(void **state)
{
	struct design design = read_design("components_penicillin.csv", "diameter",
	                                   (const char *const[]){ "plate", "sample" }, 3);
	struct random_components out = fit(&design);

	(void)state;
	assert_int_equal(design.count, 96);
	assert_rel_near(out.var[0], expected("thinned", "plate"), 2e-6);
	assert_rel_near(out.var[1], expected("thinned", "sample"), 2e-6);
	assert_rel_near(out.var[COMPONENT_READING], expected("thinned", "Residual"), 2e-6);
	assert_rel_near(out.mean, expected("thinned", "mean"), 1e-8);
	assert_rel_near(out.se_mean, expected("thinned", "se_mean"), 2e-6);
}

/* The casks as cells of two readings each: the cell's effect is then the casks', the rest as before. */
static void cells_of_several_readings_have_an_effect_of_their_own(void **state)
{
	struct csv_table table = csv_table_read("components_pastes.csv");
	struct brew_summary cells[MOST];
	size_t batch[MOST], count = 0;
	struct component_factor factor = { .level = batch, .levels = 10 };
	struct component_query query = { .cells = cells, .factors = &factor, .factor_count = 1, .cell_effect = true };
	struct random_components out;

	(void)state;
	for (size_t row = 0; row + 1 < table.rows; row += 2) {
		double y[2] = { csv_number(&table, row, "strength"), csv_number(&table, row + 1, "strength") };

		assert_string_equal(csv_text(&table, row, "cask"), csv_text(&table, row + 1, "cask"));
		batch[count] = level_of(&table, row, "batch");
		cells[count++] = brew_summary_of(y, 2);
	}
	csv_table_release(&table);
	query.count = count;
	assert_int_equal(count, 30);
	assert_true(random_components_reml(&out, &query));
	assert_true(out.converged);
	assert_rel_near(out.var[0], expected("pastes_anova", "batch"), 1e-9);
	assert_rel_near(out.var[COMPONENT_CELL], expected("pastes_anova", "cask"), 1e-9);
	assert_rel_near(out.var[COMPONENT_READING], expected("pastes_anova", "Residual"), 1e-9);
	/* the readings within cells alone: 30 cells of two */
	assert_true(out.df[COMPONENT_READING] > 29.9 && out.df[COMPONENT_READING] < 30.1);
}

static void a_component_that_would_be_negative_is_nought(void **state)
{
	/* two levels with the same mean, each of cells that differ: the factor's ANOVA estimate is below 0 */
	struct brew_summary cells[4];
	const double y[4] = { 1, 3, 1, 3 };
	const size_t level[4] = { 0, 0, 1, 1 };
	struct component_factor factor = { .level = level, .levels = 2 };
	struct component_query query = { .cells = cells, .count = 4, .factors = &factor, .factor_count = 1 };
	struct random_components out;

	(void)state;
	for (size_t i = 0; i < 4; i++)
		cells[i] = brew_summary_of(&y[i], 1);
	assert_true(random_components_reml(&out, &query));
	assert_true(out.converged);
	assert_near(out.var[0], 0, 0);
	assert_true(isnan(out.df[0]));
	assert_rel_near(out.var[COMPONENT_READING], 4.0 / 3.0, 1e-9); /* the plain variance of 1, 3, 1, 3 */
	assert_rel_near(out.mean, 2.0, 1e-12);
}

static void what_cannot_be_estimated_is_nan(void **state)
{
	struct brew_summary cells[3];
	const double equal[2] = { 1.38, 1.38 };
	const size_t level[3] = { 0, 1, 2 };
	struct component_factor factor = { .level = level, .levels = 3 };
	struct component_query query = { .cells = cells, .count = 3, .factors = &factor, .factor_count = 1 };
	struct random_components out;

	(void)state;
	for (size_t i = 0; i < 3; i++)
		cells[i] = brew_summary_of(equal, 2);
	assert_true(random_components_reml(&out, &query)); /* no spread at all */
	assert_false(out.converged);
	assert_true(isnan(out.var[0]) && isnan(out.var[COMPONENT_READING]) && isnan(out.mean));
	factor.levels = 4; /* more than there are cells */
	assert_true(random_components_reml(&out, &query));
	assert_false(out.converged);
	factor.levels = 3;
	query.count = 1;
	assert_true(random_components_reml(&out, &query));
	assert_false(out.converged);
	query.count = 0;
	assert_true(random_components_reml(&out, &query));
	assert_false(out.converged);
	query.count = COMPONENT_CELLS + 1;
	assert_true(random_components_reml(&out, &query));
	assert_false(out.converged);
}

static void an_offset_changes_nothing(void **state)
{
	struct design design = read_design("components_pastes.csv", "strength",
	                                   (const char *const[]){ "batch", "cask" }, 0);
	struct random_components out;

	(void)state;
	for (size_t i = 0; i < design.count; i++)
		design.cell[i].mean += 1e6;
	out = fit(&design);
	assert_rel_near(out.var[0], expected("pastes_anova", "batch"), 1e-6);
	assert_rel_near(out.var[1], expected("pastes_anova", "cask"), 1e-6);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(crossed_factors_meet_the_analysis_of_variance),
		cmocka_unit_test(nested_factors_meet_the_analysis_of_variance),
		cmocka_unit_test(unbalanced_factors_meet_lme4),
		cmocka_unit_test(cells_of_several_readings_have_an_effect_of_their_own),
		cmocka_unit_test(a_component_that_would_be_negative_is_nought),
		cmocka_unit_test(what_cannot_be_estimated_is_nan),
		cmocka_unit_test(an_offset_changes_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
