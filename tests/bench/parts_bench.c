/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * parts_bench PROGRAM [BYTES]: the parts that reading rests on, each beside its floor and beside what could be taken instead,
 * over the same bytes in one run: splitting delimited text, reading numbers, matching a meter's lines; and starting the
 * program. Turns alternate; the least processor time of each counts (of a start: the median time). Every part is measured on
 * half of BYTES (32,000,000 unless said) and on all: a floor whose rate falls between the two is not linear, and no floor.
 */
#include <csv.h>
#include <fcntl.h>
#include <math.h>
#include <spawn.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#define PCRE2_CODE_UNIT_WIDTH 8
#include <pcre2.h>

#include "bench.h"
#include "number.h"
#include "profile.h"
#include "random.h"
#include "table.h"

enum { TURNS = 9, STARTS = 100, WAYS_MOST = 4, LINE_ROOM = 256, GROUP_ROOM = 64, EQUAL_WORDS = 1000000 };

extern char **environ;

/* One way to do the work. What it returns every way has to agree on, so that none leaves work out; NaN: nothing to agree on. */
struct way {
	const char *name;
	double (*run)(struct slice text);
};

struct part {
	const char *name, *unit;
	int (*print)(char *line, struct random *random, size_t n); /* the n-th line of the text, its end with it */
	size_t (*prepare)(struct slice text);                      /* returns how many units are in it */
	struct way ways[WAYS_MOST];                                /* the first is ours, the last the floor */
};

static _Noreturn void give_up(const char *what)
{
	fprintf(stderr, "parts_bench: %s\n", what);
	exit(3);
}

static void ways_time(const struct way *ways, size_t count, struct slice text, double *least)
{
	for (int turn = 0; turn < TURNS; turn++) {
		double first = NAN;

		for (size_t w = 0; w < count; w++) {
			double start = bench_cpu_s();
			double got = ways[w].run(text);
			double took = bench_cpu_s() - start;

			least[w] = turn == 0 || took < least[w] ? took : least[w];
			first = w == 0 ? got : first;
			if (!isnan(got) && got != first)
				give_up("two ways do not give the same");
		}
	}
}

static struct slice whole_lines(struct slice text, size_t len)
{
	const char *last = memrchr(text.text, '\n', len);

	return slice_part(text, 0, last ? (size_t)(last - text.text) + 1 : 0);
}

static char *text_make(const struct part *part, size_t len)
{
	char *text = malloc(len + LINE_ROOM);
	struct random random;
	size_t at = 0;

	if (!text)
		give_up("no memory");
	random_seed(&random, 20260314);
	for (size_t n = 1; at < len; n++)
		at += (size_t)part->print(text + at, &random, n);
	return text;
}

static void part_tell(const struct part *part, size_t len)
{
	char *bytes = text_make(part, len);
	size_t count = 0;

	while (count < WAYS_MOST && part->ways[count].run)
		count++;
	for (size_t size = len / 2; size <= len; size += len - len / 2) {
		struct slice text = whole_lines((struct slice){ bytes, len }, size);
		double n = (double)part->prepare(text);
		double least[WAYS_MOST];

		ways_time(part->ways, count, text, least);
		printf("  %s: %.1f MB, %.0f %s\n", part->name, (double)text.len / 1e6, n, part->unit);
		for (size_t w = 0; w < count; w++)
			printf("    %-56s %8.2f million/s %8.1f MB/s  ratio %6.2f\n", part->ways[w].name,
			       n / least[w] / 1e6, (double)text.len / least[w] / 1e6, least[w] / least[count - 1]);
	}
	free(bytes);
}

/* -- splitting: cells and bytes in them are agreed on ---------------------------- */

static int manifest_line(char *line, struct random *random, size_t n)
{
	return snprintf(line, LINE_ROOM, "T%zu-%zu,treatment %zu,%zu,%zu,20.0,320.0,%.1f,s1,note %zu\n", n % 8, n / 8,
	                n % 8, n / 8, n, 280 + random_normal(random), n);
}

