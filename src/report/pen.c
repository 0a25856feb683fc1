/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "pen.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "text.h"

enum { FORMULA_TEXT = 512, LINK_TEXT = 64 };

#define USUAL_POINTS 15.0
#define MOST_POINTS  400.0                             /* a spreadsheet's limit is 409 */
#define LEADING      (USUAL_POINTS / STYLE_USUAL_SIZE) /* of a line's height to its letters' */
/* Most letters are narrower than the digit that widths are counted in; bold ones less so; a word that does not fit is lost. */
#define LETTERS_A_DIGIT 1.2
#define BOLD_LETTERS    1.07
#define WORD_LOST       3.0

struct pen pen_at(lxw_worksheet *sheet, lxw_format *const *styles, struct cell_text *text, bool formulas)
{
	return (struct pen){
		.sheet = sheet,
		.styles = styles,
		.text = text,
		.formulas = formulas,
		.begun = -1,
		.error = LXW_NO_ERROR,
	};
}

void pen_note(struct pen *pen, lxw_error error)
{
	if (error == LXW_NO_ERROR || pen->error != LXW_NO_ERROR)
		return;
	pen->error = error;
	pen->error_row = pen->row;
	pen->error_col = pen->col;
}

void pen_width(struct pen *pen, int column, double characters)
{
	if (column < PEN_WIDTHS)
		pen->widths[column] = characters;
	pen_note(pen, worksheet_set_column(pen->sheet, (lxw_col_t)column, (lxw_col_t)column, characters, NULL));
}

/* Gives the row that the pen leaves its height. */
static void leave_row(struct pen *pen)
{
	if (pen->points > USUAL_POINTS + 0.5 && pen->begun == (int64_t)pen->row)
		pen_note(pen, worksheet_set_row(pen->sheet, pen->row, fmin(pen->points, MOST_POINTS), NULL));
	pen->points = 0;
	pen->col = 0;
}

void pen_down(struct pen *pen)
{
	leave_row(pen);
	pen->row++;
}

void pen_row(struct pen *pen, lxw_row_t row)
{
	leave_row(pen);
	pen->row = row;
}

void pen_skip(struct pen *pen, lxw_col_t count)
{
	pen->col = (lxw_col_t)(pen->col + count);
}

static void begin_row(struct pen *pen)
{
	if (pen->begun == (int64_t)pen->row)
		return;
	if (pen->begun > (int64_t)pen->row)
		pen_note(pen, LXW_ERROR_WORKSHEET_INDEX_OUT_OF_RANGE); /* such a row would be lost in silence */
	pen->begun = (int64_t)pen->row;
	pen->rows++;
}

/* Counts count cells from here on, which error was the outcome of, and goes past them. */
static void written(struct pen *pen, lxw_error error, lxw_col_t count)
{
	begin_row(pen);
	pen_note(pen, error);
	pen->cells += count;
	pen_skip(pen, count);
}

void pen_height(struct pen *pen, double points)
{
	pen->points = fmax(pen->points, points);
}

/* Lines that text takes where a line has room for so many characters, broken between words. */
static double lines_of(const char *text, double characters)
{
	double lines = 0;

	while (*text) {
		size_t len = strcspn(text, "\n");

		lines += fmax(1.0, ceil((double)utf8_count((struct slice){ text, len }) / characters));
		text += len;
		text += *text == '\n';
	}
	return lines;
}

/* Makes room for text in a cell that is count columns wide. */
static void fit(struct pen *pen, const char *text, lxw_col_t count, enum style style)
{
	double size = style_size(style);
	double width = 0;

	if (!style_wraps(style))
		return;
	for (lxw_col_t i = pen->col; i < pen->col + count && i < PEN_WIDTHS; i++)
		width += pen->widths[i];
	width *= (style_bold(style) ? BOLD_LETTERS : LETTERS_A_DIGIT) * STYLE_USUAL_SIZE / size;
	if (width > 0)
		pen_height(pen, lines_of(text, fmax(width - WORD_LOST, WORD_LOST)) * size * LEADING);
}

void pen_text(struct pen *pen, struct slice text, enum style style)
{
	const char *clean = cell_text_of(pen->text, text);
	lxw_error error = LXW_ERROR_MEMORY_MALLOC_FAILED;

	if (clean && clean[0] == '\0')
		error = worksheet_write_blank(pen->sheet, pen->row, pen->col, pen->styles[style]);
	if (clean && clean[0] != '\0')
		fit(pen, clean, 1, style);
	if (clean && clean[0] != '\0')
		error = worksheet_write_string(pen->sheet, pen->row, pen->col, clean, pen->styles[style]);
	written(pen, error, 1);
}

void pen_words(struct pen *pen, const char *words, enum style style)
{
	pen_text(pen, labels_find(pen->labels, slice_from(words)), style);
}

static void missing(struct pen *pen)
{
	pen_words(pen, PEN_MISSING, STYLE_MISSING);
}

void pen_number(struct pen *pen, double value, enum style style)
{
	if (isfinite(value))
		written(pen, worksheet_write_number(pen->sheet, pen->row, pen->col, value, pen->styles[style]), 1);
	else
		missing(pen);
}

void pen_count(struct pen *pen, uint64_t value, enum style style)
{
	pen_number(pen, (double)value, style);
}

void pen_formula(struct pen *pen, double value, enum style style, const char *format, ...)
{
	char formula[FORMULA_TEXT];
	va_list args;
	int len;

	if (!pen->formulas || !isfinite(value)) {
		pen_number(pen, value, style);
		return;
	}
	formula[0] = '=';
	va_start(args, format);
	len = vsnprintf(formula + 1, sizeof(formula) - 1, format, args);
	va_end(args);
	if (len < 0 || (size_t)len >= sizeof(formula) - 1)
		pen_note(pen, LXW_ERROR_PARAMETER_VALIDATION);
	written(pen, worksheet_write_formula_num(pen->sheet, pen->row, pen->col, formula, pen->styles[style], value),
	        1);
}

void pen_link(struct pen *pen, const char *title, enum style style)
{
	char target[LINK_TEXT];

	snprintf(target, sizeof(target), "internal:'%s'!A1", title);
	written(pen, worksheet_write_url_opt(pen->sheet, pen->row, pen->col, target, pen->styles[style], title, NULL),
	        1);
}

void pen_across(struct pen *pen, struct slice text, lxw_col_t columns, enum style style)
{
	const char *clean = cell_text_of(pen->text, text);
	lxw_col_t last = (lxw_col_t)(pen->col + columns - 1);
	lxw_error error = LXW_ERROR_MEMORY_MALLOC_FAILED;

	if (columns < 2) {
		pen_text(pen, text, style);
		return;
	}
	if (clean) {
		fit(pen, clean, columns, style);
		error = worksheet_merge_range(pen->sheet, pen->row, pen->col, pen->row, last, clean,
		                              pen->styles[style]);
	}
	written(pen, error, columns);
}

void pen_words_across(struct pen *pen, const char *words, lxw_col_t columns, enum style style)
{
	pen_across(pen, labels_find(pen->labels, slice_from(words)), columns, style);
}

enum status pen_status(const struct pen *pen, const char *title, struct error *error)
{
	if (pen->error == LXW_NO_ERROR)
		return STATUS_OK;
	return error_set(error, pen->error == LXW_ERROR_MEMORY_MALLOC_FAILED ? STATUS_MEMORY : STATUS_INVALID,
	                 "sheet %s, row %u, column %u: %s", title, pen->error_row + 1, pen->error_col + 1U,
	                 lxw_strerror(pen->error));
}
