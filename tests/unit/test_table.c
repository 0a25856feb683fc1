/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "table.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define B(literal)                             \
	{                                      \
		(literal), sizeof(literal) - 1 \
	}

/*
 * Each cell as line:column<text>, "!" behind one with text after its quotes; rows end in "/", comments are "#/";
 * "unclosed line:column" where that is how it ends.
 */
static void table_print(char *out, size_t size, struct slice text, char delimiter, size_t columns)
{
	struct arena arena = ARENA_INIT;
	enum table_result result;
	struct table table;
	size_t used = 0;
	struct row row;

	table_init(&table, text, 1, delimiter, &arena);
	table.columns = columns;
	out[0] = '\0';
	while ((result = table_next(&table, &row)) == TABLE_ROW) {
		assert_int_equal(row.beyond, 0);
		assert_true(row.comment || row.count >= 1);
		if (row.comment)
			used += (size_t)snprintf(out + used, size - used, "#");
		for (size_t i = 0; i < row.count; i++)
			used += (size_t)snprintf(out + used, size - used, "%u:%u<%.*s>%s",
			                         (unsigned int)row.cells[i].line,
			                         (unsigned int)cell_column(&row.cells[i]), SLICE_ARG(row.cells[i].text),
			                         row.cells[i].stray ? "!" : "");
		used += (size_t)snprintf(out + used, size - used, "/");
	}
	if (result == TABLE_UNCLOSED)
		snprintf(out + used, size - used, "unclosed %u:%u", (unsigned int)table.unclosed.line,
		         (unsigned int)cell_column(&table.unclosed));
	else
		assert_int_equal(result, TABLE_END);
	table_release(&table);
	arena_release(&arena);
}

struct table_case {
	const char *name;
	struct slice text;
	char delimiter;
	size_t columns;
	const char *cells;
};

static const struct table_case table_cases[] = {
	{ "nothing", B(""), ',', 0, "" },
	{ "one cell", B("a"), ',', 0, "1:1<a>/" },
	{ "rows", B("a,b\nc,d\n"), ',', 0, "1:1<a>1:3<b>/2:1<c>2:3<d>/" },
	{ "no line end at the end", B("a,b\nc,d"), ',', 0, "1:1<a>1:3<b>/2:1<c>2:3<d>/" },
	{ "empty cells", B(",,\n"), ',', 0, "1:1<>1:2<>1:3<>/" },
	{ "empty line", B("a\n\nb"), ',', 0, "1:1<a>/2:1<>/3:1<b>/" },
	{ "CR LF", B("a\r\nb\r\n"), ',', 0, "1:1<a>/2:1<b>/" },
	{ "CR", B("a\rb\r"), ',', 0, "1:1<a>/2:1<b>/" },
	{ "LF CR is two", B("a\n\rb"), ',', 0, "1:1<a>/2:1<>/3:1<b>/" },
	{ "mixed", B("a\r\nb\nc\rd"), ',', 0, "1:1<a>/2:1<b>/3:1<c>/4:1<d>/" },
	{ "blanks stay", B(" a , b \n"), ',', 0, "1:1< a >1:5< b >/" },
	{ "tabs", B("a\tb c\t\n"), '\t', 0, "1:1<a>1:3<b c>1:7<>/" },
	{ "semicolons leave commas alone", B("a,b;c"), ';', 0, "1:1<a,b>1:5<c>/" },
	{ "columns count characters", B("\xc2\xb0\xe2\x82\xac,b"), ',', 0, "1:1<\xc2\xb0\xe2\x82\xac>1:4<b>/" },
	{ "quotes", B("\"a,b\",c\n"), ',', 0, "1:1<a,b>1:7<c>/" },
	{ "doubled quotes", B("\"say \"\"x\"\"\",c"), ',', 0, "1:1<say \"x\">1:13<c>/" },
	{ "empty quotes", B("\"\",\"\"\"\"\n"), ',', 0, "1:1<>1:4<\">/" },
	{ "blanks around quotes", B("  \"a\"  , \"b\"\n"), ',', 0, "1:3<a>1:10<b>/" },
	{ "a quote within is a character", B("12\" wide,b\"c\n"), ',', 0, "1:1<12\" wide>1:10<b\"c>/" },
	{ "curly quotes are characters",
	  B("\xe2\x80\x9c"
	    "a,b\xe2\x80\x9d\n"),
	  ',', 0,
	  "1:1<\xe2\x80\x9c"
	  "a>1:4<b\xe2\x80\x9d>/" },
	{ "line breaks in quotes", B("\"a\r\nb\rc\nd\",e\nf"), ',', 0, "1:1<a\nb\nc\nd>4:4<e>/5:1<f>/" },
	{ "quoted LF alone", B("\"a\nb\"\nc"), ',', 0, "1:1<a\nb>/3:1<c>/" },
	{ "text behind quotes", B("\"a\" b,c\n"), ',', 0, "1:1<\"a\" b>!1:7<c>/" },
	{ "comment", B("#a,\"b\nc\n  # d\n"), ',', 0, "#/2:1<c>/#/" },
	{ "number sign within", B("a,#b\n\"#c\""), ',', 0, "1:1<a>1:3<#b>/2:1<#c>/" },
	{ "NUL is a character", { "a\0b,c", 5 }, ',', 0, "1:1<a>1:5<c>/" }, /* "%.*s" stops at it */
	{ "open quote", B("a,b\nc,\"d\ne\n"), ',', 0, "1:1<a>1:3<b>/unclosed 2:3" },
	{ "open quote at the end", B("a,\""), ',', 0, "unclosed 1:3" },
	{ "open quote before a quoted cell", B("a,\"b\nc,\"d\",e\n"), ',', 0, "unclosed 1:3" },
	{ "rows swallowed", B("a,b,c,\"d\nA1,2,3,4\nA2,2,3,12\"\n"), ',', 4, "unclosed 1:7" },
	{ "prose with commas is not a row", B("a,b,c,\"d\nx, y, z, and so on\ne\"\n"), ',', 4,
	  "1:1<a>1:3<b>1:5<c>1:7<d\nx, y, z, and so on\ne>/" },
	{ "few columns cannot be told", B("a,\"b\nc,d\ne\"\n"), ',', 2, "1:1<a>1:3<b\nc,d\ne>/" },
};

