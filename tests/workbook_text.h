/* SPDX-License-Identifier: GPL-3.0-or-later */
/* workbook_text.h: what stands in a finished workbook, for tests. */
#ifndef WORKBOOK_TEXT_H
#define WORKBOOK_TEXT_H

#include <stddef.h>
#include <stdlib.h>

/* A part of the workbook at path as text ("*": all parts, one behind another), ended by NUL; the caller frees it. */
char *workbook_part(const char *path, const char *part);

/* The whole file; *len may be NULL. The caller frees it; NULL where there is none. */
char *file_bytes(const char *path, size_t *len);

/* How often word stands in text. */
size_t count_text(const char *text, const char *word);

/* Files in the current folder, hidden ones too. */
size_t count_files(void);

/* Group fixtures: an empty folder to work in, and its end with all that is in it. */
int workbook_folder_make(void **state);
int workbook_folder_remove(void **state);

#endif
