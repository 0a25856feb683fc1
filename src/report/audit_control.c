/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The control charts of one subject and the table that they are drawn from. */
#include <math.h>
#include <stdio.h>

#include "audit_plot.h"
#include "audit_words.h"
#include "reading.h"

/* Columns of the table. */
enum {
	CONTROL_AT,
	CONTROL_NUMBER,
	CONTROL_READING,
	CONTROL_COUNT,
	CONTROL_VALUE,
	CONTROL_CENTRE,
	CONTROL_LOWER,
	CONTROL_UPPER,
	CONTROL_RANGE,
	CONTROL_RANGE_UPPER,
	CONTROL_EWMA,
	CONTROL_EWMA_LOWER,
	CONTROL_EWMA_UPPER,
	CONTROL_SIGNAL,
	CONTROL_WORDS,
	CONTROL_COLUMNS
};

static const struct column_head check_heads[CONTROL_COLUMNS] = {
	{ "When", "UTC", 17, .words = true },
	{ "No.", "in the chart", 10, .words = false },
	{ "Reading", "its number", 10, .words = true },
	{ "Readings", "of the check", 10, .words = false },
	{ "Value", NULL, 11, .words = false },
	{ "Centre", "mean of the base", 11, .words = false },
	{ "Lower", "limit, 3 sigma", 11, .words = false },
	{ "Upper", "limit, 3 sigma", 11, .words = false },
	{ "Range", "to the one before", 11, .words = false },
	{ "Its limit", "D4 × mean range", 11, .words = false },
	{ "EWMA", "weighted mean", 11, .words = false },
	{ "Lower", "limit of it", 11, .words = false },
	{ "Upper", "limit of it", 11, .words = false },
	{ "Signal", "the value again", 11, .words = false },
	{ "What stands out", NULL, 56, .words = true },
};

static const struct column_head spread_heads[CONTROL_COLUMNS] = {
	{ "When", "UTC", 17, .words = true },
	{ "No.", "in the chart", 10, .words = false },
	{ "Reading", "the first", 10, .words = true },
	{ "df", "of the session", 10, .words = false },
	{ "s, % TDS", NULL, 11, .words = false },
	{ "Pooled", "over the base", 11, .words = false },
	{ "Score", "normal, of s", 11, .words = false },
	{ "Upper", "limit of s", 11, .words = false },
	{ "Range", "of the scores", 11, .words = false },
	{ "Its limit", "D4 × mean range", 11, .words = false },
	{ "EWMA", "of the scores", 11, .words = false },
	{ "Lower", "limit of it", 11, .words = false },
	{ "Upper", "limit of it", 11, .words = false },
	{ "Signal", "the value again", 11, .words = false },
	{ "What stands out", NULL, 56, .words = true },
};

#define CHART_WIDE  960.0
#define CHART_HIGH  400.0
#define RANGES_HIGH 200.0

void audit_control_widths(struct pen *pen)
{
	sheet_widths(pen, check_heads, CONTROL_COLUMNS);
}

static bool of_spread(const struct audit_chart *chart)
{
	return chart->subject == AUDIT_REPEATABILITY;
}

/* All that a point has to say, the weightiest first. */
static void say_signals(struct audit_book *book, const struct audit_chart *chart, const struct audit_point *point)
{
	phrase_clear(&book->phrase);
	if (point->signals & CHART_BEYOND_3)
		phrase_words(&book->phrase, signal_words(CHART_BEYOND_3));
	for (unsigned bit = CHART_BEYOND_3 << 1; bit <= AUDIT_EWMA; bit <<= 1)
		if (point->signals & bit) {
			phrase_between(&book->phrase, "; ");
			phrase_words(&book->phrase, signal_words(bit));
		}
	if (point->told) {
		phrase_words(&book->phrase, ". Try first: ");
		phrase_words(&book->phrase, signal_advice(chart, point));
	}
}

static void limits_cells(struct pen *pen, const struct audit_chart *chart, const struct audit_point *point,
                         int decimals)
{
	enum style style = style_decimals(STYLE_SIGNED, decimals);

	if (of_spread(chart)) {
		pen_number(pen, chart->pooled, style_decimals(STYLE_DECIMALS, decimals));
		pen_number(pen, point->score, style_decimals(STYLE_SIGNED, 2));
		pen_number(pen, point->upper, style_decimals(STYLE_DECIMALS, decimals));
		return;
	}
	pen_number(pen, chart->limits.centre, style);
	pen_number(pen, chart->lower, style);
	pen_number(pen, chart->upper, style);
}

