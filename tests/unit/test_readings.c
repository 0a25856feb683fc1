/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "readings.h"

#define GIVEN(array) (sizeof(array) / sizeof((array)[0]))
#define BYTES(literal)                         \
	{                                      \
		(literal), sizeof(literal) - 1 \
	}

/* A run with brews of these labels, its faults, and a meter's profile. */
struct bench {
	struct run *run;
	struct faults faults;
	struct settings settings;
	struct profile *profile;
	struct brew brews[3];
};

/* The counted line that the serial fixtures hold. */
static const char counted_ini[] = "[meter]\nname = counter\nunit = tds\n[line]\nno-reading = Lo\n"
				  "pattern = R (?<seq>\\d{4}) (?<value>\\d\\.\\d\\d) % (?<temp>\\d\\d\\.\\d) C\n";

static const char labelled_ini[] = "[meter]\nname = labels\nunit = brix\n[line]\n"
				   "pattern = (?:(?<label>\\w+) )?#(?<seq>\\d+) (?<value>\\S+)\n";

static void bench_open(struct bench *bench, const char *ini)
{
	static const char *const labels[] = { "A1", "A2", "late cup" };

	*bench = (struct bench){ .run = run_new(), .faults = FAULTS_INIT };
	assert_non_null(bench->run);
	settings_init(&bench->settings);
	for (size_t i = 0; i < GIVEN(labels); i++)
		bench->brews[i] = (struct brew){ .label = slice_from(labels[i]), .key = slice_from(labels[i]) };
	bench->run->brews = bench->brews;
	bench->run->brew_count = GIVEN(labels);
	if (ini)
		assert_int_equal(profile_parse(&bench->profile, slice_from(ini), "test.ini", &bench->faults, NULL),
		                 STATUS_OK);
}

static void bench_close(struct bench *bench)
{
	run_free(bench->run);
	profile_free(bench->profile);
	faults_release(&bench->faults);
}

static void bench_read(struct bench *bench, struct slice bytes)
{
	struct error error = ERROR_INIT;

	assert_int_equal(readings_parse(bench->run, "tray.txt", bytes, bench->profile, &bench->settings, &bench->faults,
	                                &error),
	                 STATUS_OK);
}

/* Is there a fault at line that says text? */
static bool told(const struct bench *bench, uint32_t line, const char *text)
{
	for (size_t i = 0; i < bench->faults.count; i++)
		if (bench->faults.items[i].place.line == line && strstr(bench->faults.items[i].text, text))
			return true;
	for (size_t i = 0; i < bench->faults.count; i++)
		print_message("# %u:%u: %s\n", bench->faults.items[i].place.line, bench->faults.items[i].place.column,
		              bench->faults.items[i].text);
	return false;
}

/* Each file of the fixtures, and what it has to give. */

struct file_case {
	const char *name;
	const char *file;
	bool profile;
	double values[6];
	size_t readings;
	size_t errors;
	uint32_t line; /* of one of the faults, and what it says */
	const char *fault;
};

static struct file_case file_cases[] = {
	{ "a mail with prose", "pasted-mail.txt", false, { 1.36, 1.39, 1.32 }, 3, 2, 8, "\"held\" is not a number" },
	{ "a mail's prose without digits is told too",
	  "pasted-mail.txt",
	  false,
	  { 1.36, 1.39, 1.32 },
	  3,
	  2,
	  9,
	  "\"--\"" },
	{ "odd characters",
	  "pasted-odd-characters.txt",
	  false,
	  { 1.29, 1.34, -0.03, 1.36 },
	  4,
	  2,
	  2,
	  "is not a number" },
	{ "a blank of no width", "pasted-odd-characters.txt", false, { 1.29, 1.34, -0.03, 1.36 }, 4, 2, 4, "<U+200B>" },
	{ "joined in the middle of a line",
	  "serial-joined-mid-line.bin",
	  true,
	  { 1.31, 1.33, 1.30, 1.34 },
	  4,
	  2,
	  0,
	  "5 NUL bytes in the lines" },
	{ "the last line has no end",
	  "serial-joined-mid-line.bin",
	  true,
	  { 1.31, 1.33, 1.30, 1.34 },
	  4,
	  2,
	  6,
	  "the last line has no end and does not fit" },
	{ "lines end in CR alone", "serial-cr-only.bin", true, { 1.25, 1.26, 1.27, 1.28, 1.29 }, 5, 0, 0, NULL },
	{ "seven bits and even parity",
	  "serial-seven-bits-even-parity.bin",
	  true,
	  { 0 },
	  0,
	  4,
	  0,
	  "the meter sends 7E1" },
	{ "cable pulled in a line",
	  "serial-cable-pulled.bin",
	  true,
	  { 1.28, 1.31 },
	  2,
	  2,
	  2,
	  "does not fit the profile" },
	{ "one digit too many", "serial-cable-pulled.bin", true, { 1.28, 1.31 }, 2, 2, 4, "does not fit the profile" },
	{ "sent twice",
	  "serial-sent-twice.bin",
	  true,
	  { 1.40, 1.41, 1.41, 1.42, 1.41 },
	  5,
	  0,
	  3,
	  "number 0502 of the meter's count stands here again" },
	{ "a meter's lines without its profile", "serial-cable-pulled.bin", false, { 0 }, 0, 4, 1, "whole number" },
};

