/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * pen.h: writes the cells of one sheet, from left to right and from top to bottom, cleans every text, and remembers
 * its first error, so that a sheet reads as what stands on it and no failure goes unseen.
 */
#ifndef BREWSPREAD_PEN_H
#define BREWSPREAD_PEN_H

#include <stdbool.h>
#include <stdint.h>
#include <xlsxwriter.h>

#include "cell_text.h"
#include "labels.h"
#include "status.h"
#include "style.h"

enum { PEN_WIDTHS = 64 };

struct pen {
	lxw_worksheet *sheet;
	lxw_format *const *styles;   /* STYLES of them */
	struct cell_text *text;      /* lent: room for cleaning */
	const struct labels *labels; /* lent: of pen_words() and pen_link(); NULL: English */
	bool formulas;               /* else pen_formula() writes values */
	lxw_row_t row;               /* where the next cell goes */
	lxw_col_t col;
	uint64_t rows;             /* rows that were begun … */
	uint64_t cells;            /* … and cells written: what the finished file must have */
	int64_t begun;             /* the last row begun; -1: none */
	double widths[PEN_WIDTHS]; /* of the first columns, in characters; 0: as the program that shows them likes */
	double points;             /* height that the row's texts need so far; 0: the usual one */
	lxw_error error;           /* the first one … */
	lxw_row_t error_row;       /* … and where */
	lxw_col_t error_col;
};

/* What a cell says whose number cannot be had. */
#define PEN_MISSING "not determined"

/* A pen at the first cell of sheet. styles and text stay the caller's. */
struct pen pen_at(lxw_worksheet *sheet, lxw_format *const *styles, struct cell_text *text, bool formulas);

/* Sets the width of a column, in characters. Texts in it that wrap make their rows as high as they need. */
void pen_width(struct pen *pen, int column, double characters);

/* To the beginning of the next row. */
void pen_down(struct pen *pen);

/* To the beginning of row, which is below the one begun last. */
void pen_row(struct pen *pen, lxw_row_t row);

/* Over count columns, which stay empty. */
void pen_skip(struct pen *pen, lxw_col_t count);

/* Makes the row at least so high, in points. */
void pen_height(struct pen *pen, double points);

/* Each of these writes one cell and goes one to the right. */

/* value; PEN_MISSING if it is not finite. */
void pen_number(struct pen *pen, double value, enum style style);

/* A whole number. */
void pen_count(struct pen *pen, uint64_t value, enum style style);

/* Any bytes, always as text, never as a formula; an empty one gives an empty cell of that style. */
void pen_text(struct pen *pen, struct slice text, enum style style);

/* The same for a label, in the language of pen->labels; NULL is empty. */
void pen_words(struct pen *pen, const char *words, enum style style);

/*
 * The formula made from format, without "=", with the value that it has; the value alone where pen->formulas is not
 * set; PEN_MISSING if value is not finite. No text of a user goes into a formula.
 */
void pen_formula(struct pen *pen, double value, enum style style, const char *format, ...)
	__attribute__((format(printf, 4, 5)));

/* A link to a sheet of this workbook, given by its title. */
void pen_link(struct pen *pen, const char *title, enum style style);

/* A text over columns cells of this row, which become one. */
void pen_across(struct pen *pen, struct slice text, lxw_col_t columns, enum style style);

/* The same for a label, as pen_words(). */
void pen_words_across(struct pen *pen, const char *words, lxw_col_t columns, enum style style);

/* Remembers what a call of the library returned, if it is the first that failed. */
void pen_note(struct pen *pen, lxw_error error);

/* STATUS_OK, or the first error with its cell in words; title is the sheet's. */
enum status pen_status(const struct pen *pen, const char *title, struct error *error) MUST_USE;

#endif