static double split_by_table(struct slice text)
{
	struct table table;
	struct row row;
	size_t cells = 0, bytes = 0;

	table_init(&table, text, 1, ',', NULL);
	while (table_next(&table, &row) == TABLE_ROW) {
		cells += row.count;
		for (size_t i = 0; i < row.count; i++)
			bytes += row.cells[i].text.len;
	}
	table_release(&table);
	return (double)(cells + bytes);
}

static void library_cell(void *bytes, size_t len, void *context)
{
	(void)bytes;
	*(size_t *)context += 1 + len;
}

static double split_by_library(struct slice text)
{
	struct csv_parser parser;
	size_t seen = 0;

	if (csv_init(&parser, 0) != 0 ||
	    csv_parse(&parser, text.text, text.len, library_cell, NULL, &seen) != text.len ||
	    csv_fini(&parser, library_cell, NULL, &seen) != 0)
		give_up("the library refuses the text");
	csv_free(&parser);
	return (double)seen;
}

static double split_by_memchr(struct slice text)
{
	const char *end = text.text + text.len;
	size_t cells = 0, bytes = 0;

	for (const char *at = text.text; at < end;) {
		const char *line_end = memchr(at, '\n', (size_t)(end - at));

		while (at <= line_end) {
			const char *stop = memchr(at, ',', (size_t)(line_end - at));

			if (!stop)
				stop = line_end;
			cells++;
			bytes += (size_t)(stop - at);
			at = stop + 1;
		}
	}
	return (double)(cells + bytes);
}

static size_t count_cells(struct slice text)
{
	size_t cells = 0;

	for (size_t i = 0; i < text.len; i++)
		cells += text.text[i] == ',' || text.text[i] == '\n';
	return cells;
}

/* -- numbers: their sum is agreed on, each bit of each of them apart ---------------- */

static struct slice *words;
static size_t word_count;

static int number_line(char *line, struct random *random, size_t n)
{
	static const struct {
		double mean, sd;
		int decimals;
	} kinds[] = { { 1.4, 0.1, 2 }, { 22, 2, 1 }, { 320, 5, 1 }, { 1.3352, 0.001, 5 }, { 0, 0.02, 2 } };
	size_t kind = n % (sizeof(kinds) / sizeof(kinds[0]));

	return snprintf(line, LINE_ROOM, "%.*f\n", kinds[kind].decimals,
	                kinds[kind].mean + kinds[kind].sd * random_normal(random));
}

static size_t words_cut(struct slice text)
{
	const char *at = text.text;

	free(words);
	words = malloc((text.len / 2 + 1) * sizeof(*words));
	if (!words)
		give_up("no memory");
	for (word_count = 0; at < text.text + text.len; word_count++) {
		const char *stop = memchr(at, '\n', text.len);

		words[word_count] = (struct slice){ at, (size_t)(stop - at) };
		at = stop + 1;
	}
	return word_count;
}

static double numbers_by_us(struct slice text)
{
	double sum = 0, value = 0;

	(void)text;
	for (size_t i = 0; i < word_count; i++) {
		if (!number_parse(&value, NULL, words[i], '.'))
			give_up("a number is refused");
		sum += value;
	}
	return sum;
}

static double numbers_by_strtod(struct slice text)
{
	double sum = 0;

	(void)text;
	for (size_t i = 0; i < word_count; i++)
		sum += strtod(words[i].text, NULL);
	return sum;
}

/* Right for what meters show; checks nothing. */
static double numbers_by_digits(struct slice text)
{
	static const double powers[] = { 1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9 };
	double sum = 0;

	(void)text;
	for (size_t i = 0; i < word_count; i++) {
		const char *at = words[i].text, *end = at + words[i].len, *mark = NULL;
		bool negative = *at == '-';
		uint64_t digits = 0;
		double value;

		for (at += negative; at < end; at++) {
			if (*at == '.')
				mark = at;
			else
				digits = digits * 10 + (uint64_t)(*at - '0');
		}
		value = (double)digits / powers[mark ? end - mark - 1 : 0];
		sum += negative ? -value : value;
	}
	return sum;
}

