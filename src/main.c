/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "help.h"
#include "version.h"

static bool is_word(const char *given, const char *word, const char *option)
{
	return strcmp(given, word) == 0 || strcmp(given, option) == 0;
}

int main(int argc, char **argv)
{
	size_t count;
	const struct command *const *list = commands(&count);

	if (argc < 2) {
		help_program(stderr);
		return EXIT_USAGE;
	}
	if (is_word(argv[1], "help", "--help")) {
		help_program(stdout);
		return EXIT_DONE;
	}
	if (is_word(argv[1], "version", "--version")) {
		printf("brewspread %s\n", program_version());
		return EXIT_DONE;
	}
	for (size_t i = 0; i < count; i++)
		if (strcmp(list[i]->name, argv[1]) == 0)
			return (int)command_run(list[i], argc - 1, argv + 1);
	fprintf(stderr, "brewspread: no command is called \"%s\"\n", argv[1]);
	help_program(stderr);
	return EXIT_USAGE;
}
