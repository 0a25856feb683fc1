/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>

#include "clean_text.h"
#include "digits.h"
#include "figure_axis.h"
#include "figure_parts.h"
#include "figures.h"

#define PLOT_HEIGHT 270.0
#define MEAN_RADIUS 4.8

enum { FIT_POINTS = 90 };

struct view {
	struct figure *figure;
	const struct analysis *analysis;
	const struct covariate *covariate;
	const struct column *column;
	struct axis x, y;
	struct named_point *points;
	size_t count;
	struct phrase words;
};

static bool placed(const struct view *view, size_t treatment)
{
	return isfinite(view->covariate->x[treatment]) && isfinite(view->analysis->treatments[treatment].mean);
}

static void make_axes(struct view *view, double top)
{
	struct span x = SPAN_INIT, y = SPAN_INIT;

	for (size_t t = 0; t < view->analysis->run->treatment_count; t++)
		if (placed(view, t)) {
			span_take(&x, view->covariate->x[t]);
			span_take(&y, view->analysis->treatments[t].mean);
		}
	view->y = axis_over(y, pow(10, -view->analysis->comparison.response.decimals), top + PLOT_HEIGHT, top, 5);
	view->x = axis_over(x, pow(10, -view->column->decimals),
	                    FIGURE_MARGIN + axis_numbers_width(view->figure, &view->y) + 6,
	                    FIGURE_WIDTH - FIGURE_MARGIN, 6);
}

static void collect(struct view *view)
{
	for (size_t i = 0; i < view->analysis->run->treatment_count; i++) {
		size_t t = view->analysis->ranked[i];

		if (placed(view, t))
			view->points[view->count++] = (struct named_point){
				.x = axis_at(&view->x, view->covariate->x[t]),
				.y = axis_at(&view->y, view->analysis->treatments[t].mean),
				.radius = MEAN_RADIUS,
				.name = view->analysis->run->treatments[t].name,
			};
	}
}

/* The fitted line, as far as it lies in the plot; names keep away from it. */
static void draw_fit(struct view *view)
{
	double slope = view->covariate->slope, from = view->x.from, to = view->x.to;
	double low, high;

	if (!isfinite(slope) || !isfinite(view->covariate->intercept))
		return;
	low = (view->y.from - view->covariate->intercept) / slope;
	high = (view->y.to - view->covariate->intercept) / slope;
	if (slope != 0) {
		from = fmax(from, fmin(low, high));
		to = fmin(to, fmax(low, high));
	}
	if (!(from < to))
		return;
	figure_dashes(view->figure, axis_at(&view->x, from),
	              axis_at(&view->y, view->covariate->intercept + slope * from), axis_at(&view->x, to),
	              axis_at(&view->y, view->covariate->intercept + slope * to), 1.4, TINT_SOFT);
	for (int i = 0; i <= FIT_POINTS; i++) {
		double x = from + (to - from) * i / FIT_POINTS;

		view->points[view->count++] = (struct named_point){
			.x = axis_at(&view->x, x),
			.y = axis_at(&view->y, view->covariate->intercept + slope * x),
			.radius = 2,
		};
	}
}

static void say_column(struct phrase *phrase, const struct column *column)
{
	struct slice unit = column_unit(column);

	clean_text_add(phrase, column->name);
	if (unit.len > 0) {
		phrase_words(phrase, ", ");
		clean_text_add(phrase, unit);
	}
}

static void say(struct view *view)
{
	const struct covariate *c = view->covariate;
	struct phrase *title = figure_title(view->figure), *caption = figure_caption(view->figure);
	struct phrase *alt = figure_alt(view->figure);

	figure_say_capital(title, view->analysis->comparison.response.name);
	phrase_words(title, " against ");
	clean_text_add(title, view->column->name);
	phrase_print(caption, "Means of treatments, n = %zu. Dashed: Theil–Sen line. ", c->n);
	phrase_print(caption, "Kendall's τ = %s", digits_typeset(words_number(c->kendall, 2)).text);
	figure_say_p(caption, ", ", c->kendall_p);
	figure_say_p(caption, " (adjusted for the columns tried: ", c->holm_p);
	phrase_words(caption, ").");
	phrase_print(caption, " So few treatments can give no p below %s", digits_p(c->smallest_p).text);
	phrase_words(caption, ", and none prove a cause.");
	phrase_words(alt, "Mean ");
	phrase_words(alt, view->analysis->comparison.response.name);
	phrase_words(alt, " of ");
	figure_say_count(alt, c->n, "treatment", "treatments");
	phrase_words(alt, " against ");
	clean_text_add(alt, view->column->name);
	phrase_print(alt, ": Kendall's τ is %s", digits_typeset(words_number(c->kendall, 2)).text);
	figure_say_p(alt, ", ", c->kendall_p);
	phrase_words(alt, ".");
}

bool figure_covariate(struct figure *figure, const struct analysis *analysis, size_t covariate)
{
	struct view view = { .figure = figure, .analysis = analysis, .covariate = &analysis->covariates[covariate] };
	struct frame frame;
	size_t treatments;
	double top, y;

	view.column = &analysis->run->columns[view.covariate->column];
	view.points = calloc(analysis->run->treatment_count + FIT_POINTS + 1, sizeof(*view.points));
	if (!view.points)
		return false;
	say(&view);
	top = figure_head(figure) + 30;
	make_axes(&view, top);
	collect(&view);
	figure_say_response(&view.words, &analysis->comparison.response);
	axis_draw_left(figure, &view.y, view.x.at_from, view.x.at_to, phrase_slice(&view.words));
	phrase_clear(&view.words);
	say_column(&view.words, view.column);
	axis_draw_lines(figure, &view.x, top, top + PLOT_HEIGHT);
	y = axis_draw_below(figure, &view.x, top + PLOT_HEIGHT, phrase_slice(&view.words));
	figure_layer(figure, LAYER_GRID);
	treatments = view.count;
	draw_fit(&view);
	figure_layer(figure, LAYER_DATA);
	for (size_t i = 0; i < treatments; i++)
		figure_mark(figure, SIGN_DIAMOND, view.points[i].x, view.points[i].y, MEAN_RADIUS, TINT_MEAN,
		            TINT_PAPER);
	frame = (struct frame){ view.x.at_from, top, view.x.at_to, top + PLOT_HEIGHT };
	y = figure_names(figure, &frame, view.points, view.count, y);
	figure_height(figure, y + FIGURE_MARGIN);
	free(view.points);
	phrase_release(&view.words);
	return true;
}
