/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <string.h>

#include "reading_text.h"

#define GIVEN(array) (sizeof(array) / sizeof((array)[0]))
#define BYTES(literal)                         \
	{                                      \
		(literal), sizeof(literal) - 1 \
	}

/* Labels that brews have, in order. */
static const struct slice brew_labels[] = {
	BYTES("1"),
	BYTES("A1"),
	BYTES("A2"),
	BYTES("B-01"),
	BYTES("cup 1"),
	BYTES("fine grind 1"),
	BYTES("fine grind 10"),
};

static const struct label_list known = { brew_labels, GIVEN(brew_labels), sizeof("fine grind 10") - 1, false };
static const struct label_list none = { .items = NULL };

/* What came of a line, short enough to be compared: label|values, each with its unit, and temperature. */
static void line_summary(char *out, size_t size, const struct text_line *line)
{
	static const char *const roles[] = { "", "zero ", "standard " };
	size_t used = (size_t)snprintf(out, size, "%s%.*s|", roles[line->role], SLICE_ARG(line->label));

	for (size_t i = 0; i < line->count; i++) {
		const struct text_value *value = &line->values[i];

		used += (size_t)snprintf(out + used, size - used, "%s%.*f%s%s", i > 0 ? " " : "", value->shown.decimals,
		                         value->shown.value, value->shown.unit == UNIT_NONE ? "" : " ",
		                         value->shown.unit == UNIT_NONE ? "" : unit_name(value->shown.unit));
		if (!isnan(value->temp_c))
			used += (size_t)snprintf(out + used, size - used, " @%.1f", value->temp_c);
	}
}

struct read_case {
	const char *name;
	const char *line;
	const char *summary;
};

