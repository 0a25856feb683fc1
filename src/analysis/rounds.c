/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "rounds.h"

#include <math.h>
#include <stdlib.h>

/* Indices of words in the order of first mention; returns how many there are, 0 where a brew names none. */
static size_t number_rounds(const struct analysis *analysis, struct rounds *rounds, size_t *n)
{
	const struct run *run = analysis->run;
	size_t *seen = calloc(run->brew_count + 1, sizeof(*seen)); /* a brew of each round */
	size_t count = 0;
	bool all = seen != NULL;

	*n = 0;
	for (size_t b = 0; all && b < run->brew_count; b++) {
		struct slice word = run->brews[b].word[BREW_BLOCK];
		size_t at = 0;

		if (!isfinite(analysis->brews[b].response))
			continue;
		all = word.len > 0;
		/* brews of a round mostly stand together, so the last round is tried first */
		for (at = count; at > 0 && !slice_equal(run->brews[seen[at - 1]].word[BREW_BLOCK], word); at--)
			;
		if (at == 0) {
			seen[count] = b;
			at = ++count;
		}
		rounds->y[*n] = analysis->brews[b].response;
		rounds->block[*n] = at - 1;
		rounds->treatment[*n] = run->brews[b].treatment;
		(*n)++;
	}
	free(seen);
	return all ? count : 0;
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
	size_t n;

	*rounds = (struct rounds){
		.y = calloc(run->brew_count + 1, sizeof(*rounds->y)),
		.block = calloc(run->brew_count + 1, sizeof(*rounds->block)),
		.treatment = calloc(run->brew_count + 1, sizeof(*rounds->treatment)),
	};
	if (!rounds->y || !rounds->block || !rounds->treatment)
		return false;
	data = (struct blocks_data){ .y = rounds->y,
		                     .block = rounds->block,
		                     .treatment = rounds->treatment,
		                     .treatments = run->treatment_count };
	data.blocks = number_rounds(analysis, rounds, &n);
	data.n = n;
	/* reduced equations are treatments x treatments: past this size rounds would cost more than they tell */
	if (data.blocks < 2 || run->treatment_count > 1000)
		return true;
	rounds->work = calloc(blocks_work(&data) + 1, sizeof(*rounds->work));
	rounds->parts = calloc(blocks_part_work(&data) + 1, sizeof(*rounds->parts));
	if (!rounds->work || !rounds->parts)
		return false;
	blocks_analyse(&rounds->fit, &data, rounds->work, rounds->parts);
	rounds->used = rounds->fit.parts == 1 && rounds->fit.treatments >= 2 && rounds->fit.residual.df >= 1;
	rounds->plain = rounds->used && is_plain(rounds, n, data.blocks, data.treatments);
	return true;
}

struct pair_estimate rounds_difference(const struct rounds *rounds, size_t a, size_t b)
{
	struct blocks_difference difference = blocks_difference(&rounds->fit, a, b);

	return (struct pair_estimate){ a, b, difference.estimate, difference.factor };
}

void rounds_release(struct rounds *rounds)
{
	free(rounds->work);
	free(rounds->parts);
	free(rounds->y);
	free(rounds->block);
	free(rounds->treatment);
}
