/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>

#include "digits.h"
#include "figure_axis.h"
#include "figure_parts.h"
#include "figures.h"

/* Cups side by side in a panel; panels below one another on one scale; cups shown at most. */
enum { CUPS_SIDE_BY_SIDE = 18, CUPS_MOST = 240 };

#define PANEL_HEIGHT 120.0
#define PANEL_GAP    14.0
#define CUP_GAP      0.28 /* of a cup's room, between its last reading and the next cup's first */
#define LABEL_MOST   76.0 /* length of a label on its side */
#define RADIUS       2.6

struct view {
	struct figure *figure;
	const struct analysis *analysis;
	size_t *cups; /* brews with readings, by their first reading */
	size_t count;
	size_t shown;
	size_t a_panel;
	double left, room; /* of the plot; of one cup */
	bool side;         /* labels stand on their side */
	double label_height;
	struct axis y;
	struct phrase words;
};

static size_t first_reading(const struct analysis *analysis, size_t brew)
{
	return analysis->by_brew[analysis->brews[brew].first];
}

static int by_first_reading(const void *a, const void *b, void *context)
{
	size_t x = first_reading(context, *(const size_t *)a), y = first_reading(context, *(const size_t *)b);

	return (x > y) - (x < y);
}

static bool collect(struct view *view)
{
	const struct run *run = view->analysis->run;

	view->cups = malloc((run->brew_count + 1) * sizeof(*view->cups));
	if (!view->cups)
		return false;
	for (size_t b = 0; b < run->brew_count; b++)
		if (view->analysis->brews[b].used > 0)
			view->cups[view->count++] = b;
	qsort_r(view->cups, view->count, sizeof(*view->cups), by_first_reading, (void *)(uintptr_t)view->analysis);
	view->shown = view->count < CUPS_MOST ? view->count : CUPS_MOST;
	return view->count > 0;
}

static void make_scale(struct view *view)
{
	struct span span = SPAN_INIT;

	for (size_t i = 0; i < view->shown; i++) {
		const struct brew_result *brew = &view->analysis->brews[view->cups[i]];

		for (size_t r = brew->first; r < brew->first + brew->count; r++)
			span_take(&span, view->analysis->tds_percent[view->analysis->by_brew[r]]);
	}
	view->y = axis_over(span, 0.01, PANEL_HEIGHT, 0, 4);
	view->left = FIGURE_MARGIN + axis_numbers_width(view->figure, &view->y) + 6;
}

/* How many cups a panel has, and how their labels stand. */
static void make_room(struct view *view)
{
	size_t panels = (view->shown + CUPS_SIDE_BY_SIDE - 1) / CUPS_SIDE_BY_SIDE;
	struct figure_type type = { .size = FIGURE_SMALL };
	double widest = 0;

	view->a_panel = (view->shown + panels - 1) / panels;
	view->room = (FIGURE_WIDTH - FIGURE_MARGIN - view->left) / (double)(view->a_panel < 4 ? 4 : view->a_panel);
	for (size_t i = 0; i < view->shown; i++)
		widest = fmax(
			widest,
			figure_measure(view->figure, view->analysis->run->brews[view->cups[i]].label, &type).width);
	view->side = widest > view->room - 1;
	view->label_height = view->side ? fmin(widest, LABEL_MOST) : 16;
}

static void draw_label(struct view *view, size_t brew, double x, double y)
{
	struct slice label = view->analysis->run->brews[brew].label;
	bool drifts = (view->analysis->brews[brew].flags & BREW_DRIFTING) != 0;
	struct figure_type type = {
		.bold = drifts, .tint = drifts ? TINT_FLAG : TINT_INK, .anchor = ANCHOR_MIDDLE, .width = view->room
	};

	figure_layer(view->figure, LAYER_TEXT);
	if (view->side) {
		struct figure_size size;

		type.width = LABEL_MOST;
		type.anchor = ANCHOR_START;
		type.side = true;
		size = figure_measure(view->figure, label, &type);
		figure_text(view->figure, x - size.width / 2, y + size.height, label, &type);
	} else {
		figure_text(view->figure, x, y, label, &type);
	}
}

