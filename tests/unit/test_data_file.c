/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "data_file.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "near.h"

static void make_file(const char *folder, const char *name)
{
	char path[PATH_MAX];
	FILE *file;

	snprintf(path, sizeof(path), "%s/%s", folder, name);
	file = fopen(path, "w");
	assert_non_null(file);
	fclose(file);
}

static void what_is_there_goes_before_what_was_installed(void **state)
{
	char folder[] = "/tmp/brewspread-data-XXXXXX", here[] = "/tmp/brewspread-here-XXXXXX";
	char room[PATH_MAX], wanted[PATH_MAX];

	(void)state;
	assert_non_null(mkdtemp(folder));
	assert_non_null(mkdtemp(here));
	assert_int_equal(chdir(here), 0);
	make_file(folder, "labels-de.csv");
	make_file(folder, "own.md");
	snprintf(wanted, sizeof(wanted), "%s/labels-de.csv", folder);
	assert_string_equal(data_file(room, sizeof(room), folder, "de"), wanted);
	assert_string_equal(data_file(room, sizeof(room), folder, "labels-de.csv"), wanted);
	snprintf(wanted, sizeof(wanted), "%s/own.md", folder);
	assert_string_equal(data_file(room, sizeof(room), folder, "own.md"), wanted);
	make_file(here, "de");
	assert_string_equal(data_file(room, sizeof(room), folder, "de"), "de");
	assert_string_equal(data_file(room, sizeof(room), folder, "fr"), "fr");
	assert_string_equal(data_file(room, sizeof(room), folder, "x/own.md"), "x/own.md");
	assert_string_equal(data_file(room, 10, folder, "own.md"), "own.md"); /* no room for the path */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_is_there_goes_before_what_was_installed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
