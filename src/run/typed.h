/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * typed.h: the small parts that typed lines are made of: blanks, quotation marks, words, numbers, units. Texts are
 * UTF-8, but any bytes will do; at counts bytes from 0 and may be the length of the text.
 */
#ifndef BREWSPREAD_TYPED_H
#define BREWSPREAD_TYPED_H

#include <stdbool.h>
#include <stddef.h>

#include "slice.h"
#include "unit.h"

/* 0 to 9? */
static inline bool typed_digit(char c)
{
	return c >= '0' && c <= '9';
}

/* Bytes of the character at `at` if text there begins with one of several, given in UTF-8; else 0. */
size_t typed_begins(struct slice text, size_t at, const char *const *any);

/* As typed_blank(), of those beyond ASCII; at lies in text. */
size_t typed_blank_wide(struct slice text, size_t at);

/* Bytes of the blank at `at`: ASCII's, no-break, thin and wide ones; 0: none. */
static inline size_t typed_blank(struct slice text, size_t at)
{
	if (at >= text.len)
		return 0;
	if (text.text[at] == ' ' || text.text[at] == '\t')
		return 1;
	return (unsigned char)text.text[at] < 0x80 ? 0 : typed_blank_wide(text, at);
}

/* Bytes of the quotation mark at `at`: straight, curly, low or angled; 0: none. */
size_t typed_quote(struct slice text, size_t at);

/* Bytes of the typographic minus U+2212 at `at`; 0: none. */
size_t typed_minus(struct slice text, size_t at);

/* The first place from `at` on that is no blank. */
size_t typed_skip_blanks(struct slice text, size_t at);

/* Comma, semicolon, "|" or tab? */
bool typed_separator(char c);

/* Does a word end at `at`: blank, separator, or the end of the line? */
bool typed_word_ends(struct slice text, size_t at);

/* Where the word at `at` ends. */
size_t typed_word_end(struct slice text, size_t at);

/* A decimal number with digits behind its sign? */
bool typed_has_decimals(struct slice word);

/* A whole number, its sign with it? */
bool typed_is_whole(struct slice word);

/* Is the comma at `at` the decimal sign of a number from there on? "1,41" is one, "1,1.41" a label and a number. */
bool typed_decimal_comma(struct slice line, size_t from, size_t at);

/* Are there digits on both sides of a point or comma? */
bool typed_holds_decimals(struct slice text);

/* Bytes of a degree sign and C or F at `at`, nothing of the word left behind it; *fahrenheit; 0: none. */
size_t typed_degrees(struct slice line, size_t at, bool *fahrenheit);

/* Bytes of the unit at `at`, of one word or two; 0: none. */
size_t typed_unit(struct slice line, size_t at, enum unit *unit);

#endif