static void file_gives_as_told(void **state)
{
	const struct file_case *c = *state;
	struct bench bench;
	struct error error = ERROR_INIT;
	char path[200];

	bench_open(&bench, c->profile ? counted_ini : NULL);
	snprintf(path, sizeof(path), "fixtures/readings/%s", c->file);
	assert_int_equal(readings_read(bench.run, path, bench.profile, &bench.settings, &bench.faults, &error),
	                 STATUS_OK);
	assert_int_equal(bench.run->reading_count, c->readings);
	for (size_t i = 0; i < c->readings; i++) {
		assert_near(bench.run->readings[i].value, c->values[i], 0);
		assert_int_equal(reading_id(&bench.run->readings[i]), i + 1);
		assert_string_equal(bench.run->readings[i].line->file, path);
	}
	if (c->fault)
		assert_true(told(&bench, c->line, c->fault));
	assert_int_equal(bench.faults.errors, c->errors);
	bench_close(&bench);
}

static void same_count_and_value_is_a_repeat(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, labelled_ini);
	bench_read(&bench, SLICE_OF("#1 1.60\n#2 1.61\n#2 1.61\n#2 1.62\nA1 #2 1.61\n#3 1.61\n"));
	assert_int_equal(bench.run->reading_count, 6);
	for (size_t i = 0; i < 6; i++)
		assert_int_equal(bench.run->readings[i].flags, i == 2 ? READING_REPEAT : 0);
	bench_close(&bench);
}

static void repeat_far_away_is_none(void **state)
{
	struct bench bench;
	char text[1000] = "#0 1.60\n";

	(void)state;
	for (int i = 1; i <= REPEAT_WINDOW; i++)
		snprintf(text + strlen(text), sizeof(text) - strlen(text), "#%d 1.60\n", i);
	strcat(text, "#0 1.60\n#16 1.60\n"); /* one too far back, one just seen */
	bench_open(&bench, labelled_ini);
	bench_read(&bench, slice_from(text));
	assert_int_equal(bench.run->reading_count, REPEAT_WINDOW + 3);
	assert_int_equal(bench.run->readings[REPEAT_WINDOW + 1].flags, 0);
	assert_int_equal(bench.run->readings[REPEAT_WINDOW + 2].flags, READING_REPEAT);
	bench_close(&bench);
}

static void reading_holds_all_that_its_line_says(void **state)
{
	struct bench bench;
	const struct reading *reading;

	(void)state;
	bench_open(&bench, NULL);
	bench_read(&bench, SLICE_OF("\n# first tray\n  10:15:22 late cup 1.38 1,6 °Bx\nlate cup  1.38 1.6 °Bx @22.4\n"
	                            "zero 0.01 @20\nstandard 5.00: 4.98\n"));
	assert_int_equal(bench.run->reading_count, 4);
	reading = &bench.run->readings[1];
	assert_int_equal(reading_id(reading), 2);
	assert_true(slice_equal(reading->line->label, SLICE_OF("late cup")));
	assert_true(slice_equal(reading->line->raw, SLICE_OF("late cup  1.38 1.6 °Bx @22.4")));
	assert_near(reading->value, 1.6, 0);
	assert_int_equal(reading->decimals, 1);
	assert_int_equal(reading->unit, UNIT_BRIX);
	assert_near(reading->line->temp_c, 22.4, 0);
	assert_true(isnan(reading->line->standard_percent));
	assert_string_equal(reading->line->file, "tray.txt");
	assert_int_equal(reading->line->number, 4);
	assert_int_equal(reading->column, 16);
	assert_int_equal(reading->brew, READING_NO_BREW);
	assert_int_equal(bench.run->readings[2].role, READING_ZERO);
	assert_int_equal(bench.run->readings[2].unit, UNIT_TDS_PERCENT);
	assert_int_equal(bench.run->readings[3].role, READING_STANDARD);
	assert_near(bench.run->readings[3].line->standard_percent, 5.0, 0);
	assert_true(told(&bench, 3, "points and commas"));
	bench_close(&bench);
}

