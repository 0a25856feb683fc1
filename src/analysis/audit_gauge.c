/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_gauge.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audit_effort.h"
#include "audit_gauge_words.h"
#include "correct.h"
#include "random_components.h"
#include "sucrose.h"

/* The factors of the model, by part, as levels of each load. */
struct levels {
	size_t *of[GAUGE_PARTS]; /* NULL: not in the study */
	size_t count[GAUGE_PARTS];
};

const char *gauge_part_name(enum gauge_part part)
{
	switch (part) {
	case GAUGE_SAMPLE:
		return "samples";
	case GAUGE_OPERATOR:
		return "operators";
	case GAUGE_INTERACTION:
		return "operators on single samples";
	case GAUGE_DAY:
		return "days";
	case GAUGE_LOAD:
		return "loads of the prism";
	case GAUGE_READING:
		return "readings";
	case GAUGE_PARTS:
		break;
	}
	return "";
}

/* -- which factors there are ------------------------------------------------------------ */

/* Does the level of b follow from that of a, for all loads? */
static bool nested_in(const struct audit_gauge *gauge, const size_t *a, const size_t *b)
{
	for (size_t i = 0; i < gauge->loads; i++)
		for (size_t j = i + 1; j < gauge->loads; j++)
			if (a[i] == a[j] && b[i] != b[j])
				return false;
	return true;
}

static bool same_partition(const struct audit_gauge *gauge, const size_t *a, const size_t *b)
{
	return nested_in(gauge, a, b) && nested_in(gauge, b, a);
}

static bool each_alone(const struct audit_gauge *gauge, const size_t *levels)
{
	for (size_t i = 0; i < gauge->loads; i++)
		for (size_t j = i + 1; j < gauge->loads; j++)
			if (levels[i] == levels[j])
				return false;
	return true;
}

static size_t *levels_take(struct audit_gauge *gauge)
{
	return arena_take(&gauge->memory, gauge->loads * sizeof(size_t));
}

/* Numbers the levels of which there are readings from 0 on, in the order of their loads; returns how many there are. */
static size_t renumber(size_t *levels, const size_t *named, size_t n)
{
	size_t count = 0;

	for (size_t i = 0; i < n; i++) {
		size_t j = 0;

		while (j < i && named[j] != named[i])
			j++;
		levels[i] = j < i ? levels[j] : count++;
	}
	return count;
}

static size_t named_level(const struct audit_gauge *gauge, size_t part, const struct gauge_load *load)
{
	const size_t operators = gauge->operators > 0 ? gauge->operators : 1;

	switch (part) {
	case GAUGE_SAMPLE:
		return load->sample;
	case GAUGE_OPERATOR:
		return load->operator;
	case GAUGE_INTERACTION:
		return load->sample * operators + load->operator;
	default:
		return load->day;
	}
}

static bool levels_fill(struct levels *levels, struct audit_gauge *gauge)
{
	size_t *named = levels_take(gauge);

	for (size_t part = 0; part < GAUGE_LOAD; part++) {
		levels->of[part] = levels_take(gauge);
		if (!named || !levels->of[part])
			return false;
		for (size_t i = 0; i < gauge->loads; i++)
			named[i] = named_level(gauge, part, &gauge->load[i]);
		levels->count[part] = renumber(levels->of[part], named, gauge->loads);
	}
	return true;
}

/*
 * Drops what the study can't tell from something else; the one that stays holds both, and the words say so. load: loads
 * are not told apart from another part.
 */
static bool levels_choose(struct levels *levels, struct audit_gauge *gauge, bool *load)
{
	*load = true;
	for (size_t part = 0; part < GAUGE_LOAD; part++)
		if (levels->count[part] < 2)
			levels->of[part] = NULL;
	if (!levels->of[GAUGE_SAMPLE] || !levels->of[GAUGE_OPERATOR])
		levels->of[GAUGE_INTERACTION] = NULL;
	if (levels->of[GAUGE_INTERACTION] && each_alone(gauge, levels->of[GAUGE_INTERACTION])) {
		levels->of[GAUGE_INTERACTION] = NULL;
		if (!gauge_say_mixed(gauge, GAUGE_LOAD, GAUGE_INTERACTION))
			return false;
	}
	for (size_t part = 0; part < GAUGE_LOAD; part++) {
		if (!levels->of[part])
			continue;
		if (each_alone(gauge, levels->of[part])) {
			*load = false;
			if (!gauge_say_mixed(gauge, (enum gauge_part)part, GAUGE_LOAD))
				return false;
		}
		for (size_t other = part + 1; other < GAUGE_LOAD; other++) {
			if (!levels->of[other] || !same_partition(gauge, levels->of[part], levels->of[other]))
				continue;
			levels->of[other] = NULL;
			if (!gauge_say_mixed(gauge, (enum gauge_part)part, (enum gauge_part)other))
				return false;
		}
	}
	return true;
}

