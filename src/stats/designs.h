/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * designs.h: orders to brew in. Drawn with a seeded generator, so that a
 * recorded seed gives the same plan again.
 *
 * Williams, Australian J. of Scientific Research A2 (1949) 149-168
 * (carry-over); Fisher and Yates, "Statistical Tables" (balanced
 * incomplete blocks).
 */
#ifndef DESIGNS_H
#define DESIGNS_H

#include <stdbool.h>
#include <stddef.h>

#include "random.h"

#define DESIGNS_WILLIAMS_MOST 12 /* treatments of the largest Williams design */

/*
 * Complete blocks: plan[b * t + position] is a treatment 0..t-1, each once a
 * block, in random order, balanced over position: within every t successive blocks
 * each treatment stands once in each position (rows of a randomised Latin
 * square), in a remainder at most once. scratch[0..2t) is lent. t = 0 or blocks = 0: nothing.
 */
void design_complete_blocks(size_t *plan, size_t t, size_t blocks, struct random *random, size_t *scratch);

/* Sequences of a Williams design: t if even, 2t if odd; 0 for t < 2 or t > DESIGNS_WILLIAMS_MOST. */
size_t design_williams_sequences(size_t t);

/*
 * plan[s * t + position]: every treatment equally often in every position
 * and after every other (once for even t, twice for odd). random NULL: the
 * standard form; else treatments relabelled and sequences shuffled.
 */
void design_williams(size_t *plan, size_t t, struct random *random);

struct bib_design {
	size_t v;      /* treatments */
	size_t k;      /* in a block */
	size_t b;      /* blocks */
	size_t r;      /* times each treatment is brewed: b k / v */
	size_t lambda; /* times each pair meets: r (k - 1) / (v - 1) */
};

/*
 * The smallest balanced incomplete block design known here for v treatments
 * in blocks of k: all pairs (k = 2) for any v, blocks of all but one (k = v
 * - 1) for any v, and a catalogue for 6 <= v <= 16; else all combinations where
 * these are no more than 60. False where there is none; out is then all 0.
 */
bool design_bib_find(struct bib_design *out, size_t v, size_t k);

/*
 * Its blocks: plan[block * k + position], b * k in all. random NULL: as it stands in the
 * catalogue; else treatments relabelled, blocks shuffled and the order within
 * blocks drawn and then evened out by design_even_positions(). scratch[0..v * k) is lent.
 */
void design_bib(size_t *plan, const struct bib_design *design, struct random *random, size_t *scratch);

/*
 * Evens out positions in b blocks of k out of v treatments, nothing twice in a block: swaps within
 * blocks until every treatment stands in every position equally often, or within one of it where
 * k does not divide its number of brews. True if it got there; small designs do. count[0..v * k) is lent.
 */
bool design_even_positions(size_t *plan, size_t v, size_t k, size_t b, struct random *random, size_t *count);

#endif
