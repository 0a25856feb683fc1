/* SPDX-License-Identifier: GPL-3.0-or-later */
/* audit_zero.h: how a meter's zero wanders, within a session and from month to month. For audit.c. */
#ifndef BREWSPREAD_AUDIT_ZERO_H
#define BREWSPREAD_AUDIT_ZERO_H

#include "audit_session.h"

#define AUDIT_MONTH_S 2629746.0 /* a twelfth of the mean Gregorian year of 365.2425 days */

/*
 * Computes zero of the meter from its sessions, which are sorted: hourly with one slope over all sessions, each with
 * its own level; monthly through the sessions' means, one point a session. A meter that was set to zero again in
 * between starts anew: then monthly says how it was found, not how it wanders.
 */
void zero_finish(const struct audit_desk *desk);

#endif
