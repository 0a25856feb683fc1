/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict_words.h"

#include <math.h>
#include <string.h>

#include "sentences.h"
#include "studentized_range.h"
#include "unseen.h"

enum { PAIRS_SAID = 12 }; /* more than these in sentences is a wall of text; the sheet has them all */

const char *verdict_word(enum verdict verdict)
{
	switch (verdict) {
	case VERDICT_DIFFER:
		return "differ";
	case VERDICT_SAME:
		return "practically the same";
	case VERDICT_OPEN:
		return "can't tell";
	}
	return "";
}

double spread_that_explains(double difference, size_t treatments)
{
	return fabs(difference) / studentized_range_critical(0.05, treatments, INFINITY);
}

struct tally {
	size_t differ, same, open;
};

static struct tally tally_of(const struct pair_result *pairs, size_t count)
{
	struct tally tally = { 0 };

	for (size_t i = 0; i < count; i++) {
		tally.differ += pairs[i].verdict == VERDICT_DIFFER;
		tally.same += pairs[i].verdict == VERDICT_SAME;
		tally.open += pairs[i].verdict == VERDICT_OPEN;
	}
	return tally;
}

static int percent_confident(const struct analysis *analysis)
{
	return (int)lround(analysis->settings->confidence * 100);
}

static bool say_open(struct analysis *analysis, const struct pair_result *pair, size_t settle)
{
	const struct response *r = &analysis->comparison.response;
	struct slice a = treatment_name(analysis, pair->a);
	const char *then = "";

	if (settle > 0)
		then = arena_print(
			&analysis->memory,
			" About %zu brews of each would settle it, if the difference and the scatter stay as "
			"they were.",
			settle);
	return then &&
	       sentence_say(analysis, TOPIC_RESULT, SEVERITY_NOTE, pair->difference,
	                    "%.*s and %.*s can't be told apart, nor called the same: the %s with %.*s came out %s "
	                    "%s %s (%d %% interval %s to %s).%s",
	                    SLICE_ARG(a), SLICE_ARG(treatment_name(analysis, pair->b)), r->name, SLICE_ARG(a),
	                    words_number(fabs(pair->difference), r->decimals).text, r->difference_unit,
	                    pair->difference < 0 ? "lower" : "higher", percent_confident(analysis),
	                    words_signed(pair->lower, r->decimals).text, words_signed(pair->upper, r->decimals).text,
	                    then);
}

/* "1.2 points more extraction …": which way, how much, and how sure. */
static bool say_pair(struct analysis *analysis, const struct pair_result *pair, size_t settle, bool provisional)
{
	const struct response *r = &analysis->comparison.response;
	struct slice a = treatment_name(analysis, pair->a);
	struct slice b = treatment_name(analysis, pair->b);
	struct words size = words_number(fabs(pair->difference), r->decimals);
	struct words from = words_signed(pair->lower, r->decimals);
	struct words to = words_signed(pair->upper, r->decimals);
	const char *way = pair->difference < 0 ? "lower" : "higher";
	const char *lead = provisional ? "provisionally " : "";
	int sure = percent_confident(analysis);

	switch (pair->verdict) {
	case VERDICT_DIFFER:
		return sentence_say(analysis, TOPIC_RESULT, SEVERITY_NOTE, pair->difference,
		                    "%.*s and %.*s %sdiffer: the %s with %.*s is %s %s %s (%d %% interval %s to %s)%s.",
		                    SLICE_ARG(a), SLICE_ARG(b), lead, r->name, SLICE_ARG(a), size.text,
		                    r->difference_unit, way, sure, from.text, to.text,
		                    pair->small ? ", a real difference, but smaller than the margin" : "");
	case VERDICT_SAME:
		return sentence_say(
			analysis, TOPIC_RESULT, SEVERITY_NOTE, pair->difference,
			"%.*s and %.*s are %spractically the same: if their %s differs, it is by less than the margin of %s %s "
			"(%d %%).",
			SLICE_ARG(a), SLICE_ARG(b), lead, r->name, words_number(r->margin, r->decimals).text,
			r->difference_unit, sure);
	case VERDICT_OPEN:
		return say_open(analysis, pair, settle);
	}
	return true;
}

static bool say_list(struct analysis *analysis, const struct pair_result *pairs, const size_t *settle, size_t count,
                     bool provisional)
{
	static const enum verdict order[] = { VERDICT_DIFFER, VERDICT_SAME, VERDICT_OPEN };
	size_t said = 0;

	for (size_t v = 0; v < sizeof(order) / sizeof(order[0]); v++)
		for (size_t i = 0; i < count; i++) {
			if (pairs[i].verdict != order[v])
				continue;
			if (said++ == PAIRS_SAID)
				return sentence_say(analysis, TOPIC_RESULT, SEVERITY_NOTE, NAN,
				                    "The rest of the %zu comparisons stand in the table.", count);
			if (!say_pair(analysis, &pairs[i], settle[i], provisional))
				return false;
		}
	return true;
}