static void columns_count_characters_along_the_line(void **state)
{
	static const uint32_t columns[] = { 7, 16, 25 };
	struct bench bench;

	(void)state;
	bench_open(&bench, NULL);
	bench_read(&bench, SLICE_OF("„Ä 1“ 1.38 °Bx 1.39 °Bx 1.40 °Bx @22.4\n"));
	assert_int_equal(bench.run->reading_count, GIVEN(columns));
	for (size_t i = 0; i < GIVEN(columns); i++)
		assert_int_equal(bench.run->readings[i].column, columns[i]);
	bench_close(&bench);
}

static void cup_names_what_follows(void **state)
{
	struct bench bench;
	static const char *const labels[] = { "", "A1", "A1", "A2", "A1", "late cup", "" };

	(void)state;
	bench_open(&bench, counted_ini);
	bench_read(&bench, SLICE_OF("R 0001 1.38 % 22.4 C\ncup A1\nR 0002 1.38 % 22.4 C\nLo\nR 0003 1.39 % 22.4 C\n"
	                            "A2 1.41\nzero 0.01\nR 0004 1.39 % 22.4 C\nlate cup\nR 0005 1.36 % 22.4 C\n"
	                            "cup\nR 0006 1.36 % 22.4 C\n"));
	assert_int_equal(bench.run->reading_count, GIVEN(labels) + 1);
	for (size_t i = 0, sample = 0; i < bench.run->reading_count; i++)
		if (bench.run->readings[i].role == READING_SAMPLE)
			assert_true(slice_equal(bench.run->readings[i].line->label, slice_from(labels[sample++])));
		else
			assert_int_equal(bench.run->readings[i].line->label.len, 0);
	assert_true(told(&bench, 0, "1 line says that the meter had no reading"));
	assert_int_equal(bench.faults.errors, 0);
	bench_close(&bench);
}

static void several_files_and_meters_go_into_one_run(void **state)
{
	struct bench bench;
	struct profile *counter;

	(void)state;
	bench_open(&bench, counted_ini);
	counter = bench.profile;
	bench_read(&bench, SLICE_OF("R 0001 1.38 % 22.4 C\n"));
	bench.profile = NULL;
	bench_read(&bench, SLICE_OF("A1 1.38\n"));
	assert_int_equal(profile_parse(&bench.profile, slice_from(labelled_ini), "test.ini", &bench.faults, NULL),
	                 STATUS_OK);
	bench_read(&bench, SLICE_OF("A1 #1 1.6\n"));
	bench_read(&bench, SLICE_OF("A1 #2 1.6\n"));
	assert_int_equal(bench.run->meter_count, 2);
	assert_int_equal(bench.run->input_count, 4);
	assert_int_equal(bench.run->reading_count, 4);
	assert_int_equal(bench.run->readings[1].meter, 0);
	assert_int_equal(bench.run->readings[3].meter, 1);
	assert_int_equal(reading_id(&bench.run->readings[3]), 4);
	assert_int_equal(bench.run->readings[3].unit, UNIT_BRIX);
	assert_true(slice_equal(bench.run->meters[1].name, SLICE_OF("labels")));
	assert_string_equal(bench.run->inputs[0].name, "tray.txt");
	profile_free(counter);
	bench_close(&bench);
}

