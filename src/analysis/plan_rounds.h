/* SPDX-License-Identifier: GPL-3.0-or-later */
/* plan_rounds.h: the exchanges that even out rounds which do not hold all treatments. Any sizes of rounds. */
#ifndef BREWSPREAD_PLAN_ROUNDS_H
#define BREWSPREAD_PLAN_ROUNDS_H

#include <stddef.h>

#include "random.h"

/* Round r is plan[start[r] … start[r + 1]): treatments below `treatments`, none twice in a round. */
struct rounds {
	size_t *plan;
	const size_t *start;
	size_t count;
	size_t treatments;
};

/*
 * Exchanges brews between rounds by lot, keeping what does not raise the sum of the squared numbers of meetings, until
 * no two pairs of treatments differ by more than one meeting or the tries are used up. pairs[0..treatments²) is
 * lent; above the diagonal it comes back as the numbers of meetings.
 */
void rounds_even_pairs(const struct rounds *rounds, struct random *random, size_t *pairs);

/*
 * Exchanges places within rounds in the same way, so that every treatment stands in every place about equally often.
 * count[0..treatments · longest round) is lent.
 */
void rounds_even_positions(const struct rounds *rounds, struct random *random, size_t *count);

#endif
