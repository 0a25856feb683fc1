/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "number.h"
#include "settings.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* A row's standard value must be one that a user may set. */
static void each_row_is_whole(void **state)
{
	const struct option_def *defs;
	size_t count;

	(void)state;
	defs = option_defs(&count);
	assert_true(count > 0);
	for (size_t i = 0; i < count; i++) {
		struct settings settings;
		struct error error = ERROR_INIT;

		settings_init(&settings);
		assert_non_null(defs[i].section);
		assert_int_equal(defs[i].text[strlen(defs[i].text) - 1], '.');
		assert_ptr_equal(option_find(slice_from(defs[i].name)), &defs[i]);
		if (defs[i].type != OPTION_WORD)
			assert_true(defs[i].min < defs[i].max);
		if (defs[i].standard && settings_set(&settings, slice_from(defs[i].name), slice_from(defs[i].standard),
		                                     &error) != STATUS_OK)
			fail_msg("%s: %s", defs[i].name, error.text);
	}
}

static void standard_values_hold(void **state)
{
	struct settings settings;

	(void)state;
	settings_init(&settings);
	assert_near(settings.confidence, 0.95, 0);
	assert_near(settings.retention_per_g, 2, 0);
	assert_near(settings.temp_apart_c, 2, 0);
	assert_near(settings.readings_wanted, 3, 0);
	assert_near(settings.power, 0.8, 0);
	assert_true(isnan(settings.history_sd));
	assert_true(isnan(settings.meter_accuracy));
	assert_string_equal(settings.control, "");
	assert_string_equal(settings.response, "yield");
}

struct set_case {
	const char *test;
	const char *name;
	const char *value;
	const char *error; /* "": taken */
};

static const struct set_case set_cases[] = {
	{ "a number", "confidence", "0.9", "" },
	{ "with a comma", "confidence", "0,9", "" },
	{ "blanks around it", "confidence", " 0.9\t", "" },
	{ "the least", "confidence", "0.5", "" },
	{ "below it", "confidence", "0.4999", "confidence is \"0.4999\"; expected a number from 0.5 to 0.9999" },
	{ "above the most", "confidence", "1", "confidence is \"1\"; expected a number from 0.5 to 0.9999" },
	{ "no number", "confidence", "high", "confidence is \"high\"; expected a number from 0.5 to 0.9999" },
	{ "nan", "confidence", "nan", "confidence is \"nan\"; expected a number from 0.5 to 0.9999" },
	{ "nothing", "confidence", "", "confidence is \"\"; expected a number from 0.5 to 0.9999" },
	{ "a count", "readings", "5", "" },
	{ "half a count", "readings", "2.5", "readings is \"2.5\"; expected a whole number from 1 to 1000" },
	{ "underscore for hyphen", "temp_apart", "3", "" },
	{ "with its unit told", "temp-apart", "100",
	  "temp-apart is \"100\"; expected a number from 0.1 to 50 \xc2\xb0"
	  "C" },
	{ "a word", "control", "paper A", "" },
	{ "an empty word", "control", "", "" },
	{ "no such setting", "confidences", "1", "no setting is called \"confidences\"" },
	{ "another letter case", "Confidence", "0.9", "no setting is called \"Confidence\"" },
};

static void sets_as_told(void **state)
{
	const struct set_case *c = *state;
	struct settings settings, before;
	struct error error = ERROR_INIT;
	enum status status;

	settings_init(&settings);
	before = settings;
	status = settings_set(&settings, slice_from(c->name), slice_from(c->value), &error);
	assert_int_equal(status, *c->error ? STATUS_INVALID : STATUS_OK);
	assert_string_equal(error.text, c->error);
	if (status != STATUS_OK)
		assert_memory_equal(&settings, &before, sizeof(settings));
}

static void values_arrive(void **state)
{
	struct settings settings;
	struct error error = ERROR_INIT;

	(void)state;
	settings_init(&settings);
	assert_int_equal(settings_set(&settings, SLICE_OF("seed"), SLICE_OF("9007199254740992"), &error), STATUS_OK);
	assert_near(settings.seed, 9007199254740992.0, 0);
	assert_int_equal(settings_set(&settings, SLICE_OF("control"), SLICE_OF(" paper A "), &error), STATUS_OK);
	assert_string_equal(settings.control, "paper A");
	assert_int_equal(settings_set(&settings, SLICE_OF("control"), (struct slice){ NULL, 0 }, &error), STATUS_OK);
	assert_string_equal(settings.control, "");
}

