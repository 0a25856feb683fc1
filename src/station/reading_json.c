/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "reading_json.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistr.h>

#include "number.h"
#include "text.h"
#include "timestamp.h"

static const struct {
	uint8_t flag;
	const char *word;
} flag_words[] = {
	{ READING_OUT_OF_RANGE, "out-of-range" },   { READING_UNJOINED, "not-joined" },
	{ READING_EXCLUDED, "excluded" },           { READING_REPEAT, "repeat" },
	{ READING_QUESTIONED, "questioned" },       { READING_TEMP_APART, "temperature-apart" },
	{ READING_TEMP_UNKNOWN, "no-temperature" }, { READING_STALE, "stale" },
};

const char *reading_role_word(uint8_t role)
{
	static const char *const words[] = { "sample", "zero", "standard", "not read" };

	return role <= LEDGER_RAW ? words[role] : "";
}

const char *reading_flag_words(char *out, size_t size, uint8_t flags)
{
	size_t used = 0;

	out[0] = '\0';
	for (size_t i = 0; i < sizeof(flag_words) / sizeof(flag_words[0]); i++)
		if (flags & flag_words[i].flag && used < size)
			used += (size_t)snprintf(out + used, size - used, "%s%s", used > 0 ? " " : "",
			                         flag_words[i].word);
	return out;
}

/* Bytes of the printable character at text[at]; 0: there is none. */
static size_t printable_len(struct slice text, size_t at)
{
	ucs4_t character;
	int len = u8_mbtoucr(&character, (const uint8_t *)text.text + at, text.len - at);

	if (len <= 0 || character < ' ' || (character >= 0x7f && character < 0xa0))
		return 0;
	return (size_t)len;
}

char *raw_text(struct slice bytes)
{
	char *out = malloc(4 * bytes.len + 1);
	size_t used = 0;

	for (size_t at = 0; out && at < bytes.len;) {
		size_t len = printable_len(bytes, at);

		if (bytes.text[at] == '\\')
			out[used++] = '\\';
		if (len > 0)
			memcpy(out + used, bytes.text + at, len);
		else
			snprintf(out + used, 5, "\\x%02x", (unsigned char)bytes.text[at]);
		used += len > 0 ? len : 4;
		at += len > 0 ? len : 1;
	}
	if (out)
		out[used] = '\0';
	return out;
}

json_t *json_text(struct slice text)
{
	char *escaped;
	json_t *json;

	if (text.len == 0)
		return json_null();
	if (utf8_valid_part(text) == text.len)
		return json_stringn(text.text, text.len);
	escaped = raw_text(text);
	json = escaped ? json_string(escaped) : NULL;
	free(escaped);
	return json;
}

static void put(struct json_line *line, const char *bytes, size_t len)
{
	if (line->len + len >= line->room) {
		size_t room = 2 * (line->len + len) + 512;
		char *text = realloc(line->text, room);

		line->torn = line->torn || !text;
		if (!text)
			return;
		line->text = text;
		line->room = room;
	}
	memcpy(line->text + line->len, bytes, len);
	line->len += len;
}

static void put_string(struct json_line *line, const char *text)
{
	put(line, text, strlen(text));
}

/* Valid UTF-8 as a JSON string (RFC 8259): quotation marks, backslashes and controls are escaped. */
static void put_quoted(struct json_line *line, struct slice text)
{
	size_t plain = 0;
	char escaped[8];

	put(line, "\"", 1);
	for (size_t at = 0; at < text.len; at++) {
		unsigned char c = (unsigned char)text.text[at];

		if (c >= ' ' && c != '"' && c != '\\')
			continue;
		put(line, text.text + plain, at - plain);
		plain = at + 1;
		snprintf(escaped, sizeof(escaped), c < ' ' ? "\\u%04x" : "\\%c", c);
		put_string(line, escaped);
	}
	put(line, text.text + plain, text.len - plain);
	put(line, "\"", 1);
}

static void put_raw(struct json_line *line, struct slice bytes)
{
	char *text = raw_text(bytes);

	line->torn = line->torn || !text;
	if (text)
		put_quoted(line, slice_from(text));
	free(text);
}

static void put_text_or_null(struct json_line *line, struct slice text)
{
	if (text.len == 0)
		put_string(line, "null");
	else if (utf8_valid_part(text) == text.len)
		put_quoted(line, text);
	else
		put_raw(line, text);
}

static void put_count_or_null(struct json_line *line, unsigned count, bool known)
{
	char text[NUMBER_TEXT];

	snprintf(text, sizeof(text), "%u", count);
	put_string(line, known ? text : "null");
}

