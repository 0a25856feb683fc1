/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "label.h"
#include "lookup.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define ACUTE        "\xcc\x81" /* U+0301, combining */
#define E_ACUTE      "\xc3\xa9" /* U+00E9 */

struct key_case {
	const char *name;
	const char *label;
	const char *key;
	uint32_t hidden;
};

static const struct key_case key_cases[] = {
	{ "plain", "A3", "A3", 0 },
	{ "blanks at the ends", " A3\xc2\xa0", "A3", 0 },
	{ "blank within", "paper A", "paper A", 0 },
	{ "no-break space within stays",
	  "paper\xc2\xa0"
	  "A",
	  "paper\xc2\xa0"
	  "A",
	  0 },
	{ "composed", "Caf" E_ACUTE, "Caf" E_ACUTE, 0 },
	{ "decomposed", "Cafe" ACUTE, "Caf" E_ACUTE, 0 },
	{ "full-width is another character",
	  "\xef\xbc\xa1"
	  "3",
	  "\xef\xbc\xa1"
	  "3",
	  0 },
	{ "zero-width space", "B\xe2\x80\x8b-02", "B-02", 0x200b },
	{ "direction mark at the end", "B-02\xe2\x80\x8f", "B-02", 0x200f },
	{ "mark and blank at the end", "B-02 \xe2\x80\x8f", "B-02", 0x200f },
	{ "soft hyphen", "pa\xc2\xadper", "paper", 0x00ad },
	{ "control character",
	  "A\x1b"
	  "3",
	  "A3", 0x1b },
	{ "hidden alone", "\xe2\x80\x8b", "", 0x200b },
	{ "nothing", "", "", 0 },
	{ "letter case stays", "a3", "a3", 0 },
	{ "zeros stay", "03", "03", 0 },
	{ "not UTF-8", "A\xff", "A\xff", 0 },
	{ "like a formula", "=SUM(A1)", "=SUM(A1)", 0 },
};

static void key_is_as_told(void **state)
{
	const struct key_case *c = *state;
	struct arena arena = ARENA_INIT;
	struct slice key;

	assert_true(label_key(&key, &arena, slice_from(c->label)));
	assert_true(slice_equal(key, slice_from(c->key)));
	assert_int_equal(label_hidden(slice_from(c->label)), c->hidden);
	arena_release(&arena);
}

static void plain_keys_are_not_copied(void **state)
{
	struct arena arena = ARENA_INIT;
	struct slice label = SLICE_OF("  A3");
	struct slice composed = SLICE_OF("Caf" E_ACUTE);
	struct slice key;

	(void)state;
	assert_true(label_key(&key, &arena, label));
	assert_ptr_equal(key.text, label.text + 2);
	assert_null(arena.last);
	assert_true(label_key(&key, &arena, composed));
	assert_ptr_equal(key.text, composed.text);
	arena_release(&arena);
}

static void a_nul_is_hidden(void **state)
{
	(void)state;
	assert_int_equal(label_hidden((struct slice){ "a\0b", 3 }), 0xfffd); /* U+0000 itself would read as none */
}

static void case_is_all_of_unicodes(void **state)
{
	(void)state;
	assert_true(label_same_nocase(SLICE_OF("Paper a"), SLICE_OF("PAPER A")));
	assert_true(label_same_nocase(SLICE_OF(E_ACUTE), SLICE_OF("\xc3\x89")));
	assert_true(label_same_nocase(SLICE_OF("stra\xc3\x9f"
	                                       "e"),
	                              SLICE_OF("STRASSE"))); /* full folding */
	assert_false(label_same_nocase(SLICE_OF("A1"), SLICE_OF("A2")));
	assert_false(label_same_nocase(SLICE_OF(E_ACUTE), SLICE_OF("e")));
	assert_true(label_same_nocase(SLICE_OF("\xff"), SLICE_OF("\xff")));
	assert_false(label_same_nocase(SLICE_OF("\xff"), SLICE_OF("\xfe")));
	assert_int_equal(label_hash(SLICE_OF("Paper a")), label_hash(SLICE_OF("PAPER A")));
	assert_int_equal(label_hash(SLICE_OF(E_ACUTE)), label_hash(SLICE_OF("\xc3\x89")));
	assert_true(label_hash(SLICE_OF("A1")) != label_hash(SLICE_OF("A2")));
	assert_int_equal(label_hash(SLICE_OF("\xff")), label_hash(SLICE_OF("\xff")));
}

