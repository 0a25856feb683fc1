/* SPDX-License-Identifier: GPL-3.0-or-later */
/* blocks.h, block_checks.h and designs.h against textbook tables and counts. Sources: data/README-stats2.md. */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "block_checks.h"
#include "blocks.h"
#include "csv_table.h"
#include "designs.h"

#define MOST 64
#define WORK 8192

/* A column turned into levels 0, 1, ... in the order of first appearance. */
static size_t read_levels(size_t *level, const struct csv_table *table, const char *column)
{
	const char *names[MOST];
	size_t levels = 0;

	for (size_t row = 0; row < table->rows; row++) {
		const char *name = csv_text(table, row, column);
		size_t k = 0;

		while (k < levels && strcmp(names[k], name) != 0)
			k++;
		if (k == levels)
			names[levels++] = name;
		level[row] = k;
	}
	return levels;
}

static void row_meets(const struct blocks_row *row, const char *set, const char *source)
{
	struct csv_table want = csv_table_read("blocks_expected.csv");

#define WANT(column) csv_lookup(&want, column, "set", set, "source", source, NULL)
	assert_near(row->df, WANT("df"), 0);
	assert_rel_near(row->ss, WANT("SS"), 1e-11);
	assert_rel_near(row->ms, WANT("MS"), 1e-11);
	assert_rel_near(row->f, WANT("F"), 1e-10);
	assert_rel_near(row->p, WANT("p"), 1e-9);
#undef WANT
	csv_table_release(&want);
}

struct block_case {
	const char *file; /* without .csv */
	const char *set;
	const char *block;
	const char *treatment;
	const char *y;
	bool incomplete;
	const char *block_source; /* in blocks_expected.csv */
	const char *treatment_source;
};

static void analyse(const struct block_case *c, void (*check)(const struct block_case *, struct blocks_fit *))
{
	char name[64];
	struct csv_table table;
	size_t block[MOST], treatment[MOST], parts[MOST * 4];
	double y[MOST], work[WORK];
	struct blocks_data data = { .y = y, .block = block, .treatment = treatment };
	struct blocks_fit fit;

	snprintf(name, sizeof(name), "%s.csv", c->file);
	table = csv_table_read(name);
	data.n = table.rows;
	data.blocks = read_levels(block, &table, c->block);
	data.treatments = read_levels(treatment, &table, c->treatment);
	for (size_t i = 0; i < data.n; i++)
		y[i] = csv_number(&table, i, c->y);
	assert_true(blocks_work(&data) <= WORK && blocks_part_work(&data) <= MOST * 4);
	blocks_analyse(&fit, &data, work, parts);
	check(c, &fit);
	csv_table_release(&table);
}

static void rows_meet(const struct block_case *c, struct blocks_fit *fit)
{
	char turned[80];

	assert_int_equal(fit->parts, 1);
	row_meets(&fit->block_first, c->set, c->block_source);
	row_meets(&fit->treatment_adjusted, c->set, c->treatment_source);
	row_meets(&fit->residual, c->set, "Residuals");
	if (!c->incomplete)
		return;
	snprintf(turned, sizeof(turned), "%s_treat_unadj_then_block_adj", c->set);
	row_meets(&fit->treatment_first, turned, "treatment");
	row_meets(&fit->block_adjusted, turned, "block");
}

static void meets_anova_table(void **state)
{
	analyse(*state, rows_meet);
}

/* effect, adjusted mean, standard error of a difference; the files list treatments in sorted order. */
static void adjusted_meet(const struct block_case *c, struct blocks_fit *fit)
{
	char name[64];
	struct csv_table want, data;
	size_t treatment[MOST];

	snprintf(name, sizeof(name), "%s_adjusted.csv", c->file);
	want = csv_table_read(name);
	snprintf(name, sizeof(name), "%s.csv", c->file);
	data = csv_table_read(name);
	read_levels(treatment, &data, c->treatment);
	for (size_t row = 0; row < want.rows; row++) {
		size_t t = 0, other;

		while (strcmp(csv_text(&data, t, c->treatment), csv_text(&want, row, "treatment")) != 0)
			t++;
		t = treatment[t];
		other = t ? 0 : 1;
		assert_near(fit->effect[t], csv_number(&want, row, "effect"), 1e-9);
		assert_near(fit->adjusted[t], csv_number(&want, row, "adj_mean"), 1e-9);
		assert_rel_near(blocks_difference(fit, t, other).se, csv_number(&want, row, "se_diff"), 1e-11);
	}
	csv_table_release(&want);
	csv_table_release(&data);
}

