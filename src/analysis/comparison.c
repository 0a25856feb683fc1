/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "comparison.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "brew_summary.h"
#include "correct.h"
#include "describe.h"
#include "dunnett.h"
#include "letters.h"
#include "outliers.h"
#include "outlying.h"
#include "power.h"
#include "precision.h"
#include "response.h"
#include "rounds.h"
#include "spread_check.h"
#include "unseen.h"

enum { LETTERS_ROOM_FACTOR = 4 };

#define LIMIT_LEVEL 0.01 /* of Mandel's h, as its limit is shown */

/* Brew values laid out treatment by treatment, and what is made of them on the way. */
struct layout {
	double *values;                  /* responses, treatment by treatment */
	size_t *brew_of;                 /* parallel to values */
	struct group_values *groups;     /* one a treatment, empty ones too */
	struct group_summary *summaries; /* parallel to groups */
	size_t count;                    /* of values */
	size_t present;                  /* treatments with a value */
	struct rounds rounds;
};

static void layout_release(struct layout *layout)
{
	free(layout->values);
	free(layout->brew_of);
	free(layout->groups);
	free(layout->summaries);
	rounds_release(&layout->rounds);
}

static void layout_place(struct layout *layout, const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	size_t at = 0;

	for (size_t b = 0; b < run->brew_count; b++)
		if (isfinite(analysis->brews[b].response))
			layout->groups[run->brews[b].treatment].n++;
	for (size_t t = 0; t < run->treatment_count; t++) {
		layout->groups[t].values = layout->values + at;
		at += layout->groups[t].n;
		layout->present += layout->groups[t].n > 0;
		layout->groups[t].n = 0;
	}
	for (size_t b = 0; b < run->brew_count; b++) {
		struct group_values *group = &layout->groups[run->brews[b].treatment];
		size_t place;

		if (!isfinite(analysis->brews[b].response))
			continue;
		place = (size_t)(group->values - layout->values) + group->n++;
		layout->values[place] = analysis->brews[b].response;
		layout->brew_of[place] = b;
	}
	layout->count = at;
	for (size_t t = 0; t < run->treatment_count; t++)
		layout->summaries[t] = values_summary(layout->groups[t].values, layout->groups[t].n);
}

static bool layout_fill(struct layout *layout, const struct analysis *analysis)
{
	size_t brews = analysis->run->brew_count + 1;
	size_t treatments = analysis->run->treatment_count + 1;

	*layout = (struct layout){
		.values = calloc(brews, sizeof(*layout->values)),
		.brew_of = calloc(brews, sizeof(*layout->brew_of)),
		.groups = calloc(treatments, sizeof(*layout->groups)),
		.summaries = calloc(treatments, sizeof(*layout->summaries)),
	};
	if (!layout->values || !layout->brew_of || !layout->groups || !layout->summaries)
		return false;
	layout_place(layout, analysis);
	return rounds_fit(&layout->rounds, analysis);
}

/* -- treatments ------------------------------------------------------------ */

static double mean_over_brews(const struct analysis *analysis, size_t treatment,
                              double (*of)(const struct analysis *, size_t))
{
	struct moments moments = MOMENTS_INIT;

	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (analysis->run->brews[b].treatment == treatment && isfinite(of(analysis, b)))
			moments_add(&moments, of(analysis, b));
	return moments_mean(&moments);
}

static double brew_retained(const struct analysis *analysis, size_t b)
{
	return analysis->brews[b].yield.retained_water_per_g;
}

static double brew_time(const struct analysis *analysis, size_t b)
{
	return analysis->run->brews[b].number[BREW_TIME_S];
}

static void describe_tds(struct analysis *analysis)
{
	const struct run *run = analysis->run;
	struct moments *moments = calloc(run->treatment_count + 1, sizeof(*moments));

	if (!moments)
		return; /* the columns stay "not determined" */
	for (size_t b = 0; b < run->brew_count; b++)
		if (isfinite(analysis->brews[b].tds_percent))
			moments_add(&moments[run->brews[b].treatment], analysis->brews[b].tds_percent);
	for (size_t t = 0; t < run->treatment_count; t++) {
		analysis->treatments[t].tds_percent = moments_mean(&moments[t]);
		analysis->treatments[t].tds_sd = moments_sd(&moments[t]);
	}
	free(moments);
}

