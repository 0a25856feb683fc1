/* SPDX-License-Identifier: GPL-3.0-or-later */
/* outlying.h: brews that lie apart from the others of their treatment. They are marked, never removed. */
#ifndef BREWSPREAD_OUTLYING_H
#define BREWSPREAD_OUTLYING_H

#include "analysis.h"
#include "describe.h"

/*
 * One treatment's brews: values->values[i] is the response of the brew brew_of[i]. Fills apart. Marks by Grubbs' single test,
 * two-sided, or, where that finds nothing and there are six or more, by his double test at either end (ISO 5725-2:1994,
 * 7.3.4), which sees two that hide each other. Sets mandel_h and h_mark of each; h is NaN below three.
 */
void outlying_mark(struct analysis *analysis, struct apart *apart, const struct group_values *values,
                   const size_t *brew_of);

#endif
