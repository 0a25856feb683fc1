/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "line_shape.h"

#include <stdint.h>
#include <string.h>

#include "timestamp.h"

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

static bool is_letter(char c)
{
	return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static size_t digits_end(struct slice line, size_t at)
{
	while (at < line.len && is_digit(line.text[at]))
		at++;
	return at;
}

/* Is there a decimal sign with digits behind it at `at`? */
static bool decimals_at(struct slice line, size_t at)
{
	return at + 1 < line.len && (line.text[at] == '.' || line.text[at] == ',') && is_digit(line.text[at + 1]);
}

/* Letters, then digits and hyphens too, but no digits that a decimal sign follows: "TDS1.38" is a word and a number. */
static size_t word_end(struct slice line, size_t at)
{
	while (at < line.len && is_letter(line.text[at]))
		at++;
	for (;;) {
		size_t to = at;

		if (to + 1 < line.len && (line.text[to] == '-' || line.text[to] == '_'))
			to++;
		if (to >= line.len || !(is_digit(line.text[to]) || is_letter(line.text[to])))
			return at;
		if (is_digit(line.text[to]) && decimals_at(line, digits_end(line, to)))
			return at;
		to = is_digit(line.text[to]) ? digits_end(line, to) : to + 1;
		at = to;
	}
}

/* Where the number at `at` ends; at itself: none begins here. A sign belongs to it where no word or digit is before. */
static size_t number_end(struct slice line, size_t at, enum token_kind *kind)
{
	bool sign = line.text[at] == '-' || line.text[at] == '+';
	size_t from = at + sign;
	size_t to = digits_end(line, from);

	if (to == from || (sign && at > 0 && (is_digit(line.text[at - 1]) || is_letter(line.text[at - 1]))))
		return at;
	*kind = TOKEN_WHOLE;
	if (!decimals_at(line, to))
		return to;
	*kind = TOKEN_DECIMAL;
	return digits_end(line, to + 1);
}

static size_t token_end(struct slice line, size_t at, enum token_kind *kind)
{
	char c = line.text[at];
	size_t to = at;
	size_t used;
	int64_t us;

	if (is_blank(c)) {
		*kind = TOKEN_BLANK;
		while (to < line.len && is_blank(line.text[to]))
			to++;
		return to;
	}
	if (is_letter(c)) {
		*kind = TOKEN_WORD;
		return word_end(line, at);
	}
	if (is_digit(c) && timestamp_parse(&us, &used, slice_part(line, at, line.len))) {
		*kind = TOKEN_TIME;
		return at + used;
	}
	to = number_end(line, at, kind);
	if (to > at)
		return to;
	*kind = TOKEN_MARK;
	return at + 1;
}

bool line_shape_read(struct line_shape *out, struct slice line)
{
	static const char keys[] = { ' ', 'n', 'd', 't', 'w' };

	out->count = 0;
	line = slice_trim(line);
	for (size_t at = 0; at < line.len;) {
		struct token *token = &out->tokens[out->count];
		size_t to;

		if (out->count == SHAPE_TOKENS)
			return false;
		to = token_end(line, at, &token->kind);
		token->text = slice_part(line, at, to);
		out->key[out->count++] = token->kind == TOKEN_MARK ? line.text[at] : keys[token->kind];
		at = to;
	}
	out->key[out->count] = '\0';
	return out->count > 0 && strlen(out->key) == out->count;
}

size_t token_whole_digits(const struct token *number)
{
	size_t sign = number->text.len > 0 && !is_digit(number->text.text[0]);

	return digits_end(number->text, sign) - sign;
}

size_t token_decimals(const struct token *number)
{
	size_t sign = number->text.len > 0 && !is_digit(number->text.text[0]);
	size_t whole = digits_end(number->text, sign);

	return number->text.len > whole ? number->text.len - whole - 1 : 0;
}

char token_sign(const struct token *number)
{
	return memchr(number->text.text, ',', number->text.len) ? ',' : '.';
}