static void meets_adjusted_means(void **state)
{
	analyse(*state, adjusted_meet);
}

static void relative_efficiency_meets(const struct block_case *c, struct blocks_fit *fit)
{
	(void)c;
	assert_near(blocks_relative_efficiency(fit), 1.527247, 5.1e-7);
}

static void penicillin_efficiency(void **state)
{
	analyse(*state, relative_efficiency_meets);
}

struct square_case {
	const char *set;
	const char *factor[3];
	const char *source[3];
	const char *y;
};

static void meets_latin_square(void **state)
{
	const struct square_case *c = *state;
	size_t level[3][MOST], order = 0, cell[MOST];
	struct blocks_factor factors[3];
	struct blocks_row rows[4];
	double y[MOST], work[WORK];
	char name[64];
	struct csv_table table;

	snprintf(name, sizeof(name), "%s.csv", c->set);
	table = csv_table_read(name);
	for (size_t f = 0; f < 3; f++) {
		order = read_levels(level[f], &table, c->factor[f]);
		factors[f] = (struct blocks_factor){ level[f], order };
	}
	for (size_t i = 0; i < table.rows; i++)
		y[i] = csv_number(&table, i, c->y);
	assert_true(additive_work(factors, 3, table.rows) <= WORK);
	additive_anova(rows, factors, 3, y, table.rows, work);
	for (size_t f = 0; f < 3; f++)
		row_meets(&rows[f], c->set, c->source[f]);
	row_meets(&rows[3], c->set, "Residuals");
	assert_true(design_check_square(level[0], level[1], level[2], table.rows, order, cell).latin);
	csv_table_release(&table);
}

/* A 2 x 2 x 2 factorial in blocks whose highest interaction is mixed up with them. */
static void factorial_in_blocks(void **state)
{
	static const char *sources[] = { "block", "N", "P", "K", "N:P", "N:K", "P:K", "Residuals" };
	struct csv_table table = csv_table_read("block_npk.csv");
	size_t level[8][MOST];
	struct blocks_factor factors[8];
	struct blocks_row rows[9];
	double y[MOST], work[WORK];

	(void)state;
	for (size_t i = 0; i < table.rows; i++) {
		size_t n = csv_count(&table, i, "N"), p = csv_count(&table, i, "P"), k = csv_count(&table, i, "K");

		y[i] = csv_number(&table, i, "yield");
		level[0][i] = csv_count(&table, i, "block") - 1;
		level[1][i] = n;
		level[2][i] = p;
		level[3][i] = k;
		level[4][i] = 2 * n + p;
		level[5][i] = 2 * n + k;
		level[6][i] = 2 * p + k;
		level[7][i] = 4 * n + 2 * p + k;
	}
	for (size_t f = 0; f < 8; f++)
		factors[f] = (struct blocks_factor){ level[f], f == 0 ? 6 : f < 4 ? 2 : f < 7 ? 4 : 8 };
	additive_anova(rows, factors, 7, y, table.rows, work);
	for (size_t f = 0; f < 8; f++)
		row_meets(&rows[f], "block_npk", sources[f]);
	additive_anova(rows, factors, 8, y, table.rows, work);
	assert_near(rows[7].df, 0, 0); /* N:P:K is the difference between blocks */
	csv_table_release(&table);
}

static double missing(const struct csv_table *want, const char *set, const char *quantity)
{
	return csv_lookup(want, "value", "set", set, "quantity", quantity, NULL);
}

static double without_block(const struct csv_table *want, const char *set, const char *what, const char *level)
{
	char name[32];

	snprintf(name, sizeof(name), "%s_%s", what, level);
	return missing(want, set, name);
}