static void point_row(struct audit_book *book, struct pen *pen, const struct audit_chart *chart,
                      const struct audit_point *point)
{
	const int decimals = 4, score_decimals = of_spread(chart) ? 2 : decimals;
	enum style style = style_decimals(of_spread(chart) ? STYLE_DECIMALS : STYLE_SIGNED, decimals);
	enum style score = style_decimals(STYLE_SIGNED, score_decimals);

	audit_moment(pen, point->at_us);
	pen_count(pen, (uint64_t)(point - chart->points) + 1, STYLE_COUNT);
	pen_count(pen, (uint64_t)point->id, STYLE_KEY);
	pen_number(pen, point->df, STYLE_COUNT);
	pen_number(pen, point->value, style);
	limits_cells(pen, chart, point, decimals);
	if (isfinite(point->range))
		pen_number(pen, point->range, style_decimals(STYLE_DECIMALS, score_decimals));
	else
		pen_skip(pen, 1);
	pen_number(pen, chart->limits.mr_upper, style_decimals(STYLE_DECIMALS, score_decimals));
	pen_number(pen, point->z, score);
	pen_number(pen, point->z_lower, score);
	pen_number(pen, point->z_upper, score);
	if (point->signals) {
		if (point->told || point->signals & (CHART_BEYOND_3 | AUDIT_EWMA))
			pen_number(pen, point->value, style);
		else
			pen_skip(pen, 1);
		say_signals(book, chart, point);
		pen_text(pen, phrase_slice(&book->phrase), STYLE_MARK);
	}
	pen_down(pen);
}

/* -- charts ------------------------------------------------------------------------------- */

struct span {
	double low, high;
};

static void widen(struct span *span, double value)
{
	if (!isfinite(value))
		return;
	span->low = fmin(span->low, value);
	span->high = fmax(span->high, value);
}

static struct span span_of(const struct audit_chart *chart, size_t from)
{
	struct span span = { INFINITY, -INFINITY };

	for (size_t i = from; i < chart->n; i++) {
		widen(&span, chart->points[i].value);
		widen(&span, chart->points[i].upper);
		if (!of_spread(chart))
			widen(&span, chart->points[i].z);
	}
	widen(&span, of_spread(chart) ? 0 : chart->lower);
	return span;
}

static const char *value_name(const struct audit_chart *chart)
{
	switch (chart->subject) {
	case AUDIT_ZERO:
		return "zero offset, % TDS";
	case AUDIT_STANDARD:
		return "bias, % sucrose";
	case AUDIT_REPEATABILITY:
		return "s, % TDS";
	}
	return "";
}

static void describe(char *out, size_t size, const struct audit_chart *chart)
{
	snprintf(out, size,
	         "Control chart of %s, %zu points, %zu of them signals. The table below has the same "
	         "numbers.",
	         chart_name(chart).text, chart->n, chart->told);
}

/* "check, 1 on 2026-01-10 … 76 on 2026-09-26" */
static void say_axis(char *out, size_t size, const struct audit_chart *chart, size_t from)
{
	const struct audit_point *first = &chart->points[from], *last = &chart->points[chart->n - 1];
	const char *thing = of_spread(chart) ? "session" : "check";

	if (first->at_us == READING_NO_TIME || last->at_us == READING_NO_TIME)
		snprintf(out, size, "%s", thing);
	else
		snprintf(out, size, "%s: no. %zu on %.10s to no. %zu on %.10s", thing, from + 1,
		         when_moment(first->at_us).text, chart->n, when_moment(last->at_us).text);
}

/* Values with their limits and, of checks, the weighted mean. */
static void course(struct audit_book *book, struct pen *pen, const char *sheet, lxw_row_t row,
                   const struct audit_chart *chart, lxw_row_t first, lxw_row_t last)
{
	const struct plot_series values = {
		value_name(chart), PLOT_POINTS, CONTROL_NUMBER, CONTROL_VALUE, first, last
	};
	const struct plot_series signals = {
		"what stands out", PLOT_SIGNAL, CONTROL_NUMBER, CONTROL_SIGNAL, first, last
	};
	const struct plot_series of_checks[] = {
		values,
		{ "centre", PLOT_LINE, CONTROL_NUMBER, CONTROL_CENTRE, first, last },
		{ "limits", PLOT_LIMIT, CONTROL_NUMBER, CONTROL_UPPER, first, last },
		{ "lower limit", PLOT_LIMIT_AGAIN, CONTROL_NUMBER, CONTROL_LOWER, first, last },
		{ "weighted mean", PLOT_SECOND, CONTROL_NUMBER, CONTROL_EWMA, first, last },
		{ "its limits", PLOT_SECOND_LIMIT, CONTROL_NUMBER, CONTROL_EWMA_UPPER, first, last },
		{ "its lower limit", PLOT_SECOND_LIMIT_AGAIN, CONTROL_NUMBER, CONTROL_EWMA_LOWER, first, last },
		signals,
	};
	const struct plot_series of_sessions[] = {
		values,
		{ "pooled", PLOT_LINE, CONTROL_NUMBER, CONTROL_CENTRE, first, last },
		{ "upper limit", PLOT_LIMIT, CONTROL_NUMBER, CONTROL_UPPER, first, last },
		signals,
	};
	char title[160], description[200], axis[120];
	size_t points = (size_t)(last - first) + 1;
	struct span span = span_of(chart, chart->n - points);
	struct plot plot = {
		.kind = PLOT_SCATTER,
		.title = title,
		.description = description,
		.x_name = axis,
		.y_name = value_name(chart),
		.series = of_spread(chart) ? of_sessions : of_checks,
		.count = of_spread(chart) ? sizeof(of_sessions) / sizeof(of_sessions[0]) :
		                            sizeof(of_checks) / sizeof(of_checks[0]),
		.wide = CHART_WIDE,
		.high = CHART_HIGH,
		.x_min = (double)(chart->n - points),
		.x_max = (double)chart->n + 1,
	};

	snprintf(title, sizeof(title), "%s: the %s%zu %s", chart_name(chart).text, points < chart->n ? "newest " : "",
	         points, of_spread(chart) ? "sessions" : "checks");
	if (title[0] >= 'a' && title[0] <= 'z')
		title[0] = (char)(title[0] - 'a' + 'A');
	describe(description, sizeof(description), chart);
	say_axis(axis, sizeof(axis), chart, chart->n - points);
	plot_scale(&plot, span.low, span.high);
	if (of_spread(chart) && isfinite(plot.y_min))
		plot.y_min = 0;
	plot_insert(book, pen, sheet, row, &plot);
}

