/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "near.h"
#include "unit.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

struct spelling_case {
	const char *text;
	enum unit unit;
};

static void reads_as_told(void **state)
{
	const struct spelling_case *c = *state;

	assert_int_equal(unit_from_text(c->text, strlen(c->text)), c->unit);
}

static void names_read_back(void **state)
{
	static const enum unit units[] = { UNIT_NONE, UNIT_TDS_PERCENT, UNIT_BRIX, UNIT_INDEX };

	(void)state;
	for (size_t i = 0; i < COUNT(units); i++) {
		assert_int_equal(unit_from_text(unit_name(units[i]), strlen(unit_name(units[i]))), units[i]);
		assert_int_equal(unit_from_text(unit_symbol(units[i]), strlen(unit_symbol(units[i]))), units[i]);
	}
}

static void length_counts_not_the_nul(void **state)
{
	(void)state;
	assert_int_equal(unit_from_text("brixen", 4), UNIT_BRIX);
	assert_int_equal(unit_from_text("brix", 3), UNIT_NONE);
	assert_int_equal(unit_from_text("tds\0x", 5), UNIT_NONE);
	assert_int_equal(unit_from_text(NULL, 0), UNIT_NONE);
	assert_int_equal(unit_from_text("\xc2", 1), UNIT_NONE); /* half a character */
}

static void a_unit_that_is_none_of_ours_has_a_name(void **state)
{
	(void)state;
	assert_string_equal(unit_name((enum unit)99), "none");
	assert_string_equal(unit_symbol((enum unit)99), "");
}

int main(void)
{
	static struct spelling_case cases[] = {
		{ "%", UNIT_TDS_PERCENT },
		{ "TDS", UNIT_TDS_PERCENT },
		{ "% TDS", UNIT_TDS_PERCENT },
		{ "TDS (%)", UNIT_TDS_PERCENT },
		{ "tds_percent", UNIT_TDS_PERCENT },
		{ " tds \t", UNIT_TDS_PERCENT },
		{ "%\u00a0TDS", UNIT_TDS_PERCENT },
		{ "%\u202fTDS", UNIT_TDS_PERCENT },
		{ "Brix", UNIT_BRIX },
		{ "% Brix", UNIT_BRIX },
		{ "Bx", UNIT_BRIX },
		{ "\u00b0Bx", UNIT_BRIX },
		{ "\u00b0 brix", UNIT_BRIX },
		{ "\u00baBx", UNIT_BRIX },
		{ "\u02daBx", UNIT_BRIX },
		{ "\xb0"
		  "Bx",
		  UNIT_BRIX },
		{ "degrees Brix", UNIT_BRIX },
		{ "nD", UNIT_INDEX },
		{ "nd20", UNIT_INDEX },
		{ "RI", UNIT_INDEX },
		{ "n", UNIT_INDEX },
		{ "refractive index", UNIT_INDEX },
		{ "none", UNIT_NONE },
		{ "", UNIT_NONE },
		{ "g", UNIT_NONE },
		{ "*Bx", UNIT_NONE },
		{ "\u00b0C", UNIT_NONE },
		{ "tdss", UNIT_NONE },
		{ "a very long heading of a column", UNIT_NONE },
	};
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(names_read_back),
		cmocka_unit_test(length_counts_not_the_nul),
		cmocka_unit_test(a_unit_that_is_none_of_ours_has_a_name),
	};
	struct CMUnitTest spellings[COUNT(cases)];

	for (size_t i = 0; i < COUNT(cases); i++)
		spellings[i] = (struct CMUnitTest){
			.name = cases[i].text,
			.test_func = reads_as_told,
			.initial_state = &cases[i],
		};
	return cmocka_run_group_tests(spellings, NULL, NULL) + cmocka_run_group_tests(tests, NULL, NULL);
}
