/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "join.h"
#include "readings.h"

#define GIVEN(array) (sizeof(array) / sizeof((array)[0]))

enum { MOST_BREWS = 8, NONE = -1 };

/* A run with a few brews, and what is found wrong with it. */
struct bench {
	struct run *run;
	struct faults faults;
	struct settings settings;
	struct brew brews[MOST_BREWS];
};

/* labels: up to MOST_BREWS, ended by NULL. */
static void bench_open(struct bench *bench, const char *const *labels)
{
	*bench = (struct bench){ .run = run_new(), .faults = FAULTS_INIT };
	assert_non_null(bench->run);
	settings_init(&bench->settings);
	for (size_t i = 0; i < MOST_BREWS && labels[i]; i++) {
		struct brew *brew = &bench->brews[i];

		*brew = (struct brew){ .label = slice_from(labels[i]), .key = slice_from(labels[i]) };
		brew->place = (struct place){ "papers.csv", (uint32_t)i + 2, 1 };
		brew->read_from_us = brew->read_to_us = READING_NO_TIME;
		for (size_t n = 0; n < BREW_NUMBERS; n++)
			brew->number[n] = NAN;
		bench->run->brew_count = i + 1;
	}
	bench->run->brews = bench->brews;
}

static void bench_close(struct bench *bench)
{
	run_free(bench->run);
	faults_release(&bench->faults);
}

static void bench_join(struct bench *bench, const char *text)
{
	struct error error = ERROR_INIT;

	if (text)
		assert_int_equal(readings_parse(bench->run, "tray.txt", slice_from(text), NULL, &bench->settings,
		                                &bench->faults, &error),
		                 STATUS_OK);
	assert_int_equal(join_readings(bench->run, &bench->settings, &bench->faults, &error), STATUS_OK);
}

/* How many faults say text, whole. */
static size_t told(const struct bench *bench, enum severity severity, uint32_t line, uint32_t column, const char *text)
{
	size_t count = 0;

	for (size_t i = 0; i < bench->faults.count; i++) {
		const struct fault *fault = &bench->faults.items[i];

		count += fault->severity == severity && fault->place.line == line && fault->place.column == column &&
		         strcmp(fault->text, text) == 0;
	}
	for (size_t i = 0; count == 0 && i < bench->faults.count; i++)
		print_message("# %s:%u:%u: %s: %s\n", bench->faults.items[i].place.file,
		              bench->faults.items[i].place.line, bench->faults.items[i].place.column,
		              severity_name(bench->faults.items[i].severity), bench->faults.items[i].text);
	return count;
}

struct label_case {
	const char *name;
	const char *labels[MOST_BREWS + 1]; /* of the brews */
	const char *text;
	int brew; /* that the first reading is joined with */
	enum severity severity;
	const char *fault; /* NULL: none */
};

static struct label_case label_cases[] = {
	{ "the same label", { "A1", "C1" }, "C1 1.38", 1, SEVERITY_NOTE, NULL },
	{ "letter case differs",
	  { "A1", "C1" },
	  "c1 1.38",
	  1,
	  SEVERITY_NOTE,
	  "\"c1\" differs in letter case from brew C1; 1 reading joined with it" },
	{ "letter case differs from two", { "c1", "C1" }, "\"c1 \" 1.38", 0, SEVERITY_NOTE, NULL },
	{ "letter case would fit two",
	  { "Cup", "CUP" },
	  "cUp: 1.38",
	  NONE,
	  SEVERITY_ERROR,
	  "no brew \"cUp\" in papers.csv; nearest is Cup; 1 reading kept, not joined" },
	{ "letter case beyond ASCII",
	  { "É1" },
	  "é1 1.38",
	  0,
	  SEVERITY_NOTE,
	  "\"é1\" differs in letter case from brew É1; 1 reading joined with it" },
	{ "accent composed or not", { "Caf\u00e9" }, "Cafe\u0301 1.38", 0, SEVERITY_NOTE, NULL },
	{ "no-break blank behind the label", { "B-03" }, "B-03\u00a0 1.38", 0, SEVERITY_NOTE, NULL },
	{ "leading zero",
	  { "1", "A" },
	  "01 1.38",
	  NONE,
	  SEVERITY_ERROR,
	  "no brew \"01\" in papers.csv; nearest is 1; 1 reading kept, not joined" },
	{ "nearest label",
	  { "A1", "B12", "C1" },
	  "C7 1.38 1.39",
	  NONE,
	  SEVERITY_ERROR,
	  "no brew \"C7\" in papers.csv; nearest is C1; 2 readings kept, not joined" },
	{ "nearest of several",
	  { "fine 1", "fine 2", "coarse 1" },
	  "\"coarse 2\" 1.38",
	  NONE,
	  SEVERITY_ERROR,
	  "no brew \"coarse 2\" in papers.csv; nearest is coarse 1; 1 reading kept, not joined" },
	{ "nothing near",
	  { "A1" },
	  "zz: 1.38",
	  NONE,
	  SEVERITY_ERROR,
	  "no brew \"zz\" in papers.csv; expected A1; 1 reading kept, not joined" },
};

