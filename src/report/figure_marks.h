/* SPDX-License-Identifier: GPL-3.0-or-later */
/* figure_marks.h: what a figure is made of: for the files that draw it and put it out alone. */
#ifndef BREWSPREAD_FIGURE_MARKS_H
#define BREWSPREAD_FIGURE_MARKS_H

#include "drawing.h"
#include "figure.h"

enum mark_kind { MARK_LINE, MARK_BAR, MARK_SIGN, MARK_TEXT };

struct mark {
	enum mark_kind kind;
	enum figure_layer layer;
	enum figure_sign sign;
	enum tint fill, edge; /* of a line: edge; of a text: fill */
	double x, y;          /* of a text: where its line begins on the left, on the base line */
	double width, height; /* of a line: to its end; of a sign: width is the radius; of a text: width */
	double stroke;
	bool dashed;
	struct {
		PangoLayoutLine *line; /* of one of the figure's layouts */
		double size;
		double top, bottom; /* of its ink */
		bool bold, side, right_to_left;
	} text;
};

struct figure {
	char name[FIGURE_NAME];
	struct phrase title, alt, caption;
	double height;
	enum figure_layer layer;
	PangoContext *context;
	PangoFontDescription *fonts[2]; /* plain, bold */
	PangoLayout **layouts;
	size_t layout_count, layout_room;
	struct mark *marks;
	size_t count, room;
	struct phrase scratch;
	bool failed;
};

#endif
