/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The manifest of an instrument study: how it is spelled, what is refused, and what a study can't tell apart. */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "by_row.h"
#include "gauge_manifest.h"
#include "join.h"
#include "readings.h"
#include "settings.h"

struct desk {
	struct run *run;
	struct gauge_design design;
	struct faults faults;
	struct settings settings;
	struct error error;
	enum status status;
};

/* A file of that text in a folder of its own, which it leaves again. */
static void file_make(char *path, const char *text, size_t len)
{
	int fd = mkstemp(path);

	assert_true(fd >= 0);
	assert_int_equal(write(fd, text, len), (ssize_t)len);
	close(fd);
}

static void desk_open(struct desk *desk, const char *text)
{
	char path[] = "/tmp/study-XXXXXX";

	*desk = (struct desk){ .run = run_new(), .faults = FAULTS_INIT };
	assert_non_null(desk->run);
	settings_init(&desk->settings);
	file_make(path, text, strlen(text));
	desk->status = gauge_manifest_read(desk->run, &desk->design, path, &desk->faults, &desk->error);
	unlink(path);
}

static void desk_close(struct desk *desk)
{
	faults_release(&desk->faults);
	run_free(desk->run);
}

static bool told(const struct faults *faults, uint32_t line, const char *words)
{
	for (size_t i = 0; i < faults->count; i++)
		if (faults->items[i].place.line == line && strstr(faults->items[i].text, words))
			return true;
	for (size_t i = 0; i < faults->count; i++)
		print_message("# %u: %s\n", faults->items[i].place.line, faults->items[i].text);
	return false;
}

struct spelling {
	const char *name, *text;
	size_t loads, samples, operators, days;
};

static void spelled(void **state)
{
	const struct spelling *c = *state;
	struct desk desk;

	desk_open(&desk, c->text);
	assert_int_equal(desk.status, STATUS_OK);
	assert_int_equal(desk.faults.count, 0);
	assert_int_equal(desk.run->brew_count, c->loads);
	assert_int_equal(desk.run->treatment_count, c->samples);
	assert_int_equal(desk.design.operator_count, c->operators);
	assert_int_equal(desk.design.day_count, c->days);
	desk_close(&desk);
}

static struct spelling spellings[] = {
	{ "all columns", "load,sample,operator,day,kind\nL1,a,Ada,1,gauge\nL2,b,Ben,2,Gauge\n", 2, 2, 2, 2 },
	{ "loads alone", "load\nL1\nL2\nL3\n", 3, 1, 0, 0 },
	{ "semicolons", "load;sample\nL1;a\nL2;a\n", 2, 1, 0, 0 },
	{ "tabs", "load\tsample\nL1\ta\nL2\tb\n", 2, 2, 0, 0 },
	{ "bars, remarks, empty lines", "# a remark\n\nload|day\n# another\nL1|1\n\nL2|1\n", 2, 1, 0, 1 },
	{ "other words, other case, any order", "Date,Person,Artefact,Cup\n1,Ada,a,L1\n1,Ada,b,L2\n", 2, 2, 1, 1 },
	{ "further columns", "load,room,sample\nL1,12,a\nL2,12,b\n", 2, 2, 0, 0 },
	{ "quotes and line ends of another system", "load,sample\r\n\"L,1\",\"a\"\r\nL2,a\r\n", 2, 1, 0, 0 },
};

struct refusal {
	const char *name, *text;
	uint32_t line;
	const char *words;
	size_t loads; /* that are left; 0: none, and the file is refused */
};

static void refused(void **state)
{
	const struct refusal *c = *state;
	struct desk desk;

	desk_open(&desk, c->text);
	assert_int_equal(desk.status, c->loads > 0 ? STATUS_OK : STATUS_REFUSED);
	assert_int_equal(desk.run->brew_count, c->loads);
	assert_true(told(&desk.faults, c->line, c->words));
	desk_close(&desk);
}

static struct refusal refusals[] = {
	{ "nothing in it", "", 0, "nothing in it", 0 },
	{ "remarks alone", "# one\n# two\n", 0, "nothing in it", 0 },
	{ "no column for the load", "sample,operator\na,Ada\n", 1, "no column for the load", 0 },
	{ "a header alone", "load,sample\n", 0, "no load in it", 0 },
	{ "a load twice", "load\nL1\nL1\nL2\n", 3, "stands twice, first in line 2", 2 },
	{ "a cell that is missing", "load,day\nL1,1\nL2,\n", 3, "the day is missing", 1 },
	{ "a short row", "load,sample,day\nL1,a,1\nL2\n", 3, "is missing", 1 },
	{ "another kind", "load,kind\nL1,gauge\nL2,brew\n", 3, "kind \"brew\" is not that of an instrument study", 1 },
	{ "a column twice", "load,sample,standard\nL1,a,b\n", 1, "a second column for the sample", 1 },
	{ "a quote that is never closed", "load,sample\nL1,a\nL2,\"b\n", 3, "is never closed", 1 },
};

static void more_loads_than_can_be(void **state)
{
	char *text = malloc(20000);
	size_t used;
	struct desk desk;

	(void)state;
	assert_non_null(text);
	used = (size_t)snprintf(text, 20000, "load\n");
	for (int i = 0; i <= GAUGE_LOADS_MOST; i++)
		used += (size_t)snprintf(text + used, 20000 - used, "L%d\n", i);
	desk_open(&desk, text);
	assert_int_equal(desk.status, STATUS_OK);
	assert_int_equal(desk.run->brew_count, GAUGE_LOADS_MOST);
	assert_true(told(&desk.faults, GAUGE_LOADS_MOST + 2, "more than 600 loads"));
	desk_close(&desk);
	free(text);
}