static void splits_as_told(void **state)
{
	const struct table_case *c = *state;
	char *exact = malloc(c->text.len ? c->text.len : 1); /* so that reading beyond the end is found */
	char cells[1024];

	assert_non_null(exact);
	memcpy(exact, c->text.text, c->text.len);
	table_print(cells, sizeof(cells), (struct slice){ exact, c->text.len }, c->delimiter, c->columns);
	assert_string_equal(cells, c->cells);
	free(exact);
}

static void plain_cells_show_the_text_itself(void **state)
{
	static const char text[] = "a,\"bc\",\"d\"\"e\"";
	struct arena arena = ARENA_INIT;
	struct table table;
	struct row row;

	(void)state;
	table_init(&table, (struct slice){ text, sizeof(text) - 1 }, 1, ',', &arena);
	assert_int_equal(table_next(&table, &row), TABLE_ROW);
	assert_ptr_equal(row.cells[0].text.text, text);
	assert_ptr_equal(row.cells[1].text.text, text + 3);
	assert_true(row.cells[2].text.text < text || row.cells[2].text.text > text + sizeof(text));
	assert_ptr_equal(row.at, text);
	assert_ptr_equal(row.end, text + sizeof(text) - 1);
	table_release(&table);
	arena_release(&arena);
}

static void without_an_arena_nothing_is_undone(void **state)
{
	struct table table;
	struct row row;

	(void)state;
	table_init(&table, SLICE_OF("\"d\"\"e\",\"a\r\nb\"\n"), 7, ',', NULL);
	assert_int_equal(table_next(&table, &row), TABLE_ROW);
	assert_true(slice_equal(row.cells[0].text, SLICE_OF("d\"\"e")));
	assert_true(slice_equal(row.cells[1].text, SLICE_OF("a\r\nb")));
	assert_int_equal(row.line, 7);
	assert_int_equal(table.line, 9);
	table_release(&table);
}

static void cells_without_end_are_counted(void **state)
{
	enum { LEN = TABLE_CELLS + 100 };
	char *text = malloc(LEN);
	struct table table;
	struct row row;

	(void)state;
	assert_non_null(text);
	memset(text, ';', LEN);
	table_init(&table, (struct slice){ text, LEN }, 1, ';', NULL);
	assert_int_equal(table_next(&table, &row), TABLE_ROW);
	assert_int_equal(row.count, TABLE_CELLS);
	assert_int_equal(row.beyond, 101);
	assert_int_equal(table_next(&table, &row), TABLE_END);
	table_release(&table);
	free(text);
}

static void an_open_quote_ends_the_table(void **state)
{
	struct table table;
	struct row row;

	(void)state;
	table_init(&table, SLICE_OF("a\n\"b\nc"), 1, ',', NULL);
	assert_int_equal(table_next(&table, &row), TABLE_ROW);
	assert_int_equal(table_next(&table, &row), TABLE_UNCLOSED);
	assert_true(slice_equal(table.unclosed.text, SLICE_OF("b\nc")));
	assert_int_equal(table_next(&table, &row), TABLE_END);
	table_release(&table);
}

static void lines_are_skipped(void **state)
{
	static const char text[] = "a\r\nb\rc\n";
	const char *end = text + sizeof(text) - 1;

	(void)state;
	assert_ptr_equal(line_skip(text, end), text + 3);
	assert_ptr_equal(line_skip(text + 3, end), text + 5);
	assert_ptr_equal(line_skip(text + 5, end), end);
	assert_ptr_equal(line_skip(end, end), end);
	assert_ptr_equal(line_skip(text, text + 1), text + 1);
	assert_ptr_equal(line_skip(text, text + 2), text + 2); /* a CR at the end */
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(plain_cells_show_the_text_itself),
		cmocka_unit_test(without_an_arena_nothing_is_undone),
		cmocka_unit_test(cells_without_end_are_counted),
		cmocka_unit_test(an_open_quote_ends_the_table),
		cmocka_unit_test(lines_are_skipped),
	};
	struct CMUnitTest tests[COUNT(table_cases) + COUNT(others)];

	for (size_t i = 0; i < COUNT(table_cases); i++)
		tests[i] = (struct CMUnitTest){ .name = table_cases[i].name,
			                        .test_func = splits_as_told,
			                        .initial_state = (void *)(uintptr_t)&table_cases[i] };
	memcpy(&tests[COUNT(table_cases)], others, sizeof(others));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
