/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>

#include "audit_plot.h"
#include "audit_words.h"

enum { PAIR_AT, PAIR_READING, PAIR_MEAN, PAIR_DIFFERENCE, PAIR_COLUMNS };

/* Where the ends of the chart's lines stand, beside it. */
enum { ENDS_MEAN = 8, ENDS_BIAS, ENDS_LOW, ENDS_HIGH };

enum { OTHER_WIDTH = 12, VERDICT_COLUMNS = 4 };

static const struct column_head heads[PAIR_COLUMNS] = {
	{ "When", "UTC", 20, .words = true },
	{ "Reading", "the later one's number", 11, .words = true },
	{ "Mean", "of both, % TDS", 12, .words = false },
	{ "Difference", "first less second", 12, .words = false },
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
	pen_words_across(pen, verdicts[pair->verdict], VERDICT_COLUMNS, STYLE_STRONG);
	pen_down(pen);
}

/* A line over many points in the order of time would run back and forth, and lose its dashes. */
static void write_ends(struct pen *pen, const struct audit_pair *pair, const struct plot *plot)
{
	static const char *const words[] = { "Ends of lines", "Bias", "Lower", "Upper" };
	const double across[] = { plot->x_min, plot->x_max };
	enum style style = style_decimals(STYLE_SIGNED, 4);

	pen_skip(pen, ENDS_MEAN);
	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++)
		pen_words(pen, words[i], STYLE_NOTE_RIGHT);
	pen_down(pen);
	for (size_t i = 0; i < sizeof(across) / sizeof(across[0]); i++) {
		pen_skip(pen, ENDS_MEAN);
		pen_number(pen, across[i], style_decimals(STYLE_DECIMALS, 4));
		pen_number(pen, pair->bias, style);
		pen_number(pen, pair->low, style);
		pen_number(pen, pair->high, style);
		pen_down(pen);
	}
}

static void scale(struct plot *plot, const struct audit_pair *pair)
{
	double low = fmin(pair->low, 0), high = fmax(pair->high, 0), left = INFINITY, right = -INFINITY;

	for (size_t i = 0; i < pair->n; i++) {
		low = fmin(low, pair->points[i].difference);
		high = fmax(high, pair->points[i].difference);
		left = fmin(left, pair->points[i].mean);
		right = fmax(right, pair->points[i].mean);
	}
	plot_scale(plot, low, high);
	plot_scale_across(plot, left, right);
}

static void point_row(struct pen *pen, const struct audit_pair_point *point)
{
	audit_moment(pen, point->at_us);
	pen_count(pen, (uint64_t)point->id, STYLE_KEY);
	pen_number(pen, point->mean, style_decimals(STYLE_DECIMALS, 4));
	pen_number(pen, point->difference, style_decimals(STYLE_SIGNED, 4));
	pen_down(pen);
}

static void write_pair(struct audit_book *book, struct pen *pen, const struct audit_pair *pair)
{
	const struct audit *audit = book->audit;
	struct plot_series all[] = {
		{ "cups", PLOT_DOTS, PAIR_MEAN, PAIR_DIFFERENCE, 0, 0 },
		{ "bias", PLOT_LINE, ENDS_MEAN, ENDS_BIAS, 0, 0 },
		{ "limits of agreement", PLOT_LIMIT, ENDS_MEAN, ENDS_LOW, 0, 0 },
		{ "upper limit", PLOT_LIMIT_AGAIN, ENDS_MEAN, ENDS_HIGH, 0, 0 },
	};
	struct plot plot = {
		.kind = PLOT_SCATTER,
		.title = "Difference of the two meters over their mean",
		.description = "Difference plot with bias and limits of agreement. The table has the same numbers.",
		.x_name = "mean of both, % TDS",
		.y_name = "first less second, % TDS",
		.series = all,
		.count = sizeof(all) / sizeof(all[0]),
		.wide = CHART_WIDE,
		.high = CHART_HIGH,
	};
	lxw_row_t chart_row;

	phrase_clear(&book->phrase);
	phrase_add(&book->phrase, audit->meters[pair->a].name);
	phrase_words(&book->phrase, " less ");
	phrase_add(&book->phrase, audit->meters[pair->b].name);
	pen_down(pen);
	pen_height(pen, 20.0);
	pen_text(pen, phrase_slice(&book->phrase), STYLE_HEADING);
	pen_down(pen);
	write_facts(pen, pair);
	scale(&plot, pair);
	chart_row = pen->row + 1;
	pen_row(pen, chart_row);
	write_ends(pen, pair, &plot);
	for (size_t i = 1; i < plot.count; i++) {
		all[i].first = pen->row - 2;
		all[i].last = pen->row - 1;
	}
	pen_row(pen, chart_row + plot_rows(CHART_HIGH));
	sheet_heads(pen, heads, PAIR_COLUMNS);
	all[0].first = pen->row;
	for (size_t i = 0; i < pair->n; i++)
		point_row(pen, &pair->points[i]);
	all[0].last = pen->row - 1;
	plot_insert(book, pen, audit_sheet_pairs.title, chart_row, &plot);
}

static bool has_pairs(const struct audit_book *book)
{
	return book->audit && book->audit->pair_count > 0;
}

static void write_pairs(struct audit_book *book, struct pen *pen)
{
	sheet_widths(pen, heads, PAIR_COLUMNS);
	for (int column = PAIR_COLUMNS; column <= ENDS_HIGH; column++)
		pen_width(pen, column, OTHER_WIDTH);
	for (size_t i = 0; i < book->audit->pair_count; i++) {
		audit_page(book, pen);
		write_pair(book, pen, &book->audit->pairs[i]);
	}
}

const struct audit_sheet audit_sheet_pairs = {
	.title = "Two meters",
	.about = "The same cups on two meters: by how much they differ, and whether both may be used in one run.",
	.wanted = has_pairs,
	.write = write_pairs,
};
