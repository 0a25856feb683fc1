/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <string.h>

#include "block_checks.h"
#include "designs.h"

#define MOST 2048

static size_t plan[MOST], block[MOST], pairs[MOST], cell[MOST], scratch[MOST], start[MOST];

static void number_blocks(size_t blocks, size_t k)
{
	for (size_t i = 0; i < blocks * k; i++)
		block[i] = i / k;
	for (size_t b = 0; b <= blocks; b++)
		start[b] = b * k;
}

struct complete_case {
	size_t t, blocks, lowest, highest; /* times in a position */
};

static void complete_blocks_are_complete_and_even(void **state)
{
	static const struct complete_case cases[] = { { 4, 4, 1, 1 }, { 3, 7, 2, 3 },  { 5, 2, 0, 1 }, { 2, 9, 4, 5 },
		                                      { 1, 3, 3, 3 }, { 6, 12, 2, 2 }, { 4, 1, 0, 1 } };
	struct random random;

	(void)state;
	random_seed(&random, 7);
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		size_t t = cases[i].t, blocks = cases[i].blocks;
		struct count_range place;

		design_complete_blocks(plan, t, blocks, &random, scratch);
		number_blocks(blocks, t);
		assert_true(design_check_blocks(block, plan, t * blocks, blocks, t, pairs, cell).complete);
		place = design_check_positions(plan, start, blocks, t, t, cell);
		assert_int_equal(place.lowest, cases[i].lowest);
		assert_int_equal(place.highest, cases[i].highest);
	}
	design_complete_blocks(plan, 0, 3, &random, scratch);
	design_complete_blocks(plan, 3, 0, &random, scratch);
}

static void a_seed_brings_the_plan_back(void **state)
{
	size_t again[24];
	struct random random;
	bool differs = false;

	(void)state;
	random_seed(&random, 41);
	design_complete_blocks(plan, 6, 4, &random, scratch);
	random_seed(&random, 41);
	design_complete_blocks(again, 6, 4, &random, scratch);
	assert_memory_equal(plan, again, sizeof(again));
	for (uint64_t seed = 42; seed < 46; seed++) {
		random_seed(&random, seed);
		design_complete_blocks(again, 6, 4, &random, scratch);
		differs |= memcmp(plan, again, sizeof(again)) != 0;
	}
	assert_true(differs);
}

/* Over many seeds each treatment is first about equally often: 600 plans of one block of 3, four standard errors. */
static void nobody_is_favoured(void **state)
{
	size_t first[3] = { 0, 0, 0 };
	struct random random;

	(void)state;
	random_seed(&random, 1);
	for (int i = 0; i < 600; i++) {
		design_complete_blocks(plan, 3, 1, &random, scratch);
		first[plan[0]]++;
	}
	for (size_t t = 0; t < 3; t++)
		assert_near((double)first[t], 200, 4 * sqrt(600 * 2.0 / 9));
}

static void williams_up_to_twelve(void **state)
{
	struct random random;

	(void)state;
	random_seed(&random, 3);
	for (size_t t = 2; t <= DESIGNS_WILLIAMS_MOST; t++)
		for (int drawn = 0; drawn < 2; drawn++) {
			size_t sequences = design_williams_sequences(t), times = t % 2 ? 2 : 1;
			struct count_range carry, place;

			assert_int_equal(sequences, times * t);
			design_williams(plan, t, drawn ? &random : NULL);
			number_blocks(sequences, t);
			carry = design_check_carry_over(plan, start, sequences, t, pairs);
			place = design_check_positions(plan, start, sequences, t, t, cell);
			assert_int_equal(carry.lowest, times);
			assert_int_equal(carry.highest, times);
			assert_int_equal(place.lowest, times);
			assert_int_equal(place.highest, times);
		}
	assert_int_equal(design_williams_sequences(1), 0);
	assert_int_equal(design_williams_sequences(13), 0);
	plan[0] = 99;
	design_williams(plan, 13, &random);
	assert_int_equal(plan[0], 99);
}

