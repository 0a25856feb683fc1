/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "label.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unicase.h>
#include <uninorm.h>
#include <unistr.h>

#include "text.h"

/* Printable ASCII alone: no two spellings of one character, nothing hidden. */
static bool is_plain(struct slice text)
{
	for (size_t i = 0; i < text.len; i++)
		if (text.text[i] < ' ' || text.text[i] > '~')
			return false;
	return true;
}

/* Ranges of what does not show: categories Cc and Cf of Unicode, as far as they occur in names. */
static const struct {
	uint32_t first, last;
} hidden[] = {
	{ 0x0000, 0x001f }, { 0x007f, 0x009f }, { 0x00ad, 0x00ad }, { 0x034f, 0x034f }, { 0x061c, 0x061c },
	{ 0x180e, 0x180e }, { 0x200b, 0x200f }, { 0x2028, 0x202e }, { 0x2060, 0x206f }, { 0xfeff, 0xfeff },
};

static bool is_hidden(uint32_t character)
{
	for (size_t i = 0; i < sizeof(hidden) / sizeof(hidden[0]); i++)
		if (character >= hidden[i].first && character <= hidden[i].last)
			return true;
	return false;
}

/* The character at text[at] and its length; a byte that is not UTF-8 is a character of its own. */
static size_t character_at(ucs4_t *character, struct slice text, size_t at)
{
	int len = u8_mbtoucr(character, (const uint8_t *)text.text + at, text.len - at);

	if (len > 0)
		return (size_t)len;
	*character = 0xfffd;
	return 1;
}

uint32_t label_hidden(struct slice text)
{
	ucs4_t character;

	if (is_plain(text))
		return 0;
	for (size_t at = 0; at < text.len;) {
		at += character_at(&character, text, at);
		if (is_hidden(character))
			return character > 0 ? character : 0xfffd;
	}
	return 0;
}

/* Fills out, as long as text at most, with what shows of it; the length. */
static size_t shown_part(char *out, struct slice text)
{
	size_t filled = 0;
	ucs4_t character;
	size_t len;

	for (size_t at = 0; at < text.len; at += len) {
		len = character_at(&character, text, at);
		if (is_hidden(character))
			continue;
		memcpy(out + filled, text.text + at, len);
		filled += len;
	}
	return filled;
}

bool label_key(struct slice *key, struct arena *arena, struct slice label)
{
	struct slice trimmed = slice_trim(label);
	struct slice shown;
	uint8_t *composed;
	size_t len = 0;
	char *copy;

	*key = trimmed;
	if (is_plain(trimmed))
		return true;
	copy = arena_take(arena, trimmed.len);
	if (!copy)
		return false;
	shown = slice_trim((struct slice){ copy, shown_part(copy, trimmed) });
	if (utf8_valid_part(shown) < shown.len || shown.len == 0) {
		*key = shown; /* what is not UTF-8 is compared byte by byte */
		return true;
	}
	composed = u8_normalize(UNINORM_NFC, (const uint8_t *)shown.text, shown.len, NULL, &len);
	if (!composed)
		return false;
	shown = (struct slice){ (const char *)composed, len };
	if (!slice_equal(shown, trimmed))
		*key = arena_copy(arena, shown);
	free(composed);
	return key->text != NULL;
}

/* Case folded for comparison only, from malloc(); NULL where that cannot be done. */
static uint8_t *casefolded(struct slice key, size_t *len)
{
	*len = 0;
	return u8_casefold((const uint8_t *)key.text, key.len, NULL, UNINORM_NFC, NULL, len);
}

static uint64_t hash_bytes(const char *text, size_t len)
{
	uint64_t hash = UINT64_C(14695981039346656037); /* FNV-1a with its parameters for 64 bits */

	for (size_t i = 0; i < len; i++) {
		unsigned char c = (unsigned char)text[i];

		if (c >= 'A' && c <= 'Z')
			c = (unsigned char)(c - 'A' + 'a');
		hash = (hash ^ c) * UINT64_C(1099511628211);
	}
	return hash ^ hash >> 32;
}

uint64_t label_hash(struct slice key)
{
	uint8_t *folded = NULL;
	uint64_t hash;
	size_t len;

	if (!is_plain(key))
		folded = casefolded(key, &len);
	hash = folded ? hash_bytes((const char *)folded, len) : hash_bytes(key.text, key.len);
	free(folded);
	return hash;
}

bool label_same_nocase(struct slice a, struct slice b)
{
	int order;

	if ((is_plain(a) && is_plain(b)) || utf8_valid_part(a) < a.len || utf8_valid_part(b) < b.len)
		return slice_equal_nocase(a, b);
	if (u8_casecmp((const uint8_t *)a.text, a.len, (const uint8_t *)b.text, b.len, NULL, UNINORM_NFC, &order) != 0)
		return slice_equal(a, b);
	return order == 0;
}

