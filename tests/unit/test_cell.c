/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "cell.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define DEGREE       "\xc2\xb0"
#define MINUS        "\xe2\x88\x92"

struct number_case {
	const char *name;
	const char *text;
	char mark;
	enum cell_result result;
	double number;
	int decimals;
	const char *measure; /* "": none */
};

static const struct number_case number_cases[] = {
	{ "number", "18.5", '.', CELL_NUMBER, 18.5, 1, "" },
	{ "comma", "18,50", ',', CELL_NUMBER, 18.5, 2, "" },
	{ "blanks", " 18.5\xc2\xa0", '.', CELL_NUMBER, 18.5, 1, "" },
	{ "minus", MINUS "18", '.', CELL_NUMBER, -18, 0, "" },
	{ "unit", "18 g", '.', CELL_NUMBER, 18, 0, "g" },
	{ "unit without a blank", "18.0g", '.', CELL_NUMBER, 18, 1, "g" },
	{ "unit behind a narrow blank", "18\xe2\x80\xafg", '.', CELL_NUMBER, 18, 0, "g" },
	{ "other unit", "0.65 OZ", '.', CELL_NUMBER, 0.65, 2, "oz" },
	{ "per cent", "1,5%", ',', CELL_NUMBER, 1.5, 1, "%" },
	{ "degrees", "93 " DEGREE "C", '.', CELL_NUMBER, 93, 0, DEGREE "C" },
	{ "minus and unit", MINUS "2 g", '.', CELL_NUMBER, -2, 0, "g" },
	{ "litre", "0.3 l", '.', CELL_NUMBER, 0.3, 1, "l" },
	{ "unknown unit", "2 scoops", '.', CELL_UNIT, 2, 0, "" },
	{ "an l for a 1", "26l", '.', CELL_WORDS, 0, 0, "" },
	{ "an o for a 0", "26O", '.', CELL_WORDS, 0, 0, "" },
	{ "empty", "", '.', CELL_EMPTY, 0, 0, "" },
	{ "blank", " \xc2\xa0", '.', CELL_EMPTY, 0, 0, "" },
	{ "hyphen", "-", '.', CELL_ABSENT, 0, 0, "" },
	{ "dash", "\xe2\x80\x93", '.', CELL_ABSENT, 0, 0, "" },
	{ "n/a", "N/A", '.', CELL_ABSENT, 0, 0, "" },
	{ "words", "late", '.', CELL_WORDS, 0, 0, "" },
	{ "nan", "nan", '.', CELL_WORDS, 0, 0, "" },
	{ "inf", "-inf", '.', CELL_WORDS, 0, 0, "" },
	{ "hexadecimal", "0x12", '.', CELL_WORDS, 0, 0, "" },
	{ "power", "1e400", '.', CELL_WORDS, 0, 0, "" },
	{ "letter first", "l8.5", '.', CELL_WORDS, 0, 0, "" },
	{ "two points", "18.0.1", '.', CELL_WORDS, 0, 0, "" },
	{ "no digit before the mark", ".5", '.', CELL_WORDS, 0, 0, "" },
	{ "spreadsheet's error", "#DIV/0!", '.', CELL_WORDS, 0, 0, "" },
	{ "two numbers", "18 19", '.', CELL_WORDS, 0, 0, "" },
	{ "unit with a digit", "18 g2", '.', CELL_WORDS, 0, 0, "" },
	{ "comma in a file with points", "18,5", '.', CELL_MARK, 0, 0, "" },
	{ "point in a file with commas", "18.5", ',', CELL_MARK, 0, 0, "" },
	{ "a group starts with no zero", "0,185", '.', CELL_MARK, 0, 0, "" },
	{ "may be a group", "1,250", '.', CELL_GROUPED, 0, 0, "" },
	{ "may be a group, with a unit", "1,250 g", '.', CELL_GROUPED, 0, 0, "" },
	{ "may be a group with points", "1.250", ',', CELL_GROUPED, 0, 0, "" },
	{ "both marks", "1.234,5", ',', CELL_GROUPED, 0, 0, "" },
	{ "both marks, other way", "1,234.5", '.', CELL_GROUPED, 0, 0, "" },
	{ "groups twice", "1,234,567", '.', CELL_GROUPED, 0, 0, "" },
	{ "mark at the end", "18,", '.', CELL_WORDS, 0, 0, "" },
};

