/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "spread_check.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "welch.h"

/* Distances from the median of two values are equal: of them the test says nothing. */
#define LEAST_BREWS 3

struct copies {
	double *values, *scratch;    /* as many as there are brews */
	struct group_values *groups; /* as many as there are treatments */
	struct group_summary *summaries;
};

static bool copies_make(struct copies *copies, const struct run *run)
{
	*copies = (struct copies){
		.values = calloc(run->brew_count + 1, sizeof(*copies->values)),
		.scratch = calloc(run->brew_count + 1, sizeof(*copies->scratch)),
		.groups = calloc(run->treatment_count + 1, sizeof(*copies->groups)),
		.summaries = calloc(run->treatment_count + 1, sizeof(*copies->summaries)),
	};
	return copies->values && copies->scratch && copies->groups && copies->summaries;
}

static void copies_release(struct copies *copies)
{
	free(copies->values);
	free(copies->scratch);
	free(copies->groups);
	free(copies->summaries);
}

/* What is left of a value without its treatment and its round, by least squares: a round's effect is the mean of the rest. */
static double without_round(const struct rounds *rounds, size_t i)
{
	const double *adjusted = rounds->fit.adjusted;
	double sum = 0, n = 0;

	for (size_t j = 0; j < rounds->fit.n; j++)
		if (rounds->block[j] == rounds->block[i]) {
			sum += rounds->y[j] - adjusted[rounds->treatment[j]];
			n++;
		}
	return rounds->y[i] - adjusted[rounds->treatment[i]] - sum / n;
}

static void copy_within_rounds(struct copies *copies, const struct rounds *rounds, size_t treatments)
{
	double *at = copies->values;

	for (size_t t = 0; t < treatments; t++) {
		copies->groups[t] = (struct group_values){ .values = at };
		for (size_t i = 0; i < rounds->fit.n; i++)
			if (rounds->treatment[i] == t)
				*at++ = without_round(rounds, i);
		copies->groups[t].n = (size_t)(at - copies->groups[t].values);
	}
}

static size_t keep_those_with(struct group_values *groups, size_t k, size_t least)
{
	size_t kept = 0;

	for (size_t t = 0; t < k; t++)
		if (groups[t].n >= least)
			groups[kept++] = groups[t];
	return kept;
}

bool spread_check(struct analysis *analysis, const struct group_values *groups, const struct group_summary *summaries,
                  const struct rounds *rounds)
{
	struct comparison *comparison = &analysis->comparison;
	size_t k = analysis->run->treatment_count, kept = 0;
	struct copies copies;

	comparison->levene_p = comparison->welch_p = NAN;
	comparison->spread_left_out = 0;
	if (!copies_make(&copies, analysis->run)) {
		copies_release(&copies);
		return false;
	}
	for (size_t t = 0; t < k; t++)
		comparison->spread_left_out += groups[t].n > 0 && groups[t].n < LEAST_BREWS;
	for (size_t t = 0; t < k; t++)
		if (summaries[t].n >= 2)
			copies.summaries[kept++] = summaries[t];
	comparison->welch_p = welch_anova(copies.summaries, kept).p;
	if (rounds->used)
		copy_within_rounds(&copies, rounds, k);
	else
		memcpy(copies.groups, groups, k * sizeof(*groups));
	kept = keep_those_with(copies.groups, k, LEAST_BREWS);
	if (kept >= 2)
		comparison->levene_p = spread_levene(copies.groups, kept, CENTRE_MEDIAN, copies.scratch).p;
	copies_release(&copies);
	return true;
}
