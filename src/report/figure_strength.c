/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>

#include "digits.h"
#include "figure_axis.h"
#include "figure_parts.h"
#include "figures.h"

/*
 * The target for brewed coffee: SCAA Golden Cup Standard, Specialty Coffee Association of America, version of
 * 23 December 2015.
 */
#define TARGET_TDS_LOW    1.15
#define TARGET_TDS_HIGH   1.35
#define TARGET_YIELD_LOW  18.0
#define TARGET_YIELD_HIGH 22.0
#define TARGET_WORDS      "SCAA Golden Cup Standard, version of 23 December 2015: TDS 1.15–1.35 %, extraction 18–22 %"

/* Brews whose strengths are all above or below these are no filter coffee; a judgement. */
#define FILTER_TDS_LOW  0.6
#define FILTER_TDS_HIGH 2.4

#define PLOT_HEIGHT     300.0
#define BREW_RADIUS     3.4
#define MEAN_RADIUS     4.8

enum { DOTS_MOST = 2000, BORDER_POINTS = 50 };

struct view {
	struct figure *figure;
	const struct analysis *analysis;
	struct span yields, strengths; /* of the brews */
	bool target;
	struct axis x, y;
	struct named_point *points; /* treatments, then brews */
	size_t count;
	size_t drawn; /* of them; the rest is only in the way of names */
	size_t brews;
	struct phrase words;
};

static bool placed(const struct analysis *analysis, size_t b)
{
	return isfinite(analysis->brews[b].yield.yield_percent) && isfinite(analysis->brews[b].tds_percent);
}

static void look(struct view *view)
{
	for (size_t b = 0; b < view->analysis->run->brew_count; b++) {
		if (!placed(view->analysis, b))
			continue;
		span_take(&view->yields, view->analysis->brews[b].yield.yield_percent);
		span_take(&view->strengths, view->analysis->brews[b].tds_percent);
		view->brews++;
	}
	view->target = view->strengths.high >= FILTER_TDS_LOW && view->strengths.low <= FILTER_TDS_HIGH;
}

static void make_axes(struct view *view, double top)
{
	struct span x = view->yields, y = view->strengths;

	if (view->target) {
		span_take(&x, TARGET_YIELD_LOW);
		span_take(&x, TARGET_YIELD_HIGH);
		span_take(&y, TARGET_TDS_LOW);
		span_take(&y, TARGET_TDS_HIGH);
	}
	view->y = axis_over(y, 0.05, top + PLOT_HEIGHT, top, 6);
	view->x = axis_over(x, 0.5, FIGURE_MARGIN + axis_numbers_width(view->figure, &view->y) + 6,
	                    FIGURE_WIDTH - FIGURE_MARGIN, 7);
}

/* Where a treatment's brews lie on average. False: none of them can be placed. */
static bool centre(const struct view *view, size_t treatment, double *yield, double *tds)
{
	const struct analysis *analysis = view->analysis;
	double n = 0;

	*yield = *tds = 0;
	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (analysis->run->brews[b].treatment == treatment && placed(analysis, b)) {
			*yield += analysis->brews[b].yield.yield_percent;
			*tds += analysis->brews[b].tds_percent;
			n++;
		}
	*yield /= n;
	*tds /= n;
	return n > 0;
}

static void add_point(struct view *view, double yield, double tds, double radius, struct slice name)
{
	view->points[view->count++] = (struct named_point){
		.x = axis_at(&view->x, yield), .y = axis_at(&view->y, tds), .radius = radius, .name = name
	};
}

static void collect(struct view *view)
{
	const struct analysis *analysis = view->analysis;
	const struct run *run = analysis->run;
	double yield, tds;

	for (size_t i = 0; i < run->treatment_count; i++)
		if (centre(view, analysis->ranked[i], &yield, &tds))
			add_point(view, yield, tds, MEAN_RADIUS, run->treatments[analysis->ranked[i]].name);
	for (size_t b = 0; b < run->brew_count && b < DOTS_MOST; b++)
		if (placed(analysis, b))
			add_point(view, analysis->brews[b].yield.yield_percent, analysis->brews[b].tds_percent,
			          BREW_RADIUS, (struct slice){ NULL, 0 });
}

static void draw_target(struct view *view)
{
	double left = axis_at(&view->x, TARGET_YIELD_LOW), right = axis_at(&view->x, TARGET_YIELD_HIGH);
	double top = axis_at(&view->y, TARGET_TDS_HIGH), bottom = axis_at(&view->y, TARGET_TDS_LOW);
	const struct figure_type type = {
		.tint = TINT_SOFT, .anchor = ANCHOR_END, .width = right - left - 8, .lines = 2
	};
	struct slice words = SLICE_OF("published target");
	struct figure_size size = figure_measure(view->figure, words, &type);

	if (!view->target)
		return;
	figure_layer(view->figure, LAYER_BAND);
	figure_bar(view->figure, left, top, right - left, bottom - top, TINT_BAND, TINT_NONE);
	figure_layer(view->figure, LAYER_GRID);
	if (size.height < bottom - top && right - left > 40) {
		figure_bar(view->figure, right - 7 - size.width, bottom - size.height - 3, size.width + 4, size.height,
		           TINT_BAND, TINT_NONE);
		figure_text(view->figure, right - 5, bottom - size.height - 3, words, &type);
	}
	figure_bar(view->figure, left, top, right - left, bottom - top, TINT_NONE, TINT_BAND_EDGE);
}

