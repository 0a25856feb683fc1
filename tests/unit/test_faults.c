/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <string.h>

#include "faults.h"

static const char papers[] = "papers.csv";
static const char tray[] = "tray.txt";

static struct place at(const char *file, uint32_t line, uint32_t column)
{
	return (struct place){ file, line, column };
}

static void each_severity_is_counted(void **state)
{
	struct faults faults = FAULTS_INIT;

	(void)state;
	assert_false(faults_any(&faults));
	faults_add(&faults, SEVERITY_NOTE, at(papers, 1, 1), "the mark is the comma");
	assert_false(faults_any(&faults));
	faults_add(&faults, SEVERITY_WARNING, at(papers, 2, 1), "dose is %d g", 600);
	assert_true(faults_any(&faults));
	faults_add(&faults, SEVERITY_ERROR, at(papers, 3, 7), "dose \"%s\" is not a number", "l8.5");
	assert_int_equal(faults.count, 3);
	assert_int_equal(faults.warnings, 1);
	assert_int_equal(faults.errors, 1);
	assert_string_equal(faults.items[1].text, "dose is 600 g");
	assert_string_equal(faults.items[2].text, "dose \"l8.5\" is not a number");
	assert_ptr_equal(faults.items[2].place.file, papers);
	assert_int_equal(faults.items[2].place.column, 7);
	faults_release(&faults);
	assert_int_equal(faults.count, 0);
	assert_false(faults_any(&faults));
}

static void an_error_alone_is_one(void **state)
{
	struct faults faults = FAULTS_INIT;

	(void)state;
	faults_add(&faults, SEVERITY_ERROR, at(papers, 0, 0), "the file is empty");
	assert_true(faults_any(&faults));
	faults_release(&faults);
}

static void order_is_by_file_line_column(void **state)
{
	static const char *const expected[] = { "a", "b", "c", "d", "e", "f", "g" };
	struct faults faults = FAULTS_INIT;

	(void)state;
	faults_add(&faults, SEVERITY_NOTE, at(papers, 9, 1), "e");
	faults_add(&faults, SEVERITY_NOTE, at(tray, 1, 1), "f");
	faults_add(&faults, SEVERITY_NOTE, at(papers, 2, 5), "b");
	faults_add(&faults, SEVERITY_ERROR, at(papers, 2, 5), "c"); /* one place: as found */
	faults_add(&faults, SEVERITY_NOTE, at(tray, 1, 2), "g");
	faults_add(&faults, SEVERITY_NOTE, at(papers, 2, 11), "d");
	faults_add(&faults, SEVERITY_NOTE, at(papers, 0, 0), "a");
	faults_sort(&faults);
	for (size_t i = 0; i < faults.count; i++)
		assert_string_equal(faults.items[i].text, expected[i]);
	faults_release(&faults);
}

static void few_are_sorted_too(void **state)
{
	struct faults faults = FAULTS_INIT;

	(void)state;
	faults_sort(&faults);
	assert_int_equal(faults.count, 0);
	faults_add(&faults, SEVERITY_NOTE, at(papers, 2, 1), "alone");
	faults_sort(&faults);
	assert_string_equal(faults.items[0].text, "alone");
	faults_release(&faults);
}

static void a_flood_is_counted_not_kept(void **state)
{
	struct faults faults = FAULTS_INIT;

	(void)state;
	for (uint32_t i = 0; i < FAULTS_KEPT + 5; i++)
		faults_add(&faults, SEVERITY_ERROR, at(papers, FAULTS_KEPT + 5 - i, 1), "row %u", (unsigned int)i);
	assert_int_equal(faults.count, FAULTS_KEPT);
	assert_int_equal(faults.beyond, 5);
	assert_int_equal(faults.errors, FAULTS_KEPT + 5);
	faults_sort(&faults);
	assert_int_equal(faults.items[0].place.line, 6);
	assert_int_equal(faults.items[FAULTS_KEPT - 1].place.line, FAULTS_KEPT + 5);
	faults_release(&faults);
}

static void severities_have_names(void **state)
{
	(void)state;
	assert_string_equal(severity_name(SEVERITY_NOTE), "note");
	assert_string_equal(severity_name(SEVERITY_WARNING), "warning");
	assert_string_equal(severity_name(SEVERITY_ERROR), "error");
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(each_severity_is_counted),     cmocka_unit_test(an_error_alone_is_one),
		cmocka_unit_test(order_is_by_file_line_column), cmocka_unit_test(few_are_sorted_too),
		cmocka_unit_test(a_flood_is_counted_not_kept),  cmocka_unit_test(severities_have_names),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
