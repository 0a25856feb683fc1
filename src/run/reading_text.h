/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * reading_text.h: readings in a line that somebody typed or pasted.
 *
 *   A1 1.38 1.39 1.38 @22.4          a label, readings, the temperature of the sample in °C
 *   A2: 1,41; 1,42                   decimal commas; a colon or "=" ends a label, "quotes" hold it
 *   10:15:22 A1 1.38 %               a time in front (timestamp.h), a unit behind: % TDS, brix, nd, …
 *   zero 0.01 @22                    distilled water
 *   standard 5.00: 4.98 5.01 @20     a solution made up to 5.00 % of sucrose
 *   cup A1                           the label of the readings below that have none; a brew's label alone does too
 *   1.38 1.39                        readings without a label, or of the cup named above
 *   # a remark                       also behind readings; "> " of a mail and "- " of a list are skipped
 *
 * A line is read whole or not at all, and a line that is not read is told: nothing is guessed. Which mark is the
 * decimal sign is settled line by line: with a point in any number commas separate; a comma between digits is a
 * decimal comma where no number has a point and each number has one at most ("1,41,1,42" is not read). A word that
 * is neither label, number, unit nor temperature leaves the line unread, and so does a label of several words
 * without quotes or colon that no brew has, or of more than four without quotes; readings without decimals need a
 * label that a brew has, quotes or a unit: prose is full of whole numbers. A label that is a number stands before
 * numbers with decimals. A temperature holds for the readings before it that have none, or for those behind it where
 * none stand before; a unit for the readings before it that have none.
 *
 * Read, but questioned: 0.0138 %, which may be a fraction; 138, which may lack its sign; 1,381, which may be a
 * thousand; a sample below zero.
 */
#ifndef BREWSPREAD_READING_TEXT_H
#define BREWSPREAD_READING_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "reading.h"
#include "shown.h"
#include "slice.h"

/* Labels that brews have, sorted by slice_compare(); lent. All zero: none are known. */
struct label_list {
	const struct slice *items;
	size_t count;
	size_t longest; /* bytes of the longest */
	bool plain;     /* plain_label() holds for all of them */
};

/* Is label one of them, byte for byte? */
bool label_list_has(const struct label_list *labels, struct slice label);

enum text_line_kind {
	TEXT_LINE_READINGS,
	TEXT_LINE_CUP,    /* names the label of what follows; an empty label: none any more */
	TEXT_LINE_EMPTY,  /* blank, or a remark */
	TEXT_LINE_UNREAD, /* reason says why */
};

struct text_value {
	struct shown shown; /* UNIT_NONE: the line says no unit */
	double temp_c;      /* NaN: not told */
	size_t at;          /* where in the line the number begins, in bytes from 0 */
	bool questioned;    /* read, but doubtful */
};

enum { TEXT_LINE_VALUES = 128, TEXT_LINE_REASON = 240 };

struct text_line {
	enum text_line_kind kind;
	enum reading_role role;
	struct slice label;                         /* shows the line; empty: it names none */
	double standard_percent;                    /* READING_STANDARD, else NaN */
	int64_t taken_us;                           /* READING_NO_TIME */
	bool firm;                                  /* a label that a brew has or in quotes, or another role */
	bool questioned;                            /* one of the values is; reason says why */
	size_t at;                                  /* what reason is about, in bytes from 0 */
	char reason[TEXT_LINE_REASON];              /* "" if all is well; what is wrong and what was expected */
	size_t count;                               /* TEXT_LINE_READINGS: at least 1 */
	struct text_value values[TEXT_LINE_VALUES]; /* only the first count are set */
};

/* Reads line, one line without its end, any bytes. Fills out in any case. */
void text_line_read(struct text_line *out, struct slice line, const struct label_list *labels);

#endif
