/* SPDX-License-Identifier: GPL-3.0-or-later */
/* timestamp.h: moments as microseconds since 1970-01-01 00:00 UTC. No time zone tables: a stamp says its own offset. */
#ifndef BREWSPREAD_TIMESTAMP_H
#define BREWSPREAD_TIMESTAMP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "slice.h"

/*
 * A moment at the beginning of text, in the forms of ISO 8601: date and time of day with "T" or a blank between
 * them ("2026-03-01 10:15", ":22", ".250" may follow, then "Z" or "+01:00"; without: taken as UTC), or a time of day
 * alone ("10:15:22": on 1970-01-01). *used, which may be NULL, is how many bytes of text it takes up; they end at the
 * text's end or before a blank, comma, semicolon or tab.
 * False, outputs untouched: no such form, or no such moment (month 13, 29 February 2025, 25:00).
 */
bool timestamp_parse(int64_t *us, size_t *used, struct slice text);

/* All of text as timestamp_parse(), or a day alone, "2026-03-01": its beginning in UTC. False likewise. */
bool moment_parse(int64_t *us, struct slice text);

/* "2026-03-01T10:15:22.250Z" with so many decimals (0, 3 or 6) of the seconds; returns out. */
const char *timestamp_print(char *out, size_t size, int64_t us, int decimals);

#define TIMESTAMP_TEXT 40

#define MOMENT_DAY_US  (86400 * INT64_C(1000000))

/* Is it a time of day whose date is not told? Those past midnight in the same text stand on the days after 1970-01-01. */
bool moment_undated(int64_t us);

/*
 * us itself where it has a date; else its time of day on the date of before, or on the day after where the clock would
 * have gone back by more than 12 h. A before without a date gives a moment without one.
 */
int64_t moment_following(int64_t us, int64_t before);

/* The day that us lies on: days since 1970-01-01. */
int64_t moment_day(int64_t us);

/* As timestamp_print(), but only the time of day, "10:15:22", where the date is not told. */
const char *moment_print(char *out, size_t size, int64_t us, int decimals);

#endif
