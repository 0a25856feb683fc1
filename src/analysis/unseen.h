/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * unseen.h: what no scatter between brews shows, and no further brew lessens: the display's rounding where readings
 * scatter by less than its step, and the error of a scale that one treatment was weighed on and another was not.
 */
#ifndef BREWSPREAD_UNSEEN_H
#define BREWSPREAD_UNSEEN_H

#include "analysis.h"

/*
 * Fills comparison.step_u and comparison.scale_u; both 0 for a response that is not made of readings (response.h). Needs
 * yields_budget(), the response and the spread between brews. step_u below a hundredth of the step is taken as 0.
 */
void unseen_find(struct analysis *analysis);

/*
 * Variance that a difference of the means of treatments a and b has of them: that of two roundings, and of each scale's error by
 * how much more of the one treatment than of the other was weighed on it. O(brews²) where there are scales to tell apart, else O(1).
 */
double unseen_variance(const struct analysis *analysis, size_t a, size_t b);

#endif
