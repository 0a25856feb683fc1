/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "unit.h"

#include <stdbool.h>
#include <string.h>

/* The longest spelling, folded, and its NUL. */
enum { SPELLING_MAX = 20 };

/* Spellings as fold() leaves them. */
static const struct spelling {
	const char *text;
	enum unit unit;
} spellings[] = {
	{ "%", UNIT_TDS_PERCENT },
	{ "tds", UNIT_TDS_PERCENT },
	{ "%tds", UNIT_TDS_PERCENT },
	{ "tds%", UNIT_TDS_PERCENT },
	{ "tdspercent", UNIT_TDS_PERCENT },
	{ "percenttds", UNIT_TDS_PERCENT },
	{ "brix", UNIT_BRIX },
	{ "bx", UNIT_BRIX },
	{ "\xb0"
	  "bx",
	  UNIT_BRIX },
	{ "\xb0"
	  "brix",
	  UNIT_BRIX },
	{ "%brix", UNIT_BRIX },
	{ "brix%", UNIT_BRIX },
	{ "%bx", UNIT_BRIX },
	{ "degbrix", UNIT_BRIX },
	{ "degreesbrix", UNIT_BRIX },
	{ "nd", UNIT_INDEX },
	{ "nd20", UNIT_INDEX },
	{ "ri", UNIT_INDEX },
	{ "n", UNIT_INDEX },
	{ "index", UNIT_INDEX },
	{ "refractiveindex", UNIT_INDEX },
};

const char *unit_name(enum unit unit)
{
	switch (unit) {
	case UNIT_NONE:
		return "none";
	case UNIT_TDS_PERCENT:
		return "tds";
	case UNIT_BRIX:
		return "brix";
	case UNIT_INDEX:
		return "nd";
	}
	return "none";
}

const char *unit_symbol(enum unit unit)
{
	switch (unit) {
	case UNIT_NONE:
		return "";
	case UNIT_TDS_PERCENT:
		return "% TDS";
	case UNIT_BRIX:
		return "°Bx";
	case UNIT_INDEX:
		return "nD";
	}
	return "";
}

/*
 * Bytes of a degree sign at the front of text, or 0: U+00B0, the ordinal U+00BA and the ring U+02DA that are typed for
 * it, in UTF-8, and the one byte that meters and old files send.
 */
static size_t degree_sign_len(const char *text, size_t len)
{
	if (len >= 2 &&
	    (memcmp(text, "\xc2\xb0", 2) == 0 || memcmp(text, "\xc2\xba", 2) == 0 || memcmp(text, "\xcb\x9a", 2) == 0))
		return 2;
	return len >= 1 && text[0] == '\xb0' ? 1 : 0;
}

/* Bytes at the front of text that say nothing about the unit: blanks, U+00A0, U+202F, underscores, brackets. */
static size_t filler_len(const char *text, size_t len)
{
	if (len >= 2 && memcmp(text, "\xc2\xa0", 2) == 0)
		return 2;
	if (len >= 3 && memcmp(text, "\xe2\x80\xaf", 3) == 0)
		return 3;
	return len >= 1 && text[0] != '\0' && strchr(" \t\r\n_()[]", text[0]) ? 1 : 0;
}

/* text in lower case, without filler, a degree sign as the byte 0xb0. False if it is longer than any spelling. */
static bool fold(char out[SPELLING_MAX], const char *text, size_t len)
{
	size_t used = 0;

	for (size_t at = 0; at < len;) {
		size_t degree = degree_sign_len(text + at, len - at);
		size_t filler = filler_len(text + at, len - at);
		char letter = text[at];

		if (filler > 0) {
			at += filler;
			continue;
		}
		if (used + 1 == SPELLING_MAX)
			return false;
		if (letter >= 'A' && letter <= 'Z')
			letter = (char)(letter - 'A' + 'a');
		out[used++] = degree > 0 ? '\xb0' : letter;
		at += degree > 0 ? degree : 1;
	}
	out[used] = '\0';
	return memchr(out, '\0', used) == NULL;
}

enum unit unit_from_text(const char *text, size_t len)
{
	char folded[SPELLING_MAX];

	if (!fold(folded, text, len))
		return UNIT_NONE;
	for (size_t i = 0; i < sizeof(spellings) / sizeof(spellings[0]); i++) {
		if (strcmp(folded, spellings[i].text) == 0)
			return spellings[i].unit;
	}
	return UNIT_NONE;
}
