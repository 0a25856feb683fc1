/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "manifest.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define FIXTURES     "fixtures/manifests/"

enum { FAULTS_EXPECTED = 14 };

/* A run with what reading it said. */
struct session {
	struct run *run;
	struct settings settings;
	struct faults faults;
	struct error error;
	enum status status;
};

static void session_start(struct session *session)
{
	*session = (struct session){ .run = run_new(), .faults = FAULTS_INIT };
	assert_non_null(session->run);
	settings_init(&session->settings);
}

static void session_end(struct session *session)
{
	faults_release(&session->faults);
	run_free(session->run);
}

static void read_bytes(struct session *session, const char *bytes, size_t len)
{
	struct text text = { .bytes = malloc(len + 1), .len = len };

	session_start(session);
	assert_non_null(text.bytes);
	memcpy(text.bytes, bytes, len);
	text.bytes[len] = '\0';
	session->status = manifest_read_text(session->run, "papers.csv", &text, &session->settings, &session->faults,
	                                     &session->error);
	assert_null(text.bytes);
}

static void read_string(struct session *session, const char *text)
{
	read_bytes(session, text, strlen(text));
}

/* "2:6 error: what" of the fault at index. */
static void fault_print(char *out, size_t size, const struct faults *faults, size_t index)
{
	const struct fault *fault = &faults->items[index];

	snprintf(out, size, "%u:%u %s: %s", (unsigned int)fault->place.line, (unsigned int)fault->place.column,
	         severity_name(fault->severity), fault->text);
}

/* Each fault is expected, by its beginning, and none is missing. */
static void faults_are(struct session *session, const char *const *expected)
{
	char text[1024];
	size_t i;

	faults_sort(&session->faults);
	for (i = 0; i < session->faults.count; i++) {
		fault_print(text, sizeof(text), &session->faults, i);
		if (!expected[i] || strncmp(text, expected[i], strlen(expected[i])) != 0)
			fail_msg("fault %zu is \"%s\", expected \"%s\"", i, text, expected[i] ? expected[i] : "none");
	}
	if (expected[i])
		fail_msg("no fault \"%s\"", expected[i]);
}

/* "K1 thick 15/250/221.5;" for each brew, "!" behind one without a yield. */
static void brews_are(const struct session *session, const char *expected)
{
	const struct run *run = session->run;
	char text[4096] = "";
	size_t used = 0;

	for (size_t i = 0; i < run->brew_count; i++) {
		const struct brew *brew = &run->brews[i];

		used += (size_t)snprintf(text + used, sizeof(text) - used, "%.*s %.*s %g/%g/%g%s;",
		                         SLICE_ARG(brew->label), SLICE_ARG(run->treatments[brew->treatment].name),
		                         brew->number[BREW_DOSE_G], brew->number[BREW_WATER_G],
		                         brew->number[BREW_BEVERAGE_G], brew->usable ? "" : "!");
	}
	assert_string_equal(text, expected);
}

/* -- files ------------------------------------------------------------------------ */

struct file_case {
	const char *name;
	const char *brews;                   /* "" where the file is refused */
	const char *faults[FAULTS_EXPECTED]; /* beginnings */
};

static const struct file_case file_cases[] = {
	{ "mark-and-crlf.csv",
	  "K1 thick paper 15/250/221.5;K2 thick paper 15.1/250/221;K3 thin paper 15/251/222.4;K4 thin paper "
	  "14.9/250/221.8;",
	  { "5:30 note: sample type \"unfiltered\" gets the factor" } },
	{ "semicolons-decimal-commas.csv",
	  "K1 88 C 15/250/221.5;K2 88 C 15.1/250/221;K3 95 C 22.5/375/331.5;K4 95 C 22.4/375/331.2;",
	  { "2:9 note: the decimal mark of this file is the comma, as in \"15,0\"",
	    "5:24 note: sample type \"unfiltered\"" } },
	{ "utf16le-tabs.txt",
	  "K1 thick 15/250/221.5;K2 thick 15.1/250/221;K3 thin 15/251/222.4;",
	  { "1:0 note: the file is UTF-16LE" } },
	{ "utf16be-no-mark.txt", "K1 thick 15/250/221.5;K2 thin 15.1/250/221;", { "1:0 note: the file is UTF-16BE" } },
	{ "cr-only.csv", "K1 thick 15/250/221.5;K2 thick 15.1/250/221;K3 thin 15/251/222.4;", { NULL } },
	{ "separators-alone.csv",
	  "K1 thick 15/250/221.5;K2 thick 15.1/250/221;K3 thin 15/251/222.4;",
	  { "5:0 note: 40 rows of separators alone, to line 44, and 3 nameless columns without content left out" } },
	{ "header-twice.csv",
	  "",
	  { "1:31 error: header \"dose_g\" of column 5 is the same as \"dose_g\" of column 3; expected each column once; "
	    "nothing of the file is taken" } },
	{ "label-twice-no-break-space.csv",
	  "K1 thick 15/250/221.5;K2 thick 15.1/250/221;K3 thin 15/251/222.4;",
	  { "4:1 note: brew \"K2\" has a no-break space at an end",
	    "4:1 error: brew K2 stands twice, first in line 3; expected each label once; the second is left out" } },
	{ "labels-as-dates.csv",
	  "03-Feb thick 15/250/221.5;4.70E+05 thick 15.1/250/221;Dec-07 thin 15/251/222.4;K4 thin 14.9/250/221.8;",
	  { "2:1 warning: brew \"03-Feb\" looks like a date", "3:1 warning: brew \"4.70E+05\" looks like a number",
	    "4:1 warning: brew \"Dec-07\" looks like a date" } },
	{ "quote-open.csv", "", { "3:32 error: the quote that opens here, in line 3, is not closed" } },
	{ "quote-open-closed-by-another.csv",
	  "",
	  { "3:32 error: the quote that opens here, in line 3, is not closed" } },
	{ "like-formulas.csv",
	  "K1 thick 15/250/221.5;K2 =AVERAGE(C2:C9) 15.1/250/221;K3 thin 15/251/222.4;K4 thin 14.9/250/221.8;K5 thin "
	  "15/250/221.5;K6 thin 15.2/250/221.1;",
	  { NULL } },
	{ "doses-not-numbers.csv",
	  "K1 thick 15/250/221.5;K2 thick nan/250/221.5!;K3 thick nan/250/221.5!;K4 thick nan/250/221.5!;K5 thick "
	  "nan/250/221.5!;K6 thick nan/250/221.5!;K7 thick nan/250/221.5!;K8 thick nan/250/221.5!;K9 thick "
	  "15/250/221.5;K10 thick nan/250/221.5!;K11 thick nan/250/221.5!;K12 thick nan/250/221.5!;K13 thick "
	  "nan/250/221.5!;",
	  { "3:10 error: dose \"NaN\" is not a number; expected grams, such as 18.5; brew K2 gets no yield",
	    "4:10 error: dose \"-inf\" is not a number", "5:10 error: dose \"0x0f\" is not a number",
	    "6:10 error: dose \"2e300\" is not a number", "7:10 error: dose \"15.0.2\" is not a number",
	    "8:10 error: dose \"-15\" is negative; expected grams, such as 18.5; brew K7 gets no yield",
	    "9:10 error: dose is empty; expected grams, such as 18.5; brew K8 gets no yield",
	    "10:10 warning: dose \"15 g\" has its unit in the cell; expected the number alone; taken as that",
	    "11:11 error: dose \"n/a\" is not a number", "12:11 error: dose \"#VALUE!\" is not a number",
	    "13:11 error: dose \"0\" is nothing", "14:11 error: dose \"l5.0\" is not a number" } },
	{ "units-in-header.csv",
	  "K1 thick 15/250/221.5;K2 thin 15.1/251/221;",
	  { "3:26 note: sample type \"Unfiltered\"" } },
	{ "line-breaks-in-notes.csv",
	  "K1 thick 15/250/221.5;K2 thick, rinsed 15.1/250/221;K3 thin nan/251/222.4!;K4 thin nan/250/221.8!;",
	  { "5:9 error: dose \"l5.0\" is not a number", "8:9 error: dose \"15.x\" is not a number" } },
	{ "windows-1252.csv",
	  "K1 thick 15/250/221.5;K2 thick 15.1/250/221;K3 thin 15/251/222.4;",
	  { "2:43 warning: byte 102 of the file is not UTF-8" } },
	{ "sep-line.csv", "K1 thick 15/250/221.5;K2 thin 15.1/250/221;", { NULL } },
	{ "title-above-units-below.csv",
	  "K1 thick 15/250/221.5;K2 thin 15.1/251/221;",
	  { "3:1 note: the header is found in this line, cells separated by comma; 1 line above it is left out",
	    "3:1 note: no sample type for 2 brews, first K1", "4:1 note: this row is taken as the units" } },
	{ "nul-in-cell.csv",
	  "K1 thick 15/250/221.5;K3 thin 15/251/222.4;L0 thin 15/251/222.4;L1 thin 15/251/222.4;L2 thin 15/251/222.4;L3 "
	  "thin 15/251/222.4;L4 thin 15/251/222.4;L5 thin 15/251/222.4;L6 thin 15/251/222.4;L7 thin 15/251/222.4;",
	  { "3:6 error: a NUL byte stands in the cell \"th?ck\"" } },
};

