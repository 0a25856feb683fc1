/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "analysis.h"

#include <stdlib.h>

#include "comparison.h"
#include "components.h"
#include "correct.h"
#include "covariates.h"
#include "cups.h"
#include "findings.h"
#include "response.h"
#include "yields.h"

typedef enum status (*step)(struct analysis *analysis, struct error *error);

/* A reading's way from its raw value to the verdict. */
static const step steps[] = {
	correct_readings, cups_collect,    cups_repeatability, yields_compute,     yields_budget,
	response_choose,  comparison_make, components_compute, covariates_compute, findings_write,
};

enum status analysis_make(struct analysis **out, const struct run *run, const struct settings *settings,
                          struct error *error)
{
	struct analysis *analysis = calloc(1, sizeof(*analysis));
	enum status status = STATUS_OK;

	*out = NULL;
	if (!analysis)
		return error_set(error, STATUS_MEMORY, "no memory for the analysis");
	analysis->run = run;
	analysis->settings = settings;
	analysis->brews = calloc(run->brew_count + 1, sizeof(*analysis->brews));
	if (!analysis->brews)
		status = error_set(error, STATUS_MEMORY, "no memory for %zu brews", run->brew_count);
	for (size_t i = 0; status == STATUS_OK && i < sizeof(steps) / sizeof(steps[0]); i++)
		status = steps[i](analysis, error);
	if (status != STATUS_OK) {
		analysis_free(analysis);
		return status;
	}
	*out = analysis;
	return STATUS_OK;
}

void analysis_free(struct analysis *analysis)
{
	if (!analysis)
		return;
	free(analysis->tds_percent);
	free(analysis->by_brew);
	free(analysis->cup_values);
	free(analysis->brews);
	arena_release(&analysis->memory);
	free(analysis);
}
