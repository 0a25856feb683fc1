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
	struct reading_facts facts = { .entry = &kept, .label = kept.label, .flags = READING_REPEAT | READING_STALE };
	json_t *json = reading_json(&facts);
	char *whole = json_lined(json, JSON_COMPACT, "");

	(void)state;
	assert_non_null(whole);
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

static void a_reading_is_whole_or_none(void **state)
{
	struct ledger_entry kept = entry();
	struct reading_facts facts = { .entry = &kept, .label = kept.label, .flags = READING_REPEAT | READING_STALE };
	json_t *whole = reading_json(&facts);
	bool given = false;
	size_t refused = 0;

	(void)state;
	for (long n = 1; !given && n < 1000; n++) {
		json_t *json;

		to_go = n;
		json = reading_json(&facts);
		given = to_go > 0;
		to_go = 0;
		refused += !json;
		if (json)
			assert_true(json_equal(json, whole));
		json_decref(json);
	}
	assert_true(given);
	assert_true(refused > 20);
	json_decref(whole);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_text_ends_as_was_asked),
		cmocka_unit_test(a_text_is_whole_or_none),
		cmocka_unit_test(a_reading_is_whole_or_none),
	};

	return cmocka_run_group_tests(tests, memory_watch, memory_leave);
}
