/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "meter_notes.h"

#include <math.h>

#include "correct.h"
#include "sentences.h"

#define BREWING_ALONE \
	80 /* % of the variance of a brew's value: what readings leave to gain is then little; a judgement */

static const char *by_one_meter(const struct analysis *analysis)
{
	return correct_meters(analysis) > 1 ? " by the same meter" : "";
}

static bool say_repeatability(struct analysis *analysis)
{
	const struct repeatability *r = &analysis->repeatability;

	if (!isfinite(r->s_r))
		return sentence_say(analysis, TOPIC_METER, SEVERITY_WARNING, NAN,
		                    "No cup was read twice%s, so the meter's own scatter is not known from this run.",
		                    by_one_meter(analysis));
	if (r->from_history)
		return sentence_say(
			analysis, TOPIC_METER, SEVERITY_NOTE, r->yield_limit,
			"No cup was read twice%s. In earlier runs in the ledger readings of one cup scattered on this meter with a "
			"standard deviation of %s %% TDS (%s), which is taken for this run too: two readings "
			"of the same cup may differ by %s %% TDS, or %s yield points, through the meter alone.",
			by_one_meter(analysis), words_spread(r->s_r).text, words_df(r->df).text,
			words_spread(r->limit).text, words_spread(r->yield_limit).text);
	if (r->step_limited)
		return sentence_say(
			analysis, TOPIC_METER, SEVERITY_NOTE, r->yield_limit,
			"Readings of one cup scatter by less than the display's step of %s %% TDS (standard "
			"deviation %s): the step, more than the meter, sets what can be told. Differences up to "
			"%s %% TDS, or %s yield points, between two readings mean nothing.",
			words_spread(r->step).text, words_spread(r->claimed).text, words_spread(r->limit).text,
			words_spread(r->yield_limit).text);
	return sentence_say(
		analysis, TOPIC_METER, SEVERITY_NOTE, r->yield_limit,
		"Readings of one cup scatter with a standard deviation of %s %% TDS (%d %% interval %s to %s; "
		"%s from %s). Two readings of the same cup may differ by %s %% TDS, or %s "
		"yield points, through the meter alone.",
		words_spread(r->s_r).text, (int)lround(analysis->settings->confidence * 100),
		words_spread(r->lower).text, words_spread(r->upper).text, words_df(r->df).text,
		words_count(r->cups, "cup", "cups").text, words_spread(r->limit).text,
		words_spread(r->yield_limit).text);
}

static int percent_confident(const struct analysis *analysis)
{
	return (int)lround(analysis->settings->confidence * 100);
}

static bool say_components(struct analysis *analysis)
{
	const struct components *parts = &analysis->components;
	const struct response *response = &analysis->comparison.response;
	double whole = parts->brew.variance + parts->reading.variance;

	if (!parts->known || !(whole > 0))
		return true;
	if (parts->brew_zero)
		return sentence_say(
			analysis, TOPIC_METER, SEVERITY_NOTE, NAN,
			"Brews of one treatment scatter no more than the readings of one cup make them (%s %s, standard "
			"deviation of a reading): brewing itself adds nothing that can be told from 0 here. That does not "
			"make it 0: a standard deviation of up to %s %s could have stayed unseen (%d %% interval).",
			words_spread(sqrt(parts->reading.variance)).text, response->difference_unit,
			words_spread(sqrt(parts->brew.upper)).text, response->difference_unit,
			percent_confident(analysis));
	return sentence_say(
		analysis, TOPIC_METER, SEVERITY_NOTE, NAN,
		"Of the scatter of single readings (their variance), %s %% comes from brewing (standard deviation %s %s) and "
		"%s %% from reading (%s %s). Of the scatter of one brew's value, the mean of %s readings, brewing makes %.0f %% "
		"(%d %% interval %.0f to %.0f %%): %s.",
		words_number(100 * parts->brew.variance / whole, 0).text, words_spread(sqrt(parts->brew.variance)).text,
		response->difference_unit, words_number(100 * parts->reading.variance / whole, 0).text,
		words_spread(sqrt(parts->reading.variance)).text, response->difference_unit,
		words_number(parts->readings_each, parts->by_reml ? 1 : 0).text, parts->brew.share,
		percent_confident(analysis), parts->share_lower, parts->share_upper,
		parts->brew.share >= BREWING_ALONE ?
			"more brews would tell more, further readings of a cup little" :
			"more brews would tell more, and so would further readings of a cup");
}

