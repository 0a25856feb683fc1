/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "findings.h"

#include "covariates.h"
#include "data_notes.h"
#include "fairness.h"
#include "meter_notes.h"
#include "verdict_words.h"

enum status findings_write(struct analysis *analysis, struct error *error)
{
	if (verdicts_say(analysis) && meter_say(analysis) && fairness_say(analysis) && data_say(analysis) &&
	    covariates_say(analysis))
		return STATUS_OK;
	return error_set(error, STATUS_MEMORY, "no memory for the findings");
}
