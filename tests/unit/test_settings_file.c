/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "settings_file.h"

/* Reads text; the faults must begin like these, "line what" each. */
static enum status read_text(struct settings *settings, const char *bytes, size_t len, const char *const *expected)
{
	struct text text = { .bytes = malloc(len + 1), .len = len };
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	enum status status;
	size_t i;

	assert_non_null(text.bytes);
	memcpy(text.bytes, bytes, len);
	text.bytes[len] = '\0';
	settings_init(settings);
	status = settings_file_read_text(settings, "bench.ini", &text, &faults, &error);
	for (i = 0; i < faults.count; i++) {
		char got[1024];

		snprintf(got, sizeof(got), "%u %s", (unsigned int)faults.items[i].place.line, faults.items[i].text);
		assert_string_equal(faults.items[i].place.file, "bench.ini");
		if (!expected[i] || strncmp(got, expected[i], strlen(expected[i])) != 0)
			fail_msg("fault \"%s\", expected \"%s\"", got, expected[i] ? expected[i] : "none");
	}
	assert_null(expected[i]);
	faults_release(&faults);
	text_release(&text);
	return status;
}

static const char *const no_faults[] = { NULL };

static void settings_are_read(void **state)
{
	static const char text[] = "# the bench by the window\n"
				   "[comparison]\n"
				   "margin = 0.7\n"
				   "control = paper A ; the one we know\n"
				   "  confidence: 0,9\n"
				   "; history\n"
				   "\n"
				   "[correction]\r\n"
				   "temp_apart = 3\r\n"
				   "[types]\n"
				   "cold brew = 0.83\n"
				   "filter=0.84";
	struct settings settings;

	(void)state;
	assert_int_equal(read_text(&settings, text, sizeof(text) - 1, no_faults), STATUS_OK);
	assert_near(settings.margin, 0.7, 0);
	assert_string_equal(settings.control, "paper A");
	assert_near(settings.confidence, 0.9, 0);
	assert_near(settings.temp_apart_c, 3, 0);
	assert_near(settings_type(&settings, SLICE_OF("cold brew"))->factor, 0.83, 0);
	assert_near(settings_type(&settings, SLICE_OF("filter"))->factor, 0.84, 0);
	assert_near(settings.power, 0.8, 0); /* not in the file */
}

static void a_section_may_be_left_out(void **state)
{
	struct settings settings;

	(void)state;
	assert_int_equal(read_text(&settings, "power = 0.9\n", 12, no_faults), STATUS_OK);
	assert_near(settings.power, 0.9, 0);
}

static void empty_files_change_nothing(void **state)
{
	struct settings settings;

	(void)state;
	assert_int_equal(read_text(&settings, "", 0, no_faults), STATUS_OK);
	assert_int_equal(read_text(&settings, "\n\n# nothing\n", 12, no_faults), STATUS_OK);
}

static void all_faults_are_told_at_once(void **state)
{
	static const char text[] = "[comparison]\n"
				   "margin = wide\n"
				   "colour = red\n"
				   "power = 0.9\n"
				   "just words\n"
				   "confidence = 0.9\n"
				   "confidence = 0.99\n"
				   "[comparisons]\n"
				   "confidence = 0.5\n"
				   "[types\n"
				   "[types]\n"
				   "soup = 7\n"
				   "stew = 0.9\n"
				   "Stew = 0.8\n"
				   "    oddly indented\n"
				   "[plan]\n"
				   "brew-cost = 5\n";
	static const char *const expected[] = {
		"2 margin is \"wide\"; expected a number from ",
		"3 no setting is called \"colour\"",
		"4 power stands in [comparison]; expected in [plan]; not taken",
		"5 \"just words\" is no setting; expected name = value, [section] or # comment",
		"7 confidence stands twice, first in line 6; expected it once; this one is not taken",
		"8 no section is called \"comparisons\"; expected comparison, correction, ",
		"10 section \"[types\" is not closed; expected ]",
		"12 sample type \"soup\" has the factor \"7\"; expected TDS per Brix above 0 and up to 2",
		"14 Stew stands twice, first in line 13; expected it once; this one is not taken",
		"15 \"oddly indented\" is no setting; expected name = value, [section] or # comment",
		NULL,
	};
	struct settings settings;

	(void)state;
	assert_int_equal(read_text(&settings, text, sizeof(text) - 1, expected), STATUS_REFUSED);
	assert_near(settings.confidence, 0.9, 0);
	assert_near(settings.brew_cost, 5, 0); /* the good lines are taken all the same */
	assert_near(settings_type(&settings, SLICE_OF("stew"))->factor, 0.9, 0);
	assert_null(settings_type(&settings, SLICE_OF("soup")));
}

