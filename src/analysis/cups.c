/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cups.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "brew_summary.h"
#include "correct.h"
#include "describe.h"
#include "drift.h"
#include "outliers.h"
#include "precision.h"
#include "timestamp.h"

static size_t lay_out(struct analysis *analysis)
{
	const struct run *run = analysis->run;
	size_t first = 0;

	for (size_t i = 0; i < run->reading_count; i++)
		if (run->readings[i].brew != READING_NO_BREW)
			analysis->brews[run->readings[i].brew].count++;
	for (size_t b = 0; b < run->brew_count; b++) {
		analysis->brews[b].first = first;
		first += analysis->brews[b].count;
		analysis->brews[b].count = 0;
	}
	return first;
}

static bool steady(const double *x, size_t n)
{
	bool up = true, down = true;

	for (size_t i = 1; i < n; i++) {
		up = up && x[i] > x[i - 1];
		down = down && x[i] < x[i - 1];
	}
	return n >= 3 && (up || down);
}

/* Takes up the cup's readings that one meter made; returns how many. What differs between meters is no scatter of readings. */
static size_t take_meter(struct analysis *analysis, struct brew_result *brew, size_t meter, double *values, double *ss)
{
	struct brew_summary summary;
	size_t n = 0;

	for (size_t k = brew->first; k < brew->first + brew->count; k++) {
		size_t i = analysis->by_brew[k];

		if (analysis->run->readings[i].meter == meter && correct_counts(analysis, i))
			values[n++] = analysis->tds_percent[i];
	}
	if (n == 0)
		return 0;
	summary = brew_summary_of(values, n);
	brew->meters++;
	analysis->strata[analysis->strata_count++] = (size_t)(values - analysis->cup_values);
	*ss += summary.ss;
	if (n > 1 && !(fabs(values[n - 1] - values[0]) <= fabs(brew->tds_drift)))
		brew->tds_drift = values[n - 1] - values[0];
	if (steady(values, n))
		brew->flags |= BREW_DRIFTING; /* taken back once the limit is known and not exceeded */
	return n;
}

/* From brewing to reading; NaN: not told, or no such wait. Of a time of day without a date the nearest one before counts. */
static double waited_s(int64_t brewed_us, int64_t read_us)
{
	int64_t waited_us;

	if (brewed_us == READING_NO_TIME || read_us == READING_NO_TIME)
		return NAN;
	waited_us = read_us - brewed_us;
	if (moment_undated(brewed_us) != moment_undated(read_us)) {
		waited_us = (waited_us % MOMENT_DAY_US + MOMENT_DAY_US) % MOMENT_DAY_US;
		if (waited_us > MOMENT_DAY_US / 2)
			return NAN; /* rather read a little before than half a day after: a clock was wrong */
	}
	return waited_us >= 0 && waited_us <= MOMENT_DAY_US ? (double)waited_us / 1e6 : NAN;
}

static void cup_circumstances(struct analysis *analysis, size_t b)
{
	const struct run *run = analysis->run;
	struct brew_result *brew = &analysis->brews[b];
	double temps = 0, told = 0;
	int64_t first_us = READING_NO_TIME;

	for (size_t k = brew->first; k < brew->first + brew->count; k++) {
		size_t i = analysis->by_brew[k];
		const struct reading *reading = &run->readings[i];

		if (first_us == READING_NO_TIME)
			first_us = reading->line->taken_us;
		if (!correct_counts(analysis, i) || isnan(reading->line->temp_c))
			continue;
		temps += reading->line->temp_c;
		told++;
	}
	brew->temp_c = told > 0 ? temps / told : NAN;
	brew->waited_s = waited_s(run->brews[b].brewed_us, first_us);
}

static void cup_describe(struct analysis *analysis, size_t b, double *values)
{
	struct brew_result *brew = &analysis->brews[b];
	double ss = 0;
	size_t n = 0;

	brew->tds_drift = NAN;
	for (size_t m = 0; m < analysis->run->meter_count; m++)
		n += take_meter(analysis, brew, m, values + n, &ss);
	brew->used = n;
	brew->tds_percent = values_mean(values, n);
	brew->tds_sd = n > brew->meters ? sqrt(ss / (double)(n - brew->meters)) : NAN;
	brew->tds_min = values_min(values, n);
	brew->tds_max = values_max(values, n);
	cup_circumstances(analysis, b);
	if ((double)n < analysis->settings->readings_wanted)
		brew->flags |= BREW_FEW_READINGS;
}

/* Every brew by every meter, or a reading each. */
static size_t strata_most(const struct run *run, size_t readings)
{
	return run->meter_count > 0 && run->brew_count > readings / run->meter_count ?
	               readings :
	               run->brew_count * run->meter_count;
}

enum status cups_collect(struct analysis *analysis, struct error *error)
{
	const struct run *run = analysis->run;
	size_t joined = lay_out(analysis);
	double *values;

	analysis->strata = arena_take(&analysis->memory, (strata_most(run, joined) + 1) * sizeof(*analysis->strata));
	analysis->by_brew = malloc((joined + 1) * sizeof(*analysis->by_brew));
	analysis->cup_values = values = malloc((joined + 1) * sizeof(*values));
	if (!values || !analysis->by_brew || !analysis->strata)
		return error_set(error, STATUS_MEMORY, "no memory for %zu readings", joined);
	for (size_t i = 0; i < run->reading_count; i++) {
		uint32_t b = run->readings[i].brew;

		if (b != READING_NO_BREW)
			analysis->by_brew[analysis->brews[b].first + analysis->brews[b].count++] = (uint32_t)i;
	}
	for (size_t b = 0; b < run->brew_count; b++) {
		cup_describe(analysis, b, values);
		values += analysis->brews[b].used;
	}
	analysis->strata[analysis->strata_count] = (size_t)(values - analysis->cup_values);
	return STATUS_OK;
}

