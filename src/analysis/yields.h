/* SPDX-License-Identifier: GPL-3.0-or-later */
/* yields.h: from each cup's strength to its yield, and how well that is known. */
#ifndef BREWSPREAD_YIELDS_H
#define BREWSPREAD_YIELDS_H

#include "analysis.h"

/*
 * Fills yield of every brew and the flags that come from its masses. A beverage that was not weighed is estimated
 * with the mean retention of the run's other brews, or the settings' where there are none. Needs cups_collect(). STATUS_MEMORY.
 */
enum status yields_compute(struct analysis *analysis, struct error *error) MUST_USE;

/*
 * Fills budget, share and yield_per_tds of every brew, yield_s_r and yield_limit of repeatability, and the budget rows, checked by simulation,
 * of the brew nearest to the mean. Needs cups_repeatability() and yields_compute(). STATUS_MEMORY.
 */
enum status yields_budget(struct analysis *analysis, struct error *error) MUST_USE;

/*
 * Standard uncertainty, in yield points, that the stated accuracy of one scale makes in the yield of the brew nearest to the mean:
 * what brews weighed on it share and others don't. 0 where all brews name the same scale, or no accuracy is stated. Needs
 * yields_budget().
 */
double yields_scale_u(const struct analysis *analysis);

#endif