static void describe_treatments(struct analysis *analysis, const struct layout *layout)
{
	const struct comparison *comparison = &analysis->comparison;
	double factor = coverage_factor(analysis->settings->confidence, comparison->s_brew_df);

	describe_tds(analysis);
	for (size_t t = 0; t < analysis->run->treatment_count; t++) {
		struct treatment_result *result = &analysis->treatments[t];
		const struct group_values *group = &layout->groups[t];
		double half = factor * hypot(comparison->s_brew / sqrt((double)group->n), comparison->step_u);

		result->brews = group->n;
		result->mean = layout->summaries[t].mean;
		result->sd = layout->summaries[t].sd;
		result->adjusted = layout->rounds.used && group->n > 0 ? layout->rounds.fit.adjusted[t] : NAN;
		result->min = values_min(group->values, group->n);
		result->max = values_max(group->values, group->n);
		result->lower = result->mean - half;
		result->upper = result->mean + half;
		result->retained_per_g = mean_over_brews(analysis, t, brew_retained);
		result->brew_time_s = mean_over_brews(analysis, t, brew_time);
	}
}

struct rank_entry {
	double mean;
	size_t index;
};

static int by_mean_down(const void *left, const void *right)
{
	const struct rank_entry *a = left;
	const struct rank_entry *b = right;

	if (isnan(a->mean) != isnan(b->mean))
		return isnan(a->mean) ? 1 : -1;
	if (a->mean != b->mean)
		return a->mean > b->mean ? -1 : 1;
	return a->index < b->index ? -1 : a->index > b->index;
}

static bool rank_treatments(struct analysis *analysis)
{
	size_t k = analysis->run->treatment_count;
	struct rank_entry *entries = calloc(k + 1, sizeof(*entries));

	analysis->ranked = arena_take(&analysis->memory, (k + 1) * sizeof(*analysis->ranked));
	if (!entries || !analysis->ranked) {
		free(entries);
		return false;
	}
	for (size_t t = 0; t < k; t++)
		entries[t] = (struct rank_entry){ analysis->treatments[t].mean, t };
	qsort(entries, k, sizeof(*entries), by_mean_down);
	for (size_t t = 0; t < k; t++)
		analysis->ranked[t] = entries[t].index;
	free(entries);
	return true;
}

/* -- the spread that verdicts are taken with --------------------------------- */

static void choose_spread(struct analysis *analysis, const struct layout *layout)
{
	struct comparison *comparison = &analysis->comparison;
	const struct settings *settings = analysis->settings;
	struct interval interval;

	comparison->oneway = oneway_of_values(layout->groups, analysis->run->treatment_count);
	comparison->source = SPREAD_NONE;
	comparison->s_brew = comparison->s_brew_df = NAN;
	if (layout->rounds.used) {
		const struct blocks_fit *fit = &layout->rounds.fit;

		comparison->source = SPREAD_RUN;
		comparison->blocked = true;
		comparison->block_adjusted = !layout->rounds.plain;
		comparison->block_row = fit->block_first;
		comparison->treatment_row = fit->treatment_adjusted;
		comparison->residual_row = fit->residual;
		comparison->s_brew = sqrt(fit->residual.ms);
		comparison->s_brew_df = fit->residual.df;
	} else if (comparison->oneway.df_within > 0) {
		comparison->source = SPREAD_RUN;
		comparison->s_brew = comparison->oneway.residual_sd;
		comparison->s_brew_df = comparison->oneway.df_within;
	} else if (comparison->response.is_yield && isfinite(settings->history_sd) && isfinite(settings->history_df)) {
		comparison->source = SPREAD_HISTORY;
		comparison->s_brew = settings->history_sd;
		comparison->s_brew_df = settings->history_df;
	}
	interval = sd_interval(comparison->s_brew, comparison->s_brew_df, settings->confidence);
	comparison->s_brew_lower = interval.lower;
	comparison->s_brew_upper = interval.upper;
}

