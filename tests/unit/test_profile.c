/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "profile.h"
#include "reading.h"
#include "text.h"

#define GIVEN(array) (sizeof(array) / sizeof((array)[0]))
#define BYTES(literal)                         \
	{                                      \
		(literal), sizeof(literal) - 1 \
	}

/* The counted line that the serial fixtures hold, one line, nothing before and nothing behind. */
#define COUNTED "pattern = R (?<seq>\\d{4}) (?<value>\\d\\.\\d\\d) % (?<temp>\\d\\d\\.\\d) C\n"

static struct profile *parsed(const char *ini)
{
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct profile *profile;

	if (profile_parse(&profile, slice_from(ini), "test.ini", &faults, &error) != STATUS_OK)
		for (size_t i = 0; i < faults.count; i++)
			print_message("# %u: %s\n", faults.items[i].place.line, faults.items[i].text);
	faults_release(&faults);
	assert_non_null(profile);
	return profile;
}

/* Faults: what a file has to be told about, line by line. */

struct fault_case {
	const char *name;
	const char *ini;
	uint32_t line;
	const char *text; /* part of the message */
};

static struct fault_case fault_cases[] = {
	{ "no pattern", "[meter]\nunit = tds\n", 0, "no pattern; expected one in [line]" },
	{ "no value group", "[line]\npattern = TDS (?<tds>\\d)\n", 2, "no group is called value" },
	{ "unit not ours", "[meter]\nunit = plato\n", 2, "unit is \"plato\"; expected tds, brix or nd" },
	{ "baud not whole", "[port]\nbaud = 9600.5\n", 2, "baud is \"9600.5\"; expected a whole number from 50 to" },
	{ "data bits out of range", "[port]\ndata-bits = 9\n", 2, "expected a whole number from 7 to 8" },
	{ "parity unknown", "[port]\n\nparity = e\n", 3, "expected none, even, odd, mark or space" },
	{ "switch unknown", "[meter]\ncompensated = perhaps\n", 2, "expected no or yes" },
	{ "number out of range", "[meter]\nscale-factor = 85\n", 2, "expected a number from 0.1 to 2" },
	{ "unknown key", "[line]\npatern = x\n", 2, "no key of a profile is called \"patern\" in [line]" },
	{ "key in the wrong section", "[line]\nbaud = 9600\n", 2, "baud stands in [line]; expected in [port]" },
	{ "key twice", "[port]\nbaud = 1200\nbaud = 2400\n", 3, "baud stands twice, first in line 2" },
	{ "no key at all", "[port]\nhello\n", 2, "neither [section] nor \"key = value\"" },
	{ "section without end", "[port\n", 1, "neither [section] nor \"key = value\"" },
	{ "indented line that is no pattern", "[port]\nbaud = 1200\n  2400\n", 3, "only a pattern goes on" },
	{ "bytes to send misspelt", "[ask]\nsend = M\\q\n", 2, "expected characters, \\r, \\n" },
	{ "bytes to send cut off", "[ask]\nsend = M\\x1\n", 2, "two hexadecimal digits" },
	{ "bracket missing", "[line]\npattern = R (?<value>\\d\n", 2, "missing closing parenthesis" },
	{ "group name twice", "[line]\npattern = (?<value>a)|(?<value>b)\n", 2,
	  "two named subpatterns have the same name" },
	{ "group name begins with a digit", "[line]\npattern = (?<1value>x)\n", 2, "must start with a non-digit" },
	{ "group twice, allowed inside", "[line]\npattern = (?J)(?<value>a)|(?<value>b)\n", 2,
	  "several groups are called value" },
	{ "no UTF", "[line]\npattern = (*UTF)(?<value>\\d)\n", 2, "using UTF is disabled" },
	{ "repeat of a repeat", "[line]\npattern = (?<value>(\\d+)+)\n", 2, "pattern takes more than 100000 steps" },
	{ "repeat of a repeat behind a word", "[line]\npattern = TDS (?<value>(\\d+)+)\n", 2,
	  "no repeat inside a repeat" },
	{ "repeat of a repeat behind an anchor", "[line]\npattern = ^R x?(?<value>(\\d+)+)$\n", 2,
	  "more than 100000 steps" },
	{ "repeat of a repeat of words", "[line]\npattern = (?:\\w+\\s*)*(?<value>\\d)\n", 2, "on a line such as" },
};