static void encodings_are_decoded(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, NULL);
	bench_read(&bench, (struct slice)BYTES("\xff\xfe"
	                                       "A\0"
	                                       "1\0 \0"
	                                       "1\0.\0"
	                                       "3\0"
	                                       "8\0\r\0\n\0"));
	bench_read(&bench, SLICE_OF("A1 1.39 @22 \xb0"
	                            "C\n"));
	bench_read(&bench, SLICE_OF("\xef\xbb\xbf"
	                            "A1 1.40\n"));
	assert_int_equal(bench.run->reading_count, 3);
	for (size_t i = 0; i < 3; i++)
		assert_near(bench.run->readings[i].value, 1.38 + 0.01 * (double)i, 1e-9);
	assert_near(bench.run->readings[1].line->temp_c, 22, 0);
	assert_int_equal(bench.faults.count, 1);
	assert_true(told(&bench, 0, "byte 13 is not UTF-8"));
	bench_close(&bench);
}

static void bytes_of_a_meter_are_not_decoded(void **state)
{
	struct bench bench;
	struct error error = ERROR_INIT;

	(void)state;
	bench_open(&bench, "[line]\npattern = TDS (?<value>\\d\\.\\d\\d) % (?<temp>\\d\\d\\.\\d)\\xb0C\n");
	assert_int_equal(readings_read(bench.run, "fixtures/readings/serial-degree-sign-one-byte.bin", bench.profile,
	                               &bench.settings, &bench.faults, &error),
	                 STATUS_OK);
	assert_int_equal(bench.run->reading_count, 2);
	assert_int_equal(bench.faults.count, 0);
	bench_read(&bench, (struct slice)BYTES("\xff\xfe"
	                                       "A\0"
	                                       "1\0 \0"
	                                       "1\0.\0"
	                                       "3\0"
	                                       "8\0\n\0"));
	assert_int_equal(bench.run->reading_count, 3);
	bench_close(&bench);
}

static void parity_stripped_reading_outlives_the_reader(void **state)
{
	char bytes[] = "A1 #7 1.60\nA1 #7 1.60\n";
	struct bench bench;

	(void)state;
	for (size_t i = 0; i < sizeof(bytes) - 1; i++)
		if (bytes[i] != '\n' && __builtin_parity((unsigned char)bytes[i]))
			bytes[i] = (char)(bytes[i] | 0x80);
	bench_open(&bench, "[line]\nstrip-parity = yes\npattern = (?<label>\\w+) #(?<seq>\\d+) (?<value>\\S+)\n");
	bench_read(&bench, (struct slice){ bytes, sizeof(bytes) - 1 });
	assert_int_equal(bench.run->reading_count, 2);
	assert_true(slice_equal(bench.run->readings[0].line->label, SLICE_OF("A1")));
	assert_int_equal(bench.run->readings[1].flags, READING_REPEAT);
	assert_int_equal((unsigned char)bench.run->readings[0].line->raw.text[3], (unsigned char)bytes[3]);
	bench_close(&bench);
}

static void failed_matching_is_told_by_name(void **state)
{
	struct bench bench;
	char line[LINES_CAP + 3];

	(void)state;
	bench_open(&bench, "[line]\npattern = .*x.*y.*(?<value>\\d\\.\\d\\d)\n");
	for (size_t i = 0; i < sizeof(line); i++)
		line[i] = "xy"[i % 2];
	line[LINES_CAP - 1] = '.';
	bench_read(&bench, (struct slice){ line, LINES_CAP });
	assert_true(told(&bench, 1, "matching failed: match limit exceeded"));
	bench_read(&bench, (struct slice){ line, LINES_CAP + 1 });
	assert_true(told(&bench, 1, "the line has 4097 bytes; expected up to 4096"));
	bench_close(&bench);
}

static void doubtful_parts_are_told(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, "[line]\npattern = (?<value>\\d\\.\\d\\d)(?: (?<temp>\\S+))?\n");
	bench_read(&bench, SLICE_OF("1.38 warm\n1.3"));
	assert_int_equal(bench.run->reading_count, 1);
	assert_true(told(&bench, 1, "the temperature is \"warm\""));
	bench_read(&bench, SLICE_OF("1.38"));
	assert_int_equal(bench.run->reading_count, 2);
	assert_int_equal(bench.run->readings[1].flags, READING_QUESTIONED);
	assert_true(told(&bench, 1, "has no end and may be cut off"));
	bench_close(&bench);
}

static void questioned_readings_are_flagged_and_told(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, NULL);
	bench_read(&bench, SLICE_OF("A1 1.38 0.0138\nA2 1,381\n"));
	assert_int_equal(bench.run->reading_count, 3);
	assert_int_equal(bench.run->readings[0].flags, 0);
	assert_int_equal(bench.run->readings[1].flags, READING_QUESTIONED);
	assert_int_equal(bench.run->readings[2].flags, READING_QUESTIONED);
	assert_true(told(&bench, 1, "1.38 % as a fraction"));
	assert_true(told(&bench, 2, "may group a thousand"));
	assert_int_equal(bench.faults.warnings, 2);
	bench_close(&bench);
}

