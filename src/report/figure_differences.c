/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>

#include "digits.h"
#include "figure_axis.h"
#include "figure_parts.h"
#include "figures.h"
#include "verdict_words.h"

enum { PAIRS_MOST = 30, NAME_MOST = 21 };

#define ROW_GAP    9.0
#define STRIP_DOWN 9.5
#define RADIUS     4.6
#define INTERVAL   2.6

struct view {
	struct figure *figure;
	const struct analysis *analysis;
	const struct pair_result **pairs; /* those shown */
	size_t shown;
	size_t all;
	bool control;
	double band; /* half its width; NaN: none */
	struct axis axis;
	struct phrase words;
};

static int by_size(const void *a, const void *b)
{
	const struct pair_result *x = *(const struct pair_result *const *)a;
	const struct pair_result *y = *(const struct pair_result *const *)b;

	if (fabs(x->difference) != fabs(y->difference))
		return fabs(x->difference) > fabs(y->difference) ? -1 : 1;
	return x < y ? -1 : 1;
}

/* All of them in their order, or the largest. False: none, or no memory. */
static bool choose_pairs(struct view *view)
{
	const struct comparison *c = &view->analysis->comparison;
	const struct pair_result *list = view->control ? c->against : c->pairs;

	view->all = view->control ? c->against_count : c->pair_count;
	view->pairs = view->all > 0 ? malloc(view->all * sizeof(struct pair_result *)) : NULL;
	if (!view->pairs)
		return false;
	for (size_t i = 0; i < view->all; i++)
		view->pairs[i] = &list[i];
	view->shown = view->all;
	if (view->all > PAIRS_MOST) {
		qsort(view->pairs, view->all, sizeof(struct pair_result *), by_size);
		view->shown = PAIRS_MOST;
	}
	return true;
}

static struct axis scale_of(const struct view *view)
{
	struct span span = { 0, 0 };

	for (size_t i = 0; i < view->shown; i++) {
		span_take(&span, view->pairs[i]->difference);
		span_take(&span, view->pairs[i]->lower);
		span_take(&span, view->pairs[i]->upper);
	}
	span_take(&span, view->band);
	span_take(&span, -view->band);
	return axis_over(span, pow(10, -view->analysis->comparison.response.decimals), FIGURE_MARGIN,
	                 FIGURE_WIDTH - FIGURE_MARGIN, 6);
}

static void say_value(struct view *view, const struct pair_result *pair)
{
	const struct analysis *analysis = view->analysis;

	phrase_clear(&view->words);
	phrase_words(&view->words, digits_typeset(digits_difference(analysis, pair->difference)).text);
	if (analysis->comparison.source == SPREAD_NONE)
		return;
	if (isfinite(pair->half_width))
		phrase_print(&view->words, " ± %s", digits_response(analysis, pair->half_width).text);
	phrase_print(&view->words, " · %s", verdict_word(pair->verdict));
}

static void draw_sign(struct view *view, const struct pair_result *pair, double x, double y)
{
	if (view->analysis->comparison.source == SPREAD_NONE) {
		figure_mark(view->figure, SIGN_DISC, x, y, RADIUS, TINT_BREW, TINT_BREW_EDGE);
		return;
	}
	switch (pair->verdict) {
	case VERDICT_DIFFER:
		figure_mark(view->figure, SIGN_DISC, x, y, RADIUS, TINT_MEAN, TINT_MEAN);
		break;
	case VERDICT_SAME:
		figure_mark(view->figure, SIGN_SQUARE, x, y, RADIUS, TINT_PAPER, TINT_MEAN);
		break;
	case VERDICT_OPEN:
		figure_mark(view->figure, SIGN_DIAMOND, x, y, RADIUS, TINT_PAPER, TINT_MEAN);
		break;
	}
}

/* Margin, scale and zero behind a row's strip. */
static void draw_ground(struct view *view, double top, double bottom)
{
	double zero = axis_at(&view->axis, 0), left = axis_at(&view->axis, -view->band);

	figure_layer(view->figure, LAYER_BAND);
	figure_bar(view->figure, left, top, 2 * (zero - left), bottom - top, TINT_BAND, TINT_NONE);
	axis_draw_lines(view->figure, &view->axis, top, bottom);
	figure_line(view->figure, zero, top, zero, bottom, 1.2, TINT_SOFT);
}

