/* SPDX-License-Identifier: GPL-3.0-or-later */
/* correct.h: first step of an analysis: every reading through the correction chain, with the zero in force. */
#ifndef BREWSPREAD_CORRECT_H
#define BREWSPREAD_CORRECT_H

#include "analysis.h"

/*
 * Fills corrections, samples, zeros and zero_count of analysis. Zero checks read one after the other count as one, their
 * mean. The offset between two checks is interpolated in time where all of a meter's readings tell theirs, else in the
 * order in which they came (method: the offset in force). STATUS_MEMORY.
 */
enum status correct_readings(struct analysis *analysis, struct error *error) MUST_USE;

/* Does the reading count in the statistics: joined, not excluded, and with a corrected value? */
bool correct_counts(const struct analysis *analysis, size_t reading);

/* Is there a reading by run->meters[meter] that counts? */
bool correct_meter_counts(const struct analysis *analysis, size_t meter);

/* How many meters have readings that count. */
size_t correct_meters(const struct analysis *analysis);

#endif