/* -- components --------------------------------------------------------------------------- */

static void part_set(struct gauge_part_result *part, double var, double df, double total, double confidence)
{
	struct interval interval;

	part->present = isfinite(var);
	part->var = var;
	part->sd = sqrt(var);
	part->df = df;
	part->share = 100 * var / total;
	interval = df >= 1 ? sd_interval(part->sd, df, confidence) : (struct interval){ NAN, NAN };
	part->lower = interval.lower;
	part->upper = interval.upper;
}

static void parts_set(struct audit_gauge *gauge, const struct random_components *fit, const size_t *slot,
                      double confidence)
{
	double total = 0, gauge_var = 0;

	for (size_t part = 0; part < GAUGE_PARTS; part++) {
		double var = slot[part] < COMPONENTS_MOST ? fit->var[slot[part]] : NAN;

		total += isfinite(var) ? var : 0;
		if (part != GAUGE_SAMPLE)
			gauge_var += isfinite(var) ? var : 0;
	}
	for (size_t part = 0; part < GAUGE_PARTS; part++) {
		bool is = slot[part] < COMPONENTS_MOST;

		part_set(&gauge->part[part], is ? fit->var[slot[part]] : NAN, is ? fit->df[slot[part]] : NAN, total,
		         confidence);
		gauge->part[part].share_meter = part != GAUGE_SAMPLE && gauge_var > 0 ?
		                                        100 * gauge->part[part].var / gauge_var :
		                                        NAN;
	}
	gauge->s_gauge = sqrt(gauge_var);
	gauge->s_sample = gauge->part[GAUGE_SAMPLE].present ? gauge->part[GAUGE_SAMPLE].sd : NAN;
	gauge->share_gauge = 100 * gauge_var / total;
	gauge->categories = gauge_categories(gauge->s_sample, gauge->s_gauge);
	gauge->mean = fit->mean;
	gauge->se_mean = fit->se_mean;
}

static bool components_compute(struct audit_gauge *gauge, const struct audit_query *query)
{
	struct component_factor factors[COMPONENT_FACTORS];
	struct brew_summary *cells = arena_take(&gauge->memory, gauge->loads * sizeof(*cells));
	struct component_query ask = { .cells = cells, .count = gauge->loads, .factors = factors };
	size_t slot[GAUGE_PARTS];
	struct random_components fit;
	struct levels levels;
	bool load;

	if (!cells || !levels_fill(&levels, gauge) || !levels_choose(&levels, gauge, &load))
		return false;
	for (size_t i = 0; i < gauge->loads; i++)
		cells[i] = gauge->load[i].readings;
	for (size_t part = 0; part < GAUGE_LOAD; part++) {
		slot[part] = COMPONENTS_MOST;
		if (!levels.of[part])
			continue;
		slot[part] = ask.factor_count;
		factors[ask.factor_count++] = (struct component_factor){ levels.of[part], levels.count[part] };
	}
	ask.cell_effect = load;
	slot[GAUGE_LOAD] = load ? COMPONENT_CELL : COMPONENTS_MOST;
	slot[GAUGE_READING] = COMPONENT_READING;
	if (!random_components_reml(&fit, &ask))
		return false;
	parts_set(gauge, &fit, slot, query->confidence);
	return true;
}

/* -- what textbooks print ------------------------------------------------------------------- */