static bool say_cochran(struct analysis *analysis)
{
	const struct repeatability *r = &analysis->repeatability;
	const struct brew_result *brew = &analysis->brews[r->cochran_brew];
	struct slice label;

	if (!(r->cochran > r->cochran_5))
		return true;
	label = analysis->run->brews[r->cochran_brew].label;
	return sentence_say(
		analysis, TOPIC_METER, SEVERITY_WARNING, NAN,
		"The readings of %.*s scatter more than those of the other cups (standard deviation %s against "
		"%s %% TDS; Cochran's test, beyond its %s limit). Look at them before trusting the rest: a "
		"drop not mixed, a prism not dry, a cup still cooling.",
		SLICE_ARG(label), words_spread(brew->tds_sd).text, words_spread(r->s_r).text,
		r->cochran > r->cochran_1 ? "1 %" : "5 %");
}

static bool say_drift(struct analysis *analysis)
{
	const struct repeatability *r = &analysis->repeatability;

	if (!(r->drift_p < 0.05))
		return true;
	return sentence_say(
		analysis, TOPIC_METER, SEVERITY_WARNING, NAN,
		"Over all cups, each further reading comes out %s %% TDS %s than the one before (%s). Samples that "
		"cool, warm or dry on the prism do that: wait longer, cover the sample, read quickly. The "
		"readings are not corrected for it.",
		words_spread(fabs(r->drift)).text, r->drift > 0 ? "higher" : "lower", words_p(r->drift_p).text);
}

struct zeros { /* of one meter */
	size_t usable;
	double low, high;
};

static struct zeros zeros_of(const struct analysis *analysis, size_t meter)
{
	struct zeros zeros = { 0, INFINITY, -INFINITY };

	for (size_t i = 0; i < analysis->zero_count; i++) {
		double tds = analysis->zeros[i].tds_percent;

		if (!isfinite(tds) || analysis->run->readings[analysis->zeros[i].reading].meter != meter)
			continue;
		zeros.usable++;
		zeros.low = fmin(zeros.low, tds);
		zeros.high = fmax(zeros.high, tds);
	}
	return zeros;
}

/* name: empty where there is one meter only. */
static bool say_zero(struct analysis *analysis, const struct zeros *zeros, struct slice name)
{
	struct words checks = words_count(zeros->usable, "reading", "readings");
	struct words low = words_signed(zeros->low, 3), high = words_signed(zeros->high, 3);
	bool range = zeros->low != zeros->high;

	if (name.len == 0)
		return sentence_say(
			analysis, TOPIC_METER, SEVERITY_NOTE, NAN,
			"%s of distilled water put the meter's zero off by %s%s%s %% TDS; every reading is corrected "
			"for it.",
			checks.text, low.text, range ? " to " : "", range ? high.text : "");
	return sentence_say(
		analysis, TOPIC_METER, SEVERITY_NOTE, NAN,
		"%s of distilled water put the zero of meter %.*s off by %s%s%s %% TDS; every reading of that meter is "
		"corrected for it.",
		checks.text, SLICE_ARG(name), low.text, range ? " to " : "", range ? high.text : "");
}