/* Holes and unequal rounds against lm: the intrablock equations and the general model must both get there. */
static void blocks_with_holes(const char *file, const char *set, size_t skip_1, size_t skip_2)
{
	struct csv_table table = csv_table_read(file), want = csv_table_read("blocks_missing_expected.csv");
	static const char *levels[] = { "1", "2", "3", "4", "5" };
	size_t block[MOST], treatment[MOST], parts[MOST * 4], n = 0;
	double y[MOST], work[WORK];
	struct blocks_factor factors[2] = { { block, 0 }, { treatment, 0 } };
	struct blocks_data data = { .y = y, .block = block, .treatment = treatment };
	struct blocks_row rows[3];
	struct blocks_fit fit;

	for (size_t i = 0; i < table.rows; i++) {
		if (i == skip_1 || i == skip_2)
			continue;
		block[n] = csv_count(&table, i, "block") - 1;
		treatment[n] = csv_count(&table, i, "treatment") - 1;
		data.blocks = block[n] >= data.blocks ? block[n] + 1 : data.blocks;
		data.treatments = treatment[n] >= data.treatments ? treatment[n] + 1 : data.treatments;
		y[n++] = csv_number(&table, i, "y");
	}
	data.n = n;
	factors[0].levels = data.blocks;
	factors[1].levels = data.treatments;
	blocks_analyse(&fit, &data, work, parts);
	assert_near(fit.block_first.df, missing(&want, set, "df_1"), 0);
	assert_near(fit.treatment_adjusted.df, missing(&want, set, "df_2"), 0);
	assert_near(fit.residual.df, missing(&want, set, "df_3"), 0);
	assert_rel_near(fit.block_first.ss, missing(&want, set, "ss_1"), 1e-10);
	assert_rel_near(fit.treatment_adjusted.ss, missing(&want, set, "ss_2"), 1e-10);
	assert_rel_near(fit.residual.ss, missing(&want, set, "ss_3"), 1e-10);
	for (size_t t = 1; t < data.treatments; t++) {
		struct blocks_difference d = blocks_difference(&fit, t, 0);

		assert_true(d.estimable);
		assert_rel_near(d.estimate, without_block(&want, set, "diff", levels[t]), 1e-10);
		assert_rel_near(d.se, without_block(&want, set, "se", levels[t]), 1e-10);
		d = additive_difference(factors, 2, y, n, t, 0, work + blocks_work(&data));
		assert_rel_near(d.estimate, without_block(&want, set, "diff", levels[t]), 1e-10);
		assert_rel_near(d.se, without_block(&want, set, "se", levels[t]), 1e-10);
	}
	additive_anova(rows, factors, 2, y, n, work + blocks_work(&data));
	assert_rel_near(rows[1].ss, missing(&want, set, "ss_2"), 1e-10);
	assert_rel_near(rows[2].ss, missing(&want, set, "ss_3"), 1e-10);
	csv_table_release(&want);
	csv_table_release(&table);
}

static void complete_blocks_with_two_holes(void **state)
{
	(void)state;
	blocks_with_holes("rcb_penicillin.csv", "penicillin_without_2", 2, 13);
}

static void rounds_of_two_and_one(void **state)
{
	(void)state;
	blocks_with_holes("blocks_rounds.csv", "rounds", 99, 99);
}

static void square_with_three_holes(void **state)
{
	static const char *levels[] = { "A", "B", "C", "D", "E" }, *set = "rocket_without_3";
	struct csv_table table = csv_table_read("latin_rocket_5x5.csv");
	struct csv_table want = csv_table_read("blocks_missing_expected.csv");
	size_t level[3][MOST], n = 0;
	struct blocks_factor factors[3];
	struct blocks_row rows[4];
	double y[MOST], work[WORK];

	(void)state;
	for (size_t i = 0; i < table.rows; i++) {
		if (i == 1 || i == 12 || i == 23)
			continue;
		level[0][n] = csv_count(&table, i, "batch") - 1;
		level[1][n] = csv_count(&table, i, "operator") - 1;
		level[2][n] = (size_t)(csv_text(&table, i, "formulation")[0] - 'A');
		y[n++] = csv_number(&table, i, "y");
	}
	for (size_t f = 0; f < 3; f++)
		factors[f] = (struct blocks_factor){ level[f], 5 };
	additive_anova(rows, factors, 3, y, n, work);
	assert_rel_near(rows[0].ss, missing(&want, set, "ss_1"), 1e-10);
	assert_rel_near(rows[1].ss, missing(&want, set, "ss_2"), 1e-10);
	assert_rel_near(rows[2].ss, missing(&want, set, "ss_3"), 1e-10);
	assert_rel_near(rows[3].ss, missing(&want, set, "ss_4"), 1e-10);
	assert_near(rows[3].df, missing(&want, set, "df_4"), 0);
	for (size_t t = 1; t < 5; t++) {
		struct blocks_difference d = additive_difference(factors, 3, y, n, t, 0, work);

		assert_rel_near(d.estimate, without_block(&want, set, "diff", levels[t]), 1e-10);
		assert_rel_near(d.se, without_block(&want, set, "se", levels[t]), 1e-10);
		assert_near(d.df, 9, 0);
	}
	csv_table_release(&want);
	csv_table_release(&table);
}

static struct design_check check_file(const char *file)
{
	struct csv_table table = csv_table_read(file);
	size_t block[MOST], treatment[MOST], pairs[MOST], cells[MOST];
	size_t blocks = read_levels(block, &table, "block"), treatments = read_levels(treatment, &table, "treatment");
	struct design_check check;

