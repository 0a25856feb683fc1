/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "effort_table.h"

#include <math.h>

#include "power.h"

enum effort_family effort_family_of(size_t treatments, bool control)
{
	if (treatments <= 2)
		return EFFORT_ONE_PAIR;
	return control ? EFFORT_CONTROL : EFFORT_ALL_PAIRS;
}

static struct effort_line line_of(const struct effort_question *question, const struct effort_spread *spread,
                                  bool cheapest)
{
	struct effort_line line = { .spread = *spread };
	struct effort_query query = question->query;

	query.spread = *spread;
	for (int family = 0; family < EFFORT_FAMILIES; family++) {
		query.family = (enum effort_family)family;
		if (isnan(question->difference)) {
			line.asked[family] = effort_shown(&query, question->brews, question->readings);
			continue;
		}
		line.asked[family] = effort_fewest(&query, question->difference, question->readings);
		if (cheapest)
			line.cheapest[family] = effort_cheapest(&query, question->difference);
	}
	return line;
}

static bool df_known(const struct effort_spread *spread)
{
	return (spread->brew_df > 0 && isfinite(spread->brew_df)) ||
	       (spread->reading_df > 0 && isfinite(spread->reading_df));
}

void effort_table_make(struct effort_table *out, const struct effort_question *question)
{
	const struct effort_query *query = &question->query;
	struct effort_spread spreads[EFFORT_SPREADS];

	*out = (struct effort_table){ .question = *question, .readings_real = NAN };
	out->known = effort_spread_known(&query->spread);
	out->more_families = query->treatments > 2;
	out->line_count = effort_spreads(spreads, &query->spread);
	for (size_t i = 0; i < out->line_count; i++)
		out->lines[i] = line_of(question, &spreads[i], out->known);
	if (!out->known)
		return;
	out->readings_real = readings_best(query->spread.brew_sd, query->spread.reading_sd, query->brew_cost,
	                                   query->reading_cost)
	                             .real;
	if (!isnan(question->difference))
		while (out->split_count < EFFORT_SPLITS) {
			out->splits[out->split_count] = effort_fewest(query, question->difference,
			                                              out->split_count + 1);
			out->split_count++;
		}
	out->has_cautious = df_known(&query->spread);
	if (out->has_cautious) {
		struct effort_spread upper = effort_spread_upper(&query->spread, EFFORT_CAUTION);

		out->cautious = line_of(question, &upper, true);
	}
}
