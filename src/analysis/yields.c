/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "yields.h"

#include <math.h>
#include <stdlib.h>

#include "describe.h"

enum { MONTECARLO_DRAWS = 5000 };

#define RETENTION_ROBUST_Z 3.5
/* A run whose brews retain almost the same amount makes any brew look far off in robust units; less than this is none. */
#define RETENTION_LEAST_GAP 0.2

static struct yield_input input_of(const struct analysis *analysis, size_t b, double retention)
{
	const struct brew *brew = &analysis->run->brews[b];

	return (struct yield_input){
		.method = brew->method,
		.dose_g = brew->number[BREW_DOSE_G],
		.water_g = brew->number[BREW_WATER_G],
		.beverage_g = brew->number[BREW_BEVERAGE_G],
		.bypass_g = brew->number[BREW_BYPASS_G],
		.evaporated_g = NAN,
		.moisture_percent = brew->number[BREW_MOISTURE_PERCENT],
		.tds_percent = analysis->brews[b].tds_percent,
		.retention_g_per_g = retention,
	};
}

/* Mean retention of the brews whose beverage was weighed, read or not: a strength of 0 changes it by a per cent only. */
static double mean_retention(const struct analysis *analysis)
{
	struct moments moments = MOMENTS_INIT;

	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (isfinite(analysis->brews[b].yield.retained_water_per_g) &&
		    !(analysis->brews[b].yield.flags & (YIELD_RETENTION_NEGATIVE | YIELD_RETENTION_UNUSUAL)))
			moments_add(&moments, analysis->brews[b].yield.retained_water_per_g);
	return moments.n > 0 ? moments_mean(&moments) : analysis->settings->retention_per_g;
}

static void flag_masses(struct analysis *analysis, size_t b)
{
	struct brew_result *result = &analysis->brews[b];
	const double *number = analysis->run->brews[b].number;
	double poured = number[BREW_WATER_G] + (isnan(number[BREW_BYPASS_G]) ? 0.0 : number[BREW_BYPASS_G]);

	if (result->yield.flags & YIELD_BEVERAGE_ESTIMATED)
		result->flags |= BREW_ESTIMATED;
	if (result->yield.flags & (YIELD_RETENTION_NEGATIVE | YIELD_RETENTION_UNUSUAL))
		result->flags |= BREW_RETENTION_ODD;
	if (number[BREW_BEVERAGE_G] > poured)
		result->flags |= BREW_WRONG_DOSE_SIDE;
}

static void flag_odd_retention(struct analysis *analysis, double *retained, double *scratch)
{
	double median, mad;
	size_t n = 0;

	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (isfinite(analysis->brews[b].yield.retained_water_per_g))
			retained[n++] = analysis->brews[b].yield.retained_water_per_g;
	if (n < 4)
		return;
	mad = values_mad(retained, n, scratch, &median);
	for (size_t b = 0; b < analysis->run->brew_count; b++) {
		double x = analysis->brews[b].yield.retained_water_per_g;

		if (isfinite(x) && fabs(x - median) > RETENTION_LEAST_GAP &&
		    fabs(robust_z(x, median, mad)) > RETENTION_ROBUST_Z)
			analysis->brews[b].flags |= BREW_RETENTION_ODD;
	}
}

enum status yields_compute(struct analysis *analysis, struct error *error)
{
	size_t brews = analysis->run->brew_count;
	double *retained = malloc((2 * brews + 1) * sizeof(*retained));
	double retention;

	if (!retained)
		return error_set(error, STATUS_MEMORY, "no memory for the yields of %zu brews", brews);
	for (size_t pass = 0; pass < 2;
	     pass++) { /* the first pass shows the retention that the second estimates with */
		retention = pass == 0 ? analysis->settings->retention_per_g : mean_retention(analysis);
		for (size_t b = 0; b < brews; b++) {
			struct yield_input in = input_of(analysis, b, retention);

			yield_compute(&in, &analysis->brews[b].yield);
		}
	}
	for (size_t b = 0; b < brews; b++)
		flag_masses(analysis, b);
	flag_odd_retention(analysis, retained, retained + brews);
	free(retained);
	return STATUS_OK;
}

