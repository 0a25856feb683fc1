/* SPDX-License-Identifier: GPL-3.0-or-later */
/* strata.h: brews laid out treatment by treatment, for what is looked at within treatments. */
#ifndef BREWSPREAD_STRATA_H
#define BREWSPREAD_STRATA_H

#include "analysis.h"
#include "describe.h"

struct strata {
	double *x, *y;               /* of the brews with both; y is the response */
	size_t *start;               /* of each treatment, and one more */
	struct group_values *groups; /* x by treatment */
	size_t n;                    /* brews */
	size_t treatments;           /* strata: those of the run, empty ones too */
	double low, high;            /* of x */
};

/*
 * Lays out x_of(analysis, brew, context) against the response; brews where either is NaN are left out. False without
 * memory. The caller's, whatever it returns: strata_release().
 */
bool strata_fill(struct strata *strata, const struct analysis *analysis,
                 double (*x_of)(const struct analysis *analysis, size_t brew, const void *context),
                 const void *context);

void strata_release(struct strata *strata);

/*
 * What the column may have done to the differences: its slope within treatments times the range of the treatments' means; NaN
 * where it does not vary within them.
 */
double strata_effect(const struct strata *strata);

#endif
