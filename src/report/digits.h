/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * digits.h: with how many digits a number is shown, so that every format shows the same value alike. The workbook keeps
 * to the same numbers of decimals; JSON alone has full precision. What can't be had is "not determined".
 */
#ifndef BREWSPREAD_DIGITS_H
#define BREWSPREAD_DIGITS_H

#include "analysis.h"
#include "sentences.h"

enum { DIGITS_RETAINED = 2 }; /* decimals of water kept by a gram */

/* Decimals of a mean TDS: the most that the readings of the run show, at least 2 and at most 3. */
int digits_tds_decimals(const struct analysis *analysis);

/* In the unit of what is compared: a value, half an interval, a spread of it. */
struct words digits_response(const struct analysis *analysis, double value);

/* A blank, or nothing where what is compared has no unit: to stand before that. */
const char *digits_gap(const struct analysis *analysis);

/* A difference of two such, with its sign: "+0.62", "-0.30", "0.00". */
struct words digits_difference(const struct analysis *analysis, double value);

/* A yield: as the response if that is the yield, else two decimals. */
struct words digits_yield(const struct analysis *analysis, double value);

struct words digits_tds(const struct analysis *analysis, double value);
struct words digits_retained(double value);

/* A cell of a numeric column, or a mean of them, with the decimals of its cells. */
struct words digits_column(const struct column *column, double value);

/* "0.034", "0.25", "< 0.001". */
struct words digits_p(double p);

/* The same with U+2212 for a minus sign at its beginning: for readers, not for machines. */
struct words digits_typeset(struct words words);

#endif
