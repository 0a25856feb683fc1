/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "help.h"

#include <string.h>

enum { HELP_WIDTH = 96, HELP_INDENT = 28 };

/* Prints text from column HELP_INDENT on, broken at blanks. */
static void print_wrapped(FILE *out, const char *text)
{
	size_t column = HELP_INDENT;

	while (*text) {
		size_t word = strcspn(text, " ");

		if (column > HELP_INDENT && column + 1 + word > HELP_WIDTH) {
			fprintf(out, "\n%*s", HELP_INDENT, "");
			column = HELP_INDENT;
		} else if (column > HELP_INDENT) {
			fputc(' ', out);
			column++;
		}
		fprintf(out, "%.*s", (int)word, text);
		column += word;
		text += word;
		text += strspn(text, " ");
	}
	fputc('\n', out);
}

static void print_row(FILE *out, const char *left, const char *text)
{
	int used = fprintf(out, "  %s", left);

	if (used >= HELP_INDENT - 1)
		fprintf(out, "\n%*s", HELP_INDENT, "");
	else
		fprintf(out, "%*s", HELP_INDENT - used, "");
	print_wrapped(out, text);
}

bool help_section_taken(const struct command *command, const char *section)
{
	for (size_t i = 0; command->sections && command->sections[i]; i++)
		if (strcmp(command->sections[i], section) == 0)
			return true;
	return false;
}

void help_program(FILE *out)
{
	size_t count;
	const struct command *const *list = commands(&count);

	fprintf(out, "brewspread: brews of one coffee side by side: which differences are real\n\n");
	fprintf(out, "usage: brewspread COMMAND ...\n\n");
	for (size_t i = 0; i < count; i++)
		print_row(out, list[i]->name, list[i]->purpose);
	fprintf(out, "\n\"brewspread COMMAND --help\" tells more of each; \"brewspread --version\" the version.\n"
	             "Exit status: 0 done, 1 the data have faults, 2 wrong use, 3 the system failed.\n");
}

static void print_own_options(const struct command *command)
{
	char left[80];

	for (size_t i = 0; command->options && command->options[i].name; i++) {
		const struct command_option *option = &command->options[i];
		char letter[5] = "";

		if (option->letter)
			snprintf(letter, sizeof(letter), "-%c, ", option->letter);
		snprintf(left, sizeof(left), "%s--%s%s%s", letter, option->name, option->argument ? " " : "",
		         option->argument ? option->argument : "");
		print_row(stdout, left, option->text);
	}
}

static void print_settings(const struct command *command)
{
	size_t count;
	const struct option_def *defs = option_defs(&count);
	char left[80], text[400];

	print_row(stdout, "--settings FILE", "Takes settings from a file; options go before it.");
	print_row(stdout, "--sample-type NAME=FACTOR", "Adds or changes a sample type: its TDS per Brix.");
	for (size_t i = 0; i < count; i++) {
		const struct option_def *def = &defs[i];

		if (!help_section_taken(command, def->section))
			continue;
		snprintf(left, sizeof(left), "--%s %s", def->name, def->type == OPTION_WORD ? "NAME" : "NUMBER");
		snprintf(text, sizeof(text), "%s%s%s%s%s%s%s", def->text, def->unit ? " In " : "",
		         def->unit ? def->unit : "", def->unit ? "." : "",
		         def->standard && def->standard[0] ? " Unless set: " : "",
		         def->standard && def->standard[0] ? def->standard : "",
		         def->standard && def->standard[0] ? "." : "");
		print_row(stdout, left, text);
	}
}

void help_command(const struct command *command)
{
	printf("usage: brewspread %s %s\n\n%s\n\n", command->name, command->operands, command->purpose);
	print_own_options(command);
	if (command->sections)
		print_settings(command);
	print_row(stdout, "--help", "Prints this.");
	if (command->details)
		printf("\n%s\n", command->details);
	printf("\nexample:\n  brewspread %s\n", command->example);
}