static void put_time(struct json_line *line, int64_t us, int decimals)
{
	char text[TIMESTAMP_TEXT];

	if (us == READING_NO_TIME)
		put_string(line, "null");
	else
		put_quoted(line, slice_from(timestamp_print(text, sizeof(text), us, decimals)));
}

/* "5.0", not "5": to some readers of JSON these are not of one type. */
static void put_real(struct json_line *line, double value)
{
	char text[NUMBER_TEXT];

	put_string(line, isfinite(value) ? number_print_exact(text, sizeof(text), value) : "null");
	if (isfinite(value) && !strpbrk(text, ".e"))
		put_string(line, ".0");
}

static void put_flags(struct json_line *line, uint8_t flags)
{
	bool first = true;

	put_string(line, "[");
	for (size_t i = 0; i < sizeof(flag_words) / sizeof(flag_words[0]); i++)
		if (flags & flag_words[i].flag) {
			put_string(line, first ? "" : ",");
			put_quoted(line, slice_from(flag_words[i].word));
			first = false;
		}
	put_string(line, "]");
}

/* The digits of the display are the shortest that mean value, but for zeros at the end, if it is what the display showed. */
static void put_value(struct json_line *line, double value, struct slice shown)
{
	double back;
	int decimals;

	if (!number_parse(&back, &decimals, shown, '.') || back != value) {
		put_real(line, value);
		return;
	}
	for (; decimals > 1 && shown.text[shown.len - 1] == '0'; decimals--)
		shown.len--;
	put(line, shown.text, shown.len);
	if (decimals == 0)
		put_string(line, ".0");
}

static void put_shown(struct json_line *line, const struct shown *shown)
{
	char text[NUMBER_TEXT];
	struct slice number = slice_from(number_print(text, sizeof(text), shown->value, shown->decimals));

	put_string(line, ",\"shown\":");
	put_quoted(line, number);
	put_string(line, ",\"value\":");
	put_value(line, shown->value, number);
	put_string(line, ",\"unit\":");
	put_quoted(line, slice_from(unit_name(shown->unit)));
}

static void put_place(struct json_line *line, const struct reading_place *place)
{
	put_string(line, ",\"reading_of_cup\":");
	put_count_or_null(line, place->count, place->count > 0);
	put_string(line, ",\"wanted\":");
	put_count_or_null(line, place->goal, place->count > 0);
	put_string(line, ",\"warning\":");
	put_text_or_null(line, place->warning);
}

static void put_id(struct json_line *line, int64_t id)
{
	char text[NUMBER_TEXT];

	snprintf(text, sizeof(text), "{\"id\":%lld", (long long)id);
	put_string(line, text);
}

const char *reading_json(struct json_line *line, const struct reading_facts *facts, const struct reading_place *place)
{
	const struct ledger_entry *entry = facts->entry;

	line->len = 0;
	line->torn = false;
	put_id(line, entry->id);
	put_string(line, ",\"received\":");
	put_time(line, entry->received_us, 6);
	put_string(line, ",\"taken\":");
	put_time(line, entry->taken_us, 3);
	put_string(line, ",\"meter\":");
	put_text_or_null(line, facts->meter);
	put_string(line, ",\"run\":");
	put_text_or_null(line, facts->run);
	put_string(line, ",\"role\":");
	put_quoted(line, slice_from(reading_role_word(facts->role)));
	put_string(line, ",\"cup\":");
	put_text_or_null(line, facts->label);
	if (facts->role != LEDGER_RAW)
		put_shown(line, &entry->shown);
	else
		put_string(line, ",\"shown\":null,\"value\":null,\"unit\":null");
	put_string(line, ",\"temp_c\":");
	put_real(line, entry->temp_c);
	put_string(line, ",\"standard_percent\":");
	put_real(line, entry->standard_percent);
	put_string(line, ",\"flags\":");
	put_flags(line, facts->flags);
	put_string(line, ",\"sequence\":");
	put_text_or_null(line, entry->sequence);
	put_string(line, ",\"status\":");
	put_text_or_null(line, entry->status);
	put_string(line, ",\"note\":");
	put_text_or_null(line, facts->note);
	put_string(line, ",\"line\":");
	put_raw(line, entry->raw);
	if (place)
		put_place(line, place);
	put(line, "}", 2);
	return line->torn ? NULL : line->text;
}

void json_line_release(struct json_line *line)
{
	free(line->text);
	*line = (struct json_line)JSON_LINE_INIT;
}
