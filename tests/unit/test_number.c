/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <float.h>
#include <stdio.h>
#include <string.h>

#include "number.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

struct parse_case {
	const char *name;
	const char *text;
	char sign;
	bool ok;
	double value;
	int decimals;
};

static const struct parse_case parse_cases[] = {
	{ "whole", "18", '.', true, 18, 0 },
	{ "decimals", "18.5", '.', true, 18.5, 1 },
	{ "trailing zero is a digit", "1.40", '.', true, 1.40, 2 },
	{ "leading zeros", "0012.50", '.', true, 12.5, 2 },
	{ "decimal comma", "1,41", ',', true, 1.41, 2 },
	{ "minus", "-0.02", '.', true, -0.02, 2 },
	{ "plus", "+3", '.', true, 3, 0 },
	{ "U+2212",
	  "\xe2\x88\x92"
	  "0.02",
	  '.', true, -0.02, 2 },
	{ "nearest double", "0.1", '.', true, 0.1, 1 },
	{ "as many digits as are exact", "999999999999999", '.', true, 999999999999999.0, 0 },
	{ "more digits than are exact", "0.12345678901234567890", '.', true, 0.12345678901234567890, 20 },
	{ "more, with a comma", "3,14159265358979323846", ',', true, 3.14159265358979323846, 20 },
	{ "more, negative by U+2212",
	  "\xe2\x88\x92"
	  "3.14159265358979323846",
	  '.', true, -3.14159265358979323846, 20 },
	{ "more decimals than a power is exact", "0.00000000000000000000001", '.', true, 1e-23, 23 },
	{ "half way between two doubles", "9007199254740993", '.', true, 9007199254740992.0,
	  0 }, /* 2^53 + 1, to even */
	{ "the other sign", "1,41", '.', false, 0, 0 },
	{ "grouped", "1,234.5", '.', false, 0, 0 },
	{ "grouped the other way", "1.234,5", ',', false, 0, 0 },
	{ "two signs", "18.0.1", '.', false, 0, 0 },
	{ "no digit before", ".5", '.', false, 0, 0 },
	{ "no digit behind", "5.", '.', false, 0, 0 },
	{ "no digit", "-", '.', false, 0, 0 },
	{ "nothing", "", '.', false, 0, 0 },
	{ "sign alone", ".", '.', false, 0, 0 },
	{ "two minus", "--1", '.', false, 0, 0 },
	{ "blank before", " 1", '.', false, 0, 0 },
	{ "blank behind", "1 ", '.', false, 0, 0 },
	{ "unit", "18 g", '.', false, 0, 0 },
	{ "exponent", "1e3", '.', false, 0, 0 },
	{ "too large", "1e400", '.', false, 0, 0 },
	{ "hexadecimal", "0x12", '.', false, 0, 0 },
	{ "nan", "nan", '.', false, 0, 0 },
	{ "inf", "inf", '.', false, 0, 0 },
	{ "letter l", "l8.5", '.', false, 0, 0 },
	{ "full-width digits", "\xef\xbc\x91", '.', false, 0, 0 },
};

static void parses_as_told(void **state)
{
	const struct parse_case *c = *state;
	double value = 77;
	int decimals = -1;

	assert_int_equal(number_parse(&value, &decimals, slice_from(c->text), c->sign), c->ok);
	assert_near(value, c->ok ? c->value : 77, 0);
	assert_int_equal(decimals, c->ok ? c->decimals : -1);
	assert_int_equal(number_parse(&value, NULL, slice_from(c->text), c->sign), c->ok);
}

static void four_hundred_digits_are_no_number(void **state)
{
	char text[402];
	double value = 77;

	(void)state;
	memset(text, '9', sizeof(text));
	assert_false(number_parse(&value, NULL, (struct slice){ text, 401 }, '.'));
	assert_false(number_parse(&value, NULL, (struct slice){ text, 400 }, '.')); /* beyond DBL_MAX */
	assert_true(number_parse(&value, NULL, (struct slice){ text, 308 }, '.'));
	assert_near(value, 1e308, 0);
}

static void either_sign_is_taken(void **state)
{
	double value;
	int decimals;

	(void)state;
	assert_true(number_parse_any(&value, &decimals, SLICE_OF("1.38")));
	assert_near(value, 1.38, 0);
	assert_true(number_parse_any(&value, &decimals, SLICE_OF("1,385")));
	assert_near(value, 1.385, 0);
	assert_int_equal(decimals, 3);
	assert_false(number_parse_any(&value, &decimals, SLICE_OF("1,3.8")));
}