static void label_joins_as_told(void **state)
{
	const struct label_case *c = *state;
	struct bench bench;

	bench_open(&bench, c->labels);
	bench_join(&bench, c->text);
	assert_int_equal(bench.run->readings[0].brew, (uint32_t)c->brew);
	assert_int_equal(bench.run->readings[0].flags, c->brew == NONE ? READING_UNJOINED : 0);
	if (c->fault)
		assert_int_equal(told(&bench, c->severity, 1, c->text[0] == '"' ? 2 : 1, c->fault), 1);
	bench_close(&bench);
}

struct check_case {
	const char *name;
	const char *text; /* one reading, of brew F, W, E or D */
	int flags;
	const char *fault; /* NULL: none */
};

/* F: filter by default; W: water; E: espresso; D: diluted to a quarter. */
static const char *const check_labels[] = { "F", "W", "E", "D", NULL };

static struct check_case check_cases[] = {
	{ "as usual", "F 1.38", 0, NULL },
	{ "just possible", "W 30.00", 0, NULL },
	{ "beyond what is possible", "W 30.01", READING_OUT_OF_RANGE,
	  "30.01 % TDS is no possible reading; expected -1 to 30; kept, not used" },
	{ "below what is possible", "zero -1.01", READING_OUT_OF_RANGE,
	  "-1.01 % TDS is no possible reading; expected -1 to 30; kept, not used" },
	{ "Brix beyond what is possible", "W 35.4 brix", READING_OUT_OF_RANGE,
	  "35.4 °Bx is no possible reading; expected -1.176 to 35.29; kept, not used" },
	{ "Brix just possible", "W 35.2 brix", 0, NULL },
	{ "a strong standard", "standard 50: 49.8 brix", 0, NULL },
	{ "an index", "W 1.3352 nd", 0, NULL },
	{ "an index below water's", "W 1.2999 nd", READING_OUT_OF_RANGE,
	  "1.2999 nD is no possible reading; expected 1.3 to 1.55; kept, not used" },
	{ "a temperature beyond boiling", "F 1.38 @100.5", READING_OUT_OF_RANGE,
	  "100.5 °C is no possible temperature of a sample; expected -5 to 100; reading kept, not used" },
	{ "a temperature below freezing", "F 1.38 @-5.5", READING_OUT_OF_RANGE,
	  "-5.5 °C is no possible temperature of a sample; expected -5 to 100; reading kept, not used" },
	{ "a room in Fahrenheit", "F 1.38 @71.6", READING_QUESTIONED,
	  "71.6 °C is hot for a sample and may be °F; taken as °C" },
	{ "weak for filter", "F 0.29", READING_QUESTIONED,
	  "0.29 % TDS is unusual for this sample; expected 0.3 to 5 % TDS; used all the same" },
	{ "strong for filter", "F 5.01", READING_QUESTIONED,
	  "5.01 % TDS is unusual for this sample; expected 0.3 to 5 % TDS; used all the same" },
	{ "Brix strong for filter, 6.0 of them 5.1 % TDS", "F 6.0 brix", READING_QUESTIONED,
	  "6.0 °Bx is unusual for this sample; expected 0.3 to 5 % TDS; used all the same" },
	{ "Brix as usual, 5.8 of them 4.93 % TDS", "F 5.8 brix", 0, NULL },
	{ "espresso", "E 9.50", 0, NULL },
	{ "weak for espresso", "E 2.90", READING_QUESTIONED,
	  "2.90 % TDS is unusual for this sample; expected 3 to 25 % TDS; used all the same" },
	{ "water may be anything", "W 0.01", 0, NULL },
	{ "diluted to a quarter", "D 0.09", 0, NULL },
	{ "too strong for diluted to a quarter", "D 1.30", READING_QUESTIONED,
	  "1.30 % TDS is unusual for this sample; expected 0.075 to 1.25 % TDS; used all the same" },
	{ "zero check", "zero 0.50", 0, NULL },
	{ "zero check of coffee", "zero 1.38", READING_QUESTIONED,
	  "1.38 % TDS is far from zero for distilled water; expected up to 0.5 % TDS; used all the same" },
	{ "zero check as an index", "zero 1.3330 nd", 0, NULL },
};

