/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lines.h"

#define GIVEN(array) (sizeof(array) / sizeof((array)[0]))
#define BYTES(literal)                         \
	{                                      \
		(literal), sizeof(literal) - 1 \
	}

/* Feeds bytes in pieces of piece bytes and writes the lines, each behind its kind, into out. */
static void lines_collect(char *out, size_t size, struct lines *lines, struct slice bytes, size_t piece)
{
	struct line line;
	enum framing framing;
	size_t used = 0;

	out[0] = '\0';
	while (bytes.len > 0) {
		size_t taken = lines_add(lines, bytes.text, bytes.len < piece ? bytes.len : piece, 0);

		bytes = slice_part(bytes, taken, bytes.len);
		while ((framing = lines_next(lines, &line)) != FRAMING_MORE)
			used += (size_t)snprintf(out + used, size - used, "%c<%.*s>",
			                         framing == FRAMING_LINE ? 'L' : 'B', SLICE_ARG(line.text));
	}
}

struct end_case {
	const char *name;
	enum line_end end;
	struct slice bytes;
	const char *lines;   /* as lines_collect() writes them */
	const char *pending; /* what is left without an end */
};

static struct end_case end_cases[] = {
	{ "LF", LINE_END_AUTO, BYTES("a\nb\n"), "L<a>L<b>", "" },
	{ "CR", LINE_END_AUTO, BYTES("a\rb\r"), "L<a>L<b>", "" },
	{ "CRLF is one end", LINE_END_AUTO, BYTES("a\r\nb\r\n"), "L<a>L<b>", "" },
	{ "LFCR is one end", LINE_END_AUTO, BYTES("a\n\rb\n\r"), "L<a>L<b>", "" },
	{ "an empty line", LINE_END_AUTO, BYTES("a\r\n\r\nb\n\nc\n"), "L<a>L<>L<b>L<>L<c>", "" },
	{ "mixed ends", LINE_END_AUTO, BYTES("a\rb\nc\r\nd"), "L<a>L<b>L<c>", "d" },
	{ "no end yet", LINE_END_AUTO, BYTES("R 0016 1.3"), "", "R 0016 1.3" },
	{ "only LF asked for", LINE_END_LF, BYTES("a\rb\nc"), "L<a\rb>", "c" },
	{ "only CR asked for", LINE_END_CR, BYTES("a\nb\rc"), "L<a\nb>", "c" },
	{ "only CRLF asked for", LINE_END_CRLF, BYTES("a\rb\r\nc\n"), "L<a\rb>", "c\n" },
};

static void ends_as_told(void **state)
{
	const struct end_case *c = *state;

	for (size_t piece = 1; piece <= c->bytes.len; piece++) {
		struct lines lines;
		char got[200];

		lines_init(&lines, c->end, 0);
		lines_collect(got, sizeof(got), &lines, c->bytes, piece);
		assert_string_equal(got, c->lines);
		assert_true(slice_equal(lines_pending(&lines), slice_from(c->pending)));
	}
}

static void walk_gives_the_same(void **state)
{
	const struct end_case *c = *state;
	struct line_walk walk = { .rest = c->bytes, .end = c->end };
	struct slice line;
	char got[200] = "";
	size_t used = 0;
	bool ended = true;
	uint32_t count = 0;

	while (line_walk_next(&walk, &line, &ended)) {
		assert_int_equal(walk.number, ++count);
		if (ended)
			used += (size_t)snprintf(got + used, sizeof(got) - used, "L<%.*s>", SLICE_ARG(line));
		else
			assert_true(slice_equal(line, slice_from(c->pending)));
	}
	assert_string_equal(got, c->lines);
	assert_int_equal(ended, c->pending[0] == '\0');
}

static void reading_is_there_at_the_cr(void **state)
{
	struct lines lines;
	struct line line;

	(void)state;
	lines_init(&lines, LINE_END_AUTO, 0);
	assert_int_equal(lines_add(&lines, "1.38\r", 5, 100), 5);
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
	assert_int_equal(lines_add(&lines, "\n", 1, 200), 1);
	assert_int_equal(lines_next(&lines, &line), FRAMING_MORE);
	assert_int_equal(lines_add(&lines, "1.39\r", 5, 300), 5);
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
	assert_true(slice_equal(line.text, SLICE_OF("1.39")));
}

