/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_gauge_words.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "sentences.h"

#define CATEGORIES_WANTED 5.0 /* gauge.h: common practice */

static bool say(struct audit_gauge *gauge, enum severity severity, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

static bool say(struct audit_gauge *gauge, enum severity severity, const char *format, ...)
{
	char text[1024];
	struct audit_note *notes;
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	notes = realloc(gauge->notes, (gauge->note_count + 1) * sizeof(*notes));
	if (!notes)
		return false;
	gauge->notes = notes;
	notes[gauge->note_count] = (struct audit_note){ SIZE_MAX, AUDIT_TOPIC_METER, severity,
		                                        arena_copy(&gauge->memory, slice_from(text)).text };
	return notes[gauge->note_count++].text != NULL;
}

bool gauge_say_mixed(struct audit_gauge *gauge, enum gauge_part part, enum gauge_part other)
{
	return say(gauge, SEVERITY_WARNING,
	           "This study can't tell %s from %s: each of the one goes with just one of the other. What is said of "
	           "%s holds "
	           "both.",
	           gauge_part_name(other), gauge_part_name(part), gauge_part_name(part));
}

static bool say_part(struct audit_gauge *gauge, enum gauge_part which)
{
	const struct gauge_part_result *part = &gauge->part[which];
	struct words share = words_number(part->share_meter, 0);

	if (!part->present || which == GAUGE_SAMPLE)
		return true;
	if (part->var == 0)
		return say(gauge, SEVERITY_NOTE, "Between %s: not distinguishable from 0.", gauge_part_name(which));
	if (!isfinite(part->lower))
		return say(gauge, SEVERITY_NOTE,
		           "Between %s: s = %s %% TDS, %s %% of what the meter adds; too few of them for an interval.",
		           gauge_part_name(which), words_spread(part->sd).text, share.text);
	return say(gauge, SEVERITY_NOTE, "Between %s: s = %s %% TDS (%s to %s), %s %% of what the meter adds.",
	           gauge_part_name(which), words_spread(part->sd).text, words_spread(part->lower).text,
	           words_spread(part->upper).text, share.text);
}

static bool say_whole(struct audit_gauge *gauge)
{
	const struct gauge_part_result *samples = &gauge->part[GAUGE_SAMPLE];

	if (!samples->present)
		return say(gauge, SEVERITY_NOTE, "The meter adds a spread of s = %s %% TDS to one reading.",
		           words_spread(gauge->s_gauge).text);
	return say(gauge, SEVERITY_NOTE,
	           "The meter adds a spread of s = %s %% TDS to one reading; the samples themselves differ by s = %s "
	           "%% TDS.",
	           words_spread(gauge->s_gauge).text, words_spread(samples->sd).text);
}

static bool say_categories(struct audit_gauge *gauge)
{
	double count = gauge->categories;

	if (isnan(count))
		return true;
	if (!isfinite(count))
		return say(gauge, SEVERITY_NOTE,
		           "All that differs are the samples: the meter adds nothing that shows.");
	return say(
		gauge, count < CATEGORIES_WANTED ? SEVERITY_WARNING : SEVERITY_NOTE,
		"One reading tells %.0f kinds of sample apart over the range of these samples; %.0f or more are wanted "
		"(common practice).",
		count, CATEGORIES_WANTED);
}

static double share_of(const struct audit_gauge *gauge, enum gauge_part part)
{
	return gauge->part[part].present ? gauge->part[part].share_meter : 0;
}

/* What of the meter's own spread is largest, and what to do about it. */
static bool say_where(struct audit_gauge *gauge)
{
	double operators = share_of(gauge, GAUGE_OPERATOR) + share_of(gauge, GAUGE_INTERACTION);
	double days = share_of(gauge, GAUGE_DAY), loads = share_of(gauge, GAUGE_LOAD);
	double readings = share_of(gauge, GAUGE_READING);
	double most = fmax(fmax(operators, days), fmax(loads, readings));

	if (!(most > 0))
		return true;
	if (most == operators)
		return say(gauge, SEVERITY_NOTE,
		           "Most of what the meter adds lies between operators: agree on one way of "
		           "loading, waiting and reading.");
	if (most == days)
		return say(gauge, SEVERITY_NOTE,
		           "Most of what the meter adds lies between days: check the zero each day, and "
		           "read all cups of a comparison on one.");
	if (most == loads)
		return say(gauge, SEVERITY_NOTE,
		           "Most of what the meter adds lies between loads: take fresh drops for a second "
		           "reading instead of pressing the button again.");
	return say(gauge, SEVERITY_NOTE,
	           "Most of what the meter adds lies between readings of one load: more readings make "
	           "it smaller.");
}

static bool say_readings(struct audit_gauge *gauge)
{
	const struct audit_effort *effort = &gauge->effort;
	struct words once = words_spread(effort->sd[0]), thrice = words_spread(effort->sd[2]);
	struct words never = words_spread(hypot(effort->weighing_u, effort->load_sd));

	if (!isfinite(effort->sd[0]))
		return true;
	if (isnan(effort->brew_sd))
		return say(gauge, SEVERITY_NOTE,
		           "In yield points, reading, loading and weighing make %s with one reading of a cup, %s with "
		           "three, and "
		           "%s however many: loads and scales set that.",
		           once.text, thrice.text, never.text);
	return say(gauge, SEVERITY_NOTE,
	           "Of the spread of one yield, %s points, brewing makes %.0f %%, reading %.0f %%, loading %.0f %%, "
	           "weighing "
	           "%.0f %%: for these costs %s of a cup %s worth taking.",
	           words_spread(effort->total_sd).text, effort->share_brew, effort->share_meter, effort->share_load,
	           effort->share_weighing, words_count(effort->best, "reading", "readings").text,
	           effort->best == 1 ? "is" : "are");
}

static bool say_days(struct audit_gauge *gauge)
{
	const struct gauge_days *days = &gauge->by_day;

	if (!isfinite(days->u_mean))
		return true;
	return say(
		gauge, SEVERITY_NOTE,
		"Over %zu days the mean is known to %s %% TDS (standard uncertainty, days included); if days did not "
		"differ "
		"it would be %s (%s).",
		days->days, words_spread(days->u_mean).text, words_spread(days->u_mean_pooled).text,
		words_p(days->p).text);
}

static bool loads_differ(const struct audit_gauge *gauge)
{
	for (size_t i = 1; i < gauge->loads; i++)
		if (gauge->load[i].readings.mean != gauge->load[0].readings.mean)
			return true;
	return false;
}

bool gauge_say(struct audit_gauge *gauge, const struct audit_query *query)
{
	bool done;

	(void)query;
	if (isnan(gauge->s_gauge) || isnan(gauge->mean))
		return say(
			gauge, SEVERITY_WARNING, "%s",
			loads_differ(gauge) ?
				"All that differs are the samples: on this display nothing shows of what the meter adds." :
				"No reading differs from another: the study says nothing about the meter.");
	done = say(gauge, SEVERITY_NOTE, "%s of %s, %s in all.", words_count(gauge->loads, "load", "loads").text,
	           words_count(gauge->samples, "sample", "samples").text,
	           words_count(gauge->readings, "reading", "readings").text);
	done = done && say_whole(gauge);
	for (size_t part = 0; done && part < GAUGE_PARTS; part++)
		done = say_part(gauge, (enum gauge_part)part);
	if (done && gauge->claim.limited)
		done = say(gauge, SEVERITY_NOTE,
		           "The spread of readings lies below one step of the display, %s %% TDS: a good part of it "
		           "is rounding.",
		           words_spread(gauge->step).text);
	return done && say_categories(gauge) && say_where(gauge) && say_days(gauge) && say_readings(gauge);
}
