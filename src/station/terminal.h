/* SPDX-License-Identifier: GPL-3.0-or-later */
/* terminal.h: a terminal taken over for a live view, and given back as it was. */
#ifndef BREWSPREAD_TERMINAL_H
#define BREWSPREAD_TERMINAL_H

#include <stdbool.h>
#include <stddef.h>
#include <termios.h>

#include "slice.h"

struct terminal {
	int key_fd;  /* -1: no keys */
	int size_fd; /* whose size it has */
	bool taken;
	struct termios before;
	size_t rows, columns;
};

#define TERMINAL_INIT                       \
	{                                   \
		.key_fd = -1, .size_fd = -1 \
	}

/* Keys come one by one and unseen from then on. False: key_fd is no terminal; then there are no keys. */
bool terminal_take(struct terminal *terminal, int key_fd, int size_fd);

/* Gives it back. More than once does no harm. */
void terminal_restore(struct terminal *terminal);

/* Looks at its size; 24 by 80 where it does not tell. */
void terminal_measure(struct terminal *terminal);

/* Sequences for switching to the live view and back. */
#define TERMINAL_VIEW_ON  "\x1b[?1049h\x1b[?25l\x1b[2J"
#define TERMINAL_VIEW_OFF "\x1b[?25h\x1b[?1049l"

/* A screen that is being made: rows of columns. Start with zeroed; bytes are from malloc(). */
struct screen {
	char *bytes;
	size_t len, room;
	size_t rows, columns;
	size_t row; /* filled so far */
	bool color;
	bool no_memory;
};

enum screen_style { STYLE_PLAIN, STYLE_STRONG, STYLE_FAINT, STYLE_DOUBT, STYLE_GOOD };

/* Begins a screen of that size. */
void screen_begin(struct screen *screen, size_t rows, size_t columns, bool color);

/*
 * The next row: text in style, cut to the columns by the width of its characters. What is not printable UTF-8 is left
 * out, escape sequences with it. Rows beyond the last are left out.
 */
void screen_row(struct screen *screen, enum screen_style style, const char *text);

/* As screen_row(), in as many rows as it takes, broken at blanks; all but the first begin with indent blanks. */
void screen_text(struct screen *screen, enum screen_style style, const char *text, size_t indent);

/* Rows that are free. */
size_t screen_left(const struct screen *screen);

/* Clears the rest. What is to be written stands in bytes[0 .. len) then. */
void screen_end(struct screen *screen);

void screen_release(struct screen *screen);

#endif
