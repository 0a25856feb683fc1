/* SPDX-License-Identifier: GPL-3.0-or-later */
/* rounds.h: brews made in rounds (the manifest's block column): what a round did is taken out before treatments are compared. */
#ifndef BREWSPREAD_ROUNDS_H
#define BREWSPREAD_ROUNDS_H

#include "analysis.h"

#define ROUND_NONE SIZE_MAX

/*
 * Numbers the rounds that the brews which are compared name, from 0 in the order of first mention, into round[], one for each
 * brew of the run; ROUND_NONE: it names none, or is not compared. *count: how many there are. False: no memory.
 */
bool rounds_number(size_t *round, size_t *count, const struct analysis *analysis);

/* The fit of a run's responses on rounds and treatments. */
struct rounds {
	bool used; /* false: no rounds to speak of, the rest is not set */
	struct blocks_fit fit;
	bool plain;   /* differences of adjusted means are those of the plain means, and so are their variances */
	double *work; /* what fit points into */
	size_t *parts;
	double *y;
	size_t *block, *treatment;
};

/*
 * Fits. Used where every brew that is compared names its round, there are two or more rounds, all treatments are linked
 * through rounds they share, and there is a degree of freedom left to judge by. False without memory. The caller's, whatever
 * it returns: rounds_release().
 */
bool rounds_fit(struct rounds *rounds, const struct analysis *analysis);

/* Treatment a less treatment b, within rounds. */
struct pair_estimate rounds_difference(const struct rounds *rounds, size_t a, size_t b);

void rounds_release(struct rounds *rounds);

#endif