/* Do all brews name the same scale, or none? Its own error is then common to them. */
static bool one_scale(const struct run *run)
{
	for (size_t b = 1; b < run->brew_count; b++)
		if (!slice_equal(run->brews[b].word[BREW_SCALE], run->brews[0].word[BREW_SCALE]))
			return false;
	return true;
}

/* Stated accuracy of the meter in % TDS: as set, or as the profile has it. */
static double meter_limit(const struct analysis *analysis, size_t b)
{
	const struct brew_result *brew = &analysis->brews[b];
	const struct meter *meter;
	double factor = analysis->run->brews[b].type_factor;

	if (isfinite(analysis->settings->meter_accuracy) || brew->count == 0)
		return analysis->settings->meter_accuracy;
	meter = &analysis->run->meters[analysis->run->readings[analysis->by_brew[brew->first]].meter];
	switch (meter->unit) {
	case UNIT_TDS_PERCENT:
		return meter->accuracy * factor / meter->scale_factor;
	case UNIT_BRIX:
		return meter->accuracy * factor;
	case UNIT_INDEX:
		return meter->accuracy * 700.3 * factor; /* % per unit of index near water: optics of sucrose */
	case UNIT_NONE:
		break;
	}
	return NAN;
}

static struct brew_knowledge knowledge_of(const struct analysis *analysis, size_t b, bool shared_scale)
{
	struct weighing weighing = {
		.step_g = analysis->settings->scale_step_g,
		.limit_g = analysis->settings->scale_accuracy_g,
		.by_difference = true,
		.shared_scale = shared_scale,
	};

	return (struct brew_knowledge){
		.reading_s_percent = analysis->repeatability.s_r,
		.reading_df = analysis->repeatability.df,
		.reading_count = analysis->brews[b].used,
		.meter_step_percent = analysis->repeatability.step,
		.meter_limit_percent = meter_limit(analysis, b),
		.temp_u_percent = NAN,
		.retention_u = NAN,
		.dose = weighing,
		.water = weighing,
		.beverage = weighing,
		.bypass = weighing,
	};
}

static void share_by_input(struct brew_result *brew, const struct budget_source *sources, const double *shares,
                           size_t n)
{
	for (size_t q = 0; q < YIELD_QUANTITIES; q++)
		brew->share[q] = 0.0;
	for (size_t i = 0; i < n; i++)
		brew->share[sources[i].input] += shares[i];
}

/* By how much the yield moves with the strength that was read, by a small step either way: percolation is a straight line. */
static double yield_slope(const struct yield_input *in)
{
	const double step = 0.01; /* % TDS: a display's last digit */
	struct yield_input low = *in, high = *in;
	struct yield below, above;

	low.tds_percent -= step;
	high.tds_percent += step;
	yield_compute(&low, &below);
	yield_compute(&high, &above);
	return (above.yield_percent - below.yield_percent) / (2 * step);
}

/* The retention that a brew without a weighed beverage was estimated with is not kept; its mean serves again. */
static void budget_one(struct analysis *analysis, size_t b, bool shared_scale, double retention)
{
	struct yield_input in = input_of(analysis, b, retention);
	struct brew_knowledge known = knowledge_of(analysis, b, shared_scale);
	struct budget_source sources[BREW_SOURCES_MAX];
	double shares[BREW_SOURCES_MAX];
	size_t n = brew_sources(&in, &known, sources);

	yield_budget(&in, sources, n, analysis->settings->confidence, &analysis->brews[b].budget, shares);
	share_by_input(&analysis->brews[b], sources, shares, n);
	analysis->brews[b].yield_per_tds = yield_slope(&in);
}

static size_t typical_brew(const struct analysis *analysis)
{
	struct moments moments = MOMENTS_INIT;
	size_t best = SIZE_MAX;
	double nearest = INFINITY;

	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (isfinite(analysis->brews[b].yield.yield_percent))
			moments_add(&moments, analysis->brews[b].yield.yield_percent);
	for (size_t b = 0; b < analysis->run->brew_count; b++) {
		double away = fabs(analysis->brews[b].yield.yield_percent - moments_mean(&moments));

		if (away < nearest) {
			nearest = away;
			best = b;
		}
	}
	return best;
}

