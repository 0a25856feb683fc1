/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>

#include "clean_text.h"
#include "digits.h"
#include "figure_axis.h"
#include "figure_parts.h"
#include "figures.h"

#define PLOT_HEIGHT 220.0
#define WORDS_WIDTH 84.0 /* on the right, for the names of the lines */
#define RADIUS      3.2

/* Points above so many have no dots of their own, only the line. */
enum { DOTS_MOST = 400 };

struct lines {
	struct figure *figure;
	const struct chart_view *view;
	struct axis x, y;
	double last_label; /* the lowest that a name on the right reaches; names are set from the top down */
};

static struct span span_of(const struct chart_view *view)
{
	struct span span = SPAN_INIT;

	for (size_t i = 0; i < view->count; i++)
		span_take(&span, view->values[i]);
	span_take(&span, view->chart.lower);
	span_take(&span, view->chart.upper);
	return span;
}

static void draw_limit(struct lines *lines, double value, const char *name, bool dashed)
{
	static const struct figure_type type = { .tint = TINT_SOFT, .width = WORDS_WIDTH, .lines = 2 };
	double y = axis_at(&lines->y, value), height;
	char words[80];

	if (!isfinite(y))
		return;
	figure_layer(lines->figure, LAYER_GRID);
	(dashed ? figure_dashes : figure_line)(lines->figure, lines->x.at_from, y, lines->x.at_to, y, 1.3,
	                                       TINT_BAND_EDGE);
	snprintf(words, sizeof(words), "%s %s", name, digits_typeset(words_number(value, lines->view->decimals)).text);
	height = figure_measure(lines->figure, slice_from(words), &type).height;
	y = fmax(y - height / 2, lines->last_label);
	figure_layer(lines->figure, LAYER_TEXT);
	figure_text(lines->figure, lines->x.at_to + 6, y, slice_from(words), &type);
	lines->last_label = y + height;
}

static void draw_points(struct lines *lines)
{
	const struct chart_view *view = lines->view;
	double last_x = NAN, last_y = NAN;

	figure_layer(lines->figure, LAYER_DATA);
	for (size_t i = 0; i < view->count; i++) {
		double x = axis_at(&lines->x, (double)i), y = axis_at(&lines->y, view->values[i]);

		figure_line(lines->figure, last_x, last_y, x, y, 1.2, TINT_MEAN);
		last_x = x;
		last_y = y;
	}
	for (size_t i = 0; i < view->count; i++) {
		double x = axis_at(&lines->x, (double)i), y = axis_at(&lines->y, view->values[i]);

		if (view->signals && view->signals[i] != 0)
			figure_mark(lines->figure, SIGN_SQUARE, x, y, RADIUS + 1.2, TINT_PAPER, TINT_FLAG);
		else if (view->count <= DOTS_MOST)
			figure_mark(lines->figure, SIGN_DISC, x, y, RADIUS, TINT_MEAN, TINT_PAPER);
	}
}

/* Numbers or labels of first, last and as many between as have room; returns where they end. */
static double draw_labels(struct lines *lines, double y)
{
	static const struct figure_type type = { .tint = TINT_SOFT, .anchor = ANCHOR_MIDDLE };
	double free_from = 0, end = y;
	char number[24];

	figure_layer(lines->figure, LAYER_TEXT);
	for (size_t i = 0; i < lines->view->count; i++) {
		double x = axis_at(&lines->x, (double)i);
		struct slice words;
		struct figure_size size;

		snprintf(number, sizeof(number), "%zu", i + 1);
		words = slice_from(lines->view->labels ? lines->view->labels[i] : number);
		size = figure_measure(lines->figure, words, &type);
		x = fmin(fmax(x, size.width / 2 + 2), FIGURE_WIDTH - size.width / 2 - 2);
		if (x - size.width / 2 < free_from)
			continue;
		figure_text(lines->figure, x, y, words, &type);
		free_from = x + size.width / 2 + 10;
		end = y + size.height;
	}
	return end;
}

static void say(struct figure *figure, const struct chart_view *view)
{
	struct phrase *caption = figure_caption(figure), *alt = figure_alt(figure);
	size_t signals = 0;

	for (size_t i = 0; view->signals && i < view->count; i++)
		signals += view->signals[i] != 0;
	clean_text_add(figure_title(figure), slice_from(view->title));
	phrase_print(caption,
	             "Individual values in the order of time, n = %zu. Dashed: mean ± 3 σ, from moving ranges.",
	             view->count);
	if (view->chart.provisional)
		phrase_print(caption, " Provisional limits: fewer than %d points.", CHART_SETTLED);
	if (view->chart.step_limited)
		phrase_words(caption, " The display's step sets the spread, so the limits are too narrow.");
	if (signals > 0)
		phrase_words(caption, " Squares: points that signal a change.");
	clean_text_add(alt, slice_from(view->title));
	phrase_words(alt, ": ");
	figure_say_count(alt, view->count, "value", "values");
	if (isfinite(view->chart.centre))
		phrase_print(alt, " about a mean of %s",
		             digits_typeset(words_number(view->chart.centre, view->decimals)).text);
	phrase_words(alt, "; ");
	figure_say_count(alt, signals, "signals a change.", "signal a change.");
}

bool figure_chart(struct figure *figure, const struct chart_view *view)
{
	struct lines lines = { .figure = figure, .view = view };
	double top, y;

	if (view->count == 0)
		return false;
	say(figure, view);
	top = figure_head(figure) + 30;
	lines.last_label = top - 8;
	lines.y = axis_over(span_of(view), pow(10, -view->decimals), top + PLOT_HEIGHT, top, 5);
	lines.x = axis_over((struct span){ 0, (double)(view->count > 1 ? view->count - 1 : 1) }, 0,
	                    FIGURE_MARGIN + axis_numbers_width(figure, &lines.y) + 6,
	                    FIGURE_WIDTH - FIGURE_MARGIN - WORDS_WIDTH, 6);
	axis_draw_left(figure, &lines.y, lines.x.at_from, lines.x.at_to, slice_from(view->quantity));
	draw_limit(&lines, view->chart.upper, "upper limit", true);
	draw_limit(&lines, view->chart.centre, "mean", false);
	draw_limit(&lines, view->chart.lower, "lower limit", true);
	draw_points(&lines);
	y = draw_labels(&lines, top + PLOT_HEIGHT + 6);
	figure_height(figure, fmax(y, lines.last_label) + FIGURE_MARGIN);
	return true;
}