/* Words of 1 to 24 digits, so that the ways round what is beyond a double too. */
static void numbers_are_equal(void)
{
	struct random random;

	random_seed(&random, 20260315);
	for (size_t i = 0; i < EQUAL_WORDS; i++) {
		size_t digits = 1 + random_below(&random, 24), mark = random_below(&random, digits), len = 0;
		char word[GROUP_ROOM];
		double ours, theirs;

		if (random_below(&random, 2))
			word[len++] = '-';
		for (size_t d = 0; d < digits; d++) {
			if (d == mark && d > 0)
				word[len++] = '.';
			word[len++] = (char)('0' + random_below(&random, 10));
		}
		word[len] = '\0';
		theirs = strtod(word, NULL);
		if (!number_parse(&ours, NULL, (struct slice){ word, len }, '.') ||
		    memcmp(&ours, &theirs, sizeof(ours)) != 0)
			give_up(word);
	}
	printf("    %d words of 1 to 24 digits: every bit as strtod gives it\n", EQUAL_WORDS);
}

/* -- a meter's lines: values, temperatures and counts are agreed on ----------------- */

static struct profile *profile;
static struct profile_scratch *scratch;
static pcre2_match_data *matched;

static int meter_line(char *line, struct random *random, size_t n)
{
	return snprintf(line, LINE_ROOM, "No. %06zu TDS %.2f %% T %.1f C\n", n % 1000000,
	                1.4 + 0.1 * random_normal(random), 22 + random_normal(random));
}

static size_t meter_prepare(struct slice text)
{
	static const char name[] = "labelled-line";
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;

	if (!profile) {
		bench_stop_at(name, profile_open(&profile, name, &faults, &error), &error);
		scratch = profile_scratch_new(profile);
		matched = pcre2_match_data_create_from_pattern(profile->code, NULL);
	}
	if (!scratch || !matched)
		give_up("no memory");
	return words_cut(text);
}

static double lines_by_us(struct slice text)
{
	double sum = 0;

	(void)text;
	for (size_t i = 0; i < word_count; i++) {
		struct profile_reading got;

		if (profile_match(profile, scratch, words[i], &got) != LINE_READING)
			give_up("a line is not matched");
		sum += got.shown.value + got.temp_c + (double)got.seq.len;
	}
	return sum;
}

static void line_match(struct slice line)
{
	if (pcre2_jit_match(profile->code, (PCRE2_SPTR)line.text, line.len, 0, 0, matched, NULL) <= 0)
		give_up("a line is not matched");
}

static struct slice copy_by_name(const char *name, char room[GROUP_ROOM])
{
	PCRE2_SIZE len = GROUP_ROOM;

	if (pcre2_substring_copy_byname(matched, (PCRE2_SPTR)name, (PCRE2_UCHAR *)room, &len) != 0)
		len = 0;
	return (struct slice){ room, len };
}

static double reading_sum(struct slice value, struct slice temp, struct slice seq)
{
	double shown, temp_c;

	if (!number_parse_any(&shown, NULL, value) || !number_parse_any(&temp_c, NULL, temp))
		give_up("a number is refused");
	return shown + temp_c + (double)seq.len;
}

static double lines_by_name(struct slice text)
{
	char value[GROUP_ROOM], unit[GROUP_ROOM], temp[GROUP_ROOM], seq[GROUP_ROOM];
	double sum = 0;

	(void)text;
	for (size_t i = 0; i < word_count; i++) {
		line_match(words[i]);
		if (copy_by_name("unit", unit).len == 0)
			give_up("a line without a unit");
		sum += reading_sum(copy_by_name("value", value), copy_by_name("temp", temp), copy_by_name("seq", seq));
	}
	return sum;
}

