/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>

#include "audit_plot.h"
#include "audit_words.h"

enum { PAIR_AT, PAIR_READING, PAIR_MEAN, PAIR_DIFFERENCE, PAIR_BIAS, PAIR_LOW, PAIR_HIGH, PAIR_COLUMNS };

static const struct column_head heads[PAIR_COLUMNS] = {
	{ "When", "UTC", 20, .words = true },
	{ "Reading", "the later one's number", 11, .words = false },
	{ "Mean", "of both, % TDS", 12, .words = false },
	{ "Difference", "first less second", 12, .words = false },
	{ "Bias", "mean difference", 12, .words = false },
	{ "Lower", "limit of agreement", 12, .words = false },
	{ "Upper", "limit of agreement", 12, .words = false },
};

#define CHART_WIDE 720.0
#define CHART_HIGH 360.0

static void write_facts(struct pen *pen, const struct audit_pair *pair)
{
	static const char *const verdicts[] = { [AUDIT_UNKNOWN] = "can't tell yet",
		                                [AUDIT_SAME] = "may be used in one run",
		                                [AUDIT_APART] = "must not be mixed in one run" };
	enum style style = style_decimals(STYLE_SIGNED, 4);

	audit_fact(pen, "Bias: mean difference", pair->bias, style, "% TDS");
	audit_fact(pen, "… interval, from", pair->bias_lower, style, "% TDS");
	audit_fact(pen, "… to", pair->bias_upper, style, "% TDS");
	audit_fact(pen, "Lower limit of agreement", pair->low, style, "% TDS");
	audit_fact(pen, "… interval, from", pair->low_lower, style, "% TDS");
	audit_fact(pen, "… to", pair->low_upper, style, "% TDS");
	audit_fact(pen, "Upper limit of agreement", pair->high, style, "% TDS");
	audit_fact(pen, "… interval, from", pair->high_lower, style, "% TDS");
	audit_fact(pen, "… to", pair->high_upper, style, "% TDS");
	audit_fact(pen, "Margin that counts as practically the same", pair->margin, style_decimals(STYLE_DECIMALS, 4),
	           "% TDS");
	pen_words(pen, "In one run", STYLE_TEXT);
	pen_skip(pen, 3);
	pen_words(pen, verdicts[pair->verdict], STYLE_STRONG);
	pen_down(pen);
}

static void difference_chart(struct audit_book *book, struct pen *pen, const struct audit_pair *pair, lxw_row_t row,
                             lxw_row_t first, lxw_row_t last)
{
	const struct plot_series all[] = {
		{ "cups", PLOT_DOTS, PAIR_MEAN, PAIR_DIFFERENCE, first, last },
		{ "bias", PLOT_LINE, PAIR_MEAN, PAIR_BIAS, first, last },
		{ "limits of agreement", PLOT_LIMIT, PAIR_MEAN, PAIR_LOW, first, last },
		{ "upper limit", PLOT_LIMIT_AGAIN, PAIR_MEAN, PAIR_HIGH, first, last },
	};
	double low = fmin(pair->low, 0), high = fmax(pair->high, 0), left = INFINITY, right = -INFINITY;
	struct plot plot = {
		.kind = PLOT_SCATTER,
		.title = "Difference of the two meters over their mean",
		.description = "Difference plot with bias and limits of agreement. The table has the same numbers.",
		.x_name = "mean of both, % TDS",
		.y_name = "first less second, % TDS",
		.series = all,
		.count = 4,
		.wide = CHART_WIDE,
		.high = CHART_HIGH,
	};

	for (size_t i = 0; i < pair->n; i++) {
		low = fmin(low, pair->points[i].difference);
		high = fmax(high, pair->points[i].difference);
		left = fmin(left, pair->points[i].mean);
		right = fmax(right, pair->points[i].mean);
	}
	plot.x_min = floor(left * 20) / 20;
	plot.x_max = ceil(right * 20) / 20;
	if (!(plot.x_max > plot.x_min))
		plot.x_max = plot.x_min + 0.05;
	plot_scale(&plot, low, high);
	plot_insert(book, pen, audit_sheet_pairs.title, row, &plot);
}

static void point_row(struct pen *pen, const struct audit_pair *pair, const struct audit_pair_point *point)
{
	enum style style = style_decimals(STYLE_SIGNED, 4);

	audit_moment(pen, point->at_us);
	pen_count(pen, (uint64_t)point->id, STYLE_KEY);
	pen_number(pen, point->mean, style_decimals(STYLE_DECIMALS, 4));
	pen_number(pen, point->difference, style);
	pen_number(pen, pair->bias, style);
	pen_number(pen, pair->low, style);
	pen_number(pen, pair->high, style);
	pen_down(pen);
}

static void write_pair(struct audit_book *book, struct pen *pen, const struct audit_pair *pair)
{
	const struct audit *audit = book->audit;
	lxw_row_t chart_row, first;

	phrase_clear(&book->phrase);
	phrase_add(&book->phrase, audit->meters[pair->a].name);
	phrase_words(&book->phrase, " less ");
	phrase_add(&book->phrase, audit->meters[pair->b].name);
	pen_down(pen);
	pen_height(pen, 20.0);
	pen_text(pen, phrase_slice(&book->phrase), STYLE_HEADING);
	pen_down(pen);
	write_facts(pen, pair);
	chart_row = pen->row + 1;
	pen_row(pen, chart_row + plot_rows(CHART_HIGH));
	sheet_heads(pen, heads, PAIR_COLUMNS);
	first = pen->row;
	for (size_t i = 0; i < pair->n; i++)
		point_row(pen, pair, &pair->points[i]);
	difference_chart(book, pen, pair, chart_row, first, pen->row - 1);
}

static bool has_pairs(const struct audit_book *book)
{
	return book->audit && book->audit->pair_count > 0;
}

static void write_pairs(struct audit_book *book, struct pen *pen)
{
	sheet_widths(pen, heads, PAIR_COLUMNS);
	for (size_t i = 0; i < book->audit->pair_count; i++)
		write_pair(book, pen, &book->audit->pairs[i]);
}

const struct audit_sheet audit_sheet_pairs = {
	.title = "Two meters",
	.about = "The same cups on two meters: by how much they differ, and whether both may be used in one run.",
	.wanted = has_pairs,
	.write = write_pairs,
};
