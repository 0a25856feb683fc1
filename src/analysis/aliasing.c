/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "aliasing.h"

#include <math.h>
#include <stdlib.h>

#include "correct.h"
#include "describe.h"
#include "joint_aliasing.h"
#include "response.h"
#include "sentences.h"

#define ASSOCIATION_STRONG 0.8 /* a judgement: most of the column can be told from the treatment */
#define ASSOCIATION_SOME   0.6

struct cell {
	struct slice word;
	size_t meter; /* 0 where the circumstance is a column */
	size_t brew;
	size_t treatment;
	size_t level;
	double response; /* of the brew, or what it would be from this reading alone */
};

static bool same_level(const struct cell *a, const struct cell *b)
{
	return a->meter == b->meter && slice_equal(a->word, b->word);
}

static int cell_compare(const void *left, const void *right)
{
	const struct cell *a = left;
	const struct cell *b = right;
	int order = slice_compare(a->word, b->word);

	if (order != 0)
		return order;
	if (a->meter != b->meter)
		return a->meter < b->meter ? -1 : 1;
	if (a->treatment != b->treatment)
		return a->treatment < b->treatment ? -1 : 1;
	return a->brew < b->brew ? -1 : a->brew > b->brew;
}

static size_t gather_column(struct cell *cells, const struct analysis *analysis, const struct column *column)
{
	size_t n = 0;

	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (isfinite(analysis->brews[b].response))
			cells[n++] = (struct cell){ .word = column->text[b],
				                    .brew = b,
				                    .treatment = analysis->run->brews[b].treatment,
				                    .response = analysis->brews[b].response };
	return n;
}

/* A cup may have been read by several meters: the readings are counted, each with what it says of the response. */
static size_t gather_meters(struct cell *cells, const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	const struct response *response = &analysis->comparison.response;
	size_t n = 0;

	for (size_t i = 0; i < run->reading_count; i++) {
		size_t b = run->readings[i].brew;
		const struct brew_result *brew;

		if (!correct_counts(analysis, i) || !isfinite(analysis->brews[b].response))
			continue;
		brew = &analysis->brews[b];
		cells[n++] = (struct cell){
			.meter = run->readings[i].meter,
			.brew = b,
			.treatment = run->brews[b].treatment,
			.response = brew->response + (analysis->tds_percent[i] - brew->tds_percent) *
			                                     (response->is_yield ? brew->yield_per_tds : 1.0),
		};
	}
	return n;
}

/* The cells of the brews that are compared, sorted, with their levels counted from 0; returns how many. */
static size_t cells_gather(struct cell *cells, const struct analysis *analysis, size_t c, size_t *levels)
{
	size_t n = c == ALIASING_METER ? gather_meters(cells, analysis) :
	                                 gather_column(cells, analysis, &analysis->run->columns[c]);

	qsort(cells, n, sizeof(*cells), cell_compare);
	*levels = n > 0;
	for (size_t i = 1; i < n; i++) {
		*levels += !same_level(&cells[i], &cells[i - 1]);
		cells[i].level = *levels - 1;
	}
	return n;
}

/* Treatments and levels as one forest: joined where a brew has both. */
static size_t root_of(size_t *parent, size_t node)
{
	while (parent[node] != node) {
		parent[node] = parent[parent[node]];
		node = parent[node];
	}
	return node;
}

struct table {
	struct cell *cells;
	size_t n;
	size_t levels, treatments;       /* treatments: of the run, present or not */
	size_t *parent;                  /* treatments, then levels */
	size_t *by_treatment, *by_level; /* brews in each */
	struct moments *residuals;       /* one a level */
};

static void link_groups(struct table *table)
{
	for (size_t i = 0; i < table->treatments + table->levels; i++)
		table->parent[i] = i;
	for (size_t i = 0; i < table->n; i++) {
		size_t treatment = table->cells[i].treatment;
		size_t level = table->cells[i].level;

		table->by_treatment[treatment]++;
		table->by_level[level]++;
		table->parent[root_of(table->parent, treatment)] = root_of(table->parent, table->treatments + level);
	}
}