/* With so many treatments only neighbours in rank are compared, and "none differ" of them says nothing about the others. */
static bool say_limited(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;
	double reach = 0;

	for (size_t i = 0; i < c->pair_count; i++)
		reach = fmax(reach, c->pairs[i].half_width);
	return sentence_say(
		analysis, TOPIC_RESULT, SEVERITY_WARNING, reach,
		"With %zu treatments there are %zu pairs, too many to list: each treatment is compared with its "
		"neighbours in rank alone%s. Any two whose mean %s lies more than %s %s apart differ by the same "
		"test.",
		c->pair_count + 1, pairs_count(c->pair_count + 1), c->against_count > 0 ? ", and with the control" : "",
		c->response.name, words_spread(reach).text, c->response.difference_unit);
}

static bool say_overview(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;
	bool control = c->against_count > 0;
	size_t count = control ? c->against_count : c->pair_count;
	struct tally tally = tally_of(control ? c->against : c->pairs, count);
	struct slice name = control ? treatment_name(analysis, c->control) : SLICE_OF("each other");

	if (c->pairs_limited && !say_limited(analysis))
		return false;
	return sentence_say(analysis, TOPIC_RESULT, SEVERITY_NOTE, NAN,
	                    "Compared with %.*s, %s: %zu %s, %zu %s practically the same, %zu can't be told.",
	                    SLICE_ARG(name),
	                    words_count(count,
	                                control          ? "treatment" :
	                                c->pairs_limited ? "pair of neighbours" :
	                                                   "pair of treatments",
	                                control          ? "treatments" :
	                                c->pairs_limited ? "pairs of neighbours" :
	                                                   "pairs of treatments")
	                            .text,
	                    tally.differ, tally.differ == 1 ? "differs" : "differ", tally.same,
	                    tally.same == 1 ? "is" : "are", tally.open);
}

/* What the intervals promise, for a reader who has met none. */
static bool say_intervals(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;

	if ((c->against_count > 0 ? c->against_count : c->pair_count) < 2)
		return true;
	return sentence_say(analysis, TOPIC_RESULT, SEVERITY_NOTE, NAN,
	                    "The intervals hold together: in %d of 100 runs like this one all of them contain the true "
	                    "differences.",
	                    percent_confident(analysis));
}

/* Where the treatments scatter differently: do the verdicts rest on taking their spreads as one? */
static bool say_unequal(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;
	size_t otherwise = 0;

	if (!(c->levene_p < 0.05))
		return true;
	if (!c->unequal)
		return sentence_say(
			analysis, TOPIC_RESULT, SEVERITY_WARNING, NAN,
			"The brews of some treatments scatter more than those of others (Brown–Forsythe test, %s), while the "
			"verdicts take one spread for all: for treatments that scatter more the intervals are too short, for the "
			"others too long.",
			words_p(c->levene_p).text);
	for (size_t i = 0; i < c->pair_count; i++)
		otherwise += c->unequal[i].verdict != c->pairs[i].verdict;
	return sentence_say(
		analysis, TOPIC_RESULT, SEVERITY_WARNING, NAN,
		"The brews of some treatments scatter more than those of others (Brown–Forsythe test, %s), while the verdicts "
		"take one spread for all. With each treatment's own spread (Games–Howell) %zu of %s of pairs %s otherwise; "
		"the table has both.",
		words_p(c->levene_p).text, otherwise, words_count(c->pair_count, "verdict", "verdicts").text,
		otherwise == 1 ? "comes out" : "come out");
}

/* Uncertainty that no brew more would lessen (unseen.h). */
static bool say_unseen(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;
	bool apart = false;

	if (c->step_u > 0 &&
	    !sentence_say(
		    analysis, TOPIC_RESULT, SEVERITY_WARNING, c->step_u,
		    "Readings of one treatment scatter by less than the display's step, so what the display rounds away "
		    "may move a whole treatment, by up to half a step. The intervals allow for that (standard "
		    "uncertainty of a mean %s %s), and no number of brews takes it away.",
		    words_spread(c->step_u).text, c->response.difference_unit))
		return false;
	for (size_t i = 0; i < c->pair_count && c->scale_u > 0; i++)
		apart = apart || unseen_variance(analysis, c->pairs[i].a, c->pairs[i].b) > 2 * c->step_u * c->step_u;
	return !apart ||
	       sentence_say(
		       analysis, TOPIC_RESULT, SEVERITY_NOTE, c->scale_u,
		       "Treatments were weighed on different scales. What each scale may be off by, as stated (standard "
		       "uncertainty %s %s), stays in their difference, and the intervals allow for it.",
		       words_spread(c->scale_u).text, c->response.difference_unit);
}

