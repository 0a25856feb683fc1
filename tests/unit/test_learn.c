/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "learn.h"
#include "line_shape.h"
#include "text.h"

#define GIVEN(array) (sizeof(array) / sizeof((array)[0]))
#define BYTES(literal)                         \
	{                                      \
		(literal), sizeof(literal) - 1 \
	}

enum { MOST_VALUES = 6, MOST_TEXTS = 5 };

struct learn_case {
	const char *name;
	struct slice captured;
	double values[MOST_VALUES]; /* of the lines that give a reading, in order; ends with 0 */
	int decimals;
	double temp_c; /* of the first; 0: none */
	enum unit unit;
	const char *ini[MOST_TEXTS];    /* has to be in the profile */
	const char *doubts[MOST_TEXTS]; /* has to be told; nothing else may be */
};

static struct learn_case learn_cases[] = {
	{ "counted line",
	  BYTES("R 0012 1.38 % 22.4 C\r\nR 0013 1.41 % 22.5 C\r\nR 0014 1.37 % 22.5 C\r\n"),
	  { 1.38, 1.41, 1.37 },
	  2,
	  22.4,
	  UNIT_TDS_PERCENT,
	  { "end = crlf", "decimal = point", "unit = tds", "step = 0.01", "(?<seq>" },
	  { NULL } },
	{ "bare numbers, decimal comma",
	  BYTES("  1,6\n 11,7\n  1,6\n"),
	  { 1.6, 11.7, 1.6 },
	  1,
	  0,
	  UNIT_TDS_PERCENT,
	  { "end = lf", "decimal = comma", "step = 0.1\n" },
	  { "no unit stands beside the number" } },
	{ "words in front, degree sign in Latin-1",
	  BYTES("TDS=1.38% T=22.4\xb0"
	        "C\rTDS=1.39% T=22.5\xb0"
	        "C\rTDS=1.40% T=22.5\xb0"
	        "C\r"),
	  { 1.38, 1.39, 1.40 },
	  2,
	  22.4,
	  UNIT_TDS_PERCENT,
	  { "end = cr\n", "\\xb0" },
	  { NULL } },
	{ "index, semicolons, status, no reading in between",
	  BYTES("nD=1.33525;T=21.3;OK\nnD=1.33526;T=21.3;WAIT\nErr\nnD=1.33527;T=21.4;OK\nErr\n"),
	  { 1.33525, 1.33526, 1.33527 },
	  5,
	  21.3,
	  UNIT_INDEX,
	  { "unit = nd", "[;]", "(?<status>", "no-reading = Err\n" },
	  { "list in no-reading which of its words" } },
	{ "labels and degrees Fahrenheit",
	  BYTES("C-11 1.36 % TDS 71.6F\nC-12 1.37 % TDS 71.6F\nB2 1.38 % TDS 71.8F\n"),
	  { 1.36, 1.37, 1.38 },
	  2,
	  22,
	  UNIT_TDS_PERCENT,
	  { "temp-unit = F", "(?<label>" },
	  { "\"C-11\" varies; taken for the label" } },
	{ "time of day",
	  BYTES("10:15:22, 1.6 Brix\n10:15:24, 1.7 Brix\n10:15:26, 1.6 Brix\n"),
	  { 1.6, 1.7, 1.6 },
	  1,
	  0,
	  UNIT_BRIX,
	  { "unit = brix", "(?<time>" },
	  { NULL } },
	{ "two units, TDS is taken",
	  BYTES("TDS 1.38 Brix 1.62\nTDS 1.39 Brix 1.63\nTDS 1.40 Brix 1.64\n"),
	  { 1.38, 1.39, 1.40 },
	  2,
	  0,
	  UNIT_TDS_PERCENT,
	  { "(?<value>" },
	  { "several units; the one in % TDS is taken" } },
	{ "the unit varies",
	  BYTES("1.38 TDS\n1.62 Brix\n1.39 TDS\n"),
	  { 1.38, 1.62, 1.39 },
	  2,
	  0,
	  UNIT_TDS_PERCENT,
	  { "(?<unit>" },
	  { NULL } },
	{ "other lines in between",
	  BYTES("warming up\n1.38 %\n1.39 %\n1.40 %\n"),
	  { 1.38, 1.39, 1.40 },
	  2,
	  0,
	  UNIT_TDS_PERCENT,
	  { NULL },
	  { "1 line has another shape, such as \"warming up\"" } },
	{ "few lines",
	  BYTES("1.38 % @ 22 C\n"),
	  { 1.38 },
	  2,
	  22,
	  UNIT_TDS_PERCENT,
	  { NULL },
	  { "only 1 line has the proposed shape" } },
	{ "no line end",
	  BYTES("+01.380%TDS"),
	  { 1.38 },
	  3,
	  0,
	  UNIT_TDS_PERCENT,
	  { "end = gap" },
	  { "no byte ends a line", "only 1 line" } },
	{ "a word with digits that never changes, other numbers",
	  BYTES("M2 9 1.38 %\nM2 2 1.39 %\nM2 7 1.40 %\n"),
	  { 1.38, 1.39, 1.40 },
	  2,
	  0,
	  UNIT_TDS_PERCENT,
	  { "M2" },
	  { "\"M2\" is the same in every line" } },
	{ "three words that vary",
	  BYTES("a b 1.38 % x\nc d 1.39 % y\na d 1.40 % x\n"),
	  { 1.38, 1.39, 1.40 },
	  2,
	  0,
	  UNIT_TDS_PERCENT,
	  { "(?<label>" },
	  { "\"a\" varies; taken for the label", "\"x\" behind the reading varies" } },
	{ "signs that differ",
	  BYTES("1,38 % 22.4 C\n1,39 % 22.5 C\n1,40 % 22.4 C\n"),
	  { 1.38, 1.39, 1.40 },
	  2,
	  22.4,
	  UNIT_TDS_PERCENT,
	  { "decimal = either" },
	  { NULL } },
	{ "two temperatures",
	  BYTES("1.38 % 22.4 C 21.0 C\n1.39 % 22.5 C 21.0 C\n1.40 % 22.4 C 21.1 C\n"),
	  { 1.38, 1.39, 1.40 },
	  2,
	  22.4,
	  UNIT_TDS_PERCENT,
	  { NULL },
	  { "several numbers of a line are temperatures" } },
	{ "two times and a mixture of ends",
	  BYTES("10:15:22 10:15:23 1.38 %\r\n10:15:24 10:15:25 1.39 %\n10:15:26 10:15:27 1.40 %\r"),
	  { 1.38, 1.39, 1.40 },
	  2,
	  0,
	  UNIT_TDS_PERCENT,
	  { "end = auto" },
	  { NULL } },
	/* nothing is proposed */
	{ "two numbers that could be it",
	  BYTES("1.38 22.4\n1.39 22.5\n1.40 22.5\n"),
	  { 0 },
	  0,
	  0,
	  UNIT_NONE,
	  { NULL },
	  { "several numbers of a line could be the reading: 1.38, 22.4" } },
	{ "prose", BYTES("hello\nthere are 3 cups\n"), { 0 }, 0, 0, UNIT_NONE, { NULL }, { "no line holds a number" } },
	{ "temperatures alone",
	  BYTES("22.4 C\n22.5 C\n22.5 C\n"),
	  { 0 },
	  0,
	  0,
	  UNIT_NONE,
	  { NULL },
	  { "the only numbers with decimals are temperatures" } },
	{ "nothing at all", { NULL, 0 }, { 0 }, 0, 0, UNIT_NONE, { NULL }, { "there are no lines" } },
	{ "blank lines", BYTES("\n\r\n  \n"), { 0 }, 0, 0, UNIT_NONE, { NULL }, { "there are no lines" } },
};

