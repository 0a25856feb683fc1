/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_words.h: what an audit found, in plain words: what a meter can and can't tell apart, and what to do about it.
 */
#ifndef BREWSPREAD_AUDIT_WORDS_H
#define BREWSPREAD_AUDIT_WORDS_H

#include "audit.h"

/* Fills notes of a computed audit: meter by meter, topic by topic, then what is of no meter. False: no memory. */
bool audit_say(struct audit *audit);

/* Adds one. False: no memory. */
bool audit_note_add(struct audit *audit, size_t meter, enum audit_topic topic, enum severity severity,
                    const char *format, ...) __attribute__((format(printf, 5, 6)));

/* Room for a moment or a month in a sentence: "2026-03-14 10:04" UTC, "2026-03"; "at a time not told". */
struct when {
	char text[32];
};

struct when when_moment(int64_t us);
struct when when_month(int64_t us);

/* A chart's name: "zero", "standard 2.00 %", "repeatability". */
struct chart_name {
	char text[48];
};

struct chart_name chart_name(const struct audit_chart *chart);

/* What a signal on such a chart says to try first, the end of a sentence; signals is not 0. */
const char *signal_advice(const struct audit_chart *chart, const struct audit_point *point);

/* The weightiest of signals, in words: "beyond the limits", "9 points in a row …". */
const char *signal_words(unsigned signals);

/* Does the chart's newest point lie beyond its limits, or its EWMA? */
bool chart_alarm(const struct audit_chart *chart);

/* Does the newest point of any chart lie beyond its limits, or its EWMA? */
bool audit_alarm(const struct audit *audit);

#endif
