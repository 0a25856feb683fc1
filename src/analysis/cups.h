/* SPDX-License-Identifier: GPL-3.0-or-later */
/* cups.h: the readings of each cup brought together, and how well they repeat. */
#ifndef BREWSPREAD_CUPS_H
#define BREWSPREAD_CUPS_H

#include "analysis.h"

/*
 * Fills by_brew, cup_values, strata and, of each brew's result, what comes from its readings alone. STATUS_MEMORY.
 */
enum status cups_collect(struct analysis *analysis, struct error *error) MUST_USE;

/*
 * Fills the rest of repeatability (but its yield_ members) and the marks that it gives to brews: Cochran's on the spread, Mandel's k.
 * Needs cups_collect(). STATUS_MEMORY.
 */
enum status cups_repeatability(struct analysis *analysis, struct error *error) MUST_USE;

#endif
