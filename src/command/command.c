/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command.h"

#include <getopt.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistr.h>

#include "bench.h"
#include "help.h"
#include "settings_file.h"
#include "text.h"

enum {
	OPTION_HELP = 0x1000,
	OPTION_SETTINGS,
	OPTION_TYPE,
	OPTION_OWN = 0x2000,     /* + row */
	OPTION_SETTING = 0x3000, /* + row */
	OPTIONS_MOST = 64,
};

struct option_table {
	struct option rows[OPTIONS_MOST];
	char letters[2 * COMMAND_OPTIONS + 2];
	size_t count;
};

static void table_add(struct option_table *table, const char *name, bool argument, int value)
{
	if (table->count + 1 < OPTIONS_MOST)
		table->rows[table->count++] = (struct option){ name, argument ? required_argument : no_argument, NULL,
			                                       value };
}

static void table_fill(struct option_table *table, const struct command *command)
{
	size_t settings, used = 0;
	const struct option_def *defs = option_defs(&settings);

	*table = (struct option_table){ .count = 0 };
	table->letters[used++] = ':'; /* a missing argument is told apart from an unknown option */
	table_add(table, "help", false, OPTION_HELP);
	if (command->sections) {
		table_add(table, "settings", true, OPTION_SETTINGS);
		table_add(table, "sample-type", true, OPTION_TYPE);
	}
	for (size_t i = 0; command->options && command->options[i].name; i++) {
		table_add(table, command->options[i].name, command->options[i].argument != NULL, OPTION_OWN + (int)i);
		if (command->options[i].letter) {
			table->letters[used++] = command->options[i].letter;
			if (command->options[i].argument)
				table->letters[used++] = ':';
		}
	}
	for (size_t i = 0; i < settings; i++)
		if (help_setting_taken(command, &defs[i]))
			table_add(table, defs[i].name, true, OPTION_SETTING + (int)i);
}

static size_t row_of_letter(const struct command *command, int letter)
{
	size_t i = 0;

	while (command->options[i].name && command->options[i].letter != letter)
		i++;
	return i;
}

static enum status take_type(struct invocation *invocation, const char *text)
{
	const char *sign = strchr(text, '=');

	if (!sign)
		return error_set(&invocation->error, STATUS_INVALID,
		                 "--sample-type is \"%s\"; expected NAME=FACTOR, such as filter=0.85", text);
	return settings_set_type(&invocation->settings, (struct slice){ text, (size_t)(sign - text) },
	                         slice_from(sign + 1), &invocation->error);
}

/* Is it the command's own option of that name? */
static bool is_own(const struct invocation *invocation, int option, const char *name)
{
	const struct command *command = invocation->command;
	size_t row = option >= OPTION_OWN ? (size_t)(option - OPTION_OWN) : COMMAND_OPTIONS;

	if (option < OPTION_HELP)
		row = row_of_letter(command, option);
	return row < COMMAND_OPTIONS && strcmp(command->options[row].name, name) == 0;
}

/* Settings come from files first, whatever the order of the words, so that an option always wins. */
static enum status take_settings_file(struct invocation *invocation, int option, const char *path)
{
	if (option == OPTION_SETTINGS)
		return settings_file_read(&invocation->settings, path, &invocation->faults, &invocation->error);
	if (invocation->command->sections && option < OPTION_SETTING && option != OPTION_TYPE &&
	    is_own(invocation, option, "bench"))
		return bench_settings_read(&invocation->settings, path, &invocation->faults, &invocation->error);
	return STATUS_OK;
}

static enum status refuse_twice(struct invocation *invocation, const char *name)
{
	return error_set(&invocation->error, STATUS_INVALID, "--%s is given twice; expected it once", name);
}

static enum status take_setting(struct invocation *invocation, size_t row)
{
	size_t count;
	const struct option_def *def = option_defs(&count) + row;
	uint64_t bit = UINT64_C(1) << row;

	if (invocation->settings_given & bit)
		return refuse_twice(invocation, def->name);
	invocation->settings_given |= bit;
	return settings_set(&invocation->settings, slice_from(def->name), slice_from(optarg), &invocation->error);
}

static enum status take_own(struct invocation *invocation, size_t row)
{
	const struct command_option *option = &invocation->command->options[row];

	if (row >= sizeof(invocation->values) / sizeof(invocation->values[0]))
		return STATUS_INVALID;
	if (invocation->values[row] && !(option->argument && strstr(option->argument, "...")))
		return refuse_twice(invocation, option->name);
	invocation->values[row] = optarg ? optarg : "";
	return STATUS_OK;
}

static enum status take_option(struct invocation *invocation, int option, bool files)
{
	if (files)
		return take_settings_file(invocation, option, optarg);
	if (option >= OPTION_SETTING)
		return take_setting(invocation, (size_t)(option - OPTION_SETTING));
	if (option >= OPTION_OWN)
		return take_own(invocation, (size_t)(option - OPTION_OWN));
	if (option == OPTION_TYPE)
		return take_type(invocation, optarg);
	if (option < OPTION_HELP)
		return take_own(invocation, row_of_letter(invocation->command, option));
	return STATUS_OK;
}