/* One cup's readings from left to right; those that don't count as crosses, off the line. */
static void draw_cup(struct view *view, size_t cup, size_t place, double top)
{
	const struct analysis *analysis = view->analysis;
	const struct brew_result *brew = &analysis->brews[view->cups[cup]];
	double from = view->left + view->room * ((double)place + CUP_GAP / 2), wide = view->room * (1 - CUP_GAP);
	double last_x = NAN, last_y = NAN;
	enum tint tint = brew->flags & BREW_DRIFTING ? TINT_FLAG : TINT_MEAN;

	figure_layer(view->figure, LAYER_DATA);
	for (size_t r = 0; r < brew->count; r++) {
		size_t i = analysis->by_brew[brew->first + r];
		double x = from + wide * ((double)r + 0.5) / (double)brew->count;
		double y = top + axis_at(&view->y, analysis->tds_percent[i]);

		if (!reading_used(&analysis->run->readings[i])) {
			if (axis_at(&view->y, analysis->tds_percent[i]) >= 0)
				figure_mark(view->figure, SIGN_CROSS, x, y, RADIUS + 1, TINT_NONE, TINT_SOFT);
			continue;
		}
		figure_line(view->figure, last_x, last_y, x, y, 1.6, tint);
		figure_mark(view->figure, SIGN_DISC, x, y, RADIUS, tint, TINT_NONE);
		if (isfinite(y)) {
			last_x = x;
			last_y = y;
		}
	}
	draw_label(view, view->cups[cup], view->left + view->room * ((double)place + 0.5), top + PANEL_HEIGHT + 4);
}

static double draw_panel(struct view *view, size_t first, double top)
{
	struct axis axis = view->y;

	axis.at_from += top;
	axis.at_to += top;
	axis_draw_left(view->figure, &axis, view->left, FIGURE_WIDTH - FIGURE_MARGIN,
	               first == 0 ? SLICE_OF("TDS, %") : (struct slice){ NULL, 0 });
	for (size_t i = 0; i < view->a_panel && first + i < view->shown; i++)
		draw_cup(view, first + i, i, top);
	return top + PANEL_HEIGHT + 4 + view->label_height;
}

static void say(struct view *view)
{
	const struct repeatability *r = &view->analysis->repeatability;
	struct phrase *caption = figure_caption(view->figure), *alt = figure_alt(view->figure);
	size_t drifting = 0;

	for (size_t i = 0; i < view->count; i++)
		drifting += (view->analysis->brews[view->cups[i]].flags & BREW_DRIFTING) != 0;
	phrase_words(figure_title(view->figure), "Strength of each cup, reading by reading");
	phrase_print(caption, "Each line is one cup, from its first reading to its last; n = %zu readings of %zu cups.",
	             view->analysis->readings_used, view->count);
	if (isfinite(r->drift)) {
		phrase_print(caption, " On average a reading lies %s %% TDS from the one before",
		             digits_typeset(words_signed(r->drift, 4)).text);
		figure_say_p(caption, " (", r->drift_p);
		phrase_words(caption, ").");
	}
	if (drifting > 0)
		phrase_words(caption, " Bold labels: readings that rise, or fall, all the way.");
	phrase_words(alt, "The TDS readings of ");
	figure_say_count(alt, view->count, "cup", "cups");
	phrase_words(alt, " in the order in which they were taken; ");
	if (drifting == 0)
		phrase_words(alt, "none drifts.");
	else
		phrase_print(alt, "%zu %s.", drifting, drifting == 1 ? "drifts" : "drift");
}

bool figure_readings(struct figure *figure, const struct analysis *analysis)
{
	struct view view = { .figure = figure, .analysis = analysis };
	double y;

	if (!collect(&view)) {
		free(view.cups);
		return false;
	}
	say(&view);
	make_scale(&view);
	make_room(&view);
	y = figure_head(figure) + 30;
	for (size_t i = 0; i < view.shown; i += view.a_panel)
		y = draw_panel(&view, i, y) + PANEL_GAP;
	if (view.shown < view.count) {
		phrase_print(&view.words, "The first %zu cups of %zu.", view.shown, view.count);
		y += figure_note(figure, y, phrase_slice(&view.words));
	}
	figure_height(figure, y);
	free(view.cups);
	phrase_release(&view.words);
	return true;
}
