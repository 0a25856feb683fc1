/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "cell_text.h"

/* What XML 1.0 (fifth edition, 2.2) and the file format (ECMA-376 part 1, 22.9.2.19: escapes) ask for. */
struct text_case {
	const char *name;
	const char *text;
	const char *cell; /* what a cell gets */
	const char *line; /* what a title gets; NULL: the same */
};

static void comes_out_clean(void **state)
{
	const struct text_case *c = *state;
	struct cell_text buffer = CELL_TEXT_INIT;

	assert_string_equal(cell_text_of(&buffer, slice_from(c->text)), c->cell);
	assert_string_equal(cell_text_line(&buffer, slice_from(c->text), 100), c->line ? c->line : c->cell);
	cell_text_release(&buffer);
}

static void a_nul_is_dropped(void **state)
{
	struct cell_text buffer = CELL_TEXT_INIT;

	(void)state;
	assert_string_equal(cell_text_of(&buffer, SLICE_OF("a\0b")), "ab");
	assert_string_equal(cell_text_of(&buffer, (struct slice){ NULL, 0 }), "");
	cell_text_release(&buffer);
}

/* len times unit, cleaned; the caller frees it. */
static char *clean_repeated(const char *unit, size_t len)
{
	struct cell_text buffer = CELL_TEXT_INIT;
	size_t each = strlen(unit);
	char *text = malloc(len * each + 1);
	char *clean;

	assert_non_null(text);
	for (size_t i = 0; i < len; i++)
		memcpy(text + i * each, unit, each);
	clean = strdup(cell_text_of(&buffer, (struct slice){ text, len * each }));
	assert_non_null(clean);
	free(text);
	cell_text_release(&buffer);
	return clean;
}

static bool ends_with(const char *text, const char *end)
{
	return strlen(text) >= strlen(end) && strcmp(text + strlen(text) - strlen(end), end) == 0;
}

/* The limit of a cell is 32,767 UTF-16 units (ECMA-376 leaves it to the programs; it is what they take). */
static void a_long_text_is_cut_with_a_mark(void **state)
{
	char *text;

	(void)state;
	text = clean_repeated("x", 32767);
	assert_int_equal(strlen(text), 32767);
	free(text);
	text = clean_repeated("x", 32768);
	assert_true(ends_with(text, "x" CELL_TEXT_CUT));
	assert_int_equal(strlen(text), 32767 - 8 + strlen(CELL_TEXT_CUT));
	free(text);
	text = clean_repeated("\xC3\xA9", 40000); /* é: two bytes, one unit */
	assert_true(ends_with(text, "\xC3\xA9" CELL_TEXT_CUT));
	assert_int_equal(strlen(text), 2 * (32767 - 8) + strlen(CELL_TEXT_CUT));
	free(text);
	text = clean_repeated("\xF0\x9F\x98\x80", 20000); /* U+1F600: two units, never cut between them */
	assert_true(ends_with(text, "\xF0\x9F\x98\x80" CELL_TEXT_CUT));
	assert_int_equal((strlen(text) - strlen(CELL_TEXT_CUT)) / 4, (32767 - 8) / 2);
	free(text);
	text = clean_repeated("\xFF", 40000); /* each becomes three bytes */
	assert_true(ends_with(text, "\xEF\xBF\xBD" CELL_TEXT_CUT));
	free(text);
	text = clean_repeated("_x0041_", 10000); /* an escape is cut off whole or not at all */
	assert_true(ends_with(text, CELL_TEXT_CUT));
	assert_true(strlen(text) <= 32767 + 2);
	free(text);
}

static void a_line_is_cut_to_its_characters(void **state)
{
	struct cell_text buffer = CELL_TEXT_INIT;

	(void)state;
	assert_string_equal(cell_text_line(&buffer, SLICE_OF("12345"), 5), "12345");
	assert_string_equal(cell_text_line(&buffer, SLICE_OF("123456"), 5), "1234…");
	assert_string_equal(cell_text_line(&buffer, SLICE_OF("\xC3\xA9\xC3\xA9\xC3\xA9"), 2), "\xC3\xA9…");
	cell_text_release(&buffer);
}