static void file_gives(void **state)
{
	const struct file_case *c = *state;
	char path[256];
	struct session session;

	snprintf(path, sizeof(path), FIXTURES "%s", c->name);
	session_start(&session);
	session.status = manifest_read(session.run, path, &session.settings, &session.faults, &session.error);
	assert_int_equal(session.status, *c->brews ? STATUS_OK : STATUS_REFUSED);
	brews_are(&session, c->brews);
	faults_are(&session, c->faults);
	assert_int_equal(session.run->input_count, 1);
	assert_string_equal(session.run->inputs[0].name, path);
	session_end(&session);
}

static const struct slice *notes_of(const struct session *session, size_t brew)
{
	return &session->run->brews[brew].word[BREW_NOTES];
}

static void notes_read(struct session *session, const char *file)
{
	session_start(session);
	session->status = manifest_read(session->run, file, &session->settings, &session->faults, &session->error);
	assert_int_equal(session->status, STATUS_OK);
}

#define assert_slice(slice, string) assert_true(slice_equal((slice), slice_from(string)))

static void text_is_kept_to_the_letter(void **state)
{
	struct session session;

	(void)state;
	notes_read(&session, FIXTURES "like-formulas.csv");
	assert_slice(*notes_of(&session, 0), "=2*3");
	assert_slice(*notes_of(&session, 1), "+30 ml at the end");
	assert_slice(*notes_of(&session, 2), "-0.4 g lost");
	assert_slice(*notes_of(&session, 3), "@table 4");
	assert_slice(*notes_of(&session, 4), "=run|'/x tool'!B1");
	assert_slice(*notes_of(&session, 5), "=HYPERLINK(\"http://example.invalid/k\",\"k\")");
	session_end(&session);
}

static void line_breaks_within_quotes_are_single(void **state)
{
	struct session session;

	(void)state;
	notes_read(&session, FIXTURES "line-breaks-in-notes.csv");
	assert_slice(*notes_of(&session, 0), "bed cracked;\nlast pour was, again, \"short\"");
	assert_slice(*notes_of(&session, 2), "one\ntwo\nthree");
	session_end(&session);
}

static void no_carriage_return_stays(void **state)
{
	struct session session;

	(void)state;
	notes_read(&session, FIXTURES "mark-and-crlf.csv");
	for (size_t i = 0; i < session.run->column_count; i++)
		for (size_t j = 0; j < session.run->brew_count; j++)
			if (session.run->columns[i].text[j].len > 0)
				assert_null(memchr(session.run->columns[i].text[j].text, '\r',
				                   session.run->columns[i].text[j].len));
	assert_slice(session.run->columns[0].header, "brew");
	session_end(&session);
}

static void other_encodings_become_utf8(void **state)
{
	struct session session;

	(void)state;
	notes_read(&session, FIXTURES "windows-1252.csv");
	assert_slice(*notes_of(&session, 0), "room at 21 \xc2\xb0"
	                                     "C");
	assert_slice(*notes_of(&session, 1), "9 \xc2\xb5m sieve \xe2\x80\x93 new");
	session_end(&session);
	notes_read(&session, FIXTURES "utf16le-tabs.txt");
	assert_slice(*notes_of(&session, 0), "21 \xc2\xb0"
	                                     "C in the room");
	session_end(&session);
}

static void open_quote_names_the_curly_one(void **state)
{
	struct session session;

	(void)state;
	session_start(&session);
	session.status = manifest_read(session.run, FIXTURES "quote-open-closed-by-another.csv", &session.settings,
	                               &session.faults, &session.error);
	assert_int_equal(session.status, STATUS_REFUSED);
	assert_non_null(strstr(session.faults.items[0].text, "a curly quote does not close it"));
	session_end(&session);
}

/* -- texts ------------------------------------------------------------------------- */

#define HEADER "brew,treatment,dose_g,water_g,beverage_g,sample_type,notes\n"
#define NEEDED "brew,treatment,dose_g,water_g\n"

struct text_case {
	const char *name;
	const char *text;
	const char *brews;
	const char *faults[FAULTS_EXPECTED];
};

/* What is told of a header without a sample type is told in these cases too. */
#define NO_TYPE "1:1 note: no sample type"

