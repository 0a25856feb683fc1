/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <string.h>
#include <unistd.h>

#include "pen.h"
#include "workbook_text.h"

#define BOOK "pen.xlsx"

/* A sheet, and the pen on it. */
struct desk {
	lxw_workbook *workbook;
	lxw_format *styles[STYLES];
	struct cell_text text;
	struct pen pen;
};

static void sit_down(struct desk *desk, bool formulas, bool constant_memory)
{
	lxw_workbook_options options = { .constant_memory = constant_memory };

	*desk = (struct desk){ .workbook = workbook_new_opt(BOOK, &options) };
	assert_non_null(desk->workbook);
	assert_true(styles_make(desk->workbook, desk->styles));
	desk->pen = pen_at(workbook_add_worksheet(desk->workbook, "Sheet"), desk->styles, &desk->text, formulas);
}

/* Closes the workbook and gives the XML of its sheet; the caller frees it. */
static char *get_up(struct desk *desk)
{
	assert_int_equal(workbook_close(desk->workbook), LXW_NO_ERROR);
	cell_text_release(&desk->text);
	return workbook_part(BOOK, "xl/worksheets/sheet1.xml");
}

static void a_number_that_is_none_is_told_in_words(void **state)
{
	struct desk desk;
	char *xml;

	(void)state;
	sit_down(&desk, true, true);
	pen_number(&desk.pen, 1.38, style_decimals(STYLE_DECIMALS, 2));
	pen_number(&desk.pen, NAN, style_decimals(STYLE_DECIMALS, 2));
	pen_number(&desk.pen, -INFINITY, style_decimals(STYLE_DECIMALS, 2));
	pen_formula(&desk.pen, INFINITY, STYLE_COUNT, "A1/0");
	xml = get_up(&desk);
	assert_int_equal(count_text(xml, "<v>1.38</v>"), 1);
	assert_int_equal(count_text(xml, PEN_MISSING), 3);
	assert_int_equal(count_text(xml, "<f>"), 0);
	assert_int_equal(count_text(xml, "NAN") + count_text(xml, "INF"), 0);
	free(xml);
}

static void text_is_never_a_formula(void **state)
{
	static const char *const texts[] = { "=1+1", "+1", "-1", "@SUM(A1)", "{=1}", "\t=1" };
	struct desk desk;
	char *xml;

	(void)state;
	sit_down(&desk, true, true);
	for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++)
		pen_words(&desk.pen, texts[i], STYLE_TEXT);
	xml = get_up(&desk);
	assert_int_equal(count_text(xml, "<f>"), 0);
	assert_int_equal(count_text(xml, "t=\"inlineStr\""), 6);
	assert_int_equal(count_text(xml, "<t>=1+1</t>"), 1);
	free(xml);
}

static void a_formula_has_its_value_with_it(void **state)
{
	struct desk desk;
	char *xml;

	(void)state;
	sit_down(&desk, true, true);
	pen_formula(&desk.pen, 20.07, STYLE_COUNT, "%s*2", "B1");
	xml = get_up(&desk);
	assert_int_equal(count_text(xml, "<f>B1*2</f><v>20.07</v>"), 1);
	free(xml);
	sit_down(&desk, false, true);
	pen_formula(&desk.pen, 20.07, STYLE_COUNT, "%s*2", "B1");
	xml = get_up(&desk);
	assert_int_equal(count_text(xml, "<f>"), 0);
	assert_int_equal(count_text(xml, "<v>20.07</v>"), 1);
	free(xml);
}

static void what_was_written_is_counted(void **state)
{
	bool constant_memory = *(const bool *)*state;
	struct desk desk;
	char *xml;

	sit_down(&desk, true, constant_memory);
	pen_words(&desk.pen, "one", STYLE_TEXT);
	pen_words(&desk.pen, "", STYLE_TEXT);
	pen_skip(&desk.pen, 1);
	pen_number(&desk.pen, NAN, STYLE_COUNT);
	pen_down(&desk.pen);
	pen_down(&desk.pen); /* a row without a cell is none */
	pen_across(&desk.pen, SLICE_OF("over three"), 3, STYLE_SENTENCE);
	pen_row(&desk.pen, 7);
	pen_link(&desk.pen, "Sheet", STYLE_LINK);
	assert_int_equal(desk.pen.rows, 3);
	assert_int_equal(desk.pen.cells, 7);
	xml = get_up(&desk);
	assert_int_equal(count_text(xml, "<row "), 3);
	assert_int_equal(count_text(xml, "<c "), 7);
	free(xml);
}

static void a_row_is_as_high_as_its_longest_text(void **state)
{
	struct desk desk;
	char *xml;

	(void)state;
	sit_down(&desk, true, true);
	pen_width(&desk.pen, 0, 20);
	pen_words(&desk.pen, "short", STYLE_WRAP);
	pen_down(&desk.pen);
	pen_words(&desk.pen, "a text that is a good deal longer than the twenty letters that its column has room for",
	          STYLE_WRAP);
	pen_down(&desk.pen);
	pen_words(&desk.pen, "a text just as long, but in a style that does not wrap: it runs on over its neighbours",
	          STYLE_TEXT);
	pen_down(&desk.pen);
	xml = get_up(&desk);
	assert_int_equal(count_text(xml, "customHeight"), 1);
	free(xml);
}

static void the_first_error_is_kept(void **state)
{
	struct error error = ERROR_INIT;
	struct desk desk;

	(void)state;
	sit_down(&desk, true, true);
	assert_int_equal(pen_status(&desk.pen, "Sheet", &error), STATUS_OK);
	pen_row(&desk.pen, LXW_ROW_MAX);
	pen_number(&desk.pen, 1, STYLE_COUNT);
	pen_note(&desk.pen, LXW_ERROR_MEMORY_MALLOC_FAILED);
	assert_int_equal(pen_status(&desk.pen, "Sheet", &error), STATUS_INVALID);
	assert_non_null(strstr(error.text, "sheet Sheet, row 1048577, column 1"));
	free(get_up(&desk));
}

static void going_back_up_is_an_error(void **state)
{
	struct error error = ERROR_INIT;
	struct desk desk;

	(void)state;
	sit_down(&desk, true, true);
	pen_row(&desk.pen, 5);
	pen_number(&desk.pen, 1, STYLE_COUNT);
	pen_row(&desk.pen, 2);
	pen_number(&desk.pen, 1, STYLE_COUNT);
	assert_int_equal(pen_status(&desk.pen, "Sheet", &error), STATUS_INVALID);
	free(get_up(&desk));
}

int main(void)
{
	static bool yes = true, no = false;
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_number_that_is_none_is_told_in_words),
		cmocka_unit_test(text_is_never_a_formula),
		cmocka_unit_test(a_formula_has_its_value_with_it),
		{ "what was written is counted, cell by cell to the disk", what_was_written_is_counted, NULL, NULL,
		  &yes },
		{ "what was written is counted, kept in memory", what_was_written_is_counted, NULL, NULL, &no },
		cmocka_unit_test(a_row_is_as_high_as_its_longest_text),
		cmocka_unit_test(the_first_error_is_kept),
		cmocka_unit_test(going_back_up_is_an_error),
	};

	return cmocka_run_group_tests(tests, workbook_folder_make, workbook_folder_remove);
}