/* Letters judge all pairs, the verdicts those with the control: fewer, so that smaller differences show. */
static bool say_letters(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;
	bool at_odds = false;

	for (size_t i = 0; i < c->against_count && c->letters; i++) {
		bool shared = strpbrk(analysis->treatments[c->against[i].a].letters,
		                      analysis->treatments[c->control].letters) != NULL;

		at_odds = at_odds || shared != (c->against[i].verdict != VERDICT_DIFFER);
	}
	return !at_odds ||
	       sentence_say(
		       analysis, TOPIC_RESULT, SEVERITY_NOTE, NAN,
		       "The letters come from comparing all treatments with one another, the verdicts from comparing each with "
		       "%.*s alone, which finds smaller differences: so a treatment may share a letter with %.*s and "
		       "yet differ from it.",
		       SLICE_ARG(treatment_name(analysis, c->control)),
		       SLICE_ARG(treatment_name(analysis, c->control)));
}

static bool say_reach(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;

	if (!isfinite(c->smallest_seen))
		return true;
	return sentence_say(analysis, TOPIC_RESULT, SEVERITY_NOTE, c->smallest_seen,
	                    "With this many brews, and brews of one treatment scattering by %s %s (standard deviation, "
	                    "%s), two treatments have to lie %s %s apart to be found different in %d of "
	                    "100 such runs.",
	                    words_spread(c->s_brew).text, c->response.difference_unit, words_df(c->s_brew_df).text,
	                    words_spread(c->smallest_seen).text, c->response.difference_unit,
	                    (int)lround(analysis->settings->power * 100));
}

static bool say_single_brews(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;
	const struct pair_result *widest = NULL;
	size_t beyond = 0;

	for (size_t i = 0; i < c->pair_count; i++) {
		beyond += fabs(c->pairs[i].difference) > c->meter_limit;
		if (!widest || fabs(c->pairs[i].difference) > fabs(widest->difference))
			widest = &c->pairs[i];
	}
	if (!sentence_say(
		    analysis, TOPIC_RESULT, SEVERITY_WARNING, NAN,
		    "Each treatment was brewed once. How far two brews of the same treatment lie apart is not known from "
		    "this run, so no difference in it can be put down to the treatments."))
		return false;
	if (isfinite(c->meter_limit) &&
	    !sentence_say(analysis, TOPIC_RESULT, SEVERITY_NOTE, c->meter_limit,
	                  "%zu of %s exceed what the meter alone scatters (%s %s); that says the cups differ, and "
	                  "nothing about why.",
	                  beyond, words_count(c->pair_count, "difference", "differences").text,
	                  words_spread(c->meter_limit).text, c->response.difference_unit))
		return false;
	if (!widest)
		return true;
	return sentence_say(
		analysis, TOPIC_RESULT, SEVERITY_NOTE, widest->difference,
		"The largest difference, %.*s against %.*s, is %s %s. If brews of one treatment scatter with a "
		"standard deviation of %s %s or more, it is nothing out of the ordinary. Brewing each treatment "
		"at least twice would tell.",
		SLICE_ARG(treatment_name(analysis, widest->a)), SLICE_ARG(treatment_name(analysis, widest->b)),
		words_number(fabs(widest->difference), c->response.decimals).text, c->response.difference_unit,
		words_spread(spread_that_explains(widest->difference, c->compared)).text, c->response.difference_unit);
}

static bool say_history(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;

	return sentence_say(
		analysis, TOPIC_RESULT, SEVERITY_WARNING, NAN,
		"Each treatment was brewed once. The verdicts are provisional: they take the spread between "
		"brews, %s %s, from earlier runs (%s), not from this one.",
		words_spread(c->s_brew).text, c->response.difference_unit, words_df(c->s_brew_df).text);
}

bool verdicts_say(struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;
	bool control = c->against_count > 0;

	if (c->pair_count == 0)
		return sentence_say(analysis, TOPIC_RESULT, SEVERITY_WARNING, NAN,
		                    "There is nothing to compare: fewer than two treatments have a %s.",
		                    c->response.name);
	if (c->source == SPREAD_NONE)
		return say_single_brews(analysis);
	if (c->source == SPREAD_HISTORY && !say_history(analysis))
		return false;
	return say_overview(analysis) &&
	       say_list(analysis, control ? c->against : c->pairs, control ? c->against_settle : c->settle,
	                control ? c->against_count : c->pair_count, c->source == SPREAD_HISTORY) &&
	       say_intervals(analysis) && say_letters(analysis) && say_unequal(analysis) && say_unseen(analysis) &&
	       say_reach(analysis);
}
