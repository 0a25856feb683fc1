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

/* Sorts the meter's standards by strength and computes what is left of them and of linearity. */
void standards_finish(const struct audit_desk *desk);

/* Fits the line and its lack of fit: linear regression with replicates, F = MS lack / MS within strengths. */
void linearity_compute(struct audit_linearity *out, const struct audit_standard *standards, size_t count,
                       double confidence);

#endif