static struct slice group_of(struct slice line, enum profile_group group)
{
	const PCRE2_SIZE *offsets = pcre2_get_ovector_pointer(matched) + 2 * profile->group[group];

	return (struct slice){ line.text + offsets[0], offsets[1] - offsets[0] };
}

static double lines_by_number(struct slice text)
{
	double sum = 0;

	(void)text;
	for (size_t i = 0; i < word_count; i++) {
		line_match(words[i]);
		if (group_of(words[i], GROUP_UNIT).len == 0)
			give_up("a line without a unit");
		sum += reading_sum(group_of(words[i], GROUP_VALUE), group_of(words[i], GROUP_TEMP),
		                   group_of(words[i], GROUP_SEQ));
	}
	return sum;
}

static double lines_bare(struct slice text)
{
	(void)text;
	for (size_t i = 0; i < word_count; i++)
		line_match(words[i]);
	return NAN;
}

/* -- starting ------------------------------------------------------------------ */

static double start_once(const char *const argv[])
{
	posix_spawn_file_actions_t actions;
	double start = bench_now_s();
	pid_t child;
	int status;

	posix_spawn_file_actions_init(&actions);
	posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
	if (posix_spawn(&child, argv[0], &actions, NULL, (char *const *)(uintptr_t)argv, environ) != 0 ||
	    waitpid(child, &status, 0) != child || status != 0)
		give_up(argv[0]);
	posix_spawn_file_actions_destroy(&actions);
	return bench_now_s() - start;
}

static void start_tell(const char *program)
{
	const char *const ours[] = { program, "--version", NULL };
	const char *const nothing[] = { "/bin/true", NULL };
	static double took[2][STARTS];

	for (int i = 0; i < STARTS; i++) {
		took[0][i] = start_once(ours);
		took[1][i] = start_once(nothing);
	}
	printf("  starting: %d times each, medians\n", STARTS);
	for (int w = 0; w < 2; w++)
		printf("    %-56s %8.2f ms %30s %6.2f\n",
		       w == 0 ? "brewspread --version" : "floor: a program that does nothing",
		       bench_quantile(took[w], STARTS, 0.5) * 1e3, "ratio",
		       bench_quantile(took[w], STARTS, 0.5) / bench_quantile(took[1], STARTS, 0.5));
}

static const struct part splitting = {
	.name = "splitting",
	.unit = "cells",
	.print = manifest_line,
	.prepare = count_cells,
	.ways = { { "ours, with line and column of every cell", split_by_table },
	          { "the library, neither", split_by_library },
	          { "floor: memchr, no quotes", split_by_memchr } },
};

static const struct part numbers = {
	.name = "numbers",
	.unit = "words",
	.print = number_line,
	.prepare = words_cut,
	.ways = { { "ours", numbers_by_us },
	          { "strtod", numbers_by_strtod },
	          { "floor: digits alone, nothing checked", numbers_by_digits } },
};

static const struct part meter_lines = {
	.name = "a meter's lines",
	.unit = "lines",
	.print = meter_line,
	.prepare = meter_prepare,
	.ways = { { "ours, limits and doubts with it", lines_by_us },
	          { "groups copied by name, numbers read", lines_by_name },
	          { "groups by number, numbers read", lines_by_number },
	          { "floor: the bare match, nothing taken", lines_bare } },
};

int main(int argc, char **argv)
{
	long long bytes = 32000000;

	if (argc < 2 || (argc > 2 && (!number_parse_count(&bytes, slice_from(argv[2])) || bytes < 10000)))
		give_up("expected PROGRAM [BYTES]");
	part_tell(&splitting, (size_t)bytes);
	part_tell(&numbers, (size_t)bytes / 4);
	numbers_are_equal();
	part_tell(&meter_lines, (size_t)bytes);
	start_tell(argv[1]);
	free(words);
	pcre2_match_data_free(matched);
	profile_scratch_free(scratch);
	profile_free(profile);
	return 0;
}
