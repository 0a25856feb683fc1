/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_words.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "audit_signal_words.h"
#include "precision.h"
#include "reading.h"
#include "sentences.h"
#include "timestamp.h"

#define EXCLUDED_MANY 0.05 /* share of samples taken out above which it is a caution: a judgement */
#define TEMP_WIDE     10.0 /* °C between the coldest and the warmest reading: a judgement */
#define POINTS_SHOWN  2

/* A meter and its audit, as all sentences about it need them. */
struct about {
	struct audit *audit;
	const struct audit_meter *meter;
	size_t index;
};

bool audit_note_add(struct audit *audit, size_t meter, enum audit_topic topic, enum severity severity,
                    const char *format, ...)
{
	char text[2048];
	struct audit_note *notes;
	va_list args;
	int len;

	va_start(args, format);
	len = vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	if (len < 0)
		return false;
	if ((audit->note_count & (audit->note_count - 1)) == 0) {
		notes = realloc(audit->notes, (audit->note_count > 0 ? 2 * audit->note_count : 1) * sizeof(*notes));
		if (!notes)
			return false;
		audit->notes = notes;
	}
	audit->notes[audit->note_count] = (struct audit_note){ meter, topic, severity,
		                                               arena_copy(&audit->memory, slice_from(text)).text };
	return audit->notes[audit->note_count++].text != NULL;
}

