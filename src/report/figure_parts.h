/* SPDX-License-Identifier: GPL-3.0-or-later */
/* figure_parts.h: what several figures have: their head, rows with a name each, and names beside points. */
#ifndef BREWSPREAD_FIGURE_PARTS_H
#define BREWSPREAD_FIGURE_PARTS_H

#include "analysis.h"
#include "figure.h"

/* Rows that a figure of rows has at most: 60 of them make a page of some height. */
enum { FIGURE_ROWS_MOST = 60 };

/* Sets the figure's title and, below it, its caption; returns where they end. */
double figure_head(struct figure *figure);

/* Sets a row's name and, at its right, what it comes to; returns where the row's strip begins. */
double figure_row(struct figure *figure, double y, struct slice name, struct slice value);

/* A note in small letters over the width; returns where it ends. */
double figure_note(struct figure *figure, double y, struct slice words);

/* A point that is named, or only in the way of names. */
struct named_point {
	double x, y;
	double radius;
	struct slice name; /* empty: none */
};

struct frame {
	double left, top, right, bottom;
};

/*
 * Writes the names beside their points, inside frame, where they cover neither points nor each other; with a line to
 * the point where the name can't stand close by. Where there is no room for all, each point gets a number, and the
 * names follow below y as a list. Returns where that ends: y if there is no list.
 */
double figure_names(struct figure *figure, const struct frame *frame, struct named_point *points, size_t count,
                    double y);

/* Adds name, a treatment's, so that it reads from left to right among other words whatever script it is in. */
void figure_say_name(struct phrase *phrase, struct slice name);

/* Adds words with a capital at their beginning. */
void figure_say_capital(struct phrase *phrase, const char *words);

/* Adds before and "p = 0.034", which no line breaks apart. */
void figure_say_p(struct phrase *phrase, const char *before, double p);

/* Adds "Yield, %": the response with a capital and its unit. */
void figure_say_response(struct phrase *phrase, const struct response *response);

/* The same, cut behind most characters, "…" included. */
void figure_say_short_name(struct phrase *phrase, struct slice name, size_t most);

/* Adds "1 brew", "3 brews". */
void figure_say_count(struct phrase *phrase, size_t count, const char *one, const char *more);

#endif
