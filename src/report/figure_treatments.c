/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>

#include "digits.h"
#include "figure_axis.h"
#include "figure_parts.h"
#include "figures.h"

enum { LANES = 4, DOTS_MOST = 4000 };

#define ROW_GAP     11.0
#define MEAN_DOWN   9.0
#define BREWS_DOWN  20.0
#define LANE_DOWN   6.0
#define BREW_RADIUS 3.6
#define MEAN_RADIUS 7.0
#define INTERVAL    4.5
#define ABOVE_FROM  8 /* rows: from so many on the numbers stand above, too */

struct view {
	struct figure *figure;
	const struct analysis *analysis;
	struct axis axis;
	size_t *brews; /* by treatment, each from the smallest value up */
	size_t dots;   /* drawn so far */
	struct phrase words;
};

static struct axis scale_of(const struct analysis *analysis)
{
	struct span span = SPAN_INIT;

	for (size_t t = 0; t < analysis->run->treatment_count; t++) {
		span_take(&span, analysis->treatments[t].mean);
		span_take(&span, analysis->treatments[t].lower);
		span_take(&span, analysis->treatments[t].upper);
	}
	for (size_t b = 0; b < analysis->run->brew_count; b++)
		span_take(&span, analysis->brews[b].response);
	return axis_over(span, pow(10, -analysis->comparison.response.decimals), FIGURE_MARGIN,
	                 FIGURE_WIDTH - FIGURE_MARGIN, 6);
}

static void say_value(struct view *view, const struct treatment_result *result)
{
	const struct analysis *analysis = view->analysis;

	phrase_clear(&view->words);
	if (!isfinite(result->mean)) {
		phrase_words(&view->words, "no result");
		return;
	}
	phrase_words(&view->words, digits_typeset(digits_response(analysis, result->mean)).text);
	if (isfinite(result->upper))
		phrase_print(&view->words, " ± %s", digits_response(analysis, result->upper - result->mean).text);
	phrase_print(&view->words, "%s%s · n = %zu", digits_gap(analysis), analysis->comparison.response.unit,
	             result->brews);
	if (result->letters[0] != '\0')
		phrase_print(&view->words, " · %s", result->letters);
}

static double draw_brews(struct view *view, size_t treatment, double y)
{
	double last[LANES] = { -INFINITY, -INFINITY, -INFINITY, -INFINITY };
	int used = 1;

	for (size_t i = 0; i < view->analysis->run->brew_count && view->dots < DOTS_MOST; i++) {
		size_t b = view->brews[i];
		double x = axis_at(&view->axis, view->analysis->brews[b].response);
		int lane = 0;

		if (view->analysis->run->brews[b].treatment != treatment || !isfinite(x))
			continue;
		while (lane < LANES - 1 && x - last[lane] < 2 * BREW_RADIUS)
			lane++;
		last[lane] = x;
		used = lane + 1 > used ? lane + 1 : used;
		figure_mark(view->figure, SIGN_DISC, x, y + LANE_DOWN * lane, BREW_RADIUS, TINT_BREW, TINT_BREW_EDGE);
		view->dots++;
	}
	return y + LANE_DOWN * (used - 1) + BREW_RADIUS;
}

static double draw_row(struct view *view, size_t treatment, double y)
{
	const struct treatment_result *result = &view->analysis->treatments[treatment];
	double x = axis_at(&view->axis, result->mean), end;

	say_value(view, result);
	y = figure_row(view->figure, y, view->analysis->run->treatments[treatment].name, phrase_slice(&view->words));
	if (!isfinite(x))
		return y + ROW_GAP;
	figure_layer(view->figure, LAYER_DATA);
	figure_line(view->figure, axis_at(&view->axis, result->lower), y + MEAN_DOWN,
	            axis_at(&view->axis, result->upper), y + MEAN_DOWN, INTERVAL, TINT_MEAN);
	if (view->analysis->comparison.source != SPREAD_NONE)
		figure_mark(view->figure, SIGN_TICK, x, y + MEAN_DOWN, MEAN_RADIUS, TINT_NONE, TINT_MEAN);
	end = draw_brews(view, treatment,
	                 y + (view->analysis->comparison.source == SPREAD_NONE ? MEAN_DOWN : BREWS_DOWN));
	axis_draw_lines(view->figure, &view->axis, y + 1, end + 3);
	return end + ROW_GAP;
}

