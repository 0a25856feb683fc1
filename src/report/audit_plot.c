/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_plot.h"

#include <math.h>
#include <stdio.h>

enum {
	USUAL_WIDE = 480, /* as the library makes a chart */
	USUAL_HIGH = 288,
	PIXELS_A_ROW = 20,
	SERIES_MOST = 8,
};

enum { COLOUR_LIMIT = 0xB03A2E, COLOUR_SIGNAL = 0xD35400, COLOUR_SECOND = 0x7D8A96 };

lxw_row_t plot_rows(double high)
{
	return (lxw_row_t)ceil(high / PIXELS_A_ROW) + 1;
}

/* The smallest of 1, 2, 5 times a power of ten that is not below size. */
static double round_up(double size)
{
	double power = pow(10.0, floor(log10(size)));

	if (size <= power * (1 + 1e-9))
		return power;
	if (size <= 2 * power * (1 + 1e-9))
		return 2 * power;
	return size <= 5 * power * (1 + 1e-9) ? 5 * power : 10 * power;
}

struct scale {
	double min, max, step;
};

static struct scale scale_of(double low, double high)
{
	const double parts = 6;
	struct scale scale = { .min = NAN, .max = NAN };

	if (!isfinite(low) || !isfinite(high))
		return scale;
	if (!(high - low > 1e-9 * fmax(fabs(high), 1e-6))) {
		low -= fmax(fabs(low) * 0.1, 1e-3);
		high += fmax(fabs(high) * 0.1, 1e-3);
	}
	scale.step = round_up((high - low) / parts);
	scale.min = floor(low / scale.step - 0.05) * scale.step;
	scale.max = ceil(high / scale.step + 0.05) * scale.step;
	return scale;
}

void plot_scale(struct plot *plot, double low, double high)
{
	struct scale scale = scale_of(low, high);

	plot->y_min = scale.min;
	plot->y_max = scale.max;
	plot->y_step = scale.step;
}

void plot_scale_across(struct plot *plot, double low, double high)
{
	struct scale scale = scale_of(low, high);

	plot->x_min = scale.min;
	plot->x_max = scale.max;
	plot->x_step = scale.step;
}

static void look(lxw_chart_series *series, enum plot_look look)
{
	lxw_chart_line line = { .color = COLOUR_INTERVAL, .width = 1.0F };
	lxw_chart_fill fill = { .color = COLOUR_INTERVAL };
	lxw_chart_line no_line = { .none = LXW_TRUE };
	uint8_t marker = LXW_CHART_MARKER_NONE, size = 5;

	switch (look) {
	case PLOT_POINTS:
		marker = LXW_CHART_MARKER_CIRCLE;
		break;
	case PLOT_DOTS:
		marker = LXW_CHART_MARKER_CIRCLE;
		size = 6;
		line.none = LXW_TRUE;
		break;
	case PLOT_LINE:
		line = (lxw_chart_line){ .color = COLOUR_SECOND, .width = 1.25F };
		break;
	case PLOT_LIMIT:
	case PLOT_LIMIT_AGAIN:
		line = (lxw_chart_line){ .color = COLOUR_LIMIT, .width = 1.25F, .dash_type = LXW_CHART_LINE_DASH_DASH };
		break;
	case PLOT_SECOND:
		line = (lxw_chart_line){ .color = COLOUR_BREW_EDGE, .width = 2.25F };
		break;
	case PLOT_SECOND_LIMIT:
	case PLOT_SECOND_LIMIT_AGAIN:
		line = (lxw_chart_line){ .color = COLOUR_BREW_EDGE,
			                 .width = 1.0F,
			                 .dash_type = LXW_CHART_LINE_DASH_ROUND_DOT };
		break;
	case PLOT_SIGNAL:
		marker = LXW_CHART_MARKER_DIAMOND;
		size = 11;
		fill.color = COLOUR_SIGNAL;
		line.none = LXW_TRUE;
		break;
	case PLOT_BARS:
		chart_series_set_fill(series, &fill);
		return;
	}
	chart_series_set_line(series, &line);
	chart_series_set_marker_type(series, marker);
	if (marker == LXW_CHART_MARKER_NONE)
		return;
	chart_series_set_marker_size(series, size);
	chart_series_set_marker_fill(series, &fill);
	chart_series_set_marker_line(series, &no_line);
}

static void add_series(struct pen *pen, lxw_chart *chart, const char *sheet, const struct plot_series *series)
{
	char x[sizeof(struct range_name) + 1], y[sizeof(struct range_name) + 1];
	lxw_chart_series *added;

	snprintf(x, sizeof(x), "=%s", range_name(sheet, series->x, series->first, series->last).text);
	snprintf(y, sizeof(y), "=%s", range_name(sheet, series->y, series->first, series->last).text);
	added = chart_add_series(chart, x, y);
	if (!added) {
		pen_note(pen, LXW_ERROR_MEMORY_MALLOC_FAILED);
		return;
	}
	chart_series_set_name(added, series->name);
	look(added, series->look);
}

