/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "slice.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const struct slice wide_blanks[] = {
	{ "\xc2\xa0", 2 },     /* U+00A0 no-break space */
	{ "\xe2\x80\x87", 3 }, /* U+2007 figure space */
	{ "\xe2\x80\xaf", 3 }, /* U+202F narrow no-break space */
	{ "\xe3\x80\x80", 3 }, /* U+3000 ideographic space */
	{ "\xef\xbb\xbf", 3 }, /* U+FEFF byte order mark */
};

int slice_print_len(struct slice slice)
{
	return slice.len > INT_MAX ? INT_MAX : (int)slice.len;
}

struct slice slice_from(const char *text)
{
	return (struct slice){ text, text ? strlen(text) : 0 };
}

struct slice slice_part(struct slice slice, size_t from, size_t to)
{
	if (to > slice.len)
		to = slice.len;
	if (from > to)
		from = to;
	return (struct slice){ slice.text ? slice.text + from : NULL, to - from };
}

bool slice_equal(struct slice a, struct slice b)
{
	return a.len == b.len && (a.len == 0 || a.text == b.text || memcmp(a.text, b.text, a.len) == 0);
}

bool slice_equal_nocase(struct slice a, struct slice b)
{
	return a.len == b.len && (a.len == 0 || strncasecmp(a.text, b.text, a.len) == 0);
}

int slice_compare(struct slice a, struct slice b)
{
	size_t shorter = a.len < b.len ? a.len : b.len;
	int order = shorter ? memcmp(a.text, b.text, shorter) : 0;

	if (order != 0)
		return order;
	return a.len < b.len ? -1 : a.len > b.len;
}

static size_t blank_at_start(struct slice slice)
{
	if (slice.len == 0 || !slice.text)
		return 0;
	if ((unsigned char)slice.text[0] <= ' ')
		return 1;
	if ((unsigned char)slice.text[0] < 0x80)
		return 0;
	for (size_t i = 0; i < sizeof(wide_blanks) / sizeof(wide_blanks[0]); i++)
		if (slice.len >= wide_blanks[i].len && memcmp(slice.text, wide_blanks[i].text, wide_blanks[i].len) == 0)
			return wide_blanks[i].len;
	return 0;
}

static size_t blank_at_end(struct slice slice)
{
	if (slice.len == 0 || !slice.text)
		return 0;
	if ((unsigned char)slice.text[slice.len - 1] <= ' ')
		return 1;
	if ((unsigned char)slice.text[slice.len - 1] < 0x80)
		return 0;
	for (size_t i = 0; i < sizeof(wide_blanks) / sizeof(wide_blanks[0]); i++)
		if (slice.len >= wide_blanks[i].len &&
		    memcmp(slice.text + slice.len - wide_blanks[i].len, wide_blanks[i].text, wide_blanks[i].len) == 0)
			return wide_blanks[i].len;
	return 0;
}

struct slice slice_trim(struct slice slice)
{
	size_t blank;

	while ((blank = blank_at_start(slice)) > 0)
		slice = slice_part(slice, blank, slice.len);
	while ((blank = blank_at_end(slice)) > 0)
		slice.len -= blank;
	return slice;
}

bool slice_blank(struct slice slice)
{
	return slice_trim(slice).len == 0;
}

char *slice_string(struct slice slice)
{
	char *string = malloc(slice.len + 1);

	if (!string)
		return NULL;
	if (slice.text)
		memcpy(string, slice.text, slice.len);
	string[slice.len] = '\0';
	return string;
}
