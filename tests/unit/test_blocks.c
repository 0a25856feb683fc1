/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "blocks.h"

#define WORK  256
#define PARTS 64

static double work[WORK];
static size_t parts[PARTS];

static struct blocks_fit analyse(const struct blocks_data *data)
{
	struct blocks_fit fit;

	assert_true(blocks_work(data) <= WORK && blocks_part_work(data) <= PARTS);
	blocks_analyse(&fit, data, work, parts);
	return fit;
}

/*
 * Two blocks of two, by hand: 1, 4 | 3, 8. Blocks 9 (2.5, 5.5), treatments 16 (2, 6), residual 1: F 16 on 1 and 1.
 */
static void two_by_two_by_hand(void **state)
{
	static const double y[] = { 1, 4, 3, 8 };
	static const size_t block[] = { 0, 0, 1, 1 }, treatment[] = { 0, 1, 0, 1 };
	const struct blocks_data data = { y, block, treatment, 4, 2, 2 };
	struct blocks_fit fit = analyse(&data);
	struct blocks_difference d = blocks_difference(&fit, 1, 0);

	(void)state;
	assert_near(fit.mean, 4, 0);
	assert_rel_near(fit.ss_total, 26, 1e-15);
	assert_rel_near(fit.block_first.ss, 9, 1e-14);
	assert_rel_near(fit.treatment_adjusted.ss, 16, 1e-14);
	assert_rel_near(fit.residual.ss, 1, 1e-14);
	assert_rel_near(fit.treatment_adjusted.f, 16, 1e-14);
	assert_near(fit.effect[0], -2, 1e-15);
	assert_near(fit.adjusted[1], 6, 1e-15);
	assert_rel_near(d.estimate, 4, 1e-15);
	assert_rel_near(d.factor, 1, 1e-15); /* 2/r */
	assert_rel_near(d.se, 1, 1e-14);
	assert_near(d.df, 1, 0);
	assert_near(blocks_difference(&fit, 1, 1).factor, 0, 0);
}

/* Treatments 0 and 1 only ever meet each other, so do 2 and 3: nothing is known across. */
static void parts_that_never_meet(void **state)
{
	static const double y[] = { 1, 2, 1.5, 2.9, 7, 9, 6, 8.5 };
	static const size_t block[] = { 0, 0, 1, 1, 2, 2, 3, 3 }, treatment[] = { 0, 1, 0, 1, 2, 3, 2, 3 };
	const struct blocks_data data = { y, block, treatment, 8, 4, 4 };
	struct blocks_fit fit = analyse(&data);
	struct blocks_difference within = blocks_difference(&fit, 3, 2), across = blocks_difference(&fit, 2, 0);

	(void)state;
	assert_int_equal(fit.parts, 2);
	assert_near(fit.treatment_adjusted.df, 2, 0);
	assert_near(fit.residual.df, 2, 0);
	assert_true(within.estimable);
	assert_rel_near(within.estimate, 2.25, 1e-13);
	assert_rel_near(within.factor, 1, 1e-13);
	assert_false(across.estimable);
	assert_true(isnan(across.estimate) && isnan(across.se));
	assert_near(fit.effect[0] + fit.effect[1], 0, 1e-14);
	assert_rel_near(fit.residual.ss, 0.25 * (0.4 * 0.4 + 0.5 * 0.5), 1e-12); /* differences 1, 1.4 and 2, 2.5 */
}

/* Each treatment in a round of its own: nothing can be compared. */
static void blocks_of_one(void **state)
{
	static const double y[] = { 1, 2, 3 };
	static const size_t block[] = { 0, 1, 2 }, treatment[] = { 0, 1, 2 };
	const struct blocks_data data = { y, block, treatment, 3, 3, 3 };
	struct blocks_fit fit = analyse(&data);

	(void)state;
	assert_int_equal(fit.parts, 3);
	assert_near(fit.treatment_adjusted.df, 0, 0);
	assert_true(isnan(fit.treatment_adjusted.ms) && isnan(fit.treatment_adjusted.f));
	assert_near(fit.residual.df, 0, 0);
	assert_false(blocks_difference(&fit, 0, 1).estimable);
}

/* One block is a one-way layout; level 1 of the treatments and of the blocks stays empty. */
static void one_block_and_missing_levels(void **state)
{
	static const double y[] = { 1, 3, 6, 8, 10 };
	static const size_t block[] = { 0, 0, 0, 0, 0 }, treatment[] = { 0, 0, 2, 2, 2 };
	const struct blocks_data data = { y, block, treatment, 5, 2, 3 };
	struct blocks_fit fit = analyse(&data);
	struct blocks_difference d = blocks_difference(&fit, 2, 0);

	(void)state;
	assert_int_equal(fit.blocks, 1);
	assert_int_equal(fit.treatments, 2);
	assert_near(fit.block_first.df, 0, 0);
	assert_rel_near(fit.residual.ss, 10, 1e-14); /* 2 + 8 */
	assert_rel_near(d.estimate, 6, 1e-14);
	assert_rel_near(d.se, sqrt(10.0 / 3 * (1.0 / 2 + 1.0 / 3)), 1e-13);
	assert_true(isnan(fit.effect[1]) && isnan(fit.adjusted[1]));
	assert_false(blocks_difference(&fit, 1, 0).estimable);
	assert_rel_near(fit.adjusted[2] - fit.adjusted[0], 6, 1e-14);
}

