/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "help.h"

#include <string.h>

#include "version.h"

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

static bool lists(const char *const *names, const char *name)
{
	for (size_t i = 0; names && names[i]; i++)
		if (strcmp(names[i], name) == 0)
			return true;
	return false;
}

bool help_setting_taken(const struct command *command, const struct option_def *def)
{
	return lists(command->sections, def->section) && !lists(command->unused, def->name);
}

void help_program(FILE *out)
{
	size_t count;
	const struct command *const *list = commands(&count);

	fprintf(out, "brewspread: brews of one coffee side by side: which differences are real\n\n");
	fprintf(out, "usage: brewspread COMMAND ...\n\n");
	for (size_t i = 0; i < count; i++)
		print_row(out, list[i]->name, list[i]->purpose);
	fprintf(out,
	        "\n\"brewspread COMMAND --help\" tells more of each; \"brewspread --version\" the version.\n"
	        "Exit status: 0 done, 1 the data have faults, 2 wrong use, 3 the system failed.\n"
	        "Templates and labels to copy lie in %s.\n",
	        program_datadir());
}

static void print_options(const struct command_option *option)
{
	char left[80];

	for (; option && option->name; option++) {
		char letter[5] = "";

		if (option->letter)
			snprintf(letter, sizeof(letter), "-%c, ", option->letter);
		snprintf(left, sizeof(left), "%s--%s%s%s", letter, option->name, option->argument ? " " : "",
		         option->argument ? option->argument : "");
		print_row(stdout, left, option->text);
	}
}

const struct command_option *help_settings_options(void)
{
	static const struct command_option options[] = {
		{ "settings", 0, "FILE", "Takes settings from a file; options go before it." },
		{ "sample-type", 0, "NAME=FACTOR", "Adds or changes a sample type: its TDS per Brix." },
		{ NULL, 0, NULL, NULL },
	};

	return options;
}

const char *help_setting_argument(const struct option_def *def)
{
	return def->type == OPTION_WORD ? "NAME" : "NUMBER";
}

static void setting_text(char *text, size_t size, const struct option_def *def)
{
	bool has_standard = def->standard && def->standard[0];

	snprintf(text, size, "%s%s%s%s%s%s%s", def->text, def->unit ? " In " : "", def->unit ? def->unit : "",
	         def->unit ? "." : "", has_standard ? " Unless set: " : "", has_standard ? def->standard : "",
	         has_standard ? "." : "");
}

void help_setting(FILE *out, const struct option_def *def)
{
	char text[400];

	setting_text(text, sizeof(text), def);
	fputs(text, out);
}

static void print_settings(const struct command *command)
{
	size_t count;
	const struct option_def *defs = option_defs(&count);
	char left[80], text[400];

	print_options(help_settings_options());
	for (size_t i = 0; i < count; i++) {
		if (!help_setting_taken(command, &defs[i]))
			continue;
		snprintf(left, sizeof(left), "--%s %s", defs[i].name, help_setting_argument(&defs[i]));
		setting_text(text, sizeof(text), &defs[i]);
		print_row(stdout, left, text);
	}
}

void help_command(const struct command *command)
{
	printf("usage: brewspread %s %s\n\n%s\n\n", command->name, command->operands, command->purpose);
	print_options(command->options);
	if (command->sections)
		print_settings(command);
	print_row(stdout, "--help", "Prints this.");
	if (command->details)
		printf("\n%s\n", command->details);
	printf("\nexample:\n  brewspread %s\n", command->example);
}
