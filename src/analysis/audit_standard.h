/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_standard.h: sucrose solutions of known strength on the meter: bias, and whether its scale is straight. For
 * audit.c and audit_session.c.
 *
 * The bias of a strength is the mean over its checks, each less what was made up. Its uncertainty has two parts: the
 * spread of the checks over their number, never less than rounding leaves (step/√12), and the standard's own from
 * weighing (check_standard.h), which no number of checks makes smaller. Effective degrees of freedom: GUM G.2b.
 */
#ifndef BREWSPREAD_AUDIT_STANDARD_H
#define BREWSPREAD_AUDIT_STANDARD_H

#include "audit_session.h"

/* Takes a check whose zero is settled. False: no memory. */
bool standard_take(const struct audit_desk *desk, const struct audit_check *check);

/* Sorts the meter's standards by strength and computes what is left of each. */
void standards_finish(const struct audit_desk *desk);

/*
 * The line through the strengths' mean biases, and whether they leave it; the charts are made. A standard whose newest
 * check is beyond its limits is left out: a spoilt one tells nothing of the scale. Each mean weighs by its variance, s²
 * pooled within strengths over its checks (no less than rounding leaves) and that of the standard's own strength from
 * weighing, which lies in all of its checks alike. Lack of fit: the weighted squares about the line over their
 * degrees of freedom as F; those below come from the share that is estimated, GUM G.2b. With one check of each strength
 * the line is least squares with the spread about it, and lack of fit is NaN.
 */
void linearity_compute(struct audit_linearity *out, const struct audit_meter *meter, const struct audit_query *query);

#endif
