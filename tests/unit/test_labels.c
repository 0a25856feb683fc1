/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Labels in another language: how they are found, filled and read from a file. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "labels.h"
#include "labels_file.h"
#include "phrase.h"

static void assert_label(const struct labels *labels, const char *english, const char *wanted)
{
	struct slice found = labels_find(labels, slice_from(english));

	if (!slice_equal(found, slice_from(wanted)))
		fail_msg("\"%s\" gives \"%.*s\", not \"%s\"", english, SLICE_ARG(found), wanted);
}

static void the_first_of_equal_labels_is_kept_and_unknown_ones_stay(void **state)
{
	struct labels labels = LABELS_INIT;
	char english[16], own[16];

	(void)state;
	for (uint32_t i = 0; i < 1000; i++) {
		snprintf(english, sizeof(english), "label %u", (unsigned)((i * 37) % 500));
		snprintf(own, sizeof(own), "own %u", (unsigned)i);
		assert_true(labels_add(&labels, (struct label){ slice_from(english), slice_from(own), i + 1 }));
	}
	labels_sort(&labels);
	assert_int_equal(labels.count, 500);
	assert_label(&labels, "label 0", "own 0");
	assert_label(&labels, "label 37", "own 1");
	assert_label(&labels, "label 499", "own 27"); /* 27 * 37 = 999 */
	assert_label(&labels, "label", "label");
	assert_label(&labels, "", "");
	labels_release(&labels);
	assert_label(NULL, "Brews", "Brews");
}

static void gaps_are_small_letters_between_braces(void **state)
{
	static const struct {
		const char *english, *own, *odd; /* odd NULL: the same gaps */
	} rows[] = {
		{ "no gap", "keine", NULL }, { "{a} of {b}", "{b}: {a}", NULL }, { "{a} and {a}", "{a}", NULL },
		{ "{a}", "none", "{a}" },    { "{a}", "{a} {b_c}", "{b_c}" },    { "{} {A} {1} {a", "other", NULL },
		{ "{{a}}", "{a}", NULL },
	};

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		struct slice odd = { NULL, 0 };
		bool same = labels_same_gaps(slice_from(rows[i].english), slice_from(rows[i].own), &odd);

		if (same != (rows[i].odd == NULL) || (!same && !slice_equal(odd, slice_from(rows[i].odd))))
			fail_msg("row \"%s\": %d, odd \"%.*s\"", rows[i].english, same, SLICE_ARG(odd));
	}
}

static void a_phrase_is_filled_in_the_order_of_the_other_language(void **state)
{
	struct labels labels = LABELS_INIT;
	struct phrase phrase = PHRASE_INIT;
	struct phrase_part parts[] = { { "count", SLICE_OF("3") }, { "name", SLICE_OF("{count}") } };

	(void)state;
	assert_true(labels_add(&labels,
	                       (struct label){ SLICE_OF("{count} of {name}"), SLICE_OF("{name}: {count} {x}"), 1 }));
	labels_sort(&labels);
	phrase_fill(&phrase, "{count} of {name}", parts, 2);
	assert_true(slice_equal(phrase_slice(&phrase), SLICE_OF("3 of {count}"))); /* what fills a gap is not filled */
	phrase_clear(&phrase);
	phrase.labels = &labels;
	phrase_fill(&phrase, "{count} of {name}", parts, 2);
	assert_true(slice_equal(phrase_slice(&phrase), SLICE_OF("{count}: 3 {x}")));
	phrase_release(&phrase);
	labels_release(&labels);
}

/* -- files ----------------------------------------------------------------------- */

struct read_file {
	struct labels labels;
	struct faults faults;
	enum status status;
};

static struct read_file read_bytes(const char *bytes, size_t len)
{
	struct read_file read = { .faults = FAULTS_INIT };
	struct error error = ERROR_INIT;
	char path[] = "/tmp/labels-XXXXXX";
	int fd = mkstemp(path);