/* One brew each: two means of n readings differ by more than this in 5 of 100 cases through the meter alone (ISO 5725-6). */
static double meter_alone(const struct analysis *analysis)
{
	struct moments readings = MOMENTS_INIT;
	double s;

	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (analysis->brews[b].used > 0)
			moments_add(&readings, (double)analysis->brews[b].used);
	s = analysis->comparison.response.is_yield ? analysis->repeatability.yield_s_r :
	                                             analysis->repeatability.claimed;
	return PRECISION_LIMIT_EXACT * s / sqrt(moments_mean(&readings));
}

/* -- pairs ------------------------------------------------------------------- */

static struct pair_estimate pair_estimate_made(const struct analysis *analysis, const struct layout *layout, size_t a,
                                               size_t b)
{
	struct pair_estimate estimate = analysis->comparison.block_adjusted ? rounds_difference(&layout->rounds, a, b) :
	                                                                      pair_estimate_of(layout->summaries, a, b);

	estimate.unseen = unseen_variance(analysis, a, b);
	return estimate;
}

static void add_pair(struct analysis *analysis, const struct tukey_rule *rule, const struct layout *layout, size_t a,
                     size_t b)
{
	struct comparison *comparison = &analysis->comparison;
	struct pair_result *pair = &comparison->pairs[comparison->pair_count++];
	struct pair_estimate estimate = pair_estimate_made(analysis, layout, a, b);

	*pair = pair_tukey_estimated(rule, &estimate);
	if (isfinite(pair->statistic))
		pair->p = pair_tukey_p(rule, pair);
}

/* Pairs run from the largest mean down, each with the larger mean first: differences read as "more than". */
static void fill_pairs(struct analysis *analysis, const struct tukey_rule *rule, const struct layout *layout)
{
	const size_t *ranked = analysis->ranked;
	size_t present = layout->present;

	for (size_t i = 0; i < present; i++)
		for (size_t j = i + 1; j < present; j++) {
			if (analysis->comparison.pairs_limited && j > i + 1)
				break;
			add_pair(analysis, rule, layout, ranked[i], ranked[j]);
		}
}

static bool equal_brews(const struct analysis *analysis, const struct layout *layout)
{
	size_t n = layout->groups[analysis->ranked[0]].n;

	for (size_t i = 1; i < layout->present; i++)
		if (layout->groups[analysis->ranked[i]].n != n)
			return false;
	return true;
}

static size_t settle_pair(const struct analysis *analysis, const struct pair_result *pair, enum family family,
                          size_t treatments)
{
	const struct comparison *comparison = &analysis->comparison;
	struct settle_query query = {
		.family = family,
		.treatments = treatments,
		.difference = pair->difference,
		.variance_sum = 2 * comparison->s_brew * comparison->s_brew,
		.unseen = unseen_variance(analysis, pair->a, pair->b),
		.df_base = comparison->source == SPREAD_HISTORY ? comparison->s_brew_df : 0,
		.df_rate = (double)treatments,
		.claim = { 1 - analysis->settings->confidence, comparison->response.margin },
	};

	if (pair->verdict != VERDICT_OPEN || !(comparison->s_brew > 0))
		return 0;
	return brews_to_settle(&query).brews;
}

