/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "block_checks.h"

/* Rounds of two, two and one: 0 1 | 2 0 | 1. Treatments 1 and 2 never meet. */
static void unequal_rounds(void **state)
{
	static const size_t block[] = { 0, 0, 1, 1, 2 }, treatment[] = { 0, 1, 2, 0, 1 };
	size_t pairs[9], cell[9];
	struct design_check c = design_check_blocks(block, treatment, 5, 3, 3, pairs, cell);

	(void)state;
	assert_false(c.complete || c.balanced_incomplete);
	assert_int_equal(c.block_size.lowest, 1);
	assert_int_equal(c.block_size.lowest_at[0], 2);
	assert_int_equal(c.block_size.highest, 2);
	assert_int_equal(c.replicates.lowest, 1);
	assert_int_equal(c.replicates.lowest_at[0], 2);
	assert_int_equal(c.replicates.highest, 2);
	assert_int_equal(c.pairs.lowest, 0);
	assert_int_equal(c.pairs.lowest_at[0], 1);
	assert_int_equal(c.pairs.lowest_at[1], 2);
	assert_int_equal(c.pairs_never, 1);
	assert_int_equal(pairs[0 * 3 + 1], 1);
	assert_int_equal(pairs[1 * 3 + 0], 1);
	assert_int_equal(pairs[1 * 3 + 1], 2);
	assert_true(isnan(c.efficiency));
}

/* 0 0 | 1 1 | 0 1: sizes, replicates and pairs are even, yet treatments stand twice in a block. */
static void twice_in_a_block(void **state)
{
	static const size_t block[] = { 0, 0, 1, 1, 2, 2 }, treatment[] = { 0, 0, 1, 1, 0, 1 };
	size_t pairs[4], cell[6];
	struct design_check c = design_check_blocks(block, treatment, 6, 3, 2, pairs, cell);

	(void)state;
	assert_int_equal(c.per_block.highest, 2);
	assert_int_equal(c.per_block.lowest, 0);
	assert_false(c.complete || c.balanced_incomplete);
}

static void complete_blocks(void **state)
{
	static const size_t block[] = { 0, 0, 1, 1 }, treatment[] = { 0, 1, 1, 0 };
	size_t pairs[4], cell[4];
	struct design_check c = design_check_blocks(block, treatment, 4, 2, 2, pairs, cell);

	(void)state;
	assert_true(c.complete);
	assert_false(c.balanced_incomplete);
	assert_near(c.efficiency, 1, 0);
	c = design_check_blocks(block, treatment, 0, 0, 0, pairs, cell);
	assert_false(c.complete || c.balanced_incomplete);
	assert_int_equal(c.block_size.highest, 0);
	assert_int_equal(c.pairs.lowest, 0);
}

static void squares(void **state)
{
	static const size_t row[] = { 0, 0, 0, 1, 1, 1, 2, 2, 2 }, column[] = { 0, 1, 2, 0, 1, 2, 0, 1, 2 };
	static const size_t good[] = { 0, 1, 2, 1, 2, 0, 2, 0, 1 }, bad[] = { 0, 1, 2, 0, 1, 2, 2, 0, 1 };
	static const size_t piled[] = { 0, 1, 1, 0, 1, 2, 0, 1, 2 };
	size_t cell[9];
	struct square_check c = design_check_square(row, column, good, 9, 3, cell);

	(void)state;
	assert_true(c.latin);
	c = design_check_square(row, column, bad, 9, 3, cell);
	assert_false(c.latin);
	assert_int_equal(c.row.highest, 1);
	assert_int_equal(c.column.highest, 2); /* treatment 0 twice in column 0, never in column 2 */
	assert_int_equal(c.column.highest_at[0], 0);
	assert_int_equal(c.column.highest_at[1], 0);
	assert_int_equal(c.column.lowest, 0);
	assert_false(design_check_square(row, column, good, 8, 3, cell).latin);
	assert_false(design_check_square(row, piled, good, 9, 3, cell).latin); /* a cell brewed twice */
}

/* The cyclic square of 4: every treatment once in every row and position, yet ordered pairs meet 0 or 3 times. */
static void cyclic_square_carries_over(void **state)
{
	static const size_t plan[] = { 0, 1, 2, 3, 1, 2, 3, 0, 2, 3, 0, 1, 3, 0, 1, 2 }, start[] = { 0, 4, 8, 12, 16 };
	size_t following[16], at[16];
	struct count_range carry = design_check_carry_over(plan, start, 4, 4, following);
	struct count_range place = design_check_positions(plan, start, 4, 4, 4, at);

	(void)state;
	assert_int_equal(carry.lowest, 0);
	assert_int_equal(carry.highest, 3);
	assert_int_equal(carry.highest_at[0], 0);
	assert_int_equal(carry.highest_at[1], 1);
	assert_int_equal(following[3 * 4 + 0], 3);
	assert_int_equal(place.lowest, 1);
	assert_int_equal(place.highest, 1);
}

static void a_treatment_after_itself_is_no_carry_over(void **state)
{
	static const size_t plan[] = { 0, 0, 1, 0 }, start[] = { 0, 4 };
	size_t following[4];
	struct count_range carry = design_check_carry_over(plan, start, 1, 2, following);

	(void)state;
	assert_int_equal(following[0], 1);
	assert_int_equal(carry.lowest, 1);
	assert_int_equal(carry.highest, 1);
}

/* Sessions of 3 and 2: only the first two places are compared; treatment 0 is first both times. */
static void positions_of_unequal_sessions(void **state)
{
	static const size_t plan[] = { 0, 1, 2, 0, 2 }, start[] = { 0, 3, 5 };
	size_t at[9];
	struct count_range place = design_check_positions(plan, start, 2, 3, 3, at);

	(void)state;
	assert_int_equal(place.highest, 2);
	assert_int_equal(place.highest_at[0], 0);
	assert_int_equal(place.highest_at[1], 0);
	assert_int_equal(place.lowest, 0);
	assert_int_equal(at[2 * 3 + 2], 1); /* counted, not compared */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(unequal_rounds),
		cmocka_unit_test(twice_in_a_block),
		cmocka_unit_test(complete_blocks),
		cmocka_unit_test(squares),
		cmocka_unit_test(cyclic_square_carries_over),
		cmocka_unit_test(a_treatment_after_itself_is_no_carry_over),
		cmocka_unit_test(positions_of_unequal_sessions),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