	assert_true(fd >= 0);
	assert_int_equal(write(fd, bytes, len), (ssize_t)len);
	close(fd);
	read.status = labels_file_read(&read.labels, path, &read.faults, &error);
	unlink(path);
	return read;
}

static void release(struct read_file *read)
{
	labels_release(&read->labels);
	faults_release(&read->faults);
}

static void tables_are_read_as_spreadsheet_programs_save_them(void **state)
{
	static const struct {
		const char *what, *bytes;
		size_t len;
	} files[] = {
#define FILE_OF(what, bytes) { what, bytes, sizeof(bytes) - 1 }
		FILE_OF("commas", "English,Own,Where\nBrews,B\xc3\xbc,x\nNo.,,\n"),
		FILE_OF("semicolons, CRLF, mark", "\xef\xbb\xbf"
		                                  "English;Own\r\n\r\nBrews;B\xc3\xbc\r\nNo.\r\n"),
		FILE_OF("tabs, CR, a comment", "# a comment\rEnglish\tOwn\rBrews\tB\xc3\xbc\r"),
		FILE_OF("quotes", "\"English, short\",Own\n\"Brews\",\"B\xc3\xbc\"\n"),
		FILE_OF("Windows-1252", "English;Own\nBrews;B\xfc\n"),
		FILE_OF("UTF-16", "\xff\xfe"
		                  "E\0;\0O\0\n\0B\0r\0e\0w\0s\0;\0B\0\xfc\0\n\0"),
#undef FILE_OF
	};

	(void)state;
	for (size_t i = 0; i < sizeof(files) / sizeof(files[0]); i++) {
		struct read_file read = read_bytes(files[i].bytes, files[i].len);

		if (read.status != STATUS_OK || read.labels.count != 1 || read.faults.count != 0)
			fail_msg("%s: status %d, %zu labels, %zu faults", files[i].what, read.status, read.labels.count,
			         read.faults.count);
		assert_label(&read.labels, "Brews", "B\xc3\xbc");
		release(&read);
	}
}

static void what_cannot_be_used_is_told_with_its_place(void **state)
{
	static const char bytes[] = "English,Own\nBrews,B\0u\nOrder,Folge\n{a} more,mehr\n";
	struct read_file read = read_bytes(bytes, sizeof(bytes) - 1);

	(void)state;
	assert_int_equal(read.status, STATUS_OK);
	assert_int_equal(read.labels.count, 1);
	assert_label(&read.labels, "Order", "Folge");
	assert_int_equal(read.faults.count, 2);
	assert_int_equal(read.faults.items[0].place.line, 2);
	assert_int_equal(read.faults.items[0].place.column, 7);
	assert_int_equal(read.faults.items[1].place.line, 4);
	assert_int_equal(read.faults.items[1].place.column, 10);
	release(&read);
}

static void what_is_no_table_of_labels_is_refused(void **state)
{
	static const char *const files[] = { "", "only one column\n", "English,Own\n\"open,x\n" };

	(void)state;
	for (size_t i = 0; i < sizeof(files) / sizeof(files[0]); i++) {
		struct read_file read = read_bytes(files[i], strlen(files[i]));

		if (read.status != STATUS_REFUSED || read.labels.count != 0 || read.faults.errors != 1)
			fail_msg("file %zu: status %d, %zu labels, %zu errors", i, read.status, read.labels.count,
			         read.faults.errors);
		release(&read);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_first_of_equal_labels_is_kept_and_unknown_ones_stay),
		cmocka_unit_test(gaps_are_small_letters_between_braces),
		cmocka_unit_test(a_phrase_is_filled_in_the_order_of_the_other_language),
		cmocka_unit_test(tables_are_read_as_spreadsheet_programs_save_them),
		cmocka_unit_test(what_cannot_be_used_is_told_with_its_place),
		cmocka_unit_test(what_is_no_table_of_labels_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