static bool make_pairs(struct analysis *analysis, const struct layout *layout)
{
	struct comparison *comparison = &analysis->comparison;
	struct claim claim = { 1 - analysis->settings->confidence, comparison->response.margin };
	double mse = comparison->s_brew * comparison->s_brew;
	struct tukey_rule rule;
	size_t room;

	if (layout->present < 2)
		return true;
	comparison->pairs_limited = layout->present > PAIRS_SHOWN_TREATMENTS;
	room = comparison->pairs_limited ? layout->present : pairs_count(layout->present);
	comparison->pairs = arena_take(&analysis->memory, room * sizeof(*comparison->pairs));
	comparison->settle = arena_take(&analysis->memory, room * sizeof(*comparison->settle));
	if (!comparison->pairs || !comparison->settle)
		return false;
	rule = tukey_rule(layout->present, mse, comparison->s_brew_df, claim);
	if (equal_brews(analysis, layout) && !comparison->block_adjusted)
		tukey_rule_balance(&rule);
	comparison->tukey_factor = rule.factor;
	fill_pairs(analysis, &rule, layout);
	for (size_t i = 0; i < comparison->pair_count; i++)
		comparison->settle[i] = settle_pair(analysis, &comparison->pairs[i], FAMILY_ALL_PAIRS, layout->present);
	return true;
}

/* Where the spreads differ, the pairs once more without taking them as equal. */
static bool make_unequal(struct analysis *analysis, const struct layout *layout)
{
	struct comparison *comparison = &analysis->comparison;
	struct claim claim = { 1 - analysis->settings->confidence, comparison->response.margin };

	/* taken apart by rounds, each treatment has no spread of its own */
	if (!(comparison->levene_p < 0.05) || comparison->pairs_limited || comparison->blocked)
		return true;
	comparison->unequal = arena_take(&analysis->memory, comparison->pair_count * sizeof(*comparison->unequal));
	if (!comparison->unequal)
		return false;
	for (size_t i = 0; i < comparison->pair_count; i++)
		comparison->unequal[i] = pair_games_howell(
			layout->summaries, layout->present, comparison->pairs[i].a, comparison->pairs[i].b,
			unseen_variance(analysis, comparison->pairs[i].a, comparison->pairs[i].b), claim);
	return true;
}

/* -- control ----------------------------------------------------------------- */

static enum status find_control(struct analysis *analysis, struct error *error)
{
	const struct run *run = analysis->run;
	struct slice wanted = slice_trim(slice_from(analysis->settings->control));
	char list[300] = "";
	size_t used = 0;

	analysis->comparison.control = SIZE_MAX;
	if (wanted.len == 0)
		return STATUS_OK;
	for (size_t t = 0; t < run->treatment_count; t++)
		if (slice_equal_nocase(run->treatments[t].name, wanted))
			analysis->comparison.control = t;
	for (size_t t = 0; t < run->treatment_count; t++)
		if (slice_equal(run->treatments[t].name, wanted))
			analysis->comparison.control = t;
	if (analysis->comparison.control != SIZE_MAX)
		return STATUS_OK;
	for (size_t t = 0; t < run->treatment_count && used + run->treatments[t].name.len + 3 < sizeof(list); t++) {
		memcpy(list + used, ", ", used > 0 ? 2 : 0);
		used += used > 0 ? 2 : 0;
		memcpy(list + used, run->treatments[t].name.text, run->treatments[t].name.len);
		used += run->treatments[t].name.len;
		list[used] = '\0';
	}
	return error_set(error, STATUS_INVALID, "no treatment is called \"%.*s\"; expected one of: %s",
	                 SLICE_ARG(wanted), list);
}

/* What comparing with the control needs. */
struct control_space {
	struct pair_estimate *estimates;
	double *lambda; /* parallel to estimates */
};

static void control_judge(struct analysis *analysis, const struct layout *layout, struct control_space *space)
{
	struct comparison *comparison = &analysis->comparison;
	struct claim claim = { 1 - analysis->settings->confidence, comparison->response.margin };
	double mse = comparison->s_brew * comparison->s_brew;
	size_t own = layout->summaries[comparison->control].n;
	size_t n = 0;

	for (size_t i = 0; i < layout->present; i++) {
		size_t treatment = analysis->ranked[i];

		if (treatment == comparison->control)
			continue;
		space->estimates[n] = pair_estimate_made(analysis, layout, treatment, comparison->control);
		space->lambda[n] = comparison->block_adjusted ? M_SQRT1_2 :
		                                                dunnett_lambda(layout->summaries[treatment].n, own);
		n++;
	}
	comparison->against_count = n;
	pairs_dunnett(comparison->against, space->estimates, space->lambda, n, mse, comparison->s_brew_df, claim);
}