static void mark_spread(struct analysis *analysis, const struct brew_summary *groups, size_t count,
                        const size_t *brew_of)
{
	struct repeatability *r = &analysis->repeatability;
	struct outlier_test test = cochran_test(groups, count);

	r->cochran = test.statistic;
	r->cochran_5 = test.critical_5;
	r->cochran_1 = test.critical_1;
	if (test.count == 0)
		return;
	r->cochran_brew = brew_of[test.index[0]];
	if (test.mark == OUTLIER_STATISTICAL)
		analysis->brews[r->cochran_brew].flags |= BREW_SPREAD_OUTLIER;
	else if (test.mark == OUTLIER_STRAGGLER)
		analysis->brews[r->cochran_brew].flags |= BREW_SPREAD_STRAGGLER;
}

static void unmark_small_drifts(struct analysis *analysis)
{
	for (size_t b = 0; b < analysis->run->brew_count; b++) {
		struct brew_result *brew = &analysis->brews[b];

		if ((brew->flags & BREW_DRIFTING) && !(fabs(brew->tds_drift) > analysis->repeatability.limit))
			brew->flags &= ~(unsigned)BREW_DRIFTING;
	}
}

struct cup_scratch {
	struct brew_summary *groups; /* a cup each, as if one meter had read it: spread about each meter's own mean */
	size_t *brew_of;             /* parallel to groups */
	double *k;
	size_t count;
};

static void scratch_fill(struct cup_scratch *scratch, const struct analysis *analysis)
{
	for (size_t b = 0; b < analysis->run->brew_count; b++) {
		const struct brew_result *brew = &analysis->brews[b];
		size_t df = brew->used - brew->meters;

		if (brew->used == 0)
			continue;
		scratch->groups[scratch->count] = (struct brew_summary){
			.n = df + 1,
			.mean = brew->tds_percent,
			.ss = df > 0 ? brew->tds_sd * brew->tds_sd * (double)df : 0,
			.treatment = analysis->run->brews[b].treatment,
		};
		scratch->brew_of[scratch->count] = b;
		scratch->count++;
	}
}

static void mark_mandel(struct analysis *analysis, const struct cup_scratch *scratch)
{
	struct repeatability *r = &analysis->repeatability;
	size_t n = 0;
	double limit_5 = NAN, limit_1 = NAN;

	r->k_limit_5 = mandel_k_limit(r->cups, brew_commonest_n(scratch->groups, scratch->count), 0.05);
	r->k_limit = mandel_k_limit(r->cups, brew_commonest_n(scratch->groups, scratch->count), 0.01);
	for (size_t b = 0; b < analysis->run->brew_count; b++)
		analysis->brews[b].mandel_k = NAN;
	for (size_t i = 0; i < scratch->count; i++) {
		struct brew_result *brew = &analysis->brews[scratch->brew_of[i]];

		brew->mandel_k = scratch->k[i];
		if (!isfinite(brew->mandel_k))
			continue;
		if (scratch->groups[i].n != n) {
			n = scratch->groups[i].n;
			limit_5 = mandel_k_limit(r->cups, n, 0.05);
			limit_1 = mandel_k_limit(r->cups, n, 0.01);
		}
		brew->k_mark = brew->mandel_k > limit_1 ? OUTLIER_STATISTICAL :
		               brew->mandel_k > limit_5 ? OUTLIER_STRAGGLER :
		                                          OUTLIER_NONE;
	}
}

static void repeatability_fill(struct analysis *analysis, struct cup_scratch *scratch)
{
	struct repeatability *r = &analysis->repeatability;
	struct sd_claim claim;
	struct interval interval;
	struct slope_test drift;

	r->s_r = brew_pooled_sd(scratch->groups, scratch->count, &r->df);
	r->from_history = isnan(r->s_r) && analysis->settings->reading_df > 0;
	if (r->from_history) {
		r->s_r = analysis->settings->reading_sd;
		r->df = analysis->settings->reading_df;
	}
	interval = sd_interval(r->s_r, r->df, analysis->settings->confidence);
	r->lower = interval.lower;
	r->upper = interval.upper;
	claim = sd_claimable(r->s_r, r->step);
	r->claimed = claim.sd;
	r->step_limited = claim.limited;
	r->limit = PRECISION_LIMIT_EXACT * claim.sd;
	for (size_t i = 0; i < scratch->count; i++)
		r->cups += scratch->groups[i].n >= 2;
	mark_spread(analysis, scratch->groups, scratch->count, scratch->brew_of);
	mandel_k(scratch->k, scratch->groups, scratch->count);
	mark_mandel(analysis, scratch);
	drift = drift_pooled_slope(NULL, analysis->cup_values, analysis->strata, analysis->strata_count);
	r->drift = drift.slope;
	r->drift_p = drift.p;
	unmark_small_drifts(analysis);
}

enum status cups_repeatability(struct analysis *analysis, struct error *error)
{
	size_t brews = analysis->run->brew_count;
	struct cup_scratch scratch = {
		.groups = calloc(brews + 1, sizeof(*scratch.groups)),
		.brew_of = calloc(brews + 1, sizeof(*scratch.brew_of)),
		.k = calloc(brews + 1, sizeof(*scratch.k)),
	};
	enum status status = STATUS_OK;

	if (scratch.groups && scratch.brew_of && scratch.k) {
		scratch_fill(&scratch, analysis);
		repeatability_fill(analysis, &scratch);
	} else {
		status = error_set(error, STATUS_MEMORY, "no memory for the spread of %zu brews", brews);
	}
	free(scratch.groups);
	free(scratch.brew_of);
	free(scratch.k);
	return status;
}
