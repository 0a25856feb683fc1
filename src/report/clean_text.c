/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "clean_text.h"

#include <unistr.h>

#include "text.h"

enum { REPLACEMENT = 0xFFFD, CODE_POINT_BYTES = 6 };

static bool is_blank(ucs4_t c)
{
	return c == ' ' || c == '\t' || c == '\n' || c == '\v' || c == '\f' || c == '\r' || c == 0x85 || c == 0x2028 ||
	       c == 0x2029;
}

static bool is_left_out(ucs4_t c)
{
	return c < 0x20 || (c >= 0x7F && c <= 0x9F) || turns_direction(c) || c == 0xFEFF;
}

static void add_code_point(struct phrase *phrase, ucs4_t c)
{
	uint8_t bytes[CODE_POINT_BYTES];
	bool is_text = (c & 0xFFFE) != 0xFFFE && !(c >= 0xFDD0 && c <= 0xFDEF);
	int len = u8_uctomb(bytes, is_text ? c : REPLACEMENT, sizeof(bytes));

	if (len > 0)
		phrase_add(phrase, (struct slice){ (const char *)bytes, (size_t)len });
}

/* Does a number with its sign begin at at: "-0.60", but neither "2026-03-14" nor "half-full"? */
static bool is_minus(struct slice text, size_t at)
{
	bool begins = at == 0 || text.text[at - 1] == ' ' || text.text[at - 1] == '(';

	return text.text[at] == '-' && begins && at + 1 < text.len && text.text[at + 1] >= '0' &&
	       text.text[at + 1] <= '9';
}

void clean_sentence_add(struct phrase *phrase, struct slice text)
{
	size_t from = 0;

	for (size_t at = 0; at < text.len; at++) {
		if (!is_minus(text, at))
			continue;
		phrase_add(phrase, slice_part(text, from, at));
		phrase_words(phrase, "\u2212");
		from = at + 1;
	}
	phrase_add(phrase, slice_part(text, from, text.len));
}

void clean_text_add(struct phrase *phrase, struct slice text)
{
	size_t begin = phrase->len;
	bool blank = false;

	for (size_t at = 0; at < text.len;) {
		ucs4_t c;
		int used = u8_mbtouc(&c, (const uint8_t *)text.text + at, text.len - at);

		at += used > 0 ? (size_t)used : 1;
		if (is_blank(c)) {
			blank = true;
			continue;
		}
		if (is_left_out(c))
			continue;
		if (blank && phrase->len > begin)
			phrase_words(phrase, " ");
		blank = false;
		add_code_point(phrase, c);
	}
}
