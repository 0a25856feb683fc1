/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "timestamp.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

/* Exactly digits digits at *at; moves *at behind them. */
static bool take_digits(int *value, struct slice text, size_t *at, size_t digits)
{
	int got = 0;

	if (*at > text.len || text.len - *at < digits)
		return false;
	for (size_t i = 0; i < digits; i++) {
		char c = text.text[*at + i];

		if (c < '0' || c > '9')
			return false;
		got = got * 10 + (c - '0');
	}
	*value = got;
	*at += digits;
	return true;
}

static bool take_char(struct slice text, size_t *at, const char *any)
{
	if (*at >= text.len)
		return false;
	for (; *any; any++)
		if (text.text[*at] == *any) {
			(*at)++;
			return true;
		}
	return false;
}

static bool is_leap(int year)
{
	return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static bool take_date(struct tm *tm, struct slice text, size_t *at)
{
	static const int month_days[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
	int year, month, day;

	if (!take_digits(&year, text, at, 4) || !take_char(text, at, "-") || !take_digits(&month, text, at, 2) ||
	    !take_char(text, at, "-") || !take_digits(&day, text, at, 2))
		return false;
	if (year < 1900 || month < 1 || month > 12 || day < 1)
		return false;
	if (day > month_days[month - 1] + (month == 2 && is_leap(year)))
		return false;
	tm->tm_year = year - 1900;
	tm->tm_mon = month - 1;
	tm->tm_mday = day;
	return true;
}

static int take_fraction(struct slice text, size_t *at)
{
	int us = 0;
	int scale = 100000;
	size_t before = *at;

	if (!take_char(text, at, ".,"))
		return 0;
	if (*at >= text.len || text.text[*at] < '0' || text.text[*at] > '9') {
		*at = before;
		return 0;
	}
	for (; *at < text.len && text.text[*at] >= '0' && text.text[*at] <= '9'; (*at)++, scale /= 10)
		us += (text.text[*at] - '0') * scale;
	return us;
}

static bool take_time(struct tm *tm, int *us, struct slice text, size_t *at)
{
	*us = 0;
	if (!take_digits(&tm->tm_hour, text, at, 2) || !take_char(text, at, ":") ||
	    !take_digits(&tm->tm_min, text, at, 2))
		return false;
	if (take_char(text, at, ":")) {
		if (!take_digits(&tm->tm_sec, text, at, 2))
			return false;
		*us = take_fraction(text, at);
	}
	return tm->tm_hour < 24 && tm->tm_min < 60 && tm->tm_sec < 60;
}

static bool take_offset(int *offset_s, struct slice text, size_t *at)
{
	int sign, hours, minutes;

	*offset_s = 0;
	if (take_char(text, at, "Zz"))
		return true;
	if (take_char(text, at, "+"))
		sign = 1;
	else if (take_char(text, at, "-"))
		sign = -1;
	else
		return true;
	if (!take_digits(&hours, text, at, 2))
		return false;
	take_char(text, at, ":");
	if (!take_digits(&minutes, text, at, 2) || hours > 14 || minutes > 59)
		return false;
	*offset_s = sign * (hours * 3600 + minutes * 60);
	return true;
}

static bool ends_here(struct slice text, size_t at)
{
	return at == text.len || take_char(text, &at, " \t,;");
}

bool timestamp_parse(int64_t *us, size_t *used, struct slice text)
{
	struct tm tm = { .tm_year = 70, .tm_mday = 1 };
	size_t at = 0;
	int fraction, offset_s;

	if (take_date(&tm, text, &at)) {
		if (!take_char(text, &at, "T "))
			return false;
	} else {
		at = 0;
		tm = (struct tm){ .tm_year = 70, .tm_mday = 1 };
	}
	if (!take_time(&tm, &fraction, text, &at) || !take_offset(&offset_s, text, &at) || !ends_here(text, at))
		return false;
	*us = ((int64_t)timegm(&tm) - offset_s) * 1000000 + fraction;
	if (used)
		*used = at;
	return true;
}

bool moment_parse(int64_t *us, struct slice text)
{
	struct tm tm = { .tm_year = 70, .tm_mday = 1 };
	size_t at = 0, used;
	int64_t moment;

	if (timestamp_parse(&moment, &used, text)) {
		if (used == text.len)
			*us = moment;
		return used == text.len;
	}
	if (!take_date(&tm, text, &at) || at != text.len)
		return false;
	*us = (int64_t)timegm(&tm) * 1000000;
	return true;
}

/* value with so many digits, and what follows it; returns the place behind. */
static char *put_digits(char *out, int value, int digits, char then)
{
	for (int i = digits - 1; i >= 0; i--, value /= 10)
		out[i] = (char)('0' + value % 10);
	out[digits] = then;
	return out + digits + 1;
}

const char *timestamp_print(char *out, size_t size, int64_t us, int decimals)
{
	int64_t seconds = us / 1000000;
	int64_t rest = us % 1000000;
	char text[TIMESTAMP_TEXT], *at = text;
	size_t len;
	time_t whole;
	struct tm tm;

	if (rest < 0) {
		rest += 1000000;
		seconds--;
	}
	whole = (time_t)seconds;
	if (!gmtime_r(&whole, &tm) || tm.tm_year < -1900 || tm.tm_year > 9999 - 1900) {
		snprintf(out, size, "not a moment");
		return out;
	}
	at = put_digits(at, tm.tm_year + 1900, 4, '-');
	at = put_digits(at, tm.tm_mon + 1, 2, '-');
	at = put_digits(at, tm.tm_mday, 2, 'T');
	at = put_digits(at, tm.tm_hour, 2, ':');
	at = put_digits(at, tm.tm_min, 2, ':');
	at = put_digits(at, tm.tm_sec, 2, decimals == 3 || decimals == 6 ? '.' : 'Z');
	if (decimals == 3)
		at = put_digits(at, (int)(rest / 1000), 3, 'Z');
	else if (decimals == 6)
		at = put_digits(at, (int)rest, 6, 'Z');
	len = (size_t)(at - text);
	len = size > len ? len : size - 1;
	memcpy(out, text, len);
	out[len] = '\0';
	return out;
}

bool moment_undated(int64_t us)
{
	const int64_t days = 31; /* no reading of that month was ever typed: a text runs over a few midnights at most */

	return us >= 0 && us < days * MOMENT_DAY_US;
}

int64_t moment_day(int64_t us)
{
	return us / MOMENT_DAY_US - (us % MOMENT_DAY_US < 0);
}

int64_t moment_following(int64_t us, int64_t before)
{
	if (!moment_undated(us))
		return us;
	us = us % MOMENT_DAY_US + moment_day(before) * MOMENT_DAY_US;
	return before - us > MOMENT_DAY_US / 2 ? us + MOMENT_DAY_US : us;
}

const char *moment_print(char *out, size_t size, int64_t us, int decimals)
{
	enum { DATE = 11 }; /* bytes of "2026-03-01T" */
	char whole[TIMESTAMP_TEXT];

	if (!moment_undated(us))
		return timestamp_print(out, size, us, decimals);
	timestamp_print(whole, sizeof(whole), us, decimals);
	snprintf(out, size, "%.*s", (int)strcspn(whole + DATE, "Z"), whole + DATE);
	return out;
}
