/* SPDX-License-Identifier: GPL-3.0-or-later */
/* audit_plot.h: the audit's charts, made from cells of the sheet that they stand on. */
#ifndef BREWSPREAD_AUDIT_PLOT_H
#define BREWSPREAD_AUDIT_PLOT_H

#include "audit_sheet.h"

enum plot_look {
	PLOT_POINTS,             /* dots joined by a thin line */
	PLOT_DOTS,               /* dots alone */
	PLOT_LINE,               /* the centre, a fitted line */
	PLOT_LIMIT,              /* dashed */
	PLOT_LIMIT_AGAIN,        /* the other one of two, which the legend leaves out */
	PLOT_SECOND,             /* another course over the same points */
	PLOT_SECOND_LIMIT,       /* its limits, dotted */
	PLOT_SECOND_LIMIT_AGAIN, /* likewise left out of the legend */
	PLOT_SIGNAL,             /* what calls for a look: larger, of another shape */
	PLOT_BARS,
};

/* A series: rows first … last of two columns. */
struct plot_series {
	const char *name;
	enum plot_look look;
	int x, y; /* columns */
	lxw_row_t first, last;
};

enum plot_kind {
	PLOT_SCATTER, /* x are numbers */
	PLOT_SHARES,  /* bars */
};

struct plot {
	enum plot_kind kind;
	const char *title;
	const char *x_name, *y_name; /* NULL: none */
	const char *description;     /* for readers who do not see it */
	const struct plot_series *series;
	size_t count;
	double y_step;       /* decimals of the scale follow from it; 0: as the program likes */
	double y_min, y_max; /* NaN: as the program likes */
	double x_min, x_max;
	double x_step;     /* as y_step */
	double wide, high; /* pixels */
};

/* Rows that a chart so high covers. */
lxw_row_t plot_rows(double high);

/* Puts it at row, column 0 of the pen's sheet, whose title is sheet. */
void plot_insert(struct audit_book *book, struct pen *pen, const char *sheet, lxw_row_t row, const struct plot *plot);

/* Round limits of a scale for values from low to high, and its step: upwards, and across. */
void plot_scale(struct plot *plot, double low, double high);
void plot_scale_across(struct plot *plot, double low, double high);

#endif
