/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cell.h"

#include <string.h>

#include "number.h"
#include "timestamp.h"

enum { NUMBER_LONGEST = 400 }; /* a cell with more is looked at no further */

#define DEGREE "\xc2\xb0"

static const struct measure measures[] = {
	{ "g", MEASURE_MASS, 1, 0 },
	{ "kg", MEASURE_MASS, 1000, 0 },
	{ "mg", MEASURE_MASS, 0.001, 0 },
	{ "oz", MEASURE_MASS, 28.349523125, 0 },
	{ "lb", MEASURE_MASS, 453.59237, 0 },
	{ "ml", MEASURE_VOLUME, 1, 0 },
	{ "cl", MEASURE_VOLUME, 10, 0 },
	{ "l", MEASURE_VOLUME, 1000, 0 },
	{ "fl oz", MEASURE_VOLUME, 29.5735295625, 0 },
	{ DEGREE "C", MEASURE_TEMPERATURE, 1, 0 },
	{ DEGREE "F", MEASURE_TEMPERATURE, 5.0 / 9.0, 32 },
	{ "K", MEASURE_TEMPERATURE, 1, 273.15 },
	{ "s", MEASURE_TIME, 1, 0 },
	{ "min", MEASURE_TIME, 60, 0 },
	{ "h", MEASURE_TIME, 3600, 0 },
	{ "%", MEASURE_PERCENT, 1, 0 },
};

/* Other spellings, lower case. */
static const struct {
	const char *spelling;
	const char *name;
} spellings[] = {
	{ "gr", "g" },
	{ "gram", "g" },
	{ "grams", "g" },
	{ "gramme", "g" },
	{ "grammes", "g" },
	{ "gramm", "g" },
	{ "kilogram", "kg" },
	{ "kilograms", "kg" },
	{ "kilo", "kg" },
	{ "milligram", "mg" },
	{ "milligrams", "mg" },
	{ "ounce", "oz" },
	{ "ounces", "oz" },
	{ "lbs", "lb" },
	{ "pound", "lb" },
	{ "pounds", "lb" },
	{ "millilitre", "ml" },
	{ "millilitres", "ml" },
	{ "milliliter", "ml" },
	{ "milliliters", "ml" },
	{ "cc", "ml" },
	{ "cm3", "ml" },
	{ "litre", "l" },
	{ "litres", "l" },
	{ "liter", "l" },
	{ "liters", "l" },
	{ "floz", "fl oz" },
	{ "fl. oz.", "fl oz" },
	{ "fl.oz.", "fl oz" },
	{ "c", DEGREE "C" },
	{ DEGREE " c", DEGREE "C" },
	{ "\xc2\xba"
	  "c",
	  DEGREE "C" },                 /* U+00BA, the ordinal sign that stands beside the digits on keyboards */
	{ "\xe2\x84\x83", DEGREE "C" }, /* U+2103 */
	{ "deg c", DEGREE "C" },
	{ "degc", DEGREE "C" },
	{ "celsius", DEGREE "C" },
	{ "f", DEGREE "F" },
	{ DEGREE " f", DEGREE "F" },
	{ "\xc2\xba"
	  "f",
	  DEGREE "F" },
	{ "\xe2\x84\x89", DEGREE "F" }, /* U+2109 */
	{ "deg f", DEGREE "F" },
	{ "degf", DEGREE "F" },
	{ "fahrenheit", DEGREE "F" },
	{ "kelvin", "K" },
	{ "sec", "s" },
	{ "secs", "s" },
	{ "second", "s" },
	{ "seconds", "s" },
	{ "mins", "min" },
	{ "minute", "min" },
	{ "minutes", "min" },
	{ "m:s", "min" },
	{ "m:ss", "min" },
	{ "mm:ss", "min" },
	{ "min:s", "min" },
	{ "min:sec", "min" },
	{ "hour", "h" },
	{ "hours", "h" },
	{ "hr", "h" },
	{ "hrs", "h" },
	{ "percent", "%" },
	{ "per cent", "%" },
	{ "pct", "%" },
};

