/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "lines.h"

#include <stdio.h>
#include <string.h>
#include <unictype.h>
#include <unistr.h>

enum { PIECE = 256 }; /* bytes that are searched at a time */

/* Where a line ends: bytes before the end, bytes of the end, and what may follow as its other half. */
struct cut {
	size_t at, len;
	char twin;
};

const char *line_end_name(enum line_end end)
{
	switch (end) {
	case LINE_END_AUTO:
		return "auto";
	case LINE_END_LF:
		return "lf";
	case LINE_END_CR:
		return "cr";
	case LINE_END_CRLF:
		return "crlf";
	case LINE_END_GAP:
		return "gap";
	}
	return "";
}

static bool cut_at_byte(struct cut *cut, struct slice bytes, char end)
{
	const char *found = bytes.len ? memchr(bytes.text, end, bytes.len) : NULL;

	if (found)
		*cut = (struct cut){ .at = (size_t)(found - bytes.text), .len = 1 };
	return found != NULL;
}

static bool cut_at_pair(struct cut *cut, struct slice bytes)
{
	const char *found = bytes.len ? memmem(bytes.text, bytes.len, "\r\n", 2) : NULL;

	if (found)
		*cut = (struct cut){ .at = (size_t)(found - bytes.text), .len = 2 };
	return found != NULL;
}

static bool cut_at_any(struct cut *cut, struct slice bytes)
{
	/* piece by piece: a search for one of the two would run past the other, and on to the end each time */
	for (size_t at = 0; at < bytes.len; at += PIECE) {
		struct slice piece = slice_part(bytes, at, at + PIECE);
		const char *lf = memchr(piece.text, '\n', piece.len);
		size_t before = lf ? (size_t)(lf - piece.text) : piece.len;
		const char *cr = memchr(piece.text, '\r', before);

		if (!lf && !cr)
			continue;
		*cut = (struct cut){ .at = at + (cr ? (size_t)(cr - piece.text) : before),
			             .len = 1,
			             .twin = cr ? '\n' : '\r' };
		return true;
	}
	return false;
}

static bool cut_find(struct cut *cut, struct slice bytes, enum line_end end)
{
	switch (end) {
	case LINE_END_LF:
		return cut_at_byte(cut, bytes, '\n');
	case LINE_END_CR:
		return cut_at_byte(cut, bytes, '\r');
	case LINE_END_CRLF:
		return cut_at_pair(cut, bytes);
	case LINE_END_AUTO:
	case LINE_END_GAP:
		break;
	}
	return cut_at_any(cut, bytes);
}

static size_t nuls_in(struct slice text)
{
	size_t count = 0;

	for (size_t i = 0; i < text.len; i++)
		count += text.text[i] == '\0';
	return count;
}

struct slice line_without_nuls(struct slice text, size_t *nuls)
{
	*nuls = nuls_in(text);
	if (*nuls == 0)
		return text;
	while (text.len > 0 && text.text[0] == '\0')
		text = slice_part(text, 1, text.len);
	while (text.len > 0 && text.text[text.len - 1] == '\0')
		text.len--;
	return text;
}

void lines_init(struct lines *lines, enum line_end end, int gap_ms)
{
	*lines = (struct lines){ .end = end, .gap_us = (int64_t)gap_ms * 1000 };
}

void lines_clear(struct lines *lines)
{
	lines->from = 0;
	lines->len = 0;
	lines->twin = '\0';
	lines->broken = false;
	lines->closed = false;
}

void lines_idle(struct lines *lines, int64_t now_us)
{
	if (lines->end == LINE_END_GAP && (lines->len > 0 || lines->broken) &&
	    now_us - lines->arrived_us >= lines->gap_us)
		lines->closed = true;
}

size_t lines_add(struct lines *lines, const char *bytes, size_t len, int64_t now_us)
{
	size_t room;

	lines_idle(lines, now_us);
	if (len == 0 || lines->closed)
		return 0;
	if (lines->from > 0) {
		memmove(lines->bytes, lines->bytes + lines->from, lines->len);
		lines->from = 0;
	}
	room = sizeof(lines->bytes) - lines->len;
	if (len > room)
		len = room;
	memcpy(lines->bytes + lines->len, bytes, len);
	lines->len += len;
	lines->nul_count += nuls_in((struct slice){ bytes, len });
	lines->arrived_us = now_us;
	return len;
}

struct slice lines_pending(const struct lines *lines)
{
	return (struct slice){ lines->bytes + lines->from, lines->len };
}

/* Gives out the first len bytes that are held, and forgets skip more. */
static void lines_take(struct lines *lines, struct line *out, size_t len, size_t skip)
{
	out->raw = (struct slice){ lines->bytes + lines->from, len };
	out->text = line_without_nuls(out->raw, &out->nuls);
	out->arrived_us = lines->arrived_us;
	out->again = false;
	lines->from += len + skip;
	lines->len -= len + skip;
}

static void swallow_twin(struct lines *lines)
{
	if (lines->twin && lines->len > 0 && lines->bytes[lines->from] == lines->twin) {
		lines->from++;
		lines->len--;
	}
	if (lines->len > 0 || !lines->twin)
		lines->twin = '\0';
}

