/* SPDX-License-Identifier: GPL-3.0-or-later */
/* cell.h: what stands in one cell: a number with or without a unit, a duration, a moment. */
#ifndef BREWSPREAD_CELL_H
#define BREWSPREAD_CELL_H

#include <stdbool.h>
#include <stdint.h>

#include "slice.h"

enum measure_kind { MEASURE_NONE, MEASURE_MASS, MEASURE_VOLUME, MEASURE_TEMPERATURE, MEASURE_TIME, MEASURE_PERCENT };

/* A unit that is converted: base = (number - zero) * factor, base being g, ml, °C, s, %. */
struct measure {
	const char *name; /* as messages have it */
	enum measure_kind kind;
	double factor;
	double zero;
};

/*
 * The unit that text spells, letter case aside where that is harmless; NULL: none that is converted.
 * Known are g, kg, mg, oz, lb (ounce and pound exactly 28.349523125 g and 453.59237 g: international yard and pound
 * agreement, 1959), ml, l, cl, fl oz (US, 29.5735295625 ml), °C, °F, K, s, min, h, min:s, %, each with its words.
 */
const struct measure *measure_find(struct slice text);

/* Number in measure's unit to the base unit of its kind, and back. NULL is a base unit. */
double measure_to_base(const struct measure *measure, double number);
double measure_from_base(const struct measure *measure, double base);

/* The name of the base unit: "g", "ml", "°C", "s", "%"; "" for none. */
const char *measure_base(enum measure_kind kind);

/* As slice_trim(); costs next to nothing where there is nothing to take off, as in nearly every cell. */
static inline struct slice cell_trim(struct slice text)
{
	if (text.len == 0 || (text.text[0] > ' ' && text.text[0] <= '~' && text.text[text.len - 1] > ' ' &&
	                      text.text[text.len - 1] <= '~'))
		return text;
	return slice_trim(text);
}

enum cell_result {
	CELL_NUMBER,
	CELL_EMPTY,
	CELL_ABSENT,  /* says that there is none: "-", "N/A" */
	CELL_WORDS,   /* not a number */
	CELL_MARK,    /* a number with the other decimal mark */
	CELL_GROUPED, /* digits in groups, or both marks: could be two numbers */
	CELL_UNIT,    /* a number with a unit that is not converted: quantity->unit has it */
};

struct quantity {
	double number; /* as written */
	int decimals;
	const struct measure *measure; /* written behind the number; NULL: none */
	struct slice unit;             /* what is written behind it */
};

/*
 * The number in text, blanks at both ends aside, whose decimal mark is mark ('.' or ','); the whole cell or nothing.
 * *out is set for CELL_NUMBER and CELL_UNIT.
 */
enum cell_result cell_number(struct quantity *out, struct slice text, char mark);

/* "3:30" or "0:03:30" (minutes and seconds below 60) in seconds; *hours: it has three parts. Else false. */
bool cell_duration(double *seconds, bool *hours, struct slice text);

/* A moment that fills text, blanks at both ends aside: timestamp.h. Else false. */
bool cell_moment(int64_t *us, struct slice text);

/* What a cell says about the decimal mark of its file. Three digits behind the mark may be a group: weak. */
enum mark_evidence { MARK_SILENT, MARK_POINT, MARK_WEAK_POINT, MARK_COMMA, MARK_WEAK_COMMA };

enum mark_evidence cell_mark(struct slice text);

/* Part of a cell as a message shows it: at most EXCERPT_CHARACTERS, control characters and line ends as "?". */
enum { EXCERPT_CHARACTERS = 48, EXCERPT_BYTES = 4 * EXCERPT_CHARACTERS + 12 };

struct excerpt {
	char text[EXCERPT_BYTES];
};

const char *excerpt_of(struct excerpt *out, struct slice text);

#define EXCERPT(slice) excerpt_of(&(struct excerpt){ "" }, (slice))

#endif
