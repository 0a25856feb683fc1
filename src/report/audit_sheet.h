/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_sheet.h: what a sheet of the audit's workbook is; one const row in a file of its own, listed in audit_book.c.
 */
#ifndef BREWSPREAD_AUDIT_SHEET_H
#define BREWSPREAD_AUDIT_SHEET_H

#include "audit_book.h"
#include "pen.h"
#include "phrase.h"
#include "sheet.h"

/* Breaks of pages that a program takes note of. */
enum { AUDIT_PAGES = 1023 };

/* What all sheets share. */
struct audit_book {
	const struct audit *audit;       /* NULL: an instrument study */
	const struct audit_gauge *gauge; /* NULL: none */
	const struct faults *faults;     /* NULL: none */
	const struct audit_book_request *request;
	lxw_workbook *workbook;
	lxw_format *styles[STYLES];
	struct cell_text text;
	struct phrase phrase;             /* room for the text of one cell */
	lxw_row_t pages[AUDIT_PAGES + 1]; /* rows of this sheet that begin a page, 0 behind them */
	size_t page_count;
};

struct audit_sheet {
	const char *title; /* of its tab */
	const char *about;
	bool (*wanted)(const struct audit_book *book); /* NULL: always */
	void (*write)(struct audit_book *book, struct pen *pen);
};

/*
 * What follows, unless it is the sheet's first part, begins a page where the sheet is printed, lest a chart be cut in two.
 * One program heeds that only where a sheet is not to fit the width of its page.
 */
void audit_page(struct audit_book *book, const struct pen *pen);

/* Headline of a meter's part: its name, and what follows it. */
void audit_heading(struct audit_book *book, struct pen *pen, const struct audit_meter *meter, const char *what);

/* A moment as "2026-03-14 10:04"; "not told". */
void audit_moment(struct pen *pen, int64_t us);

/* A label over `columns` columns' worth of skipping, and a number behind it; goes to the next row. */
void audit_fact(struct pen *pen, const char *words, double value, enum style style, const char *unit);

/* The chart's table with its charts above it: what audit_chart.h computed, point by point. Leaves the pen below. */
void audit_control(struct audit_book *book, struct pen *pen, const struct audit_chart *chart);

/* Sets the widths that audit_control()'s table needs. */
void audit_control_widths(struct pen *pen);

extern const struct audit_sheet audit_sheet_summary, audit_sheet_spread, audit_sheet_zero, audit_sheet_standards,
	audit_sheet_pairs, audit_sheet_study, audit_sheet_method;

#endif
