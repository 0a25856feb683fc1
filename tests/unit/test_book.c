/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "book.h"
#include "run_builder.h"
#include "workbook_text.h"

#define BOOK "report.xlsx"

enum { SHEETS = 7 };

static const struct book_request request = { .path = BOOK, .version = "0.0.0", .command = "brewspread report a b" };

/* The analysis of run, which it takes over, written to to->path. */
static enum status write_run_to(struct run *run, const struct settings *set, const struct faults *faults,
                                const struct book_request *to, struct error *error)
{
	struct settings settings;
	struct analysis *analysis;
	enum status status;

	settings_init(&settings);
	assert_int_equal(analysis_make(&analysis, run, set ? set : &settings, error), STATUS_OK);
	status = book_write(analysis, faults, to, error);
	analysis_free(analysis);
	run_free(run);
	return status;
}

static void write_run(struct run *run)
{
	struct error error = ERROR_INIT;
	enum status status = write_run_to(run, NULL, NULL, &request, &error);

	if (status != STATUS_OK)
		print_message("# %s\n", error.text);
	assert_int_equal(status, STATUS_OK);
}

/* treatments × brews × readings that differ a little. */
static struct run *usual_run(size_t treatments, size_t brews, size_t readings)
{
	struct run *run = build_run();

	build_zero(run, 0.01);
	for (size_t t = 0; t < treatments; t++)
		for (size_t b = 0; b < brews; b++) {
			char label[32], name[32];
			uint32_t brew;

			snprintf(label, sizeof(label), "T%zuB%zu", t, b);
			snprintf(name, sizeof(name), "treatment %zu", t);
			brew = build_brew(run, label, name);
			for (size_t r = 0; r < readings; r++)
				build_reading(run, brew,
				              1.30 + 0.03 * (double)t + 0.01 * (double)((5 * b + 3 * r + t) % 4));
		}
	return run;
}

/* -- what comes out ---------------------------------------------------------------- */

static void is_well_formed(void)
{
	assert_int_equal(system("folder=$(mktemp -d) && unzip -q " BOOK " -d $folder &&"
	                        "find $folder -type f -exec xmllint --noout {} + && rm -r $folder"),
	                 0);
}

/* What holds for every workbook. */
static void is_sound(void)
{
	char *all = workbook_part(BOOK, "xl/*");

	is_well_formed();
	assert_int_equal(count_text(all, "<v>NAN") + count_text(all, "<v>INF") + count_text(all, "<v>-INF") +
	                         count_text(all, "<v>-NAN"),
	                 0);
	assert_int_equal(count_text(all, "<v></v>"), 0);
	assert_int_equal(count_text(all, "_xlfn"), 0);
	assert_int_equal(count_files(), 1);
	free(all);
}

static void has_its_sheets_and_a_chart(void **state)
{
	char *xml;

	(void)state;
	write_run(usual_run(3, 3, 3));
	is_sound();
	xml = workbook_part(BOOK, "xl/workbook.xml");
	assert_int_equal(count_text(xml, "<sheet name="), SHEETS);
	assert_int_equal(count_text(xml, "_xlnm.Print_Titles"), 3);
	assert_true(strstr(xml, "\"Summary\"") < strstr(xml, "\"Brews\""));
	assert_true(strstr(xml, "\"Brews\"") < strstr(xml, "\"Readings\""));
	free(xml);
	xml = workbook_part(BOOK, "xl/charts/chart1.xml");
	assert_int_equal(count_text(xml, "<c:ser>"), 4);
	assert_int_equal(count_text(xml, "'Brews'!$"), 2);
	assert_int_equal(count_text(xml, "<a:t>treatment 2</a:t>"), 1);
	/* kept with the chart: 2 · 3 ends of intervals, 9 brews, 3 means and 3 names, each with x and y; none is 0 */
	assert_int_equal(count_text(xml, "<c:pt "), 2 * (6 + 9 + 3 + 3));
	assert_int_equal(count_text(xml, "<c:v>0</c:v>"), 0);
	free(xml);
	xml = workbook_part(BOOK, "xl/drawings/drawing1.xml");
	assert_int_equal(count_text(xml, "descr=\"Yield, %: 3 treatments"), 1);
	free(xml);
	xml = workbook_part(BOOK, "xl/worksheets/sheet1.xml");
	assert_int_equal(count_text(xml, "showGridLines=\"0\""), 1);
	assert_int_equal(count_text(xml, "<pageSetUpPr fitToPage=\"1\"/>"), 1);
	free(xml);
	xml = workbook_part(BOOK, "xl/worksheets/sheet3.xml");
	assert_int_equal(count_text(xml, "state=\"frozen\""), 1);
	free(xml);
}

