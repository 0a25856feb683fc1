/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <string.h>
#include <xlsxwriter.h>

#include "workbook_text.h"
#include "xlsx_check.h"

#define BOOK "check.xlsx"

enum { ROWS = 200, COLUMNS = 5, LOCAL_HEADER = 30 };

static const struct sheet_size whole[] = { { ROWS, ROWS *COLUMNS }, { 1, 1 } };

static void write_book(void)
{
	lxw_workbook *workbook = workbook_new(BOOK);
	lxw_worksheet *sheet = workbook_add_worksheet(workbook, "One");
	lxw_row_t pages[] = { 40, 90, 0 }; /* <rowBreaks> */

	for (lxw_row_t row = 0; row < ROWS; row++)
		for (lxw_col_t col = 0; col < COLUMNS; col++)
			worksheet_write_number(sheet, row, col, row * 0.37 + col, NULL);
	worksheet_set_h_pagebreaks(sheet, pages);
	worksheet_write_string(workbook_add_worksheet(workbook, "Two"), 3, 3, "<row <c ", NULL);
	assert_int_equal(workbook_close(workbook), LXW_NO_ERROR);
}

static void put_bytes(const char *bytes, size_t len)
{
	FILE *out = fopen(BOOK, "wb");

	assert_non_null(out);
	assert_int_equal(fwrite(bytes, 1, len, out), len);
	fclose(out);
}

static enum status check(void)
{
	struct error error = ERROR_INIT;
	enum status status = xlsx_check(BOOK, whole, 2, &error);

	assert_int_equal(error.text[0] != '\0', status != STATUS_OK);
	return status;
}

static void a_whole_one_passes(void **state)
{
	(void)state;
	write_book();
	assert_int_equal(check(), STATUS_OK);
}

static void a_row_or_cell_too_few_is_told(void **state)
{
	static const struct sheet_size more_rows[] = { { ROWS + 1, ROWS * COLUMNS }, { 1, 1 } };
	static const struct sheet_size more_cells[] = { { ROWS, ROWS * COLUMNS }, { 1, 2 } };
	static const struct sheet_size more_sheets[] = { { ROWS, ROWS * COLUMNS }, { 1, 1 }, { 0, 0 } };
	struct error error = ERROR_INIT;

	(void)state;
	write_book();
	assert_int_equal(xlsx_check(BOOK, more_rows, 2, &error), STATUS_IO);
	assert_string_equal(error.text,
	                    "the file is not whole (sheet 1 has 200 rows and 1000 cells, 201 and 1000 were written)");
	assert_int_equal(xlsx_check(BOOK, more_cells, 2, &error), STATUS_IO);
	assert_string_equal(error.text, "the file is not whole (sheet 2 has 1 rows and 1 cells, 1 and 2 were written)");
	assert_int_equal(xlsx_check(BOOK, more_sheets, 3, &error), STATUS_IO);
	assert_string_equal(error.text, "the file is not whole (a sheet is missing)");
}

static void no_file_is_told(void **state)
{
	struct error error = ERROR_INIT;

	(void)state;
	assert_int_equal(xlsx_check("none.xlsx", whole, 2, &error), STATUS_IO);
	assert_non_null(strstr(error.text, "No such file"));
}

static void one_cut_short_anywhere_is_told(void **state)
{
	size_t len;
	char *bytes;

	(void)state;
	write_book();
	bytes = file_bytes(BOOK, &len);
	for (size_t cut = 0; cut < len; cut += 7) {
		put_bytes(bytes, cut);
		assert_int_equal(check(), STATUS_IO);
	}
	free(bytes);
}

/*
 * Packed content of the first part: behind its local header and name, as long as the header says. The last byte may have
 * bits to spare.
 */
static void one_with_a_damaged_part_is_told(void **state)
{
	size_t len, first, packed;
	char *bytes;

	(void)state;
	write_book();
	bytes = file_bytes(BOOK, &len);
	first = LOCAL_HEADER + (size_t)(unsigned char)bytes[26] + (size_t)(unsigned char)bytes[28];
	packed = (unsigned char)bytes[18] + 256u * (unsigned char)bytes[19];
	assert_in_range(packed, 100, len);
	for (size_t at = first; at < first + packed - 1; at++) {
		bytes[at] ^= 0x10;
		put_bytes(bytes, len);
		assert_int_equal(check(), STATUS_IO);
		bytes[at] ^= 0x10;
	}
	free(bytes);
}

static void no_byte_that_is_wrong_does_harm(void **state)
{
	size_t len, told = 0;
	char *bytes;

	(void)state;
	write_book();
	bytes = file_bytes(BOOK, &len);
	for (size_t at = 0; at < len; at++) {
		bytes[at] = (char)~bytes[at];
		put_bytes(bytes, len);
		told += check() != STATUS_OK;
		bytes[at] = (char)~bytes[at];
	}
	free(bytes);
	assert_in_range(told, len / 2, len); /* dates and attributes in the headers may be wrong and nothing is lost */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_whole_one_passes),
		cmocka_unit_test(a_row_or_cell_too_few_is_told),
		cmocka_unit_test(no_file_is_told),
		cmocka_unit_test(one_cut_short_anywhere_is_told),
		cmocka_unit_test(one_with_a_damaged_part_is_told),
		cmocka_unit_test(no_byte_that_is_wrong_does_harm),
	};

	return cmocka_run_group_tests(tests, workbook_folder_make, workbook_folder_remove);
}
