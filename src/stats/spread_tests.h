/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_SPREAD_TESTS_H
#define BREWSPREAD_SPREAD_TESTS_H

#include "describe.h"
#include "oneway.h"

#include <stddef.h>

/* Do the groups differ in spread? Groups of brew means, or of the readings of each brew. */

enum spread_centre {
	CENTRE_MEDIAN, /* M. B. Brown and A. B. Forsythe, JASA 69 (1974) 364-367: the one to use */
	CENTRE_MEAN    /* H. Levene, in Contributions to Probability and Statistics, Stanford 1960 */
};

/*
 * One-way analysis of variance of the distances from each group's centre.
 * scratch holds as many values as the largest group and is overwritten.
 * Degenerate as in oneway.h; note that groups of one or two values, whose
 * distances are equal, say nothing: with two values in each group f is infinite or NaN, and means nothing.
 */
struct oneway spread_levene(const struct group_values *groups, size_t k, enum spread_centre centre, double *scratch);

struct bartlett {
	double k2;
	double df;
	double p;
};

/*
 * M. S. Bartlett, Proc. Roy. Soc. A 160 (1937) 268-282. Sensitive to
 * distributions that are not normal. All NaN unless there are two groups or
 * more, each with n >= 2 and a spread above 0.
 */
struct bartlett spread_bartlett(const struct group_summary *groups, size_t k);

#endif
