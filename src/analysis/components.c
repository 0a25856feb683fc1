/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "components.h"

#include <Rmath.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "nested.h"
#include "nested_blocked.h"

enum { DENSE_MOST = 200 }; /* treatments and rounds that the blocked model is made for */

struct parts {
	struct brew_summary *brews; /* those with a response */
	size_t *source;             /* parallel: index into the run's */
	size_t count;
	size_t blocks;
	struct nested_treatment *treatments;
	size_t treatment_count;
};

static bool from_readings(const struct response *response)
{
	return response->is_yield || strcmp(response->name, "TDS") == 0;
}

/* The number of the brew's round, rounds being numbered as they come. */
static size_t block_of(const struct analysis *analysis, struct parts *parts, struct slice word)
{
	for (size_t i = parts->count; i-- > 0;)
		if (slice_equal(analysis->run->brews[parts->source[i]].word[BREW_BLOCK], word))
			return parts->brews[i].block;
	return parts->blocks++;
}

static void add_brew(const struct analysis *analysis, struct parts *parts, size_t b)
{
	const struct brew_result *brew = &analysis->brews[b];
	double factor = brew->response / brew->tds_percent;
	struct brew_summary *summary = &parts->brews[parts->count];
	size_t block = analysis->comparison.blocked ?
	                       block_of(analysis, parts, analysis->run->brews[b].word[BREW_BLOCK]) :
	                       0;

	*summary = (struct brew_summary){
		.n = brew->used,
		.mean = brew->response,
		.ss = brew->used > 1 ? brew->tds_sd * brew->tds_sd * (double)(brew->used - 1) * factor * factor : 0,
		.treatment = analysis->run->brews[b].treatment,
		.block = block,
	};
	parts->source[parts->count++] = b;
}

static bool balanced(const struct parts *parts)
{
	size_t common = 0;

	for (size_t t = 0; t < parts->treatment_count; t++) {
		size_t brews = parts->treatments[t].brews;

		if (brews > 0 && common > 0 && brews != common)
			return false;
		common = brews > 0 ? brews : common;
	}
	for (size_t i = 1; i < parts->count; i++)
		if (parts->brews[i].n != parts->brews[0].n)
			return false;
	return true;
}

/* The interval of a variance whose own variance is known: as chi-square with the degrees of freedom that this amounts to. */
static void by_satterthwaite(struct component *out, double level)
{
	double tail = (1 - level) / 2;

	out->lower = out->df * out->variance / qchisq(tail, out->df, false, false);
	out->upper = out->df * out->variance / qchisq(tail, out->df, true, false);
	if (!isfinite(out->lower) || !isfinite(out->upper))
		out->lower = out->upper = NAN;
}

static void take_anova(struct components *out, const struct nested_anova *anova, double level)
{
	struct interval brew = nested_interval_brew(anova, level), reading = nested_interval_reading(anova, level);

	out->brew = (struct component){ anova->var_brew, anova->df_brew, brew.lower, brew.upper };
	out->reading = (struct component){ anova->var_reading, anova->df_reading, reading.lower, reading.upper };
	out->brew_zero = !(anova->var_brew_raw > 0);
}

static void take_reml(struct components *out, const struct nested_reml *reml, double level)
{
	out->by_reml = true;
	out->brew_zero = reml->at_boundary || !(reml->var_brew > 0);
	out->brew = (struct component){ .variance = reml->var_brew };
	out->reading = (struct component){ .variance = reml->var_reading };
	out->brew.df = fmin(2 * reml->var_brew * reml->var_brew / reml->covariance[0], reml->df_cap);
	out->reading.df = 2 * reml->var_reading * reml->var_reading / reml->covariance[2];
	by_satterthwaite(&out->reading, level);
	if (out->brew_zero)
		out->brew.df = out->brew.lower = out->brew.upper = NAN;
	else
		by_satterthwaite(&out->brew, level);
}

static bool fit_blocked(struct components *out, const struct parts *parts, double level)
{
	double *work = calloc(nested_blocked_work(parts->treatment_count, parts->blocks) + 1, sizeof(*work));
	size_t *columns = calloc(nested_blocked_columns(parts->treatment_count, parts->blocks) + 1, sizeof(*columns));
	struct nested_blocked fit;
	bool done = work && columns;

	if (done) {
		nested_blocked_reml(&fit, parts->treatment_count, parts->blocks, parts->brews, parts->count, work,
		                    columns);
		take_reml(out, &fit.reml, level);
	}
	free(work);
	free(columns);
	return done;
}

static bool fit(struct components *out, const struct analysis *analysis, struct parts *parts)
{
	double level = analysis->settings->confidence;
	struct nested_anova anova;
	struct nested_reml reml;

	if (parts->count == 0)
		return true;
	if (analysis->comparison.blocked) {
		if (parts->treatment_count + parts->blocks > DENSE_MOST)
			return true;
		return fit_blocked(out, parts, level);
	}
	nested_anova(&anova, parts->treatments, parts->treatment_count, parts->brews, parts->count);
	if (balanced(parts)) {
		take_anova(out, &anova, level);
		return true;
	}
	nested_reml(&reml, parts->treatments, parts->treatment_count, parts->brews, parts->count);
	take_reml(out, &reml, level);
	return true;
}

enum status components_compute(struct analysis *analysis, struct error *error)
{
	static const struct component unknown = { NAN, NAN, NAN, NAN };
	struct components *out = &analysis->components;
	size_t brews = analysis->run->brew_count;
	struct parts parts = { .treatment_count = analysis->run->treatment_count };
	bool done;

	*out = (struct components){ .brew = unknown, .reading = unknown };
	if (!from_readings(&analysis->comparison.response))
		return STATUS_OK;
	parts.brews = calloc(brews + 1, sizeof(*parts.brews));
	parts.source = calloc(brews + 1, sizeof(*parts.source));
	parts.treatments = calloc(parts.treatment_count + 1, sizeof(*parts.treatments));
	done = parts.brews && parts.source && parts.treatments;
	for (size_t b = 0; done && b < brews; b++)
		if (isfinite(analysis->brews[b].response) && analysis->brews[b].tds_percent > 0)
			add_brew(analysis, &parts, b);
	done = done && fit(out, analysis, &parts);
	out->known = isfinite(out->brew.variance) && isfinite(out->reading.variance);
	if (!out->known)
		out->brew = out->reading = unknown;
	free(parts.brews);
	free(parts.source);
	free(parts.treatments);
	return done ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory for variance components");
}