static void words_have_an_end(void **state)
{
	static char text[SETTINGS_NAME];
	struct settings settings;
	struct error error = ERROR_INIT;

	(void)state;
	settings_init(&settings);
	memset(text, 'x', sizeof(text));
	assert_int_equal(settings_set(&settings, SLICE_OF("control"), (struct slice){ text, SETTINGS_NAME }, &error),
	                 STATUS_INVALID);
	assert_string_equal(settings.control, "");
	assert_int_equal(settings_set(&settings, SLICE_OF("control"), (struct slice){ text, SETTINGS_NAME - 1 },
	                              &error),
	                 STATUS_OK);
	assert_int_equal(strlen(settings.control), SETTINGS_NAME - 1);
}

/* Factors are common practice in the trade, no source; sucrose is 1 by what the Brix scale means. */
static void standard_types_are_there(void **state)
{
	struct settings settings;

	(void)state;
	settings_init(&settings);
	assert_near(settings_type(&settings, SLICE_OF("filter"))->factor, 0.85, 0);
	assert_near(settings_type(&settings, SLICE_OF("Filtered"))->factor, 0.85, 0);
	assert_near(settings_type(&settings, SLICE_OF("ESPRESSO"))->factor, 0.85, 0);
	assert_near(settings_type(&settings, SLICE_OF("sucrose"))->factor, 1, 0);
	assert_near(settings_type(&settings, SLICE_OF("water"))->factor, 0, 0);
	assert_null(settings_type(&settings, SLICE_OF("filters")));
	assert_null(settings_type(&settings, SLICE_OF("")));
	assert_null(settings_type(&settings, SLICE_OF("ed")));
}

static void types_are_added_and_changed(void **state)
{
	struct settings settings;
	struct error error = ERROR_INIT;
	size_t before;

	(void)state;
	settings_init(&settings);
	before = settings.type_count;
	assert_int_equal(settings_set_type(&settings, SLICE_OF(" cold brew "), SLICE_OF("0,83"), &error), STATUS_OK);
	assert_int_equal(settings.type_count, before + 1);
	assert_near(settings_type(&settings, SLICE_OF("cold brew"))->factor, 0.83, 0);
	assert_string_equal(settings_type(&settings, SLICE_OF("cold brew"))->source, "set by the user");
	assert_int_equal(settings_set_type(&settings, SLICE_OF("Filter"), SLICE_OF("0.79"), &error), STATUS_OK);
	assert_int_equal(settings.type_count, before + 1);
	assert_near(settings_type(&settings, SLICE_OF("filter"))->factor, 0.79, 0);
}

static void types_that_cannot_be_are_refused(void **state)
{
	static const char *const factors[] = { "0", "-1", "2.01", "", "much", "nan" };
	static char name[60];
	struct settings settings;
	struct error error = ERROR_INIT;

	(void)state;
	settings_init(&settings);
	for (size_t i = 0; i < COUNT(factors); i++)
		assert_int_equal(settings_set_type(&settings, SLICE_OF("cold brew"), slice_from(factors[i]), &error),
		                 STATUS_INVALID);
	assert_string_equal(error.text,
	                    "sample type \"cold brew\" has the factor \"nan\"; expected TDS per Brix above 0 and "
	                    "up to 2");
	memset(name, 'n', sizeof(name));
	assert_int_equal(settings_set_type(&settings, (struct slice){ name, 48 }, SLICE_OF("1"), &error),
	                 STATUS_INVALID);
	assert_int_equal(settings_set_type(&settings, SLICE_OF("  "), SLICE_OF("1"), &error), STATUS_INVALID);
	assert_int_equal(settings_set_type(&settings, (struct slice){ name, 47 }, SLICE_OF("1"), &error), STATUS_OK);
	for (size_t i = settings.type_count; i < SETTINGS_TYPES; i++) {
		int len = snprintf(name, sizeof(name), "type %zu", i);

		assert_int_equal(settings_set_type(&settings, (struct slice){ name, (size_t)len }, SLICE_OF("1"),
		                                   &error),
		                 STATUS_OK);
	}
	assert_int_equal(settings_set_type(&settings, SLICE_OF("one more"), SLICE_OF("1"), &error), STATUS_INVALID);
	assert_int_equal(settings.type_count, SETTINGS_TYPES);
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(each_row_is_whole),
		cmocka_unit_test(standard_values_hold),
		cmocka_unit_test(values_arrive),
		cmocka_unit_test(words_have_an_end),
		cmocka_unit_test(standard_types_are_there),
		cmocka_unit_test(types_are_added_and_changed),
		cmocka_unit_test(types_that_cannot_be_are_refused),
	};
	struct CMUnitTest tests[COUNT(set_cases) + COUNT(others)];

	for (size_t i = 0; i < COUNT(set_cases); i++)
		tests[i] = (struct CMUnitTest){ .name = set_cases[i].test,
			                        .test_func = sets_as_told,
			                        .initial_state = (void *)(uintptr_t)&set_cases[i] };
	memcpy(&tests[COUNT(set_cases)], others, sizeof(others));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