static void last_line_is_checked_too(void **state)
{
	static const char *const expected[] = {
		"2 \"margin\" is no setting; expected name = value, [section] or # comment", NULL
	};
	struct settings settings;

	(void)state;
	assert_int_equal(read_text(&settings, "[comparison]\nmargin", 19, expected), STATUS_REFUSED);
}

static void long_and_binary_lines_are_told(void **state)
{
	static const char *const expected[] = { "1 the line is too long, or not text; expected name = value",
		                                "2 the line is too long, or not text; expected name = value", NULL };
	static char text[1100];
	struct settings settings;

	(void)state;
	memset(text, 'x', 1000);
	memcpy(text + 1000, "\npo\0wer = 0.9\npower = 0.9\n", 26);
	assert_int_equal(read_text(&settings, text, 1026, expected), STATUS_REFUSED);
	assert_near(settings.power, 0.9, 0);
}

static void other_encodings_are_read(void **state)
{
	struct settings settings;

	(void)state;
	assert_int_equal(read_text(&settings, "\xff\xfep\0o\0w\0e\0r\0=\0\x30\0.\0\x39\0", 20, no_faults), STATUS_OK);
	assert_near(settings.power, 0.9, 0);
	assert_int_equal(read_text(&settings, "\xef\xbb\xbf[plan]\npower=0.9", 19, no_faults), STATUS_OK);
	assert_near(settings.power, 0.9, 0);
}

static void many_types_are_told(void **state)
{
	static char text[4096] = "[types]\n";
	size_t used = strlen(text);
	struct text loaded;
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct settings settings;
	size_t free_types;

	(void)state;
	for (int i = 0; i < 100; i++)
		used += (size_t)snprintf(text + used, sizeof(text) - used, "kind %d = 0.8\n", i);
	loaded = (struct text){ .bytes = strdup(text), .len = used };
	settings_init(&settings);
	free_types = SETTINGS_TYPES - settings.type_count;
	assert_int_equal(settings_file_read_text(&settings, "bench.ini", &loaded, &faults, &error), STATUS_REFUSED);
	assert_int_equal(settings.type_count, SETTINGS_TYPES);
	assert_int_equal(faults.errors, 100 - free_types);
	assert_string_equal(faults.items[0].text, "more than 32 sample types");
	snprintf(text, sizeof(text), "bench.ini: %zu settings are not taken", 100 - free_types);
	assert_string_equal(error.text, text);
	faults_release(&faults);
	text_release(&loaded);
}

static void files_are_read_by_path(void **state)
{
	char path[128];
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct settings settings;
	int descriptor;

	(void)state;
	snprintf(path, sizeof(path), "%s/settings-XXXXXX", getenv("TMPDIR") ? getenv("TMPDIR") : "/tmp");
	descriptor = mkstemp(path);
	assert_true(descriptor >= 0);
	assert_int_equal(write(descriptor, "readings = 7\nmargin = x\n", 24), 24);
	close(descriptor);
	settings_init(&settings);
	assert_int_equal(settings_file_read(&settings, path, &faults, &error), STATUS_REFUSED);
	assert_near(settings.readings_wanted, 7, 0);
	assert_string_equal(faults.items[0].place.file, path);
	assert_int_equal(faults.items[0].place.line, 2);
	unlink(path);
	assert_int_equal(settings_file_read(&settings, path, &faults, &error), STATUS_IO);
	assert_int_equal(faults.count, 1);
	faults_release(&faults);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(settings_are_read),          cmocka_unit_test(a_section_may_be_left_out),
		cmocka_unit_test(empty_files_change_nothing), cmocka_unit_test(all_faults_are_told_at_once),
		cmocka_unit_test(last_line_is_checked_too),   cmocka_unit_test(long_and_binary_lines_are_told),
		cmocka_unit_test(other_encodings_are_read),   cmocka_unit_test(many_types_are_told),
		cmocka_unit_test(files_are_read_by_path),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