/* A yield is the formula of its masses and its strength, which is the formula of its readings. */
static void a_yield_can_be_followed_to_its_readings(void **state)
{
	struct run *run = build_run();
	uint32_t brew = build_brew(run, "A1", "a");
	char *xml;

	(void)state;
	build_reading(run, brew, 1.30);
	build_reading(run, brew, 1.32);
	write_run(run);
	xml = workbook_part(BOOK, "xl/worksheets/sheet2.xml");
	/* 280 g of 1.31 % from 20 g: 280 · 1.31 / 20 = 18.34 % (mass balance) */
	assert_int_equal(count_text(xml, "<v>18.34</v>"), 1);
	assert_int_equal(count_text(xml, "AVERAGEIFS('Readings'!$"), 1);
	assert_int_equal(count_text(xml, "COUNTIFS('Readings'!$"), 1);
	free(xml);
	xml = workbook_part(BOOK, "xl/worksheets/sheet1.xml");
	assert_int_equal(count_text(xml, "AVERAGEIFS('Brews'!$"), 3); /* yield, TDS, retained water */
	free(xml);
}

static void notes_stand_beside_the_numbers(void **state)
{
	struct run *run = build_run();
	char *xml;

	(void)state;
	build_reading(run, build_brew(run, "A1", "a"), 1.30);
	run->brews[0].word[BREW_NOTES] = SLICE_OF("plum & smoke");
	write_run(run);
	xml = workbook_part(BOOK, "xl/sharedStrings.xml");
	assert_int_equal(count_text(xml, "<t>plum &amp; smoke</t>"), 1);
	assert_int_equal(count_text(xml, "<t>A1: plum &amp; smoke</t>"), 1);
	free(xml);
}

/* -- hostile and odd input ------------------------------------------------------------ */

static struct slice long_note(void)
{
	static char text[40000];

	memset(text, 'n', sizeof(text));
	return (struct slice){ text, sizeof(text) };
}

static void hostile_texts_stay_texts(void **state)
{
	static const char *const words[] = { "=cmd|' /C calc'!A0",
		                             "+1",
		                             "-2+3",
		                             "@SUM(1)",
		                             "a\x02"
		                             "b",
		                             "22\xB0"
		                             "C",
		                             "_x0041_",
		                             "</t></si>&\"'",
		                             "\xEF\xBF\xBE",
		                             "a\nb" };
	struct run *run = build_run();
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct book_request hostile = { .path = BOOK, .version = "\x01=1", .command = "=1\x02\xFF" };
	char *xml;

	(void)state;
	run->name = SLICE_OF("=run\x03\xFE");
	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++) {
		uint32_t brew = build_brew(run, words[i], words[i]);
		struct reading *reading = build_reading(run, brew, 1.3 + 0.01 * (double)i);

		reading->line->label = reading->line->raw = reading->line->note = slice_from(words[i]);
		run->brews[brew].word[BREW_NOTES] = i == 0 ? long_note() : slice_from(words[i]);
		run->brews[brew].word[BREW_BLOCK] = slice_from(words[i]);
	}
	build_words(run, "=1+1\x02", -1, words);
	run->meters[0].name = SLICE_OF("=meter\x02\xFF");
	faults_add(&faults, SEVERITY_ERROR, (struct place){ .file = "=f\x02\xFF" }, "=1\x02\xFF");
	assert_int_equal(write_run_to(run, NULL, &faults, &hostile, &error), STATUS_OK);
	is_sound();
	xml = workbook_part(BOOK, "xl/worksheets/*");
	assert_int_equal(count_text(xml, "cmd"), 0); /* neither formula nor anything but a shared text */
	free(xml);
	xml = workbook_part(BOOK, "xl/sharedStrings.xml");
	assert_true(count_text(xml, "<t>=cmd|' /C calc'!A0</t>") > 0);
	assert_true(count_text(xml, "<t>_x005F_x0041_</t>") > 0);
	assert_int_equal(count_text(xml, "… (cut)"), 1);
	free(xml);
	xml = workbook_part(BOOK, "xl/charts/chart1.xml");
	assert_int_equal(count_text(xml, "<c:f>=") + count_text(xml, "<c:f>cmd"), 0);
	assert_int_equal(count_text(xml, "calc"), 1);
	free(xml);
	faults_release(&faults);
}

static void nothing_known_is_nothing_invented(void **state)
{
	struct run *run = usual_run(3, 2, 2);

	(void)state;
	for (size_t b = 0; b < run->brew_count; b++) {
		for (size_t i = 0; i < BREW_NUMBERS; i++)
			run->brews[b].number[i] = NAN;
		run->brews[b].usable = false;
	}
	for (size_t i = 0; i < run->reading_count; i++) {
		run->readings[i].value = NAN;
		run->readings[i].line->temp_c = NAN;
	}
	run->meters[0].step = run->meters[0].accuracy = NAN;
	write_run(run);
	is_sound();
}