static void fault_is_told(void **state)
{
	const struct fault_case *c = *state;
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct profile *profile;
	bool found = false;

	assert_int_equal(profile_parse(&profile, slice_from(c->ini), "test.ini", &faults, &error), STATUS_REFUSED);
	assert_null(profile);
	assert_string_equal(error.text, "test.ini is not a profile that can be used");
	for (size_t i = 0; i < faults.count; i++) {
		assert_string_equal(faults.items[i].place.file, "test.ini");
		if (strstr(faults.items[i].text, c->text)) {
			found = true;
			assert_int_equal(faults.items[i].place.line, c->line);
		} else {
			print_message("# %u: %s\n", faults.items[i].place.line, faults.items[i].text);
		}
	}
	assert_true(found);
	faults_release(&faults);
}

static void all_faults_are_told_in_one_go(void **state)
{
	static const char ini[] = "hello\n[meter]\nunit = x\n[port]\nbaud = y\nflow = z\n[line]\npattern = (\n";
	struct faults faults = FAULTS_INIT;
	struct profile *profile;

	(void)state;
	assert_int_equal(profile_parse(&profile, slice_from(ini), "test.ini", &faults, NULL), STATUS_REFUSED);
	assert_int_equal(faults.count, 5);
	assert_int_equal(faults.errors, 5);
	faults_release(&faults);
}

static void caret_stands_under_the_place(void **state)
{
	struct faults faults = FAULTS_INIT;
	struct profile *profile;

	(void)state;
	assert_int_equal(profile_parse(&profile, slice_from("[line]\npattern = R [[:nope:]] 1\n"), "test.ini", &faults,
	                               NULL),
	                 STATUS_REFUSED);
	assert_int_equal(faults.count, 1);
	assert_non_null(strstr(faults.items[0].text, "\n    R [[:nope:]] 1\n         ^"));
	faults_release(&faults);
}

static void line_that_is_too_long_is_told(void **state)
{
	char ini[400] = "[line]\npattern = ";
	struct faults faults = FAULTS_INIT;
	struct profile *profile;

	(void)state;
	memset(ini + strlen(ini), '1', 250);
	assert_int_equal(profile_parse(&profile, slice_from(ini), "test.ini", &faults, NULL), STATUS_REFUSED);
	assert_int_equal(faults.items[0].place.line, 2);
	assert_non_null(strstr(faults.items[0].text, "a pattern goes on in the next line, indented"));
	faults_release(&faults);
}

static void pattern_that_is_too_long_is_told(void **state)
{
	struct faults faults = FAULTS_INIT;
	struct profile *profile;
	char ini[6000] = "[line]\npattern = (?<value>1)\n";

	(void)state;
	for (int i = 0; i < 50; i++) {
		size_t len = strlen(ini);

		memset(ini + len, '1', 100);
		ini[len] = ' ';
		ini[len + 99] = '\n';
	}
	assert_int_equal(profile_parse(&profile, slice_from(ini), "test.ini", &faults, NULL), STATUS_REFUSED);
	assert_non_null(strstr(faults.items[0].text, "the pattern is longer than 4096 bytes"));
	faults_release(&faults);
}

static void nul_in_the_file_is_told(void **state)
{
	struct slice ini = BYTES("[line]\npattern = (?<value>\0)\n");
	struct faults faults = FAULTS_INIT;
	struct profile *profile;

	(void)state;
	assert_int_equal(profile_parse(&profile, ini, "test.ini", &faults, NULL), STATUS_REFUSED);
	assert_non_null(strstr(faults.items[0].text, "NUL"));
	assert_int_equal(faults.items[0].place.line, 2);
	faults_release(&faults);
}

