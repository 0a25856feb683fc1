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

static json_t *line_json(struct slice raw)
{
	char *text = raw_text(raw);
	json_t *json = text ? json_string(text) : NULL;

	free(text);
	return json;
}

static json_t *time_json(int64_t us, int decimals)
{
	char text[TIMESTAMP_TEXT];

	if (us == READING_NO_TIME)
		return json_null();
	return json_string(timestamp_print(text, sizeof(text), us, decimals));
}

static json_t *number_json(double value)
{
	return isfinite(value) ? json_real(value) : json_null();
}

static json_t *flags_json(uint8_t flags)
{
	json_t *array = json_array();

	for (size_t i = 0; array && i < sizeof(flag_words) / sizeof(flag_words[0]); i++)
		if (flags & flag_words[i].flag && json_array_append_new(array, json_string(flag_words[i].word)) != 0) {
			json_decref(array);
			array = NULL;
		}
	return array;
}

void reading_json_put(json_t **json, const char *name, json_t *value)
{
	if (json_object_set_new(*json, name, value) == 0)
		return;
	json_decref(*json);
	*json = NULL;
}

json_t *reading_json(const struct reading_facts *facts)
{
	const struct ledger_entry *entry = facts->entry;
	bool read = facts->role != LEDGER_RAW;
	char shown[NUMBER_TEXT];
	json_t *json = json_object();

	number_print(shown, sizeof(shown), entry->shown.value, entry->shown.decimals);
	reading_json_put(&json, "id", json_integer(entry->id));
	reading_json_put(&json, "received", time_json(entry->received_us, 6));
	reading_json_put(&json, "taken", time_json(entry->taken_us, 3));
	reading_json_put(&json, "meter", json_text(facts->meter));
	reading_json_put(&json, "run", json_text(facts->run));
	reading_json_put(&json, "role", json_string(reading_role_word(facts->role)));
	reading_json_put(&json, "cup", json_text(facts->label));
	reading_json_put(&json, "shown", read ? json_string(shown) : json_null());
	reading_json_put(&json, "value", read ? number_json(entry->shown.value) : json_null());
	reading_json_put(&json, "unit", read ? json_string(unit_name(entry->shown.unit)) : json_null());
	reading_json_put(&json, "temp_c", number_json(entry->temp_c));
	reading_json_put(&json, "standard_percent", number_json(entry->standard_percent));
	reading_json_put(&json, "flags", flags_json(facts->flags));
	reading_json_put(&json, "sequence", json_text(entry->sequence));
	reading_json_put(&json, "status", json_text(entry->status));
	reading_json_put(&json, "note", json_text(facts->note));
	reading_json_put(&json, "line", line_json(entry->raw));
	return json;
}