/* How many bytes of blank text begins with. */
static size_t blank_run(struct slice text)
{
	size_t whole = text.len;
	struct slice rest = text;

	while (rest.len > 0) {
		size_t len = (unsigned char)rest.text[0] < 0x80 ? 1 : 2;

		while (len < rest.len && ((unsigned char)rest.text[len] & 0xc0) == 0x80)
			len++;
		if (!slice_blank(slice_part(rest, 0, len)))
			break;
		rest = slice_part(rest, len, rest.len);
	}
	return whole - rest.len;
}

/* Up to the next blank. */
static size_t word_run(struct slice text)
{
	size_t len = 0;

	while (len < text.len && blank_run(slice_part(text, len, text.len)) == 0)
		len++;
	return len;
}

bool label_nearly_same(struct slice a, struct slice b)
{
	for (;;) {
		size_t a_word, b_word;

		a = slice_trim(a);
		b = slice_trim(b);
		a_word = word_run(a);
		b_word = word_run(b);
		if (!label_same_nocase(slice_part(a, 0, a_word), slice_part(b, 0, b_word)))
			return false;
		a = slice_part(a, a_word, a.len);
		b = slice_part(b, b_word, b.len);
		if (a.len == 0 || b.len == 0)
			return a.len == b.len;
	}
}

/* A pattern of one letter a character: d a digit, D any number of them, M a month's short name, s a sign, the rest itself. */
static const struct {
	const char *pattern;
	enum label_look look;
} looks[] = {
	{ "d-M", LABEL_DATE },       { "dd-M", LABEL_DATE },       { "d. M", LABEL_DATE },
	{ "dd. M", LABEL_DATE },     { "M-dd", LABEL_DATE },       { "M dd", LABEL_DATE },
	{ "d-M-dd", LABEL_DATE },    { "dd-M-dd", LABEL_DATE },    { "d-M-dddd", LABEL_DATE },
	{ "dd-M-dddd", LABEL_DATE }, { "dddd-dd-dd", LABEL_DATE }, { "dd.dd.dddd", LABEL_DATE },
	{ "d/d/dddd", LABEL_DATE },  { "dd/dd/dddd", LABEL_DATE }, { "d/dd/dddd", LABEL_DATE },
	{ "dd/d/dddd", LABEL_DATE }, { "dd/dd/dd", LABEL_DATE },   { "dd.dd.dd", LABEL_DATE },
	{ "DEsD", LABEL_POWER },     { "D.DEsD", LABEL_POWER },    { "D,DEsD", LABEL_POWER },
};

/* English, and those of other languages that differ from it. */
static const char months[] = "jan feb mar apr may jun jul aug sep oct nov dec mrz mai okt dez ene abr ago dic";

static size_t month_len(struct slice text)
{
	for (const char *month = months; text.len >= 3; month += 4) {
		if (slice_equal_nocase(slice_part(text, 0, 3), (struct slice){ month, 3 }))
			return 3;
		if (month[3] == '\0')
			break;
	}
	return 0;
}

static size_t digits_len(struct slice text)
{
	size_t len = 0;

	while (len < text.len && text.text[len] >= '0' && text.text[len] <= '9')
		len++;
	return len;
}

/* How much of text the pattern's letter takes; 0: it does not fit. */
static size_t letter_len(char letter, struct slice text)
{
	if (text.len == 0)
		return 0;
	switch (letter) {
	case 'd':
		return digits_len(slice_part(text, 0, 1));
	case 'D':
		return digits_len(text);
	case 'M':
		return month_len(text);
	case 's':
		return text.text[0] == '+' || text.text[0] == '-';
	case 'E':
		return text.text[0] == 'E' || text.text[0] == 'e';
	default:
		return text.text[0] == letter;
	}
}

static bool look_fits(const char *pattern, struct slice label)
{
	for (; *pattern; pattern++) {
		size_t len = letter_len(*pattern, label);

		if (len == 0)
			return false;
		label = slice_part(label, len, label.len);
	}
	return label.len == 0;
}

enum label_look label_look(struct slice label)
{
	if (label.len < 4 || label.len > 40)
		return LABEL_PLAIN;
	if (digits_len(label) == 0 && label.text[3] != '-' && label.text[3] != ' ')
		return LABEL_PLAIN; /* nor can it begin with a month */
	for (size_t i = 0; i < sizeof(looks) / sizeof(looks[0]); i++)
		if (look_fits(looks[i].pattern, label))
			return looks[i].look;
	return LABEL_PLAIN;
}
