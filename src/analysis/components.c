/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "components.h"

#include <math.h>
#include <stdlib.h>

#include "nested.h"
#include "nested_blocked.h"
#include "response.h"
#include "rounds.h"

enum { DENSE_MOST = 200 }; /* treatments and rounds that the blocked model is made for */

struct parts {
	struct brew_summary *brews; /* those with a response */
	size_t *round;              /* of each brew of the run */
	size_t count;
	size_t blocks;
	bool balanced; /* every cup is read equally often: the analysis of variance is then as good as the likelihood */
	double inverse;    /* sum of 1 / readings */
	double df_reading; /* of the readings about the mean of their cup and meter */
};

/* A reading moves the response along the slope at its brew: exact for percolation, and for TDS itself. */
static void add_brew(const struct analysis *analysis, struct parts *parts, size_t b)
{
	const struct brew_result *brew = &analysis->brews[b];
	/* a cup that each meter read once tells nothing of readings: the others' spread stands for its own */
	double sd = isfinite(brew->tds_sd) ? brew->tds_sd : analysis->repeatability.s_r;
	double spread = sd * (analysis->comparison.response.is_yield ? brew->yield_per_tds : 1.0);

	parts->brews[parts->count] = (struct brew_summary){
		.n = brew->used,
		.mean = brew->response,
		.ss = brew->used > 1 ? spread * spread * (double)(brew->used - 1) : 0,
		.treatment = analysis->run->brews[b].treatment,
		.block = analysis->comparison.blocked ? parts->round[b] : 0,
	};
	parts->balanced = parts->balanced && brew->used == parts->brews[0].n;
	parts->inverse += 1.0 / (double)brew->used;
	parts->df_reading += (double)(brew->used - brew->meters);
	parts->count++;
}

/*
 * Mean squares of brew values and of readings as one analysis of variance. Where cups are read unequally often the mean
 * square of brews is that of unweighted values times the harmonic mean of the readings.
 */
static struct nested_anova anova_of(const struct analysis *analysis, const struct parts *parts)
{
	const struct comparison *comparison = &analysis->comparison;
	double each = (double)parts->count / parts->inverse;
	struct nested_anova anova = {
		.brews = parts->count,
		.df_brew = comparison->s_brew_df,
		.ms_brew = each * comparison->s_brew * comparison->s_brew,
		.k1 = each,
	};
	double s_r = brew_pooled_sd(parts->brews, parts->count, NULL);

	anova.df_reading = parts->df_reading;
	anova.ms_reading = anova.var_reading = s_r * s_r;
	anova.var_brew_raw = (anova.ms_brew - anova.ms_reading) / anova.k1;
	anova.var_brew = fmax(anova.var_brew_raw, 0);
	return anova;
}

/* -- restricted maximum likelihood ------------------------------------------------ */

static bool fit_plain(struct nested_reml *fit, const struct analysis *analysis, const struct parts *parts)
{
	size_t treatments = analysis->run->treatment_count;
	struct nested_treatment *work = calloc(treatments + 1, sizeof(*work));

	if (!work)
		return false;
	nested_reml(fit, work, treatments, parts->brews, parts->count);
	free(work);
	return true;
}

static bool fit_blocked(struct nested_reml *fit, const struct analysis *analysis, const struct parts *parts)
{
	size_t treatments = analysis->run->treatment_count;
	double *work;
	size_t *columns;
	struct nested_blocked blocked;
	bool done;

	if (treatments + parts->blocks > DENSE_MOST)
		return true;
	work = calloc(nested_blocked_work(treatments, parts->blocks) + 1, sizeof(*work));
	columns = calloc(nested_blocked_columns(treatments, parts->blocks) + 1, sizeof(*columns));
	done = work && columns;
	if (done) {
		nested_blocked_reml(&blocked, treatments, parts->blocks, parts->brews, parts->count, work, columns);
		*fit = blocked.reml;
	}
	free(work);
	free(columns);
	return done;
}

/* -- results ------------------------------------------------------------------------ */

/* Satterthwaite's degrees of freedom of (ms_brew - ms_reading) / k1. */
static double brew_df(const struct nested_anova *anova)
{
	double difference = anova->ms_brew - anova->ms_reading;

	return difference * difference /
	       (anova->ms_brew * anova->ms_brew / anova->df_brew +
	        anova->ms_reading * anova->ms_reading / anova->df_reading);
}

static struct component component_of(double variance, double df, struct interval interval, double share)
{
	return (struct component){ variance, variance > 0 ? df : NAN, interval.lower, interval.upper, 100 * share };
}

static void fill_result(struct analysis *analysis, const struct nested_anova *anova, const struct nested_reml *fit)
{
	struct components *out = &analysis->components;
	double level = analysis->settings->confidence;
	struct interval share = nested_interval_share(anova, level);
	double brew = out->by_reml ? fit->var_brew : anova->var_brew;
	double reading = out->by_reml ? fit->var_reading : anova->var_reading;
	double df = out->by_reml ? 2 * brew * brew / fit->covariance[0] : brew_df(anova);
	double value = brew + reading / anova->k1;

	out->known = isfinite(brew) && isfinite(reading);
	if (!out->known)
		return;
	out->brew_zero = !(brew > 0);
	out->brew = component_of(brew, fmin(df, anova->df_brew), nested_interval_brew(anova, level), brew / value);
	out->reading = component_of(reading, anova->df_reading, nested_interval_reading(anova, level),
	                            reading / anova->k1 / value);
	out->readings_each = anova->k1;
	out->share_lower = 100 * share.lower;
	out->share_upper = 100 * share.upper;
}

static bool fill(struct analysis *analysis, const struct parts *parts)
{
	struct nested_anova anova = anova_of(analysis, parts);
	struct nested_reml fit = { .var_brew = NAN };

	if (!parts->balanced &&
	    !(analysis->comparison.blocked ? fit_blocked(&fit, analysis, parts) : fit_plain(&fit, analysis, parts)))
		return false;
	analysis->components.by_reml = !parts->balanced && isfinite(fit.var_brew);
	if (parts->balanced || analysis->components.by_reml)
		fill_result(analysis, &anova, &fit);
	return true;
}

enum status components_compute(struct analysis *analysis, struct error *error)
{
	static const struct component unknown = { NAN, NAN, NAN, NAN, NAN };
	struct components *out = &analysis->components;
	size_t brews = analysis->run->brew_count;
	struct parts parts = { .balanced = true };
	bool done;

	*out = (struct components){ .brew = unknown, .reading = unknown };
	out->readings_each = out->share_lower = out->share_upper = NAN;
	if (!response_from_readings(&analysis->comparison.response) || analysis->comparison.source != SPREAD_RUN ||
	    !(analysis->repeatability.df > 0))
		return STATUS_OK;
	parts.brews = calloc(brews + 1, sizeof(*parts.brews));
	parts.round = calloc(brews + 1, sizeof(*parts.round));
	done = parts.brews && parts.round && rounds_number(parts.round, &parts.blocks, analysis);
	for (size_t b = 0; done && b < brews; b++)
		if (isfinite(analysis->brews[b].response))
			add_brew(analysis, &parts, b);
	done = done && fill(analysis, &parts);
	free(parts.brews);
	free(parts.round);
	return done ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory for variance components");
}