static const struct text_case text_cases[] = {
	{ "comma in a note without quotes costs the row",
	  HEADER "K1,thick,15,250,221,filter,late, cold\nK2,thick,15,250,221,filter,\n",
	  "K2 thick 15/250/221;",
	  { "2:33 error: the row has 8 cells, the header 7; expected no more than that (a decimal comma" } },
	{ "decimal comma in a comma file costs the row",
	  HEADER "K1,thick,15,5,250,221,filter,late\nK2,thick,15,250,221,filter,x\n",
	  "K2 thick 15/250/221;",
	  { "2:30 error: the row has 8 cells, the header 7" } },
	{ "empty cells too many are nothing", NEEDED "K1,a,15,250,,,\n", "K1 a 15/250/nan;", { NO_TYPE } },
	{ "tail that may be empty left off",
	  HEADER "K1,thick,15,250\n",
	  "K1 thick 15/250/nan;",
	  { "2:0 note: no sample type for 1 brew" } },
	{ "tail with the dose left off",
	  HEADER "K1,thick\nK2,thick,15,250\n",
	  "K1 thick nan/nan/nan!;K2 thick 15/250/nan;",
	  { "2:0 error: dose is empty", "2:0 note: no sample type" } },
	{ "decimal commas in quotes",
	  NEEDED "K1,a,\"15,5\",250\nK2,a,\"16,25\",250\n",
	  "K1 a 15.5/250/nan;K2 a 16.25/250/nan;",
	  { NO_TYPE, "2:6 note: the decimal mark of this file is the comma" } },
	{ "what may be a group is not guessed",
	  NEEDED "K1,a,15.5,250\nK2,a,15.5,\"1,250\"\nK3,a,15.5,\"1,250.5\"\n",
	  "K1 a 15.5/250/nan;K2 a 15.5/nan/nan!;K3 a 15.5/nan/nan!;",
	  { NO_TYPE,
	    "3:11 error: water \"1,250\" can be read as two numbers, since this file's decimal mark is the point; "
	    "expected grams, such as 300; brew K2 gets no yield",
	    "4:11 error: water \"1,250.5\" can be read as two numbers" } },
	{ "groups in a file with decimal commas",
	  "brew;treatment;dose_g;water_g\nK1;a;15,5;250\nK2;a;15,5;1.250\nK3;a;15,5;1.234,5\n",
	  "K1 a 15.5/250/nan;K2 a 15.5/nan/nan!;K3 a 15.5/nan/nan!;",
	  { NO_TYPE, "2:6 note: the decimal mark", "3:11 error: water \"1.250\" can be read as two numbers",
	    "4:11 error: water \"1.234,5\" can be read as two numbers" } },
	{ "both marks: the more frequent is the file's",
	  NEEDED "K1,a,15.5,250\nK2,a,15.2,250\nK3,a,\"15,6\",250\n",
	  "K1 a 15.5/250/nan;K2 a 15.2/250/nan;K3 a nan/250/nan!;",
	  { NO_TYPE,
	    "4:6 warning: numbers with a decimal comma (1, such as \"15,6\") and with a point (2, such as \"15.5\")",
	    "4:6 error: dose \"15,6\" has a decimal comma, but this file has the point" } },
	{ "three decimals alone: the separator tells the custom",
	  "brew;treatment;dose_g;water_g\nK1;a;15,125;250\n",
	  "K1 a 15.125/250/nan;",
	  { NO_TYPE } },
	{ "three decimals with a point between commas",
	  NEEDED "K1,a,15.125,250\n",
	  "K1 a 15.125/250/nan;",
	  { NO_TYPE } },
	{ "mixed line ends",
	  "brew,treatment,dose_g,water_g\rK1,a,15,250\r\nK2,a,15,250\n\rK3,a,l5,250",
	  "K1 a 15/250/nan;K2 a 15/250/nan;K3 a nan/250/nan!;",
	  { NO_TYPE, "5:6 error: dose \"l5\" is not a number" } },
	{ "comment and blank lines",
	  "# made up\n\n" NEEDED "# half way\n   \nK1,a,15,250\n",
	  "K1 a 15/250/nan;",
	  { "3:1 note: no sample type", "4:1 note: 1 comment line left out" } },
	{ "a comment may hold a quote",
	  NEEDED "# the \"late one\nK1,a,15,250\n",
	  "K1 a 15/250/nan;",
	  { NO_TYPE, "2:1 note: 1 comment line left out" } },
	{ "a row that begins with # is told",
	  NEEDED "#1,a,15,250\n\"#2\",a,15,250\n",
	  "#2 a 15/250/nan;",
	  { NO_TYPE, "2:1 warning: \"#1,a,15,250\" begins with # and is taken as a comment" } },
	{ "no label, no treatment",
	  NEEDED ",a,15,250\nK2,,15,250\nK3, ,15,250\nK4,a,15,250\n",
	  "K4 a 15/250/nan;",
	  { NO_TYPE, "2:1 error: the row has no label", "3:4 error: brew K2 has no treatment",
	    "4:4 error: brew K3 has no treatment" } },
	{ "a label left out with its row can come again",
	  NEEDED "K1,,15,250\nK1,a,15,250\n",
	  "K1 a 15/250/nan;",
	  { NO_TYPE, "2:4 error: brew K1 has no treatment" } },
	{ "zeros in front make another label",
	  NEEDED "1,a,15,250\n01,a,15,250\n",
	  "1 a 15/250/nan;01 a 15/250/nan;",
	  { NO_TYPE } },
	{ "labels that differ in case",
	  NEEDED "A1,a,15,250\na1,a,15,250\nA1,a,15,250\n",
	  "A1 a 15/250/nan;a1 a 15/250/nan;",
	  { NO_TYPE, "3:1 warning: brew a1 differs only in letter case from A1 in line 2",
	    "4:1 error: brew A1 stands twice" } },
	{ "labels that differ in code points only",
	  NEEDED "Caf\xc3\xa9,a,15,250\nCafe\xcc\x81,a,15,250\n",
	  "Caf\xc3\xa9 a 15/250/nan;",
	  { NO_TYPE, "3:1 error: brew Cafe\xcc\x81 stands twice, first in line 2, written with other characters" } },
	{ "characters that do not show",
	  NEEDED "K\xe2\x80\x8b"
	         "1,a\xe2\x80\x8f,15,250\nK1,a,15,250\n",
	  "K\xe2\x80\x8b"
	  "1 a 15/250/nan;",
	  { NO_TYPE,
	    "2:1 warning: brew \"K\xe2\x80\x8b"
	    "1\" has the character U+200B in it, which does not show",
	    "2:5 warning: treatment \"a\xe2\x80\x8f\" has the character U+200F", "3:1 error: brew K1 stands twice" } },
	{ "treatments that are likely one",
	  NEEDED "K1,paper A,15,250\nK2,Paper  A,15,250\nK3,paper\xc2\xa0"
	         "A,15,250\nK4,paper A ,15,250\n",
	  "K1 paper A 15/250/nan;K2 Paper  A 15/250/nan;K3 paper\xc2\xa0"
	  "A 15/250/nan;K4 paper A 15/250/nan;",
	  { NO_TYPE, "3:4 warning: treatment \"Paper  A\" differs from \"paper A\" only in letter case or blanks",
	    "4:4 warning: treatment \"paper\xc2\xa0"
	    "A\" differs from \"paper A\"",
	    "4:4 warning: treatment \"paper\xc2\xa0"
	    "A\" differs from \"Paper  A\"" } },
	{ "treatments turned into dates",
	  NEEDED "K1,01-Feb,15,250\nK2,2026-03-01,15,250\n",
	  "K1 01-Feb 15/250/nan;K2 2026-03-01 15/250/nan;",
	  { NO_TYPE, "2:4 warning: treatment \"01-Feb\" looks like a date",
	    "3:4 warning: treatment \"2026-03-01\" looks like a date" } },
	{ "neither water nor beverage",
	  HEADER "K1,a,15,,,filter,\nK2,a,15,-,N/A,filter,\nK3,a,15,,221,filter,\n",
	  "K1 a 15/nan/nan!;K2 a 15/nan/nan!;K3 a 15/nan/221;",
	  { "2:1 error: brew K1 has no water and no beverage", "3:1 error: brew K2 has no water and no beverage",
	    "3:9 note: water \"-\" is taken as not given", "3:11 note: beverage \"N/A\" is taken as not given" } },
	{ "a bad beverage costs the yield, bad water does not",
	  HEADER "K1,a,15,250,22l,filter,\nK2,a,15,25o,221,filter,\n",
	  "K1 a 15/250/nan!;K2 a 15/nan/221;",
	  { "2:13 error: beverage \"22l\" is not a number; expected grams, such as 264.0; brew K1 gets no yield",
	    "3:9 error: water \"25o\" is not a number; expected grams, such as 300; the cell is left out" } },
	{ "unknown sample type",
	  HEADER "K1,a,15,250,221,soup,\n",
	  "K1 a 15/250/221!;",
	  { "2:17 error: sample type \"soup\" is not known; expected one of filter, espresso, sucrose, water, or a type" } },
	{ "unit of another kind in a cell",
	  NEEDED "K1,a,15 ml,250 ml\nK2,a,0.5 oz,0.25 kg\nK3,a,15 scoops,250g\nK4,a,15,300 g\n",
	  "K1 a nan/250/nan!;K2 a 14.1748/250/nan;K3 a nan/250/nan!;K4 a 15/300/nan;",
	  { NO_TYPE, "2:6 error: dose \"15 ml\" is in \"ml\"; expected grams",
	    "2:12 warning: water \"250 ml\" is in another unit", "2:12 note: water \"250 ml\" is a volume",
	    "3:6 warning: dose \"0.5 oz\" is in another unit than its column; "
	    "expected g; taken as 14.1748 g",
	    "3:13 warning: water \"0.25 kg\" is in another unit than its column; expected g; taken as 250 g",
	    "4:6 error: dose \"15 scoops\" is in \"scoops\"",
	    "4:16 warning: water \"250g\" has its unit in the cell; expected the number alone; taken as that; so are 1 more" } },
	{ "a whole column in other units",
	  "brew,treatment,dose (oz),water (lb),beverage (ml)\nK1,a,0.5,0.5,200\nK2,a,x,0.5,200\n",
	  "K1 a 14.1748/226.796/200;K2 a nan/226.796/200!;",
	  { NO_TYPE, "2:14 note: beverage \"200\" is a volume; 1 ml is taken as 1 g",
	    "3:6 error: dose \"x\" is not a number; "
	    "expected a number in oz; brew K2 gets no yield" } },
	{ "no units at all",
	  "cup\ttreatment\tdose\twater\ttime_min\nK1\ta\t15\t250\t3\n",
	  "K1 a 15/250/nan;",
	  { "1:1 note: no unit in the header for dose in g, water in g", NO_TYPE } },
	{ "bars between cells", "brew|treatment|dose_g|water_g\nK1|a|15|250\n", "K1 a 15/250/nan;", { NO_TYPE } },
	{ "the header again",
	  NEEDED "K1,a,15,250\nbrew,treatment,dose_g,water_g\n",
	  "K1 a 15/250/nan;",
	  { NO_TYPE, "3:1 warning: the header stands here again" } },
	{ "text behind a closing quote",
	  NEEDED "\"K1\" x,a,15,250\n",
	  "\"K1\" x a 15/250/nan;",
	  { NO_TYPE, "2:1 warning: text stands behind the closing quote of \"K1\" x" } },
	{ "more beverage than water, less water than coffee",
	  HEADER "K1,a,15,250,251,filter,\nK2,a,250,15,14,filter,\n",
	  "K1 a 15/250/251;K2 a 250/15/14;",
	  { "2:13 warning: brew K1 has more beverage than water",
	    "3:10 warning: brew K2 has less water than coffee" } },
	{ "hardly possible",
	  HEADER "K1,a,600,9000,8000,filter,\nK2,a,0.5,8,4,filter,\n",
	  "K1 a 600/9000/8000;K2 a 0.5/8/4;",
	  { "2:6 warning: dose of brew K1 is 600 g; expected 1 to 500 g; used all the same",
	    "3:6 warning: dose of brew K2 is 0.5 g", "3:10 warning: water of brew K2 is 8 g",
	    "3:12 warning: beverage of brew K2 is 4 g" } },
	{ "content under no name",
	  "brew,treatment,dose_g,water_g,,\nK1,a,15,250,x,\nK2,a,15,250,y,\n",
	  "K1 a 15/250/nan;K2 a 15/250/nan;",
	  { "1:1 note: 1 nameless column without content", NO_TYPE,
	    "2:13 warning: \"x\" stands in a column without a name; expected a header for it; kept as \"column 5\"; so are 1 "
	    "more cells" } },
	{ "two spellings of a word column",
	  "name,brew,treatment,dose_g,water_g\nthe first,K1,a,15,250\n",
	  "K1 a 15/250/nan;",
	  { "1:1 note: \"name\" could mean brew too, but \"brew\" does", NO_TYPE } },
	{ "a bloom time is a column of its own",
	  "brew,treatment,dose_g,water_g,bloom_s\nK1,a,15,250,30\n",
	  "K1 a 15/250/nan;",
	  { NO_TYPE, "1:31 note: bloom is in \"s\"; expected g" } },
	{ "moisture in a unit that is not converted",
	  "brew,treatment,dose_g,water_g,moisture (class)\nK1,a,15,250,2\n",
	  "K1 a 15/250/nan;",
	  { NO_TYPE, "1:31 error: moisture is in \"class\"; expected %; the column is kept, but not as moisture" } },
	/* refused */
	{ "empty", "", "", { "0:0 error: the file is empty" } },
	{ "blank", " \n\r\n\t\n", "", { "0:0 error: the file is empty" } },
	{ "comments alone", "# one\n# two\n", "", { "1:1 error: no header found" } },
	{ "header alone", NEEDED, "", { "1:1 error: no brew is left of the rows below this header" } },
	{ "prose",
	  "\n\nDear all,\nthe cups are ready.\n",
	  "",
	  { "3:1 error: no header found; expected a line that names the "
	    "columns brew, treatment, dose, and water or beverage; found "
	    "\"Dear all,\"" } },
	{ "all that is missing at once",
	  "brew,colour\nK1,red\n",
	  "",
	  { "1:1 error: no column for the treatment",
	    "1:1 error: no column for the dose; expected a header such as dose_g or "
	    "\"Dose (g)\"; found \"brew\", \"colour\"; nothing of the file is taken",
	    "1:1 error: no column for water or beverage" } },
	{ "no label column",
	  "treatment,dose_g,water_g\na,15,250\n",
	  "",
	  { "1:1 error: no column for the brew's label" } },
	{ "headers that fold to one",
	  "brew,treatment,dose_g,Dose (g),water_g\nK1,a,15,15,250\n",
	  "",
	  { "1:23 error: header \"Dose (g)\" of column 4 is the same as \"dose_g\" of column 3" } },
	{ "two spellings of a mass",
	  "brew,treatment,dose_g,coffee_g,water_g\nK1,a,15,16,250\n",
	  "",
	  { "1:23 error: header \"coffee_g\" of column 4 and \"dose_g\" of column 3 both mean dose" } },
	{ "dose in a unit that is not converted",
	  "brew,treatment,Dose (scoops),water_g\nK1,a,2,250\n",
	  "",
	  { "1:1 error: no column for the dose", "1:16 error: dose is in \"scoops\"; expected g, kg, mg, oz, lb" } },
	{ "a column by itself would not be a mass",
	  "brew,treatment,dose (ml),water (C)\nK1,a,15,90\n",
	  "",
	  { "1:1 error: no column for the dose", "1:1 error: no column for water or beverage",
	    "1:16 error: dose is in \"ml\"; expected g, kg, mg, oz, lb; the column is kept, but not as dose",
	    "1:26 error: water is in \"C\"; expected g, kg, mg, oz, lb, ml, l" } },
	{ "temperature, time and order in no unit of theirs",
	  "brew,treatment,dose_g,water_g,water temp (R),brew time (ticks),order (rank),moisture (g),type\n"
	  "K1,a,15,250,1,2,3,4,filter\n",
	  "K1 a 15/250/nan;",
	  { "1:31 error: water temp is in \"R\"; expected \xc2\xb0"
	    "C, \xc2\xb0"
	    "F, K",
	    "1:46 error: brew time is in \"ticks\"; expected s, min, min:s, h",
	    "1:64 error: order is in \"rank\"; expected no unit", "1:77 note: moisture is in \"g\"; expected %" } },
	{ "titles above semicolons, units in brackets below",
	  "Papers\nMarch\nbrew;treatment;dose;water\n-;;[g];(kg)\nK1;a;15;0,25\n",
	  "K1 a 15/250/nan;",
	  { "3:1 note: the header is found in this line, cells separated by semicolon; 2 lines above it are left out",
	    "3:1 note: no sample type", "4:1 note: this row is taken as the units",
	    "5:9 note: the decimal mark of this file is the comma" } },
	{ "title above tabs",
	  "Papers\nbrew\ttreatment\tdose_g\twater_g\nK1\ta\t15\t250\n",
	  "K1 a 15/250/nan;",
	  { "2:1 note: the header is found in this line, cells separated by tab", "2:1 note: no sample type" } },
	{ "title above bars",
	  "Papers\nbrew|treatment|dose_g|water_g\nK1|a|15|250\n",
	  "K1 a 15/250/nan;",
	  { "2:1 note: the header is found in this line, cells separated by bar", "2:1 note: no sample type" } },
	{ "separator line in quotes",
	  "\"sep=;\"\nbrew;treatment;dose_g;water_g\nK1;a;15;250\n",
	  "K1 a 15/250/nan;",
	  { "2:1 note: no sample type" } },
	{ "separator line with something else",
	  "sep=x\nbrew;treatment;dose_g;water_g\nK1;a;15;250\n",
	  "K1 a 15/250/nan;",
	  { "2:1 note: the header is found in this line", "2:1 note: no sample type" } },
	{ "units row against the header",
	  "brew,treatment,dose_g,water_g\n,,oz,g\nK1,a,15,250\n",
	  "",
	  { "1:1 error: no column for the dose", "2:1 note: this row is taken as the units",
	    "2:3 error: unit \"oz\" stands under the header \"dose_g\"" } },
};