/* Does each text of wanted occur in a doubt, and each doubt hold one of them? */
static void doubts_are_as_told(const struct learned *learned, const char *const wanted[MOST_TEXTS])
{
	size_t count = 0;

	for (size_t i = 0; i < learned->doubt_count; i++)
		print_message("# doubt: %s\n", learned->doubts[i]);
	for (; count < MOST_TEXTS && wanted[count]; count++) {
		bool found = false;

		for (size_t i = 0; i < learned->doubt_count; i++)
			found = found || strstr(learned->doubts[i], wanted[count]);
		assert_true(found);
	}
	assert_int_equal(learned->doubt_count, count);
}

/* The proposal, loaded anew from its text, reads each line that it claims, and as it claims. */
static void claims_hold(const struct learned *learned)
{
	struct faults faults = FAULTS_INIT;
	struct profile_scratch *scratch;
	struct profile *profile;
	size_t readings = 0;

	assert_int_equal(profile_parse(&profile, slice_from(learned->ini), "learned.ini", &faults, NULL), STATUS_OK);
	scratch = profile_scratch_new(profile);
	for (size_t i = 0; i < learned->line_count; i++) {
		struct profile_reading got;
		enum line_kind kind = profile_match(profile, scratch, learned->lines[i].text, &got);

		assert_int_equal(kind, learned->lines[i].kind);
		readings += kind == LINE_READING;
		if (kind == LINE_READING)
			assert_near(got.shown.value, learned->lines[i].reading.shown.value, 0);
	}
	assert_int_equal(readings, learned->reading_count);
	profile_scratch_free(scratch);
	profile_free(profile);
	faults_release(&faults);
}

static void profile_is_proposed(void **state)
{
	const struct learn_case *c = *state;
	struct learned learned;
	size_t readings = 0;

	assert_int_equal(learn_profile(&learned, c->captured, NULL), STATUS_OK);
	doubts_are_as_told(&learned, c->doubts);
	if (c->values[0] == 0) {
		assert_null(learned.ini);
		assert_int_equal(learned.reading_count, 0);
		learned_release(&learned);
		return;
	}
	assert_non_null(learned.ini);
	print_message("# %s\n", strstr(learned.ini, "pattern"));
	for (size_t i = 0; i < MOST_TEXTS && c->ini[i]; i++)
		assert_non_null(strstr(learned.ini, c->ini[i]));
	for (size_t i = 0; i < learned.line_count; i++) {
		const struct profile_reading *reading = &learned.lines[i].reading;

		if (learned.lines[i].kind != LINE_READING)
			continue;
		assert_near(reading->shown.value, c->values[readings], 0);
		assert_int_equal(reading->shown.decimals, c->decimals);
		if (readings == 0) {
			assert_int_equal(reading->shown.unit, c->unit);
			assert_near(reading->temp_c, c->temp_c > 0 ? c->temp_c : (double)NAN, 1e-9);
		}
		readings++;
	}
	assert_near(c->values[readings], 0, 0);
	claims_hold(&learned);
	learned_release(&learned);
}

