/* SPDX-License-Identifier: GPL-3.0-or-later */
/* book_file.h: a workbook on its way to the disk: written beside its place, read back, and then put there. */
#ifndef BREWSPREAD_BOOK_FILE_H
#define BREWSPREAD_BOOK_FILE_H

#include <xlsxwriter.h>

#include "part_file.h"
#include "pen.h"

struct book_file {
	struct part_file part;
	char *scratch;          /* folder of the library's own scratch files: TMPDIR if set, else the workbook's */
	const char *path;       /* as given; lent */
	lxw_workbook *workbook; /* NULL once it is closed */
};

/*
 * Begins a workbook for path, which is lent for as long as out lives. STATUS_IO: error names path and the reason.
 * STATUS_MEMORY. The caller's, whatever the status: book_file_release().
 */
enum status book_file_open(struct book_file *out, const char *path, struct error *error) MUST_USE;

/*
 * workbook_close(), with what the library says to standard error kept from it, and whatever else this process writes there
 * meanwhile. Why it failed, as the system tells it; NULL: it did not.
 */
const char *book_file_close(lxw_workbook *workbook);

/*
 * Closes the workbook, sees that it is whole and holds what the pens wrote, one pen a sheet in the order of the tabs, and puts it
 * at its place, over what stands there. While it closes, whatever this process writes to its standard error is
 * lost: the library speaks there.
 */
enum status book_file_finish(struct book_file *file, const struct pen *pens, size_t count,
                             struct error *error) MUST_USE;

void book_file_release(struct book_file *file);

#endif