	assert_true(treatments * treatments <= MOST && treatments * blocks <= MOST);
	check = design_check_blocks(block, treatment, table.rows, blocks, treatments, pairs, cells);
	csv_table_release(&table);
	return check;
}

/* Natrella 13-14 as a public archive stores it: block sizes 3, 2, 4, 3. */
static void defective_set_is_refused(void **state)
{
	struct design_check stored = check_file("bib_natrella_13_14_as_stored_defective.csv");
	struct design_check repaired = check_file("bib_natrella_13_14_repaired.csv");

	(void)state;
	assert_false(stored.balanced_incomplete);
	assert_false(stored.complete);
	assert_int_equal(stored.block_size.lowest, 2);
	assert_int_equal(stored.block_size.highest, 4);
	assert_int_equal(stored.pairs.lowest, 2);
	assert_int_equal(stored.pairs.highest, 3);
	assert_int_equal(stored.pairs_never, 0);
	assert_true(isnan(stored.efficiency));
	assert_true(repaired.balanced_incomplete);
	assert_int_equal(repaired.block_size.lowest, 3);
	assert_int_equal(repaired.pairs.lowest, 2);
}

static void textbook_sets_are_balanced(void **state)
{
	static const char *files[] = { "bib_catalyst_4x4.csv", "bib_kuehl_monovinyl.csv", "bib_joshi_wheat.csv",
		                       "bib_li_7x7.csv", "bib_synthetic_pairs_5.csv" };

	(void)state;
	for (size_t i = 0; i < sizeof(files) / sizeof(files[0]); i++) {
		struct design_check check = check_file(files[i]);

		assert_true(check.balanced_incomplete);
		assert_false(check.complete);
		assert_int_equal(check.per_block.highest, 1);
	}
	assert_true(check_file("rcb_penicillin.csv").complete);
}

/* Every row of the catalogue: the checker finds its k, r, lambda and efficiency; so does the generator's own design. */
static void catalogue_of_incomplete_blocks(void **state)
{
	struct csv_table want = csv_table_read("bib_catalogue.csv"), blocks = csv_table_read("bib_blocks.csv");

	(void)state;
	for (size_t row = 0; row < want.rows; row++) {
		const char *design = csv_text(&want, row, "design");
		size_t v = csv_count(&want, row, "v"), b = csv_count(&want, row, "b"), n = 0;
		size_t block[MOST], treatment[MOST], pairs[256], cells[256];
		struct design_check check;
		struct bib_design own;

		for (size_t i = 0; i < blocks.rows; i++) {
			if (strcmp(csv_text(&blocks, i, "design"), design) != 0)
				continue;
			block[n] = csv_count(&blocks, i, "block") - 1;
			treatment[n++] = csv_count(&blocks, i, "treatment") - 1;
		}
		check = design_check_blocks(block, treatment, n, b, v, pairs, cells);
		assert_true(check.balanced_incomplete);
		assert_int_equal(check.block_size.lowest, csv_count(&want, row, "k"));
		assert_int_equal(check.replicates.lowest, csv_count(&want, row, "r"));
		assert_int_equal(check.pairs.lowest, csv_count(&want, row, "lambda"));
		assert_near(check.efficiency, csv_number(&want, row, "efficiency_factor"), 5.1e-11);
		assert_true(design_bib_find(&own, v, csv_count(&want, row, "k")));
		assert_int_equal(own.b, b);
		assert_int_equal(own.r, csv_count(&want, row, "r"));
		assert_int_equal(own.lambda, csv_count(&want, row, "lambda"));
	}
	csv_table_release(&want);
	csv_table_release(&blocks);
}

/* Sequences of t treatments, from the published designs and from ours, counted alike. */
static void williams_designs_balance(void **state)
{
	struct csv_table want = csv_table_read("williams_balance.csv"),
			 designs = csv_table_read("williams_designs.csv");

	(void)state;
	for (size_t row = 0; row < want.rows; row++) {
		size_t t = csv_count(&want, row, "t"), sequences = csv_count(&want, row, "sequences");
		size_t published[256], own[256], start[32], counts[MOST], n = 0;
		struct count_range range;

		for (size_t i = 0; i < designs.rows; i++)
			if (csv_count(&designs, i, "t") == t)
				published[n++] = (size_t)(csv_text(&designs, i, "treatment")[0] - 'A');
		assert_int_equal(n, t * sequences);
		assert_int_equal(design_williams_sequences(t), sequences);
		design_williams(own, t, NULL);
		for (size_t s = 0; s <= sequences; s++)
			start[s] = s * t;
		for (int which = 0; which < 2; which++) {
			range = design_check_carry_over(which ? own : published, start, sequences, t, counts);
			assert_int_equal(range.lowest, csv_count(&want, row, "each_ordered_pair_adjacent"));
			assert_int_equal(range.highest, range.lowest);
			range = design_check_positions(which ? own : published, start, sequences, t, t, counts);
			assert_int_equal(range.lowest, csv_count(&want, row, "each_treatment_in_each_position"));
			assert_int_equal(range.highest, range.lowest);
		}
	}
	csv_table_release(&want);
	csv_table_release(&designs);
}