/* Read with the labels above known. */
static struct read_case read_cases[] = {
	{ "label, readings, temperature", "A1 1.38 1.39 1.38 @22.4", "A1|1.38 @22.4 1.39 @22.4 1.38 @22.4" },
	{ "one reading", "A1 1.38", "A1|1.38" },
	{ "trailing zero is a digit", "A1 1.40", "A1|1.40" },
	{ "colon and decimal commas", "A2: 1,41; 1,42", "A2|1.41 1.42" },
	{ "decimal commas with blanks", "A2 1,41 1,42", "A2|1.41 1.42" },
	{ "decimal commas, commas between", "A2 1,41, 1,42", "A2|1.41 1.42" },
	{ "points, commas between", "A2 1.41,1.42, 1.43", "A2|1.41 1.42 1.43" },
	{ "comma behind the label, points", "A2,1.41,1.42", "A2|1.41 1.42" },
	{ "semicolons and decimal commas", "A2;1,41;1,42", "A2|1.41 1.42" },
	{ "tabs", "A2\t1.41\t1.42", "A2|1.41 1.42" },
	{ "a row of a table", "| A2 | 1.41 | 1.42 |", "A2|1.41 1.42" },
	{ "equals sign", "A2 = 1.41", "A2|1.41" },
	{ "zero check", "zero 0.01 @22", "zero |0.01 @22.0" },
	{ "zero check, capital, colon", "Zero check: -0.01", "zero |-0.01" },
	{ "zero check without decimals", "zero 0", "zero |0" },
	{ "standard", "standard 5.00: 4.98 5.01 @20", "standard |4.98 @20.0 5.01 @20.0" },
	{ "standard in per cent", "standard 5 % : 4.98", "standard |4.98" },
	{ "time of day", "10:15:22 A1 1.38", "A1|1.38" },
	{ "date and time", "2026-03-01T10:15:22Z A1 1.38", "A1|1.38" },
	{ "date and time with a blank, comma", "2026-03-01 10:15, A1, 1.38", "A1|1.38" },
	{ "per cent", "A1 1.38 %", "A1|1.38 tds" },
	{ "per cent, no blank", "A1 1.38% 1.39%", "A1|1.38 tds 1.39 tds" },
	{ "per cent TDS", "A1 1.38 % TDS 1.39 %TDS", "A1|1.38 tds 1.39 tds" },
	{ "a unit holds for those before it", "A1 1.38 1.39 %", "A1|1.38 tds 1.39 tds" },
	{ "Brix", "A1 1.6 brix", "A1|1.6 brix" },
	{ "degrees Brix", "A1 1.6 °Bx 1.7°Bx", "A1|1.6 brix 1.7 brix" },
	{ "index", "A1 1.3352 nD", "A1|1.3352 nd" },
	{ "whole number with a unit", "A1 2 brix", "A1|2 brix" },
	{ "unit in front", "A1 TDS 1.38", "A1|1.38 tds" },
	{ "unit in front, no label", "Brix 1.6", "|1.6 brix" },
	{ "quoted label", "\"late cup\" 1.38", "late cup|1.38" },
	{ "curly quoted label", "“late cup” 1.38", "late cup|1.38" },
	{ "quoted label, colon", "'late cup': 1.38", "late cup|1.38" },
	{ "quoted number", "A1 “1.35” %", "A1|1.35 tds" },
	{ "quoted number, no label", "\"1.35\"", "|1.35" },
	{ "label with blanks that a brew has", "fine grind 1 1.38", "fine grind 1|1.38" },
	{ "the longest label that a brew has", "fine grind 10 1.38", "fine grind 10|1.38" },
	{ "label with blanks before a colon", "second cup: 1.38", "second cup|1.38" },
	{ "label that no brew has", "C7 1.38", "C7|1.38" },
	{ "number that a brew has for a label", "1 1.38 1.39", "1|1.38 1.39" },
	{ "number for a label", "07 1.38 1.39", "07|1.38 1.39" },
	{ "number for a label, decimal comma", "07 1,38", "07|1.38" },
	{ "number for a label, comma behind", "07,1.38,1.39", "07|1.38 1.39" },
	{ "number that a brew has for a label, comma behind", "1,1.38,1.39", "1|1.38 1.39" },
	{ "label that begins with a digit", "3-2 1.38", "3-2|1.38" },
	{ "no label", "1.38 1.39", "|1.38 1.39" },
	{ "no label, decimal commas", "1,38 1,39", "|1.38 1.39" },
	{ "no label, unit", "1.38%", "|1.38 tds" },
	{ "quoted mail", "> A1 1.38", "A1|1.38" },
	{ "mail quoted twice", ">> > A1 1.38", "A1|1.38" },
	{ "list", "- A1 1.38", "A1|1.38" },
	{ "list with dots", "• A1: 1.38", "A1|1.38" },
	{ "remark behind", "A1 1.38 # second spoon", "A1|1.38" },
	{ "no-break blanks", "A1\u00a01.38\u202f%", "A1|1.38 tds" },
	{ "thin blank", "A1\u20091.38", "A1|1.38" },
	{ "byte order mark", "\ufeffA1 1.38", "A1|1.38" },
	{ "typographic minus", "zero \u22120.02 %", "zero |-0.02 tds" },
	{ "plus sign", "A1 +1.38", "A1|1.38" },
	{ "degrees behind at", "A1 1.38 @22.4 °C", "A1|1.38 @22.4" },
	{ "degrees without at", "A1 1.38 % 22.4 C", "A1|1.38 tds @22.4" },
	{ "degrees in one character", "A1 1.38 22.4\u2103", "A1|1.38 @22.4" },
	{ "degrees Fahrenheit", "A1 1.38 @72.5F", "A1|1.38 @22.5" },
	{ "degrees Fahrenheit in one character", "A1 1.38 72.5 \u2109", "A1|1.38 @22.5" },
	{ "below zero", "A1 1.38 @-1.5", "A1|1.38 @-1.5" },
	{ "comma in the temperature, point in the reading", "A1 1.38 @22,4", "A1|1.38 @22.4" },
	{ "point in the temperature, comma in the reading", "A1 1,38 @22.4", "A1|1.38 @22.4" },
	{ "a temperature each", "A1 1.38 @22.4 1.39 @22.6", "A1|1.38 @22.4 1.39 @22.6" },
	{ "temperature in front", "A1 @22.4 1.38 1.39", "A1|1.38 @22.4 1.39 @22.4" },
	{ "cup in front of a label", "cup A2 1.41", "A2|1.41" },
	{ "cup as a brew's label", "cup 1 1.41", "cup 1|1.41" },
	{ "cup as a label of its own", "cup 1.41", "cup|1.41" },
};

static void line_gives_readings(void **state)
{
	const struct read_case *c = *state;
	struct text_line got;
	char summary[400];

	text_line_read(&got, slice_from(c->line), &known);
	if (got.reason[0])
		print_message("# %s\n", got.reason);
	assert_int_equal(got.kind, TEXT_LINE_READINGS);
	line_summary(summary, sizeof(summary), &got);
	assert_string_equal(summary, c->summary);
	assert_false(got.questioned);
}