static const struct measure *measure_named(struct slice text)
{
	for (size_t i = 0; i < sizeof(measures) / sizeof(measures[0]); i++)
		if (slice_equal_nocase(slice_from(measures[i].name), text))
			return &measures[i];
	return NULL;
}

const struct measure *measure_find(struct slice text)
{
	const struct measure *found;

	text = slice_trim(text);
	if (text.len == 0 || text.len > 16)
		return NULL;
	found = measure_named(text);
	for (size_t i = 0; !found && i < sizeof(spellings) / sizeof(spellings[0]); i++)
		if (slice_equal_nocase(slice_from(spellings[i].spelling), text))
			found = measure_named(slice_from(spellings[i].name));
	return found;
}

double measure_to_base(const struct measure *measure, double number)
{
	return measure ? (number - measure->zero) * measure->factor : number;
}

double measure_from_base(const struct measure *measure, double base)
{
	return measure ? base / measure->factor + measure->zero : base;
}

const char *measure_base(enum measure_kind kind)
{
	switch (kind) {
	case MEASURE_MASS:
		return "g";
	case MEASURE_VOLUME:
		return "ml";
	case MEASURE_TEMPERATURE:
		return DEGREE "C";
	case MEASURE_TIME:
		return "s";
	case MEASURE_PERCENT:
		return "%";
	case MEASURE_NONE:
		break;
	}
	return "";
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

/* What people write where there is no number. */
static bool says_none(struct slice text)
{
	static const char *const words[] = {
		"-", "--", "\xe2\x80\x93", "\xe2\x80\x94", "n/a", "na", "n.a.", "none", "?"
	};

	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++)
		if (slice_equal_nocase(slice_from(words[i]), text))
			return true;
	return false;
}

/* Sign, digits and marks at the beginning of text. */
static size_t number_run(struct slice text)
{
	size_t at = 0;

	if (text.len >= 3 && memcmp(text.text, "\xe2\x88\x92", 3) == 0)
		at = 3;
	else if (text.len > 0 && (text.text[0] == '-' || text.text[0] == '+'))
		at = 1;
	while (at < text.len && (is_digit(text.text[at]) || text.text[at] == '.' || text.text[at] == ','))
		at++;
	return at;
}

static bool has_digit(struct slice text)
{
	for (size_t i = 0; i < text.len; i++)
		if (is_digit(text.text[i]))
			return true;
	return false;
}

/* Why number, which has digits, signs and marks only, is not one in a file with this mark. */
static enum cell_result number_refused(struct slice number, char mark)
{
	size_t other = 0;
	size_t own = 0;

	for (size_t i = 0; i < number.len; i++) {
		other += (number.text[i] == ',' || number.text[i] == '.') && number.text[i] != mark;
		own += number.text[i] == mark;
	}
	if (other == 0)
		return CELL_WORDS;
	if (other > 1 || own > 0)
		return CELL_GROUPED;
	switch (cell_mark(number)) {
	case MARK_WEAK_POINT:
	case MARK_WEAK_COMMA:
		return CELL_GROUPED;
	case MARK_POINT:
	case MARK_COMMA:
		return CELL_MARK;
	case MARK_SILENT:
		break;
	}
	return CELL_WORDS;
}

/* A letter typed for a digit, in "22l" or "25O", is no unit. */
static bool mistyped_digit(char c)
{
	return strchr("lIiOoBbZz", c) != NULL;
}

static enum cell_result number_with_unit(struct quantity *out, struct slice text, char mark)
{
	size_t run = number_run(text);
	struct slice number = slice_part(text, 0, run);
	struct slice unit = slice_trim(slice_part(text, run, text.len));

	if (!has_digit(number) || has_digit(unit))
		return CELL_WORDS;
	if (!number_parse(&out->number, &out->decimals, number, mark))
		return number_refused(number, mark);
	if (unit.len == 1 && text.text[run] == unit.text[0] && mistyped_digit(unit.text[0]))
		return CELL_WORDS;
	out->unit = unit;
	out->measure = measure_find(unit);
	return out->measure ? CELL_NUMBER : CELL_UNIT;
}

