/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * cell_text.h: any bytes made fit for a workbook. The library passes on what it is given: a control character in a
 * title, bytes that are not UTF-8, or a text that is too long would leave a file that has to be repaired.
 */
#ifndef BREWSPREAD_CELL_TEXT_H
#define BREWSPREAD_CELL_TEXT_H

#include "slice.h"

/* The most a cell holds, counted as spreadsheets do: in UTF-16 units. */
enum { CELL_TEXT_MOST = 32767 };

/* Where a cut text ends. */
#define CELL_TEXT_CUT " … (cut)"

/* Room that is used again for each text. */
struct cell_text {
	char *room;
	size_t size;
};

#define CELL_TEXT_INIT       \
	{                    \
		.room = NULL \
	}

/*
 * text as a cell can hold it, ended by NUL: valid UTF-8, only code points that XML allows, what is neither as U+FFFD;
 * without control characters but tabs and line ends, which become LF; at most CELL_TEXT_MOST units, a longer one ending
 * in CELL_TEXT_CUT; and an escape form such as _x0041_, which a reader would take for the letter A, escaped itself.
 * Valid until the next call with the same buffer. NULL when there is no memory.
 */
const char *cell_text_of(struct cell_text *buffer, struct slice text);

/*
 * The same on one line, line ends and tabs as blanks, of at most most characters, the last of them "…" where it was
 * cut. For titles, chart texts, document properties. An escape form is left as it is: it has no meaning there.
 */
const char *cell_text_line(struct cell_text *buffer, struct slice text, size_t most);

void cell_text_release(struct cell_text *buffer);

#endif