/* Loads are the days of gauge.h's levels, set-ups (operator and day) its runs. */
static bool levels_compute(struct audit_gauge *gauge)
{
	const size_t days = gauge->days > 0 ? gauge->days : 1;
	const size_t operators = gauge->operators > 0 ? gauge->operators : 1;
	struct gauge_day *rows = arena_take(&gauge->memory, gauge->loads * sizeof(*rows));

	if (!rows)
		return false;
	for (size_t i = 0; i < gauge->loads; i++) {
		const struct gauge_load *load = &gauge->load[i];

		rows[i] = (struct gauge_day){
			.artefact = load->sample,
			.run = load->operator* days + load->day,
			.n = load->readings.n,
			.mean = load->readings.mean,
			.sd = brew_sd(&load->readings),
		};
	}
	gauge->levels = gauge_levels_of(rows, gauge->loads, gauge->samples > 0 ? gauge->samples : 1, operators * days);
	return true;
}

static void merge(struct brew_summary *into, const struct brew_summary *summary)
{
	double n = (double)into->n + (double)summary->n;
	double off = summary->mean - into->mean;

	if (into->n == 0) {
		*into = *summary;
		return;
	}
	into->ss += summary->ss + off * off * (double)into->n * (double)summary->n / n;
	into->mean += off * (double)summary->n / n;
	into->n += summary->n;
}

/* One cell a pair of levels, all its loads in one; count cells. NULL: no memory. */
static struct brew_summary *cells_of(struct audit_gauge *gauge, size_t count,
                                     size_t (*cell)(const struct audit_gauge *, const struct gauge_load *))
{
	struct brew_summary *cells = arena_take(&gauge->memory, count * sizeof(*cells));

	for (size_t i = 0; cells && i < gauge->loads; i++)
		merge(&cells[cell(gauge, &gauge->load[i])], &gauge->load[i].readings);
	return cells;
}

static size_t cell_of_day(const struct audit_gauge *gauge, const struct gauge_load *load)
{
	(void)gauge;
	return load->day;
}

static size_t cell_of_pair(const struct audit_gauge *gauge, const struct gauge_load *load)
{
	return load->sample * gauge->operators + load->operator;
}

static bool textbook_compute(struct audit_gauge *gauge)
{
	struct brew_summary *cells;

	gauge->by_day = gauge_days_of(NULL, 0);
	gauge->crossed = gauge_crossed_of(NULL, 0, 0);
	if (gauge->samples <= 1 && gauge->days > 1) {
		cells = cells_of(gauge, gauge->days, cell_of_day);
		if (!cells)
			return false;
		gauge->by_day = gauge_days_of(cells, gauge->days);
	}
	if (gauge->samples > 1 && gauge->operators > 1) {
		cells = cells_of(gauge, gauge->samples * gauge->operators, cell_of_pair);
		if (!cells)
			return false;
		gauge->crossed = gauge_crossed_of(cells, gauge->samples, gauge->operators);
	}
	return levels_compute(gauge);
}

bool audit_gauge_compute(struct audit_gauge *gauge, const struct audit_query *query)
{
	double reading, load;

	gauge->readings = 0;
	for (size_t i = 0; i < gauge->loads; i++)
		gauge->readings += gauge->load[i].readings.n;
	if (!components_compute(gauge, query) || !textbook_compute(gauge))
		return false;
	reading = gauge->part[GAUGE_READING].sd;
	load = gauge->part[GAUGE_LOAD].present ? gauge->part[GAUGE_LOAD].sd : 0;
	gauge->claim = sd_claimable(reading, gauge->step);
	audit_effort_compute(&gauge->effort, query, gauge->claim.sd, load, gauge->mean);
	return gauge_say(gauge, query);
}

/* -- from a run --------------------------------------------------------------------------------- */

static double step_of(const struct run *run, const struct reading *reading, double filter_factor)
{
	const struct meter *meter = &run->meters[reading->meter];
	double step = meter->step > 0 ? meter->step : shown_step(reading_shown(reading));
	enum unit unit = run_unit(run, reading);

	if (unit == UNIT_TDS_PERCENT)
		return step * filter_factor / meter->scale_factor;
	return unit == UNIT_BRIX ? step * filter_factor : step * filter_factor / sucrose_slope_20(0);
}

