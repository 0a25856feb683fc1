/* SPDX-License-Identifier: GPL-3.0-or-later */
/* correct.h: first step of an analysis: every reading through the correction chain, with the zero in force. */
#ifndef BREWSPREAD_CORRECT_H
#define BREWSPREAD_CORRECT_H

#include <math.h>

#include "analysis.h"

/*
 * Fills of analysis what readings say by themselves: tds_percent, readings_used and the other counts of them, samples,
 * repeatability.step, zeros and what correct_steps() needs. Zero checks read one after the other count as one, their
 * mean. The offset between two checks is interpolated in time where all of a meter's readings tell theirs, else in the
 * order in which they came (method: the offset in force). STATUS_MEMORY.
 */
enum status correct_readings(struct analysis *analysis, struct error *error) MUST_USE;

/*
 * Every step of a reading's correction, as correct_readings() took them: made anew, for kept they would be most of the
 * memory of a run, and they are asked for by those who show them only.
 */
void correct_steps(struct correction *out, const struct analysis *analysis, size_t reading);

/* Does the reading count in the statistics: joined, not excluded, and with a corrected value? */
static inline bool correct_counts(const struct analysis *analysis, size_t reading)
{
	const struct reading *r = &analysis->run->readings[reading];

	return r->role == READING_SAMPLE && r->brew != READING_NO_BREW && reading_used(r) &&
	       isfinite(analysis->tds_percent[reading]);
}

/* Is there a reading by run->meters[meter] that counts? */
bool correct_meter_counts(const struct analysis *analysis, size_t meter);

/* How many meters have readings that count. */
size_t correct_meters(const struct analysis *analysis);

#endif