static void text_gives(void **state)
{
	const struct text_case *c = *state;
	struct session session;

	read_string(&session, c->text);
	brews_are(&session, c->brews);
	faults_are(&session, c->faults);
	assert_int_equal(session.status, *c->brews ? STATUS_OK : STATUS_REFUSED);
	if (session.status == STATUS_REFUSED)
		assert_string_equal(session.error.text, "papers.csv: no brew could be read");
	session_end(&session);
}

/* -- every column ------------------------------------------------------------------- */

static void every_number_is_converted(void **state)
{
	struct session session;
	const struct brew *brew;

	(void)state;
	read_string(
		&session,
		"brew,treatment,dose_g,water_g,beverage_g,bypass (ml),moisture %,sample_g,diluent_g,order,water temp (F),"
		"bloom,brew time (min)\n"
		"K1,a,15,250,221,20,1.5,2,8,3,200,45,3.5\n"
		"K2,a,15,250,221,,,,,,95 \xc2\xb0"
		"C,,3:05\n");
	assert_int_equal(session.status, STATUS_OK);
	brew = &session.run->brews[0];
	assert_near(brew->number[BREW_BYPASS_G], 20, 0);
	assert_near(brew->number[BREW_MOISTURE_PERCENT], 1.5, 0);
	assert_near(brew->number[BREW_SAMPLE_G], 2, 0);
	assert_near(brew->number[BREW_DILUENT_G], 8, 0);
	assert_near(brew->number[BREW_ORDER], 3, 0);
	assert_near(brew->number[BREW_TEMP_C], 93.333333333333333, 1e-12); /* (200 - 32) * 5 / 9 */
	assert_near(brew->number[BREW_BLOOM_G], 45, 0);
	assert_near(brew->number[BREW_TIME_S], 210, 0);
	assert_near(session.run->brews[1].number[BREW_TEMP_C], 95, 0);
	assert_near(session.run->brews[1].number[BREW_TIME_S], 185, 0);
	assert_true(isnan(session.run->brews[1].number[BREW_SAMPLE_G]));
	/* columns keep the unit of their header */
	assert_near(session.run->columns[10].number[0], 200, 1e-12);
	assert_near(session.run->columns[10].number[1], 203, 1e-12);
	assert_near(session.run->columns[12].number[1], 185.0 / 60, 1e-12);
	assert_int_equal(session.run->columns[12].decimals, 1);
	session_end(&session);
}