static void much_that_is_unread_is_summed_up(void **state)
{
	struct bench bench;
	char *text = test_malloc(READINGS_TOLD * 20 + 1000);

	(void)state;
	text[0] = '\0';
	for (size_t i = 0, used = 0; i < READINGS_TOLD + 5; i++)
		used += (size_t)sprintf(text + used, "line %zu of prose\n", i);
	bench_open(&bench, NULL);
	bench_read(&bench, slice_from(text));
	assert_int_equal(bench.faults.count, READINGS_TOLD + 2);
	assert_true(told(&bench, 0, "5 more lines are not read either"));
	assert_true(told(&bench, 0, "no readings in this file"));
	bench_close(&bench);
	test_free(text);
}

static void million_bytes_of_anything_end(void **state)
{
	enum { MANY = 1000000 };
	struct bench bench;
	char *bytes = malloc(MANY);
	uint32_t random = 7;

	(void)state;
	assert_non_null(bytes);
	for (size_t i = 0; i < MANY; i++) {
		random = random * 1664525 + 1013904223;
		bytes[i] = (char)(random >> 24);
	}
	bench_open(&bench, NULL);
	bench_read(&bench, (struct slice){ bytes, MANY });
	bench_close(&bench);
	bench_open(&bench, counted_ini);
	bench_read(&bench, (struct slice){ bytes, MANY });
	assert_int_equal(bench.run->reading_count, 0);
	assert_true(told(&bench, 0, "the speed or the frame is wrong"));
	bench_close(&bench);
	free(bytes);
}

static void nothing_and_no_brews_are_fine(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, NULL);
	bench.run->brew_count = 0;
	bench_read(&bench, (struct slice){ NULL, 0 });
	assert_int_equal(bench.run->reading_count, 0);
	assert_true(told(&bench, 0, "no readings in this file"));
	bench_read(&bench, SLICE_OF("A1 1.38"));
	assert_int_equal(bench.run->reading_count, 1);
	bench_close(&bench);
}

static void absent_file_is_a_failure_of_the_system(void **state)
{
	struct bench bench;
	struct error error = ERROR_INIT;

	(void)state;
	bench_open(&bench, NULL);
	assert_int_equal(readings_read(bench.run, "no/such.txt", NULL, &bench.settings, &bench.faults, &error),
	                 STATUS_IO);
	assert_non_null(strstr(error.text, "no/such.txt"));
	assert_int_equal(bench.run->input_count, 0);
	bench_close(&bench);
}

int main(void)
{
	const struct CMUnitTest rest[] = {
		cmocka_unit_test(same_count_and_value_is_a_repeat),
		cmocka_unit_test(repeat_far_away_is_none),
		cmocka_unit_test(reading_holds_all_that_its_line_says),
		cmocka_unit_test(columns_count_characters_along_the_line),
		cmocka_unit_test(cup_names_what_follows),
		cmocka_unit_test(several_files_and_meters_go_into_one_run),
		cmocka_unit_test(encodings_are_decoded),
		cmocka_unit_test(bytes_of_a_meter_are_not_decoded),
		cmocka_unit_test(parity_stripped_reading_outlives_the_reader),
		cmocka_unit_test(failed_matching_is_told_by_name),
		cmocka_unit_test(doubtful_parts_are_told),
		cmocka_unit_test(questioned_readings_are_flagged_and_told),
		cmocka_unit_test(much_that_is_unread_is_summed_up),
		cmocka_unit_test(million_bytes_of_anything_end),
		cmocka_unit_test(nothing_and_no_brews_are_fine),
		cmocka_unit_test(absent_file_is_a_failure_of_the_system),
	};
	struct CMUnitTest files[GIVEN(file_cases)];

	for (size_t i = 0; i < GIVEN(files); i++)
		files[i] = (struct CMUnitTest){ file_cases[i].name, file_gives_as_told, NULL, NULL, &file_cases[i] };
	return cmocka_run_group_tests(files, NULL, NULL) + cmocka_run_group_tests(rest, NULL, NULL);
}
