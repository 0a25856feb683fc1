/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "trends.h"

#include <math.h>

#include "drift.h"
#include "sentences.h"
#include "strata.h"

#define ORDER_MIXED_UP 0.75 /* share of the order's variance that lies between treatments; a judgement */

static double order_of(const struct analysis *analysis, size_t brew, const void *context)
{
	(void)context;
	return analysis->run->brews[brew].number[BREW_ORDER];
}

static double wait_of(const struct analysis *analysis, size_t brew, const void *context)
{
	(void)context;
	return analysis->brews[brew].waited_s / 60.0;
}

static bool say_trend(struct analysis *analysis, const struct strata *strata, const char *over, const char *unit)
{
	bool order = unit[0] == '\0'; /* whole numbers */
	const struct response *response = &analysis->comparison.response;
	struct slope_test slope = drift_pooled_slope(strata->x, strata->y, strata->start, strata->treatments);
	double size = slope.slope * (strata->high - strata->low);

	if (!(slope.p < 0.05))
		return true;
	return sentence_say(
		analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, size,
		"Within treatments the %s %s over %s, by %s %s from %s%s to %s%s (%s). Mixed orders share such a "
		"trend out evenly; others don't.",
		response->name, size > 0 ? "rises" : "falls", over, words_spread(fabs(size)).text,
		response->difference_unit, order ? words_number(strata->low, 0).text : words_spread(strata->low).text,
		unit, order ? words_number(strata->high, 0).text : words_spread(strata->high).text, unit,
		words_p(slope.p).text);
}

static bool order_trend(struct analysis *analysis)
{
	struct strata strata;
	bool done = strata_fill(&strata, analysis, order_of, NULL);

	if (done && strata.n > 0) {
		struct oneway oneway = oneway_of_values(strata.groups, strata.treatments);

		if (oneway.df_within > 0 && oneway.r2 > ORDER_MIXED_UP)
			done = sentence_say(
				analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
				"The treatments were brewed one after the other rather than mixed: whatever changed "
				"with time (grinder, kettle, coffee, brewer) goes with them.");
		done = done && say_trend(analysis, &strata, "the brewing order", "");
	}
	strata_release(&strata);
	return done;
}

static bool wait_trend(struct analysis *analysis)
{
	struct strata strata;
	bool done = strata_fill(&strata, analysis, wait_of, NULL);

	if (done && strata.n > 0) {
		struct oneway oneway = oneway_of_values(strata.groups, strata.treatments);

		if (oneway.p < 0.05)
			done = sentence_say(
				analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, strata_effect(&strata),
				"The treatments waited differently long from brewing to reading (%s to %s minutes; %s): "
				"a cup that stands open loses water and reads higher.",
				words_spread(strata.low).text, words_spread(strata.high).text, words_p(oneway.p).text);
		done = done && say_trend(analysis, &strata, "the wait from brewing to reading", " minutes");
	}
	strata_release(&strata);
	return done;
}

bool trends_say(struct analysis *analysis)
{
	return order_trend(analysis) && wait_trend(analysis);
}