static void odd_runs(void **state)
{
	static const size_t shapes[][3] = { { 0, 0, 0 }, { 1, 1, 1 }, { 1, 1, 0 },  { 1, 4, 3 },  { 5, 1, 1 },
		                            { 5, 1, 3 }, { 3, 2, 0 }, { 30, 3, 2 }, { 70, 2, 2 }, { 2, 1000, 1 } };

	(void)state;
	for (size_t i = 0; i < sizeof(shapes) / sizeof(shapes[0]); i++) {
		print_message("# %zu treatments, %zu brews of each, %zu readings of each\n", shapes[i][0], shapes[i][1],
		              shapes[i][2]);
		write_run(usual_run(shapes[i][0], shapes[i][1], shapes[i][2]));
		is_sound();
	}
}

static void a_reading_more_and_formulas_give_way_to_values(void **state)
{
	struct run *run = usual_run(2, 2, 1);
	char *xml;

	(void)state;
	while (run->reading_count < BOOK_FORMULA_READINGS)
		build_reading(run, 0, 1.31);
	write_run(run);
	xml = workbook_part(BOOK, "xl/worksheets/sheet2.xml");
	assert_true(count_text(xml, "<f>") > 0);
	free(xml);
	run = usual_run(2, 2, 1);
	while (run->reading_count < BOOK_FORMULA_READINGS + 1)
		build_reading(run, 0, 1.31);
	write_run(run);
	is_sound();
	xml = workbook_part(BOOK, "xl/worksheets/*");
	assert_int_equal(count_text(xml, "<f>"), 0);
	assert_true(count_text(xml, "<row ") > BOOK_FORMULA_READINGS);
	free(xml);
}

/* -- files ------------------------------------------------------------------------------ */

static void the_same_input_gives_the_same_bytes(void **state)
{
	size_t len, len_again;
	char *bytes, *again;

	(void)state;
	write_run(usual_run(3, 3, 3));
	bytes = file_bytes(BOOK, &len);
	sleep(1); /* a second is the step of the times in document properties, two that of those in archives */
	sleep(1);
	write_run(usual_run(3, 3, 3));
	again = file_bytes(BOOK, &len_again);
	assert_int_equal(len, len_again);
	assert_memory_equal(bytes, again, len);
	free(bytes);
	free(again);
}

static void the_moment_is_that_of_the_newest_reading(void **state)
{
	struct run *run = usual_run(2, 2, 2);
	char *xml;

	(void)state;
	write_run(run);
	xml = workbook_part(BOOK, "docProps/core.xml");
	assert_int_equal(count_text(xml, "2000-01-01T00:00:00Z"), 2);
	free(xml);
	run = usual_run(2, 2, 2);
	run->readings[1].line->taken_us = INT64_C(1773479640000000); /* 2026-03-14 09:14 */
	run->readings[2].line->taken_us = INT64_C(1773479580000000);
	write_run(run);
	xml = workbook_part(BOOK, "docProps/core.xml");
	assert_int_equal(count_text(xml, "2026-03-14T09:14:00Z"), 2);
	free(xml);
}

static void put_old_report(void)
{
	FILE *old = fopen(BOOK, "w");

	assert_non_null(old);
	fputs("the old report", old);
	fclose(old);
}

static void is_the_old_report(int fd)
{
	char text[32] = "";

	assert_int_equal(pread(fd, text, sizeof(text) - 1, 0), strlen("the old report"));
	assert_string_equal(text, "the old report");
}

static void who_has_the_old_report_open_keeps_it(void **state)
{
	int fd;

	(void)state;
	put_old_report();
	chmod(BOOK, 0640);
	fd = open(BOOK, O_RDONLY);
	write_run(usual_run(2, 2, 2));
	is_the_old_report(fd);
	close(fd);
	is_sound();
}

static void rights_are_kept(void **state)
{
	struct stat stat_of;

	(void)state;
	put_old_report();
	chmod(BOOK, 0640);
	write_run(usual_run(2, 2, 2));
	assert_int_equal(stat(BOOK, &stat_of), 0);
	assert_int_equal(stat_of.st_mode & 0777, 0640);
}

static void a_link_is_followed(void **state)
{
	const struct book_request through = { .path = "link.xlsx", .version = "", .command = "" };
	struct error error = ERROR_INIT;
	struct stat stat_of;

	(void)state;
	put_old_report();
	assert_int_equal(symlink(BOOK, "link.xlsx"), 0);
	assert_int_equal(write_run_to(usual_run(2, 2, 2), NULL, NULL, &through, &error), STATUS_OK);
	assert_int_equal(lstat("link.xlsx", &stat_of), 0);
	assert_true(S_ISLNK(stat_of.st_mode));
	unlink("link.xlsx");
	is_sound();
}

