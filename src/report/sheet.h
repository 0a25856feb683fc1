/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * sheet.h: what a sheet of the workbook is, and what its writer works with. A sheet is one const row in a file of its
 * own, listed in book.c.
 */
#ifndef BREWSPREAD_SHEET_H
#define BREWSPREAD_SHEET_H

#include "book.h"
#include "layout.h"
#include "pen.h"
#include "phrase.h"

/* What all sheets share. */
struct book {
	const struct analysis *analysis;
	const struct faults *faults; /* NULL: none */
	const struct book_request *request;
	lxw_workbook *workbook;
	lxw_format *styles[STYLES];
	struct layout layout;
	struct cell_text text;
	struct phrase phrase; /* room for the text of one cell */

	/* Cells of one sheet that another one's formulas name. Sheets are written from the last tab to the first. */
	lxw_row_t
		spread_row; /* on Comparisons: spread between brews, its degrees of freedom, confidence, one below another */
	lxw_row_t step_row;  /* on Comparisons: what the display's step leaves, where it leaves something */
	lxw_row_t meter_row; /* on Meter: the first meter */
	lxw_row_t chart_row; /* on Comparisons: the first of the chart's numbers */
	lxw_row_t chart_rows;
};

/* The column of Meter that holds the TDS per °Brix of a meter's own scale. */
#define METER_FACTOR_COLUMN 4
#define METER_FACTOR_LETTER "E"

/* The columns of Summary that Comparisons refers to, and the row of a treatment there. */
enum { SUMMARY_MEAN_COLUMN = 3, SUMMARY_LOWER_COLUMN = 5, SUMMARY_UPPER_COLUMN = 6 };

/* Where Comparisons keeps those numbers. */
enum {
	SPREAD_COLUMN = 2,
	CHART_X_COLUMN = 2,
	CHART_Y_COLUMN,
	CHART_MEAN_X_COLUMN,
	CHART_MEAN_Y_COLUMN,
	CHART_NAME_X_COLUMN,
	CHART_NAME_Y_COLUMN
};

/* Rows of the chart's numbers that a treatment has: both ends of its interval, and a gap. */
enum { CHART_ROWS_EACH = 3 };

/* Treatments that the chart has room for, and brews that it can show as dots. */
enum { CHART_TREATMENTS = 60, CHART_BREWS = 2000 };

/* A brew's dot stands so far below its treatment's line, and the interval so far above. */
#define CHART_BREW_DROP     0.16
#define CHART_INTERVAL_RISE 0.12

struct sheet {
	enum formula_word tab;
	const char *about; /* what it holds, the end of a sentence */
	bool portrait;
	lxw_row_t frozen; /* rows at the top that stay in sight and are printed on each page */
	lxw_col_t frozen_columns;
	size_t (*parts)(const struct book *book);           /* sheets that it takes; NULL: one */
	void (*write)(struct book *book, struct pen *pens); /* one pen a part */
};

/* A column's head: its name, what it holds in plain words, its width in characters. */
struct column_head {
	const char *name;
	const char *note; /* NULL: none */
	double width;
	bool words; /* else numbers, which stand to the right */
};

/* Title and what the sheet holds, in its first two rows; leaves the pen at TABLE_HEAD_ROW. */
void sheet_title(struct pen *pen, const char *title, const char *about);

/* A table's head from count columns, from the left; leaves the pen below it. Widths are not touched. */
void sheet_heads(struct pen *pen, const struct column_head *heads, size_t count);

/* The head's width; where it has a label in another language, at least that of the label's longest word. */
double head_width(const struct labels *labels, const struct column_head *head);

/* Sets the widths of count columns, from the left. */
void sheet_widths(struct pen *pen, const struct column_head *heads, size_t count);

/* Prints columns up to last_column and rows up to last_row: what lies to the right is for the screen. */
void sheet_print_area(struct pen *pen, int last_column, lxw_row_t last_row);

/* Gives rows first to last of a column of sheet a name, which formulas of a reader's own can use. */
void sheet_name_range(struct book *book, struct pen *pen, const struct sheet *sheet, const char *name, int column,
                      lxw_row_t first, lxw_row_t last);

/* Headline of a part of a sheet, with a row free above it. */
void sheet_heading(struct pen *pen, const char *words);

/* A row with text over columns cells. */
void sheet_sentence(struct pen *pen, struct slice text, lxw_col_t columns, enum style style);

/* The sentences on topic over columns cells, the doubtful ones set off; returns how many. */
size_t sheet_topic(struct book *book, struct pen *pen, enum topic topic, lxw_col_t columns);

/* Into phrase: the response with a capital and its unit: "Yield, %". */
void say_response(struct phrase *phrase, const struct response *response);

/* The column of Summary whose differences are the ones that are judged: the means, or the means without the rounds. */
int summary_difference_column(const struct book *book);

lxw_row_t summary_row(const struct book *book, size_t treatment);

/* The height at which the chart has a treatment: the first on Summary is the highest; not above 0 if it is not shown. */
double chart_height(const struct book *book, size_t treatment);

extern const struct sheet sheet_summary, sheet_brews, sheet_readings, sheet_meter, sheet_comparisons, sheet_fairness,
	sheet_method;

#endif