static const char *unit_of_quantity(size_t quantity)
{
	switch ((enum yield_quantity)quantity) {
	case QUANTITY_TDS:
		return "% TDS";
	case QUANTITY_RETENTION:
		return "g/g";
	case QUANTITY_DOSE:
	case QUANTITY_WATER:
	case QUANTITY_BEVERAGE:
	case QUANTITY_BYPASS:
		return "g";
	case YIELD_QUANTITIES:
		break;
	}
	return "";
}

static enum status budget_rows_fill(struct analysis *analysis, bool shared_scale, double retention, struct error *error)
{
	struct yield_input in;
	struct brew_knowledge known;
	struct budget_source sources[BREW_SOURCES_MAX];
	double shares[BREW_SOURCES_MAX];
	double *draws;
	struct budget budget;
	struct montecarlo check;
	size_t n;

	analysis->budget_brew = typical_brew(analysis);
	analysis->montecarlo_u = NAN;
	if (analysis->budget_brew == SIZE_MAX)
		return STATUS_OK;
	in = input_of(analysis, analysis->budget_brew, retention);
	known = knowledge_of(analysis, analysis->budget_brew, shared_scale);
	n = brew_sources(&in, &known, sources);
	analysis->budget_rows = arena_take(&analysis->memory, (n + 1) * sizeof(*analysis->budget_rows));
	draws = malloc(MONTECARLO_DRAWS * sizeof(*draws));
	if (!analysis->budget_rows || !draws) {
		free(draws);
		return error_set(error, STATUS_MEMORY, "no memory for the uncertainty budget");
	}
	yield_budget(&in, sources, n, analysis->settings->confidence, &budget, shares);
	for (size_t i = 0; i < n; i++)
		analysis->budget_rows[i] = (struct budget_row){
			.name = sources[i].name,
			.u = sources[i].u,
			.unit = unit_of_quantity(sources[i].input),
			.share = shares[i],
			.points = budget.u * sqrt(shares[i] / 100.0),
			.common = sources[i].scope == SCOPE_COMMON,
		};
	analysis->budget_row_count = n;
	yield_montecarlo(&in, sources, n, (uint64_t)analysis->settings->seed, analysis->settings->confidence, draws,
	                 MONTECARLO_DRAWS, &check);
	analysis->montecarlo_u = check.sd;
	free(draws);
	return STATUS_OK;
}

double yields_scale_u(const struct analysis *analysis)
{
	double retention = mean_retention(analysis);
	double own[2];

	if (analysis->budget_brew == SIZE_MAX || one_scale(analysis->run))
		return 0;
	for (size_t shared = 0; shared < 2; shared++) {
		struct yield_input in = input_of(analysis, analysis->budget_brew, retention);
		struct brew_knowledge known = knowledge_of(analysis, analysis->budget_brew, shared == 1);
		struct budget_source sources[BREW_SOURCES_MAX];
		double shares[BREW_SOURCES_MAX];
		size_t n = brew_sources(&in, &known, sources);
		struct budget budget;

		yield_budget(&in, sources, n, analysis->settings->confidence, &budget, shares);
		own[shared] = budget.u_own;
	}
	return own[0] > own[1] ? sqrt(own[0] * own[0] - own[1] * own[1]) : 0;
}

enum status yields_budget(struct analysis *analysis, struct error *error)
{
	struct repeatability *r = &analysis->repeatability;
	struct moments slope = MOMENTS_INIT;
	bool shared_scale = one_scale(analysis->run);
	double retention = mean_retention(analysis);

	for (size_t b = 0; b < analysis->run->brew_count; b++) {
		const struct yield *yield = &analysis->brews[b].yield;

		budget_one(analysis, b, shared_scale, retention);
		if (isfinite(yield->yield_percent) && analysis->brews[b].tds_percent > 0)
			moments_add(&slope, yield->yield_percent / analysis->brews[b].tds_percent);
	}
	/* points of yield that a point of TDS makes: beverage over dose by percolation, much the same by immersion */
	r->yield_s_r = r->claimed * moments_mean(&slope);
	r->yield_limit = r->limit * moments_mean(&slope);
	return budget_rows_fill(analysis, shared_scale, retention, error);
}
