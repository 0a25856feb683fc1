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

/* Does the command take the settings of that section as options? */
bool help_section_taken(const struct command *command, const char *section);

/* Prints the sentences on a setting: what it is, its unit, its value unless set. */
void help_setting(FILE *out, const struct option_def *def);

/* The options that every command with settings takes besides them, ended by one without a name. */
const struct command_option *help_settings_options(void);

/* What follows a setting on the command line: NAME or NUMBER. */
const char *help_setting_argument(const struct option_def *def);

#endif
