/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * components.h: what the scatter of single readings is made of: brewing, and reading. For description; verdicts rest on
 * one value a brew (comparison.h).
 */
#ifndef BREWSPREAD_COMPONENTS_H
#define BREWSPREAD_COMPONENTS_H

#include "analysis.h"

/*
 * Fills analysis->components, from the readings of each brew in the unit of the response (a reading of a brew moves its
 * yield along the slope that the yield has there). By analysis of variance where all brews that are compared were read equally often, for
 * which the restricted likelihood has the same estimates; else by restricted maximum likelihood (nested.h), within rounds
 * where the comparison is. Needs comparison_make(). Nothing is found where the response is not made of readings, where no treatment was brewed
 * twice or no cup read twice. STATUS_MEMORY.
 */
enum status components_compute(struct analysis *analysis, struct error *error) MUST_USE;

#endif
