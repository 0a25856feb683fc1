/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * labels_file.h: a report's labels in another language, from a table as a spreadsheet program saves it: the first column
 * has a label in English, the second the same in the other language; further columns are for the translator.
 * templates/labels.csv has all of them.
 */
#ifndef BREWSPREAD_LABELS_FILE_H
#define BREWSPREAD_LABELS_FILE_H

#include "faults.h"
#include "labels.h"
#include "status.h"

/*
 * Reads the file at path; the first row holds names of columns and is not taken. A row without a second cell leaves its
 * label in English. So does, with a warning, one whose second cell is not UTF-8 or has other gaps ("{name}") than the
 * first, and one whose label stood in an earlier row (without a word). STATUS_IO: the file cannot be read. STATUS_REFUSED: it is no such
 * table; the fault says where. STATUS_MEMORY. *out is then empty. The caller's: labels_release().
 */
enum status labels_file_read(struct labels *out, const char *path, struct faults *faults, struct error *error) MUST_USE;

#endif