static void group_without_a_meaning_is_warned_of(void **state)
{
	struct faults faults = FAULTS_INIT;
	struct profile *profile;

	(void)state;
	assert_int_equal(profile_parse(&profile, slice_from("[line]\npattern = (?<value>1)(?<colour>\\w)\n"),
	                               "test.ini", &faults, NULL),
	                 STATUS_OK);
	assert_int_equal(faults.warnings, 1);
	assert_non_null(strstr(faults.items[0].text, "group colour means nothing here"));
	profile_free(profile);
	faults_release(&faults);
}

static void standards_hold_where_nothing_is_said(void **state)
{
	struct profile *profile = parsed("[line]\npattern = (?<value>\\d\\.\\d\\d)\n");

	(void)state;
	assert_string_equal(profile->name, "");
	assert_int_equal(profile->port.baud, 9600);
	assert_int_equal(profile->port.data_bits, 8);
	assert_int_equal(profile->port.parity, PARITY_NONE);
	assert_int_equal(profile->port.stop_bits, 1);
	assert_int_equal(profile->port.flow, FLOW_NONE);
	assert_true(profile->port.dtr && profile->port.rts);
	assert_int_equal(profile->line_end, LINE_END_AUTO);
	assert_int_equal(profile->meter.unit, UNIT_TDS_PERCENT);
	assert_near(profile->meter.scale_factor, 0.85, 0);
	assert_near(profile->meter.cal_temp_c, 20, 0);
	assert_true(profile->meter.compensated);
	assert_true(isnan(profile->meter.step) && isnan(profile->meter.accuracy));
	assert_int_equal(profile->ask.len, 0);
	profile_free(profile);
}

static void every_key_is_taken(void **state)
{
	struct profile *profile = parsed(
		"\xef\xbb\xbf[meter]\r\nname = n\r\nabout = two words ; a remark\r\nunit = brix\r\n"
		"scale-factor = 0,9\r\ncal_temp = 25\r\ncompensated = no\r\nstep = 0.1\r\n"
		"accuracy = 0.2\r\n# a remark\r\n[port]\r\nbaud = 1200\r\ndata-bits = 7\r\n"
		"parity = Even\r\nstop-bits = 2\r\nflow = xonxoff\r\ndtr = off\r\nrts = off\r\n"
		"[line]\r\nend = gap\r\ngap = 80\r\npattern = A\r\n  (?<value>\\d,\\d)\r\n  [;]B\r\n"
		"anchored = no\r\ndecimal = comma\r\ntemp-unit = F\r\nno-reading = Lo, , - -\r\n"
		"strip-parity = yes\r\n[ask]\r\nsend = \\xfE\\x02M\\t\\\\\\0\\r\\n\r\nevery = 250\r\n");

	(void)state;
	assert_string_equal(profile->name, "n");
	assert_string_equal(profile->about, "two words");
	assert_true(slice_equal(profile->meter.name, SLICE_OF("n")));
	assert_int_equal(profile->meter.unit, UNIT_BRIX);
	assert_near(profile->meter.scale_factor, 0.9, 0);
	assert_near(profile->meter.cal_temp_c, 25, 0);
	assert_false(profile->meter.compensated);
	assert_near(profile->meter.step, 0.1, 0);
	assert_near(profile->meter.accuracy, 0.2, 0);
	assert_int_equal(profile->port.baud, 1200);
	assert_int_equal(profile->port.data_bits, 7);
	assert_string_equal(parity_name(profile->port.parity), "even");
	assert_int_equal(profile->port.stop_bits, 2);
	assert_string_equal(flow_name(profile->port.flow), "xonxoff");
	assert_false(profile->port.dtr || profile->port.rts);
	assert_int_equal(profile->line_end, LINE_END_GAP);
	assert_int_equal(profile->gap_ms, 80);
	assert_string_equal(profile->pattern, "A(?<value>\\d,\\d)[;]B");
	assert_false(profile->anchored);
	assert_int_equal(profile->decimal, DECIMAL_COMMA);
	assert_true(profile->fahrenheit);
	assert_int_equal(profile->no_reading_count, 2);
	assert_true(slice_equal(profile->no_reading[1], SLICE_OF("- -")));
	assert_true(profile->strip_parity);
	assert_true(slice_equal(profile->ask, (struct slice)BYTES("\xfe\x02M\t\\\0\r\n")));
	assert_int_equal(profile->ask_every_ms, 250);
	profile_free(profile);
}

