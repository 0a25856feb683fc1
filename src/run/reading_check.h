/* SPDX-License-Identifier: GPL-3.0-or-later */
/* reading_check.h: readings that cannot be, or that deserve a look. */
#ifndef BREWSPREAD_READING_CHECK_H
#define BREWSPREAD_READING_CHECK_H

#include <stdbool.h>

#include "faults.h"
#include "run.h"
#include "settings.h"

/*
 * Adds READING_OUT_OF_RANGE and READING_QUESTIONED to the readings of run that ask for it, which are joined
 * already, and tells of each in faults, with what many share summed up.
 *
 * Out of range, left out of the statistics: TDS below -1 or above 30 %, the same times 1/scale_factor for Brix (up
 * to 100 for a standard), an index outside 1.30 … 1.55, a temperature outside -5 … 100 °C.
 * Questioned, used all the same: a sample outside 0.3 … 5 % TDS, 3 … 25 % for espresso, before dilution; a zero check
 * beyond ±0.5 % TDS; a temperature of 45 °C and more, which may be °F.
 *
 * False when there is no memory.
 */
bool readings_check(struct run *run, const struct settings *settings, struct faults *faults)
	__attribute__((warn_unused_result));

#endif
