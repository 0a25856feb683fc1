/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "typed.h"

#include <string.h>

#include "number.h"

size_t typed_begins(struct slice text, size_t at, const char *const *any)
{
	for (; *any; any++) {
		size_t len = strlen(*any);

		if (text.len - at >= len && memcmp(text.text + at, *any, len) == 0)
			return len;
	}
	return 0;
}

size_t typed_blank_wide(struct slice text, size_t at)
{
	static const char *const wide[] = { "\xc2\xa0", "\xe2\x80\xaf", "\xe3\x80\x80", "\xef\xbb\xbf", NULL };

	if (text.len - at >= 3 && (unsigned char)text.text[at] == 0xe2 && (unsigned char)text.text[at + 1] == 0x80 &&
	    (unsigned char)text.text[at + 2] >= 0x80 && (unsigned char)text.text[at + 2] <= 0x8a)
		return 3; /* U+2000 … U+200A */
	return typed_begins(text, at, wide);
}

size_t typed_quote(struct slice text, size_t at)
{
	static const char *const quotes[] = { "\"",           "'",
		                              "\xe2\x80\x9c", "\xe2\x80\x9d",
		                              "\xe2\x80\x9e", "\xe2\x80\x98",
		                              "\xe2\x80\x99", "\xc2\xab",
		                              "\xc2\xbb",     NULL };
	char c = at < text.len ? text.text[at] : 'a';

	if (c == '"' || c == '\'')
		return 1;
	return (unsigned char)c >= 0xc2 ? typed_begins(text, at, quotes) : 0;
}

size_t typed_minus(struct slice text, size_t at)
{
	static const char *const minus[] = { "\xe2\x88\x92", NULL };

	return at < text.len && (unsigned char)text.text[at] == 0xe2 ? typed_begins(text, at, minus) : 0;
}

size_t typed_skip_blanks(struct slice text, size_t at)
{
	size_t blank;

	while ((blank = typed_blank(text, at)) > 0)
		at += blank;
	return at;
}

bool typed_separator(char c)
{
	return c == ';' || c == ',' || c == '|' || c == '\t';
}

bool typed_word_ends(struct slice text, size_t at)
{
	return at >= text.len || typed_separator(text.text[at]) || typed_blank(text, at) > 0;
}

size_t typed_word_end(struct slice text, size_t at)
{
	while (!typed_word_ends(text, at))
		at++;
	return at;
}

bool typed_has_decimals(struct slice word)
{
	double value;
	int decimals;

	return number_parse_any(&value, &decimals, word) && decimals > 0;
}

bool typed_is_whole(struct slice word)
{
	double value;
	int decimals;

	return number_parse_any(&value, &decimals, word) && decimals == 0;
}

bool typed_decimal_comma(struct slice line, size_t from, size_t at)
{
	size_t to = at + 1;

	if (at + 1 >= line.len || line.text[at] != ',' || !typed_is_whole(slice_part(line, from, at)))
		return false;
	while (to < line.len && typed_digit(line.text[to]))
		to++;
	return to > at + 1 && !(to + 1 < line.len && line.text[to] == '.' && typed_digit(line.text[to + 1]));
}

bool typed_holds_decimals(struct slice text)
{
	for (size_t at = 1; at + 1 < text.len; at++)
		if ((text.text[at] == '.' || text.text[at] == ',') && typed_digit(text.text[at - 1]) &&
		    typed_digit(text.text[at + 1]))
			return true;
	return false;
}

size_t typed_degrees(struct slice line, size_t at, bool *fahrenheit)
{
	static const char *const signs[] = { "\xc2\xb0", "\xc2\xba", "\xcb\x9a", NULL };
	static const char *const wholes[] = { "\xe2\x84\x83", "\xe2\x84\x89", NULL }; /* one character each */
	bool wide = at < line.len && (unsigned char)line.text[at] >= 0xc2;
	size_t sign = wide ? typed_begins(line, at, signs) : 0;
	size_t letter = typed_skip_blanks(line, at + sign);
	size_t whole = wide ? typed_begins(line, at, wholes) : 0;

	if (whole > 0) {
		*fahrenheit = line.text[at + 2] == '\x89';
		return whole;
	}
	if (letter >= line.len || (sign == 0 && letter > at))
		return 0;
	*fahrenheit = line.text[letter] == 'F';
	if ((line.text[letter] != 'C' && line.text[letter] != 'F') ||
	    (!typed_word_ends(line, letter + 1) && line.text[letter + 1] != '#'))
		return 0;
	return letter + 1 - at;
}

/* Bytes of the letters at `at` that could be a unit. */
static size_t unit_word_len(struct slice line, size_t at)
{
	size_t to = at;

	while (!typed_word_ends(line, to) && !typed_digit(line.text[to]) && line.text[to] != '@' &&
	       line.text[to] != '#' && line.text[to] != '+' && line.text[to] != '-')
		to++;
	return to - at;
}

size_t typed_unit(struct slice line, size_t at, enum unit *unit)
{
	size_t one = at + unit_word_len(line, at);
	size_t two = typed_skip_blanks(line, one);

	if (one == at)
		return 0;
	two += unit_word_len(line, two);
	*unit = two > one ? unit_from_text(line.text + at, two - at) : UNIT_NONE;
	if (*unit != UNIT_NONE)
		return two - at;
	*unit = unit_from_text(line.text + at, one - at);
	return *unit != UNIT_NONE ? one - at : 0;
}