/* A zero of one meter says nothing of another's. */
static bool say_each_zero(struct analysis *analysis)
{
	for (size_t m = 0; m < analysis->run->meter_count; m++) {
		struct zeros zeros = zeros_of(analysis, m);
		struct slice name = analysis->run->meters[m].name;
		bool said;

		if (!correct_meter_counts(analysis, m))
			continue;
		if (zeros.usable > 0)
			said = say_zero(analysis, &zeros, name);
		else
			said = sentence_say(
				analysis, TOPIC_METER, SEVERITY_WARNING, NAN,
				"There is no reading of distilled water on meter %.*s, so its zero is taken on trust, while "
				"readings of another meter are corrected for theirs. An error of it stands in every "
				"difference between cups that the meters did not read alike.",
				SLICE_ARG(name));
		if (!said)
			return false;
	}
	return true;
}

static bool say_zeros(struct analysis *analysis)
{
	size_t meters = correct_meters(analysis), usable = 0, meter = 0;
	struct zeros zeros;

	for (size_t i = 0; i < analysis->zero_count; i++)
		usable += isfinite(analysis->zeros[i].tds_percent) &&
		          correct_meter_counts(analysis, analysis->run->readings[analysis->zeros[i].reading].meter);
	if (usable == 0)
		return sentence_say(
			analysis, TOPIC_METER, SEVERITY_WARNING, NAN,
			"There is no reading of distilled water, so the meter's zero is taken on trust. An error of "
			"it moves all yields alike and hardly changes the differences between them.");
	if (meters > 1)
		return say_each_zero(analysis);
	while (!correct_meter_counts(analysis, meter))
		meter++;
	zeros = zeros_of(analysis, meter);
	return say_zero(analysis, &zeros, (struct slice){ 0 });
}

static bool say_temperatures(struct analysis *analysis)
{
	const struct corrected_samples *samples = &analysis->samples;

	if (samples->far > 0 &&
	    !sentence_say(analysis, TOPIC_METER, SEVERITY_WARNING, NAN,
	                  "%s taken more than %s °C away from the temperature of the zero check. Nothing was altered: "
	                  "a meter that compensates can't know that sample and prism differ.",
	                  words_count(samples->far, "reading was", "readings were").text,
	                  words_number(analysis->settings->temp_apart_c, 1).text))
		return false;
	if (samples->without_temp > 0 &&
	    !sentence_say(analysis, TOPIC_METER, SEVERITY_WARNING, NAN,
	                  "%s from a meter that does not compensate, without a temperature, and used as they "
	                  "are: 5 °C more or less would change them by up to %s %% TDS.",
	                  words_count(samples->without_temp, "reading comes", "readings come").text,
	                  words_spread(samples->worst).text))
		return false;
	if (samples->beyond > 0 &&
	    !sentence_say(analysis, TOPIC_METER, SEVERITY_NOTE, NAN,
	                  "%s outside the strengths and temperatures that the sucrose model rests on.",
	                  words_count(samples->beyond, "reading lies", "readings lie").text))
		return false;
	return true;
}

static bool say_budget(struct analysis *analysis)
{
	const struct budget_row *largest = NULL;
	const struct budget *budget;

	for (size_t i = 0; i < analysis->budget_row_count; i++)
		if (!largest || analysis->budget_rows[i].share > largest->share)
			largest = &analysis->budget_rows[i];
	if (!largest || analysis->budget_brew == SIZE_MAX)
		return true;
	budget = &analysis->brews[analysis->budget_brew].budget;
	return sentence_say(
		analysis, TOPIC_METER, SEVERITY_NOTE, budget->expanded,
		"One yield, quoted alone, is known to about %s points either way (%d %%), as far as meter and scales "
		"go; %s of that comes from: %s (%.0f %% of the variance).",
		words_spread(budget->expanded).text, (int)lround(budget->confidence * 100),
		largest->share > 50 ? "most" : "the largest part", largest->name, largest->share);
}

bool meter_say(struct analysis *analysis)
{
	if (analysis->readings_used == 0)
		return true;
	return say_repeatability(analysis) && say_components(analysis) && say_cochran(analysis) &&
	       say_drift(analysis) && say_zeros(analysis) && say_temperatures(analysis) && say_budget(analysis);
}