static void every_word_is_kept(void **state)
{
	struct session session;
	const struct brew *brew;

	(void)state;
	read_string(
		&session,
		"Cup,Group,Coffee dose (g),Water (g),Block,Type,Grind,Scale,Server,Operator,Remarks,Method,Brewed at,"
		"Read from,Read to\n"
		"K1,a,15,250,2,espresso,24 clicks,S1,jug 1,me,good,Steep,2026-03-01 10:15,10:30,10:31:30\n"
		"K2,a,15,250,2,Filtered,,,,,,drip,,,\n");
	assert_int_equal(session.status, STATUS_OK);
	brew = &session.run->brews[0];
	assert_slice(brew->word[BREW_BLOCK], "2");
	assert_slice(brew->word[BREW_TYPE], "espresso");
	assert_slice(brew->word[BREW_GRIND], "24 clicks");
	assert_slice(brew->word[BREW_SCALE], "S1");
	assert_slice(brew->word[BREW_SERVER], "jug 1");
	assert_slice(brew->word[BREW_OPERATOR], "me");
	assert_slice(brew->word[BREW_NOTES], "good");
	assert_int_equal(brew->method, METHOD_IMMERSION);
	assert_true(brew->usable);
	assert_true(brew->brewed_us == INT64_C(1772360100000000)); /* 2026-03-01 10:15 UTC */
	assert_true(brew->read_from_us == INT64_C(37800000000));
	assert_true(brew->read_to_us == INT64_C(37890000000));
	assert_near(brew->type_factor, 0.85, 0);
	assert_int_equal(session.run->brews[1].method, METHOD_PERCOLATION);
	assert_true(session.run->brews[1].brewed_us == READING_NO_TIME);
	assert_int_equal(session.faults.count, 0);
	session_end(&session);
}