#define SAY(about, topic, severity, ...) \
	audit_note_add((about)->audit, (about)->index, AUDIT_TOPIC_##topic, SEVERITY_##severity, __VA_ARGS__)

struct when when_moment(int64_t us)
{
	struct when when = { "at a time not told" };
	char text[TIMESTAMP_TEXT];

	if (us == READING_NO_TIME)
		return when;
	timestamp_print(text, sizeof(text), us, 0);
	snprintf(when.text, sizeof(when.text), "%.10s %.5s", text, strlen(text) > 11 ? text + 11 : "");
	return when;
}

struct when when_month(int64_t us)
{
	struct when when = when_moment(us);

	when.text[7] = '\0';
	return when;
}

static struct words points_of(const struct about *about, double tds)
{
	return words_number(tds * about->audit->query.beverage_g / about->audit->query.dose_g, POINTS_SHOWN);
}

/* -- repeatability ----------------------------------------------------------------------- */

static bool say_claim(const struct about *about)
{
	const struct audit_meter *meter = about->meter;

	if (!meter->claim.limited)
		return true;
	return SAY(about, METER, NOTE,
	           "That is below one step of the display, %s %% TDS, so a good part of it is rounding; no less than "
	           "%s %% TDS "
	           "is claimed.",
	           words_spread(meter->step).text, words_spread(meter->claim.sd).text);
}

static bool say_repeatability(const struct about *about)
{
	const struct audit_meter *meter = about->meter;
	const struct audit_query *query = &about->audit->query;
	double mean_limit = meter->limit / sqrt(fmax(query->readings, 1));

	if (isnan(meter->s_r))
		return SAY(
			about, METER, WARNING,
			"No cup was read twice, so how well this meter repeats is not known: read a cup three times.");
	return SAY(about, METER, NOTE, "Readings of one cup spread with s = %s %% TDS (%s to %s at %.0f %%; %s, %s).",
	           words_spread(meter->s_r).text, words_spread(meter->lower).text, words_spread(meter->upper).text,
	           100 * query->confidence, words_df(meter->df).text,
	           words_count(meter->spread.cups, "cup", "cups").text) &&
	       say_claim(about) &&
	       SAY(about, METER, NOTE,
	           "Two readings of one cup differ by no more than %s %% TDS, %s yield points at %.0f g from %.0f g, "
	           "in 95 "
	           "of 100 cases.",
	           words_spread(meter->limit).text, points_of(about, meter->limit).text, query->beverage_g,
	           query->dose_g) &&
	       SAY(about, METER, NOTE,
	           "It tells two cups of %.0f readings each apart from %s %% TDS on, %s yield points. It can't tell "
	           "apart what "
	           "differs by less, and it says nothing about whether two brews of one treatment would differ as "
	           "much.",
	           query->readings, words_spread(mean_limit).text, points_of(about, mean_limit).text);
}

/* The months with the smallest and the largest spread. */
static bool say_months(const struct about *about)
{
	const struct audit_meter *meter = about->meter;
	const struct audit_month *low = NULL, *high = NULL;
	size_t counted = 0;

	for (size_t i = 0; i < meter->month_count; i++) {
		const struct audit_month *month = &meter->months[i];

		if (!(month->spread.pooled.df > 0))
			continue;
		counted++;
		low = !low || month->s_r < low->s_r ? month : low;
		high = !high || month->s_r > high->s_r ? month : high;
	}
	if (counted < 2 || low == high)
		return true;
	return SAY(about, METER, NOTE,
	           "Month by month s lay between %s %% TDS (%s: %s to %s) and %s %% TDS (%s: %s to %s).",
	           words_spread(low->s_r).text, when_month(low->from_us).text, words_spread(low->lower).text,
	           words_spread(low->upper).text, words_spread(high->s_r).text, when_month(high->from_us).text,
	           words_spread(high->lower).text, words_spread(high->upper).text);
}

static bool say_limited_months(const struct about *about)
{
	const struct audit_meter *meter = about->meter;
	const struct audit_month *first = NULL, *last = NULL;
	size_t limited = 0, counted = 0;

	for (size_t i = 0; i < meter->month_count; i++) {
		const struct audit_month *month = &meter->months[i];

		counted += month->spread.pooled.df > 0;
		if (!month->step_limited)
			continue;
		limited++;
		first = first ? first : month;
		last = month;
	}
	if (limited == 0 || meter->claim.limited)
		return true;
	return SAY(about, METER, NOTE,
	           "In %zu of %s with cups, from %s to %s, the spread was below one step of the display: those months "
	           "say how "
	           "it rounds, not how it repeats.",
	           limited, words_count(counted, "month", "months").text, when_month(first->from_us).text,
	           when_month(last->from_us).text);
}

/* -- zero ------------------------------------------------------------------------------------ */

static bool say_hourly(const struct about *about)
{
	const struct audit_zero *zero = &about->meter->zero;
	const struct audit_line *line = &zero->hourly;

	if (!isfinite(line->lower))
		return true;
	if (line->lower > 0 || line->upper < 0)
		return SAY(about, METER, WARNING,
		           "Within a session its zero drifts by %s %% TDS an hour (%s to %s, over %s): one step of the "
		           "display "
		           "in %s hours. Let it warm up longer, and check the zero more often than that.",
		           words_signed(line->slope, 4).text, words_signed(line->lower, 4).text,
		           words_signed(line->upper, 4).text, words_count(line->n, "session", "sessions").text,
		           words_number(zero->hours_to_step, 1).text);
	return SAY(about, METER, NOTE,
	           "No drift of the zero within sessions is seen: %s %% TDS an hour, between %s and %s (%s).",
	           words_signed(line->slope, 4).text, words_signed(line->lower, 4).text,
	           words_signed(line->upper, 4).text, words_count(line->n, "session", "sessions").text);
}

static bool say_monthly(const struct about *about)
{
	const struct audit_line *line = &about->meter->zero.monthly;
	bool seen = line->lower > 0 || line->upper < 0;

	if (!isfinite(line->lower) || line->n < 3)
		return true;
	return SAY(
		about, METER, NOTE,
		"%s from month to month: %s %% TDS a month, between %s and %s, over %s. A zero that was set again in "
		"between hides what the meter did by itself.",
		seen ? "Its zero moves" : "No drift of the zero is seen", words_signed(line->slope, 4).text,
		words_signed(line->lower, 4).text, words_signed(line->upper, 4).text,
		words_count(line->n, "session", "sessions").text);
}

static bool say_zero(const struct about *about)
{
	const struct audit_zero *zero = &about->meter->zero;

	if (zero->checks == 0)
		return SAY(
			about, METER, WARNING,
			"No zero check is there: an offset of this meter would be in every strength that it gave. Read "
			"distilled water at the beginning and the end of each session.");
	if (zero->checks == 1)
		return SAY(about, METER, NOTE, "1 check of its zero: %s %% TDS.",
		           words_signed(moments_mean(&zero->offset), 3).text) &&
		       say_hourly(about) && say_monthly(about);
	return SAY(about, METER, NOTE, "%s of its zero: %s %% TDS on average, from %s to %s.",
	           words_count(zero->checks, "check", "checks").text, words_signed(moments_mean(&zero->offset), 3).text,
	           words_signed(zero->offset.min, 3).text, words_signed(zero->offset.max, 3).text) &&
	       say_hourly(about) && say_monthly(about);
}

/* -- standards ---------------------------------------------------------------------------------- */

static bool say_standard(const struct about *about, const struct audit_standard *standard)
{
	double bias = moments_mean(&standard->bias);
	bool off = standard->lower > 0 || standard->upper < 0;

	if (!isfinite(standard->lower))
		return SAY(about, METER, NOTE,
		           "Standard of %s %% sucrose: %s, %s %% off; one check alone gives no interval.",
		           words_number(standard->strength, 2).text,
		           words_count(standard->checks, "check", "checks").text, words_signed(bias, 3).text);
	if (!SAY(about, METER, NOTE,
	         "Standard of %s %% sucrose (index %s): %s, %s %% off (%s to %s at %.0f %%). %s The standard itself "
	         "is known "
	         "to ± %s %% from its weighing.",
	         words_number(standard->strength, 2).text, words_number(standard->index, 5).text,
	         words_count(standard->checks, "check", "checks").text, words_signed(bias, 3).text,
	         words_signed(standard->lower, 3).text, words_signed(standard->upper, 3).text,
	         100 * about->audit->query.confidence,
	         !off     ? "No bias is shown." :
	         bias > 0 ? "The meter reads too high." :
	                    "The meter reads too low.",
	         words_spread(2 * standard->u).text))
		return false;
	return standard->zeroed == standard->checks ||
	       SAY(about, METER, NOTE,
	           "%zu of its checks stood in a session without a zero check: an offset of the zero is still in them.",
	           standard->checks - standard->zeroed);
}

static bool say_left_out(const struct about *about)
{
	const struct audit_linearity *l = &about->meter->linearity;

	for (size_t i = 0; i < about->meter->standard_count; i++)
		if (l->left_out & UINT32_C(1) << i &&
		    !SAY(about, METER, NOTE,
		         "The standard of %s %% is left out of what follows about the scale: its newest check is "
		         "beyond its limits, so it may have spoiled.",
		         words_number(about->meter->standards[i].strength, 2).text))
			return false;
	return true;
}

static bool say_linearity(const struct about *about)
{
	const struct audit_linearity *l = &about->meter->linearity;
	bool leaves = l->lack_p<0.05, tilted = l->line.lower> 0 || l->line.upper < 0;

	if (l->strengths < 2 || !isfinite(l->line.lower))
		return true;
	if (!say_left_out(about) ||
	    !SAY(about, METER, NOTE, "Over %zu strengths the bias %s: %s %% of what it shows (%s to %s).", l->strengths,
	         tilted ? "changes with the strength" : "does not seem to change with the strength",
	         words_signed(100 * l->line.slope, 2).text, words_signed(100 * l->line.lower, 2).text,
	         words_signed(100 * l->line.upper, 2).text))
		return false;
	if (isnan(l->lack_p))
		return true;
	return SAY(about, METER, NOTE,
	           "The standards %s (%s; the largest distance is %s %% at %s %%; what they are known to from weighing "
	           "is allowed for).%s",
	           leaves ? "do not lie on one line" : "lie on one line as far as they tell", words_p(l->lack_p).text,
	           words_signed(l->worst, 3).text, words_number(l->worst_strength, 2).text,
	           leaves ? " The scale is not straight, or one of them is not what its label says." : "");
}

static bool say_standards(const struct about *about)
{
	if (about->meter->standard_count == 0)
		return SAY(
			about, METER, NOTE,
			"No standard was read: whether its scale is right is not known. \"brewspread plan --standard "
			"2.00\" "
			"says what to weigh.");
	for (size_t i = 0; i < about->meter->standard_count; i++)
		if (!say_standard(about, &about->meter->standards[i]))
			return false;
	return say_linearity(about);
}

/* -- effort, temperature ------------------------------------------------------------------------- */

static const char *largest_share(const struct audit_effort *effort)
{
	if (effort->share_brew >= effort->share_meter && effort->share_brew >= effort->share_weighing)
		return "more brews bring more than more readings or finer scales";
	if (effort->share_meter >= effort->share_weighing)
		return "more readings of each cup pay first";
	return "finer weighing pays first";
}

static bool say_brewing(const struct about *about)
{
	const struct audit_query *query = &about->audit->query;

	if (isnan(query->brew_df))
		return SAY(about, METER, NOTE,
		           "Brews of one treatment differ with s = %s points, as the settings have it.",
		           words_spread(query->brew_sd).text);
	return SAY(about, METER, NOTE,
	           "Brews of one treatment differ with s = %s points (%s), %s; reading and weighing "
	           "are in that.",
	           words_spread(query->brew_sd).text, words_df(query->brew_df).text,
	           query->brew_from ? query->brew_from : "as the settings have it");
}

static bool say_effort(const struct about *about)
{
	const struct audit_effort *effort = &about->meter->effort;

	if (isnan(effort->reading_sd))
		return true;
	if (isnan(effort->brew_sd))
		return SAY(
			about, METER, NOTE,
			"Of the spread of one yield this meter makes %s points with %.0f readings of a cup, weighing "
			"%s. How "
			"much brewing adds is not known: --history-sd tells.",
			words_spread(effort->reading_sd / sqrt(effort->readings)).text, effort->readings,
			words_spread(effort->weighing_u).text);
	return say_brewing(about) &&
	       SAY(about, METER, NOTE,
	           "Of the spread of one yield, %s points, brewing makes %.0f %%, this meter %.0f %%, weighing %.0f "
	           "%%: %s. %s of a cup %s worth taking.",
	           words_spread(effort->total_sd).text, effort->share_brew, effort->share_meter, effort->share_weighing,
	           largest_share(effort), words_count(effort->best, "reading", "readings").text,
	           effort->best == 1 ? "is" : "are");
}

static bool say_temperature(const struct about *about)
{
	const struct moments *temp = &about->meter->temp;
	bool wide = temp->n > 0 && temp->max - temp->min > TEMP_WIDE;

	if (temp->n == 0)
		return SAY(about, METER, NOTE, "No reading tells its temperature.");
	return audit_note_add(
		about->audit, about->index, AUDIT_TOPIC_METER, wide ? SEVERITY_WARNING : SEVERITY_NOTE,
		"Read at %s to %s °C%s.", words_number(temp->min, 1).text, words_number(temp->max, 1).text,
		wide ? ": so wide a span asks much of any compensation; let samples cool to one temperature" : "");
}

/* -- data ------------------------------------------------------------------------------------------ */

static bool say_excluded(const struct about *about)
{
	const struct audit_counts *counts = &about->meter->counts;
	double share = counts->readings > 0 ? (double)counts->excluded / (double)counts->readings : 0;

	if (counts->excluded == 0)
		return true;
	return audit_note_add(about->audit, about->index, AUDIT_TOPIC_DATA,
	                      share > EXCLUDED_MANY ? SEVERITY_WARNING : SEVERITY_NOTE,
	                      "%zu of %s %s excluded by hand, %s %%%s.", (size_t)counts->excluded,
	                      words_count((size_t)counts->readings, "reading", "readings").text,
	                      counts->excluded == 1 ? "was" : "were", words_number(100 * share, 1).text,
	                      share > EXCLUDED_MANY ? ": what is left looks better than the meter is" : "");
}

static bool say_versions(const struct about *about)
{
	const struct audit_meter *meter = about->meter;

	if (meter->rescaled)
		return SAY(about, DATA, WARNING,
		           "Under this name stand %zu profiles whose numbers mean different things; each reading is "
		           "taken by its "
		           "own. Name meters apart, or look at one of them with --since.",
		           meter->versions);
	return true;
}

static bool say_lost(const struct about *about)
{
	const struct audit_counts *counts = &about->meter->counts;
	const struct audit_meter *meter = about->meter;
	bool done = true;

	if (counts->out_of_range > 0)
		done = SAY(about, DATA, WARNING, "%s can't be: out of the range of coffee, sugar water or water.",
		           words_count((size_t)counts->out_of_range, "reading", "readings").text);
	if (done && counts->repeated > 0)
		done = SAY(about, DATA, NOTE, "%s not used: sent twice, or left over in the port.",
		           words_count((size_t)counts->repeated, "reading", "readings").text);
	if (done && counts->unlabelled > 0)
		done = SAY(about, DATA, NOTE,
		           "%s of no named cup: of no use for the repeatability, which asks what was read twice.",
		           words_count((size_t)counts->unlabelled, "sample is", "samples are").text);
	if (done && counts->unmeasured > 0)
		done = SAY(about, DATA, WARNING,
		           "%s without a strength, or of one strength too many; expected \"standard 2.00: …\".",
		           words_count((size_t)counts->unmeasured, "reading of a standard is",
		                       "readings of standards are")
		                   .text);
	if (done && meter->sessions_seen > meter->session_count)
		done = SAY(about, DATA, NOTE, "Listed are the newest %zu of %zu sessions; sums are over all.",
		           meter->session_count, (size_t)meter->sessions_seen);
	return done;
}

/* How things stand now: the newest point of each chart. */
static bool say_now(const struct about *about)
{
	const struct audit_meter *meter = about->meter;
	char out[400] = "";
	size_t used = 0, beyond = 0;

	for (size_t i = 0; i < meter->chart_count; i++) {
		const struct audit_chart *chart = &meter->charts[i];

		if (!chart_alarm(chart) || used >= sizeof(out))
			continue;
		used += (size_t)snprintf(out + used, sizeof(out) - used, "%s%s", beyond++ > 0 ? ", " : "",
		                         chart_name(chart).text);
	}
	if (meter->chart_count == 0)
		return true;
	if (beyond == 0)
		return SAY(about, METER, NOTE, "As of its newest checks nothing lies beyond its limits.");
	return SAY(about, METER, WARNING, "As of its newest checks beyond the limits: %s.", out);
}

static bool say_meter(struct audit *audit, size_t index)
{
	struct about about = { audit, &audit->meters[index], index };

	if (about.meter->counts.readings == 0)
		return SAY(&about, DATA, NOTE, "No reading of it is in the time looked at.");
	return say_now(&about) && say_repeatability(&about) && say_months(&about) && say_limited_months(&about) &&
	       say_zero(&about) && say_standards(&about) && say_effort(&about) && say_temperature(&about) &&
	       signals_say(audit, index) && say_excluded(&about) && say_versions(&about) && say_lost(&about);
}

/* -- pairs and the rest ------------------------------------------------------------------------------ */

static bool say_pair(struct audit *audit, const struct audit_pair *pair)
{
	static const char *const verdicts[] = {
		[AUDIT_UNKNOWN] =
			"Whether both may be used in one run can't be told yet: read more cups on both, or keep to one",
		[AUDIT_SAME] = "Both may be used in one run, best with every treatment on both alike",
		[AUDIT_APART] =
			"They must not be mixed in one run: a treatment read on the other meter would seem to differ",
	};
	struct slice a = audit->meters[pair->a].name, b = audit->meters[pair->b].name;
	bool trend = pair->trend.p < 0.05;

	if (pair->n < 3)
		return audit_note_add(audit, SIZE_MAX, AUDIT_TOPIC_METER, SEVERITY_NOTE,
		                      "%.*s and %.*s: %s on both; at least three are needed to compare them.",
		                      SLICE_ARG(a), SLICE_ARG(b), words_count(pair->n, "cup", "cups").text);
	return audit_note_add(
		audit, SIZE_MAX, AUDIT_TOPIC_METER, pair->verdict == AUDIT_APART ? SEVERITY_WARNING : SEVERITY_NOTE,
		"%.*s less %.*s over %zu cups: %s %% TDS (%s to %s), single cups between %s and %s in 95 of 100 "
		"cases%s. %s "
		"(margin %s %% TDS).",
		SLICE_ARG(a), SLICE_ARG(b), pair->n, words_signed(pair->bias, 3).text,
		words_signed(pair->bias_lower, 3).text, words_signed(pair->bias_upper, 3).text,
		words_signed(pair->low, 3).text, words_signed(pair->high, 3).text,
		trend ? "; the difference changes with the strength, so these limits are a makeshift" : "",
		verdicts[pair->verdict], words_number(pair->margin, 3).text);
}

static bool say_late(struct audit *audit)
{
	if (audit->late == 0)
		return true;
	return audit_note_add(
		audit, SIZE_MAX, AUDIT_TOPIC_DATA, SEVERITY_WARNING,
		"%s dated after now, the first is reading %lld: a clock was wrong, then or now; they count "
		"all the same.",
		words_count((size_t)audit->late, "reading is", "readings are").text, (long long)audit->late_id);
}

bool audit_say(struct audit *audit)
{
	for (size_t i = 0; i < audit->meter_count; i++)
		if (!say_meter(audit, i))
			return false;
	for (size_t i = 0; i < audit->pair_count; i++)
		if (!say_pair(audit, &audit->pairs[i]))
			return false;
	return say_late(audit);
}
