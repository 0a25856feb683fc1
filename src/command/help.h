/* SPDX-License-Identifier: GPL-3.0-or-later */
/* help.h: what the program says about itself, all of it from the rows of commands and settings. */
#ifndef BREWSPREAD_HELP_H
#define BREWSPREAD_HELP_H

#include <stdio.h>

#include "command.h"

/* Prints the commands, a line each. */
void help_program(FILE *out);

/* Prints a command's help to standard output. */
void help_command(const struct command *command);

/* Does the command take that setting as an option? */
bool help_setting_taken(const struct command *command, const struct option_def *def);

/* Prints the sentences on a setting: what it is, its unit, its value unless set. */
void help_setting(FILE *out, const struct option_def *def);

/* The options that every command with settings takes besides them, ended by one without a name. */
const struct command_option *help_settings_options(void);

/* What follows a setting on the command line: NAME or NUMBER. */
const char *help_setting_argument(const struct option_def *def);

#endif