int main(void)
{
	static struct block_case penicillin = { "rcb_penicillin", "rcb_penicillin", "block", "treatment", "y", false,
		                                "block",          "treatment" };
	static struct block_case resistors = { "rcb_natrella_13_4", "rcb_natrella_13_4", "resistor", "set", "y", false,
		                               "factor(resistor)",  "factor(set)" };
#define INCOMPLETE(variable, name) \
	static struct block_case variable = { name, name, "block", "treatment", "y", true, "block", "treatment" }
	INCOMPLETE(catalyst, "bib_catalyst_4x4");
	INCOMPLETE(monovinyl, "bib_kuehl_monovinyl");
	INCOMPLETE(wheat, "bib_joshi_wheat");
	INCOMPLETE(li, "bib_li_7x7");
	INCOMPLETE(natrella, "bib_natrella_13_14_repaired");
	INCOMPLETE(pairs, "bib_synthetic_pairs_5");
#undef INCOMPLETE
	static struct square_case rocket = { "latin_rocket_5x5",
		                             { "batch", "operator", "formulation" },
		                             { "factor(batch)", "factor(operator)", "formulation" },
		                             "y" };
	static struct square_case thermometers = { "latin_natrella_13_33",
		                                   { "thermometer", "day", "cell" },
		                                   { "factor(thermometer)", "factor(day)", "factor(cell)" },
		                                   "y" };
	static struct square_case sprays = { "latin_OrchardSprays",
		                             { "row", "col", "treatment" },
		                             { "factor(rowpos)", "factor(colpos)", "treatment" },
		                             "y" };
	const struct CMUnitTest tests[] = {
		{ "complete blocks: penicillin", meets_anova_table, NULL, NULL, &penicillin },
		{ "efficiency of blocks: penicillin", penicillin_efficiency, NULL, NULL, &penicillin },
		{ "complete blocks: resistors", meets_anova_table, NULL, NULL, &resistors },
		{ "incomplete blocks: catalyst", meets_anova_table, NULL, NULL, &catalyst },
		{ "incomplete blocks: monovinyl", meets_anova_table, NULL, NULL, &monovinyl },
		{ "incomplete blocks: wheat", meets_anova_table, NULL, NULL, &wheat },
		{ "incomplete blocks: 7 x 7", meets_anova_table, NULL, NULL, &li },
		{ "incomplete blocks: repaired", meets_anova_table, NULL, NULL, &natrella },
		{ "incomplete blocks: pairs", meets_anova_table, NULL, NULL, &pairs },
		{ "adjusted means: catalyst", meets_adjusted_means, NULL, NULL, &catalyst },
		{ "adjusted means: monovinyl", meets_adjusted_means, NULL, NULL, &monovinyl },
		{ "adjusted means: wheat", meets_adjusted_means, NULL, NULL, &wheat },
		{ "adjusted means: 7 x 7", meets_adjusted_means, NULL, NULL, &li },
		{ "adjusted means: repaired", meets_adjusted_means, NULL, NULL, &natrella },
		{ "adjusted means: pairs", meets_adjusted_means, NULL, NULL, &pairs },
		{ "latin square: rocket", meets_latin_square, NULL, NULL, &rocket },
		{ "latin square: thermometers", meets_latin_square, NULL, NULL, &thermometers },
		{ "latin square: sprays", meets_latin_square, NULL, NULL, &sprays },
		cmocka_unit_test(factorial_in_blocks),
		cmocka_unit_test(complete_blocks_with_two_holes),
		cmocka_unit_test(rounds_of_two_and_one),
		cmocka_unit_test(square_with_three_holes),
		cmocka_unit_test(defective_set_is_refused),
		cmocka_unit_test(textbook_sets_are_balanced),
		cmocka_unit_test(catalogue_of_incomplete_blocks),
		cmocka_unit_test(williams_designs_balance),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
