/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <string.h>

#include "digits.h"

/* An analysis of which only the number of decimals is looked at. */
static struct analysis analysis_with(int decimals, bool is_yield)
{
	return (struct analysis){ .comparison.response = { .decimals = decimals, .is_yield = is_yield } };
}

struct row {
	const char *name;
	double value;
	int decimals;
	const char *plain, *signed_text, *typeset;
};

static void shows_as_told(void **state)
{
	const struct row *row = *state;
	struct analysis analysis = analysis_with(row->decimals, true);
	struct words difference = digits_difference(&analysis, row->value);

	assert_string_equal(digits_response(&analysis, row->value).text, row->plain);
	assert_string_equal(digits_yield(&analysis, row->value).text, row->plain);
	assert_string_equal(difference.text, row->signed_text);
	assert_string_equal(digits_typeset(difference).text, row->typeset);
}

static void another_response_leaves_the_yield_two_decimals(void **state)
{
	struct analysis analysis = analysis_with(4, false);

	(void)state;
	assert_string_equal(digits_yield(&analysis, 20.125).text, "20.12");
	assert_string_equal(digits_response(&analysis, 20.125).text, "20.1250");
}

static void small_p_is_not_spelled_out(void **state)
{
	(void)state;
	assert_string_equal(digits_p(0.0004).text, "< 0.001");
	assert_string_equal(digits_p(0.001).text, "0.001");
	assert_string_equal(digits_p(0.0336).text, "0.034");
	assert_string_equal(digits_p(0.25).text, "0.25");
	assert_string_equal(digits_p(1).text, "1.00");
	assert_string_equal(digits_p(NAN).text, "not determined");
}

static void tds_has_the_decimals_of_its_readings(void **state)
{
	struct reading readings[2] = { { .decimals = 1 }, { .decimals = 1 } };
	struct meter meter = { .unit = UNIT_TDS_PERCENT };
	struct run run = { .readings = readings, .reading_count = 2, .meters = &meter, .meter_count = 1 };
	struct analysis analysis = { .run = &run };

	(void)state;
	assert_int_equal(digits_tds_decimals(&analysis), 2); /* never fewer */
	readings[1].decimals = 3;
	assert_int_equal(digits_tds_decimals(&analysis), 3);
	assert_string_equal(digits_tds(&analysis, 1.4).text, "1.400");
	readings[1].decimals = 5;
	assert_int_equal(digits_tds_decimals(&analysis), 3); /* never more */
	readings[1].unit = UNIT_INDEX;
	assert_int_equal(digits_tds_decimals(&analysis), 2); /* those of an index say nothing about TDS */
}

static void a_known_column_has_the_unit_it_is_kept_in(void **state)
{
	struct column time = { .known = COLUMN_NUMBER + BREW_TIME_S, .unit = SLICE_OF("min:s") };
	struct column own = { .known = -1, .unit = SLICE_OF("mg/L") };

	(void)state;
	assert_true(slice_equal(column_unit(&time), SLICE_OF("s")));
	assert_true(slice_equal(column_unit(&own), SLICE_OF("mg/L")));
}

int main(void)
{
	static struct row rows[] = {
		{ "above", 0.615, 1, "0.6", "+0.6", "+0.6" },
		{ "below", -0.3, 2, "-0.30", "-0.30", "\u22120.30" },
		{ "nothing", 0.0, 2, "0.00", "0.00", "0.00" },
		{ "next to nothing above", 0.004, 2, "0.00", "0.00", "0.00" },
		{ "next to nothing below", -0.004, 2, "0.00", "0.00", "0.00" },
		{ "whole", 21.0, 0, "21", "+21", "+21" },
		{ "not to be had", NAN, 2, "not determined", "not determined", "not determined" },
		{ "without end", INFINITY, 2, "not determined", "not determined", "not determined" },
	};
	enum { ROWS = sizeof(rows) / sizeof(rows[0]) };
	struct CMUnitTest tests[ROWS + 4];

	for (size_t i = 0; i < ROWS; i++)
		tests[i] = (struct CMUnitTest){ .name = rows[i].name,
			                        .test_func = shows_as_told,
			                        .initial_state = &rows[i] };
	tests[ROWS] = (struct CMUnitTest)cmocka_unit_test(another_response_leaves_the_yield_two_decimals);
	tests[ROWS + 1] = (struct CMUnitTest)cmocka_unit_test(small_p_is_not_spelled_out);
	tests[ROWS + 2] = (struct CMUnitTest)cmocka_unit_test(tds_has_the_decimals_of_its_readings);
	tests[ROWS + 3] = (struct CMUnitTest)cmocka_unit_test(a_known_column_has_the_unit_it_is_kept_in);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
