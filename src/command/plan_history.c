/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_history.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "bench_command.h"
#include "number.h"

/* Beverage over dose that dose and water let expect; NaN where they are not told. */
static double expected_ratio(const struct plan_targets *targets, const struct settings *settings)
{
	double dose, water;

	if (!targets->dose_g || !targets->water_g || !number_parse_any(&dose, NULL, slice_from(targets->dose_g)) ||
	    !number_parse_any(&water, NULL, slice_from(targets->water_g)) || !(dose > 0))
		return NAN;
	return (water - settings->retention_per_g * dose) / dose;
}

static void take(struct effort_spread *spread, const struct history *history, double ratio, size_t readings)
{
	double reading_sd = history->s_r * ratio;

	spread->brew_sd = history->s_brew;
	spread->brew_df = history->df;
	if (!isnan(spread->reading_sd))
		return;
	spread->reading_sd = 0;
	if (!(reading_sd > 0) || readings == 0)
		return;
	spread->reading_sd = reading_sd;
	spread->reading_df = history->s_r_df;
	spread->brew_sd = sqrt(fmax(0, history->s_brew * history->s_brew - reading_sd * reading_sd / (double)readings));
}

/* Why the ledger's runs say nothing. */
static void say_none(char *words, const struct history *history, const char *ledger)
{
	if (history->looked_at > 0)
		snprintf(words, PLAN_HISTORY_WORDS,
		         "in %s no earlier run of that method, of %zu looked at, had a treatment with two brews",
		         ledger, history->looked_at);
	else
		snprintf(words, PLAN_HISTORY_WORDS,
		         "%s holds no earlier run of that method whose manifest can be read%s", ledger,
		         history->unreadable > 0 ? "; some are gone" : "");
}

enum status plan_history(struct effort_spread *spread, const struct plan_targets *targets, char *words,
                         struct invocation *invocation)
{
	struct history_query query = { .method = METHOD_PERCOLATION };
	struct history history;
	struct bench *bench = NULL;
	char from[200];
	enum status status = invocation_bench_open(&bench, invocation);

	if (targets->method && strcmp(targets->method, "immersion") == 0)
		query.method = METHOD_IMMERSION;
	if (status == STATUS_OK)
		status = invocation_history(&history, bench, &query, invocation);
	if (status == STATUS_OK && history.s_brew > 0) {
		take(spread, &history, expected_ratio(targets, &invocation->settings), targets->readings);
		snprintf(words, PLAN_HISTORY_WORDS, "%s%s", history_words(from, sizeof(from), &history, bench->ledger),
		         spread->reading_sd > 0 ? "" : "; the spread between brews holds what readings add");
		spread->source = words;
	} else if (status == STATUS_OK) {
		say_none(words, &history, bench->ledger);
		spread->source = words;
	}
	bench_free(bench);
	return status;
}
