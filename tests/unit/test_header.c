/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "header.h"
#include "run.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define DEGREE       "\xc2\xb0"

struct header_case {
	const char *text;
	const char *known; /* "": not one of ours */
	const char *name;
	const char *unit;
	const char *measure; /* "": not converted */
};

static const struct header_case header_cases[] = {
	{ "brew", "brew", "brew", "", "" },
	{ " Brew ", "brew", "brew", "", "" },
	{ "BREW_ID", "brew", "brew id", "", "" },
	{ "Cup No.", "brew", "cup no", "", "" },
	{ "brew #", "brew", "brew #", "", "" },
	{ "Sample", "brew", "sample", "", "" },
	{ "dose_g", "dose", "dose", "g", "g" },
	{ "Dose (g)", "dose", "dose", "g", "g" },
	{ "dose [g]", "dose", "dose", "g", "g" },
	{ "dose-g", "dose", "dose", "g", "g" },
	{ "Dose / g", "dose", "dose", "g", "g" },
	{ "Dose, g", "dose", "dose", "g", "g" },
	{ "dose in g", "dose", "dose", "g", "g" },
	{ "dose grams", "dose", "dose", "grams", "g" },
	{ "Dose\n(g)", "dose", "dose", "g", "g" },
	{ "Dose\xc2\xa0(\xc2\xa0g\xc2\xa0)", "dose", "dose", "g", "g" },
	{ "coffee_dose_oz", "dose", "coffee dose", "oz", "oz" },
	{ "coffee (g)", "dose", "coffee", "g", "g" },
	{ "coffee", "", "coffee", "", "" }, /* more likely the name of one */
	{ "Dose (scoops)", "dose", "dose", "scoops", "" },
	{ "water_fl_oz", "water", "water", "fl_oz", "fl oz" },
	{ "water ml", "water", "water", "ml", "ml" },
	{ "yield_g", "beverage", "yield", "g", "g" },
	{ "yield", "", "yield", "", "" }, /* of the extraction, more likely */
	{ "Yield (%)", "", "yield", "%", "%" },
	{ "sample_g", "sample mass", "sample", "g", "g" },
	{ "moisture_percent", "moisture", "moisture", "percent", "%" },
	{ "Moisture %", "moisture", "moisture", "%", "%" },
	{ "water_temp", "water temp", "water temp", "", "" },
	{ "Water temp. (" DEGREE "C)", "water temp", "water temp", DEGREE "C", DEGREE "C" },
	{ "water_temp_c", "water temp", "water temp", "c", DEGREE "C" },
	{ "water temp deg F", "water temp", "water temp", "deg F", DEGREE "F" },
	{ "kettle temperature [K]", "water temp", "kettle temperature", "K", "K" },
	{ "brew time (min:s)", "brew time", "brew time", "min:s", "min" },
	{ "time_s", "brew time", "time", "s", "s" },
	{ "time", "", "time", "", "" },            /* of day, perhaps */
	{ "bloom_s", "bloom", "bloom", "s", "s" }, /* the reader sorts that out */
	{ "brewed at (UTC)", "brewed at", "brewed at", "UTC", "" },
	{ "Notes (optional)", "notes", "notes", "optional", "" },
	{ "sample-type", "sample type", "sample type", "", "" },
	{ "filter thickness (mm)", "", "filter thickness", "mm", "" },
	{ "thickness_mm", "", "thickness", "mm", "" },
	{ "flow ml/s", "", "flow", "ml/s", "" },
	{ "paper_weight_g", "", "paper weight", "g", "g" },
	{ "lot c", "", "lot c", "", "" },
	{ "lot_c", "", "lot c", "", "" },
	{ "TEMP\xc3\x89RATURE", "", "temp\xc3\xa9rature", "", "" },
	{ "e\xcc\x81", "", "\xc3\xa9", "", "" }, /* composed */
	{ "", "", "", "", "" },
	{ "_", "", "", "", "" },
	{ "(g)", "", "(g)", "", "" },
	{ "()", "", "()", "", "" },
	{ "a)", "", "a)", "", "" },
	{ "/", "", "/", "", "" },
	{ ", g", "", ", g", "", "" },
	{ "g", "", "g", "", "" },
};

static void takes_apart_as_told(void **state)
{
	const struct header_case *c = *state;
	struct arena arena = ARENA_INIT;
	struct header header;

	assert_true(header_read(&header, &arena, slice_from(c->text)));
	assert_string_equal(header.known ? header.known->name : "", c->known);
	assert_true(slice_equal(header.name, slice_from(c->name)));
	assert_true(slice_equal(header.unit, slice_from(c->unit)));
	assert_string_equal(header.measure ? header.measure->name : "", c->measure);
	assert_true(slice_equal(header.text, slice_trim(slice_from(c->text))));
	arena_release(&arena);
}