static bool against_control(struct analysis *analysis, const struct layout *layout)
{
	struct comparison *comparison = &analysis->comparison;
	size_t k = layout->present;
	struct control_space space;
	bool done;

	if (k < 2 || layout->summaries[comparison->control].n == 0)
		return true;
	space = (struct control_space){
		.estimates = calloc(k, sizeof(*space.estimates)),
		.lambda = calloc(k, sizeof(*space.lambda)),
	};
	comparison->against = arena_take(&analysis->memory, k * sizeof(*comparison->against));
	comparison->against_settle = arena_take(&analysis->memory, k * sizeof(*comparison->against_settle));
	done = space.estimates && space.lambda && comparison->against && comparison->against_settle;
	if (done)
		control_judge(analysis, layout, &space);
	for (size_t i = 0; done && i < comparison->against_count; i++)
		comparison->against_settle[i] = settle_pair(analysis, &comparison->against[i], FAMILY_CONTROL, k);
	free(space.estimates);
	free(space.lambda);
	return done;
}

/* -- letters ----------------------------------------------------------------- */

struct letter_space {
	double *means;
	bool *differ;
	size_t *order;
	uint64_t *words;
	size_t *place_of; /* treatment to place among those present */
};

static void letters_write(struct analysis *analysis, const struct layout *layout, struct letter_space *space)
{
	struct comparison *comparison = &analysis->comparison;
	size_t k = layout->present;
	struct letters letters;

	for (size_t i = 0; i < k; i++) {
		space->means[i] = analysis->treatments[analysis->ranked[i]].mean;
		space->place_of[analysis->ranked[i]] = i;
	}
	for (size_t i = 0; i < comparison->pair_count; i++) {
		size_t a = space->place_of[comparison->pairs[i].a];
		size_t b = space->place_of[comparison->pairs[i].b];

		space->differ[a < b ? a * k + b : b * k + a] = comparison->pairs[i].verdict == VERDICT_DIFFER;
	}
	letters = letters_find(space->means, space->differ, k, space->order, space->words, LETTERS_ROOM_FACTOR * k);
	comparison->letters = letters.complete;
	for (size_t i = 0; letters.complete && i < k; i++)
		letters_text(&letters, i, analysis->treatments[analysis->ranked[i]].letters,
		             sizeof(analysis->treatments[0].letters));
}

static bool make_letters(struct analysis *analysis, const struct layout *layout)
{
	const struct comparison *comparison = &analysis->comparison;
	size_t k = layout->present;
	struct letter_space space;
	bool done;

	if (comparison->source == SPREAD_NONE || comparison->pairs_limited || k < 2)
		return true;
	space = (struct letter_space){
		.means = calloc(k, sizeof(*space.means)),
		.differ = calloc(k * k, sizeof(*space.differ)),
		.order = calloc(k, sizeof(*space.order)),
		.words = calloc(letters_words(k, LETTERS_ROOM_FACTOR * k), sizeof(*space.words)),
		.place_of = calloc(analysis->run->treatment_count, sizeof(*space.place_of)),
	};
	done = space.means && space.differ && space.order && space.words && space.place_of;
	if (done)
		letters_write(analysis, layout, &space);
	free(space.means);
	free(space.differ);
	free(space.order);
	free(space.words);
	free(space.place_of);
	return done;
}

/* -- the rest ---------------------------------------------------------------- */

static void mark_brews(struct analysis *analysis, const struct layout *layout)
{
	const size_t *brew_of = layout->brew_of;
	size_t most = 0;

	for (size_t b = 0; b < analysis->run->brew_count; b++)
		analysis->brews[b].mandel_h = NAN;
	for (size_t t = 0; t < analysis->run->treatment_count; t++) {
		const struct group_values *group = &layout->groups[t];

		outlying_mark(analysis, &analysis->treatments[t].apart, group, brew_of);
		brew_of += group->n;
		most = group->n > most ? group->n : most;
	}
	analysis->comparison.h_limit = mandel_h_limit(most, LIMIT_LEVEL);
}

