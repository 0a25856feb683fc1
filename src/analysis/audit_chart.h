/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_chart.h: control charts of a meter's zero, standards and repeatability: individuals with moving ranges, EWMA,
 * runs of points (ISO 7870-2, ISO 7870-6; control_chart.h).
 *
 * A session's s has its own degrees of freedom, so what is judged is its normal score: the z with the same probability
 * as df s²/s0² has under χ²(df), s0 pooled over the base; in control these are standard normal whatever the df. Its
 * limit is s0 √F (chart_sd_limit). Only too large a spread is a signal.
 *
 * A spread below half a step of the display counts as set by it.
 *
 * Where the display's step sets the spread (enum in audit.h: step_limited) sigma is no less than half a step: a point
 * and the centre may each be half a step from what was there, so one step of difference is none. Runs of points say
 * nothing there.
 */
#ifndef BREWSPREAD_AUDIT_CHART_H
#define BREWSPREAD_AUDIT_CHART_H

#include "audit.h"

/* How many of n points are the base. */
size_t chart_base(size_t n);

/*
 * Fills all of chart but strength from chart->points[0..n), of which at_us, id, value and df are set, by time. step: of
 * the display in the unit of value; NaN: not known. False: no memory.
 */
bool chart_compute(struct audit_chart *chart, double step) MUST_USE;

/* Makes the meter's charts. False: no memory. */
bool charts_make(struct audit *audit, struct audit_meter *meter);

#endif
