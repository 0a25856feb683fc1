/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "rounds.h"

#include <math.h>
#include <stdlib.h>

bool rounds_number(size_t *round, size_t *count, const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	size_t *seen = calloc(run->brew_count + 1, sizeof(*seen)); /* a brew of each round */

	*count = 0;
	for (size_t b = 0; seen && b < run->brew_count; b++) {
		struct slice word = run->brews[b].word[BREW_BLOCK];
		size_t at;

		round[b] = ROUND_NONE;
		if (word.len == 0 || !isfinite(analysis->brews[b].response))
			continue;
		/* brews of a round mostly stand together, so the last round is tried first */
		for (at = *count; at > 0 && !slice_equal(run->brews[seen[at - 1]].word[BREW_BLOCK], word); at--)
			;
		if (at == 0) {
			seen[*count] = b;
			at = ++*count;
		}
		round[b] = at - 1;
	}
	free(seen);
	return seen != NULL;
}

/* Lays out the brews that are compared; returns how many, or 0 where one of them names no round. */
static size_t lay_out(struct rounds *rounds, const struct analysis *analysis, const size_t *round)
{
	const struct run *run = analysis->run;
	size_t n = 0;

	for (size_t b = 0; b < run->brew_count; b++) {
		if (!isfinite(analysis->brews[b].response))
			continue;
		if (round[b] == ROUND_NONE)
			return 0;
		rounds->y[n] = analysis->brews[b].response;
		rounds->block[n] = round[b];
		rounds->treatment[n] = run->brews[b].treatment;
		n++;
	}
	return n;
}

/* Every treatment that is there equally often in every round: rounds then leave the means' differences alone. */
static bool is_plain(const struct rounds *rounds, size_t n, size_t blocks, size_t treatments)
{
	size_t *cell = calloc(blocks * treatments + 1, sizeof(*cell));
	size_t common = 0;
	bool plain = cell != NULL;

	for (size_t i = 0; plain && i < n; i++)
		cell[rounds->block[i] * treatments + rounds->treatment[i]]++;
	for (size_t t = 0; plain && t < treatments; t++)
		for (size_t b = 0; plain && b < blocks; b++) {
			size_t count = cell[b * treatments + t];

			if (b == 0 && count > 0 && common == 0)
				common = count;
			plain = b == 0 ? count == 0 || count == common : count == cell[t];
		}
	free(cell);
	return plain;
}

bool rounds_fit(struct rounds *rounds, const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	struct blocks_data data;
	size_t *round = calloc(run->brew_count + 1, sizeof(*round));
	size_t n = 0, blocks = 0;
	bool numbered;

	*rounds = (struct rounds){
		.y = calloc(run->brew_count + 1, sizeof(*rounds->y)),
		.block = calloc(run->brew_count + 1, sizeof(*rounds->block)),
		.treatment = calloc(run->brew_count + 1, sizeof(*rounds->treatment)),
	};
	numbered = round && rounds->y && rounds->block && rounds->treatment && rounds_number(round, &blocks, analysis);
	if (numbered)
		n = lay_out(rounds, analysis, round);
	free(round);
	if (!numbered)
		return false;
	data = (struct blocks_data){ .y = rounds->y,
		                     .block = rounds->block,
		                     .treatment = rounds->treatment,
		                     .n = n,
		                     .blocks = blocks,
		                     .treatments = run->treatment_count };
	/* reduced equations are treatments x treatments: past this size rounds would cost more than they tell */
	if (n == 0 || blocks < 2 || run->treatment_count > 1000)
		return true;
	rounds->work = calloc(blocks_work(&data) + 1, sizeof(*rounds->work));
	rounds->parts = calloc(blocks_part_work(&data) + 1, sizeof(*rounds->parts));
	if (!rounds->work || !rounds->parts)
		return false;
	blocks_analyse(&rounds->fit, &data, rounds->work, rounds->parts);
	rounds->used = rounds->fit.parts == 1 && rounds->fit.treatments >= 2 && rounds->fit.residual.df >= 1;
	rounds->plain = rounds->used && is_plain(rounds, n, blocks, data.treatments);
	return true;
}

struct pair_estimate rounds_difference(const struct rounds *rounds, size_t a, size_t b)
{
	struct blocks_difference difference = blocks_difference(&rounds->fit, a, b);

	return (struct pair_estimate){ a, b, difference.estimate, difference.factor, 0 };
}

void rounds_release(struct rounds *rounds)
{
	free(rounds->work);
	free(rounds->parts);
	free(rounds->y);
	free(rounds->block);
	free(rounds->treatment);
}