struct unread_case {
	const char *name;
	struct slice line;
	size_t at;
	const char *reason; /* part of it */
};

static struct unread_case unread_cases[] = {
	{ "decimal and list commas at once", BYTES("A1 1,41,1,42"), 7, "commas may be decimal signs or stand between" },
	{ "comma behind the label, and others", BYTES("A1,1,38"), 3, "makes the others doubtful" },
	{ "points and commas", BYTES("A1 1.38 1,39"), 8, "points and commas stand in the numbers" },
	{ "grouped thousands", BYTES("A1 1,234.5"), 3, "points and commas" },
	{ "grouped the other way", BYTES("A1 1.234,5"), 9, "points and commas" },
	{ "two points", BYTES("A1 1.3.8"), 3, "\"1.3.8\" is not a number" },
	{ "a point at the end", BYTES("A1 1.38."), 3, "\"1.38.\" is not a number" },
	{ "exponent", BYTES("A1 1e400"), 3, "\"1e400\" is not a number with a unit" },
	{ "not a number", BYTES("A1 nan"), 3, "\"nan\" is not a number" },
	{ "hexadecimal", BYTES("A1 0x12"), 3, "\"0x12\" is not a number" },
	{ "full-width digits", BYTES("A1 １.４１ %"), 3, "is not a number" },
	{ "blank of no width in a number", BYTES("A1 1.4\u200b0 %"), 3, "\"1.4<U+200B>0\" is not a number" },
	{ "unit of something else", BYTES("A1 1.38 g"), 8, "\"g\" is neither a number nor a unit" },
	{ "unit glued", BYTES("A1 1.38g"), 3, "\"1.38g\" is not a number with a unit" },
	{ "a remark without its mark", BYTES("A1 1.38 cloudy"), 8, "expected a remark behind \"#\"" },
	{ "prose", BYTES("On Tuesday the bench wrote it down"), 3, "\"Tuesday\" is not a number" },
	{ "prose with a colon", BYTES("On Tuesday the bench wrote: 1.38"), 0,
	  "is no label; expected one of up to 4 words" },
	{ "prose with numbers", BYTES("Water was 300 g, 22.5 C."), 6, "\"was\" is not a number" },
	{ "prose with a number at once", BYTES("Water 300 g"), 10, "\"g\" is neither" },
	{ "prose with a whole number", BYTES("Room 12"), 5, "without decimals, unit, or the label of a brew" },
	{ "signature", BYTES("bench 2, ext. 1.45"), 9, "\"ext.\"" },
	{ "dashes", BYTES("--"), 0, "\"--\" is not a number" },
	{ "a minus apart", BYTES("- 1.38"), 0, "\"-\" is not a number" },
	{ "whole numbers alone", BYTES("138 139"), 0, "without decimals" },
	{ "a meter's own count", BYTES("R 0054 21.38 % 22.5 C"), 2, "a whole number stands beside one with decimals" },
	{ "label without readings", BYTES("C7"), 2, "no reading; expected one such as 1.38" },
	{ "label and temperature alone", BYTES("A1 @22.4"), 8, "no reading" },
	{ "time alone", BYTES("10:15:22"), 8, "no reading" },
	{ "no temperature", BYTES("A1 1.38 @warm"), 8, "\"@warm\" is no temperature" },
	{ "temperature with something glued to it", BYTES("A1 1.38 @22.4K"), 8, "\"@22.4K\" is no temperature" },
	{ "standard without a colon", BYTES("standard 5.00 4.98"), 14, "no colon behind the strength" },
	{ "standard without strength", BYTES("standard: 4.98"), 8, "no strength behind \"standard\"" },
	{ "standard stronger than sugar dissolves", BYTES("standard 95: 94.8"), 9, "strength out of range" },
	{ "a reading before the colon", BYTES("A3 1.38 then: 1.40"), 0, "is no label" },
	{ "nothing before the colon", BYTES(": 1.40"), 0, "is no label" },
	{ "a NUL",
	  BYTES("A1 1.\0"
	        "38"),
	  3, "\\x00" },
	{ "noise", BYTES("\xff\xfe\x80 1.38 \x01"), 9, "\"\\x01\" is neither" },
};

static void line_is_not_read(void **state)
{
	const struct unread_case *c = *state;
	struct text_line got;

	text_line_read(&got, c->line, &known);
	print_message("# %zu: %s\n", got.at, got.reason);
	assert_int_equal(got.kind, TEXT_LINE_UNREAD);
	assert_int_equal(got.count, 0);
	assert_non_null(strstr(got.reason, c->reason));
	assert_int_equal(got.at, c->at);
}

