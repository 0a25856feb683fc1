/* SPDX-License-Identifier: GPL-3.0-or-later */
/* style.h: the looks of cells, few and the same on all sheets. Every difference in colour is one in words or weight too. */
#ifndef BREWSPREAD_STYLE_H
#define BREWSPREAD_STYLE_H

#include <stdbool.h>
#include <xlsxwriter.h>

enum { STYLE_DECIMALS_MOST = 6 };

#define STYLE_USUAL_SIZE 11.0

enum style {
	STYLE_TITLE,       /* what the sheet is */
	STYLE_ABOUT_SHEET, /* … in a line */
	STYLE_ABOUT_WRAPPED,
	STYLE_LEAD, /* the finding */
	STYLE_SENTENCE,
	STYLE_CAUTION,    /* a sentence to heed */
	STYLE_HEADING,    /* of a part of a sheet */
	STYLE_HEAD,       /* of a column of words */
	STYLE_HEAD_RIGHT, /* of a column of numbers */
	STYLE_NOTE,       /* what a column holds, in plain words */
	STYLE_NOTE_RIGHT,
	STYLE_TEXT,
	STYLE_WRAP,
	STYLE_STRONG,
	STYLE_FAINT,
	STYLE_TEXT_RIGHT, /* words among numbers */
	STYLE_MARK,       /* words that call for a look */
	STYLE_CENTRE,     /* letters */
	STYLE_KEY,        /* a number that only joins sheets */
	STYLE_COUNT,
	STYLE_PROBABILITY,
	STYLE_SIGNIFICANT, /* a number of any size */
	STYLE_TIME,
	STYLE_MISSING, /* "not determined" */
	STYLE_LINK,
	STYLE_DECIMALS, /* to STYLE_DECIMALS + STYLE_DECIMALS_MOST: 0, 0.0, … */
	STYLE_SIGNED = STYLE_DECIMALS + STYLE_DECIMALS_MOST + 1, /* … with its sign */
	STYLE_UNUSED = STYLE_SIGNED + STYLE_DECIMALS_MOST + 1,   /* … of what does not count, or is estimated */
	STYLES = STYLE_UNUSED + STYLE_DECIMALS_MOST + 1
};

/* Colours of charts, told apart by colour-blind readers and in grey. */
enum {
	COLOUR_INTERVAL = 0x1B4F72,
	COLOUR_BREW = 0xE69F00,
	COLOUR_BREW_EDGE = 0x8A5F00,
	COLOUR_GRID = 0xD9DEE2,
	COLOUR_INK = 0x1F2933,
};

/* family, one of the last three, with so many decimals; cut to 0 … STYLE_DECIMALS_MOST. */
enum style style_decimals(enum style family, int decimals);

/* Does a text too long for its column go on in further lines? */
bool style_wraps(enum style style);

bool style_bold(enum style style);

/* Size of its letters, in points. */
double style_size(enum style style);

/* Makes all of them; false when there is no memory. They are the workbook's. */
bool styles_make(lxw_workbook *workbook, lxw_format *styles[STYLES]);

#endif