/* Of from and to one may lack its date; past midnight the end is on the day after. */
static void times_of_reading_date_each_other(void **state)
{
	const int64_t day_us = INT64_C(1772323200000000); /* 2026-03-01 00:00 UTC, by date -d */
	const int64_t minute_us = 60 * INT64_C(1000000);
	struct session session;
	const struct brew *brews;

	(void)state;
	read_string(&session, "brew,treatment,dose_g,water_g,sample_type,read_from,read_to\n"
	                      "K1,a,15,250,filter,2026-03-01 10:10,10:15\n"
	                      "K2,a,15,250,filter,10:10,2026-03-01 10:15\n"
	                      "K3,a,15,250,filter,23:50,2026-03-01 00:05\n"
	                      "K4,a,15,250,filter,2026-03-01 23:50,00:05\n"
	                      "K5,a,15,250,filter,23:50,00:05\n");
	brews = session.run->brews;
	assert_int_equal(session.faults.count, 0);
	for (size_t i = 0; i < 2; i++) {
		assert_true(brews[i].read_from_us == day_us + 610 * minute_us);
		assert_true(brews[i].read_to_us == day_us + 615 * minute_us);
	}
	assert_true(brews[2].read_from_us == day_us - 10 * minute_us);
	assert_true(brews[2].read_to_us == day_us + 5 * minute_us);
	assert_true(brews[3].read_from_us == day_us + 1430 * minute_us);
	assert_true(brews[3].read_to_us == day_us + 1445 * minute_us);
	assert_true(brews[4].read_from_us == 1430 * minute_us);
	assert_true(brews[4].read_to_us == 1445 * minute_us);
	session_end(&session);
}

static void optional_cells_are_checked(void **state)
{
	struct session session;
	static const char *const expected[] = {
		"2:13 error: moisture \"100\" leaves no coffee; expected per cent of the dose, such as 1.5; the cell is left out",
		"2:17 error: order \"1.5\" is not whole",
		"2:21 error: water temp \"200\" is above boiling (93.3 \xc2\xb0"
		"C if \xc2\xb0"
		"F was meant)",
		"2:25 error: brew time \"3:75\" is not a number; expected seconds or min:s",
		"2:30 error: brewed at \"yesterday\" is not a moment",
		"3:13 warning: moisture of brew K2 is 25 %",
		"3:16 error: order \"-1\" is negative",
		"3:19 error: water temp \"-3\" is no temperature of liquid water",
		"3:22 warning: brew time of brew K2 is 12600 s, more than an hour",
		"4:26 error: the readings of brew K3 end before they begin",
		"5:13 warning: moisture of brew K4 is 0.015 %",
		NULL,
	};

	(void)state;
	read_string(&session,
	            "brew,treatment,dose_g,water_g,moisture_percent,order,water_temp_c,brew_time_s,brewed_at,read_from,"
	            "read_to,sample_type\n"
	            "K1,a,15,250,100,1.5,200,3:75,yesterday,,,filter\n"
	            "K2,a,15,250,25,-1,-3,03:30:00,,,,filter\n"
	            "K3,a,15,250,,,93,,,10:00,09:00,filter\n"
	            "K4,a,15,250,0.015,2,93,,,,,filter\n");
	faults_are(&session, expected);
	brews_are(&session, "K1 a 15/250/nan;K2 a 15/250/nan;K3 a 15/250/nan;K4 a 15/250/nan;");
	assert_true(isnan(session.run->brews[0].number[BREW_TEMP_C]));
	assert_true(session.run->brews[2].read_from_us == READING_NO_TIME);
	session_end(&session);
}

static void dilution_needs_both_masses(void **state)
{
	struct session session;
	static const char *const expected[] = {
		"2:13 error: brew K1 has a sample mass but no diluent mass; expected both or neither; brew K1 gets no yield",
		"3:14 error: brew K2 has a diluent mass but no sample mass",
		"5:15 error: diluent mass \"8x\" is in \"x\"; expected grams, such as 8.00; brew K4 gets no yield",
		"7:13 error: sample mass \"0\" is nothing",
		NULL,
	};

	(void)state;
	read_string(&session, "brew,treatment,dose_g,water_g,sample_g,diluent_g,type\n"
	                      "K1,a,15,250,2,,filter\nK2,a,15,250,,8,filter\nK3,a,15,250,,0,filter\n"
	                      "K4,a,15,250,2,8x,filter\nK5,a,15,250,2,8,filter\nK6,a,15,250,0,8,filter\n");
	faults_are(&session, expected);
	brews_are(&session, "K1 a 15/250/nan!;K2 a 15/250/nan!;K3 a 15/250/nan;K4 a 15/250/nan!;K5 a 15/250/nan;K6 a "
	                    "15/250/nan!;");
	session_end(&session);
}

static void immersion_needs_water(void **state)
{
	struct session session;
	static const char *const expected[] = {
		"2:1 error: brew K1 has no water, which an immersion is balanced by",
		"3:21 error: beverage \"2x1\" is not a number; expected grams, such as 264.0; the cell is left out",
		"4:20 error: bypass \"-5\" is negative; expected grams, such as 50; brew K3 gets no yield",
		"5:6 error: method \"magic\" is not known; expected percolation",
		NULL,
	};

	(void)state;
	read_string(&session, "brew,treatment,method,dose_g,water_g,beverage_g,bypass_g,type\n"
	                      "K1,a,cupping,15,,221,,filter\nK2,a,cupping,15,250,2x1,,filter\n"
	                      "K3,a,press,15,250,,-5,filter\nK4,a,magic,15,250,221,,filter\n");
	faults_are(&session, expected);
	brews_are(&session, "K1 a 15/nan/221!;K2 a 15/250/nan;K3 a 15/250/nan!;K4 a 15/250/221!;");
	session_end(&session);
}