struct refusal {
	const char *name;
	const char *path;
	const char *temporary; /* TMPDIR */
	const char *words;     /* that the error has */
};

static void refuses(void **state)
{
	const struct refusal *c = *state;
	const struct book_request to = { .path = c->path, .version = "", .command = "" };
	const char *temporary = getenv("TMPDIR");
	char *kept = temporary ? strdup(temporary) : NULL;
	struct error error = ERROR_INIT;
	enum status status;

	setenv("TMPDIR", c->temporary, 1);
	status = write_run_to(usual_run(2, 2, 2), NULL, NULL, &to, &error);
	if (kept)
		setenv("TMPDIR", kept, 1);
	else
		unsetenv("TMPDIR");
	free(kept);
	assert_int_not_equal(status, STATUS_OK);
	assert_non_null(strstr(error.text, c->words));
	assert_int_equal(count_files(), access(BOOK, F_OK) == 0);
}

/*
 * A limit on the size of files stands for a disk that is full: it strikes the library's scratch files, whose errors it
 * does not look at, and the workbook itself. Whatever the limit, there is the whole new report or the old one.
 */
static void whole_or_not_at_all(void **state)
{
	struct rlimit usual, small;
	size_t len, failed = 0, succeeded = 0;
	char *bytes;

	(void)state;
	write_run(usual_run(3, 3, 3));
	bytes = file_bytes(BOOK, &len);
	signal(SIGXFSZ, SIG_IGN);
	getrlimit(RLIMIT_FSIZE, &usual);
	for (rlim_t limit = 0; limit < 60000; limit += limit < 4096 ? 512 : 2048) {
		struct error error = ERROR_INIT;
		enum status status;
		char *now;
		size_t now_len;
		int fd;

		put_old_report();
		fd = open(BOOK, O_RDONLY);
		small = (struct rlimit){ .rlim_cur = limit, .rlim_max = usual.rlim_max };
		setrlimit(RLIMIT_FSIZE, &small);
		status = write_run_to(usual_run(3, 3, 3), NULL, NULL, &request, &error);
		setrlimit(RLIMIT_FSIZE, &usual);
		now = file_bytes(BOOK, &now_len);
		if (status == STATUS_OK) {
			assert_int_equal(now_len, len);
			assert_memory_equal(now, bytes, len);
			succeeded++;
		} else {
			assert_int_equal(status, STATUS_IO);
			assert_int_equal(strncmp(error.text, BOOK ": not written; ", strlen(BOOK ": not written; ")),
			                 0);
			is_the_old_report(fd);
			assert_string_equal(now, "the old report");
			failed++;
		}
		assert_int_equal(count_files(), 1);
		close(fd);
		free(now);
	}
	assert_true(failed > 5);
	assert_true(succeeded > 5);
	free(bytes);
}

int main(void)
{
	static struct refusal refusals[] = {
		{ "no such folder", "nowhere/report.xlsx", "/tmp", "nowhere/report.xlsx: not written: No such file" },
		{ "a folder's name", ".", "/tmp", "it is a folder" },
		{ "no name", "", "/tmp", "has no name" },
		{ "a folder that takes no files", "/proc/report.xlsx", "/tmp", "/proc/report.xlsx: not written" },
		{ "no room for scratch files", BOOK, "/nonexistent/scratch",
		  "scratch files can't be made in /nonexistent/scratch" },
	};
	const struct CMUnitTest first[] = {
		cmocka_unit_test(has_its_sheets_and_a_chart),
		cmocka_unit_test(a_yield_can_be_followed_to_its_readings),
		cmocka_unit_test(notes_stand_beside_the_numbers),
		cmocka_unit_test(hostile_texts_stay_texts),
		cmocka_unit_test(nothing_known_is_nothing_invented),
		cmocka_unit_test(odd_runs),
		cmocka_unit_test(a_reading_more_and_formulas_give_way_to_values),
		cmocka_unit_test(the_same_input_gives_the_same_bytes),
		cmocka_unit_test(the_moment_is_that_of_the_newest_reading),
		cmocka_unit_test(who_has_the_old_report_open_keeps_it),
		cmocka_unit_test(rights_are_kept),
		cmocka_unit_test(a_link_is_followed),
		cmocka_unit_test(whole_or_not_at_all),
	};
	struct CMUnitTest tests[sizeof(first) / sizeof(first[0]) + sizeof(refusals) / sizeof(refusals[0])];

	memcpy(tests, first, sizeof(first));
	for (size_t i = 0; i < sizeof(refusals) / sizeof(refusals[0]); i++)
		tests[sizeof(first) / sizeof(first[0]) + i] = (struct CMUnitTest){ .name = refusals[i].name,
			                                                           .test_func = refuses,
			                                                           .initial_state = &refusals[i] };
	return cmocka_run_group_tests(tests, workbook_folder_make, workbook_folder_remove);
}