static void blanks_hardly_tell_names_apart(void **state)
{
	(void)state;
	assert_true(label_nearly_same(SLICE_OF("paper A"), SLICE_OF("Paper  a")));
	assert_true(label_nearly_same(SLICE_OF("paper A"), SLICE_OF("paper\xc2\xa0"
	                                                            "A")));
	assert_true(label_nearly_same(SLICE_OF("paper A "), SLICE_OF("\tpaper A")));
	assert_true(label_nearly_same(SLICE_OF(""), SLICE_OF(" ")));
	assert_true(label_nearly_same(SLICE_OF(E_ACUTE " x"), SLICE_OF("\xc3\x89\xe3\x80\x80X")));
	assert_false(label_nearly_same(SLICE_OF("paper A"), SLICE_OF("paperA")));
	assert_false(label_nearly_same(SLICE_OF("paper"), SLICE_OF("paper A")));
	assert_false(label_nearly_same(SLICE_OF("paper A"), SLICE_OF("paper B")));
	assert_false(label_nearly_same(SLICE_OF("paper A x"), SLICE_OF("paper A")));
}

static void looks_are_seen(void **state)
{
	static const struct {
		const char *label;
		enum label_look look;
	} cases[] = {
		{ "02-Jan", LABEL_DATE },       { "2-Jan", LABEL_DATE },       { "Mar-15", LABEL_DATE },
		{ "MAR-15", LABEL_DATE },       { "2026-01-02", LABEL_DATE },  { "01.02.2026", LABEL_DATE },
		{ "1/2/2026", LABEL_DATE },     { "02. Mai", LABEL_DATE },     { "3-Okt-26", LABEL_DATE },
		{ "1.20E+03", LABEL_POWER },    { "1,20E+03", LABEL_POWER },   { "7E-05", LABEL_POWER },
		{ "73928E+05", LABEL_POWER },   { "12E2", LABEL_PLAIN },       { "B-04", LABEL_PLAIN },
		{ "1-2", LABEL_PLAIN },         { "1.2", LABEL_PLAIN },        { "paper A", LABEL_PLAIN },
		{ "May", LABEL_PLAIN },         { "Mars-15", LABEL_PLAIN },    { "02-Jam", LABEL_PLAIN },
		{ "2026-01-02x", LABEL_PLAIN }, { "", LABEL_PLAIN },           { "V60-01", LABEL_PLAIN },
		{ "E+03", LABEL_PLAIN },        { "1.20E+03 g", LABEL_PLAIN },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++)
		if (label_look(slice_from(cases[i].label)) != cases[i].look)
			fail_msg("\"%s\"", cases[i].label);
}

/* -- lookup --------------------------------------------------------------------------- */

static void values_come_back_in_their_order(void **state)
{
	enum { VALUES = 5000 };
	struct lookup lookup = LOOKUP_INIT;

	(void)state;
	/* seven hashes for all, next to each other, so that their runs grow into one another and round the end */
	for (uint32_t i = 0; i < VALUES; i++)
		assert_true(lookup_put(&lookup, UINT64_C(0xfffffffc) + i % 7, i));
	for (uint32_t hash = 0; hash < 7; hash++) {
		size_t from = 0;
		uint32_t expected = hash;
		uint32_t got;

		while ((got = lookup_next(&lookup, UINT64_C(0xfffffffc) + hash, &from)) != LOOKUP_NONE) {
			assert_int_equal(got, expected);
			expected += 7;
		}
		assert_true(expected >= VALUES);
	}
	lookup_release(&lookup);
}

static void nothing_is_found_where_nothing_is(void **state)
{
	struct lookup lookup = LOOKUP_INIT;
	size_t from = 0;

	(void)state;
	assert_int_equal(lookup_next(&lookup, 5, &from), LOOKUP_NONE);
	assert_true(lookup_put(&lookup, 5, 50));
	from = 0;
	assert_int_equal(lookup_next(&lookup, 6, &from), LOOKUP_NONE);
	from = 0;
	assert_int_equal(lookup_next(&lookup, 5, &from), 50);
	assert_int_equal(lookup_next(&lookup, 5, &from), LOOKUP_NONE);
	lookup_release(&lookup);
	from = 0;
	assert_int_equal(lookup_next(&lookup, 5, &from), LOOKUP_NONE);
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(plain_keys_are_not_copied),
		cmocka_unit_test(a_nul_is_hidden),
		cmocka_unit_test(case_is_all_of_unicodes),
		cmocka_unit_test(blanks_hardly_tell_names_apart),
		cmocka_unit_test(looks_are_seen),
		cmocka_unit_test(values_come_back_in_their_order),
		cmocka_unit_test(nothing_is_found_where_nothing_is),
	};
	struct CMUnitTest tests[COUNT(key_cases) + COUNT(others)];

	for (size_t i = 0; i < COUNT(key_cases); i++)
		tests[i] = (struct CMUnitTest){ .name = key_cases[i].name,
			                        .test_func = key_is_as_told,
			                        .initial_state = (void *)(uintptr_t)&key_cases[i] };
	memcpy(&tests[COUNT(key_cases)], others, sizeof(others));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