/* Lines: what one line says under a profile. */

struct match_case {
	const char *name;
	const char *ini;
	struct slice line;
	enum line_kind kind;
	double value;
	int decimals;
	double temp_c; /* 0: not told */
	enum unit unit;
	const char *reason; /* part of it; NULL: none */
};

static struct match_case match_cases[] = {
	{ "a good line", "[line]\n" COUNTED, BYTES("R 0012 1.38 % 22.4 C"), LINE_READING, 1.38, 2, 22.4,
	  UNIT_TDS_PERCENT, NULL },
	{ "a cut line", "[line]\n" COUNTED, BYTES("R 0012 1.3"), .kind = LINE_UNMATCHED },
	{ "one digit too many", "[line]\n" COUNTED, BYTES("R 0054 21.38 % 22.5 C"), .kind = LINE_UNMATCHED },
	{ "two lines glued", "[line]\n" COUNTED, BYTES("R 0051 1.3R 0052 1.41 % 22.5 C"), .kind = LINE_UNMATCHED },
	{ "flow control inside", "[line]\n" COUNTED,
	  BYTES("R 0012 1.3\x11"
	        "8\x13 % 22.4 C"),
	  .kind = LINE_UNMATCHED },
	{ "a line feed at the end", "[line]\n" COUNTED, BYTES("R 0012 1.38 % 22.4 C\n"), .kind = LINE_UNMATCHED },
	{ "an empty line", "[line]\n" COUNTED, { NULL, 0 }, .kind = LINE_UNMATCHED },
	{ "a byte that is not UTF-8", "[line]\npattern = (?<temp>\\d\\d\\.\\d)\\xb0C TDS (?<value>\\d\\.\\d\\d)\n",
	  BYTES("22.1\xb0"
	        "C TDS 1.38"),
	  LINE_READING, 1.38, 2, 22.1, UNIT_TDS_PERCENT, NULL },
	{ "the group took no part", "[line]\npattern = (?:T=(?<temp>\\d+) )?TDS=(?<value>[\\d.]+)\n", BYTES("TDS=1.38"),
	  LINE_READING, 1.38, 2, 0, UNIT_TDS_PERCENT, NULL },
	{ "value took no part", "[line]\npattern = T=(?<temp>\\d+)(?: TDS=(?<value>[\\d.]+))?\n", BYTES("T=22"),
	  .kind = LINE_UNMATCHED },
	{ "value is no number", "[line]\npattern = TDS=(?<value>[\\d.]+)\n", BYTES("TDS=1.3.8"), .kind = LINE_ERROR,
	  .reason = "the value is \"1.3.8\"; expected a number" },
	{ "a point where a comma is due", "[line]\ndecimal = comma\npattern = (?<value>[\\d.,]+)\n", BYTES("1.38"),
	  .kind = LINE_ERROR, .reason = "expected a number with a decimal comma" },
	{ "a comma where a point is due", "[line]\ndecimal = point\npattern = (?<value>[\\d.,]+)\n", BYTES("1,38"),
	  .kind = LINE_ERROR, .reason = "expected a number with a decimal point" },
	{ "either sign", "[line]\npattern = (?<value>[\\d.,]+)\n", BYTES("1,380"), LINE_READING, 1.38, 3, 0,
	  UNIT_TDS_PERCENT, NULL },
	{ "the line's unit", "[line]\npattern = (?<value>[\\d.]+) (?<unit>.+)\n", BYTES("1.6 °Bx"), LINE_READING, 1.6,
	  1, 0, UNIT_BRIX, NULL },
	{ "the line's unit in Latin-1", "[line]\npattern = (?<value>[\\d.]+) (?<unit>.+)\n",
	  BYTES("1.6 \xb0"
	        "Bx"),
	  LINE_READING, 1.6, 1, 0, UNIT_BRIX, NULL },
	{ "a unit not ours", "[line]\npattern = (?<value>[\\d.]+) (?<unit>\\w+)\n", BYTES("1.6 ppm"),
	  .kind = LINE_ERROR, .reason = "the unit is \"ppm\"; expected % TDS, brix or nd" },
	{ "degrees Fahrenheit", "[line]\ntemp-unit = F\npattern = (?<value>[\\d.]+) (?<temp>[\\d.]+)F\n",
	  BYTES("1.38 72.5F"), LINE_READING, 1.38, 2, 22.5, UNIT_TDS_PERCENT, NULL },
	{ "a temperature that is none", "[line]\npattern = (?<value>[\\d.]+) (?<temp>\\S+)\n", BYTES("1.38 --.-"),
	  LINE_READING, 1.38, 2, 0, UNIT_TDS_PERCENT, "the temperature is \"--.-\"" },
	{ "a time that is none", "[line]\npattern = (?<time>\\S+) (?<value>[\\d.]+)\n", BYTES("3/1/26 1.38"),
	  LINE_READING, 1.38, 2, 0, UNIT_TDS_PERCENT, "the time is \"3/1/26\"" },
	{ "a whole line that says no", "[line]\nno-reading = Lo\npattern = (?<value>[\\d.]+)\n", BYTES(" Lo "),
	  .kind = LINE_NO_READING },
	{ "a value that says no", "[line]\nno-reading = --.--\npattern = TDS (?<value>\\S+)\n", BYTES("TDS --.--"),
	  .kind = LINE_NO_READING },
	{ "a status that says no", "[line]\nno-reading = WAIT\npattern = (?<value>\\S+) (?<status>\\w+)\n",
	  BYTES("1.38 WAIT"), .kind = LINE_NO_READING },
	{ "a status in place of a value", "[line]\npattern = (?<value>[\\d.]+)|(?<status>\\w+)\n", BYTES("dry"),
	  .kind = LINE_NO_READING },
	{ "a status that is fine", "[line]\nno-reading = WAIT\npattern = (?<value>\\S+) (?<status>\\w+)\n",
	  BYTES("1.38 OK"), LINE_READING, 1.38, 2, 0, UNIT_TDS_PERCENT, NULL },
	{ "not anchored, asked for", "[line]\nanchored = no\npattern = TDS (?<value>\\d\\.\\d\\d)\n",
	  BYTES("xx TDS 1.38 yy"), LINE_READING, 1.38, 2, 0, UNIT_TDS_PERCENT, NULL },
	{ "top bit stripped", "[line]\nstrip-parity = yes\n" COUNTED,
	  BYTES("\xd2\xa0"
	        "0030\xa0\xb1"
	        ".3\xb8\xa0\xa5\xa0\xb2\xb2.\xb4\xa0\xc3\x8d"),
	  LINE_READING, 1.38, 2, 22.4, UNIT_TDS_PERCENT, NULL },
};

