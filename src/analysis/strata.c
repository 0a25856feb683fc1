/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "strata.h"

#include <math.h>
#include <stdlib.h>

#include "drift.h"

bool strata_fill(struct strata *strata, const struct analysis *analysis,
                 double (*x_of)(const struct analysis *analysis, size_t brew, const void *context), const void *context)
{
	const struct run *run = analysis->run;

	*strata = (struct strata){
		.x = calloc(run->brew_count + 1, sizeof(*strata->x)),
		.y = calloc(run->brew_count + 1, sizeof(*strata->y)),
		.start = calloc(run->treatment_count + 2, sizeof(*strata->start)),
		.groups = calloc(run->treatment_count + 1, sizeof(*strata->groups)),
		.treatments = run->treatment_count,
		.low = INFINITY,
		.high = -INFINITY,
	};
	if (!strata->x || !strata->y || !strata->start || !strata->groups)
		return false;
	for (size_t b = 0; b < run->brew_count; b++)
		if (isfinite(x_of(analysis, b, context)) && isfinite(analysis->brews[b].response))
			strata->start[run->brews[b].treatment + 1]++;
	for (size_t t = 0; t < run->treatment_count; t++) {
		strata->start[t + 1] += strata->start[t];
		strata->groups[t].values = strata->x + strata->start[t];
	}
	for (size_t b = 0; b < run->brew_count; b++) {
		size_t t = run->brews[b].treatment;
		double x = x_of(analysis, b, context);
		size_t at;

		if (!isfinite(x) || !isfinite(analysis->brews[b].response))
			continue;
		at = strata->start[t] + strata->groups[t].n++;
		strata->x[at] = x;
		strata->y[at] = analysis->brews[b].response;
		strata->low = fmin(strata->low, x);
		strata->high = fmax(strata->high, x);
		strata->n++;
	}
	return true;
}

void strata_release(struct strata *strata)
{
	free(strata->x);
	free(strata->y);
	free(strata->start);
	free(strata->groups);
}

double strata_effect(const struct strata *strata)
{
	double low = INFINITY, high = -INFINITY;
	struct slope_test within = drift_pooled_slope(strata->x, strata->y, strata->start, strata->treatments);

	for (size_t t = 0; t < strata->treatments; t++) {
		double mean = values_mean(strata->groups[t].values, strata->groups[t].n);

		if (isfinite(mean)) {
			low = fmin(low, mean);
			high = fmax(high, mean);
		}
	}
	return fabs(within.slope * (high - low));
}