static void time_of_the_last_byte_travels_along(void **state)
{
	struct lines lines;
	struct line line;

	(void)state;
	lines_init(&lines, LINE_END_AUTO, 0);
	lines_add(&lines, "R 0001 1.", 9, 1000000);
	assert_int_equal(lines_next(&lines, &line), FRAMING_MORE);
	lines_add(&lines, "38 % 22.4 C\r\n", 13, 1400000);
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
	assert_true(slice_equal(line.raw, SLICE_OF("R 0001 1.38 % 22.4 C")));
	assert_int_equal(line.arrived_us, 1400000);
}

static void nuls_are_counted_and_taken_off_the_ends(void **state)
{
	struct lines lines;
	struct line line;

	(void)state;
	lines_init(&lines, LINE_END_AUTO, 0);
	lines_add(&lines, "\0\0a\0b\0\nc\n", 9, 0);
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
	assert_int_equal(line.nuls, 4);
	assert_int_equal(line.raw.len, 6);
	assert_true(slice_equal(line.text, (struct slice){ "a\0b", 3 }));
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
	assert_int_equal(line.nuls, 0);
	assert_true(slice_equal(line.text, SLICE_OF("c")));
	assert_int_equal(lines.nul_count, 4);
}

/* Feeds 70,000 bytes without an end between two good lines; every byte has to come out again. */
static void line_without_end_is_told_once(void **state)
{
	enum { LONG = 70000 };
	size_t total = LONG + 12, fed = 0, given = 0, good = 0, first = 0;
	char *bytes = malloc(total);
	struct lines lines;
	struct line line;
	enum framing framing;

	(void)state;
	assert_non_null(bytes);
	memcpy(bytes, "1.38\r\n", 6);
	memset(bytes + 6, '7', LONG);
	memcpy(bytes + 6 + LONG, "\n1.39\n", 6);
	lines_init(&lines, LINE_END_AUTO, 0);
	while (fed < total) {
		size_t taken = lines_add(&lines, bytes + fed, total - fed < 1000 ? total - fed : 1000, 0);

		assert_true(taken > 0);
		fed += taken;
		while ((framing = lines_next(&lines, &line)) != FRAMING_MORE) {
			given += line.raw.len;
			assert_true(line.raw.len <= LINES_CAP);
			good += framing == FRAMING_LINE;
			first += framing == FRAMING_BROKEN && !line.again;
			assert_true(framing == FRAMING_BROKEN || memcmp(line.raw.text, "1.3", 3) == 0);
		}
	}
	assert_int_equal(good, 2);
	assert_int_equal(first, 1);
	assert_int_equal(lines.long_count, 1);
	assert_int_equal(given, LONG + 8);
	free(bytes);
}

static void line_of_the_cap_is_whole_and_one_more_is_not(void **state)
{
	char bytes[LINES_CAP + 2];
	struct lines lines;
	struct line line;

	(void)state;
	memset(bytes, '1', sizeof(bytes));
	bytes[LINES_CAP] = '\n';
	lines_init(&lines, LINE_END_AUTO, 0);
	assert_int_equal(lines_add(&lines, bytes, LINES_CAP + 1, 0), LINES_CAP + 1);
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
	assert_int_equal(line.raw.len, LINES_CAP);
	bytes[LINES_CAP] = '1';
	bytes[LINES_CAP + 1] = '\n';
	assert_int_equal(lines_next(&lines, &line), FRAMING_MORE);
	assert_int_equal(lines_add(&lines, bytes, sizeof(bytes), 0), sizeof(bytes));
	assert_int_equal(lines_next(&lines, &line), FRAMING_BROKEN);
	assert_false(line.again);
	assert_int_equal(lines_next(&lines, &line), FRAMING_BROKEN);
	assert_true(line.again);
	assert_int_equal(line.raw.len, 1);
	assert_int_equal(lines_next(&lines, &line), FRAMING_MORE);
}