static void line_is_read_as_told(void **state)
{
	const struct match_case *c = *state;
	struct profile *profile = parsed(c->ini);
	struct profile_scratch *scratch = profile_scratch_new(profile);
	struct profile_reading got = { .shown = { .decimals = -7 } };

	assert_int_equal(profile_match(profile, scratch, c->line, &got), c->kind);
	if (c->kind == LINE_READING) {
		assert_near(got.shown.value, c->value, 0);
		assert_int_equal(got.shown.decimals, c->decimals);
		assert_int_equal(got.shown.unit, c->unit);
		assert_near(got.temp_c, c->temp_c > 0 ? c->temp_c : (double)NAN, 1e-9);
		assert_int_equal(got.taken_us == READING_NO_TIME, true);
	} else if (c->kind == LINE_NO_READING) {
		assert_true(got.status.len > 0);
	} else {
		assert_int_equal(got.shown.decimals, -7); /* untouched */
	}
	if (c->reason)
		assert_non_null(strstr(profile_reason(scratch), c->reason));
	else
		assert_string_equal(profile_reason(scratch), "");
	profile_scratch_free(scratch);
	profile_free(profile);
}

static void all_parts_of_a_line_are_given(void **state)
{
	struct profile *profile = parsed(
		"[line]\npattern = (?<time>\\S+) (?<label>.+?) +#(?<seq>\\d+) (?<value>\\S+) (?<status>OK)\n");
	struct profile_scratch *scratch = profile_scratch_new(profile);
	struct slice line = SLICE_OF("10:15:22 cup 3  #0042 1.40 OK");
	struct profile_reading got;

	(void)state;
	assert_int_equal(profile_match(profile, scratch, line, &got), LINE_READING);
	assert_int_equal(got.taken_us, 36922LL * 1000000);
	assert_true(slice_equal(got.label, SLICE_OF("cup 3")));
	assert_true(slice_equal(got.seq, SLICE_OF("0042")));
	assert_true(slice_equal(got.status, SLICE_OF("OK")));
	assert_int_equal(got.value_at, 22);
	assert_ptr_equal(got.label.text, line.text + 9);
	profile_scratch_free(scratch);
	profile_free(profile);
}