static void reading_is_checked(void **state)
{
	const struct check_case *c = *state;
	struct bench bench;
	size_t faults = 0;

	bench_open(&bench, check_labels);
	bench.brews[1].word[BREW_TYPE] = SLICE_OF("water");
	bench.brews[2].word[BREW_TYPE] = SLICE_OF("Espresso");
	bench.brews[3].number[BREW_SAMPLE_G] = 2;
	bench.brews[3].number[BREW_DILUENT_G] = 6;
	bench_join(&bench, c->text);
	assert_int_equal(bench.run->reading_count, 1);
	assert_int_equal(bench.run->readings[0].flags, c->flags);
	for (size_t i = 0; i < bench.faults.count; i++)
		faults += bench.faults.items[i].place.line == 1;
	assert_int_equal(faults, c->fault != NULL);
	if (c->fault)
		assert_int_equal(told(&bench, c->flags == READING_QUESTIONED ? SEVERITY_WARNING : SEVERITY_ERROR, 1,
		                      bench.run->readings[0].column, c->fault),
		                 1);
	bench_close(&bench);
}

static const char *const three[] = { "A1", "A2", "A3", NULL };

static void times_join_what_has_no_label(void **state)
{
	static const int brews[] = { NONE, 0, 0, NONE, 1, 1, NONE, 2 };
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	for (int i = 0; i < 3; i++) { /* 00:01-00:02, 00:03-00:04, 00:05-00:06 */
		bench.brews[2 - i].read_from_us = (5 - 2 * i) * 60000000LL;
		bench.brews[2 - i].read_to_us = (6 - 2 * i) * 60000000LL;
	}
	bench_join(&bench, "00:00:59 1.30\n00:01:00 1.31\n00:02:00 1.32\n00:02:30 1.33\n00:03:10 1.34\n00:03:50 1.35\n"
	                   "1.36\n00:05:30 1.37\n");
	for (size_t i = 0; i < GIVEN(brews); i++)
		assert_int_equal(bench.run->readings[i].brew, (uint32_t)brews[i]);
	assert_int_equal(told(&bench, SEVERITY_ERROR, 1, 0,
	                      "3 readings without a label; expected labels, read_from and read_to of each brew, or no "
	                      "labels at all and 3 readings in order for each of the 3 brews; kept, not joined"),
	                 1);
	bench_close(&bench);
}

static void times_that_overlap_are_not_guessed_at(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	for (int i = 0; i < 3; i++) { /* 00:00-00:03, 00:01-00:02, 00:02:30-00:04 */
		static const int from[] = { 0, 60, 150 }, to[] = { 180, 120, 240 };

		bench.brews[i].read_from_us = from[i] * 1000000LL;
		bench.brews[i].read_to_us = to[i] * 1000000LL;
	}
	bench_join(&bench, "00:00:30 1.30\n00:01:30 1.31\n00:02:15 1.32\n00:02:45 1.33\n00:03:30 1.34\n");
	assert_int_equal(bench.run->readings[0].brew, 0);
	assert_int_equal(bench.run->readings[1].brew, READING_NO_BREW);
	assert_int_equal(bench.run->readings[2].brew, 0);
	assert_int_equal(bench.run->readings[3].brew, READING_NO_BREW);
	assert_int_equal(bench.run->readings[4].brew, 2);
	assert_int_equal(told(&bench, SEVERITY_ERROR, 2, 0,
	                      "2 readings without a label in the times of several brews; expected times that do not "
	                      "overlap; kept, not joined"),
	                 1);
	bench_close(&bench);
}