static void silence_ends_a_line(void **state)
{
	struct lines lines;
	struct line line;

	(void)state;
	lines_init(&lines, LINE_END_GAP, 50);
	assert_int_equal(lines_add(&lines, "1.", 2, 0), 2);
	assert_int_equal(lines_add(&lines, "38 ", 3, 20000), 3);
	lines_idle(&lines, 60000);
	assert_int_equal(lines_next(&lines, &line), FRAMING_MORE);
	lines_idle(&lines, 70000);
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
	assert_true(slice_equal(line.text, SLICE_OF("1.38")));
	assert_int_equal(line.raw.len, 5);
	assert_int_equal(line.arrived_us, 20000);
	lines_idle(&lines, 999000);
	assert_int_equal(lines_next(&lines, &line), FRAMING_MORE);
}

static void silence_before_new_bytes_keeps_them_apart(void **state)
{
	struct lines lines;
	struct line line;

	(void)state;
	lines_init(&lines, LINE_END_GAP, 50);
	assert_int_equal(lines_add(&lines, "1.38", 4, 0), 4);
	assert_int_equal(lines_add(&lines, "1.39", 4, 100000), 0);
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
	assert_true(slice_equal(line.text, SLICE_OF("1.38")));
	assert_int_equal(lines_add(&lines, "1.39", 4, 100000), 4);
	assert_int_equal(lines_next(&lines, &line), FRAMING_MORE);
}

static void silence_ends_a_line_that_was_too_long(void **state)
{
	char bytes[LINES_CAP + 2];
	struct lines lines;
	struct line line;

	(void)state;
	memset(bytes, '1', sizeof(bytes));
	lines_init(&lines, LINE_END_GAP, 50);
	assert_int_equal(lines_add(&lines, bytes, sizeof(bytes), 0), sizeof(bytes));
	assert_int_equal(lines_next(&lines, &line), FRAMING_BROKEN);
	assert_int_equal(lines_next(&lines, &line), FRAMING_MORE);
	lines_idle(&lines, 60000);
	assert_int_equal(lines_next(&lines, &line), FRAMING_BROKEN);
	assert_true(line.again);
	assert_int_equal(line.raw.len, 2);
	lines_add(&lines, "2", 1, 70000);
	lines_idle(&lines, 130000);
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
}

static void clearing_forgets_what_is_held(void **state)
{
	struct lines lines;
	struct line line;

	(void)state;
	lines_init(&lines, LINE_END_AUTO, 0);
	lines_add(&lines, "1.3\0", 4, 0);
	lines_clear(&lines);
	lines_add(&lines, "1.40\n", 5, 0);
	assert_int_equal(lines_next(&lines, &line), FRAMING_LINE);
	assert_true(slice_equal(line.raw, SLICE_OF("1.40")));
	assert_int_equal(lines.nul_count, 1);
}

struct print_case {
	const char *name;
	struct slice text;
	size_t size;
	const char *printed;
};

static struct print_case print_cases[] = {
	{ "plain", BYTES("1.38 % 22.4 C"), 80, "1.38 % 22.4 C" },
	{ "UTF-8", BYTES("22.4 °C"), 80, "22.4 °C" },
	{ "not UTF-8",
	  BYTES("22\xb0"
	        "C"),
	  80, "22\\xb0C" },
	{ "control characters", BYTES("a\tb\x7f\0"), 80, "a\\x09b\\x7f\\x00" },
	{ "of no width",
	  BYTES("1.4\xe2\x80\x8b"
	        "0"),
	  80, "1.4<U+200B>0" },
	{ "control character of two bytes", BYTES("\xc2\x85"), 80, "<U+0085>" },
	{ "cut", BYTES("0123456789"), 9, "01234..." },
	{ "just fits", BYTES("01234567"), 9, "01234567" },
	{ "no text", { NULL, 0 }, 9, "" },
};

static void prints_as_told(void **state)
{
	const struct print_case *c = *state;
	char out[80];

	assert_string_equal(line_print(out, c->size, c->text), c->printed);
}

/* Sets the top bit of each byte so that it has an even (or odd) number of ones. */
static void parity_set(char *bytes, size_t len, int odd)
{
	for (size_t i = 0; i < len; i++)
		if (__builtin_parity((unsigned char)bytes[i]) != odd)
			bytes[i] = (char)(bytes[i] | 0x80);
}