/* One bit wrong in any byte of a good line never makes another reading of it that this pattern cannot know of. */
static void damaged_byte_gives_no_other_shape(void **state)
{
	struct profile *profile = parsed("[line]\n" COUNTED);
	struct profile_scratch *scratch = profile_scratch_new(profile);
	char line[] = "R 0012 1.38 % 22.4 C";
	struct profile_reading got;
	int readings = 0;

	(void)state;
	for (size_t i = 0; i < sizeof(line) - 1; i++)
		for (int bit = 0; bit < 8; bit++) {
			line[i] = (char)(line[i] ^ (1 << bit));
			if (profile_match(profile, scratch, (struct slice){ line, sizeof(line) - 1 }, &got) ==
			    LINE_READING) {
				assert_true(line[i] >= '0' && line[i] <= '9');
				readings++;
			}
			line[i] = (char)(line[i] ^ (1 << bit));
		}
	assert_true(readings > 0); /* a digit turned into a digit: only a checksum would show it */
	profile_scratch_free(scratch);
	profile_free(profile);
}

static double seconds_since(const struct timespec *start)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)(now.tv_sec - start->tv_sec) + 1e-9 * (double)(now.tv_nsec - start->tv_nsec);
}

/* A pattern that the trial lines let pass and a long line does not: it fails by name, soon. */
static void no_line_holds_up_the_reader(void **state)
{
	struct profile *profile = parsed("[line]\npattern = .*x.*y.*(?<value>\\d\\.\\d\\d)\n");
	struct profile_scratch *scratch = profile_scratch_new(profile);
	struct profile_reading got;
	struct timespec start;
	char line[LINES_CAP + 1];

	(void)state;
	for (size_t i = 0; i < sizeof(line); i++)
		line[i] = "xy"[i % 2];
	line[LINES_CAP - 1] = '.';
	clock_gettime(CLOCK_MONOTONIC, &start);
	assert_int_equal(profile_match(profile, scratch, (struct slice){ line, LINES_CAP }, &got), LINE_ERROR);
	assert_true(seconds_since(&start) < 0.5); /* 0.05 on an idle machine without sanitizers */
	assert_string_equal(profile_reason(scratch), "matching failed: match limit exceeded (-47)");
	assert_int_equal(profile_match(profile, scratch, (struct slice){ line, LINES_CAP + 1 }, &got), LINE_ERROR);
	assert_string_equal(profile_reason(scratch), "the line is longer than 4096 bytes");
	profile_scratch_free(scratch);
	profile_free(profile);
}

/* Needs more stack than the machine code has: matched without it. */
static void long_line_is_matched_without_machine_code(void **state)
{
	struct profile *profile = parsed("[line]\npattern = (?:a|b|\\w\\w)*=(?<value>\\d\\.\\d\\d)\n");
	struct profile_scratch *scratch = profile_scratch_new(profile);
	struct profile_reading got;
	char line[LINES_CAP];

	(void)state;
	memset(line, 'a', sizeof(line));
	memcpy(line + sizeof(line) - 5, "=1.38", 5);
	assert_int_equal(profile_match(profile, scratch, (struct slice){ line, sizeof(line) }, &got), LINE_READING);
	assert_near(got.shown.value, 1.38, 0);
	profile_scratch_free(scratch);
	profile_free(profile);
}

