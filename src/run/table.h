/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * table.h: delimited text, row by row, as slices into the text, with the place of each cell in the file.
 *
 * Lines end in LF, CR or CRLF, also mixed. A cell that begins with a straight double quote, blanks before it aside,
 * goes to the next quote that is not doubled, over line ends too. A line that begins with "#" is a comment. Lines
 * are counted as the file has them.
 */
#ifndef BREWSPREAD_TABLE_H
#define BREWSPREAD_TABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "arena.h"
#include "slice.h"

enum { TABLE_CELLS = 16384 }; /* of one row; more are counted, not kept */

struct cell {
	struct slice text; /* quotes undone, line ends within as LF; blanks at the ends of a cell without quotes stay */
	const char *at;    /* its first byte */
	const char *line_at; /* first byte of the line that it begins in */
	uint32_t line;       /* of its beginning, from 1 */
	bool stray;          /* has text behind its closing quote: then .text is all of it, as written */
};

struct row {
	const struct cell *cells; /* until the next call of table_next() */
	size_t count;             /* at least 1, but 0 for a comment */
	size_t beyond;            /* cells after TABLE_CELLS */
	uint32_t line;            /* where it begins */
	const char *at;           /* its first byte */
	const char *end;          /* behind its last byte, before the line end */
	bool comment;
};

enum table_result {
	TABLE_ROW,
	TABLE_END,
	TABLE_UNCLOSED, /* the quote at table->unclosed is never closed, or only by one meant to open another cell */
	TABLE_MEMORY,
};

struct table {
	const char *at; /* where the next row begins */
	const char *end;
	const char *line_at;
	uint32_t line; /* of at */
	char delimiter;
	size_t columns; /* of the header, set by the caller: lets a row swallowed by an open quote be seen; 0: not known */
	struct arena *arena;
	struct cell *cells;
	size_t capacity;
	struct cell unclosed;
	bool stops[256];
};

/*
 * A table over text, which must stay while its slices are used. Cells whose quotes have to be undone are copied to
 * arena; where that is NULL they show what is written between the quotes. line is the number of text's first line.
 */
void table_init(struct table *table, struct slice text, uint32_t line, char delimiter, struct arena *arena);

/* The next row. TABLE_UNCLOSED and TABLE_MEMORY end the table. */
enum table_result table_next(struct table *table, struct row *row);

/* Column of the cell's first character in its line, from 1, counted in characters. */
uint32_t cell_column(const struct cell *cell);

/* Goes over one line, whatever is in it, and returns the beginning of the next; end where there is none. */
const char *line_skip(const char *at, const char *end);

void table_release(struct table *table);

#endif
