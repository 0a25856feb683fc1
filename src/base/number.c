/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "number.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { EXACT_DIGITS = 15, EXACT_POWER = 22, LONGEST_NUMBER = 400 };

/* Powers of ten that a double holds without error. */
static const double exact_powers[EXACT_POWER + 1] = {
	1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
};

struct digits {
	uint64_t mantissa;
	int count;    /* significant digits in mantissa */
	int decimals; /* -1: no decimal sign */
	bool negative;
};

static size_t skip_sign(struct digits *digits, struct slice text)
{
	if (text.len >= 1 && (text.text[0] == '-' || text.text[0] == '+')) {
		digits->negative = text.text[0] == '-';
		return 1;
	}
	if (text.len >= 3 && memcmp(text.text, "\xe2\x88\x92", 3) == 0) {
		digits->negative = true;
		return 3;
	}
	return 0;
}

/* Reads the digits; false unless they fill text in the grammar. */
static bool digits_read(struct digits *digits, struct slice text, char sign)
{
	size_t at = skip_sign(digits, text);
	size_t first = at;

	for (; at < text.len; at++) {
		char c = text.text[at];

		if (c == sign && digits->decimals < 0 && at > first) {
			digits->decimals = 0;
			continue;
		}
		if (c < '0' || c > '9')
			return false;
		if (digits->mantissa > 0 || c != '0')
			digits->count++;
		if (digits->count <= EXACT_DIGITS)
			digits->mantissa = digits->mantissa * 10 + (uint64_t)(c - '0');
		if (digits->decimals >= 0)
			digits->decimals++;
	}
	return at > first && digits->decimals != 0;
}

/* For numbers with more digits than a double keeps: the C library rounds them right. */
static bool value_by_library(double *value, struct slice text, char sign)
{
	char copy[LONGEST_NUMBER + 1];
	size_t from = 0;
	char *mark;

	if (text.len > LONGEST_NUMBER)
		return false;
	if (text.len >= 3 && memcmp(text.text, "\xe2\x88\x92", 3) == 0)
		from = 3;
	memcpy(copy, text.text + from, text.len - from);
	copy[text.len - from] = '\0';
	mark = strchr(copy, sign);
	if (mark)
		*mark = '.';
	*value = strtod(copy, NULL);
	if (from > 0)
		*value = -*value;
	return isfinite(*value);
}

bool number_parse(double *value, int *decimals, struct slice text, char sign)
{
	struct digits digits = { .decimals = -1 };
	int places;
	double got;

	if (!digits_read(&digits, text, sign))
		return false;
	places = digits.decimals < 0 ? 0 : digits.decimals;
	if (digits.count <= EXACT_DIGITS && places <= EXACT_POWER) {
		/* both operands are exact, so the one rounding of the division is the right one */
		got = (double)digits.mantissa / exact_powers[places];
		if (digits.negative)
			got = -got;
	} else if (!value_by_library(&got, text, sign)) {
		return false;
	}
	*value = got;
	if (decimals)
		*decimals = places;
	return true;
}

/* Takes the digits of text from *at on, up to EXACT_DIGITS + 1 bytes of it. */
static uint64_t digits_take(uint64_t mantissa, struct slice text, size_t *at)
{
	size_t end = text.len <= EXACT_DIGITS ? text.len : EXACT_DIGITS + 1;
	size_t i = *at;

	for (; i < end && text.text[i] >= '0' && text.text[i] <= '9'; i++)
		mantissa = mantissa * 10 + (uint64_t)(text.text[i] - '0');
	*at = i;
	return mantissa;
}

size_t number_begin(double *value, int *decimals, struct slice text, char sign)
{
	size_t at = 0, mark;
	uint64_t mantissa = digits_take(0, text, &at);

	mark = at;
	if (at == 0 || at == text.len || text.text[at] != sign)
		return 0;
	at++; /* the sign takes a byte, so that no more digits are taken than are exact */
	mantissa = digits_take(mantissa, text, &at);
	if (at == mark + 1 || (at < text.len && text.text[at] >= '0' && text.text[at] <= '9'))
		return 0;
	*value = (double)mantissa / exact_powers[at - mark - 1];
	*decimals = (int)(at - mark - 1);
	return at;
}

bool number_parse_any(double *value, int *decimals, struct slice text)
{
	return number_parse(value, decimals, text, '.') || number_parse(value, decimals, text, ',');
}

bool number_parse_count(long long *value, struct slice text)
{
	long long got = 0;

	if (text.len == 0 || text.len > 18)
		return false;
	for (size_t i = 0; i < text.len; i++) {
		if (text.text[i] < '0' || text.text[i] > '9')
			return false;
		got = got * 10 + (text.text[i] - '0');
	}
	*value = got;
	return true;
}

const char *number_print(char *out, size_t size, double value, int decimals)
{
	const char *c = out;

	if (!isfinite(value)) {
		snprintf(out, size, "not determined");
		return out;
	}
	snprintf(out, size, "%.*f", decimals, value);
	if (*c != '-')
		return out;
	for (c++; *c; c++)
		if (*c != '0' && *c != '.')
			return out;
	memmove(out, out + 1, strlen(out)); /* "-0.00" would claim a sign that the digits do not show */
	return out;
}

const char *number_print_exact(char *out, size_t size, double value)
{
	if (!isfinite(value)) {
		snprintf(out, size, "null");
		return out;
	}
	for (int digits = 15; digits <= 17; digits++) {
		snprintf(out, size, "%.*g", digits, value);
		if (strtod(out, NULL) == value) /* exact equality is the point here */
			break;
	}
	return out;
}