static void plainest_numbers_are_read_where_text_begins_with_one(void **state)
{
	static const struct {
		const char *text;
		size_t used;
	} cases[] = {
		{ "1.38", 4 },
		{ "0.02 @22.4", 4 },
		{ "1.38,1.39", 4 },
		{ "1.2.3", 3 },
		{ "0000000000000.05", 16 },
		{ "12345678901234.5", 16 },
		{ "123456789012345.6", 0 },
		{ "1.234567890123456", 0 }, /* more digits than are exact */
		{ "138", 0 },
		{ ".5.5", 0 },
		{ "1.", 0 },
		{ "1,38", 0 },
		{ "-1.38", 0 },
		{ "", 0 },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		struct slice text = slice_from(cases[i].text);
		double value = 77, whole = 77;
		int decimals = -1, all = -1;

		assert_int_equal(number_begin(&value, &decimals, text, '.'), cases[i].used);
		if (cases[i].used > 0)
			assert_true(number_parse(&whole, &all, slice_part(text, 0, cases[i].used), '.'));
		assert_near(value, whole, 0);
		assert_int_equal(decimals, all);
	}
}

static void same_numbers_are_told(void **state)
{
	(void)state;
	assert_true(number_same(1.4, 1.4));
	assert_true(number_same(NAN, -(double)NAN));
	assert_false(number_same(NAN, 1.4));
	assert_false(number_same(1.4, NAN));
	assert_false(number_same(0.0, -0.0));
}

static void counts_are_whole(void **state)
{
	long long value = -1;

	(void)state;
	assert_true(number_parse_count(&value, SLICE_OF("0")));
	assert_true(value == 0);
	assert_true(number_parse_count(&value, SLICE_OF("999999999999999999")));
	assert_true(value == 999999999999999999LL);
	assert_false(number_parse_count(&value, SLICE_OF("1000000000000000000")));
	assert_false(number_parse_count(&value, SLICE_OF("")));
	assert_false(number_parse_count(&value, SLICE_OF("-1")));
	assert_false(number_parse_count(&value, SLICE_OF("1.0")));
	assert_true(value == 999999999999999999LL);
}

static void prints_as_wanted(void **state)
{
	static const struct {
		double value;
		int decimals;
		const char *text;
	} cases[] = {
		{ 1.4, 2, "1.40" },    { 22.456, 1, "22.5" },        { 0, 0, "0" },
		{ -0.004, 2, "0.00" }, { -0.0, 1, "0.0" },           { -0.02, 2, "-0.02" },
		{ -12, 0, "-12" },     { NAN, 2, "not determined" }, { INFINITY, 2, "not determined" },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		char text[NUMBER_TEXT];

		assert_string_equal(number_print(text, sizeof(text), cases[i].value, cases[i].decimals), cases[i].text);
	}
}

static void shortest_text_reads_back(void **state)
{
	static const struct {
		double value;
		const char *text;
	} cases[] = {
		{ 0.1, "0.1" },        { 1.38, "1.38" },  { 0.1 + 0.2, "0.30000000000000004" },   { 300, "300" },
		{ -2.5, "-2.5" },      { 1e-7, "1e-07" }, { DBL_MAX, "1.7976931348623157e+308" }, { NAN, "null" },
		{ -INFINITY, "null" },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		char text[NUMBER_TEXT];

		assert_string_equal(number_print_exact(text, sizeof(text), cases[i].value), cases[i].text);
	}
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(four_hundred_digits_are_no_number),
		cmocka_unit_test(either_sign_is_taken),
		cmocka_unit_test(plainest_numbers_are_read_where_text_begins_with_one),
		cmocka_unit_test(same_numbers_are_told),
		cmocka_unit_test(counts_are_whole),
		cmocka_unit_test(prints_as_wanted),
		cmocka_unit_test(shortest_text_reads_back),
	};
	struct CMUnitTest tests[COUNT(parse_cases) + COUNT(others)];

	for (size_t i = 0; i < COUNT(parse_cases); i++)
		tests[i] = (struct CMUnitTest){ .name = parse_cases[i].name,
			                        .test_func = parses_as_told,
			                        .initial_state = (void *)(uintptr_t)&parse_cases[i] };
	memcpy(&tests[COUNT(parse_cases)], others, sizeof(others));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
