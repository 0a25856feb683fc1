/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_effort.h: where the spread of one brew's yield comes from, and so where effort pays.
 *
 *   total² = brewing² + weighing² + loading² + reading²/m        all in yield points, m readings of each cup
 *
 * A spread between brews known from earlier runs holds all four; what reading, loading and weighing explain is taken
 * out of it, and what is left is brewing's, 0 at least. Readings worth taking: power.h, readings_best(): more of them
 * make reading²/m smaller and nothing else.
 */
#ifndef BREWSPREAD_AUDIT_EFFORT_H
#define BREWSPREAD_AUDIT_EFFORT_H

#include "audit.h"

/*
 * reading_sd and load_sd in % TDS, load_sd 0 where not known; tds_percent of the cups, NaN: not known, and 20 % of
 * yield are assumed. All NaN and best 0 where reading_sd is NaN.
 */
void audit_effort_compute(struct audit_effort *out, const struct audit_query *query, double reading_sd, double load_sd,
                          double tds_percent);

#endif
