/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>

#include "audit_plot.h"
#include "audit_words.h"

static const struct column_head heads[] = {
	{ "Standard", "made up, % sucrose", 0, .words = false },
	{ "Index", "of just that", 0, .words = false },
	{ "Known to", "± %, from weighing", 0, .words = false },
	{ "Checks", NULL, 0, .words = false },
	{ "Readings", NULL, 0, .words = false },
	{ "Bias, %", "mean of the checks", 0, .words = false },
	{ "From", "interval", 0, .words = false },
	{ "To", "interval", 0, .words = false },
	{ "s of checks", "%", 0, .words = false },
	{ "s within", "a check, %", 0, .words = false },
	{ "Without zero", "bias as shown, %", 0, .words = false },
	{ "Line", "through all, %", 0, .words = false },
};

#define HEADS(heads) heads, sizeof(heads) / sizeof((heads)[0])

enum { STANDARD_STRENGTH = 0, STANDARD_BIAS = 5, STANDARD_LINE = 11 };

/* Where the ends of the intervals stand for the chart: strength and bias, a gap between two. */
enum { ENDS_STRENGTH = 10, ENDS_BIAS = 11 };

static double line_at(const struct audit_linearity *l, double strength)
{
	return l->line.at_mean + l->line.slope * (strength - l->line.mean_x);
}

static void standard_row(struct pen *pen, const struct audit_meter *meter, const struct audit_standard *standard)
{
	enum style signed_style = style_decimals(STYLE_SIGNED, 3), style = style_decimals(STYLE_DECIMALS, 3);

	pen_number(pen, standard->strength, style_decimals(STYLE_DECIMALS, 2));
	pen_number(pen, standard->index, style_decimals(STYLE_DECIMALS, 6));
	pen_number(pen, 2 * standard->u, style);
	pen_count(pen, standard->checks, STYLE_COUNT);
	pen_count(pen, standard->readings, STYLE_COUNT);
	pen_number(pen, moments_mean(&standard->bias), signed_style);
	pen_number(pen, standard->lower, signed_style);
	pen_number(pen, standard->upper, signed_style);
	pen_number(pen, moments_sd(&standard->bias), style);
	pen_number(pen, pooled_sd(&standard->within.pooled), style);
	pen_number(pen, moments_mean(&standard->shown), signed_style);
	if (isfinite(meter->linearity.line.slope))
		pen_number(pen, line_at(&meter->linearity, standard->strength), signed_style);
	pen_down(pen);
}

static void end_row(struct pen *pen, double strength, double bias)
{
	pen_skip(pen, ENDS_STRENGTH);
	pen_number(pen, strength, STYLE_SIGNIFICANT);
	pen_number(pen, bias, style_decimals(STYLE_SIGNED, 3));
	pen_down(pen);
}

#define CHART_WIDE 640.0
#define CHART_HIGH 320.0

static void linearity_chart(struct audit_book *book, struct pen *pen, const struct audit_meter *meter, lxw_row_t row,
                            lxw_row_t first, lxw_row_t ends)
{
	lxw_row_t last = first + (lxw_row_t)meter->standard_count - 1;
	const struct plot_series all[] = {
		{ "interval", PLOT_LIMIT, ENDS_STRENGTH, ENDS_BIAS, ends,
		  ends + 3 * (lxw_row_t)meter->standard_count - 2 },
		{ "line through all", PLOT_LINE, STANDARD_STRENGTH, STANDARD_LINE, first, last },
		{ "mean bias", PLOT_DOTS, STANDARD_STRENGTH, STANDARD_BIAS, first, last },
	};
	double low = 0, high = 0;
	const double most = meter->standards[meter->standard_count - 1].strength;
	struct plot plot = {
		.kind = PLOT_SCATTER,
		.title = "Is the scale right and straight? Bias of each standard with its interval",
		.description = "Bias over strength. The table has the same numbers.",
		.x_name = "strength, % sucrose",
		.y_name = "bias, % sucrose",
		.series = all,
		.count = 3,
		.wide = CHART_WIDE,
		.high = CHART_HIGH,
		.x_min = 0,
		.x_max = ceil(most * 1.1),
	};

	for (size_t i = 0; i < meter->standard_count; i++) {
		const struct audit_standard *s = &meter->standards[i];

		low = fmin(low, isfinite(s->lower) ? s->lower : moments_mean(&s->bias));
		high = fmax(high, isfinite(s->upper) ? s->upper : moments_mean(&s->bias));
	}
	plot_scale(&plot, low, high);
	plot_insert(book, pen, audit_sheet_standards.title, row, &plot);
}

static void write_table(struct audit_book *book, struct pen *pen, const struct audit_meter *meter)
{
	lxw_row_t first, ends, chart_row;

	sheet_heads(pen, HEADS(heads));
	first = pen->row;
	for (size_t i = 0; i < meter->standard_count; i++)
		standard_row(pen, meter, &meter->standards[i]);
	if (meter->standard_count < 2)
		return;
	chart_row = pen->row + 1;
	pen_row(pen, chart_row);
	pen_skip(pen, ENDS_STRENGTH);
	pen_words(pen, "Strength", STYLE_NOTE_RIGHT);
	pen_words(pen, "Interval's end", STYLE_NOTE_RIGHT);
	pen_down(pen);
	ends = pen->row;
	for (size_t i = 0; i < meter->standard_count; i++) {
		const struct audit_standard *s = &meter->standards[i];

		if (i > 0)
			pen_row(pen, ends + 3 * (lxw_row_t)i);
		end_row(pen, s->strength, isfinite(s->lower) ? s->lower : moments_mean(&s->bias));
		end_row(pen, s->strength, isfinite(s->upper) ? s->upper : moments_mean(&s->bias));
	}
	linearity_chart(book, pen, meter, chart_row, first, ends);
	if (pen->row < chart_row + plot_rows(CHART_HIGH))
		pen_row(pen, chart_row + plot_rows(CHART_HIGH));
}

static bool has_standard(const struct audit_book *book)
{
	for (size_t i = 0; book->audit && i < book->audit->meter_count; i++)
		if (book->audit->meters[i].standard_count > 0)
			return true;
	return false;
}

static void write_standards(struct audit_book *book, struct pen *pen)
{
	audit_control_widths(pen);
	for (size_t i = 0; i < book->audit->meter_count; i++) {
		const struct audit_meter *meter = &book->audit->meters[i];
		bool shares_page = true; /* with the table of all standards */

		if (meter->standard_count == 0)
			continue;
		audit_page(book, pen);
		audit_heading(book, pen, meter, NULL);
		write_table(book, pen, meter);
		for (size_t c = 0; c < meter->chart_count; c++) {
			if (meter->charts[c].subject != AUDIT_STANDARD)
				continue;
			if (!shares_page)
				audit_page(book, pen);
			shares_page = false;
			audit_heading(book, pen, meter, chart_name(&meter->charts[c]).text);
			audit_control(book, pen, &meter->charts[c]);
		}
	}
}

const struct audit_sheet audit_sheet_standards = {
	.title = "Standards",
	.about = "Sucrose solutions of known strength on the meter: bias, straightness of the scale, and when they "
		 "stood out.",
	.wanted = has_standard,
	.write = write_standards,
};