static void number_is_read_as_told(void **state)
{
	const struct number_case *c = *state;
	struct quantity quantity = { .number = 77 };

	assert_int_equal(cell_number(&quantity, slice_from(c->text), c->mark), c->result);
	assert_string_equal(quantity.measure ? quantity.measure->name : "", c->measure);
	if (c->result != CELL_NUMBER && c->result != CELL_UNIT)
		return;
	assert_near(quantity.number, c->number, 0);
	assert_int_equal(quantity.decimals, c->decimals);
}

static void unknown_unit_is_named(void **state)
{
	struct quantity quantity;

	(void)state;
	assert_int_equal(cell_number(&quantity, SLICE_OF("2 heaped scoops "), '.'), CELL_UNIT);
	assert_true(slice_equal(quantity.unit, SLICE_OF("heaped scoops")));
}

/*
 * Ounce and pound: international yard and pound agreement, 1959. Fluid ounce: 231 cubic inches / 128. Zeros and
 * degrees: by definition of the scales.
 */
static void units_are_converted(void **state)
{
	static const struct {
		const char *unit;
		double number, base;
	} cases[] = {
		{ "g", 18.5, 18.5 },       { "kg", 0.3, 300 },
		{ "mg", 250, 0.25 },       { "oz", 1, 28.349523125 },
		{ "lb", 1, 453.59237 },    { "Pounds", 2, 907.18474 },
		{ "ml", 250, 250 },        { "l", 0.25, 250 },
		{ "cl", 25, 250 },         { "fl oz", 1, 29.5735295625 },
		{ DEGREE "C", 93, 93 },    { DEGREE "F", 212, 100 },
		{ "F", -40, -40 },         { "K", 373.15, 100 },
		{ "s", 30, 30 },           { "min", 3.5, 210 },
		{ "h", 1, 3600 },          { "%", 1.5, 1.5 },
		{ " percent ", 1.5, 1.5 },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		const struct measure *measure = measure_find(slice_from(cases[i].unit));

		assert_non_null(measure);
		assert_near(measure_to_base(measure, cases[i].number), cases[i].base, 1e-10);
		assert_near(measure_from_base(measure, cases[i].base), cases[i].number, 1e-10);
	}
	assert_near(measure_to_base(NULL, 7), 7, 0);
	assert_near(measure_from_base(NULL, 7), 7, 0);
}

static void what_is_no_unit_is_none(void **state)
{
	static const char *const none[] = { "", "scoops", "gg", "mm", "stone", "a very long word for a unit" };

	(void)state;
	for (size_t i = 0; i < COUNT(none); i++)
		assert_null(measure_find(slice_from(none[i])));
}

static void base_units_have_names(void **state)
{
	(void)state;
	for (int kind = MEASURE_MASS; kind <= MEASURE_PERCENT; kind++) {
		const struct measure *base = measure_find(slice_from(measure_base((enum measure_kind)kind)));

		assert_non_null(base);
		assert_int_equal(base->kind, kind);
		assert_near(measure_to_base(base, 7), 7, 0);
	}
	assert_string_equal(measure_base(MEASURE_NONE), "");
}

static void durations_are_read(void **state)
{
	static const struct {
		const char *text;
		double seconds; /* -1: none */
		bool hours;
	} cases[] = {
		{ "3:30", 210, false },      { " 0:05 ", 5, false },    { "0:03:30", 210, true },
		{ "12:00:00", 43200, true }, { "100:00", 6000, false }, { "3:60", -1, false },
		{ "0:60:00", -1, false },    { "3:5x", -1, false },     { "3:", -1, false },
		{ ":30", -1, false },        { "3", -1, false },        { "", -1, false },
		{ "1:2:3:4", -1, false },    { "-3:30", -1, false },    { "3:30.5", -1, false },
		{ "9999999:00", -1, false },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		double seconds = -1;
		bool hours = false;

		assert_int_equal(cell_duration(&seconds, &hours, slice_from(cases[i].text)), cases[i].seconds >= 0);
		if (cases[i].seconds < 0)
			continue;
		assert_near(seconds, cases[i].seconds, 0);
		assert_int_equal(hours, cases[i].hours);
	}
}

