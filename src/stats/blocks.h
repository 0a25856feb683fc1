/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * blocks.h: brews made in rounds. Analysis of any block structure: complete,
 * balanced or unbalanced incomplete, unequal sizes, missing cells; Latin
 * squares; and any additive model in several factors.
 *
 * One value is one brew mean. Formulas: Montgomery, "Design and Analysis
 * of Experiments", chapter 4; John and Williams, "Cyclic and Computer
 * Generated Designs" (1995), chapter 1 (reduced normal equations).
 * Whether a plan is balanced: block_checks.h.
 */
#ifndef BLOCKS_H
#define BLOCKS_H

#include <stdbool.h>
#include <stddef.h>

struct blocks_data {
	const double *y;         /* y[0..n) */
	const size_t *block;     /* block[i] < blocks */
	const size_t *treatment; /* treatment[i] < treatments */
	size_t n;
	size_t blocks;
	size_t treatments;
};

struct blocks_row {
	double df;
	double ss;
	double ms; /* NaN where df is 0 */
	double f;  /* against the residual; NaN where that has no df or is 0 */
	double p;
};

struct blocks_fit {
	size_t n;
	size_t blocks;     /* with a value */
	size_t treatments; /* with a value */
	size_t parts;      /* 1: all treatments are linked through blocks; more: some differences are not estimable */
	double mean;       /* of y */
	struct blocks_row block_first;        /* blocks, treatments ignored */
	struct blocks_row treatment_adjusted; /* treatments after blocks: the test that counts */
	struct blocks_row treatment_first;    /* treatments, blocks ignored */
	struct blocks_row block_adjusted;     /* blocks after treatments */
	struct blocks_row residual;
	double ss_total;
	double *effect;   /* of each treatment, summing to 0 within a part; NaN without values. In work. */
	double *adjusted; /* mean block + effect: what the treatment would have averaged over all blocks. In work. */
	size_t *part;     /* which part each treatment belongs to. In parts. */
	double *inverse;  /* treatments x treatments, of the reduced equations. In work. */
	size_t stride;    /* of inverse */
};

/* How many doubles and size_t's blocks_analyse() needs. O(treatments^2 + n). */
size_t blocks_work(const struct blocks_data *data);
size_t blocks_part_work(const struct blocks_data *data);

/*
 * Intrablock least squares. work[0..blocks_work()) and parts[0..
 * blocks_part_work()) are lent; out points into them and lives as long.
 * O(treatments^3) for incomplete blocks, O(treatments^2) where every
 * treatment stands equally often in every block. All equal y: every SS 0, F NaN.
 * With parts > 1 adjusted means of different parts must not be compared.
 */
void blocks_analyse(struct blocks_fit *out, const struct blocks_data *data, double *work, size_t *parts);

struct blocks_difference {
	double estimate;
	double factor; /* variance / sigma^2: 2/r in complete blocks, 2k/(lambda v) in balanced incomplete ones */
	double se;
	double df;
	bool estimable; /* the two are linked through blocks; else the numbers are NaN */
};

/* Treatment a minus treatment b. */
struct blocks_difference blocks_difference(const struct blocks_fit *fit, size_t a, size_t b);

/*
 * Relative efficiency of complete blocks against none, from a fit with
 * complete blocks: ((b-1) ms_block + b(v-1) ms_residual) / ((bv-1)
 * ms_residual), without the small correction for degrees of freedom.
 */
double blocks_relative_efficiency(const struct blocks_fit *fit);

struct blocks_factor {
	const size_t *level; /* level[i] < levels, for each value */
	size_t levels;
};

/* How many doubles additive_anova() and additive_difference() need: n (3 + sum of levels). */
size_t additive_work(const struct blocks_factor *factors, size_t factor_count, size_t n);

/*
 * Sequential analysis of variance of y[0..n) in the given order of
 * additive factors, whatever is missing or mixed up: rows[0..factor_count)
 * and rows[factor_count] the residual. A factor wholly mixed up with
 * earlier ones gets df 0. A Latin square is rows, columns, treatments in
 * this order. Two-way terms: a factor whose levels are the combinations.
 * O(n (sum of levels)^2).
 */
void additive_anova(struct blocks_row *rows, const struct blocks_factor *factors, size_t factor_count, const double *y,
                    size_t n, double *work);

/*
 * Level a minus level b of the last factor, adjusted for all the others,
 * and its variance factor, from the same model: least squares, whatever
 * is missing. estimable is false where the others hide it or a level has no value.
 */
struct blocks_difference additive_difference(const struct blocks_factor *factors, size_t factor_count, const double *y,
                                             size_t n, size_t a, size_t b, double *work);

#endif