static void bloom_belongs_to_the_water(void **state)
{
	struct session session;
	static const char *const expected[] = { "2:13 warning: bloom of brew K1 is 300 g, more than its water of 250 g",
		                                NULL };

	(void)state;
	read_string(&session, "brew,treatment,dose_g,water_g,bloom_g,type\nK1,a,15,250,300,filter\n");
	faults_are(&session, expected);
	session_end(&session);
}

static void settings_add_sample_types(void **state)
{
	struct text text = { .bytes = strdup(HEADER "K1,a,15,250,221,cold brew,\n") };
	struct session session;

	(void)state;
	session_start(&session);
	text.len = strlen(text.bytes);
	assert_int_equal(settings_set_type(&session.settings, SLICE_OF("cold brew"), SLICE_OF("0.83"), &session.error),
	                 STATUS_OK);
	session.status = manifest_read_text(session.run, "runs/papers.test.csv", &text, &session.settings,
	                                    &session.faults, &session.error);
	assert_int_equal(session.status, STATUS_OK);
	assert_near(session.run->brews[0].type_factor, 0.83, 0);
	assert_slice(session.run->name, "papers.test");
	session_end(&session);
}

/* -- columns that are not ours ------------------------------------------------------ */

static const struct column *column_named(const struct session *session, const char *name)
{
	for (size_t i = 0; i < session->run->column_count; i++)
		if (slice_equal(session->run->columns[i].name, slice_from(name)))
			return &session->run->columns[i];
	fail_msg("no column \"%s\"", name);
	return NULL;
}

static void other_columns_are_kept(void **state)
{
	struct session session;
	static const char *const expected[] = {
		"1:81 warning: \"mostly\" has numbers in 3 cells but not in 1, first \"x\" of brew K2; expected numbers in all",
		NULL,
	};
	const struct column *column;

	(void)state;
	read_string(&session, "brew,treatment,dose_g,water_g,type,filter thickness (mm),paper colour,lot,empty,mostly\n"
	                      "K1,a,15,250,filter,0.21,white,07,,1\nK2,a,15,250,filter,0.205,brown,,,x\n"
	                      "K3,a,15,250,filter,,,N/A,,2\nK4,a,15,250,filter,-1,white,8,,3\n");
	faults_are(&session, expected);
	column = column_named(&session, "filter thickness");
	assert_slice(column->unit, "mm");
	assert_slice(column->header, "filter thickness (mm)");
	assert_true(column->numeric);
	assert_int_equal(column->known, -1);
	assert_int_equal(column->decimals, 3);
	assert_near(column->number[1], 0.205, 0);
	assert_true(isnan(column->number[2]));
	assert_near(column->number[3], -1, 0);
	column = column_named(&session, "paper colour");
	assert_false(column->numeric);
	assert_null(column->number);
	assert_slice(column->text[1], "brown");
	assert_true(column_named(&session, "lot")->numeric);
	assert_slice(column_named(&session, "lot")->text[0], "07");
	assert_true(column_named(&session, "empty")->empty);
	assert_false(column_named(&session, "empty")->numeric);
	assert_false(column_named(&session, "mostly")->numeric);
	assert_int_equal(column_named(&session, "dose")->known, COLUMN_NUMBER + BREW_DOSE_G);
	assert_int_equal(column_named(&session, "sample type")->known, COLUMN_WORD + BREW_TYPE);
	assert_int_equal(column_named(&session, "brew")->known, COLUMN_BREW);
	session_end(&session);
}

static void cells_stay_with_their_brew(void **state)
{
	struct session session;
	const struct column *column;

	(void)state;
	read_string(&session, "brew,treatment,dose_g,water_g,width,type\nK1,a,15,250,1,filter\nK1,a,15,250,2,filter\n"
	                      "K3,a,15,250,3,filter,x\n,a,15,250,4,filter\nK5,b,15,250,5,filter\n");
	column = column_named(&session, "width");
	assert_int_equal(session.run->brew_count, 2);
	assert_near(column->number[1], 5, 0);
	assert_slice(column->text[1], "5");
	assert_int_equal(session.run->treatment_count, 2);
	assert_int_equal(session.run->treatments[0].brews, 1);
	session_end(&session);
}

static void words_throughout_are_no_fault(void **state)
{
	static char text[4096];
	size_t used = (size_t)snprintf(text, sizeof(text), "brew,treatment,dose_g,water_g,type,lot\n");
	struct session session;

	(void)state;
	for (int i = 0; i < 40; i++)
		used += (size_t)snprintf(text + used, sizeof(text) - used, "K%d,a,15,250,filter,lot %d\n", i, i);
	read_string(&session, text);
	assert_int_equal(session.faults.count, 0);
	assert_false(column_named(&session, "lot")->numeric);
	session_end(&session);
}

static void mark_shows_in_other_columns(void **state)
{
	struct session session;

	(void)state;
	read_string(&session, "brew\ttreatment\tdose_g\twater_g\ttype\twidth\nK1\ta\t15\t250\tfilter\t1,5\n");
	assert_near(column_named(&session, "width")->number[0], 1.5, 0);
	session_end(&session);
}

/* -- the hostile -------------------------------------------------------------------- */

static void missing_file_is_told(void **state)
{
	struct session session;

	(void)state;
	session_start(&session);
	assert_int_equal(manifest_read(session.run, FIXTURES "no-such-file.csv", &session.settings, &session.faults,
	                               &session.error),
	                 STATUS_IO);
	assert_string_equal(session.error.text, FIXTURES "no-such-file.csv: No such file or directory");
	session_end(&session);
}

static void binary_file_is_refused(void **state)
{
	static const char bytes[] = "\x7f"
				    "ELF\2\1\1\0\0\0\0\0\0\0\0\0\3\0>\0\1\0\0\0brew,treatment,dose,water\n";
	static const char *const expected[] = { "1:8 error: the file is not text: 14 of its 50 bytes are NUL", NULL };
	struct session session;

	(void)state;
	read_bytes(&session, bytes, sizeof(bytes) - 1);
	assert_int_equal(session.status, STATUS_REFUSED);
	faults_are(&session, expected);
	session_end(&session);
}

/* The same on every run: xorshift64 from a fixed start. */
static void random_bytes_end(void **state)
{
	enum { LEN = 1000000 };
	char *bytes = malloc(LEN);
	uint64_t x = 88172645463325252u;

	(void)state;
	assert_non_null(bytes);
	for (int with_header = 0; with_header < 2; with_header++) {
		struct session session;

		for (size_t i = 0; i < LEN; i++) {
			x ^= x << 13;
			x ^= x >> 7;
			x ^= x << 17;
			bytes[i] = (char)(x >> 32);
		}
		if (with_header)
			memcpy(bytes, NEEDED "K1,a,15,250\n", strlen(NEEDED "K1,a,15,250\n"));
		read_bytes(&session, bytes, LEN);
		assert_true(session.faults.errors > 0);
		session_end(&session);
	}
	free(bytes);
}

