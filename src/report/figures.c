/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "figures.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drawing.h"

/* Zero checks that make a chart; fewer are told in words. */
enum { CHART_ZEROS_LEAST = 5, CHART_ZEROS_MOST = 500 };

static bool figure_zeros(struct figure *figure, const struct analysis *analysis)
{
	double values[CHART_ZEROS_MOST];
	unsigned signals[CHART_ZEROS_MOST];
	struct chart_view view = {
		.title = "Zero checks over the run",
		.quantity = "Offset in distilled water, % TDS",
		.decimals = 3,
		.values = values,
		.signals = signals,
	};

	for (size_t i = 0; i < analysis->zero_count && view.count < CHART_ZEROS_MOST; i++)
		if (isfinite(analysis->zeros[i].tds_percent))
			values[view.count++] = analysis->zeros[i].tds_percent;
	if (view.count < CHART_ZEROS_LEAST)
		return false;
	view.chart = individuals_chart_of(values, view.count);
	chart_signals(signals, values, view.count, view.chart.centre, view.chart.sigma);
	return figure_chart(figure, &view);
}

struct kind {
	const char *name;
	bool (*draw)(struct figure *figure, const struct analysis *analysis);
};

static const struct kind kinds[] = {
	{ "treatments", figure_treatments }, { "differences", figure_differences }, { "strength", figure_strength },
	{ "readings", figure_readings },     { "budget", figure_budget },           { "zeros", figure_zeros },
};

enum { KINDS = sizeof(kinds) / sizeof(kinds[0]) };

_Static_assert(KINDS + FIGURES_COVARIATES <= FIGURES_MOST, "room for all of them");

const char *figures_possible_name(size_t i, char room[FIGURE_NAME])
{
	if (i < KINDS)
		return kinds[i].name;
	if (i >= KINDS + FIGURES_COVARIATES)
		return NULL;
	snprintf(room, FIGURE_NAME, "covariate-%zu", i - KINDS + 1);
	return room;
}

static bool draw(struct figure *figure, const struct analysis *analysis, size_t i)
{
	if (i < KINDS)
		return kinds[i].draw(figure, analysis);
	return i - KINDS < analysis->covariate_count && figure_covariate(figure, analysis, i - KINDS);
}

enum status figures_make(struct figures *out, const struct analysis *analysis, struct error *error)
{
	char room[FIGURE_NAME];
	const char *reason;

	*out = (struct figures){ .count = 0 };
	if (!drawing_load(&reason))
		return error_set(error, STATUS_IO, "no figures without the drawing libraries: %s", reason);
	for (size_t i = 0; figures_possible_name(i, room); i++) {
		struct figure *figure = figure_new(figures_possible_name(i, room));

		if (!figure)
			return error_set(error, STATUS_MEMORY, "no memory for the figures");
		if (i == 0 && !figure_has_letters(figure)) {
			figure_free(figure);
			return error_set(
				error, STATUS_IO,
				"no figures without letters: no font can be used; expected one that is installed, "
				"such as those of Debian's fonts-dejavu-core");
		}
		if (draw(figure, analysis, i))
			out->items[out->count++] = figure;
		else
			figure_free(figure);
	}
	return STATUS_OK;
}

void figures_release(struct figures *figures)
{
	for (size_t i = 0; i < figures->count; i++)
		figure_free(figures->items[i]);
	figures->count = 0;
}

int64_t figures_moment(const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	int64_t newest = 0;

	for (size_t i = 0; i < run->reading_count; i++)
		if (run->readings[i].line->taken_us > newest)
			newest = run->readings[i].line->taken_us;
	for (size_t b = 0; b < run->brew_count; b++)
		if (run->brews[b].brewed_us > newest)
			newest = run->brews[b].brewed_us;
	return newest;
}