static double draw_row(struct view *view, const struct pair_result *pair, double y)
{
	const struct run *run = view->analysis->run;
	struct phrase name = PHRASE_INIT;

	say_value(view, pair);
	if (view->control) {
		figure_say_name(&name, run->treatments[pair->a].name);
	} else { /* both have to be seen */
		figure_say_short_name(&name, run->treatments[pair->a].name, NAME_MOST);
		phrase_words(&name, " − ");
		figure_say_short_name(&name, run->treatments[pair->b].name, NAME_MOST);
	}
	y = figure_row(view->figure, y, phrase_slice(&name), phrase_slice(&view->words));
	phrase_release(&name);
	draw_ground(view, y + 2, y + 2 * STRIP_DOWN);
	figure_layer(view->figure, LAYER_DATA);
	figure_line(view->figure, axis_at(&view->axis, pair->lower), y + STRIP_DOWN, axis_at(&view->axis, pair->upper),
	            y + STRIP_DOWN, INTERVAL, TINT_MEAN);
	draw_sign(view, pair, axis_at(&view->axis, pair->difference), y + STRIP_DOWN);
	return y + 2 * STRIP_DOWN + ROW_GAP;
}

static void say_title(struct view *view)
{
	struct phrase *title = figure_title(view->figure);

	figure_say_capital(title, view->analysis->comparison.response.name);
	if (view->control) {
		phrase_words(title, ": difference from ");
		figure_say_name(title, view->analysis->run->treatments[view->analysis->comparison.control].name);
	} else {
		phrase_words(title, ": differences between treatments");
	}
}

static void say_caption(struct view *view)
{
	const struct comparison *c = &view->analysis->comparison;
	struct phrase *caption = figure_caption(view->figure);

	if (c->source == SPREAD_NONE) {
		phrase_words(caption, "One brew each, so no difference can be put down to the treatments.");
		if (isfinite(view->band))
			phrase_print(caption, " Shaded: ±%s%s%s, what the meter alone scatters.",
			             digits_response(view->analysis, view->band).text, digits_gap(view->analysis),
			             c->response.difference_unit);
		return;
	}
	phrase_print(caption, "Bars: simultaneous %.4g %% intervals. Disc: differ. Diamond: can't tell.",
	             100 * view->analysis->settings->confidence);
	if (isfinite(view->band))
		phrase_print(caption, " Square: practically the same. Shaded: the margin, ±%s%s%s.",
		             words_number(view->band, c->response.decimals).text, digits_gap(view->analysis),
		             c->response.difference_unit);
	if (c->source == SPREAD_HISTORY)
		phrase_words(caption, " Provisional: the spread between brews is that of earlier runs.");
	if (c->blocked)
		phrase_words(caption, " Judged within rounds.");
}

static void say_alt(struct view *view)
{
	const struct comparison *c = &view->analysis->comparison;
	const struct pair_result *list = view->control ? c->against : c->pairs;
	size_t count[3] = { 0 };
	struct phrase *alt = figure_alt(view->figure);

	for (size_t i = 0; i < view->all; i++)
		count[list[i].verdict]++;
	figure_say_count(alt, view->all, "difference", "differences");
	phrase_words(alt, " in ");
	phrase_words(alt, c->response.name);
	if (view->control) {
		phrase_words(alt, " from ");
		figure_say_name(alt, view->analysis->run->treatments[c->control].name);
	}
	if (c->source == SPREAD_NONE)
		phrase_words(alt, ", of one brew each, so that none can be judged");
	else
		phrase_print(alt, ": %zu differ, %zu practically the same, %zu can't be told", count[VERDICT_DIFFER],
		             count[VERDICT_SAME], count[VERDICT_OPEN]);
	phrase_words(alt, ".");
}

bool figure_differences(struct figure *figure, const struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;
	struct view view = { .figure = figure, .analysis = analysis, .control = c->against_count > 0 };
	double y;

	if (!choose_pairs(&view))
		return false;
	view.band = c->source == SPREAD_NONE ? c->meter_limit : c->response.margin;
	view.axis = scale_of(&view);
	say_title(&view);
	say_caption(&view);
	say_alt(&view);
	y = figure_head(figure) + ROW_GAP;
	for (size_t i = 0; i < view.shown; i++)
		y = draw_row(&view, view.pairs[i], y);
	phrase_clear(&view.words);
	phrase_words(&view.words, c->response.difference_unit[0] != '\0' ? "Difference, " : "Difference");
	phrase_words(&view.words, c->response.difference_unit);
	y = axis_draw_below(figure, &view.axis, y - ROW_GAP, phrase_slice(&view.words));
	if (view.shown < view.all || c->pairs_limited) {
		phrase_clear(&view.words);
		phrase_print(&view.words, "The %zu largest differences; the workbook has more.", view.shown);
		y += figure_note(figure, y, phrase_slice(&view.words));
	}
	figure_height(figure, y + FIGURE_MARGIN);
	free(view.pairs);
	phrase_release(&view.words);
	return true;
}