struct kind_case {
	const char *name;
	const char *line;
	enum text_line_kind kind;
	const char *label;
};

static struct kind_case kind_cases[] = {
	{ "empty", "", TEXT_LINE_EMPTY, "" },
	{ "blank", " \t\u00a0", TEXT_LINE_EMPTY, "" },
	{ "a mail's mark alone", ">", TEXT_LINE_EMPTY, "" },
	{ "a remark", "# A1 1.38", TEXT_LINE_EMPTY, "" },
	{ "a remark in a mail", "> # A1 1.38", TEXT_LINE_EMPTY, "" },
	{ "cup", "cup A1", TEXT_LINE_CUP, "A1" },
	{ "cup with a colon", "Cup: A1 # first", TEXT_LINE_CUP, "A1" },
	{ "cup that no brew has", "cup C7", TEXT_LINE_CUP, "C7" },
	{ "cup in quotes", "cup \"late cup\"", TEXT_LINE_CUP, "late cup" },
	{ "cup named by several words of a brew", "cup fine grind 1", TEXT_LINE_CUP, "fine grind 1" },
	{ "no cup any more", "cup", TEXT_LINE_CUP, "" },
	{ "the label of a brew alone", "A1", TEXT_LINE_CUP, "A1" },
	{ "the label of a brew and a colon", "fine grind 1:", TEXT_LINE_CUP, "fine grind 1" },
	{ "the label of a brew that says cup", "cup 1", TEXT_LINE_CUP, "cup 1" },
};

static void line_is_of_its_kind(void **state)
{
	const struct kind_case *c = *state;
	struct text_line got;

	text_line_read(&got, slice_from(c->line), &known);
	assert_int_equal(got.kind, c->kind);
	assert_true(slice_equal(got.label, slice_from(c->label)));
}

struct question_case {
	const char *name;
	const char *line;
	double value;
	const char *reason; /* part of it; NULL: not questioned */
};

static struct question_case question_cases[] = {
	{ "a fraction for per cent", "A1 0.0138", 0.0138, "0.0138 may be 1.38 % as a fraction; taken as 0.0138 %" },
	{ "a fraction with a per cent sign", "A1 0.0138 %", 0.0138, "1.38 %" },
	{ "no decimal sign", "A1 138", 138, "138 may have lost its decimal sign" },
	{ "a thousand, perhaps", "A1 1,381", 1.381, "the comma may group a thousand" },
	{ "no thousand, by the others", "A1 1,381 1,38", 1.381, NULL },
	{ "three decimals with a point", "A1 1.381", 1.381, NULL },
	{ "a fraction of an index is none", "A1 0.0138 nd", 0.0138, NULL },
	{ "a typographic minus", "A1 \u22120.02 %", -0.02, "-0.02 is below zero" },
	{ "a zero check may be small", "zero 0.010", 0.01, NULL },
};

static void reading_is_questioned(void **state)
{
	const struct question_case *c = *state;
	struct text_line got;

	text_line_read(&got, slice_from(c->line), &known);
	assert_int_equal(got.kind, TEXT_LINE_READINGS);
	assert_near(got.values[0].shown.value, c->value, 0);
	assert_int_equal(got.questioned, c->reason != NULL);
	if (c->reason)
		assert_non_null(strstr(got.reason, c->reason));
}

static void places_and_times_are_told(void **state)
{
	struct text_line got;

	(void)state;
	text_line_read(&got, SLICE_OF("2026-03-01 10:15:22.250+01:00 A1 1.38  1.39"), &known);
	assert_int_equal(got.count, 2);
	assert_int_equal(got.values[0].at, 33);
	assert_int_equal(got.values[1].at, 39);
	/* 2026-03-01 is day 20513 since 1970-01-01, by counting years of 365 days and 14 leap days */
	assert_int_equal(got.taken_us, ((20513LL * 24 + 9) * 3600 + 15 * 60 + 22) * 1000000 + 250000);
	text_line_read(&got, SLICE_OF("standard 5,00: 4,98"), &known);
	assert_near(got.standard_percent, 5.0, 0);
	assert_int_equal(got.taken_us == READING_NO_TIME, true);
}

