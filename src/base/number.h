/* SPDX-License-Identifier: GPL-3.0-or-later */
/* number.h: numbers from text and back. The locale plays no part in either. */
#ifndef BREWSPREAD_NUMBER_H
#define BREWSPREAD_NUMBER_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#include "slice.h"

/*
 * One decimal number that fills text exactly: an optional sign (+, -, U+2212), digits, at most one decimal
 * sign with digits on both sides of it. No exponent, no grouping, no "nan" or "inf", no hexadecimal.
 * sign is '.' or ','. The value is the double nearest to the decimal, as strtod() would give in the C locale.
 * decimals, which may be NULL, is the number of digits behind the decimal sign: 1.40 has 2.
 * Anything else: false, outputs untouched.
 */
bool number_parse(double *value, int *decimals, struct slice text, char sign);

/*
 * The number that text begins with, where it is of the plainest form: digits, sign, digits, no more than a double keeps.
 * As number_parse() reads it; returns its bytes. 0: none, outputs untouched.
 */
size_t number_begin(double *value, int *decimals, struct slice text, char sign);

/* As number_parse(), with either decimal sign. */
bool number_parse_any(double *value, int *decimals, struct slice text);

/* A whole number of 1 to 18 digits that fills text exactly, no sign; else false. */
bool number_parse_count(long long *value, struct slice text);

/*
 * value with so many decimals, '.' as the sign, never "-0.00"; not finite: "not determined".
 * Writes into out[0..size) like snprintf and returns out.
 */
const char *number_print(char *out, size_t size, double value, int decimals);

/* The shortest text that reads back as the same double ("%.17g" at most); not finite: "null". For JSON. */
const char *number_print_exact(char *out, size_t size, double value);

#define NUMBER_TEXT 48 /* room enough for both */

/* Does whatever is computed of a come out the same of b? NaN is NaN here, and -0 is not 0. */
static inline bool number_same(double a, double b)
{
	return isnan(a) ? isnan(b) : a == b && signbit(a) == signbit(b);
}

#endif