static int by_response(const void *a, const void *b, void *context)
{
	const struct analysis *analysis = context;
	double x = analysis->brews[*(const size_t *)a].response;
	double y = analysis->brews[*(const size_t *)b].response;

	if (isnan(x) || isnan(y))
		return isnan(x) - isnan(y);
	if (x != y)
		return x < y ? -1 : 1;
	return *(const size_t *)a < *(const size_t *)b ? -1 : 1;
}

static size_t with_mean(const struct analysis *analysis)
{
	size_t count = 0;

	for (size_t t = 0; t < analysis->run->treatment_count; t++)
		count += isfinite(analysis->treatments[t].mean) ? 1 : 0;
	return count;
}

static void say_end(struct phrase *phrase, const struct analysis *analysis, size_t treatment)
{
	const struct treatment_result *result = &analysis->treatments[treatment];

	figure_say_name(phrase, analysis->run->treatments[treatment].name);
	phrase_print(phrase, " with %s", digits_typeset(digits_response(analysis, result->mean)).text);
	if (isfinite(result->upper))
		phrase_print(phrase, " ± %s", digits_response(analysis, result->upper - result->mean).text);
	phrase_print(phrase, "%s%s (", digits_gap(analysis), analysis->comparison.response.unit);
	figure_say_count(phrase, result->brews, "brew", "brews");
	phrase_words(phrase, ")");
}

static void say_alt(struct figure *figure, const struct analysis *analysis, size_t count)
{
	struct phrase *alt = figure_alt(figure);

	phrase_words(alt, "Mean ");
	phrase_words(alt, analysis->comparison.response.name);
	phrase_words(alt, " of ");
	figure_say_count(alt, count, "treatment", "treatments");
	phrase_words(alt, " and their single brews: ");
	if (count > 1)
		phrase_words(alt, "highest is ");
	say_end(alt, analysis, analysis->ranked[0]);
	if (count > 1) {
		phrase_words(alt, ", lowest ");
		say_end(alt, analysis, analysis->ranked[count - 1]);
	}
	phrase_words(alt, ".");
}

static void say_caption(struct figure *figure, const struct analysis *analysis)
{
	const struct comparison *c = &analysis->comparison;
	struct phrase *caption = figure_caption(figure);

	if (c->source == SPREAD_NONE) {
		phrase_words(caption, "Dots: single brews. One brew each, so no interval can be given. ");
	} else {
		phrase_print(caption, "Tick and bar: mean with its %.4g %% interval. Dots: single brews. ",
		             100 * analysis->settings->confidence);
	}
	phrase_words(caption, "n: number of brews.");
	if (c->letters)
		phrase_words(caption, " Treatments that share a letter were not found to differ.");
}

bool figure_treatments(struct figure *figure, const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	struct view view = { .figure = figure, .analysis = analysis };
	size_t count = with_mean(analysis), shown = 0;
	double y;

	if (count == 0)
		return false;
	view.brews = calloc(run->brew_count, sizeof(*view.brews));
	if (!view.brews)
		return false;
	for (size_t b = 0; b < run->brew_count; b++)
		view.brews[b] = b;
	qsort_r(view.brews, run->brew_count, sizeof(*view.brews), by_response, (void *)(uintptr_t)analysis);
	figure_say_capital(figure_title(figure), analysis->comparison.response.name);
	phrase_words(figure_title(figure), " by treatment");
	say_caption(figure, analysis);
	say_alt(figure, analysis, count);
	view.axis = scale_of(analysis);
	y = figure_head(figure) + ROW_GAP;
	if (run->treatment_count >= ABOVE_FROM) {
		axis_draw_above(figure, &view.axis, y);
		y += 18;
	}
	for (; shown < run->treatment_count && shown < FIGURE_ROWS_MOST; shown++)
		y = draw_row(&view, analysis->ranked[shown], y);
	phrase_clear(&view.words);
	figure_say_response(&view.words, &analysis->comparison.response);
	y = axis_draw_below(figure, &view.axis, y - ROW_GAP + 3, phrase_slice(&view.words));
	if (shown < run->treatment_count) {
		phrase_clear(&view.words);
		phrase_print(&view.words, "The %zu largest means of %zu.", shown, run->treatment_count);
		y += figure_note(figure, y, phrase_slice(&view.words));
	}
	figure_height(figure, y + FIGURE_MARGIN);
	free(view.brews);
	phrase_release(&view.words);
	return true;
}