/* One pass over the words; files: only --settings is looked at. */
static enum exit_code take_words(struct invocation *invocation, int argc, char **argv, const struct option_table *table,
                                 bool files)
{
	int option;

	optind = 0; /* starts anew, GNU's way */
	while ((option = getopt_long(argc, argv, table->letters, table->rows, NULL)) != -1) {
		enum status status;

		if (option == '?')
			return invocation_wrong_use(invocation, "no option is called \"%s\"", argv[optind - 1]);
		if (option == ':')
			return invocation_wrong_use(invocation, "\"%s\" needs a value behind it", argv[optind - 1]);
		if (option == OPTION_HELP)
			continue;
		status = take_option(invocation, option, files);
		if (status == STATUS_REFUSED) {
			invocation_tell_faults(invocation);
			return EXIT_FAULTS;
		}
		if (status == STATUS_INVALID)
			return invocation_wrong_use(invocation, "%s", invocation->error.text);
		if (status != STATUS_OK)
			return invocation_tell_error(invocation, status);
	}
	return EXIT_DONE;
}

static bool asks_for_help(int argc, char **argv)
{
	for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++)
		if (strcmp(argv[i], "--help") == 0)
			return true;
	return false;
}

static enum exit_code check_operands(const struct invocation *invocation)
{
	const struct command *command = invocation->command;

	if (invocation->operand_count < command->operands_min)
		return invocation_wrong_use(invocation, "something is missing; expected: brewspread %s %s",
		                            command->name, command->operands);
	if (invocation->operand_count > command->operands_max)
		return invocation_wrong_use(invocation, "\"%s\" is one too many; expected: brewspread %s %s",
		                            invocation->operands[command->operands_max], command->name,
		                            command->operands);
	return EXIT_DONE;
}

enum exit_code command_run(const struct command *command, int argc, char **argv)
{
	struct invocation invocation = { .command = command, .argc = argc, .argv = argv };
	struct option_table table;
	enum exit_code code;

	if (asks_for_help(argc, argv)) {
		help_command(command);
		return EXIT_DONE;
	}
	settings_init(&invocation.settings);
	table_fill(&table, command);
	code = take_words(&invocation, argc, argv, &table, true);
	if (code == EXIT_DONE)
		code = take_words(&invocation, argc, argv, &table, false);
	if (code == EXIT_DONE) {
		invocation.operands = argv + optind;
		invocation.operand_count = (size_t)(argc - optind);
		code = check_operands(&invocation);
	}
	if (code == EXIT_DONE)
		code = command->run(&invocation);
	faults_release(&invocation.faults);
	return code;
}

const char *invocation_value(const struct invocation *invocation, const char *name)
{
	for (size_t i = 0; invocation->command->options && invocation->command->options[i].name; i++)
		if (strcmp(invocation->command->options[i].name, name) == 0)
			return invocation->values[i];
	return NULL;
}

bool invocation_given(const struct invocation *invocation, const char *name)
{
	return invocation_value(invocation, name) != NULL;
}

void print_line(FILE *out, const char *text)
{
	struct slice left = slice_from(text);
	const char *from = text; /* what is not written yet: standard error makes a call to the system of each piece */

	while (left.len > 0) {
		ucs4_t c = 0;
		int used = u8_mbtoucr(&c, (const uint8_t *)left.text, left.len);
		size_t len = used > 0 ? (size_t)used : 1; /* a byte that is no UTF-8 goes as it is */
		bool control = used == 1 && (c < ' ' || c == 0x7f);

		if (control || (used > 0 && turns_direction(c))) {
			fwrite(from, 1, (size_t)(left.text - from), out);
			if (control)
				putc('?', out);
			from = left.text + len;
		}
		left = slice_part(left, len, left.len);
	}
	fwrite(from, 1, (size_t)(left.text - from), out);
	putc('\n', out);
}

static void fault_print(const struct fault *fault)
{
	const struct place *place = &fault->place;

	if (place->file && place->line > 0 && place->column > 0)
		fprintf(stderr, "%s:%u:%u: ", place->file, place->line, place->column);
	else if (place->file && place->line > 0)
		fprintf(stderr, "%s:%u: ", place->file, place->line);
	else if (place->file)
		fprintf(stderr, "%s: ", place->file);
	if (fault->severity != SEVERITY_ERROR)
		fprintf(stderr, "%s: ", severity_name(fault->severity));
	print_line(stderr, fault->text);
}

enum exit_code invocation_tell_faults(struct invocation *invocation)
{
	struct faults *faults = &invocation->faults;

	faults_sort(faults);
	for (size_t i = 0; i < faults->count; i++)
		fault_print(&faults->items[i]);
	if (faults->beyond > 0)
		fprintf(stderr, "and %zu more\n", faults->beyond);
	return faults_any(faults) ? EXIT_FAULTS : EXIT_DONE;
}

enum exit_code invocation_tell_error(const struct invocation *invocation, enum status status)
{
	fprintf(stderr, "brewspread: ");
	print_line(stderr, invocation->error.text);
	switch (status) {
	case STATUS_INVALID:
		return EXIT_USAGE;
	case STATUS_REFUSED:
		return EXIT_FAULTS;
	case STATUS_OK:
	case STATUS_MEMORY:
	case STATUS_IO:
	case STATUS_BUSY:
	case STATUS_NEWER:
		break;
	}
	return EXIT_SYSTEM;
}

enum exit_code invocation_wrong_use(const struct invocation *invocation, const char *format, ...)
{
	va_list args;

	fprintf(stderr, "brewspread %s: ", invocation->command->name);
	va_start(args, format);
	vfprintf(stderr, format, args);
	va_end(args);
	fprintf(stderr, "\n\"brewspread %s --help\" tells how it is used\n", invocation->command->name);
	return EXIT_USAGE;
}
