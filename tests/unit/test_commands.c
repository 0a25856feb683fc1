/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each command's own example is run as the help shows it, and has to end as its row says. */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command.h"

static int run_line(const char *format, const char *words)
{
	const char *program = getenv("BREWSPREAD");
	char line[4096];
	char rest[3072];
	int status;

	snprintf(rest, sizeof(rest), format, words);
	snprintf(line, sizeof(line), "mkdir -p build/demo && '%s' %s >/dev/null 2>&1 </dev/null",
	         program ? program : "build/brewspread", rest);
	status = system(line); // NOLINT(cert-env33-c): the lines are constants of the program
	return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void example_ends_as_its_row_says(void **state)
{
	const struct command *command = *state;

	if (strcmp(command->name, "ports") == 0 && access("/sys/class/tty", F_OK) != 0)
		skip(); /* a container where the system tells nothing of its ports */
	assert_int_equal(strncmp(command->example, command->name, strlen(command->name)), 0);
	assert_int_equal(run_line("%s", command->example), command->example_exit);
}

static void help_is_no_fault(void **state)
{
	const struct command *command = *state;

	assert_int_equal(run_line("%s --help", command->name), EXIT_DONE);
}

static void unknown_options_are_wrong_use(void **state)
{
	const struct command *command = *state;

	assert_int_equal(run_line("%s --no-such-option", command->name), EXIT_USAGE);
}

static void says_what_it_is_for(void **state)
{
	const struct command *command = *state;
	size_t length = strlen(command->purpose);

	assert_true(length > 10 && command->purpose[length - 1] == '.');
	for (size_t i = 0; command->options && command->options[i].name; i++) {
		assert_true(i < COMMAND_OPTIONS);
		length = strlen(command->options[i].text);
		assert_true(command->options[i].text[length - 1] == '.');
	}
}

int main(void)
{
	static const struct {
		const char *what;
		CMUnitTestFunction test;
	} kinds[] = {
		{ "example", example_ends_as_its_row_says },
		{ "help", help_is_no_fault },
		{ "unknown option", unknown_options_are_wrong_use },
		{ "purpose", says_what_it_is_for },
	};
	enum { KINDS = sizeof(kinds) / sizeof(kinds[0]), TESTS_MOST = 128 };
	static struct CMUnitTest tests[TESTS_MOST];
	static char names[TESTS_MOST][64];
	size_t count, n = 0;
	const struct command *const *list = commands(&count);

	for (size_t i = 0; i < count; i++)
		for (size_t k = 0; k < KINDS && n < TESTS_MOST; k++, n++) {
			snprintf(names[n], sizeof(names[n]), "%s: %s", list[i]->name, kinds[k].what);
			tests[n] = (struct CMUnitTest){ .name = names[n],
				                        .test_func = kinds[k].test,
				                        .initial_state = (void *)(uintptr_t)list[i] };
		}
	/* the group is handed over by its size, which cmocka's macro takes from the array's type */
	return _cmocka_run_group_tests("commands", tests, n, NULL, NULL);
}
