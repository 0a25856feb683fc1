/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "round_checks.h"

#include <math.h>
#include <stdlib.h>

#include "block_checks.h"
#include "rounds.h"
#include "sentences.h"

enum {
	TREATMENTS_MOST = 1000,         /* pairs are counted in a square of them … */
	COUNTS_MOST = 50 * 1000 * 1000, /* … for each round: more of these counts would cost more than they tell */
	ALWAYS_LEAST = 3, /* rounds in which a treatment has to stand in one place before that is worth a word */
};

/* A brew that is compared and names its round. */
struct entry {
	size_t treatment; /* counted over those present */
	size_t block;     /* by first mention */
	double order;     /* NaN: not told */
};

struct plan {
	struct entry *entries; /* by round, then order */
	size_t n;
	size_t unnamed; /* brews that are compared and name no round */
	size_t blocks, treatments;
	size_t *name;      /* of each treatment counted: the run's index */
	size_t *treatment; /* columns of the entries, as block_checks.h takes them */
	size_t *block;
	size_t *start; /* of each round, and one more */
	size_t longest;
	size_t *pairs, *cells;
};

static int by_round_and_order(const void *left, const void *right)
{
	const struct entry *a = left;
	const struct entry *b = right;

	if (a->block != b->block)
		return a->block < b->block ? -1 : 1;
	return a->order < b->order ? -1 : a->order > b->order;
}

static void plan_release(struct plan *plan)
{
	free(plan->entries);
	free(plan->name);
	free(plan->treatment);
	free(plan->block);
	free(plan->start);
	free(plan->pairs);
	free(plan->cells);
}

static bool gather(struct plan *plan, const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	size_t *place = calloc(run->treatment_count + 1, sizeof(*place)); /* of a treatment, counted from 1 */
	size_t *round = calloc(run->brew_count + 1, sizeof(*round));
	bool done = place && round && rounds_number(round, &plan->blocks, analysis);

	for (size_t b = 0; done && b < run->brew_count; b++) {
		size_t t = run->brews[b].treatment;

		if (!isfinite(analysis->brews[b].response))
			continue;
		if (round[b] == ROUND_NONE) {
			plan->unnamed++;
			continue;
		}
		if (place[t] == 0) {
			plan->name[plan->treatments] = t;
			place[t] = ++plan->treatments;
		}
		plan->entries[plan->n++] = (struct entry){ place[t] - 1, round[b], run->brews[b].number[BREW_ORDER] };
	}
	free(place);
	free(round);
	return done;
}

static void lay_out(struct plan *plan)
{
	qsort(plan->entries, plan->n, sizeof(*plan->entries), by_round_and_order);
	for (size_t i = 0; i < plan->n; i++) {
		plan->treatment[i] = plan->entries[i].treatment;
		plan->block[i] = plan->entries[i].block;
		plan->start[plan->entries[i].block + 1] = i + 1;
	}
	for (size_t r = 0; r < plan->blocks; r++)
		if (plan->start[r + 1] - plan->start[r] > plan->longest)
			plan->longest = plan->start[r + 1] - plan->start[r];
}

/* Leaves plan->pairs NULL where there is nothing to look at, or too much. */
static bool plan_make(struct plan *plan, const struct analysis *analysis)
{
	size_t brews = analysis->run->brew_count, cells;

	*plan = (struct plan){
		.entries = calloc(brews + 1, sizeof(*plan->entries)),
		.name = calloc(analysis->run->treatment_count + 1, sizeof(*plan->name)),
		.treatment = calloc(brews + 1, sizeof(*plan->treatment)),
		.block = calloc(brews + 1, sizeof(*plan->block)),
		.start = calloc(brews + 2, sizeof(*plan->start)),
	};
	if (!plan->entries || !plan->name || !plan->treatment || !plan->block || !plan->start ||
	    !gather(plan, analysis))
		return false;
	lay_out(plan);
	cells = plan->treatments * (plan->blocks > plan->longest ? plan->blocks : plan->longest);
	if (plan->blocks < 2 || plan->treatments < 2 || plan->treatments > TREATMENTS_MOST ||
	    plan->treatments * cells > COUNTS_MOST)
		return true;
	plan->pairs = calloc(plan->treatments * plan->treatments, sizeof(*plan->pairs));
	plan->cells = calloc(cells, sizeof(*plan->cells));
	return plan->pairs && plan->cells;
}

/* -- sentences ---------------------------------------------------------------------- */

static struct slice name_at(const struct analysis *analysis, const struct plan *plan, size_t treatment)
{
	return treatment_name(analysis, plan->name[treatment]);
}