/* 00:01-00:02, 00:03-00:04, 00:05-00:06, on the day that days_us says. */
static void times_set(struct bench *bench, int64_t days_us)
{
	for (int i = 0; i < 3; i++) {
		bench->brews[i].read_from_us = days_us + (1 + 2 * i) * 60000000LL;
		bench->brews[i].read_to_us = days_us + (2 + 2 * i) * 60000000LL;
	}
}

static const int64_t first_of_march_us = 1772323200000000; /* 2026-03-01 00:00 UTC, by date -d */

static void a_time_of_day_is_of_the_day_of_the_readings(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	times_set(&bench, 0);
	bench_join(&bench, "2026-03-01 00:01:30 1.31\n2026-03-01 00:03:30 1.32\n2026-03-01 00:05:30 1.33\n");
	for (size_t i = 0; i < 3; i++)
		assert_int_equal(bench.run->readings[i].brew, i);
	bench_close(&bench);
}

static void a_reading_without_a_date_is_of_the_day_of_the_brews(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	times_set(&bench, first_of_march_us);
	bench_join(&bench, "00:01:30 1.31\n00:03:30 1.32\n00:05:30 1.33\n");
	for (size_t i = 0; i < 3; i++)
		assert_int_equal(bench.run->readings[i].brew, i);
	bench_close(&bench);
}

static void a_time_of_day_is_not_guessed_among_days(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	times_set(&bench, 0);
	bench_join(&bench, "2026-03-01 00:01:30 1.31\n2026-03-02 00:03:30 1.32\n");
	assert_int_equal(bench.run->readings[0].brew, READING_NO_BREW);
	assert_int_equal(bench.run->readings[1].brew, READING_NO_BREW);
	assert_int_equal(
		told(&bench, SEVERITY_ERROR, 1, 0,
	             "readings without a label were taken on several days, and read_from and read_to of 3 brews "
	             "are times of day; expected a date with them, such as 2026-03-01 10:30"),
		1);
	bench_close(&bench);
}

/* A stray reading of the day before, taken out by hand, does not make it several days. */
static void what_was_taken_out_has_no_say_in_the_day(void **state)
{
	struct error error = ERROR_INIT;
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	times_set(&bench, 0);
	assert_int_equal(readings_parse(bench.run, "tray.txt",
	                                SLICE_OF("2026-02-28 09:00 1.30\n2026-03-01 00:01:30 1.31\n"), NULL,
	                                &bench.settings, &bench.faults, &error),
	                 STATUS_OK);
	bench.run->readings[0].flags |= READING_EXCLUDED;
	bench_join(&bench, NULL);
	assert_int_equal(bench.run->readings[1].brew, 0);
	bench_close(&bench);
}

static void a_reading_without_a_date_is_not_put_on_one_of_several_days(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	times_set(&bench, first_of_march_us);
	bench.brews[2].read_from_us += 86400000000;
	bench.brews[2].read_to_us += 86400000000;
	bench_join(&bench, "00:01:30 1.31\n00:05:30 1.32\n");
	assert_int_equal(bench.run->readings[0].brew, READING_NO_BREW);
	assert_int_equal(
		told(&bench, SEVERITY_ERROR, 1, 0,
	             "the cups were read on several days, and 2 readings without a label tell a time of day alone; "
	             "expected a date with it, such as 2026-03-01 10:30"),
		1);
	bench_close(&bench);
}

struct order_case {
	const char *name;
	const char *text;
	double order[3]; /* of the brews; 0: not given */
	int brews[10];   /* of the readings, zero checks included; ends with -2 */
};

