/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "fairness.h"

#include <math.h>

#include "aliasing.h"
#include "parameters.h"
#include "round_checks.h"
#include "sentences.h"
#include "trends.h"

static bool say_replicates(struct analysis *analysis)
{
	size_t fewest = SIZE_MAX, most = 0, single = 0, present = 0;

	for (size_t t = 0; t < analysis->run->treatment_count; t++) {
		size_t brews = analysis->treatments[t].brews;

		if (brews == 0)
			continue;
		present++;
		single += brews == 1;
		fewest = brews < fewest ? brews : fewest;
		most = brews > most ? brews : most;
	}
	if (present < 2 || most < 2)
		return true; /* one brew each is the verdict's own first sentence */
	if (single > 0)
		return sentence_say(analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
		                    "%s brewed only once, and judged by the spread between the brews of the others.",
		                    words_count(single, "treatment was", "treatments were").text);
	if (fewest == most)
		return sentence_say(analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN,
		                    "Every treatment was brewed %zu times.", most);
	return sentence_say(analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN,
	                    "Treatments were brewed %zu to %zu times; those with fewer brews are known less well.",
	                    fewest, most);
}

static bool say_rounds(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;

	if (!c->blocked)
		return true;
	return sentence_say(
		analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN,
		"The brews were made in %.0f rounds, and treatments are compared within rounds: what differed from "
		"one round to the next is taken out.%s",
		c->block_row.df + 1,
		c->block_adjusted ? " Since not every round has every treatment, differences are adjusted and "
				    "are not quite those of the plain means." :
				    "");
}

bool fairness_say(struct analysis *analysis)
{
	return say_replicates(analysis) && say_rounds(analysis) && round_checks_say(analysis) &&
	       aliasing_say(analysis) && parameters_say(analysis) && trends_say(analysis);
}