static void parity_is_recognised(void **state)
{
	static const enum doubt_cause causes[] = { DOUBT_EVEN_PARITY, DOUBT_ODD_PARITY };

	(void)state;
	for (int odd = 0; odd <= 1; odd++) {
		struct line_doubt doubt = { 0 };

		for (int i = 0; i < DOUBT_LINES; i++) {
			char bytes[] = "R 0030 1.38 % 22.4 C";

			parity_set(bytes, sizeof(bytes) - 1, odd);
			assert_int_equal(line_doubt_cause(&doubt), DOUBT_NONE);
			line_doubt_add(&doubt, (struct slice){ bytes, sizeof(bytes) - 1 });
		}
		assert_int_equal(line_doubt_cause(&doubt), causes[odd]);
		assert_non_null(strstr(doubt_cause_advice(causes[odd]), odd ? "7O1" : "7E1"));
	}
}

static void noise_is_recognised_and_prose_is_not(void **state)
{
	struct line_doubt noise = { 0 }, prose = { 0 };
	uint32_t random = 1;
	char bytes[400];

	(void)state;
	for (size_t i = 0; i < sizeof(bytes); i++) {
		random = random * 1664525 + 1013904223;
		bytes[i] = (char)(random >> 24);
	}
	line_doubt_add(&noise, (struct slice){ bytes, sizeof(bytes) });
	assert_int_equal(line_doubt_cause(&noise), DOUBT_SPEED);
	assert_non_null(strstr(doubt_cause_advice(DOUBT_SPEED), "baud"));
	for (int i = 0; i < 10; i++)
		line_doubt_add(&prose, SLICE_OF("warming up, wait 30 s"));
	assert_int_equal(line_doubt_cause(&prose), DOUBT_NONE);
	assert_string_equal(doubt_cause_advice(DOUBT_NONE), "");
}

static void ends_have_names(void **state)
{
	static const char *const names[] = { "auto", "lf", "cr", "crlf", "gap" };

	(void)state;
	for (int i = 0; i < (int)GIVEN(names); i++)
		assert_string_equal(line_end_name((enum line_end)i), names[i]);
}

int main(void)
{
	const struct CMUnitTest rest[] = {
		cmocka_unit_test(reading_is_there_at_the_cr),
		cmocka_unit_test(time_of_the_last_byte_travels_along),
		cmocka_unit_test(nuls_are_counted_and_taken_off_the_ends),
		cmocka_unit_test(line_without_end_is_told_once),
		cmocka_unit_test(line_of_the_cap_is_whole_and_one_more_is_not),
		cmocka_unit_test(silence_ends_a_line),
		cmocka_unit_test(silence_before_new_bytes_keeps_them_apart),
		cmocka_unit_test(silence_ends_a_line_that_was_too_long),
		cmocka_unit_test(clearing_forgets_what_is_held),
		cmocka_unit_test(parity_is_recognised),
		cmocka_unit_test(noise_is_recognised_and_prose_is_not),
		cmocka_unit_test(ends_have_names),
	};
	struct CMUnitTest ends[GIVEN(end_cases)], walks[GIVEN(end_cases)], prints[GIVEN(print_cases)];

	for (size_t i = 0; i < GIVEN(end_cases); i++) {
		ends[i] = (struct CMUnitTest){ end_cases[i].name, ends_as_told, NULL, NULL, &end_cases[i] };
		walks[i] = (struct CMUnitTest){ end_cases[i].name, walk_gives_the_same, NULL, NULL, &end_cases[i] };
	}
	for (size_t i = 0; i < GIVEN(print_cases); i++)
		prints[i] = (struct CMUnitTest){ print_cases[i].name, prints_as_told, NULL, NULL, &print_cases[i] };
	return cmocka_run_group_tests(ends, NULL, NULL) + cmocka_run_group_tests(walks, NULL, NULL) +
	       cmocka_run_group_tests(prints, NULL, NULL) + cmocka_run_group_tests(rest, NULL, NULL);
}