static void nothing_varies(void **state)
{
	static const double y[] = { 1.38, 1.38, 1.38, 1.38 };
	static const size_t block[] = { 0, 0, 1, 1 }, treatment[] = { 0, 1, 0, 1 };
	const struct blocks_data data = { y, block, treatment, 4, 2, 2 };
	struct blocks_fit fit = analyse(&data);

	(void)state;
	assert_near(fit.ss_total, 0, 0);
	assert_near(fit.residual.ss, 0, 0);
	assert_true(isnan(fit.treatment_adjusted.f) && isnan(fit.treatment_adjusted.p));
	assert_near(blocks_difference(&fit, 0, 1).se, 0, 0);
	assert_near(fit.adjusted[0], 1.38, 1e-15);
}

static void no_values(void **state)
{
	const struct blocks_data data = { .blocks = 2, .treatments = 2 };
	struct blocks_fit fit = analyse(&data);

	(void)state;
	assert_int_equal(fit.parts, 0);
	assert_true(isnan(fit.mean) && isnan(fit.effect[0]) && isnan(fit.adjusted[1]));
	assert_true(isnan(fit.residual.ms));
	assert_false(blocks_difference(&fit, 0, 1).estimable);
}

/* Values on the grid of 1/1024, so that the offset is exact: every digit must stay. */
static void an_offset_costs_no_digits(void **state)
{
	static const double y[] = { 3, 11, 5, 40, 22, 33, 7, 29 };
	static const size_t block[] = { 0, 0, 1, 1, 2, 2, 3, 3 }, treatment[] = { 0, 1, 0, 2, 1, 2, 0, 1 };
	double far[8], effect;
	struct blocks_data data = { y, block, treatment, 8, 4, 3 };
	struct blocks_fit fit = analyse(&data);
	double residual = fit.residual.ss;

	(void)state;
	effect = fit.effect[2];
	for (size_t i = 0; i < 8; i++)
		far[i] = 1e6 + y[i] / 1024;
	data.y = far;
	fit = analyse(&data);
	assert_rel_near(fit.residual.ss * 1024 * 1024, residual, 1e-12);
	assert_rel_near(fit.effect[2] * 1024, effect, 1e-12);
}

/* A second factor that is the first under other names: no df, and no difference either. */
static void factors_mixed_up(void **state)
{
	static const double y[] = { 1, 2, 4, 3, 7, 9 };
	static const size_t kettle[] = { 0, 0, 1, 1, 2, 2 }, grinder[] = { 2, 2, 0, 0, 1, 1 };
	const struct blocks_factor factors[] = { { kettle, 3 }, { grinder, 3 } };
	double space[6 * 9];
	struct blocks_row rows[3];

	(void)state;
	assert_int_equal(additive_work(factors, 2, 6), 54);
	additive_anova(rows, factors, 2, y, 6, space);
	assert_near(rows[0].df, 2, 0);
	assert_near(rows[1].df, 0, 0);
	assert_near(rows[1].ss, 0, 0);
	assert_true(isnan(rows[1].f));
	assert_near(rows[2].df, 3, 0);
	assert_rel_near(rows[2].ss, 3, 1e-13); /* 0.5 + 0.5 + 2 */
	assert_false(additive_difference(factors, 2, y, 6, 0, 1, space).estimable);
	assert_true(additive_difference(factors, 1, y, 6, 0, 1, space).estimable);
}

static void additive_model_of_nothing(void **state)
{
	static const double y[] = { 1, 2 };
	static const size_t level[] = { 0, 1 };
	const struct blocks_factor factor = { level, 3 };
	double space[12];
	struct blocks_row rows[2];
	struct blocks_difference d;

	(void)state;
	additive_anova(rows, &factor, 1, NULL, 0, space);
	assert_near(rows[0].df, 0, 0);
	assert_near(rows[1].df, 0, 0);
	d = additive_difference(&factor, 1, y, 2, 1, 0, space);
	assert_true(d.estimable);
	assert_rel_near(d.estimate, 1, 1e-14);
	assert_true(isnan(d.se));                                                   /* no df left */
	assert_false(additive_difference(&factor, 1, y, 2, 2, 0, space).estimable); /* level 2 has no value */
	assert_false(additive_difference(&factor, 1, y, 2, 1, 1, space).estimable);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(two_by_two_by_hand),
		cmocka_unit_test(parts_that_never_meet),
		cmocka_unit_test(blocks_of_one),
		cmocka_unit_test(one_block_and_missing_levels),
		cmocka_unit_test(nothing_varies),
		cmocka_unit_test(no_values),
		cmocka_unit_test(an_offset_costs_no_digits),
		cmocka_unit_test(factors_mixed_up),
		cmocka_unit_test(additive_model_of_nothing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
