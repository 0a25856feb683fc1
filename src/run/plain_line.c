/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plain_line.h"

#include <math.h>

#include "number.h"
#include "typed.h"

/* A thousandth of a per cent may be a fraction, and three digits behind a comma a group: reading_text.c asks about them. */
enum { DECIMALS_MOST = 2 };

/* In ASCII, whatever the locale. */
static bool letter(char c)
{
	return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

bool plain_label(struct slice label)
{
	for (size_t i = 0; i < label.len; i++)
		if (!letter(label.text[i]) && !typed_digit(label.text[i]) && label.text[i] != '-' &&
		    label.text[i] != '_')
			return false;
	return true;
}

static size_t skip_blanks(struct slice line, size_t at)
{
	while (at < line.len && (line.text[at] == ' ' || line.text[at] == '\t'))
		at++;
	return at;
}

/* The label that line begins with, with a letter, for a number may be a time; where it ends, 0: none. */
static size_t label_end(struct slice line, const struct label_list *labels)
{
	size_t to = 0;

	if (!labels->plain || line.len == 0 || !letter(line.text[0]))
		return 0;
	while (to < line.len && line.text[to] != ' ' && line.text[to] != '\t')
		to++;
	return label_list_has(labels, slice_part(line, 0, to)) ? to : 0;
}

/* The decimal sign of the number at `at`. */
static char sign_at(struct slice line, size_t at)
{
	while (at < line.len && typed_digit(line.text[at]))
		at++;
	return at < line.len && line.text[at] == ',' ? ',' : '.';
}

/* line from `at` on; slice_part() would be a call for every number. */
static struct slice rest_of(struct slice line, size_t at)
{
	return (struct slice){ line.text + at, line.len - at };
}

/* The numbers from *at on, blanks behind each of them, to the end of line or something else. */
static bool take_values(struct text_line *out, struct slice line, size_t *at, char sign)
{
	out->count = 0;
	while (*at < line.len && typed_digit(line.text[*at])) {
		struct text_value *value;
		size_t used;

		if (out->count == TEXT_LINE_VALUES)
			return false;
		value = &out->values[out->count++];
		*value = (struct text_value){ .shown = { .unit = UNIT_NONE }, .temp_c = NAN, .at = *at };
		used = number_begin(&value->shown.value, &value->shown.decimals, rest_of(line, *at), sign);
		if (used == 0 || value->shown.decimals > DECIMALS_MOST)
			return false;
		*at = skip_blanks(line, *at + used);
		if (*at == value->at + used && *at < line.len)
			return false;
	}
	return out->count > 0;
}

/* "@22.4", and nothing behind it. */
static bool take_temp(struct text_line *out, struct slice line, size_t at, char sign)
{
	double temp_c;
	int decimals;
	size_t used;

	if (line.text[at] != '@')
		return false;
	used = number_begin(&temp_c, &decimals, rest_of(line, at + 1), sign);
	if (used == 0 || used != line.len - at - 1)
		return false;
	for (size_t i = 0; i < out->count; i++)
		out->values[i].temp_c = temp_c;
	return true;
}

bool plain_line_read(struct text_line *out, struct slice line, const struct label_list *labels)
{
	size_t label = label_end(line, labels);
	size_t at = skip_blanks(line, label);
	char sign = sign_at(line, at);

	if (label == 0 || !take_values(out, line, &at, sign) || (at < line.len && !take_temp(out, line, at, sign)))
		return false;
	out->kind = TEXT_LINE_READINGS;
	out->role = READING_SAMPLE;
	out->label = slice_part(line, 0, label);
	out->standard_percent = NAN;
	out->taken_us = READING_NO_TIME;
	out->firm = true;
	out->questioned = false;
	out->at = 0;
	out->reason[0] = '\0';
	return true;
}
