/* SPDX-License-Identifier: GPL-3.0-or-later */
/* test_json_put.c: where memory ends there is no JSON, and never one with a hole in it. */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "json_put.h"
#include "ledger_append.h"
#include "reading_json.h"

static long to_go; /* allocations until one fails; 0: none does */

static void *failing_malloc(size_t size)
{
	if (to_go > 0 && --to_go == 0)
		return NULL;
	return malloc(size);
}

static int memory_watch(void **state)
{
	(void)state;
	json_set_alloc_funcs(failing_malloc, free);
	return 0;
}

static int memory_leave(void **state)
{
	(void)state;
	json_set_alloc_funcs(malloc, free);
	return 0;
}

static struct ledger_entry entry(void)
{
	struct ledger_entry entry = LEDGER_ENTRY_INIT;

	entry.id = 7;
	entry.received_us = 1700000000000000;
	entry.raw = SLICE_OF("R 0007 1.38 % 22.4 C");
	entry.label = SLICE_OF("A1");
	entry.sequence = SLICE_OF("0007");
	entry.shown.value = 1.38;
	entry.shown.decimals = 2;
	return entry;
}

static void a_text_ends_as_was_asked(void **state)
{
	json_t *json = json_object();
	char *text;

	(void)state;
	put_text(json, "name", "A1");
	text = json_lined(json, JSON_COMPACT, "\n");
	assert_string_equal(text, "{\"name\":\"A1\"}\n");
	free(text);
	assert_null(json_lined(NULL, JSON_COMPACT, ""));
	json_decref(json);
}

/* The member's names are what jansson 2.14 leaves out of a text where memory ends among them. */
static void a_text_is_whole_or_none(void **state)
{
	struct ledger_entry kept = entry();
	json_t *json = json_object();
	json_t *inner = json_object();
	char *whole;

	(void)state;
	put_slice(inner, "line", kept.raw);
	put_slice(inner, "cup", kept.label);
	json_object_set_new(json, "reading", inner);
	whole = json_lined(json, JSON_COMPACT, "");
	assert_string_equal(whole, "{\"reading\":{\"line\":\"R 0007 1.38 % 22.4 C\",\"cup\":\"A1\"}}");
	for (long n = 1; n < 100; n++) {
		char *text;

		to_go = n;
		text = json_lined(json, JSON_COMPACT, "");
		to_go = 0;
		if (text)
			assert_string_equal(text, whole);
		free(text);
	}
	free(whole);
	json_decref(json);
}

static void a_text_longer_than_was_guessed_is_whole(void **state)
{
	char bytes[5000];
	json_t *json = json_object();
	char *text;

	(void)state;
	memset(bytes, 'x', sizeof(bytes));
	put_slice(json, "x", (struct slice){ bytes, sizeof(bytes) });
	text = json_lined(json, JSON_COMPACT, "\n");
	assert_int_equal(strlen(text), sizeof(bytes) + strlen("{\"x\":\"\"}\n"));
	assert_string_equal(text + sizeof(bytes) + strlen("{\"x\":\""), "\"}\n");
	free(text);
	json_decref(json);
}

/* What reading_json() prints, read by the library; NULL: it is no JSON. */
static json_t *reading_read(const struct reading_facts *facts, const struct reading_place *place)
{
	struct json_line line = JSON_LINE_INIT;
	const char *text = reading_json(&line, facts, place);
	json_t *json = json_loads(text, JSON_REJECT_DUPLICATES | JSON_ALLOW_NUL, NULL);

	json_line_release(&line);
	return json;
}

static void a_reading_is_read_as_it_was(void **state)
{
	struct ledger_entry kept = entry();
	struct reading_facts facts = { .entry = &kept, .label = kept.label, .flags = READING_REPEAT | READING_STALE };
	struct reading_place place = { .count = 2, .goal = 3, .warning = SLICE_OF("read A1 again") };
	json_t *json = reading_read(&facts, &place);
	json_t *expected =
		json_pack("{s:i, s:s, s:n, s:n, s:n, s:s, s:s, s:s, s:f, s:s, s:n, s:n, s:[s, s], s:s, s:n, s:n, s:s, "
	                  "s:i, s:i, s:s}",
	                  "id", 7, "received", "2023-11-14T22:13:20.000000Z", "taken", "meter", "run", "role", "sample",
	                  "cup", "A1", "shown", "1.38", "value", 1.38, "unit", unit_name(UNIT_NONE), "temp_c",
	                  "standard_percent", "flags", "repeat", "stale", "sequence", "0007", "status", "note", "line",
	                  "R 0007 1.38 % 22.4 C", "reading_of_cup", 2, "wanted", 3, "warning", "read A1 again");

	(void)state;
	assert_non_null(expected);
	assert_true(json_equal(json, expected));
	json_decref(json);
	json_decref(expected);
}

/* Every byte that a line or label can have, alone and among others, is JSON, and the raw line can be had again. */
static void any_bytes_are_json(void **state)
{
	(void)state;
	for (int c = 0; c < 256; c++) {
		char bytes[] = { 'a', (char)c, 'b' };
		struct slice text = { bytes, sizeof(bytes) };
		struct ledger_entry kept = entry();
		struct reading_facts facts = { .entry = &kept, .label = text, .note = { bytes + 1, 1 } };
		char *raw = raw_text(text);
		json_t *json;

		kept.raw = text;
		json = reading_read(&facts, NULL);
		assert_non_null(json);
		assert_string_equal(json_string_value(json_object_get(json, "line")), raw);
		if (c > 0 && c < 0x80)
			assert_memory_equal(json_string_value(json_object_get(json, "cup")), bytes, sizeof(bytes));
		json_decref(json);
		free(raw);
	}
}

/* Memory of one line serves the next, a shorter one too. */
static void lines_follow_each_other(void **state)
{
	struct json_line line = JSON_LINE_INIT;
	struct ledger_entry kept = entry();
	struct reading_facts facts = { .entry = &kept };
	char label[3000], first[1000];

	(void)state;
	memset(label, 'x', sizeof(label));
	snprintf(first, sizeof(first), "%s", reading_json(&line, &facts, NULL));
	facts.label = (struct slice){ label, sizeof(label) };
	assert_true(strlen(reading_json(&line, &facts, NULL)) > sizeof(label));
	facts.label.len = 0;
	assert_string_equal(reading_json(&line, &facts, NULL), first);
	json_line_release(&line);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_text_ends_as_was_asked),
		cmocka_unit_test(a_text_is_whole_or_none),
		cmocka_unit_test(a_text_longer_than_was_guessed_is_whole),
		cmocka_unit_test(a_reading_is_read_as_it_was),
		cmocka_unit_test(any_bytes_are_json),
		cmocka_unit_test(lines_follow_each_other),
	};

	return cmocka_run_group_tests(tests, memory_watch, memory_leave);
}
