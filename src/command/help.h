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

#endif
