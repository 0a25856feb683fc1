/* SPDX-License-Identifier: GPL-3.0-or-later */
/* header.h: the columns that the program knows, how people spell them, and the units in which they may be given. */
#ifndef BREWSPREAD_HEADER_H
#define BREWSPREAD_HEADER_H

#include <stdbool.h>
#include <stddef.h>

#include "arena.h"
#include "brew.h"
#include "cell.h"
#include "slice.h"

enum known_kind { KNOWN_LABEL, KNOWN_TREATMENT, KNOWN_METHOD, KNOWN_NUMBER, KNOWN_WORD, KNOWN_MOMENT };

enum known_moment { MOMENT_BREWED, MOMENT_READ_FROM, MOMENT_READ_TO };

enum { KNOWN_SPELLINGS = 24 };

struct known_column {
	const char *name; /* as messages have it */
	enum known_kind kind;
	int which;                 /* enum brew_number, brew_word or known_moment */
	enum measure_kind measure; /* of a number */
	bool volume;               /* millilitres are taken as grams */
	const char *expected;      /* in a cell: "grams, such as 18.5" */
	/*
	 * Folded, the best first. "=" before one: only where a unit is given, since the word alone says something
	 * else ("time", "yield").
	 */
	const char *spellings[KNOWN_SPELLINGS];
};

/* The rows, and how many there are. */
const struct known_column *known_columns(size_t *count);

struct header {
	struct slice text;                /* as written, blanks at both ends taken off */
	struct slice name;                /* folded: lower case, without unit, "_", "-" and blanks as one blank */
	struct slice unit;                /* as written; empty: none */
	const struct measure *measure;    /* of unit; NULL: none, or not one that is converted */
	const struct known_column *known; /* NULL: not one of ours */
	size_t spelling;                  /* which of known's */
	bool marked;                      /* the unit stands in brackets, so it is meant as one */
};

/*
 * Takes a header cell apart: "dose_g", "Dose (g)", "dose [g]", "Dose / g" and "dose in g" are one. Texts that have to
 * be made are in arena. False when there is no memory. Headers longer than HEADER_LONGEST bytes are not known ones.
 */
bool header_read(struct header *out, struct arena *arena, struct slice text) __attribute__((warn_unused_result));

enum { HEADER_LONGEST = 256 };

/* Can a number of column be given in measure? */
bool known_takes(const struct known_column *column, const struct measure *measure);

/* What struct column's known holds for a column of that kind: run.h; NULL: -1. */
int known_code(const struct known_column *known);

#endif
