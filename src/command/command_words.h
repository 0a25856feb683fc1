/* SPDX-License-Identifier: GPL-3.0-or-later */
/* command_words.h: the command line for a reader of the report. */
#ifndef BREWSPREAD_COMMAND_WORDS_H
#define BREWSPREAD_COMMAND_WORDS_H

#include "arena.h"
#include "command.h"

/*
 * "brewspread report brews.csv cups.txt -o out.xlsx": the words with blanks between them, of paths the last part alone, since a
 * report is published and its reader need not know whose folder it came from. In memory; "" without any.
 */
const char *command_words(const struct invocation *invocation, struct arena *memory);

#endif