static void moving_ranges(struct audit_book *book, struct pen *pen, const char *sheet, lxw_row_t row,
                          const struct audit_chart *chart, lxw_row_t first, lxw_row_t last)
{
	const struct plot_series all[] = {
		{ "moving range", PLOT_POINTS, CONTROL_NUMBER, CONTROL_RANGE, first, last },
		{ "its limit", PLOT_LIMIT, CONTROL_NUMBER, CONTROL_RANGE_UPPER, first, last },
	};
	size_t points = (size_t)(last - first) + 1;
	struct span span = { 0, 0 };
	struct plot plot = {
		.kind = PLOT_SCATTER,
		.title = "Moving range: the distance of each check from the one before",
		.description = "Moving ranges of the chart above.",
		.y_name = "range",
		.series = all,
		.count = 2,
		.wide = CHART_WIDE,
		.high = RANGES_HIGH,
		.x_min = (double)(chart->n - points),
		.x_max = (double)chart->n + 1,
	};

	for (size_t i = chart->n - points; i < chart->n; i++)
		widen(&span, chart->points[i].range);
	widen(&span, chart->limits.mr_upper);
	plot_scale(&plot, span.low, span.high);
	if (isfinite(plot.y_min))
		plot.y_min = 0;
	plot_insert(book, pen, sheet, row, &plot);
}

static const char *sheet_of(const struct audit_chart *chart)
{
	switch (chart->subject) {
	case AUDIT_ZERO:
		return audit_sheet_zero.title;
	case AUDIT_STANDARD:
		return audit_sheet_standards.title;
	case AUDIT_REPEATABILITY:
		return audit_sheet_spread.title;
	}
	return "";
}

static void say_worth(struct audit_book *book, struct pen *pen, const struct audit_chart *chart)
{
	phrase_clear(&book->phrase);
	phrase_print(&book->phrase, "Limits from the first %zu of %zu points", chart->base, chart->n);
	if (chart->provisional)
		phrase_print(&book->phrase, "; fewer than %d, so they are provisional", CHART_SETTLED);
	if (chart->step_limited)
		phrase_words(&book->phrase, "; the display's step sets the spread, so runs of points are not looked "
		                            "at");
	phrase_words(&book->phrase, ".");
	pen_text(pen, phrase_slice(&book->phrase), STYLE_FAINT);
	pen_down(pen);
}

void audit_control(struct audit_book *book, struct pen *pen, const struct audit_chart *chart)
{
	const struct column_head *heads = of_spread(chart) ? spread_heads : check_heads;
	size_t shown = chart->n < AUDIT_TABLE_ROWS ? chart->n : AUDIT_TABLE_ROWS;
	size_t drawn = shown < AUDIT_CHART_POINTS ? shown : AUDIT_CHART_POINTS;
	lxw_row_t chart_row, ranges_row, last;

	say_worth(book, pen, chart);
	chart_row = pen->row;
	ranges_row = chart_row + plot_rows(CHART_HIGH);
	pen_row(pen, of_spread(chart) ? ranges_row : ranges_row + plot_rows(RANGES_HIGH));
	sheet_heads(pen, heads, CONTROL_COLUMNS);
	for (size_t i = chart->n - shown; i < chart->n; i++)
		point_row(book, pen, chart, &chart->points[i]);
	last = pen->row - 1;
	course(book, pen, sheet_of(chart), chart_row, chart, last - (lxw_row_t)drawn + 1, last);
	if (!of_spread(chart))
		moving_ranges(book, pen, sheet_of(chart), ranges_row, chart, last - (lxw_row_t)drawn + 1, last);
}
