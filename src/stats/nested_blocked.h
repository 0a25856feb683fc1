/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * nested_blocked.h: the model of nested.h with rounds of brewing:
 * reading = treatment (fixed) + block (fixed) + brew (random) + reading
 * (random). Restricted maximum likelihood, any numbers, cells missing.
 *
 * For components and description, like nested.h; verdicts are taken on brew
 * means with blocks.h. Dense in treatments + blocks: made for up to some 200 of these together.
 */
#ifndef NESTED_BLOCKED_H
#define NESTED_BLOCKED_H

#include <stddef.h>

#include "nested.h"

struct nested_blocked {
	struct nested_reml reml; /* as nested_reml() gives them; df_cap = brews - treatments - blocks + 1 */
	size_t blocks;           /* with a brew */
	size_t columns;          /* treatments + blocks - 1 */
	double *covariance;      /* columns x columns, of the effects. In work. */
	double *effect;          /* of each column, the first block being the base. In work. */
	size_t *column;          /* of each treatment, then each block; columns: has none. In columns. */
	size_t treatment_count;
};

/* Doubles and size_t's that nested_blocked_reml() needs. */
size_t nested_blocked_work(size_t treatment_count, size_t block_count);
size_t nested_blocked_columns(size_t treatment_count, size_t block_count);

/*
 * Fits brews[0..brew_count), treatment < treatment_count and block <
 * block_count in each. work and columns are lent and out points into them.
 *
 * Everything but the counts is NaN where the components cannot be told
 * apart (no brew to spare, one reading each, no spread within any brew) or where treatments
 * and blocks are not linked, so that some difference has no estimate.
 */
void nested_blocked_reml(struct nested_blocked *out, size_t treatment_count, size_t block_count,
                         const struct brew_summary *brews, size_t brew_count, double *work, size_t *columns);

/* Treatment a minus treatment b, adjusted for blocks, with the brews that were fitted; NaN where either has none. */
struct nested_contrast nested_blocked_difference(const struct nested_blocked *fit, const struct brew_summary *brews,
                                                 size_t brew_count, size_t a, size_t b);

#endif
