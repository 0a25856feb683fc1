/* SPDX-License-Identifier: GPL-3.0-or-later */
/* line_columns.h: what the parts of a meter's lines mean, as far as the lines themselves tell. */
#ifndef BREWSPREAD_LINE_COLUMNS_H
#define BREWSPREAD_LINE_COLUMNS_H

#include <stdbool.h>
#include <stddef.h>

#include "arena.h"
#include "line_shape.h"
#include "slice.h"
#include "unit.h"

enum { MOST_DOUBTS = 16, FEW_LINES = 3 };

/* What could not be told for sure, one sentence each; the first MOST_DOUBTS. */
struct doubts {
	const char *items[MOST_DOUBTS];
	size_t count;
	bool no_memory;
	struct arena *memory; /* of the sentences */
};

void doubts_add(struct doubts *doubts, const char *format, ...) __attribute__((format(printf, 2, 3)));

enum role {
	ROLE_FIXED, /* the same in every line */
	ROLE_ANY,   /* varies, means nothing here */
	ROLE_VALUE,
	ROLE_TEMP,
	ROLE_LABEL,
	ROLE_TIME,
	ROLE_STATUS,
	ROLE_SEQ,
	ROLE_UNIT,
};

/* One column of the lines that have the common shape: what its tokens are like in all of them. */
struct column_facts {
	enum token_kind kind;
	enum role role;
	struct slice first; /* as the first line has it */
	bool varies;
	bool counts;    /* goes up by little from line to line */
	bool has_digit; /* in any */
	size_t whole_min, whole_max, decimals_min, decimals_max;
	char sign;
	bool both_signs;
	double last;
	enum unit unit; /* that stands beside it */
	bool fahrenheit;
	bool degrees; /* a sign or word beside it says that it is a temperature */
};

struct line_columns {
	struct column_facts columns[SHAPE_TOKENS];
	size_t column_count;
	size_t same;     /* lines that were added */
	int value, temp; /* columns; -1: none */
	enum unit unit;  /* of the value */
	struct doubts *doubts;
};

/* Adds a line, of the same shape as all that were added before; its text has to stay. Start with value and temp -1. */
void line_columns_add(struct line_columns *line, const struct line_shape *shape);

/* Gives each column its role, with what is doubtful in doubts. False: no column is the reading. */
bool line_columns_explain(struct line_columns *line);

/* Is word one of several, the last NULL, in any letter case? */
bool line_word_is_any(struct slice word, const char *const *any);

#endif