static void long_line_is_bounded(void **state)
{
	enum { LEN = 8 << 20 };
	static const char fillers[] = { 'x', ',', '"', '\n', '1', ';' };
	char *bytes = malloc(LEN);

	(void)state;
	assert_non_null(bytes);
	for (size_t i = 0; i < 2 * sizeof(fillers); i++) {
		struct session session;

		memset(bytes, fillers[i / 2], LEN);
		if (i % 2)
			memcpy(bytes, NEEDED "K1,a,15,250", strlen(NEEDED "K1,a,15,250"));
		read_bytes(&session, bytes, LEN);
		assert_true(session.faults.count < 10);
		assert_true(session.run->brew_count <= 1);
		session_end(&session);
	}
	free(bytes);
}

static void columns_without_end_are_bounded(void **state)
{
	enum { LEN = 60000 };
	char *bytes = malloc(LEN + 100);
	struct session session;

	(void)state;
	assert_non_null(bytes);
	memset(bytes, ',', LEN);
	memcpy(bytes, "brew,treatment,dose_g,water_g", 29);
	strcpy(bytes + LEN, "\nK1,a,15,250\n");
	read_string(&session, bytes);
	brews_are(&session, "K1 a 15/250/nan;");
	assert_int_equal(session.run->column_count, 4);
	session_end(&session);
	free(bytes);
}

static void many_faults_are_counted(void **state)
{
	enum { ROWS = 12000, ROOM = ROWS * 32 };
	char *text = malloc(ROOM);
	size_t used = (size_t)snprintf(text, ROOM, "brew,treatment,dose_g,water_g,type\n");
	struct session session;

	(void)state;
	for (int i = 0; i < ROWS; i++)
		used += (size_t)snprintf(text + used, ROOM - used, "K%d,a,l5,250,filter\n", i);
	read_string(&session, text);
	assert_int_equal(session.status, STATUS_OK);
	assert_int_equal(session.run->brew_count, ROWS);
	assert_int_equal(session.faults.errors, ROWS);
	assert_int_equal(session.faults.count, FAULTS_KEPT);
	session_end(&session);
	free(text);
}

static void many_treatments_are_told_apart(void **state)
{
	enum { ROWS = 3000, ROOM = ROWS * 32 };
	char *text = malloc(ROOM);
	size_t used = (size_t)snprintf(text, ROOM, "brew,treatment,dose_g,water_g,type\n");
	struct session session;

	(void)state;
	for (int i = 0; i < ROWS; i++)
		used += (size_t)snprintf(text + used, ROOM - used, "K%d,paper %d,15,250,filter\n", i, i / 2);
	read_string(&session, text);
	assert_int_equal(session.run->treatment_count, ROWS / 2);
	for (size_t i = 0; i < ROWS; i++)
		assert_int_equal(session.run->brews[i].treatment, i / 2);
	session_end(&session);
	free(text);
}

/* -- treatments by name --------------------------------------------------------------- */

static void treatments_are_found(void **state)
{
	struct session session;
	uint32_t index = 99;

	(void)state;
	read_string(&session, "brew,treatment,dose_g,water_g,type\nK1,Paper A,15,250,filter\nK2,paper b,15,250,filter\n"
	                      "K3,Paper B,15,250,filter\n");
	session.faults.warnings = 0;
	session.faults.count = 0;
	assert_true(manifest_find_treatment(&index, session.run, SLICE_OF("Paper A"), &session.faults));
	assert_int_equal(index, 0);
	assert_int_equal(session.faults.count, 0);
	assert_true(manifest_find_treatment(&index, session.run, SLICE_OF(" Paper B "), &session.faults));
	assert_int_equal(index, 2);
	assert_int_equal(session.faults.count, 0);
	assert_true(manifest_find_treatment(&index, session.run, SLICE_OF("paper  a"), &session.faults));
	assert_int_equal(index, 0);
	assert_int_equal(session.faults.count, 1);
	assert_string_equal(session.faults.items[0].text, "treatment \"paper  a\" is taken as \"Paper A\"");
	assert_false(manifest_find_treatment(&index, session.run, SLICE_OF("PAPER B"), &session.faults));
	assert_string_equal(session.faults.items[1].text,
	                    "more than one treatment is called \"PAPER B\"; expected one of "
	                    "\"Paper A\", \"paper b\", \"Paper B\"");
	assert_false(manifest_find_treatment(&index, session.run, SLICE_OF("cloth"), &session.faults));
	assert_string_equal(session.faults.items[2].text,
	                    "no treatment is called \"cloth\"; expected one of \"Paper A\", "
	                    "\"paper b\", \"Paper B\"");
	assert_int_equal(session.faults.errors, 2);
	assert_int_equal(index, 0);
	session_end(&session);
}

static void no_treatment_is_in_an_empty_run(void **state)
{
	struct session session;
	uint32_t index;

	(void)state;
	session_start(&session);
	assert_false(manifest_find_treatment(&index, session.run, SLICE_OF("x"), &session.faults));
	session_end(&session);
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(text_is_kept_to_the_letter),
		cmocka_unit_test(line_breaks_within_quotes_are_single),
		cmocka_unit_test(no_carriage_return_stays),
		cmocka_unit_test(other_encodings_become_utf8),
		cmocka_unit_test(open_quote_names_the_curly_one),
		cmocka_unit_test(every_number_is_converted),
		cmocka_unit_test(every_word_is_kept),
		cmocka_unit_test(optional_cells_are_checked),
		cmocka_unit_test(times_of_reading_date_each_other),
		cmocka_unit_test(dilution_needs_both_masses),
		cmocka_unit_test(immersion_needs_water),
		cmocka_unit_test(bloom_belongs_to_the_water),
		cmocka_unit_test(settings_add_sample_types),
		cmocka_unit_test(other_columns_are_kept),
		cmocka_unit_test(cells_stay_with_their_brew),
		cmocka_unit_test(words_throughout_are_no_fault),
		cmocka_unit_test(mark_shows_in_other_columns),
		cmocka_unit_test(missing_file_is_told),
		cmocka_unit_test(binary_file_is_refused),
		cmocka_unit_test(random_bytes_end),
		cmocka_unit_test(long_line_is_bounded),
		cmocka_unit_test(columns_without_end_are_bounded),
		cmocka_unit_test(many_faults_are_counted),
		cmocka_unit_test(many_treatments_are_told_apart),
		cmocka_unit_test(treatments_are_found),
		cmocka_unit_test(no_treatment_is_in_an_empty_run),
	};
	struct CMUnitTest tests[COUNT(file_cases) + COUNT(text_cases) + COUNT(others)];
	size_t count = 0;

	for (size_t i = 0; i < COUNT(file_cases); i++)
		tests[count++] = (struct CMUnitTest){ .name = file_cases[i].name,
			                              .test_func = file_gives,
			                              .initial_state = (void *)(uintptr_t)&file_cases[i] };
	for (size_t i = 0; i < COUNT(text_cases); i++)
		tests[count++] = (struct CMUnitTest){ .name = text_cases[i].name,
			                              .test_func = text_gives,
			                              .initial_state = (void *)(uintptr_t)&text_cases[i] };
	memcpy(&tests[count], others, sizeof(others));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