static void labels_need_not_be_known(void **state)
{
	struct text_line got;

	(void)state;
	text_line_read(&got, SLICE_OF("fine grind 1 1.38"), &none);
	assert_int_equal(got.kind, TEXT_LINE_UNREAD);
	assert_non_null(strstr(got.reason, "behind a label of one word"));
	text_line_read(&got, SLICE_OF("cup 1 1.38"), &none);
	assert_true(slice_equal(got.label, SLICE_OF("1")));
	text_line_read(&got, SLICE_OF("A1 138"), &none);
	assert_int_equal(got.kind, TEXT_LINE_UNREAD);
	text_line_read(&got, (struct slice){ NULL, 0 }, &none);
	assert_int_equal(got.kind, TEXT_LINE_EMPTY);
}

static void too_many_readings_are_told(void **state)
{
	char line[TEXT_LINE_VALUES * 5 + 10] = "A1";
	struct text_line got;

	(void)state;
	for (int i = 0; i < TEXT_LINE_VALUES; i++)
		memcpy(line + 2 + i * 5, " 1.38", 6);
	text_line_read(&got, slice_from(line), &known);
	assert_int_equal(got.count, TEXT_LINE_VALUES);
	memcpy(line + strlen(line), " 1.38", 6);
	text_line_read(&got, slice_from(line), &known);
	assert_int_equal(got.kind, TEXT_LINE_UNREAD);
	assert_non_null(strstr(got.reason, "more than 128 readings in a line"));
}

static void list_is_searched(void **state)
{
	(void)state;
	for (size_t i = 0; i < GIVEN(brew_labels); i++)
		assert_true(label_list_has(&known, brew_labels[i]));
	assert_false(label_list_has(&known, SLICE_OF("A")));
	assert_false(label_list_has(&known, SLICE_OF("zz")));
	assert_false(label_list_has(&none, SLICE_OF("A1")));
}

/* Every prefix and every single changed byte of good lines: whatever comes out, nothing is read past the line's end. */
static void cut_and_changed_lines_do_no_harm(void **state)
{
	static const char *const lines[] = { "2026-03-01 10:15 \"A 1\": 1,38 % TDS 22.4 °C # x",
		                             "standard 5.00 %: −4.98 @20°C" };
	struct text_line got;

	(void)state;
	for (size_t n = 0; n < GIVEN(lines); n++)
		for (size_t len = 0; len <= strlen(lines[n]); len++)
			for (int byte = 0; byte < 256; byte += 5) {
				char copy[100];
				char *exact = test_malloc(len + 1);

				memcpy(copy, lines[n], len);
				if (len > 0)
					copy[(size_t)byte % len] = (char)byte;
				memcpy(exact + 1, copy, len);
				text_line_read(&got, (struct slice){ exact + 1, len }, &known);
				assert_true(got.at <= len);
				assert_true(got.kind != TEXT_LINE_UNREAD || got.reason[0]);
				test_free(exact);
			}
}

int main(void)
{
	const struct CMUnitTest rest[] = {
		cmocka_unit_test(places_and_times_are_told),        cmocka_unit_test(labels_need_not_be_known),
		cmocka_unit_test(too_many_readings_are_told),       cmocka_unit_test(list_is_searched),
		cmocka_unit_test(cut_and_changed_lines_do_no_harm),
	};
	struct CMUnitTest reads[GIVEN(read_cases)], unreads[GIVEN(unread_cases)], kinds[GIVEN(kind_cases)],
		questions[GIVEN(question_cases)];

	for (size_t i = 0; i < GIVEN(reads); i++)
		reads[i] = (struct CMUnitTest){ read_cases[i].name, line_gives_readings, NULL, NULL, &read_cases[i] };
	for (size_t i = 0; i < GIVEN(unreads); i++)
		unreads[i] = (struct CMUnitTest){ unread_cases[i].name, line_is_not_read, NULL, NULL,
			                          &unread_cases[i] };
	for (size_t i = 0; i < GIVEN(kinds); i++)
		kinds[i] = (struct CMUnitTest){ kind_cases[i].name, line_is_of_its_kind, NULL, NULL, &kind_cases[i] };
	for (size_t i = 0; i < GIVEN(questions); i++)
		questions[i] = (struct CMUnitTest){ question_cases[i].name, reading_is_questioned, NULL, NULL,
			                            &question_cases[i] };
	return cmocka_run_group_tests(reads, NULL, NULL) + cmocka_run_group_tests(unreads, NULL, NULL) +
	       cmocka_run_group_tests(kinds, NULL, NULL) + cmocka_run_group_tests(questions, NULL, NULL) +
	       cmocka_run_group_tests(rest, NULL, NULL);
}
