/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>

#include "audit_plot.h"
#include "audit_words.h"

enum { PART_NAME, PART_SD, PART_LOWER, PART_UPPER, PART_DF, PART_SHARE, PART_COLUMNS };

static const struct column_head part_heads[PART_COLUMNS] = {
	{ "Between", NULL, 30, .words = true },     { "s, % TDS", NULL, 12, .words = false },
	{ "From", "interval", 12, .words = false }, { "To", "interval", 12, .words = false },
	{ "df", "about", 12, .words = false },      { "Share, %", "of what the meter adds", 22, .words = false },
};

enum { SAMPLE_WIDTH = 46 };

static const struct column_head load_heads[] = {
	{ "Load", NULL, 0, .words = true },
	{ "Readings", NULL, 0, .words = false },
	{ "Mean", "% TDS, corrected", 0, .words = false },
	{ "s", "% TDS", 0, .words = false },
	{ "Day", NULL, 0, .words = true },
	{ "Operator", NULL, 0, .words = true },
	{ "Sample", NULL, SAMPLE_WIDTH, .words = true },
};

static const struct column_head effort_heads[] = {
	{ "Readings of a cup", NULL, 0, .words = false },
	{ "s of a yield", "points", 0, .words = false },
};

#define HEADS(heads) heads, sizeof(heads) / sizeof((heads)[0])
#define CHART_WIDE   640.0
#define CHART_HIGH   260.0

static void part_row(struct pen *pen, const struct audit_gauge *gauge, enum gauge_part which)
{
	const struct gauge_part_result *part = &gauge->part[which];
	enum style style = style_decimals(STYLE_DECIMALS, 4);

	pen_words(pen, gauge_part_name(which), STYLE_TEXT);
	if (part->var == 0) {
		pen_words(pen, "near 0", STYLE_MISSING);
		pen_skip(pen, PART_SHARE - PART_LOWER);
		pen_number(pen, 0, style_decimals(STYLE_DECIMALS, 1));
		pen_down(pen);
		return;
	}
	pen_number(pen, part->sd, style);
	pen_number(pen, part->lower, style);
	pen_number(pen, part->upper, style);
	pen_number(pen, part->df, style_decimals(STYLE_DECIMALS, 1));
	if (which != GAUGE_SAMPLE)
		pen_number(pen, part->share_meter, style_decimals(STYLE_DECIMALS, 1));
	pen_down(pen);
}

static void shares_chart(struct audit_book *book, struct pen *pen, lxw_row_t row, lxw_row_t first, lxw_row_t last)
{
	const struct plot_series bars = { "share of the variance", PLOT_BARS, PART_NAME, PART_SHARE, first, last };
	struct plot plot = {
		.kind = PLOT_SHARES,
		.title = "Share of the variance that the meter adds, %",
		.description = "Shares of the components. The table above has the same numbers.",
		.series = &bars,
		.count = 1,
		.y_step = 20,
		.y_min = 0,
		.y_max = 100,
		.x_min = NAN,
		.x_max = NAN,
		.wide = CHART_WIDE,
		.high = CHART_HIGH,
	};

	plot_insert(book, pen, audit_sheet_study.title, row, &plot);
}

static void write_parts(struct audit_book *book, struct pen *pen)
{
	const struct audit_gauge *gauge = book->gauge;
	lxw_row_t first, chart_row;

	sheet_heads(pen, part_heads, PART_COLUMNS);
	if (gauge->part[GAUGE_SAMPLE].present)
		part_row(pen, gauge, GAUGE_SAMPLE);
	first = pen->row;
	for (size_t part = GAUGE_SAMPLE + 1; part < GAUGE_PARTS; part++)
		if (gauge->part[part].present)
			part_row(pen, gauge, (enum gauge_part)part);
	chart_row = pen->row + 1;
	if (pen->row > first)
		shares_chart(book, pen, chart_row, first, pen->row - 1);
	pen_row(pen, chart_row + plot_rows(CHART_HIGH));
}

static void write_facts(struct pen *pen, const struct audit_gauge *gauge)
{
	enum style style = style_decimals(STYLE_DECIMALS, 4);

	sheet_heading(pen, "What follows from it");
	audit_fact(pen, "Spread of the meter: all but the samples", gauge->s_gauge, style, "% TDS");
	audit_fact(pen, "Spread of the samples", gauge->s_sample, style, "% TDS");
	audit_fact(pen, "Kinds of sample that one reading tells apart", gauge->categories, STYLE_COUNT, "");
	audit_fact(pen, "Level 1: readings of one load", gauge->levels.s1, style, "% TDS");
	audit_fact(pen, "Level 2: loads of one set-up (operator, day)", gauge->levels.s2, style, "% TDS");
	audit_fact(pen, "Level 3: set-ups of one sample", gauge->levels.s3, style, "% TDS");
}

static void write_effort(struct pen *pen, const struct audit_effort *effort)
{
	sheet_heading(pen, "Readings of a cup, and the spread of a yield that is left");
	sheet_heads(pen, HEADS(effort_heads));
	for (size_t i = 0; i < AUDIT_EFFORTS; i++) {
		pen_count(pen, effort->tried[i], STYLE_COUNT);
		pen_number(pen, effort->sd[i], style_decimals(STYLE_DECIMALS, 3));
		pen_down(pen);
	}
}

static void name_cell(struct pen *pen, const struct slice *names, size_t at)
{
	pen_text(pen, names ? names[at] : (struct slice){ NULL, 0 }, STYLE_WRAP);
}

static void write_loads(struct pen *pen, const struct audit_gauge *gauge)
{
	sheet_heading(pen, "Load by load");
	sheet_heads(pen, HEADS(load_heads));
	for (size_t i = 0; i < gauge->loads; i++) {
		const struct gauge_load *load = &gauge->load[i];

		pen_text(pen, load->label, STYLE_STRONG);
		pen_count(pen, load->readings.n, STYLE_COUNT);
		pen_number(pen, load->readings.mean, style_decimals(STYLE_DECIMALS, 4));
		pen_number(pen, brew_sd(&load->readings), style_decimals(STYLE_DECIMALS, 4));
		name_cell(pen, gauge->day_names, load->day);
		name_cell(pen, gauge->operator_names, load->operator);
		name_cell(pen, gauge->sample_names, load->sample);
		pen_down(pen);
	}
}

static bool has_study(const struct audit_book *book)
{
	return book->gauge != NULL;
}

static void write_study(struct audit_book *book, struct pen *pen)
{
	sheet_widths(pen, part_heads, PART_COLUMNS);
	pen_width(pen, PART_COLUMNS, SAMPLE_WIDTH);
	write_parts(book, pen);
	write_facts(pen, book->gauge);
	audit_page(book, pen);
	write_effort(pen, &book->gauge->effort);
	write_loads(pen, book->gauge);
}

const struct audit_sheet audit_sheet_study = {
	.title = "Study",
	.about = "Which of samples, operators, days, loads and readings makes the spread.",
	.wanted = has_study,
	.write = write_study,
};