static struct order_case order_cases[] = {
	{ "three for each",
	  "1.31 1.32 1.33\n1.34 1.35 1.36\n1.37 1.38 1.39\n",
	  { 0 },
	  { 0, 0, 0, 1, 1, 1, 2, 2, 2, -2 } },
	{ "a zero check among them",
	  "zero 0.01\n1.31 1.32 1.33 1.34 1.35 1.36 1.37 1.38 1.39\n",
	  { 0 },
	  { NONE, 0, 0, 0, 1, 1, 1, 2, 2, 2 } },
	{ "the brews' order is the manifest's",
	  "1.31 1.32 1.33 1.34 1.35 1.36 1.37 1.38 1.39\n",
	  { 1, 2, 3 },
	  { 0, 0, 0, 1, 1, 1, 2, 2, 2, -2 } },
	{ "the brews' order is another",
	  "1.31 1.32 1.33 1.34 1.35 1.36 1.37 1.38 1.39\n",
	  { 2, 1, 3 },
	  { NONE, NONE, -2 } },
	{ "the brews' order is not all given",
	  "1.31 1.32 1.33 1.34 1.35 1.36 1.37 1.38 1.39\n",
	  { 1, 0, 3 },
	  { NONE, NONE, -2 } },
	{ "one too few", "1.31 1.32 1.33 1.34 1.35 1.36 1.37 1.38\n", { 0 }, { NONE, NONE, -2 } },
	{ "one has a label", "A1 1.31\n1.32 1.33 1.34 1.35 1.36 1.37 1.38 1.39\n", { 0 }, { 0, NONE, -2 } },
};

static void order_joins_where_it_is_the_only_one(void **state)
{
	const struct order_case *c = *state;
	struct bench bench;

	bench_open(&bench, three);
	for (size_t i = 0; i < 3; i++)
		if (c->order[i] > 0)
			bench.brews[i].number[BREW_ORDER] = c->order[i];
	bench_join(&bench, c->text);
	for (size_t i = 0; i < GIVEN(c->brews) && c->brews[i] != -2; i++)
		assert_int_equal(bench.run->readings[i].brew, (uint32_t)c->brews[i]);
	bench_close(&bench);
}

static void joining_by_order_is_told(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	bench.settings.readings_wanted = 1;
	bench_join(&bench, "zero 0.00\n1.31\n1.32\n1.33\n");
	assert_int_equal(bench.run->readings[3].brew, 2);
	assert_int_equal(told(&bench, SEVERITY_NOTE, 2, 1,
	                      "no reading has a label; there are 1 for each of the 3 brews in papers.csv, joined in "
	                      "that order"),
	                 1);
	assert_int_equal(bench.faults.count, 1);
	bench_close(&bench);
}

static void brews_without_readings_are_told(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	bench_join(&bench, "A1 1.38\nA3 31.38\n");
	assert_int_equal(told(&bench, SEVERITY_WARNING, 3, 1, "brew A2 has no readings; it gets no yield"), 1);
	assert_int_equal(
		told(&bench, SEVERITY_WARNING, 4, 1, "brew A3 has no reading that can be used; it gets no yield"), 1);
	bench_close(&bench);
}

static void joining_again_starts_anew(void **state)
{
	struct bench bench;

	(void)state;
	bench_open(&bench, three);
	bench_join(&bench, "A1 1.38\nA2 1.39\nB7 1.40\nA3 71.38\n");
	bench.run->readings[1].line->label = SLICE_OF("nobody's");
	bench.run->readings[2].line->label = SLICE_OF("A2");
	bench.run->readings[3].value = 1.38;
	bench_join(&bench, NULL);
	assert_int_equal(bench.run->readings[1].flags, READING_UNJOINED);
	assert_int_equal(bench.run->readings[1].brew, READING_NO_BREW);
	assert_int_equal(bench.run->readings[2].flags, 0);
	assert_int_equal(bench.run->readings[2].brew, 1);
	assert_int_equal(bench.run->readings[3].flags, 0);
	assert_int_equal(bench.run->readings[3].brew, 2);
	bench_close(&bench);
}

static void nothing_to_join_with_is_told_once(void **state)
{
	static const char *const none[] = { NULL };
	struct bench bench;

	(void)state;
	bench_open(&bench, none);
	bench_join(&bench, "A1 1.38\n1.39\nzero 0.01\n");
	assert_int_equal(bench.run->readings[0].flags, READING_UNJOINED);
	assert_int_equal(bench.run->readings[2].flags, 0);
	assert_int_equal(
		told(&bench, SEVERITY_ERROR, 0, 0, "there are no brews to join 3 readings with; kept, not joined"), 1);
	bench_close(&bench);
	bench_open(&bench, none);
	bench_join(&bench, NULL);
	assert_int_equal(bench.faults.count, 0);
	bench_close(&bench);
}

