/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "unseen.h"

#include <math.h>

#include "describe.h"
#include "precision.h"
#include "response.h"
#include "yields.h"

/* A remainder of the rounding below this part of the step is none. */
#define STEP_LEAST 0.01

/* How single readings of one treatment scatter, brews and readings together, % TDS; NaN: no two of one treatment. */
static double scatter_of_readings(const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	double ss = 0, df = 0;

	for (size_t t = 0; t < run->treatment_count; t++) {
		double n = 0, sum = 0;

		for (size_t b = 0; b < run->brew_count; b++)
			if (run->brews[b].treatment == t && analysis->brews[b].used > 0) {
				n += (double)analysis->brews[b].used;
				sum += (double)analysis->brews[b].used * analysis->brews[b].tds_percent;
			}
		for (size_t b = 0; b < run->brew_count; b++) {
			const struct brew_result *brew = &analysis->brews[b];
			double off = brew->tds_percent - sum / n;

			if (run->brews[b].treatment != t || brew->used == 0)
				continue;
			ss += (double)brew->used * off * off;
			if (brew->used > 1)
				ss += (double)(brew->used - 1) * brew->tds_sd * brew->tds_sd;
		}
		df += n > 1 ? n - 1 : 0;
	}
	return df > 0 ? sqrt(ss / df) : NAN;
}

/* What 1 % TDS more in all readings does to the response. */
static double response_per_tds(const struct analysis *analysis)
{
	struct moments slope = MOMENTS_INIT;

	if (!analysis->comparison.response.is_yield)
		return 1;
	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (isfinite(analysis->brews[b].yield_per_tds))
			moments_add(&slope, analysis->brews[b].yield_per_tds);
	return moments_mean(&slope);
}

void unseen_find(struct analysis *analysis)
{
	struct comparison *comparison = &analysis->comparison;
	double step = analysis->repeatability.step;
	double slope = response_per_tds(analysis);
	double scatter, left;

	comparison->step_u = comparison->scale_u = 0;
	if (!response_from_readings(&comparison->response))
		return;
	/* with one brew each the scatter that brews would have is the one that is known of earlier runs */
	scatter = comparison->source == SPREAD_HISTORY ? comparison->s_brew / slope : scatter_of_readings(analysis);
	left = rounding_left(sd_before_rounding(scatter, step), step);
	if (left >= STEP_LEAST * step)
		comparison->step_u = left * slope;
	if (comparison->response.is_yield)
		comparison->scale_u = yields_scale_u(analysis);
}

/* Of the brews of a treatment that have a value, the part that was weighed on the scale of a brew. */
static double part_on_scale(const struct analysis *analysis, size_t treatment, const struct brew *like)
{
	const struct run *run = analysis->run;
	double n = 0, on = 0;

	for (size_t b = 0; b < run->brew_count; b++) {
		if (run->brews[b].treatment != treatment || !isfinite(analysis->brews[b].response))
			continue;
		n++;
		on += slice_equal(run->brews[b].word[BREW_SCALE], like->word[BREW_SCALE]);
	}
	return n > 0 ? on / n : 0;
}

static bool scale_is_new(const struct run *run, size_t b)
{
	for (size_t i = 0; i < b; i++)
		if (slice_equal(run->brews[i].word[BREW_SCALE], run->brews[b].word[BREW_SCALE]))
			return false;
	return true;
}

double unseen_variance(const struct analysis *analysis, size_t a, size_t b)
{
	const struct comparison *comparison = &analysis->comparison;
	const struct run *run = analysis->run;
	double variance = 2 * comparison->step_u * comparison->step_u;

	for (size_t i = 0; i < run->brew_count && comparison->scale_u > 0; i++) {
		double more;

		if (!scale_is_new(run, i))
			continue;
		more = part_on_scale(analysis, a, &run->brews[i]) - part_on_scale(analysis, b, &run->brews[i]);
		variance += more * more * comparison->scale_u * comparison->scale_u;
	}
	return variance;
}
