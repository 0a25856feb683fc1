/* SPDX-License-Identifier: GPL-3.0-or-later */
/* aliasing.h: is a circumstance (scale, server, operator, meter, any column of words) mixed up with the treatments? */
#ifndef BREWSPREAD_ALIASING_H
#define BREWSPREAD_ALIASING_H

#include "analysis.h"

/* In place of a column: the meter that made a reading. What is counted as brews is then readings that count. */
#define ALIASING_METER SIZE_MAX

/* How a column of words lies over the treatments. */
struct aliasing {
	size_t levels;     /* different words (or meters) among the brews that are compared */
	size_t treatments; /* among those brews */
	size_t brews;
	/*
	 * Groups of treatments that are linked by shared levels. 1: every difference between treatments can be told
	 * from the column's effect. The rank of the design matrix (mean, treatments, levels) is treatments + levels - groups,
	 * so each group beyond the first is one difference lost.
	 */
	size_t groups;
	double association; /* Cramér's V, 0 … 1; NaN with one level */
	double effect; /* range of the levels' mean residuals from the treatment means, in the response's unit; NaN where groups > 1 */
};

/*
 * Measures column c, or ALIASING_METER, over the brews that have a response. group_of, which may be NULL, takes each treatment's group (SIZE_MAX:
 * not among the brews). False without memory.
 */
bool aliasing_measure(struct aliasing *out, const struct analysis *analysis, size_t c, size_t *group_of);

/* Adds a sentence for each column, and for the meter, that is wholly or partly mixed up with the treatments. False without memory. */
bool aliasing_say(struct analysis *analysis);

#endif