/* 10,000 lines with one cause, and as many labels that no brew has. */
static void what_many_lines_share_is_told_once(void **state)
{
	enum { LINES = 10000 };
	char *text = malloc(LINES * 40);
	size_t used = 0;
	struct bench bench;

	(void)state;
	assert_non_null(text);
	for (int i = 0; i < LINES; i++)
		used += (size_t)sprintf(text + used, "B7 1.38\nX%d 1.38\nA1 31.38\n", i);
	bench_open(&bench, three);
	bench_join(&bench, text);
	assert_int_equal(told(&bench, SEVERITY_ERROR, 1, 1,
	                      "no brew \"B7\" in papers.csv; expected A1, A2, A3; 10000 readings kept, not joined"),
	                 1);
	assert_int_equal(told(&bench, SEVERITY_ERROR, 0, 0,
	                      "9951 more labels are of no brew; their 9951 readings are kept, not joined"),
	                 1);
	assert_int_equal(told(&bench, SEVERITY_ERROR, 0, 0, "9980 more readings are no possible readings"), 1);
	assert_true(bench.faults.count < 100);
	bench_close(&bench);
	free(text);
}

static void many_brews_without_readings_are_summed_up(void **state)
{
	enum { BREWS = 60 };
	static const char *const none[] = { NULL };
	struct brew *brews = calloc(BREWS, sizeof(*brews));
	struct bench bench;

	(void)state;
	assert_non_null(brews);
	bench_open(&bench, none);
	for (size_t i = 0; i < BREWS; i++)
		brews[i] =
			(struct brew){ .label = SLICE_OF("x"), .key = SLICE_OF("x"), .place = { "papers.csv", 2, 1 } };
	bench.run->brews = brews;
	bench.run->brew_count = BREWS;
	bench_join(&bench, NULL);
	assert_int_equal(told(&bench, SEVERITY_WARNING, 0, 0, "10 more brews have no readings"), 1);
	assert_int_equal(bench.faults.count, 51);
	bench_close(&bench);
	free(brews);
}

int main(void)
{
	const struct CMUnitTest rest[] = {
		cmocka_unit_test(times_join_what_has_no_label),
		cmocka_unit_test(times_that_overlap_are_not_guessed_at),
		cmocka_unit_test(a_time_of_day_is_of_the_day_of_the_readings),
		cmocka_unit_test(a_reading_without_a_date_is_of_the_day_of_the_brews),
		cmocka_unit_test(a_time_of_day_is_not_guessed_among_days),
		cmocka_unit_test(what_was_taken_out_has_no_say_in_the_day),
		cmocka_unit_test(a_reading_without_a_date_is_not_put_on_one_of_several_days),
		cmocka_unit_test(joining_by_order_is_told),
		cmocka_unit_test(brews_without_readings_are_told),
		cmocka_unit_test(joining_again_starts_anew),
		cmocka_unit_test(nothing_to_join_with_is_told_once),
		cmocka_unit_test(what_many_lines_share_is_told_once),
		cmocka_unit_test(many_brews_without_readings_are_summed_up),
	};
	struct CMUnitTest labels[GIVEN(label_cases)], checks[GIVEN(check_cases)], orders[GIVEN(order_cases)];

	for (size_t i = 0; i < GIVEN(labels); i++)
		labels[i] = (struct CMUnitTest){ label_cases[i].name, label_joins_as_told, NULL, NULL,
			                         &label_cases[i] };
	for (size_t i = 0; i < GIVEN(checks); i++)
		checks[i] = (struct CMUnitTest){ check_cases[i].name, reading_is_checked, NULL, NULL, &check_cases[i] };
	for (size_t i = 0; i < GIVEN(orders); i++)
		orders[i] = (struct CMUnitTest){ order_cases[i].name, order_joins_where_it_is_the_only_one, NULL, NULL,
			                         &order_cases[i] };
	return cmocka_run_group_tests(labels, NULL, NULL) + cmocka_run_group_tests(checks, NULL, NULL) +
	       cmocka_run_group_tests(orders, NULL, NULL) + cmocka_run_group_tests(rest, NULL, NULL);
}