static void set_format(lxw_chart_axis *axis, double step)
{
	int decimals = step >= 1 || !(step > 0) ? 0 : (int)ceil(-log10(step) - 1e-9);
	char format[16] = "0";

	if (decimals > 0)
		snprintf(format, sizeof(format), "0.%.*s", decimals < 9 ? decimals : 9, "000000000");
	if (step > 0)
		chart_axis_set_num_format(axis, format);
}

static void set_names(lxw_chart *chart, const struct plot *plot)
{
	lxw_chart_font plain = { .size = 10, .bold = LXW_EXPLICIT_FALSE, .color = COLOUR_INK };
	lxw_chart_font title = { .size = 11, .bold = LXW_EXPLICIT_FALSE, .color = COLOUR_INK };

	chart_title_set_name(chart, plot->title);
	chart_title_set_name_font(chart, &title);
	if (plot->x_name) {
		chart_axis_set_name(chart->x_axis, plot->x_name);
		chart_axis_set_name_font(chart->x_axis, &plain);
	}
	if (plot->y_name) {
		chart_axis_set_name(chart->y_axis, plot->y_name);
		chart_axis_set_name_font(chart->y_axis, &plain);
	}
}

static void set_scales(lxw_chart *chart, const struct plot *plot)
{
	lxw_chart_line grid = { .color = COLOUR_GRID, .width = 0.75F };
	bool bars = plot->kind == PLOT_SHARES; /* the library has the axes of bars the other way round */
	lxw_chart_axis *values = bars ? chart->x_axis : chart->y_axis;
	lxw_chart_axis *places = bars ? chart->y_axis : chart->x_axis;

	if (isfinite(plot->y_min) && isfinite(plot->y_max)) {
		chart_axis_set_min(values, plot->y_min);
		chart_axis_set_max(values, plot->y_max);
		chart_axis_set_major_unit(values, plot->y_step);
	}
	set_format(values, plot->y_step);
	chart_axis_major_gridlines_set_visible(values, LXW_TRUE);
	chart_axis_major_gridlines_set_line(values, &grid);
	chart_axis_major_gridlines_set_visible(places, LXW_FALSE);
	chart_axis_set_label_position(places, LXW_CHART_AXIS_LABEL_POSITION_LOW);
	if (bars)
		chart_axis_set_reverse(places);
	if (!bars && isfinite(plot->x_min) && isfinite(plot->x_max)) {
		chart_axis_set_min(places, plot->x_min);
		chart_axis_set_max(places, plot->x_max);
	}
	if (!bars && plot->x_step > 0) {
		chart_axis_set_major_unit(places, plot->x_step);
		set_format(places, plot->x_step);
	}
}

static void set_legend(lxw_chart *chart, const struct plot *plot)
{
	int16_t left_out[SERIES_MOST + 1];
	size_t count = 0;

	chart_legend_set_position(chart, plot->count > 1 ? LXW_CHART_LEGEND_BOTTOM : LXW_CHART_LEGEND_NONE);
	for (size_t i = 0; i < plot->count && count < SERIES_MOST; i++)
		if (plot->series[i].look == PLOT_LIMIT_AGAIN || plot->series[i].look == PLOT_SECOND_LIMIT_AGAIN)
			left_out[count++] = (int16_t)i;
	left_out[count] = -1;
	if (count > 0)
		chart_legend_delete_series(chart, left_out);
}

void plot_insert(struct audit_book *book, struct pen *pen, const char *sheet, lxw_row_t row, const struct plot *plot)
{
	static const uint8_t kinds[] = { [PLOT_SCATTER] = LXW_CHART_SCATTER, [PLOT_SHARES] = LXW_CHART_BAR };
	lxw_chart_options options = {
		.x_scale = plot->wide / USUAL_WIDE,
		.y_scale = plot->high / USUAL_HIGH,
		.object_position = LXW_OBJECT_MOVE_DONT_SIZE,
		.description = (char *)(uintptr_t)plot->description, /* copied there */
	};
	lxw_chart_line no_line = { .none = LXW_TRUE };
	lxw_chart *chart = workbook_add_chart(book->workbook, kinds[plot->kind]);

	if (!chart) {
		pen_note(pen, LXW_ERROR_MEMORY_MALLOC_FAILED);
		return;
	}
	for (size_t i = 0; i < plot->count; i++)
		add_series(pen, chart, sheet, &plot->series[i]);
	set_names(chart, plot);
	set_scales(chart, plot);
	set_legend(chart, plot);
	chart_show_blanks_as(chart, LXW_CHART_BLANKS_AS_GAP);
	chart_chartarea_set_line(chart, &no_line);
	pen_note(pen, worksheet_insert_chart_opt(pen->sheet, row, 0, chart, &options));
}