/* Puts the corrected readings of each brew into its load. */
static void loads_fill(struct audit_gauge *gauge, const struct analysis *analysis, struct moments *sums)
{
	const struct run *run = analysis->run;

	gauge->step = NAN;
	for (size_t i = 0; i < run->reading_count; i++) {
		const struct reading *reading = &run->readings[i];

		if (!correct_counts(analysis, i))
			continue;
		moments_add(&sums[reading->brew], analysis->tds_percent[i]);
		gauge->step = fmin(gauge->step, step_of(run, reading, COFFEE_TDS_PER_BRIX));
	}
}

static void loads_keep(struct audit_gauge *gauge, const struct run *run, const struct gauge_design *design,
                       const struct moments *sums)
{
	for (size_t b = 0; b < run->brew_count; b++) {
		if (sums[b].n == 0)
			continue;
		gauge->load[gauge->loads++] = (struct gauge_load){
			.label = run->brews[b].label,
			.sample = run->brews[b].treatment,
			.operator= design->operators ? design->operators[b] : 0,
			.day = design->days ? design->days[b] : 0,
			.readings = { .n = sums[b].n, .mean = moments_mean(&sums[b]), .ss = sums[b].m2 },
		};
	}
	gauge->samples = run->treatment_count;
	gauge->operators = design->operator_count;
	gauge->days = design->day_count;
}

/* False: no memory. */
static bool names_copy(struct audit_gauge *gauge, struct slice **out, const struct slice *names, size_t count)
{
	if (!names || count == 0)
		return true;
	*out = arena_take(&gauge->memory, count * sizeof(**out));
	if (*out)
		memcpy(*out, names, count * sizeof(**out));
	return *out != NULL;
}

static bool names_keep(struct audit_gauge *gauge, const struct run *run, const struct gauge_design *design)
{
	gauge->sample_names = arena_take(&gauge->memory, (run->treatment_count + 1) * sizeof(*gauge->sample_names));
	if (!gauge->sample_names)
		return false;
	for (size_t i = 0; i < run->treatment_count; i++)
		gauge->sample_names[i] = run->treatments[i].name;
	return names_copy(gauge, &gauge->operator_names, design->operator_names, design->operator_count) &&
	       names_copy(gauge, &gauge->day_names, design->day_names, design->day_count);
}

static enum status loads_make(struct audit_gauge *gauge, const struct run *run, const struct gauge_design *design,
                              const struct settings *settings, struct error *error)
{
	struct analysis analysis = { .run = run, .settings = settings };
	struct moments *sums = calloc(run->brew_count + 1, sizeof(*sums));
	enum status status = STATUS_MEMORY;

	gauge->load = arena_take(&gauge->memory, (run->brew_count + 1) * sizeof(*gauge->load));
	if (sums && gauge->load && names_keep(gauge, run, design))
		status = correct_readings(&analysis, error);
	else
		error_set(error, STATUS_MEMORY, "no memory for the instrument study");
	if (status == STATUS_OK) {
		loads_fill(gauge, &analysis, sums);
		loads_keep(gauge, run, design, sums);
	}
	free(analysis.tds_percent);
	arena_release(&analysis.memory);
	free(sums);
	return status;
}

enum status audit_gauge_make(struct audit_gauge **out, const struct run *run, const struct gauge_design *design,
                             const struct settings *settings, const struct audit_query *query, struct error *error)
{
	struct audit_gauge *gauge = calloc(1, sizeof(*gauge));
	enum status status;

	*out = NULL;
	if (!gauge)
		return error_set(error, STATUS_MEMORY, "no memory for the instrument study");
	status = loads_make(gauge, run, design, settings, error);
	if (status == STATUS_OK && (gauge->loads < 2 || gauge->loads > GAUGE_LOADS_MOST))
		status = error_set(
			error, STATUS_INVALID,
			"%zu loads with readings; an instrument study needs 2 to %d, such as five samples loaded "
			"three times",
			gauge->loads, GAUGE_LOADS_MOST);
	if (status == STATUS_OK && !audit_gauge_compute(gauge, query))
		status = error_set(error, STATUS_MEMORY, "no memory for the instrument study");
	if (status == STATUS_OK)
		*out = gauge;
	else
		audit_gauge_free(gauge);
	return status;
}

void audit_gauge_free(struct audit_gauge *gauge)
{
	if (!gauge)
		return;
	free(gauge->notes);
	arena_release(&gauge->memory);
	free(gauge);
}