/* Templates: each reads the line in its own remark. */

struct template_case {
	const char *name;
	struct slice line;
	double value;
	enum unit unit;
	double temp_c;
	struct slice nothing; /* a line that says no reading */
};

static struct template_case template_cases[] = {
	{ "counted-line", BYTES("R 0012 1.38 % 22.4 C"), 1.38, UNIT_TDS_PERCENT, 22.4, BYTES("Lo") },
	{ "asked-for", BYTES("01,41 Brix 022,5"), 1.41, UNIT_BRIX, 22.5, BYTES("E2") },
	{ "index-line", BYTES("nD=1.33525;T=21.3;OK"), 1.33525, UNIT_INDEX, 21.3, BYTES("nD=1.33525;T=21.3;WAIT") },
	{ "seven-bits", BYTES("C-11, 1.36 % TDS"), 1.36, UNIT_TDS_PERCENT, 0, { NULL, 0 } },
	{ "silent-end", BYTES("+01.380%TDS 071.6F"), 1.38, UNIT_TDS_PERCENT, 22, { NULL, 0 } },
};

static void template_reads_its_line(void **state)
{
	const struct template_case *c = *state;
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct profile_scratch *scratch;
	struct profile_reading got;
	struct profile *profile;
	char path[200];

	snprintf(path, sizeof(path), "templates/profiles/%s.ini", c->name);
	assert_int_equal(profile_open(&profile, path, &faults, &error), STATUS_OK);
	assert_int_equal(faults.count, 0);
	assert_true(profile->name[0] && profile->about[0]);
	scratch = profile_scratch_new(profile);
	assert_int_equal(profile_match(profile, scratch, c->line, &got), LINE_READING);
	assert_near(got.shown.value, c->value, 0);
	assert_int_equal(got.shown.unit, c->unit);
	assert_near(got.temp_c, c->temp_c > 0 ? c->temp_c : (double)NAN, 1e-9);
	if (c->nothing.len > 0)
		assert_int_equal(profile_match(profile, scratch, c->nothing, &got), LINE_NO_READING);
	profile_scratch_free(scratch);
	profile_free(profile);
	faults_release(&faults);
}

static void absent_file_is_a_failure_of_the_system(void **state)
{
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct profile *profile = (struct profile *)&faults;

	(void)state;
	assert_int_equal(profile_open(&profile, "no/such.ini", &faults, &error), STATUS_IO);
	assert_null(profile);
	assert_non_null(strstr(error.text, "no/such.ini"));
	faults_release(&faults);
}

/* Streams: the recorded bytes of a port, through framing and pattern. */

struct stream_case {
	const char *name;
	const char *file;
	double values[6];
	size_t readings;
	size_t unmatched;
	size_t nuls;
	const char *pending;
	enum doubt_cause doubt; /* over the lines that did not match */
};

static struct stream_case stream_cases[] = {
	{ "joined in the middle of a line",
	  "serial-joined-mid-line.bin",
	  { 1.31, 1.33, 1.30, 1.34 },
	  4,
	  1,
	  5,
	  "R 0105 1.3",
	  DOUBT_NONE },
	{ "lines end in CR alone", "serial-cr-only.bin", { 1.25, 1.26, 1.27, 1.28, 1.29 }, 5, 0, 0, "", DOUBT_NONE },
	{ "seven bits and even parity", "serial-seven-bits-even-parity.bin", { 0 }, 0, 4, 0, "", DOUBT_EVEN_PARITY },
	{ "cable pulled in a line", "serial-cable-pulled.bin", { 1.28, 1.31 }, 2, 2, 0, "", DOUBT_NONE },
};