/* Each spelling must lead to its own row: none is written so that it cannot be found, and none stands twice. */
static void every_spelling_is_found(void **state)
{
	static const char *const unit_of[] = { "", " (g)", " (ml)", " (K)", " (s)", " (%)" };
	const struct known_column *known;
	size_t count;

	(void)state;
	known = known_columns(&count);
	for (size_t i = 0; i < count; i++)
		for (size_t j = 0; j < KNOWN_SPELLINGS && known[i].spellings[j]; j++) {
			bool unit = known[i].spellings[j][0] == '=';
			struct arena arena = ARENA_INIT;
			struct header header;
			char text[80];

			snprintf(text, sizeof(text), "%s%s", known[i].spellings[j] + unit,
			         unit ? unit_of[known[i].measure] : "");
			assert_true(header_read(&header, &arena, slice_from(text)));
			if (header.known != &known[i] || header.spelling != j)
				fail_msg("\"%s\" is not found", text);
			arena_release(&arena);
		}
}

/* All that a brew can hold has its column, and its code. */
static void every_part_of_a_brew_has_a_column(void **state)
{
	int numbers = 0, words = 0, moments = 0;
	const struct known_column *known;
	size_t count;

	(void)state;
	known = known_columns(&count);
	for (size_t i = 0; i < count; i++)
		switch (known[i].kind) {
		case KNOWN_NUMBER:
			numbers |= 1 << known[i].which;
			assert_int_equal(known_code(&known[i]), COLUMN_NUMBER + known[i].which);
			assert_non_null(known[i].expected);
			break;
		case KNOWN_WORD:
			words |= 1 << known[i].which;
			assert_int_equal(known_code(&known[i]), COLUMN_WORD + known[i].which);
			break;
		case KNOWN_MOMENT:
			moments |= 1 << known[i].which;
			assert_int_equal(known_code(&known[i]), COLUMN_TIME);
			break;
		case KNOWN_LABEL:
			assert_int_equal(known_code(&known[i]), COLUMN_BREW);
			break;
		case KNOWN_TREATMENT:
			assert_int_equal(known_code(&known[i]), COLUMN_TREATMENT);
			break;
		case KNOWN_METHOD:
			assert_int_equal(known_code(&known[i]), COLUMN_METHOD);
			break;
		}
	assert_int_equal(numbers, (1 << BREW_NUMBERS) - 1);
	assert_int_equal(words, (1 << BREW_WORDS) - 1);
	assert_int_equal(moments, 7);
	assert_int_equal(known_code(NULL), -1);
}

static void units_fit_what_they_measure(void **state)
{
	const struct measure *gram = measure_find(SLICE_OF("g"));
	const struct measure *millilitre = measure_find(SLICE_OF("ml"));
	struct arena arena = ARENA_INIT;
	struct header dose, water;

	(void)state;
	assert_true(header_read(&dose, &arena, SLICE_OF("dose")));
	assert_true(header_read(&water, &arena, SLICE_OF("water")));
	assert_true(known_takes(dose.known, gram));
	assert_false(known_takes(dose.known, millilitre));
	assert_true(known_takes(water.known, millilitre));
	assert_false(known_takes(water.known, measure_find(SLICE_OF("s"))));
	assert_false(known_takes(water.known, NULL));
	arena_release(&arena);
}

static void long_headers_are_not_ours(void **state)
{
	static char text[HEADER_LONGEST + 2];
	struct arena arena = ARENA_INIT;
	struct header header;

	(void)state;
	memset(text, 'x', sizeof(text));
	assert_true(header_read(&header, &arena, (struct slice){ text, HEADER_LONGEST + 1 }));
	assert_null(header.known);
	assert_ptr_equal(header.name.text, text);
	assert_true(header_read(&header, &arena, (struct slice){ text, HEADER_LONGEST }));
	assert_int_equal(header.name.len, HEADER_LONGEST);
	arena_release(&arena);
}

static void bytes_that_are_no_text_are_borne(void **state)
{
	struct arena arena = ARENA_INIT;
	struct header header;

	(void)state;
	assert_true(header_read(&header, &arena, SLICE_OF("\xff\xfe g")));
	assert_null(header.known);
	assert_true(header_read(&header, &arena, (struct slice){ "a\0b", 3 }));
	assert_null(header.known);
	arena_release(&arena);
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(every_spelling_is_found),          cmocka_unit_test(every_part_of_a_brew_has_a_column),
		cmocka_unit_test(units_fit_what_they_measure),      cmocka_unit_test(long_headers_are_not_ours),
		cmocka_unit_test(bytes_that_are_no_text_are_borne),
	};
	struct CMUnitTest tests[COUNT(header_cases) + COUNT(others)];

	for (size_t i = 0; i < COUNT(header_cases); i++)
		tests[i] = (struct CMUnitTest){ .name = header_cases[i].text,
			                        .test_func = takes_apart_as_told,
			                        .initial_state = (void *)(uintptr_t)&header_cases[i] };
	memcpy(&tests[COUNT(header_cases)], others, sizeof(others));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