/* Cramér's V; cells of one level and treatment stand together, so each count is one run of them. */
static double association_of(const struct table *table, size_t present)
{
	double sum = 0;
	size_t smaller = present < table->levels ? present : table->levels;
	size_t next;

	if (smaller < 2)
		return NAN;
	for (size_t i = 0; i < table->n; i = next) {
		const struct cell *cell = &table->cells[i];
		double count;

		for (next = i; next < table->n && table->cells[next].level == cell->level &&
		               table->cells[next].treatment == cell->treatment;
		     next++)
			;
		count = (double)(next - i);
		sum += count * count /
		       ((double)table->by_treatment[cell->treatment] * (double)table->by_level[cell->level]);
	}
	return sqrt(fmax(0.0, sum - 1.0) / (double)(smaller - 1));
}

static double effect_of(struct table *table, const struct analysis *analysis)
{
	double low = INFINITY, high = -INFINITY;

	for (size_t i = 0; i < table->n; i++) {
		const struct cell *cell = &table->cells[i];

		moments_add(&table->residuals[cell->level],
		            cell->response - analysis->treatments[cell->treatment].mean);
	}
	for (size_t l = 0; l < table->levels; l++) {
		low = fmin(low, moments_mean(&table->residuals[l]));
		high = fmax(high, moments_mean(&table->residuals[l]));
	}
	return high - low;
}

static bool table_make(struct table *table, const struct analysis *analysis, size_t c)
{
	size_t most = c == ALIASING_METER ? analysis->run->reading_count : analysis->run->brew_count;

	*table = (struct table){ .treatments = analysis->run->treatment_count };
	table->cells = calloc(most + 1, sizeof(*table->cells));
	if (!table->cells)
		return false;
	table->n = cells_gather(table->cells, analysis, c, &table->levels);
	table->parent = calloc(table->treatments + table->levels + 1, sizeof(*table->parent));
	table->by_treatment = calloc(table->treatments + 1, sizeof(*table->by_treatment));
	table->by_level = calloc(table->levels + 1, sizeof(*table->by_level));
	table->residuals = calloc(table->levels + 1, sizeof(*table->residuals));
	return table->parent && table->by_treatment && table->by_level && table->residuals;
}

static void table_release(struct table *table)
{
	free(table->cells);
	free(table->parent);
	free(table->by_treatment);
	free(table->by_level);
	free(table->residuals);
}

static void number_groups(struct aliasing *out, struct table *table, size_t *group_of)
{
	for (size_t t = 0; t < table->treatments; t++) {
		bool seen = false;

		if (group_of)
			group_of[t] = SIZE_MAX;
		if (table->by_treatment[t] == 0)
			continue;
		out->treatments++;
		for (size_t u = 0; u < t && !seen; u++) {
			seen = table->by_treatment[u] > 0 && root_of(table->parent, u) == root_of(table->parent, t);
			if (seen && group_of)
				group_of[t] = group_of[u];
		}
		if (!seen && group_of)
			group_of[t] = out->groups;
		out->groups += !seen;
	}
}

bool aliasing_measure(struct aliasing *out, const struct analysis *analysis, size_t c, size_t *group_of)
{
	struct table table;
	bool made = table_make(&table, analysis, c);

	*out = (struct aliasing){ .association = NAN, .effect = NAN };
	if (made) {
		out->levels = table.levels;
		out->brews = table.n;
		link_groups(&table);
		number_groups(out, &table, group_of);
		out->association = association_of(&table, out->treatments);
		if (out->groups == 1 && out->levels > 1)
			out->effect = effect_of(&table, analysis);
	}
	table_release(&table);
	return made;
}

/* Words that say how a brew was made, not what it was like. */
static bool is_circumstance(const struct column *column)
{
	if (column->empty || !column->text)
		return false;
	if (column->known >= COLUMN_WORD && column->known < COLUMN_BREW)
		return column->known != COLUMN_WORD + BREW_NOTES && column->known != COLUMN_WORD + BREW_TYPE;
	return column->known < 0 && !column->numeric;
}