static void parity_is_seen_through(void **state)
{
	struct text text = TEXT_INIT;
	struct error error = ERROR_INIT;
	struct learned learned;

	(void)state;
	assert_int_equal(text_load(&text, "fixtures/readings/serial-seven-bits-even-parity.bin", &error), STATUS_OK);
	assert_int_equal(learn_profile(&learned, (struct slice){ text.bytes, text.len }, NULL), STATUS_OK);
	assert_non_null(strstr(learned.ini, "data-bits = 7\nparity = even\n"));
	assert_int_equal(learned.reading_count, 4);
	assert_near(learned.lines[3].reading.shown.value, 1.47, 0);
	assert_true(slice_equal(learned.lines[3].reading.seq, SLICE_OF("0303")));
	claims_hold(&learned);
	learned_release(&learned);
	text_release(&text);
}

static void noise_teaches_nothing(void **state)
{
	struct learned learned;
	uint32_t random = 3;
	char bytes[5000];

	(void)state;
	for (size_t i = 0; i < sizeof(bytes); i++) {
		random = random * 1664525 + 1013904223;
		bytes[i] = (char)(random >> 24);
	}
	assert_int_equal(learn_profile(&learned, (struct slice){ bytes, sizeof(bytes) }, NULL), STATUS_OK);
	assert_null(learned.ini);
	assert_int_equal(learned.doubt_count, 1);
	assert_non_null(strstr(learned.doubts[0], "noise"));
	learned_release(&learned);
}

static void more_lines_than_needed_are_left_off(void **state)
{
	char *text = test_malloc((LEARN_LINES + 10) * 10);
	struct learned learned;
	size_t used = 0;

	(void)state;
	for (int i = 0; i < LEARN_LINES + 10; i++)
		used += (size_t)sprintf(text + used, "1.%02d %%\n", i % 100);
	assert_int_equal(learn_profile(&learned, (struct slice){ text, used }, NULL), STATUS_OK);
	assert_int_equal(learned.line_count, LEARN_LINES);
	assert_int_equal(learned.reading_count, LEARN_LINES);
	learned_release(&learned);
	test_free(text);
}

struct shape_case {
	const char *name;
	const char *line;
	const char *key;
};

static struct shape_case shape_cases[] = {
	{ "numbers, words, marks", " R 0012 1.38 % 22.4 C ", "w n d % d w" },
	{ "a word and its number", "TDS1.38", "wd" },
	{ "a word with digits", "A1 B-02 x_y z-", "w w w w-" },
	{ "signs", "-1.38 +2 3-4 a-5", "d n n-n w" },
	{ "times", "2026-03-01 10:15:22 1,38", "t d" },
	{ "a point without digits", "1. .5", "n. .n" },
	{ "marks", "(1;2)", "(n;n)" },
};

static void line_has_its_shape(void **state)
{
	const struct shape_case *c = *state;
	struct line_shape shape;

	assert_true(line_shape_read(&shape, slice_from(c->line)));
	print_message("# %s\n", shape.key);
	assert_string_equal(shape.key, c->key);
}

static void odd_lines_have_no_shape(void **state)
{
	char marks[SHAPE_TOKENS + 2];
	struct line_shape shape;

	(void)state;
	memset(marks, '.', sizeof(marks));
	assert_false(line_shape_read(&shape, (struct slice){ marks, sizeof(marks) }));
	assert_false(line_shape_read(&shape, SLICE_OF("  ")));
	assert_false(line_shape_read(&shape, (struct slice)BYTES("a\0b")));
}

int main(void)
{
	const struct CMUnitTest rest[] = {
		cmocka_unit_test(parity_is_seen_through),
		cmocka_unit_test(noise_teaches_nothing),
		cmocka_unit_test(more_lines_than_needed_are_left_off),
		cmocka_unit_test(odd_lines_have_no_shape),
	};
	struct CMUnitTest learns[GIVEN(learn_cases)], shapes[GIVEN(shape_cases)];

	for (size_t i = 0; i < GIVEN(learns); i++)
		learns[i] = (struct CMUnitTest){ learn_cases[i].name, profile_is_proposed, NULL, NULL,
			                         &learn_cases[i] };
	for (size_t i = 0; i < GIVEN(shapes); i++)
		shapes[i] = (struct CMUnitTest){ shape_cases[i].name, line_has_its_shape, NULL, NULL, &shape_cases[i] };
	return cmocka_run_group_tests(learns, NULL, NULL) + cmocka_run_group_tests(shapes, NULL, NULL) +
	       cmocka_run_group_tests(rest, NULL, NULL);
}
