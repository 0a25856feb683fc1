/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * figures.h: the figures of an analysis. Each kind is drawn by a file of its own; figures.c has their order.
 *
 * A drawing function fills an empty figure, its title, alt text and caption too. It returns false, and the figure
 * is of no use, where the analysis has nothing for it to show.
 */
#ifndef BREWSPREAD_FIGURES_H
#define BREWSPREAD_FIGURES_H

#include "analysis.h"
#include "control_chart.h"
#include "figure.h"

enum { FIGURES_COVARIATES = 6, FIGURES_MOST = 16 };

struct figures {
	struct figure *items[FIGURES_MOST];
	size_t count;
};

/*
 * Draws all that apply. STATUS_IO: there are no drawing libraries, or no font. STATUS_MEMORY. The caller's, whatever the
 * status: figures_release().
 */
enum status figures_make(struct figures *out, const struct analysis *analysis, struct error *error) MUST_USE;
void figures_release(struct figures *figures);

/* The name of the i-th figure that there can be, drawn or not; NULL beyond the last. Made in room. */
const char *figures_possible_name(size_t i, char room[FIGURE_NAME]);

/* The moment that the newest reading or brew tells, for the date of a PDF; 1970-01-01 where none does. */
int64_t figures_moment(const struct analysis *analysis);

bool figure_treatments(struct figure *figure, const struct analysis *analysis);  /* means, intervals, single brews */
bool figure_differences(struct figure *figure, const struct analysis *analysis); /* from the control, or all pairs */
bool figure_strength(struct figure *figure, const struct analysis *analysis);    /* against the yield */
bool figure_readings(struct figure *figure, const struct analysis *analysis);    /* cup by cup, in order */
bool figure_covariate(struct figure *figure, const struct analysis *analysis, size_t covariate);
bool figure_budget(struct figure *figure, const struct analysis *analysis);

/* A control chart of anything that is read again and again. All of it is lent for the call. */
struct chart_view {
	const char *title;
	const char *quantity; /* what the values are, with their unit: "offset, % TDS" */
	int decimals;
	const double *values;      /* in the order of time; NaN: left out */
	const char *const *labels; /* of the points, such as dates; NULL: they are numbered */
	size_t count;
	struct individuals_chart chart;
	const unsigned *signals; /* as of chart_signals(), one a point; NULL: none */
};

bool figure_chart(struct figure *figure, const struct chart_view *view);

#endif
