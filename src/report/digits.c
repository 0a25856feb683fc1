/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "digits.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { TDS_LEAST = 2, TDS_MOST = 3, YIELD_USUAL = 2 };

int digits_tds_decimals(const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	int most = TDS_LEAST;

	for (size_t i = 0; i < run->reading_count; i++)
		if (run_unit(run, &run->readings[i]) != UNIT_INDEX && run->readings[i].decimals > most)
			most = run->readings[i].decimals;
	return most < TDS_MOST ? most : TDS_MOST;
}

struct words digits_response(const struct analysis *analysis, double value)
{
	return words_number(value, analysis->comparison.response.decimals);
}

const char *digits_gap(const struct analysis *analysis)
{
	return analysis->comparison.response.difference_unit[0] != '\0' ? " " : "";
}

struct words digits_difference(const struct analysis *analysis, double value)
{
	struct words words = words_signed(value, analysis->comparison.response.decimals);

	if (words.text[0] == '+' && strspn(words.text + 1, "0.") == strlen(words.text + 1))
		return words_number(value, analysis->comparison.response.decimals);
	return words;
}

struct words digits_yield(const struct analysis *analysis, double value)
{
	return analysis->comparison.response.is_yield ? digits_response(analysis, value) :
	                                                words_number(value, YIELD_USUAL);
}

struct words digits_tds(const struct analysis *analysis, double value)
{
	return words_number(value, digits_tds_decimals(analysis));
}

struct words digits_retained(double value)
{
	return words_number(value, DIGITS_RETAINED);
}

struct words digits_column(const struct column *column, double value)
{
	return words_number(value, column->decimals);
}

struct words digits_p(double p)
{
	struct words words = { .text = "not determined" };

	if (isfinite(p) && p < 0.001)
		snprintf(words.text, sizeof(words.text), "< 0.001");
	else if (isfinite(p))
		snprintf(words.text, sizeof(words.text), "%.*f", p < 0.1 ? 3 : 2, p);
	return words;
}

struct words digits_typeset(struct words words)
{
	struct words out = words;

	if (words.text[0] == '-')
		snprintf(out.text, sizeof(out.text), "\u2212%.40s", words.text + 1);
	return out;
}