static enum framing piece_next(struct lines *lines, struct line *out)
{
	if (lines->len <= LINES_CAP)
		return FRAMING_MORE;
	lines_take(lines, out, LINES_CAP, 0);
	out->again = lines->broken;
	lines->long_count += !lines->broken;
	lines->broken = true;
	return FRAMING_BROKEN;
}

/* A line whose end was found, or the last piece of one that was too long. */
static enum framing whole_next(struct lines *lines, struct line *out, const struct cut *cut)
{
	bool broken = lines->broken;

	lines_take(lines, out, cut->at, cut->len);
	lines->broken = false;
	out->again = broken;
	return broken ? FRAMING_BROKEN : FRAMING_LINE;
}

static enum framing silent_next(struct lines *lines, struct line *out)
{
	enum framing framing = piece_next(lines, out);
	struct cut cut = { .at = lines->len };

	if (framing != FRAMING_MORE || !lines->closed)
		return framing;
	lines->closed = false;
	if (lines->len == 0) {
		lines->broken = false;
		return FRAMING_MORE;
	}
	framing = whole_next(lines, out, &cut);
	out->text = slice_trim(out->text);
	return framing;
}

enum framing lines_next(struct lines *lines, struct line *out)
{
	struct cut cut;

	if (lines->end == LINE_END_GAP)
		return silent_next(lines, out);
	swallow_twin(lines);
	if (!cut_find(&cut, lines_pending(lines), lines->end) || cut.at > LINES_CAP)
		return piece_next(lines, out);
	lines->twin = cut.twin;
	return whole_next(lines, out, &cut);
}

bool line_walk_next(struct line_walk *walk, struct slice *line, bool *ended)
{
	struct slice rest = walk->rest;
	struct cut cut;
	bool found;

	if (rest.len == 0)
		return false;
	found = cut_find(&cut, rest, walk->end);
	if (ended)
		*ended = found;
	walk->number++;
	if (!found) {
		*line = rest;
		walk->rest = slice_part(rest, rest.len, rest.len);
		return true;
	}
	*line = slice_part(rest, 0, cut.at);
	cut.at += cut.len;
	if (cut.twin && cut.at < rest.len && rest.text[cut.at] == cut.twin)
		cut.at++;
	walk->rest = slice_part(rest, cut.at, rest.len);
	return true;
}

/* One character of text at *at, printable; returns its length in out, and moves *at. */
static int char_print(char *out, size_t size, struct slice text, size_t *at)
{
	const uint8_t *bytes = (const uint8_t *)text.text + *at;
	ucs4_t c;
	int len;

	if (*bytes >= ' ' && *bytes < 0x7f) {
		*at += 1;
		out[0] = (char)*bytes;
		out[1] = '\0';
		return 1;
	}
	len = u8_mbtoucr(&c, bytes, text.len - *at);
	if (len < 1 || c < ' ' || c == 0x7f) {
		*at += 1;
		return snprintf(out, size, "\\x%02x", bytes[0]);
	}
	*at += (size_t)len;
	if ((c >= 0x80 && c < 0xa0) || uc_is_property_default_ignorable_code_point(c))
		return snprintf(out, size, "<U+%04X>", (unsigned)c);
	return snprintf(out, size, "%.*s", len, (const char *)bytes);
}

const char *line_print(char *out, size_t size, struct slice text)
{
	size_t used = 0;
	size_t cut = 0; /* the last place that has room for "..." */

	out[0] = '\0';
	for (size_t at = 0; at < text.len;) {
		char one[16];
		size_t len = (size_t)char_print(one, sizeof(one), text, &at);

		if (used + 4 <= size)
			cut = used;
		if (used + len >= size) {
			memcpy(out + cut, "...", 4);
			break;
		}
		memcpy(out + used, one, len + 1);
		used += len;
	}
	return out;
}

void line_doubt_add(struct line_doubt *doubt, struct slice line)
{
	doubt->lines++;
	doubt->bytes += line.len;
	for (size_t i = 0; i < line.len; i++) {
		unsigned char c = (unsigned char)line.text[i];

		doubt->even += __builtin_parity(c) == 0;
		doubt->high += c >= 0x80;
		doubt->control += (c < ' ' && c != '\t') || c == 0x7f;
	}
}

enum doubt_cause line_doubt_cause(const struct line_doubt *doubt)
{
	enum { ENOUGH_BYTES = 400 };

	if (doubt->lines < DOUBT_LINES && doubt->bytes < ENOUGH_BYTES)
		return DOUBT_NONE;
	if (doubt->high > 0 && doubt->even == doubt->bytes)
		return DOUBT_EVEN_PARITY;
	if (doubt->high > 0 && doubt->even == 0)
		return DOUBT_ODD_PARITY;
	if ((doubt->high + doubt->control) * 4 > doubt->bytes)
		return DOUBT_SPEED;
	return DOUBT_NONE;
}

const char *doubt_cause_advice(enum doubt_cause cause)
{
	switch (cause) {
	case DOUBT_NONE:
		return "";
	case DOUBT_EVEN_PARITY:
		return "every byte has even parity: the meter sends 7E1 (data-bits = 7, parity = even)";
	case DOUBT_ODD_PARITY:
		return "every byte has odd parity: the meter sends 7O1 (data-bits = 7, parity = odd)";
	case DOUBT_SPEED:
		return "the bytes look like noise: the speed or the frame is wrong (baud, data-bits, parity)";
	}
	return "";
}