/* Every design that is offered for 3 to 16 treatments is one, as it stands and drawn. */
static void incomplete_blocks_are_balanced(void **state)
{
	struct random random;
	size_t offered = 0;

	(void)state;
	random_seed(&random, 5);
	for (size_t v = 3; v <= 16; v++)
		for (size_t k = 2; k < v; k++) {
			struct bib_design d;

			if (!design_bib_find(&d, v, k))
				continue;
			offered++;
			assert_true(d.b * k <= MOST);
			number_blocks(d.b, k);
			for (int drawn = 0; drawn < 2; drawn++) {
				struct design_check c;

				design_bib(plan, &d, drawn ? &random : NULL, scratch);
				c = design_check_blocks(block, plan, d.b * k, d.b, v, pairs, cell);
				if (!c.balanced_incomplete)
					fail_msg("%zu treatments in blocks of %zu, drawn %d", v, k, drawn);
				assert_int_equal(c.replicates.lowest, d.r);
				assert_int_equal(c.pairs.lowest, d.lambda);
				assert_int_equal(d.r * v, d.b * k);
				assert_int_equal(d.lambda * (v - 1), d.r * (k - 1));
			}
		}
	assert_true(offered >= 45);
}

/* After drawing, every treatment stands r/k times in every position, or within one of it. */
static void positions_are_evened_out(void **state)
{
	static const size_t sizes[][2] = { { 3, 2 }, { 4, 2 }, { 5, 2 }, { 6, 2 }, { 5, 3 },  { 6, 3 },
		                           { 7, 3 }, { 7, 4 }, { 9, 3 }, { 9, 4 }, { 13, 4 }, { 6, 5 } };
	struct random random;

	(void)state;
	random_seed(&random, 11);
	for (size_t i = 0; i < sizeof(sizes) / sizeof(sizes[0]); i++) {
		struct bib_design d;
		struct count_range place;

		assert_true(design_bib_find(&d, sizes[i][0], sizes[i][1]));
		design_bib(plan, &d, &random, scratch);
		number_blocks(d.b, d.k);
		place = design_check_positions(plan, start, d.b, d.v, d.k, cell);
		if (place.lowest < d.r / d.k || place.highest > (d.r + d.k - 1) / d.k)
			fail_msg("%zu in %zu: %zu to %zu of %zu", d.v, d.k, place.lowest, place.highest, d.r);
	}
}

/* Pairs in the order 01, 02, 12 can be evened out; a single block of three cannot be uneven. */
static void evening_out_says_whether_it_got_there(void **state)
{
	size_t three[] = { 0, 1, 0, 2, 1, 2 }, one[] = { 0, 1, 2 };
	struct random random;

	(void)state;
	random_seed(&random, 2);
	assert_true(design_even_positions(three, 3, 2, 3, &random, scratch));
	assert_true(design_even_positions(one, 3, 3, 1, &random, scratch));
}

static void sizes_without_a_design(void **state)
{
	struct bib_design d;

	(void)state;
	assert_false(design_bib_find(&d, 4, 4));
	assert_false(design_bib_find(&d, 4, 5));
	assert_false(design_bib_find(&d, 4, 1));
	assert_false(
		design_bib_find(&d, 10, 4)); /* one exists, in 15 blocks, but is not cyclic: not in the catalogue */
	assert_int_equal(d.b, 0);
	plan[0] = 99;
	design_bib(plan, &d, NULL, scratch);
	assert_int_equal(plan[0], 99);
	assert_true(design_bib_find(&d, 40, 2));
	assert_int_equal(d.b, 780);
	assert_true(design_bib_find(&d, 40, 39));
	assert_int_equal(d.b, 40);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(complete_blocks_are_complete_and_even),
		cmocka_unit_test(a_seed_brings_the_plan_back),
		cmocka_unit_test(nobody_is_favoured),
		cmocka_unit_test(williams_up_to_twelve),
		cmocka_unit_test(incomplete_blocks_are_balanced),
		cmocka_unit_test(positions_are_evened_out),
		cmocka_unit_test(evening_out_says_whether_it_got_there),
		cmocka_unit_test(sizes_without_a_design),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
