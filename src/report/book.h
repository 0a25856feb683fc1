/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * book.h: the workbook of a comparison: Summary, Brews, Readings, Meter, Comparisons, Fairness, Method.
 *
 * It shows an analysis and computes nothing. Cells that follow from others are formulas, with the value that the
 * analysis has stored beside them, so that a reader can follow a yield back to its readings and a viewer that
 * does not recalculate shows the same numbers.
 */
#ifndef BREWSPREAD_BOOK_H
#define BREWSPREAD_BOOK_H

#include "analysis.h"
#include "faults.h"
#include "labels.h"
#include "status.h"

/* Above so many readings the cells hold values: formulas over all of them would take a spreadsheet program minutes. */
enum { BOOK_FORMULA_READINGS = 20000 };

struct book_request {
	const char *path;            /* of the workbook; a symbolic link is followed */
	const char *version;         /* of this program */
	const struct labels *labels; /* NULL: all in English */
	const char *command; /* the words of the command line, to make the same report again; "" if there were none */
};

/*
 * Writes the workbook to request->path: first under another name in the same folder, then, once it was read back
 * and found whole, over what stands there. On failure the old file is as it was, and nothing else is left behind.
 * Scratch files go to TMPDIR if that is set, else to the target's folder.
 *
 * faults may be NULL. All texts may hold any bytes. The same arguments give the same bytes, whenever and
 * wherever they are written.
 *
 * STATUS_IO: error names the path and the reason. STATUS_MEMORY. STATUS_INVALID: more brews than a sheet has rows.
 * While the file is closed, whatever this process writes to its standard error is lost: the library speaks there.
 */
enum status book_write(const struct analysis *analysis, const struct faults *faults, const struct book_request *request,
                       struct error *error) MUST_USE;

#endif
