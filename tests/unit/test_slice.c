/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

#include "slice.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static const struct slice none = { NULL, 0 };

struct trim_case {
	const char *name;
	const char *text;
	const char *trimmed;
};

static const struct trim_case trim_cases[] = {
	{ "nothing", "", "" },
	{ "plain", "A3", "A3" },
	{ "blanks", "  A 3 \t", "A 3" },
	{ "line ends and NUL's like",
	  "\r\n\x01"
	  "A3\x1f\n",
	  "A3" },
	{ "no-break space",
	  "\xc2\xa0"
	  "A3\xc2\xa0",
	  "A3" },
	{ "figure space, narrow no-break space",
	  "\xe2\x80\x87"
	  "A3\xe2\x80\xaf",
	  "A3" },
	{ "ideographic space, byte order mark",
	  "\xe3\x80\x80"
	  "A3\xef\xbb\xbf",
	  "A3" },
	{ "mixed",
	  " \xc2\xa0 \xe2\x80\xaf"
	  "A3 \xc2\xa0 ",
	  "A3" },
	{ "inside they stay",
	  "A\xc2\xa0"
	  "3",
	  "A\xc2\xa0"
	  "3" },
	{ "zero width stays",
	  "\xe2\x80\x8b"
	  "A3",
	  "\xe2\x80\x8b"
	  "A3" },
	{ "degree sign ends like a blank does", "22\xc2\xb0", "22\xc2\xb0" },
	{ "blanks alone", " \xc2\xa0\t\xe3\x80\x80", "" },
};

static void trims_as_told(void **state)
{
	const struct trim_case *c = *state;
	struct slice trimmed = slice_trim(slice_from(c->text));

	assert_true(slice_equal(trimmed, slice_from(c->trimmed)));
	assert_int_equal(slice_blank(slice_from(c->text)), c->trimmed[0] == '\0');
}

static void null_is_the_empty_slice(void **state)
{
	(void)state;
	assert_int_equal(slice_from(NULL).len, 0);
	assert_true(slice_equal(slice_from(NULL), SLICE_OF("")));
	assert_true(slice_blank(none));
	assert_int_equal(slice_part(none, 0, 5).len, 0);
	assert_null(slice_part(none, 0, 5).text);
	assert_int_equal(slice_compare(none, SLICE_OF("")), 0);
	assert_true(slice_equal_nocase(none, SLICE_OF("")));
}

static void parts_are_cut_to_the_length(void **state)
{
	struct slice slice = SLICE_OF("grind");

	(void)state;
	assert_true(slice_equal(slice_part(slice, 1, 3), SLICE_OF("ri")));
	assert_true(slice_equal(slice_part(slice, 3, 99), SLICE_OF("nd")));
	assert_int_equal(slice_part(slice, 4, 2).len, 0);
	assert_int_equal(slice_part(slice, 9, 99).len, 0);
	assert_ptr_equal(slice_part(slice, 9, 99).text, slice.text + 5);
}

static void equality_is_of_bytes(void **state)
{
	static const struct slice with_nul = { "a\0b", 3 };
	static const struct slice other = { "a\0c", 3 };

	(void)state;
	assert_true(slice_equal(SLICE_OF("A3"), SLICE_OF("A3")));
	assert_false(slice_equal(SLICE_OF("A3"), SLICE_OF("a3")));
	assert_false(slice_equal(SLICE_OF("A3"), SLICE_OF("A33")));
	assert_false(slice_equal(with_nul, other));
	assert_true(slice_equal_nocase(SLICE_OF("Water (G)"), SLICE_OF("wATER (g)")));
	assert_false(slice_equal_nocase(SLICE_OF("A3"), SLICE_OF("A4")));
	assert_false(slice_equal_nocase(SLICE_OF("\xc3\x89"), SLICE_OF("\xc3\xa9"))); /* ASCII only */
}

static void order_is_of_bytes(void **state)
{
	(void)state;
	assert_true(slice_compare(SLICE_OF("A1"), SLICE_OF("A2")) < 0);
	assert_true(slice_compare(SLICE_OF("A"), SLICE_OF("A1")) < 0);
	assert_true(slice_compare(SLICE_OF("A1"), SLICE_OF("A")) > 0);
	assert_true(slice_compare(SLICE_OF("\xc3\xa9"), SLICE_OF("z")) > 0);
	assert_int_equal(slice_compare(SLICE_OF("A1"), SLICE_OF("A1")), 0);
}

static void length_fits_an_int(void **state)
{
	static const struct slice huge = { "x", (size_t)INT_MAX + 1 };

	(void)state;
	assert_int_equal(slice_print_len(SLICE_OF("abc")), 3);
	assert_int_equal(slice_print_len(huge), INT_MAX);
}

static void a_string_of_its_own_ends_in_nul(void **state)
{
	static const char three[] = { 'a', '\0', 'b' }; /* not ended by one */
	char *string = slice_string((struct slice){ three, sizeof(three) });

	(void)state;
	assert_memory_equal(string, "a\0b", 4);
	free(string);
	string = slice_string((struct slice){ NULL, 0 });
	assert_string_equal(string, "");
	free(string);
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(null_is_the_empty_slice), cmocka_unit_test(parts_are_cut_to_the_length),
		cmocka_unit_test(equality_is_of_bytes),    cmocka_unit_test(order_is_of_bytes),
		cmocka_unit_test(length_fits_an_int),      cmocka_unit_test(a_string_of_its_own_ends_in_nul),
	};
	struct CMUnitTest tests[COUNT(trim_cases) + COUNT(others)];

	for (size_t i = 0; i < COUNT(trim_cases); i++)
		tests[i] = (struct CMUnitTest){ .name = trim_cases[i].name,
			                        .test_func = trims_as_told,
			                        .initial_state = (void *)(uintptr_t)&trim_cases[i] };
	memcpy(&tests[COUNT(trim_cases)], others, sizeof(others));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
