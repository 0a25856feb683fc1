/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * block_checks.h: is a planned or recorded order balanced, and where is it
 * worst? Counts only; no data.
 */
#ifndef BLOCK_CHECKS_H
#define BLOCK_CHECKS_H

#include <stdbool.h>
#include <stddef.h>

/* Lowest and highest of some counts, and where they stand. lowest == highest is balance. */
struct count_range {
	size_t lowest;
	size_t highest;
	size_t lowest_at[2]; /* a treatment and its partner, position, block or 0: the function says */
	size_t highest_at[2];
};

struct design_check {
	struct count_range block_size; /* at[0] block */
	struct count_range replicates; /* at[0] treatment */
	struct count_range per_block;  /* a treatment in a block; at[0] treatment, at[1] block */
	struct count_range pairs;      /* two treatments in one block; at the two, the lower first */
	size_t pairs_never;            /* pairs that never meet in a block */
	bool complete;                 /* every treatment once in every block */
	bool balanced_incomplete;      /* k, r and lambda constant, k < treatments, nothing twice in a block */
	double efficiency;             /* lambda v / (r k); 1 if complete; NaN where neither */
};

/*
 * Plan i puts treatment[i] < treatments into block[i] < blocks, i = 0 ..
 * n-1. pair_count[0..treatments^2) is lent and left filled: how often each
 * pair meets in a block, the diagonal how often a treatment stands in all.
 * cell[0..treatments * blocks) is scratch space.
 */
struct design_check design_check_blocks(const size_t *block, const size_t *treatment, size_t n, size_t blocks,
                                        size_t treatments, size_t *pair_count, size_t *cell);

struct square_check {
	bool latin;             /* every treatment once in each row and column */
	struct count_range row; /* a treatment in a row; at[0] treatment, at[1] row */
	struct count_range column;
};

/* treatment[i] stands in row[i], column[i], all below order; cell[0..order^2) is lent. n != order^2: not Latin. */
struct square_check design_check_square(const size_t *row, const size_t *column, const size_t *treatment, size_t n,
                                        size_t order, size_t *cell);

/*
 * How often treatment a is followed at once by b within a sequence, over
 * all ordered pairs a != b. Sequence s is treatment[start[s] ..
 * start[s+1]). following[0..treatments^2) is lent and left filled:
 * [a * treatments + b]. lowest == highest: carry-over balanced. A treatment
 * followed by itself is counted on the diagonal, not in the range.
 */
struct count_range design_check_carry_over(const size_t *treatment, const size_t *start, size_t sequences,
                                           size_t treatments, size_t *following);

/*
 * How often each treatment stands in each position of its sequence, at[0]
 * treatment, at[1] position, over the positions 0 .. shortest sequence - 1. at_position
 * [0..treatments * positions) is lent and left filled; positions is the length of the longest sequence.
 */
struct count_range design_check_positions(const size_t *treatment, const size_t *start, size_t sequences,
                                          size_t treatments, size_t positions, size_t *at_position);

#endif
