/* SPDX-License-Identifier: GPL-3.0-or-later */
/* line_shape.h: a line cut into numbers, words and marks, so that lines of one make can be told from others. */
#ifndef BREWSPREAD_LINE_SHAPE_H
#define BREWSPREAD_LINE_SHAPE_H

#include <stdbool.h>
#include <stddef.h>

#include "slice.h"

enum { SHAPE_TOKENS = 48 };

enum token_kind {
	TOKEN_BLANK,   /* a run of blanks */
	TOKEN_WHOLE,   /* a whole number, its sign with it */
	TOKEN_DECIMAL, /* a number with decimals, likewise */
	TOKEN_TIME,    /* as timestamp.h reads it */
	TOKEN_WORD,    /* letters, and digits and hyphens behind them */
	TOKEN_MARK,    /* one byte of anything else */
};

struct token {
	enum token_kind kind;
	struct slice text;
};

struct line_shape {
	struct token tokens[SHAPE_TOKENS];
	size_t count;
	char key[SHAPE_TOKENS + 1]; /* the same for two lines of one shape: kinds, and marks as they are */
};

/* Cuts line, blanks at both ends left off; its tokens show line. False: it has more than SHAPE_TOKENS, or none. */
bool line_shape_read(struct line_shape *out, struct slice line);

/* Digits before the decimal sign of a number, and behind it. */
size_t token_whole_digits(const struct token *number);
size_t token_decimals(const struct token *number);

/* The decimal sign of a TOKEN_DECIMAL. */
char token_sign(const struct token *number);

#endif