static void a_file_that_is_not_there(void **state)
{
	struct faults faults = FAULTS_INIT;
	struct gauge_design design;
	struct error error = ERROR_INIT;
	struct run *run = run_new();

	(void)state;
	assert_int_equal(gauge_manifest_read(run, &design, "no/such/study.csv", &faults, &error), STATUS_IO);
	assert_non_null(strstr(error.text, "no/such/study.csv"));
	run_free(run);
	faults_release(&faults);
}

/* -- from manifest and readings to a study ------------------------------------------------ */

struct study {
	const char *name, *manifest, *readings;
	const char *says, *says_not;
};

static bool said(const struct audit_gauge *gauge, const char *words)
{
	for (size_t i = 0; i < gauge->note_count; i++)
		if (strstr(gauge->notes[i].text, words))
			return true;
	return false;
}

static void studied(void **state)
{
	const struct study *c = *state;
	const struct audit_query query = audit_query_standard();
	char path[] = "/tmp/study-XXXXXX";
	struct audit_gauge *gauge;
	struct desk desk;

	desk_open(&desk, c->manifest);
	assert_int_equal(desk.status, STATUS_OK);
	file_make(path, c->readings, strlen(c->readings));
	assert_int_equal(readings_read(desk.run, path, NULL, &desk.settings, &desk.faults, &desk.error), STATUS_OK);
	unlink(path);
	assert_int_equal(join_readings(desk.run, &desk.settings, &desk.faults, &desk.error), STATUS_OK);
	assert_int_equal(audit_gauge_make(&gauge, desk.run, &desk.design, &desk.settings, &query, &desk.error),
	                 STATUS_OK);
	if (!said(gauge, c->says)) {
		for (size_t i = 0; i < gauge->note_count; i++)
			print_message("# %s\n", gauge->notes[i].text);
		fail_msg("not said: %s", c->says);
	}
	if (c->says_not)
		assert_false(said(gauge, c->says_not));
	audit_gauge_free(gauge);
	desk_close(&desk);
}

/* Loads 0.08 apart, readings of each 0.01. */
#define LOADS_APART "L1 1.40 1.41\nL2 1.48 1.49\nL3 1.40 1.41\nL4 1.48 1.49\nL5 1.44 1.45\nL6 1.52 1.53\n"

static struct study studies[] = {
	{ "loads of one sample", "load\nL1\nL2\nL3\nL4\nL5\nL6\n", LOADS_APART,
	  "Most of what the meter adds lies between loads", "Between samples" },
	{ "days that are loads", "load,day\nL1,1\nL2,2\nL3,3\nL4,4\nL5,5\nL6,6\n", LOADS_APART,
	  "This study can't tell loads of the prism from days", NULL },
	{ "operators that go with days", "load,operator,day\nL1,A,1\nL2,B,2\nL3,A,1\nL4,B,2\nL5,A,1\nL6,B,2\n",
	  LOADS_APART, "This study can't tell days from operators", NULL },
	{ "all the same", "load,sample\nL1,a\nL2,a\nL3,b\nL4,b\n", "L1 1.4 1.4\nL2 1.4 1.4\nL3 1.4 1.4\nL4 1.4 1.4\n",
	  "No reading differs from another", NULL },
	{ "samples alone differ", "load,sample\nL1,a\nL2,a\nL3,b\nL4,b\n",
	  "L1 1.4 1.4\nL2 1.4 1.4\nL3 1.9 1.9\nL4 1.9 1.9\n", "All that differs are the samples", NULL },
	{ "too few kinds", "load,sample\nL1,a\nL2,a\nL3,b\nL4,b\nL5,c\nL6,c\n",
	  "L1 1.40 1.46\nL2 1.45 1.40\nL3 1.42 1.47\nL4 1.46 1.41\nL5 1.50 1.44\nL6 1.43 1.49\n",
	  "One reading tells 1 kinds of sample apart", NULL },
};

static void one_load_is_no_study(void **state)
{
	const struct audit_query query = audit_query_standard();
	struct audit_gauge *gauge;
	struct desk desk;

	(void)state;
	desk_open(&desk, "load\nL1\nL2\n");
	assert_int_equal(audit_gauge_make(&gauge, desk.run, &desk.design, &desk.settings, &query, &desk.error),
	                 STATUS_INVALID);
	assert_null(gauge);
	assert_non_null(strstr(desk.error.text, "0 loads with readings; an instrument study needs 2 to 600"));
	desk_close(&desk);
}

int main(void)
{
	const struct CMUnitTest fixed[] = {
		cmocka_unit_test(more_loads_than_can_be),
		cmocka_unit_test(a_file_that_is_not_there),
		cmocka_unit_test(one_load_is_no_study),
	};
	struct CMUnitTest by_row[sizeof(spellings) / sizeof(spellings[0]) + sizeof(refusals) / sizeof(refusals[0]) +
	                         sizeof(studies) / sizeof(studies[0])];
	size_t count = 0;
	int failed = cmocka_run_group_tests_name("instrument studies", fixed, NULL, NULL);

	BY_ROW(by_row, &count, spellings, spelled);
	BY_ROW(by_row, &count, refusals, refused);
	BY_ROW(by_row, &count, studies, studied);
	return failed + cmocka_run_group_tests_name("by row", by_row, NULL, NULL);
}
