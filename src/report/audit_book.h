/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_book.h: the workbook of an audit or an instrument study.
 *
 *   Audit         what each meter can and can't tell apart, and what stands out
 *   Repeatability month by month and session by session, with the control chart of the spread
 *   Zero          its checks, drift, individuals and moving range, EWMA
 *   Standards     bias of each, the scale's straightness, a control chart each
 *   Two meters    difference plot, where cups were read on two
 *   Study         components of an instrument study
 *   Method        how all of it is reckoned, with sources
 *
 * It shows and computes nothing. Sheets that have nothing to show are left out. Charts are the spreadsheet program's
 * own, of the newest AUDIT_CHART_POINTS points; their numbers stand in the tables beside them.
 */
#ifndef BREWSPREAD_AUDIT_BOOK_H
#define BREWSPREAD_AUDIT_BOOK_H

#include "audit.h"
#include "audit_gauge.h"
#include "faults.h"
#include "status.h"

enum { AUDIT_CHART_POINTS = 200, AUDIT_TABLE_ROWS = 4096 };

struct audit_book_request {
	const char *path;    /* of the workbook; a symbolic link is followed */
	const char *version; /* of this program */
	const char *command; /* the words of the command line; "" if there were none */
};

/*
 * Writes it over what stands there, once it is whole. One of audit and gauge is not NULL; faults may be NULL. The same
 * arguments give the same bytes. STATUS_IO: error names the path and the reason; the old file is as it was.
 * STATUS_MEMORY.
 */
enum status audit_book_write(const struct audit *audit, const struct audit_gauge *gauge, const struct faults *faults,
                             const struct audit_book_request *request, struct error *error) MUST_USE;

#endif
