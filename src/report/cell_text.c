/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cell_text.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistr.h>

enum {
	REPLACEMENT = 0xFFFD,
	FIRST_BEYOND_UTF16_UNIT = 0x10000,
	ESCAPE_LEN = 7, /* of _x0041_ */
	CUT_UNITS = 8,  /* of CELL_TEXT_CUT */
	GROWTH = 3,     /* bytes that one bad byte, or one byte of an escape form, becomes at most */
	BYTES_MOST = 4 * CELL_TEXT_MOST + 64,
};

/* A text on its way into the room. */
struct flow {
	char *out;
	size_t len;
	size_t units;     /* UTF-16 units written */
	size_t fits;      /* length up to which the text may stand if it has to be cut */
	size_t fits_most; /* units up to which fits moves on */
	bool one_line;
};

static bool make_room(struct cell_text *buffer, size_t len)
{
	size_t wanted = len > BYTES_MOST / GROWTH ? BYTES_MOST : len * GROWTH;
	char *room;

	wanted += 64;
	if (buffer->size >= wanted)
		return true;
	room = realloc(buffer->room, wanted);
	if (!room)
		return false;
	buffer->room = room;
	buffer->size = wanted;
	return true;
}

/* Nothing in it that needs a look: the usual case, and nearly all of a large report. */
static bool plain(struct slice text)
{
	if (text.len > CELL_TEXT_MOST)
		return false;
	for (size_t i = 0; i < text.len; i++) {
		unsigned char c = (unsigned char)text.text[i];

		if (c < 0x20 || c >= 0x7F || c == '_')
			return false;
	}
	return true;
}

static bool escape_form(const char *text, size_t len)
{
	if (len < ESCAPE_LEN || text[0] != '_' || text[1] != 'x' || text[ESCAPE_LEN - 1] != '_')
		return false;
	for (size_t i = 2; i < ESCAPE_LEN - 1; i++)
		if (!strchr("0123456789abcdefABCDEF", text[i]) || text[i] == '\0')
			return false;
	return true;
}

static void put(struct flow *flow, const char *bytes, size_t len, size_t units)
{
	memcpy(flow->out + flow->len, bytes, len);
	flow->len += len;
	flow->units += units;
	if (flow->units <= flow->fits_most)
		flow->fits = flow->len;
}

static void put_code_point(struct flow *flow, ucs4_t c)
{
	uint8_t bytes[6];
	int len = u8_uctomb(bytes, c, sizeof(bytes));

	if (len > 0)
		put(flow, (const char *)bytes, (size_t)len, c >= FIRST_BEYOND_UTF16_UNIT ? 2 : 1);
}

/* Takes up one character, or one line end, at the beginning of text; returns its length. */
static size_t take(struct flow *flow, const char *text, size_t len)
{
	ucs4_t c;
	int used = u8_mbtouc(&c, (const uint8_t *)text, len);
	size_t taken = used > 0 ? (size_t)used : 1;

	if (c == '\r') {
		if (len > 1 && text[1] == '\n')
			return taken; /* the LF behind it will do */
		c = '\n';
	}
	if (c == '\n' || c == '\t') {
		put(flow, flow->one_line ? " " : c == '\n' ? "\n" : "\t", 1, 1);
	} else if (c < 0x20 || (c >= 0x7F && c <= 0x9F)) {
		return taken; /* controls: C0, DEL, C1 */
	} else if (c == '_' && !flow->one_line && escape_form(text, len)) {
		put(flow, "_x005F_", ESCAPE_LEN, ESCAPE_LEN);
	} else {
		put_code_point(flow, c == 0xFFFE || c == 0xFFFF ? REPLACEMENT : c);
	}
	return taken;
}

static void clean(struct flow *flow, struct slice text, size_t units_most, const char *mark)
{
	size_t at = 0;

	while (at < text.len && flow->units <= units_most)
		at += take(flow, text.text + at, text.len - at);
	if (flow->units > units_most) {
		flow->len = flow->fits;
		memcpy(flow->out + flow->len, mark, strlen(mark));
		flow->len += strlen(mark);
	}
	flow->out[flow->len] = '\0';
}

const char *cell_text_of(struct cell_text *buffer, struct slice text)
{
	struct flow flow = { .fits_most = CELL_TEXT_MOST - CUT_UNITS };

	if (!make_room(buffer, text.len))
		return NULL;
	flow.out = buffer->room;
	if (plain(text)) {
		if (text.len > 0)
			memcpy(buffer->room, text.text, text.len);
		buffer->room[text.len] = '\0';
	} else {
		clean(&flow, text, CELL_TEXT_MOST, CELL_TEXT_CUT);
	}
	return buffer->room;
}

const char *cell_text_line(struct cell_text *buffer, struct slice text, size_t most)
{
	struct flow flow = { .fits_most = most > 0 ? most - 1 : 0, .one_line = true };

	if (!make_room(buffer, text.len))
		return NULL;
	flow.out = buffer->room;
	clean(&flow, text, most < CELL_TEXT_MOST ? most : CELL_TEXT_MOST, "…");
	return buffer->room;
}

void cell_text_release(struct cell_text *buffer)
{
	free(buffer->room);
	*buffer = (struct cell_text)CELL_TEXT_INIT;
}
