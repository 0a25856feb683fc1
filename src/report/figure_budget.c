/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "digits.h"
#include "figure_axis.h"
#include "figure_parts.h"
#include "figures.h"

#define ROW_GAP  10.0
#define BAR_DOWN 3.0
#define BAR      11.0

static void say(struct figure *figure, const struct analysis *analysis)
{
	const struct budget *budget = &analysis->brews[analysis->budget_brew].budget;
	const struct budget_row *largest = &analysis->budget_rows[0];
	struct slice label = analysis->run->brews[analysis->budget_brew].label;
	struct phrase *caption = figure_caption(figure), *alt = figure_alt(figure);

	phrase_words(figure_title(figure), "Where the uncertainty of one yield comes from");
	phrase_words(caption, "Brew ");
	figure_say_name(caption, label);
	phrase_print(caption, ": standard uncertainty %s points", words_spread(budget->u).text);
	phrase_print(caption, ", ±%s points", words_spread(budget->expanded).text);
	phrase_print(caption, " at %.4g %%. ", 100 * budget->confidence);
	phrase_words(caption,
	             "Each bar: what this source alone makes. Filled: this brew's own; open: common to all brews, "
	             "so that it falls out of differences. The spread from brew to brew is no part of it.");
	for (size_t i = 1; i < analysis->budget_row_count; i++)
		if (analysis->budget_rows[i].share > largest->share)
			largest = &analysis->budget_rows[i];
	phrase_words(alt, "The uncertainty of the yield of brew ");
	figure_say_name(alt, label);
	phrase_print(alt, ", %s points, by source: most, ", words_spread(budget->u).text);
	phrase_print(alt, "%.0f %% of its square, comes from ", largest->share);
	phrase_words(alt, largest->name);
	phrase_words(alt, ".");
}

/* The row that n others are larger than; those of one size in their order. */
static size_t nth_largest(const struct analysis *analysis, size_t n)
{
	const struct budget_row *rows = analysis->budget_rows;
	size_t count = analysis->budget_row_count;

	for (size_t i = 0; i < count; i++) {
		size_t before = 0;

		for (size_t j = 0; j < count; j++)
			before += rows[j].points > rows[i].points || (!(rows[j].points < rows[i].points) && j < i);
		if (before == n)
			return i;
	}
	return n;
}

static double draw_row(struct figure *figure, const struct axis *axis, const struct budget_row *row, double y)
{
	struct phrase words = PHRASE_INIT;
	double zero = axis_at(axis, 0);

	phrase_words(&words, words_spread(row->points).text);
	phrase_print(&words, " points · %.0f %%%s", row->share, row->common ? " · common" : "");
	y = figure_row(figure, y, slice_from(row->name), phrase_slice(&words));
	phrase_release(&words);
	axis_draw_lines(figure, axis, y, y + BAR_DOWN + BAR + 2);
	figure_layer(figure, LAYER_DATA);
	figure_bar(figure, zero, y + BAR_DOWN, fmax(axis_at(axis, row->points) - zero, 1), BAR,
	           row->common ? TINT_PAPER : TINT_MEAN, TINT_MEAN);
	return y + BAR_DOWN + BAR + ROW_GAP;
}

bool figure_budget(struct figure *figure, const struct analysis *analysis)
{
	struct span span = { 0, 0 };
	struct axis axis;
	double y;

	for (size_t i = 0; i < analysis->budget_row_count; i++)
		span_take(&span, analysis->budget_rows[i].points);
	if (!(span.high > 0) || !isfinite(analysis->brews[analysis->budget_brew].budget.u))
		return false;
	say(figure, analysis);
	axis = axis_over(span, 0, FIGURE_MARGIN, FIGURE_WIDTH - FIGURE_MARGIN, 6);
	axis.from = 0;
	y = figure_head(figure) + ROW_GAP;
	for (size_t i = 0; i < analysis->budget_row_count && i < FIGURE_ROWS_MOST; i++) {
		const struct budget_row *row = &analysis->budget_rows[nth_largest(analysis, i)];

		if (isfinite(row->points))
			y = draw_row(figure, &axis, row, y);
	}
	y = axis_draw_below(figure, &axis, y - ROW_GAP + 2, SLICE_OF("Standard uncertainty, yield points"));
	figure_height(figure, y + FIGURE_MARGIN);
	return true;
}