static bool say_unnamed(struct analysis *analysis, const struct plan *plan)
{
	if (plan->n == 0 || plan->unnamed == 0)
		return true;
	return sentence_say(analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
	                    "%s no round while others do, so rounds are not taken out of the comparison: what differed "
	                    "from one round to the next counts as scatter.",
	                    words_count(plan->unnamed, "brew names", "brews name").text);
}

static bool say_meetings(struct analysis *analysis, const struct plan *plan, const struct design_check *check)
{
	size_t pairs = plan->treatments * (plan->treatments - 1) / 2;
	const struct count_range *range = &check->pairs;

	if (check->complete)
		return sentence_say(analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN,
		                    "Every round held every treatment once: no round can have favoured one of them.");
	if (check->balanced_incomplete)
		return sentence_say(analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN,
		                    "Each round held %zu of the %zu treatments, and every two of them met in %s: all "
		                    "differences are known equally well.",
		                    check->block_size.lowest, plan->treatments,
		                    words_count(range->lowest, "round", "rounds").text);
	if (check->pairs_never > 0)
		return sentence_say(
			analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
			"%zu of %s never met in a round, such as %.*s and %.*s. They are compared only by way of "
			"others, and less well than those that met.",
			check->pairs_never, words_count(pairs, "pair of treatments", "pairs of treatments").text,
			SLICE_ARG(name_at(analysis, plan, range->lowest_at[0])),
			SLICE_ARG(name_at(analysis, plan, range->lowest_at[1])));
	if (range->lowest == range->highest)
		return true;
	return sentence_say(
		analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN,
		"Two treatments met in %zu to %zu rounds (least: %.*s and %.*s), so that differences are not "
		"all known equally well.",
		range->lowest, range->highest, SLICE_ARG(name_at(analysis, plan, range->lowest_at[0])),
		SLICE_ARG(name_at(analysis, plan, range->lowest_at[1])));
}

static bool ordered(const struct plan *plan)
{
	for (size_t i = 0; i < plan->n; i++)
		if (isnan(plan->entries[i].order) || (i > 0 && plan->entries[i].block == plan->entries[i - 1].block &&
		                                      plan->entries[i].order == plan->entries[i - 1].order))
			return false;
	return true;
}

/* The place in which the treatment stood every time it was brewed, in at least ALWAYS_LEAST rounds; SIZE_MAX: none. */
static size_t constant_place(const struct plan *plan, size_t treatment)
{
	size_t times = plan->pairs[treatment * plan->treatments + treatment];

	for (size_t place = 0; times >= ALWAYS_LEAST && place < plan->longest; place++)
		if (plan->cells[treatment * plan->longest + place] == times)
			return place;
	return SIZE_MAX;
}

static bool say_places(struct analysis *analysis, const struct plan *plan)
{
	struct count_range range;
	size_t constant = 0, first = SIZE_MAX;

	if (!ordered(plan) || plan->longest < 2)
		return true;
	range = design_check_positions(plan->treatment, plan->start, plan->blocks, plan->treatments, plan->longest,
	                               plan->cells);
	for (size_t t = 0; t < plan->treatments; t++)
		if (constant_place(plan, t) != SIZE_MAX) {
			first = constant == 0 ? t : first;
			constant++;
		}
	if (constant == plan->treatments)
		return sentence_say(
			analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
			"The order was the same in every round: whatever comes with the place in a round (a "
			"cold brewer, a longer wait) goes with the treatment.");
	if (constant > 0)
		return sentence_say(
			analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
			"%.*s%s stood in the same place of every round (%.*s always as number %zu): whatever "
			"comes with that place goes with the treatment.",
			SLICE_ARG(name_at(analysis, plan, first)), constant > 1 ? " and others" : "",
			SLICE_ARG(name_at(analysis, plan, first)), constant_place(plan, first) + 1);
	if (range.lowest == range.highest)
		return sentence_say(analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN,
		                    "Every treatment stood in every place of a round equally often.");
	return true;
}

bool round_checks_say(struct analysis *analysis)
{
	struct plan plan;
	struct design_check check;
	bool done = plan_make(&plan, analysis) && say_unnamed(analysis, &plan);

	if (done && plan.pairs && plan.unnamed == 0) {
		check = design_check_blocks(plan.block, plan.treatment, plan.n, plan.blocks, plan.treatments,
		                            plan.pairs, plan.cells);
		done = say_meetings(analysis, &plan, &check) && say_places(analysis, &plan);
	}
	plan_release(&plan);
	return done;
}