static void any_bytes_come_out_as_utf8(void **state)
{
	struct cell_text buffer = CELL_TEXT_INIT;
	unsigned seed = 1;

	(void)state;
	for (int round = 0; round < 2000; round++) {
		char bytes[64];
		const unsigned char *clean;

		for (size_t i = 0; i < sizeof(bytes); i++) {
			seed = seed * 1103515245u + 12345u;
			bytes[i] = (char)(seed >> 16);
		}
		clean = (const unsigned char *)cell_text_of(&buffer, (struct slice){ bytes, sizeof(bytes) });
		assert_non_null(clean);
		for (; *clean; clean++) {
			assert_true(*clean >= 0x20 || *clean == '\n' || *clean == '\t');
			assert_true(*clean != 0x7F && *clean != 0xC0 && *clean != 0xC1 && *clean < 0xF5);
		}
	}
	cell_text_release(&buffer);
}

int main(void)
{
	static struct text_case cases[] = {
		{ "plain text", "bright, red fruit", "bright, red fruit", NULL },
		{ "nothing", "", "", NULL },
		{ "like a formula", "=1+1", "=1+1", NULL },
		{ "other scripts", "ورق أبيض 紙 é", "ورق أبيض 紙 é", NULL },
		{ "outside the first plane", "a\xF0\x9F\x98\x80", "a\xF0\x9F\x98\x80", NULL },
		{ "a control character",
		  "a\x02"
		  "b\x1F",
		  "ab", NULL },
		{ "an escape of a terminal", "\x1B[31mred", "[31mred", NULL },
		{ "delete, and controls above it",
		  "a\x7F\xC2\x85"
		  "b",
		  "ab", NULL },
		{ "a byte of another encoding",
		  "22\xB0"
		  "C",
		  "22\xEF\xBF\xBD"
		  "C",
		  NULL },
		{ "a code point cut short", "a\xE2\x82", "a\xEF\xBF\xBD", NULL },
		{ "an overlong form", "\xC0\xAF", "\xEF\xBF\xBD\xEF\xBF\xBD", NULL },
		{ "half of a surrogate pair",
		  "\xED\xA0\x80"
		  "x",
		  "\xEF\xBF\xBDx", NULL },
		{ "a code point that XML has not", "\xEF\xBF\xBF", "\xEF\xBF\xBD", NULL },
		{ "line ends", "a\r\nb\rc\nd\te", "a\nb\nc\nd\te", "a b c d e" },
		{ "an escape form", "lot_x0041_b", "lot_x005F_x0041_b", "lot_x0041_b" },
		{ "two that share a mark", "_x0041_x0042_", "_x005F_x0041_x005F_x0042_", "_x0041_x0042_" },
		{ "nearly one", "_x004_ _x004g_ _X0041_ _", "_x004_ _x004g_ _X0041_ _", NULL },
	};
	const size_t count = sizeof(cases) / sizeof(cases[0]);
	struct CMUnitTest tests[sizeof(cases) / sizeof(cases[0]) + 4] = {
		[sizeof(cases) / sizeof(cases[0])] = cmocka_unit_test(a_nul_is_dropped),
		cmocka_unit_test(a_long_text_is_cut_with_a_mark),
		cmocka_unit_test(a_line_is_cut_to_its_characters),
		cmocka_unit_test(any_bytes_come_out_as_utf8),
	};

	for (size_t i = 0; i < count; i++)
		tests[i] = (struct CMUnitTest){ .name = cases[i].name,
			                        .test_func = comes_out_clean,
			                        .initial_state = &cases[i] };
	return cmocka_run_group_tests(tests, NULL, NULL);
}
