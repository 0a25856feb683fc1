/* SPDX-License-Identifier: GPL-3.0-or-later */
/* data_file.h: files that were installed with the program, by their name. */
#ifndef BREWSPREAD_DATA_FILE_H
#define BREWSPREAD_DATA_FILE_H

#include <stddef.h>

/*
 * The path that given means: given itself where there is such a file or folder, else FOLDER/given, else
 * FOLDER/labels-given.csv, whichever is there. Without any, or where given has a folder of its own: given. The path may stand
 * in room.
 */
const char *data_file(char *room, size_t size, const char *folder, const char *given);

#endif
