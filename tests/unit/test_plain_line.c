/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The short way through a line says what the long one says, or nothing. */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "number.h"
#include "plain_line.h"
#include "random.h"

#define GIVEN(array) (sizeof(array) / sizeof((array)[0]))
#define BYTES(literal)                         \
	{                                      \
		(literal), sizeof(literal) - 1 \
	}

static const struct slice plain_labels[] = { BYTES("1"), BYTES("A1"), BYTES("A10"), BYTES("B-01"), BYTES("zero") };
static const struct slice odd_labels[] = { BYTES("A1"), BYTES("A1 1.38") };

static const struct label_list known = { plain_labels, GIVEN(plain_labels), 4, true };
static const struct label_list odd = { odd_labels, GIVEN(odd_labels), 7, false };

static bool same_value(const struct text_value *a, const struct text_value *b)
{
	return number_same(a->shown.value, b->shown.value) && a->shown.decimals == b->shown.decimals &&
	       a->shown.unit == b->shown.unit && number_same(a->temp_c, b->temp_c) && a->at == b->at &&
	       a->questioned == b->questioned;
}

static bool same_line(const struct text_line *a, const struct text_line *b)
{
	if (a->kind != b->kind || a->role != b->role || a->label.text != b->label.text ||
	    a->label.len != b->label.len || !number_same(a->standard_percent, b->standard_percent) ||
	    a->taken_us != b->taken_us || a->firm != b->firm || a->questioned != b->questioned || a->at != b->at ||
	    strcmp(a->reason, b->reason) != 0 || a->count != b->count)
		return false;
	for (size_t i = 0; i < a->count; i++)
		if (!same_value(&a->values[i], &b->values[i]))
			return false;
	return true;
}

/* Was line read the short way? Then the long way gives the same. */
static bool read_short(struct slice line, const struct label_list *labels)
{
	static struct text_line quick, whole;
	char *exact = test_malloc(line.len + 1); /* ends where the memory ends */
	bool read;

	if (line.len > 0)
		memcpy(exact + 1, line.text, line.len);
	line.text = exact + 1;
	memset(&quick, 0x55, sizeof(quick));
	read = plain_line_read(&quick, line, labels);
	text_line_read(&whole, line, labels);
	if (read && !same_line(&quick, &whole))
		fail_msg("\"%.*s\" is read in two ways", SLICE_ARG(line));
	test_free(exact);
	return read;
}

static void plain_lines_are_read(void **state)
{
	static const char *const lines[] = { "A1 1.38",         "A1 1.38 1.39 1.38 @22.4", "A10\t1.4  0.01 ",
		                             "B-01 1,38 1,4 ",  "B-01 1,38 1,40 @22,5",    "zero 0.01 @20.0",
		                             "A1 0.00 123.45 ", "A1 12345678901234.5" };

	(void)state;
	for (size_t i = 0; i < GIVEN(lines); i++)
		assert_true(read_short(slice_from(lines[i]), &known));
}

static void others_are_left(void **state)
{
	static const char *const lines[] = {
		"",
		"A1",
		"A1 ",
		"A2 1.38", /* no brew's */
		"1 1.38",  /* may be a time */
		" A1 1.38",
		"A1: 1.38",
		"A1 1.38, 1.39",
		"A1 1.38 1,39",
		"A1 138 1.39", /* may have lost its sign */
		"A1 -0.01",
		"A1 0.014", /* may be a fraction */
		"A1 1,381", /* may be a thousand */
		"A1 1.38 %",
		"A1 1.38 # x",
		"A1 1.38 @22.4 1.39",
		"A1 1.38 @",
		"A1 1.38 @22.4 ",
		"A1 1.38 @22",
		"A1 1.38 @.5.5",
		"A1 @22.4",
		"A1 1.38@22.4",
		"A1 1.",
		"A1 .5",
		"A1 1.2.3",
		"A1 123456789012345.6",
		"A1 1.38\xc2\xa0",
	};

	(void)state;
	for (size_t i = 0; i < GIVEN(lines); i++)
		assert_false(read_short(slice_from(lines[i]), &known));
	assert_false(read_short(SLICE_OF("A1 1.38 1.39"), &odd)); /* the longer label has the number */
	assert_false(read_short(SLICE_OF("A1 1.38"), &(struct label_list){ NULL, 0, 0, true }));
}

static void too_many_values_are_left(void **state)
{
	char text[4 + 5 * (TEXT_LINE_VALUES + 1)] = "A1";

	(void)state;
	for (int i = 0; i < TEXT_LINE_VALUES; i++)
		strcat(text, " 1.38");
	assert_true(read_short(slice_from(text), &known));
	strcat(text, " 1.38");
	assert_false(read_short(slice_from(text), &known));
}

/* Lines put together from what lines are made of, most of it plain. */
static void any_line_is_read_one_way(void **state)
{
	static const char *const plain[] = { " 1.38", " 1.40", " 0.02", " 12.5", " 3.1", " 1,38", " 1,4" };
	static const char *const odd_parts[] = { " ",        "\t",          "  1.38", " 138", " 0.013", " 1,381",
		                                 " 30.1",    " @22.4",      " @22,5", "@20",  " @",     " %",
		                                 ",",        ";",           ":",      "=",    "#",      "-",
		                                 "\"",       "'",           "A1",     " C",   " 22 C",  "\xc2\xb0",
		                                 "\xc2\xa0", ".",           " .5",    " 1.",  " brix",  "\0",
		                                 "1",        "\xe2\x88\x92" };
	static const char *const heads[] = {
		"A1", "A10", "B-01", "zero", "1", "A", "cup A1", " A1", "> A1", "- A1", ""
	};
	struct random random;
	size_t quick = 0;

	(void)state;
	random_seed(&random, 20260314);
	for (int turn = 0; turn < 200000; turn++) {
		char text[200] = "";
		size_t parts = random_below(&random, 12);
		size_t sign = random_below(&random, 2) * 5;

		strcat(text, heads[random_below(&random, 3) > 0 ? 0 : random_below(&random, GIVEN(heads))]);
		for (size_t i = 0; i < parts; i++)
			strcat(text, random_below(&random, 12) == 0 ?
			                     odd_parts[random_below(&random, GIVEN(odd_parts))] :
			                     plain[sign + random_below(&random, sign ? 2 : 5)]);
		if (random_below(&random, 2) == 0)
			strcat(text, sign ? " @20,5" : " @20.5");
		quick += read_short(slice_from(text), random_below(&random, 8) == 0 ? &odd : &known);
	}
	assert_true(quick > 200000 / 5);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(plain_lines_are_read),
		cmocka_unit_test(others_are_left),
		cmocka_unit_test(too_many_values_are_left),
		cmocka_unit_test(any_line_is_read_one_way),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
