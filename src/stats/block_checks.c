/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "block_checks.h"

#include <math.h>

/* A range that has seen nothing yet has lowest > highest. */
static struct count_range range_none(void)
{
	return (struct count_range){ .lowest = (size_t)-1, .highest = 0 };
}

static void range_see(struct count_range *range, size_t count, size_t a, size_t b)
{
	if (count < range->lowest) {
		range->lowest = count;
		range->lowest_at[0] = a;
		range->lowest_at[1] = b;
	}
	if (count > range->highest) {
		range->highest = count;
		range->highest_at[0] = a;
		range->highest_at[1] = b;
	}
}

/* What was never asked about is balanced: 0 to 0. */
static void range_close(struct count_range *range)
{
	if (range->lowest > range->highest)
		*range = (struct count_range){ 0 };
}

static bool even(const struct count_range *range)
{
	return range->lowest == range->highest;
}

static void clear(size_t *counts, size_t n)
{
	for (size_t i = 0; i < n; i++)
		counts[i] = 0;
}

static void count_cells(struct design_check *check, size_t *pair_count, const size_t *cell, size_t blocks,
                        size_t treatments)
{
	for (size_t b = 0; b < blocks; b++) {
		size_t size = 0;

		for (size_t t = 0; t < treatments; t++) {
			size_t here = cell[t * blocks + b];

			size += here;
			range_see(&check->per_block, here, t, b);
			pair_count[t * treatments + t] += here;
			for (size_t u = 0; u < t; u++)
				pair_count[t * treatments + u] += here * cell[u * blocks + b];
		}
		range_see(&check->block_size, size, b, 0);
	}
	for (size_t t = 0; t < treatments; t++) {
		range_see(&check->replicates, pair_count[t * treatments + t], t, 0);
		for (size_t u = 0; u < t; u++) {
			size_t together = pair_count[t * treatments + u];

			pair_count[u * treatments + t] = together;
			range_see(&check->pairs, together, u, t);
			check->pairs_never += together == 0;
		}
	}
	range_close(&check->per_block);
	range_close(&check->block_size);
	range_close(&check->replicates);
	range_close(&check->pairs);
}

struct design_check design_check_blocks(const size_t *block, const size_t *treatment, size_t n, size_t blocks,
                                        size_t treatments, size_t *pair_count, size_t *cell)
{
	struct design_check check = { .block_size = range_none(),
		                      .replicates = range_none(),
		                      .per_block = range_none(),
		                      .pairs = range_none(),
		                      .efficiency = NAN };

	clear(pair_count, treatments * treatments);
	clear(cell, treatments * blocks);
	for (size_t i = 0; i < n; i++)
		cell[treatment[i] * blocks + block[i]]++;
	count_cells(&check, pair_count, cell, blocks, treatments);
	check.complete = n > 0 && check.per_block.lowest == 1 && check.per_block.highest == 1;
	check.balanced_incomplete = check.per_block.highest == 1 && check.block_size.highest < treatments &&
	                            check.pairs.lowest > 0 && even(&check.block_size) && even(&check.replicates) &&
	                            even(&check.pairs);
	if (check.complete)
		check.efficiency = 1;
	else if (check.balanced_incomplete)
		check.efficiency = (double)(check.pairs.lowest * treatments) /
		                   (double)(check.replicates.lowest * check.block_size.lowest);
	return check;
}

/* Counts treatments by line (rows or columns); true if each stands once in each. */
static bool count_lines(struct count_range *range, const size_t *line, const size_t *treatment, size_t n, size_t order,
                        size_t *cell)
{
	*range = range_none();
	clear(cell, order * order);
	for (size_t i = 0; i < n; i++)
		cell[treatment[i] * order + line[i]]++;
	for (size_t t = 0; t < order; t++)
		for (size_t l = 0; l < order; l++)
			range_see(range, cell[t * order + l], t, l);
	range_close(range);
	return range->lowest == 1 && range->highest == 1;
}

/* One brew in every cell of the square. */
static bool fills_square(const size_t *row, const size_t *column, size_t n, size_t order, size_t *cell)
{
	clear(cell, order * order);
	for (size_t i = 0; i < n; i++)
		if (cell[row[i] * order + column[i]]++ > 0)
			return false;
	return n == order * order;
}

struct square_check design_check_square(const size_t *row, const size_t *column, const size_t *treatment, size_t n,
                                        size_t order, size_t *cell)
{
	struct square_check check;
	bool rows = count_lines(&check.row, row, treatment, n, order, cell);
	bool columns = count_lines(&check.column, column, treatment, n, order, cell);

	check.latin = fills_square(row, column, n, order, cell) && rows && columns;
	return check;
}

struct count_range design_check_carry_over(const size_t *treatment, const size_t *start, size_t sequences,
                                           size_t treatments, size_t *following)
{
	struct count_range range = range_none();

	clear(following, treatments * treatments);
	for (size_t s = 0; s < sequences; s++)
		for (size_t i = start[s] + 1; i < start[s + 1]; i++)
			following[treatment[i - 1] * treatments + treatment[i]]++;
	for (size_t a = 0; a < treatments; a++)
		for (size_t b = 0; b < treatments; b++)
			if (a != b)
				range_see(&range, following[a * treatments + b], a, b);
	range_close(&range);
	return range;
}

struct count_range design_check_positions(const size_t *treatment, const size_t *start, size_t sequences,
                                          size_t treatments, size_t positions, size_t *at_position)
{
	struct count_range range = range_none();
	size_t shared = positions;

	clear(at_position, treatments * positions);
	for (size_t s = 0; s < sequences; s++) {
		size_t length = start[s + 1] - start[s];

		for (size_t i = 0; i < length; i++)
			at_position[treatment[start[s] + i] * positions + i]++;
		shared = length < shared ? length : shared;
	}
	for (size_t t = 0; t < treatments; t++)
		for (size_t i = 0; i < shared; i++)
			range_see(&range, at_position[t * positions + i], t, i);
	range_close(&range);
	return range;
}