enum cell_result cell_number(struct quantity *out, struct slice text, char mark)
{
	text = cell_trim(text);
	out->measure = NULL;
	out->unit = (struct slice){ NULL, 0 };
	if (text.len <= NUMBER_LONGEST && number_parse(&out->number, &out->decimals, text, mark))
		return CELL_NUMBER;
	if (text.len == 0)
		return CELL_EMPTY;
	if (text.len > NUMBER_LONGEST)
		return CELL_WORDS;
	if (says_none(text))
		return CELL_ABSENT;
	return number_with_unit(out, text, mark);
}

/* Digits up to a colon or the end, behind which text then begins. */
static bool part_take(long long *value, struct slice *text)
{
	size_t len = 0;

	while (len < text->len && is_digit(text->text[len]))
		len++;
	if (len > 6 || !number_parse_count(value, slice_part(*text, 0, len)))
		return false;
	if (len < text->len && text->text[len] != ':')
		return false;
	*text = slice_part(*text, len + 1, text->len);
	return true;
}

bool cell_duration(double *seconds, bool *hours, struct slice text)
{
	long long part[3] = { 0, 0, 0 };
	size_t count = 0;

	text = cell_trim(text);
	if (text.len == 0 || text.text[text.len - 1] == ':')
		return false;
	while (text.len > 0 && count < 3)
		if (!part_take(&part[count++], &text))
			return false;
	if (text.len > 0 || count < 2 || part[count - 1] > 59 || (count == 3 && part[1] > 59))
		return false;
	*hours = count == 3;
	*seconds = count == 3 ? (double)(part[0] * 3600 + part[1] * 60 + part[2]) : (double)(part[0] * 60 + part[1]);
	return true;
}

bool cell_moment(int64_t *us, struct slice text)
{
	int64_t got;
	size_t used;

	text = cell_trim(text);
	if (!timestamp_parse(&got, &used, text) || used != text.len)
		return false;
	*us = got;
	return true;
}

enum mark_evidence cell_mark(struct slice text)
{
	struct slice number, whole;
	size_t mark = 0;
	size_t decimals = 0;
	double value;
	bool weak;

	text = cell_trim(text);
	if (text.len > NUMBER_LONGEST)
		return MARK_SILENT;
	number = slice_part(text, 0, number_run(text));
	if (has_digit(slice_part(text, number.len, text.len)) || !number_parse_any(&value, NULL, number))
		return MARK_SILENT;
	while (mark < number.len && number.text[mark] != '.' && number.text[mark] != ',')
		mark++;
	if (mark == number.len)
		return MARK_SILENT;
	decimals = number.len - mark - 1;
	whole = slice_part(number, 0, mark);
	while (whole.len > 0 && !is_digit(whole.text[0]))
		whole = slice_part(whole, 1, whole.len);
	weak = decimals == 3 && whole.len <= 3 && whole.text[0] != '0';
	if (number.text[mark] == '.')
		return weak ? MARK_WEAK_POINT : MARK_POINT;
	return weak ? MARK_WEAK_COMMA : MARK_COMMA;
}

const char *excerpt_of(struct excerpt *out, struct slice text)
{
	size_t characters = 0;
	size_t filled = 0;
	size_t at = 0;

	while (at < text.len && characters < EXCERPT_CHARACTERS && filled < EXCERPT_BYTES - 8) {
		unsigned char c = (unsigned char)text.text[at++];

		out->text[filled++] = (char)(c < ' ' || c == 0x7f ? '?' : c);
		while (at < text.len && ((unsigned char)text.text[at] & 0xc0) == 0x80 && filled < EXCERPT_BYTES - 8)
			out->text[filled++] = text.text[at++];
		characters++;
	}
	if (at < text.len) {
		memcpy(out->text + filled, "\xe2\x80\xa6", 3); /* … */
		filled += 3;
	}
	out->text[filled] = '\0';
	return out->text;
}