static void stream_gives_as_told(void **state)
{
	const struct stream_case *c = *state;
	struct profile *profile = parsed("[line]\n" COUNTED);
	struct profile_scratch *scratch = profile_scratch_new(profile);
	struct text text = TEXT_INIT;
	struct error error = ERROR_INIT;
	struct line_doubt doubt = { 0 };
	struct profile_reading got;
	struct lines lines;
	struct line line;
	size_t readings = 0, unmatched = 0;
	char path[200];

	snprintf(path, sizeof(path), "fixtures/readings/%s", c->file);
	assert_int_equal(text_load(&text, path, &error), STATUS_OK);
	lines_init(&lines, profile->line_end, profile->gap_ms);
	for (size_t i = 0; i < text.len; i++) {
		assert_int_equal(lines_add(&lines, text.bytes + i, 1, 0), 1);
		while (lines_next(&lines, &line) == FRAMING_LINE) {
			if (profile_match(profile, scratch, line.text, &got) == LINE_READING) {
				assert_true(readings < c->readings);
				assert_near(got.shown.value, c->values[readings], 0);
				readings++;
			} else {
				line_doubt_add(&doubt, line.raw);
				unmatched++;
			}
		}
	}
	assert_int_equal(readings, c->readings);
	assert_int_equal(unmatched, c->unmatched);
	assert_int_equal(lines.nul_count, c->nuls);
	assert_true(slice_equal(lines_pending(&lines), slice_from(c->pending)));
	assert_int_equal(line_doubt_cause(&doubt), c->doubt);
	text_release(&text);
	profile_scratch_free(scratch);
	profile_free(profile);
}

static void freeing_nothing_is_fine(void **state)
{
	(void)state;
	profile_free(NULL);
	profile_scratch_free(NULL);
}

int main(void)
{
	const struct CMUnitTest rest[] = {
		cmocka_unit_test(all_faults_are_told_in_one_go),
		cmocka_unit_test(caret_stands_under_the_place),
		cmocka_unit_test(line_that_is_too_long_is_told),
		cmocka_unit_test(pattern_that_is_too_long_is_told),
		cmocka_unit_test(nul_in_the_file_is_told),
		cmocka_unit_test(group_without_a_meaning_is_warned_of),
		cmocka_unit_test(standards_hold_where_nothing_is_said),
		cmocka_unit_test(every_key_is_taken),
		cmocka_unit_test(all_parts_of_a_line_are_given),
		cmocka_unit_test(damaged_byte_gives_no_other_shape),
		cmocka_unit_test(no_line_holds_up_the_reader),
		cmocka_unit_test(long_line_is_matched_without_machine_code),
		cmocka_unit_test(absent_file_is_a_failure_of_the_system),
		cmocka_unit_test(freeing_nothing_is_fine),
	};
	struct CMUnitTest faults[GIVEN(fault_cases)], matches[GIVEN(match_cases)], templates[GIVEN(template_cases)],
		streams[GIVEN(stream_cases)];

	for (size_t i = 0; i < GIVEN(faults); i++)
		faults[i] = (struct CMUnitTest){ fault_cases[i].name, fault_is_told, NULL, NULL, &fault_cases[i] };
	for (size_t i = 0; i < GIVEN(matches); i++)
		matches[i] = (struct CMUnitTest){ match_cases[i].name, line_is_read_as_told, NULL, NULL,
			                          &match_cases[i] };
	for (size_t i = 0; i < GIVEN(templates); i++)
		templates[i] = (struct CMUnitTest){ template_cases[i].name, template_reads_its_line, NULL, NULL,
			                            &template_cases[i] };
	for (size_t i = 0; i < GIVEN(streams); i++)
		streams[i] = (struct CMUnitTest){ stream_cases[i].name, stream_gives_as_told, NULL, NULL,
			                          &stream_cases[i] };
	return cmocka_run_group_tests(faults, NULL, NULL) + cmocka_run_group_tests(matches, NULL, NULL) +
	       cmocka_run_group_tests(templates, NULL, NULL) + cmocka_run_group_tests(streams, NULL, NULL) +
	       cmocka_run_group_tests(rest, NULL, NULL);
}
