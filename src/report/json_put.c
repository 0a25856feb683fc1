/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "json_put.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

static json_t *number(double value)
{
	return isfinite(value) ? json_real(value) : json_null();
}

void put_number(json_t *object, const char *name, double value)
{
	json_object_set_new(object, name, number(value));
}

void put_count(json_t *object, const char *name, uint64_t count)
{
	json_object_set_new(object, name, json_integer((json_int_t)count));
}

void put_text(json_t *object, const char *name, const char *text)
{
	json_object_set_new(object, name, text ? json_string(text) : json_null());
}

json_t *json_slice(struct slice slice)
{
	char *clean;
	size_t used = 0;
	json_t *text;

	if (utf8_valid_part(slice) == slice.len)
		return json_stringn(slice.text ? slice.text : "", slice.len);
	clean = malloc(slice.len * 3 + 1);
	if (!clean)
		return NULL;
	while (slice.len > 0) {
		static const char replacement[] = { (char)0xef, (char)0xbf, (char)0xbd }; /* U+FFFD */
		size_t valid = utf8_valid_part(slice);

		memcpy(clean + used, slice.text, valid);
		used += valid;
		if (valid < slice.len) {
			memcpy(clean + used, replacement, sizeof(replacement));
			used += sizeof(replacement);
			valid++;
		}
		slice = slice_part(slice, valid, slice.len);
	}
	text = json_stringn(clean, used);
	free(clean);
	return text;
}

void put_slice(json_t *object, const char *name, struct slice slice)
{
	json_object_set_new(object, name, json_slice(slice));
}

void put_interval(json_t *object, const char *name, double lower, double upper)
{
	json_t *pair = json_array();

	json_array_append_new(pair, number(lower));
	json_array_append_new(pair, number(upper));
	json_object_set_new(object, name, pair);
}

char *json_lined(const json_t *json, size_t flags, const char *end)
{
	size_t ending = strlen(end) + 1, room = 1024, len = 0;
	char *text = NULL;

	do {
		char *more = realloc(text, room);

		if (!more)
			break;
		text = more;
		len = json_dumpb(json, text, room - ending, flags);
		if (len > 0 && len <= room - ending) {
			memcpy(text + len, end, ending);
			return text;
		}
		room = len + ending;
	} while (len > 0);
	free(text);
	return NULL;
}