/* Names keep off the border of the box. */
static void guard_border(struct view *view)
{
	for (int i = 0; i <= BORDER_POINTS; i++) {
		double part = (double)i / BORDER_POINTS;
		double yield = TARGET_YIELD_LOW + part * (TARGET_YIELD_HIGH - TARGET_YIELD_LOW);
		double tds = TARGET_TDS_LOW + part * (TARGET_TDS_HIGH - TARGET_TDS_LOW);

		add_point(view, yield, TARGET_TDS_LOW, 0, (struct slice){ NULL, 0 });
		add_point(view, yield, TARGET_TDS_HIGH, 0, (struct slice){ NULL, 0 });
		add_point(view, TARGET_YIELD_LOW, tds, 0, (struct slice){ NULL, 0 });
		add_point(view, TARGET_YIELD_HIGH, tds, 0, (struct slice){ NULL, 0 });
	}
}

static void draw_points(struct view *view)
{
	figure_layer(view->figure, LAYER_DATA);
	for (size_t i = view->drawn; i-- > 0;) { /* means last, on top */
		const struct named_point *point = &view->points[i];

		if (point->name.len == 0)
			figure_mark(view->figure, SIGN_DISC, point->x, point->y, point->radius, TINT_BREW,
			            TINT_BREW_EDGE);
		else
			figure_mark(view->figure, SIGN_DIAMOND, point->x, point->y, point->radius, TINT_MEAN,
			            TINT_PAPER);
	}
}

static void say_caption(struct view *view)
{
	struct phrase *caption = figure_caption(view->figure);

	phrase_print(caption, "Diamonds: treatments' means. Dots: single brews, n = %zu.", view->brews);
	if (view->target)
		phrase_words(caption, " Box: " TARGET_WORDS ".");
}

static void say_alt(struct view *view)
{
	const struct analysis *analysis = view->analysis;
	struct phrase *alt = figure_alt(view->figure);
	size_t within = 0;

	phrase_words(alt, "Strength against yield of ");
	figure_say_count(alt, view->brews, "brew", "brews");
	phrase_print(alt, ": yields from %s", digits_yield(analysis, view->yields.low).text);
	phrase_print(alt, " to %s %%", digits_yield(analysis, view->yields.high).text);
	phrase_print(alt, ", TDS from %s", digits_tds(analysis, view->strengths.low).text);
	phrase_print(alt, " to %s %%", digits_tds(analysis, view->strengths.high).text);
	for (size_t b = 0; b < analysis->run->brew_count; b++)
		within += placed(analysis, b) && analysis->brews[b].yield.yield_percent >= TARGET_YIELD_LOW &&
		          analysis->brews[b].yield.yield_percent <= TARGET_YIELD_HIGH &&
		          analysis->brews[b].tds_percent >= TARGET_TDS_LOW &&
		          analysis->brews[b].tds_percent <= TARGET_TDS_HIGH;
	if (view->target)
		phrase_print(alt, "; %zu of them within the published target", within);
	phrase_words(alt, ".");
}

bool figure_strength(struct figure *figure, const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	struct view view = { .figure = figure, .analysis = analysis, .yields = SPAN_INIT, .strengths = SPAN_INIT };
	struct frame frame;
	double top, y;

	look(&view);
	view.points = calloc(run->treatment_count + run->brew_count + (size_t)4 * (BORDER_POINTS + 1),
	                     sizeof(*view.points));
	if (view.brews == 0 || !view.points) {
		free(view.points);
		return false;
	}
	phrase_words(figure_title(figure), "Strength against yield");
	say_caption(&view);
	say_alt(&view);
	top = figure_head(figure) + 30;
	make_axes(&view, top);
	collect(&view);
	axis_draw_lines(figure, &view.x, top, top + PLOT_HEIGHT);
	axis_draw_left(figure, &view.y, view.x.at_from, view.x.at_to, SLICE_OF("TDS, % by mass"));
	draw_target(&view);
	y = axis_draw_below(figure, &view.x, top + PLOT_HEIGHT, SLICE_OF("Yield (extraction), % of the dose"));
	view.drawn = view.count;
	draw_points(&view);
	if (view.target)
		guard_border(&view);
	frame = (struct frame){ view.x.at_from, top, view.x.at_to, top + PLOT_HEIGHT };
	y = figure_names(figure, &frame, view.points, view.count, y);
	figure_height(figure, y + FIGURE_MARGIN);
	free(view.points);
	phrase_release(&view.words);
	return true;
}
