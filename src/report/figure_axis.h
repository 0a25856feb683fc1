/* SPDX-License-Identifier: GPL-3.0-or-later */
/* figure_axis.h: scales of figures: round steps, lines to read off by, the unit beside them. */
#ifndef BREWSPREAD_FIGURE_AXIS_H
#define BREWSPREAD_FIGURE_AXIS_H

#include "figure.h"

/* The smallest and the largest of some values. */
struct span {
	double low, high; /* INFINITY and -INFINITY while there is none */
};

#define SPAN_INIT                                  \
	{                                          \
		.low = INFINITY, .high = -INFINITY \
	}

/* Takes value in, unless it is not finite. */
void span_take(struct span *span, double value);

struct axis {
	double from, to;       /* values at its ends */
	double at_from, at_to; /* where they are in the figure */
	double step;           /* between marked values: 1, 2 or 5 times a power of ten */
	int decimals;          /* of those */
};

/*
 * An axis over span and a little more, with about marks marked values. Of an empty span: 0 to 1; of a single value: about
 * it, by a step of least at least.
 */
struct axis axis_over(struct span span, double least, double at_from, double at_to, int marks);

double axis_at(const struct axis *axis, double value);

/* Lines from top to bottom at the marked values. */
void axis_draw_lines(struct figure *figure, const struct axis *axis, double top, double bottom);

/* Short lines below bottom at the marked values, their numbers, then words; returns where that ends. */
double axis_draw_below(struct figure *figure, const struct axis *axis, double bottom, struct slice words);

/* The numbers alone, above top. */
void axis_draw_above(struct figure *figure, const struct axis *axis, double top);

/* Lines from left to right, their numbers on the left, and words above them, on the left of the figure. */
void axis_draw_left(struct figure *figure, const struct axis *axis, double left, double right, struct slice words);

/* How wide the numbers of a left axis get. */
double axis_numbers_width(struct figure *figure, const struct axis *axis);

#endif