/* Two significant digits of the spread of a mean decide how many decimals are worth showing. */
static int decimals_for(double uncertainty)
{
	int decimals;

	if (!(uncertainty > 0) || !isfinite(uncertainty))
		return 2;
	decimals = 1 - (int)floor(log10(uncertainty));
	if (decimals < 0)
		return 0;
	return decimals > 6 ? 6 : decimals;
}

static void choose_decimals(struct analysis *analysis, const struct layout *layout)
{
	struct comparison *comparison = &analysis->comparison;
	double per_treatment = layout->present > 0 ? (double)layout->count / (double)layout->present : NAN;
	double uncertainty = comparison->s_brew / sqrt(per_treatment);

	if (comparison->source == SPREAD_NONE)
		uncertainty = comparison->meter_limit / PRECISION_LIMIT_EXACT;
	/* what the machine's arithmetic leaves of equal values is no spread */
	if (uncertainty < 1e-12 * fabs(comparison->oneway.grand_mean))
		uncertainty = 0;
	comparison->response.decimals = decimals_for(uncertainty);
	/* a spread of 0 would ask for digits without end, and a yield is never known to a thousandth of a point */
	if (comparison->response.is_yield && comparison->response.decimals > 2)
		comparison->response.decimals = 2;
}

/*
 * With the control the comparisons with it count, else all pairs: as the verdicts do, so a difference that size is one that
 * the report would have called different. Where standard errors are unequal their root mean square stands for them.
 */
static void design_reach(struct analysis *analysis)
{
	struct comparison *comparison = &analysis->comparison;
	bool control = comparison->against_count > 0;
	const struct pair_result *pairs = control ? comparison->against : comparison->pairs;
	size_t count = control ? comparison->against_count : comparison->pair_count;
	double factor = comparison->tukey_factor, squares = 0;

	comparison->smallest_seen = NAN;
	if (count == 0 || !(comparison->s_brew > 0))
		return;
	if (control)
		factor = pairs[0].half_width / pairs[0].standard_error;
	for (size_t i = 0; i < count; i++)
		squares += pairs[i].standard_error * pairs[i].standard_error;
	comparison->smallest_seen = sqrt(squares / (double)count) *
	                            power_shift(factor, comparison->s_brew_df, analysis->settings->power);
}

static enum status comparison_fill(struct analysis *analysis, struct layout *layout, struct error *error)
{
	struct comparison *comparison = &analysis->comparison;
	bool done;

	comparison->compared = layout->present;
	choose_spread(analysis, layout);
	unseen_find(analysis);
	describe_treatments(analysis, layout);
	done = rank_treatments(analysis) && make_pairs(analysis, layout) &&
	       spread_check(analysis, layout->groups, layout->summaries, &layout->rounds);
	if (done) {
		comparison->meter_limit = response_from_readings(&comparison->response) ? meter_alone(analysis) : NAN;
		choose_decimals(analysis, layout);
		mark_brews(analysis, layout);
		done = make_unequal(analysis, layout) && make_letters(analysis, layout) &&
		       (comparison->control == SIZE_MAX || against_control(analysis, layout));
		design_reach(analysis);
	}
	return done ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory for the comparison");
}

enum status comparison_make(struct analysis *analysis, struct error *error)
{
	size_t treatments = analysis->run->treatment_count;
	struct layout layout = { .values = NULL };
	enum status status;

	status = find_control(analysis, error);
	if (status != STATUS_OK)
		return status;
	analysis->treatments = arena_take(&analysis->memory, (treatments + 1) * sizeof(*analysis->treatments));
	if (analysis->treatments && layout_fill(&layout, analysis))
		status = comparison_fill(analysis, &layout, error);
	else
		status = error_set(error, STATUS_MEMORY, "no memory for %zu treatments", treatments);
	layout_release(&layout);
	return status;
}