/* How far one gram too much or too little on a scale goes. */
static bool say_tare(struct analysis *analysis)
{
	struct moments dose = MOMENTS_INIT, beverage = MOMENTS_INIT, yield = MOMENTS_INIT;

	for (size_t b = 0; b < analysis->run->brew_count; b++) {
		if (!isfinite(analysis->brews[b].yield.yield_percent))
			continue;
		moments_add(&yield, analysis->brews[b].yield.yield_percent);
		moments_add(&dose, analysis->run->brews[b].number[BREW_DOSE_G]);
		moments_add(&beverage, analysis->brews[b].yield.beverage_used_g);
	}
	if (yield.n == 0)
		return true;
	return sentence_say(
		analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, moments_mean(&yield) / moments_mean(&beverage),
		"How large that can be: a tare wrong by 1 g at the beverage moves a yield by %s points, one wrong by "
		"0.1 g at the dose by %s points.",
		words_spread(moments_mean(&yield) / moments_mean(&beverage)).text,
		words_spread(0.1 * moments_mean(&yield) / moments_mean(&dose)).text);
}

static bool weighs(const struct column *column)
{
	return column->known == COLUMN_WORD + BREW_SCALE || column->known == COLUMN_WORD + BREW_SERVER;
}

static bool say_wholly(struct analysis *analysis, struct slice name, const struct aliasing *found)
{
	bool each = found->groups == found->treatments;
	bool said;

	if (each)
		said = sentence_say(
			analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
			"No two treatments share a %.*s: whatever the %.*s does and whatever the treatment does "
			"can't be told apart in this run.",
			SLICE_ARG(name), SLICE_ARG(name));
	else
		said = sentence_say(
			analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
			"The treatments fall into %zu groups that have no %.*s in common: between groups, the "
			"effect of the %.*s can't be told from that of the treatments.",
			found->groups, SLICE_ARG(name), SLICE_ARG(name));
	return said;
}

static bool say_partly(struct analysis *analysis, struct slice name, const struct aliasing *found)
{
	const struct response *response = &analysis->comparison.response;

	return sentence_say(
		analysis, TOPIC_FAIRNESS, found->association >= ASSOCIATION_STRONG ? SEVERITY_WARNING : SEVERITY_NOTE,
		found->effect,
		"The %.*s is unevenly spread over the treatments (association %s on a scale from 0 to 1), so a part "
		"of its effect may stand in the differences; within treatments it made up to %s %s.",
		SLICE_ARG(name), words_number(found->association, 2).text, words_spread(found->effect).text,
		response->difference_unit);
}

/* One circumstance; *alone tells that it is not mixed up with the treatments by itself, and varies. */
static bool say_column(struct analysis *analysis, size_t c, bool *alone)
{
	const struct column *column = &analysis->run->columns[c];
	struct aliasing found;

	*alone = false;
	if (!aliasing_measure(&found, analysis, c, NULL))
		return false;
	if (found.treatments < 2 || found.levels < 2)
		return true;
	if (found.groups > 1)
		return say_wholly(analysis, column->name, &found) && (!weighs(column) || say_tare(analysis));
	/* nearly one word a brew is a label, not a circumstance: nothing can be said of it */
	*alone = 2 * found.levels <= found.brews;
	if (found.levels < found.brews && found.association >= ASSOCIATION_SOME)
		return say_partly(analysis, column->name, &found);
	return true;
}

/* Nothing but the readings themselves tells which meter read what, so no column of the manifest need name it. */
static bool say_meter(struct analysis *analysis)
{
	struct aliasing found;

	/* one meter is no circumstance, and finding that out by sorting every reading is a third of a check */
	if (!response_from_readings(&analysis->comparison.response) || correct_meters(analysis) < 2)
		return true;
	if (!aliasing_measure(&found, analysis, ALIASING_METER, NULL))
		return false;
	if (found.treatments < 2 || found.levels < 2)
		return true;
	if (found.groups > 1)
		return say_wholly(analysis, SLICE_OF("meter"), &found);
	return found.association < ASSOCIATION_SOME || say_partly(analysis, SLICE_OF("meter"), &found);
}

bool aliasing_say(struct analysis *analysis)
{
	const struct run *run = analysis->run;
	size_t columns[JOINT_COLUMNS], count = 0;

	for (size_t c = 0; c < run->column_count; c++) {
		bool alone;

		if (!is_circumstance(&run->columns[c]))
			continue;
		if (!say_column(analysis, c, &alone))
			return false;
		if (alone && count < JOINT_COLUMNS)
			columns[count++] = c;
	}
	return say_meter(analysis) && joint_aliasing_say(analysis, columns, count);
}
