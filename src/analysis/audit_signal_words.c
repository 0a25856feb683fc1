/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_signal_words.h"

#include <math.h>
#include <stdio.h>

#include "sentences.h"

#define GRAVE (CHART_BEYOND_3 | AUDIT_EWMA)

struct chart_name chart_name(const struct audit_chart *chart)
{
	struct chart_name name = { "" };

	snprintf(name.text, sizeof(name.text), "%s", audit_subject_name(chart->subject));
	if (chart->subject == AUDIT_STANDARD)
		snprintf(name.text, sizeof(name.text), "standard %.20s %%", words_number(chart->strength, 2).text);
	return name;
}

const char *signal_words(unsigned signals)
{
	if (signals & CHART_BEYOND_3)
		return "beyond the limits";
	if (signals & AUDIT_EWMA)
		return "the weighted mean of the latest points has left its limits: a slow or small shift";
	for (unsigned bit = 1; bit < AUDIT_EWMA; bit <<= 1)
		if (signals & bit)
			return chart_signal_text((enum chart_signal)bit);
	return "";
}

/* All of it is common practice, no source. */
const char *signal_advice(const struct audit_chart *chart, const struct audit_point *point)
{
	const unsigned creeping = AUDIT_EWMA | CHART_SIX_STEADY | CHART_NINE_ONE_SIDE;
	bool sudden = (point->signals & CHART_BEYOND_3) != 0;
	bool high = point->score > chart->ewma.centre;

	if (point->signals & CHART_FOURTEEN_ZIGZAG && !sudden)
		return "look for two of something taken in turns: operators, bottles, times of day";
	if (point->signals & CHART_FIFTEEN_CLOSE && !sudden)
		return "look at the points that the limits come from; they scatter more than these";
	switch (chart->subject) {
	case AUDIT_ZERO:
		if (sudden)
			return "clean and dry the prism, then set the zero again with distilled water";
		return point->signals & creeping ?
		               "let the meter warm up, set the zero again, and check it more often" :
		               "clean the prism and read distilled water again";
	case AUDIT_STANDARD:
		if (sudden)
			return "clean the prism, check the zero, read the standard again; if it stays so, make up a "
			       "new one";
		return high ? "replace the standard: water leaves it and it grows stronger; then look at the meter" :
		              "replace the standard: a weak one spoils; then check the zero";
	case AUDIT_REPEATABILITY:
		return "clean the prism, let sample and meter come to one temperature, and take fresh drops";
	}
	return "";
}

static const char *unit_of(const struct audit_chart *chart)
{
	return chart->subject == AUDIT_STANDARD ? "% sucrose" : "% TDS";
}

static const char *thing_of(const struct audit_chart *chart)
{
	return chart->subject == AUDIT_REPEATABILITY ? "session" : "check";
}

/* "limits -0.012 to +0.021" or, of a spread, "limit 0.014". */
static struct words limits_of(const struct audit_chart *chart, const struct audit_point *point)
{
	struct words words;

	if (chart->subject == AUDIT_REPEATABILITY)
		snprintf(words.text, sizeof(words.text), "limit %.30s", words_spread(point->upper).text);
	else
		snprintf(words.text, sizeof(words.text), "limits %.15s to %.15s", words_signed(chart->lower, 3).text,
		         words_signed(chart->upper, 3).text);
	return words;
}

static bool say_signal(struct audit *audit, size_t meter, const struct audit_chart *chart,
                       const struct audit_point *point)
{
	struct words value = chart->subject == AUDIT_REPEATABILITY ? words_spread(point->value) :
	                                                             words_signed(point->value, 3);

	return audit_note_add(audit, meter, AUDIT_TOPIC_SIGNAL,
	                      point->signals & GRAVE ? SEVERITY_WARNING : SEVERITY_NOTE,
	                      "%s, reading %lld, %s: %s %s (%s): %s. Try first: %s.", when_moment(point->at_us).text,
	                      (long long)point->id, chart_name(chart).text, value.text, unit_of(chart),
	                      limits_of(chart, point).text, signal_words(point->signals), signal_advice(chart, point));
}

static bool say_worth(struct audit *audit, size_t meter, const struct audit_chart *chart)
{
	bool done = true;

	if (chart->provisional)
		done = audit_note_add(audit, meter, AUDIT_TOPIC_SIGNAL, SEVERITY_NOTE,
		                      "The limits for %s rest on %s only; with fewer than %d they are provisional.",
		                      chart_name(chart).text,
		                      words_count(chart->n, thing_of(chart),
		                                  chart->subject == AUDIT_REPEATABILITY ? "sessions" : "checks")
		                              .text,
		                      CHART_SETTLED);
	if (!done || !chart->step_limited)
		return done;
	if (chart->subject == AUDIT_REPEATABILITY)
		return audit_note_add(
			audit, meter, AUDIT_TOPIC_SIGNAL, SEVERITY_NOTE,
			"The spread lies below half a step of the display, so runs of sessions are not looked at.");
	return audit_note_add(
		audit, meter, AUDIT_TOPIC_SIGNAL, SEVERITY_NOTE,
		"For %s the display's step sets the spread, not the meter: the limits are no narrower than a step "
		"and a half, and runs of points are not looked at.",
		chart_name(chart).text);
}

static bool say_quiet(struct audit *audit, size_t meter, const struct audit_chart *chart)
{
	return audit_note_add(audit, meter, AUDIT_TOPIC_SIGNAL, SEVERITY_NOTE, "Nothing stands out in %s over %s (%s).",
	                      chart_name(chart).text,
	                      words_count(chart->n, thing_of(chart),
	                                  chart->subject == AUDIT_REPEATABILITY ? "sessions" : "checks")
	                              .text,
	                      limits_of(chart, &chart->points[chart->n - 1]).text);
}

static bool chart_say(struct audit *audit, size_t meter, const struct audit_chart *chart)
{
	size_t skip = chart->told > SIGNALS_SAID ? chart->told - SIGNALS_SAID : 0;
	size_t seen = 0;

	if (!say_worth(audit, meter, chart))
		return false;
	if (chart->told == 0)
		return say_quiet(audit, meter, chart);
	if (skip > 0 && !audit_note_add(audit, meter, AUDIT_TOPIC_SIGNAL, SEVERITY_NOTE,
	                                "Of %zu signals in %s the newest %d follow; the workbook has all.", chart->told,
	                                chart_name(chart).text, SIGNALS_SAID))
		return false;
	for (size_t i = 0; i < chart->n; i++)
		if (chart->points[i].told && ++seen > skip && !say_signal(audit, meter, chart, &chart->points[i]))
			return false;
	return true;
}

bool signals_say(struct audit *audit, size_t meter)
{
	const struct audit_meter *about = &audit->meters[meter];

	for (size_t i = 0; i < about->chart_count; i++)
		if (!chart_say(audit, meter, &about->charts[i]))
			return false;
	return true;
}

bool chart_alarm(const struct audit_chart *chart)
{
	return (chart->points[chart->n - 1].signals & GRAVE) != 0;
}

bool audit_alarm(const struct audit *audit)
{
	for (size_t m = 0; m < audit->meter_count; m++)
		for (size_t c = 0; c < audit->meters[m].chart_count; c++)
			if (chart_alarm(&audit->meters[m].charts[c]))
				return true;
	return false;
}