static void moments_fill_their_cell(void **state)
{
	int64_t us = 7;

	(void)state;
	assert_true(cell_moment(&us, SLICE_OF(" 2026-03-01 10:15 ")));
	assert_true(us == INT64_C(1772360100000000));
	assert_false(cell_moment(&us, SLICE_OF("2026-03-01 10:15 or so")));
	assert_false(cell_moment(&us, SLICE_OF("")));
	assert_true(us == INT64_C(1772360100000000));
}

static void cells_tell_the_mark(void **state)
{
	static const struct {
		const char *text;
		enum mark_evidence evidence;
	} cases[] = {
		{ "18.5", MARK_POINT },       { "18,5", MARK_COMMA },       { "18,50 g", MARK_COMMA },
		{ "1.250", MARK_WEAK_POINT }, { "1,250", MARK_WEAK_COMMA }, { "0.250", MARK_POINT },
		{ "-0,250", MARK_COMMA },     { "1250.125", MARK_POINT },   { "-1,250", MARK_WEAK_COMMA },
		{ "300", MARK_SILENT },       { "", MARK_SILENT },          { "1.2.3", MARK_SILENT },
		{ "1,234.5", MARK_SILENT },   { "late, 1.5", MARK_SILENT }, { "18.5 and 19.5", MARK_SILENT },
		{ MINUS "1.5", MARK_POINT },  { "1.", MARK_SILENT },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++)
		if (cell_mark(slice_from(cases[i].text)) != cases[i].evidence)
			fail_msg("\"%s\"", cases[i].text);
}

static void trimming_is_slice_trim(void **state)
{
	static const char *const texts[] = { "", "a", " a", "a ", "\xc2\xa0xa", "a\xc2\xa0", "\t", "\xc3\xa9" };

	(void)state;
	for (size_t i = 0; i < COUNT(texts); i++)
		assert_true(slice_equal(cell_trim(slice_from(texts[i])), slice_trim(slice_from(texts[i]))));
}

static void excerpts_are_short_and_plain(void **state)
{
	static char text[400];

	(void)state;
	assert_string_equal(EXCERPT(SLICE_OF("l8.5")), "l8.5");
	assert_string_equal(EXCERPT(SLICE_OF("a\nb\x1b[31m\x7f")), "a?b?[31m?");
	assert_string_equal(EXCERPT(((struct slice){ "a\0b", 3 })), "a?b");
	assert_string_equal(EXCERPT(((struct slice){ NULL, 0 })), "");
	memset(text, 'x', sizeof(text));
	assert_int_equal(strlen(EXCERPT(((struct slice){ text, EXCERPT_CHARACTERS }))), EXCERPT_CHARACTERS);
	assert_int_equal(strlen(EXCERPT(((struct slice){ text, 400 }))), EXCERPT_CHARACTERS + 3);
	for (size_t i = 0; i < sizeof(text); i += 4)
		memcpy(text + i, "\xf0\x9f\x98\x80", 4);
	assert_int_equal(strlen(EXCERPT(((struct slice){ text, 400 }))), 4 * EXCERPT_CHARACTERS + 3);
	memset(text, 0x80, sizeof(text)); /* no text at all, but it must fit */
	assert_true(strlen(EXCERPT(((struct slice){ text, 400 }))) < EXCERPT_BYTES);
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(unknown_unit_is_named),        cmocka_unit_test(units_are_converted),
		cmocka_unit_test(what_is_no_unit_is_none),      cmocka_unit_test(base_units_have_names),
		cmocka_unit_test(durations_are_read),           cmocka_unit_test(moments_fill_their_cell),
		cmocka_unit_test(cells_tell_the_mark),          cmocka_unit_test(trimming_is_slice_trim),
		cmocka_unit_test(excerpts_are_short_and_plain),
	};
	struct CMUnitTest tests[COUNT(number_cases) + COUNT(others)];

	for (size_t i = 0; i < COUNT(number_cases); i++)
		tests[i] = (struct CMUnitTest){ .name = number_cases[i].name,
			                        .test_func = number_is_read_as_told,
			                        .initial_state = (void *)(uintptr_t)&number_cases[i] };
	memcpy(&tests[COUNT(number_cases)], others, sizeof(others));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
