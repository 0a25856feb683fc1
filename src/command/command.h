/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * command.h: what a command of the program is: one const row, from which its help, the manual page, the completion and
 * a test of its example are made.
 */
#ifndef BREWSPREAD_COMMAND_H
#define BREWSPREAD_COMMAND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "faults.h"
#include "settings.h"
#include "status.h"

enum exit_code {
	EXIT_DONE = 0,
	EXIT_FAULTS = 1, /* done, but the data have faults, or there is nothing to go on with */
	EXIT_USAGE = 2,  /* wrong use */
	EXIT_SYSTEM = 3, /* the system failed: disk, port, memory */
};

struct command_option {
	const char *name;     /* as in --name */
	char letter;          /* as in -x; 0: none */
	const char *argument; /* what follows it, in capitals; with "..." it may be given again; NULL: nothing does */
	const char *text;     /* one sentence */
};

enum { COMMAND_OPTIONS = 24, COMMAND_OPERANDS_MAX = 4096 };

struct invocation;

struct command {
	const char *name;
	const char *purpose; /* one line */
	const char *operands;
	size_t operands_min, operands_max;
	const char *const *sections; /* of the settings that it takes as options; NULL-ended, or NULL for none */
	const char *const *unused; /* settings of these sections that it has no use for; NULL-ended, or NULL for none */
	const struct command_option *options; /* own ones; ended by one without a name */
	const char *details;                  /* what else the help says; NULL: nothing */
	const char *example;                  /* its words, run by the tests from the project's root */
	enum exit_code example_exit;
	enum exit_code (*run)(struct invocation *invocation);
};

/* One call of a command, options read. */
struct invocation {
	const struct command *command;
	const char *values
		[COMMAND_OPTIONS]; /* of the command's own options, by their row; "" for one without argument; NULL: not given */
	char **operands;
	size_t operand_count;
	struct settings settings;
	uint64_t settings_given; /* bit i: row i of option_defs(), as an option */
	struct faults faults;
	struct error error;
	int argc;
	char **argv; /* the whole of the command line, for the Method sheet */
};

/* The commands, in the order of the help. */
const struct command *const *commands(size_t *count);

/* Reads the options behind the command's name and runs it. The exit status is that of the program. */
enum exit_code command_run(const struct command *command, int argc, char **argv);

/*
 * Prints text and a line end for a terminal: control characters as "?", marks that turn the direction of a text around not at
 * all. Names in it may be anybody's.
 */
void print_line(FILE *out, const char *text);

/* The value of the command's own option of that name: NULL where it is not given. */
const char *invocation_value(const struct invocation *invocation, const char *name);
bool invocation_given(const struct invocation *invocation, const char *name);

/* Prints the faults to stderr, sorted, and gives them the exit code that is due: EXIT_FAULTS where any counts. */
enum exit_code invocation_tell_faults(struct invocation *invocation);

/* Prints invocation->error to stderr and gives the exit code that status asks for. */
enum exit_code invocation_tell_error(const struct invocation *invocation, enum status status);

/* Prints a sentence on wrong use, with a hint at --help. Returns EXIT_USAGE. */
enum exit_code invocation_wrong_use(const struct invocation *invocation, const char *format, ...)
	__attribute__((format(printf, 2, 3)));

extern const struct command command_audit, command_check, command_convert, command_plan, command_report;
extern const struct command command_listen, command_cup, command_status, command_open, command_close;
extern const struct command command_paste, command_amend, command_export, command_backup, command_ports, command_learn;

#endif
