/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "chart.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
	ROW_PIXELS = 20,
	CHARACTER_PIXELS = 7,
	TREATMENT_PIXELS = 38,
	FRAME_PIXELS = 92,       /* title, axis and its name */
	CHART_PIXELS_WIDE = 480, /* as the library makes it … */
	CHART_PIXELS_HIGH = 288,
	CHART_PIXELS_MOST = 1080,
	TREATMENTS_LEAST = 3,
	NAME_CHARACTERS = 40,
	TITLE_CHARACTERS = 200,
	DESCRIPTION_CHARACTERS = 1000,
};

#define NAMES_SHARE 0.24 /* of the width, kept free on the left for the names */

/* From the smallest to the largest number shown, in round steps. */
struct scale {
	double min, max, step;
};

static void widen(struct scale *scale, double value)
{
	if (!isfinite(value))
		return;
	scale->min = fmin(scale->min, value);
	scale->max = fmax(scale->max, value);
}

/* The smallest of 1, 2, 5 times a power of ten that is not below size. */
static double round_step(double size)
{
	double power = pow(10.0, floor(log10(size)));

	if (size <= power)
		return power;
	if (size <= 2 * power)
		return 2 * power;
	return size <= 5 * power ? 5 * power : 10 * power;
}

/* False where there is nothing to show. */
static bool find_scale(const struct analysis *analysis, struct scale *scale)
{
	const double steps = 8.0;
	double span;

	*scale = (struct scale){ .min = INFINITY, .max = -INFINITY };
	for (size_t t = 0; t < analysis->run->treatment_count; t++) {
		widen(scale, analysis->treatments[t].lower);
		widen(scale, analysis->treatments[t].upper);
		widen(scale, analysis->treatments[t].mean);
	}
	for (size_t b = 0; b < analysis->run->brew_count; b++)
		widen(scale, analysis->brews[b].response);
	if (!(scale->min <= scale->max))
		return false;
	/* a single value would ask for a scale without an end to its digits */
	span = fmax(scale->max - scale->min, 20 * pow(10, -analysis->comparison.response.decimals));
	scale->step = round_step(span / steps);
	scale->max = ceil(scale->max / scale->step + 0.1) * scale->step;
	scale->min = floor(scale->min / scale->step - 0.1) * scale->step;
	scale->min -= ceil((scale->max - scale->min) * NAMES_SHARE / (1 - NAMES_SHARE) / scale->step) * scale->step;
	return true;
}

/* -- series ------------------------------------------------------------------------------ */

/* Cells of a series, and the values that they have: NaN for a cell that is empty or says PEN_MISSING. */
struct dots {
	struct range_name x_cells, y_cells;
	const double *x, *y;
	size_t count;
};

/*
 * Keeps the values with the chart for programs that do not look into the cells. The library would do so by itself, but
 * takes every formula for 0.
 */
static void keep_values(struct pen *pen, lxw_series_range *range, const double *values, size_t count)
{
	range->ignore_cache = LXW_TRUE;
	for (size_t i = 0; i < count; i++) {
		lxw_series_data_point *point = calloc(1, sizeof(*point)); /* the chart's from here on */

		if (!point) {
			pen_note(pen, LXW_ERROR_MEMORY_MALLOC_FAILED);
			return;
		}
		point->no_data = (uint8_t)!isfinite(values[i]);
		point->number = isfinite(values[i]) ? values[i] : 0;
		STAILQ_INSERT_TAIL(range->data_cache, point, list_pointers);
		range->num_data_points++;
	}
}

static lxw_chart_series *add_dots(struct pen *pen, lxw_chart *chart, const char *name, const struct dots *dots)
{
	lxw_chart_line no_line = { .none = LXW_TRUE };
	lxw_chart_series *series;
	char of_x[sizeof(dots->x_cells.text) + 1], of_y[sizeof(dots->y_cells.text) + 1];

	snprintf(of_x, sizeof(of_x), "=%s", dots->x_cells.text);
	snprintf(of_y, sizeof(of_y), "=%s", dots->y_cells.text);
	series = chart_add_series(chart, of_x, of_y);
	if (!series) {
		pen_note(pen, LXW_ERROR_MEMORY_MALLOC_FAILED);
		return NULL;
	}
	chart_series_set_name(series, name);
	chart_series_set_line(series, &no_line);
	keep_values(pen, series->categories, dots->x, dots->count);
	keep_values(pen, series->values, dots->y, dots->count);
	return series;
}

static void add_brews(struct book *book, struct pen *pen, lxw_chart *chart)
{
	lxw_chart_fill fill = { .color = COLOUR_BREW };
	lxw_chart_line edge = { .color = COLOUR_BREW_EDGE, .width = 0.75F };
	size_t count = book->analysis->run->brew_count;
	double x[CHART_BREWS], y[CHART_BREWS];
	struct dots dots = {
		.x_cells = brews_range(&book->layout, layout_response(&book->layout, book->analysis)),
		.y_cells = brews_range(&book->layout, book->layout.chart_at),
		.x = x,
		.y = y,
		.count = count,
	};
	lxw_chart_series *series;

	if (count > CHART_BREWS)
		return;
	for (size_t row = 0; row < count; row++) {
		size_t b = book->layout.brew_order[row];

		x[row] = book->analysis->brews[b].response;
		y[row] = chart_height(book, book->analysis->run->brews[b].treatment) - CHART_BREW_DROP;
	}
	series = add_dots(pen, chart, "single brews", &dots);
	if (!series)
		return;
	chart_series_set_marker_type(series, LXW_CHART_MARKER_CIRCLE);
	chart_series_set_marker_size(series, 6);
	chart_series_set_marker_fill(series, &fill);
	chart_series_set_marker_line(series, &edge);
}

enum { CHART_ROWS_MOST = CHART_TREATMENTS * CHART_ROWS_EACH };

/* A column of the chart's numbers on Comparisons: those of each treatment's rows, NaN where a cell is empty. */
struct numbers {
	double row[CHART_ROWS_MOST];
};

static struct numbers no_numbers(void)
{
	struct numbers numbers;

	for (size_t i = 0; i < CHART_ROWS_MOST; i++)
		numbers.row[i] = NAN;
	return numbers;
}

static struct dots dots_of(const struct book *book, int column, const struct numbers *x, const struct numbers *y)
{
	lxw_row_t last = book->chart_row + book->chart_rows - 1;

	return (struct dots){
		.x_cells = range_name(book->layout.word[TAB_COMPARISONS], column, book->chart_row, last),
		.y_cells = range_name(book->layout.word[TAB_COMPARISONS], column + 1, book->chart_row, last),
		.x = x->row,
		.y = y->row,
		.count = book->chart_rows,
	};
}

static size_t treatment_at(const struct book *book, size_t row)
{
	return book->analysis->ranked[row / CHART_ROWS_EACH];
}

static void add_intervals(struct book *book, struct pen *pen, lxw_chart *chart)
{
	lxw_chart_line line = { .color = COLOUR_INTERVAL, .width = 2.5F };
	struct numbers x = no_numbers(), y = no_numbers();
	struct dots dots = dots_of(book, CHART_X_COLUMN, &x, &y);
	lxw_chart_series *series;

	for (size_t row = 0; row < book->chart_rows; row += CHART_ROWS_EACH) {
		const struct treatment_result *result = &book->analysis->treatments[treatment_at(book, row)];

		if (!isfinite(result->upper))
			continue;
		x.row[row] = result->lower;
		x.row[row + 1] = result->upper;
		y.row[row] = y.row[row + 1] = chart_height(book, treatment_at(book, row)) + CHART_INTERVAL_RISE;
	}
	series = add_dots(pen, chart, "interval", &dots);
	if (!series)
		return;
	chart_series_set_line(series, &line);
	chart_series_set_marker_type(series, LXW_CHART_MARKER_NONE);
}

static void add_means(struct book *book, struct pen *pen, lxw_chart *chart)
{
	lxw_chart_fill fill = { .color = COLOUR_INTERVAL };
	lxw_chart_line no_line = { .none = LXW_TRUE };
	struct numbers x = no_numbers(), y = no_numbers();
	struct dots dots = dots_of(book, CHART_MEAN_X_COLUMN, &x, &y);
	lxw_chart_series *series;

	for (size_t row = 0; row < book->chart_rows; row += CHART_ROWS_EACH) {
		x.row[row] = book->analysis->treatments[treatment_at(book, row)].mean;
		if (isfinite(x.row[row]))
			y.row[row] = chart_height(book, treatment_at(book, row)) + CHART_INTERVAL_RISE;
	}
	series = add_dots(pen, chart, "mean", &dots);
	if (!series)
		return;
	chart_series_set_marker_type(series, LXW_CHART_MARKER_DIAMOND);
	chart_series_set_marker_size(series, 9);
	chart_series_set_marker_fill(series, &fill);
	chart_series_set_marker_line(series, &no_line);
}

/* The name of a treatment as a label. One that begins with "=" would be taken for a formula. */
static char *name_label(struct book *book, size_t treatment)
{
	struct slice name = book->analysis->run->treatments[treatment].name;
	const char *clean;

	phrase_clear(&book->phrase);
	phrase_words(&book->phrase, name.len > 0 && name.text[0] == '=' ? " " : "");
	phrase_add(&book->phrase, name);
	clean = cell_text_line(&book->text, phrase_slice(&book->phrase), NAME_CHARACTERS);
	return clean ? strdup(clean) : NULL;
}

/* Labels for the points of the names' series: one in CHART_ROWS_EACH has a name, the others are no points. */
static void label_names(struct book *book, struct pen *pen, lxw_chart_series *series)
{
	lxw_chart_font font = { .size = 10, .color = COLOUR_INK };
	lxw_chart_data_label labels[CHART_ROWS_MOST] = { { .value = NULL } };
	lxw_chart_data_label *list[CHART_ROWS_MOST + 1] = { NULL };

	for (size_t i = 0; i < book->chart_rows; i++) {
		list[i] = &labels[i];
		if (i % CHART_ROWS_EACH == 0) {
			labels[i].value = name_label(book, treatment_at(book, i));
			labels[i].font = &font;
		} else {
			labels[i].hide = LXW_TRUE;
		}
	}
	pen_note(pen, chart_series_set_labels_custom(series, list));
	for (size_t i = 0; i < book->chart_rows; i++)
		free(labels[i].value);
}

/* A point without a mark at the left edge for each treatment, whose label is its name. */
static void add_names(struct book *book, struct pen *pen, lxw_chart *chart, const struct scale *scale)
{
	struct numbers x = no_numbers(), y = no_numbers();
	struct dots dots = dots_of(book, CHART_NAME_X_COLUMN, &x, &y);
	lxw_chart_series *series;

	for (size_t row = 0; row < book->chart_rows; row += CHART_ROWS_EACH) {
		x.row[row] = scale->min;
		y.row[row] = chart_height(book, treatment_at(book, row));
	}
	series = add_dots(pen, chart, "names", &dots);
	if (!series)
		return;
	chart_series_set_marker_type(series, LXW_CHART_MARKER_NONE);
	chart_series_set_labels(series);
	chart_series_set_labels_position(series, LXW_CHART_LABEL_POSITION_RIGHT);
	label_names(book, pen, series);
}

/* -- the chart ---------------------------------------------------------------------------- */

static size_t shown_treatments(const struct book *book)
{
	size_t count = book->analysis->run->treatment_count;

	return count < CHART_TREATMENTS ? count : CHART_TREATMENTS;
}

static void set_axes(struct book *book, lxw_chart *chart, const struct scale *scale)
{
	const struct response *response = &book->analysis->comparison.response;
	lxw_chart_line grid = { .color = COLOUR_GRID, .width = 0.75F };
	lxw_chart_line no_line = { .none = LXW_TRUE };
	lxw_chart_font plain = { .size = 10, .bold = LXW_EXPLICIT_FALSE };
	int decimals = scale->step >= 1 ? 0 : (int)ceil(-log10(scale->step) - 1e-9);
	char format[16] = "0";
	const char *name;

	if (decimals > 0)
		snprintf(format, sizeof(format), "0.%.*s", decimals < 9 ? decimals : 9, "000000000");
	chart_axis_set_min(chart->x_axis, scale->min);
	chart_axis_set_max(chart->x_axis, scale->max);
	chart_axis_set_major_unit(chart->x_axis, scale->step);
	chart_axis_set_num_format(chart->x_axis, format);
	chart_axis_major_gridlines_set_visible(chart->x_axis, LXW_TRUE);
	chart_axis_major_gridlines_set_line(chart->x_axis, &grid);
	phrase_clear(&book->phrase);
	say_response(&book->phrase, response);
	name = cell_text_line(&book->text, phrase_slice(&book->phrase), TITLE_CHARACTERS);
	if (name)
		chart_axis_set_name(chart->x_axis, name);
	chart_axis_set_name_font(chart->x_axis, &plain);
	chart_axis_set_min(chart->y_axis, 0.5);
	chart_axis_set_max(chart->y_axis, (double)shown_treatments(book) + 0.5);
	chart_axis_major_gridlines_set_visible(chart->y_axis, LXW_FALSE);
	chart_axis_set_label_position(chart->y_axis, LXW_CHART_AXIS_LABEL_POSITION_NONE);
	chart_axis_set_major_tick_mark(chart->y_axis, LXW_CHART_AXIS_TICK_MARK_NONE);
	chart_axis_set_line(chart->y_axis, &no_line);
}

static void set_title(struct book *book, lxw_chart *chart)
{
	lxw_chart_font font = { .size = 11, .bold = LXW_EXPLICIT_FALSE, .color = COLOUR_INK };
	const struct analysis *analysis = book->analysis;
	char confidence[32], shown[24], count[24];
	struct phrase_part parts[3];
	const char *title;

	snprintf(confidence, sizeof(confidence), "%.4g", 100 * analysis->settings->confidence);
	snprintf(shown, sizeof(shown), "%d", CHART_TREATMENTS);
	snprintf(count, sizeof(count), "%zu", analysis->run->treatment_count);
	parts[0] = (struct phrase_part){ "confidence", slice_from(confidence) };
	parts[1] = (struct phrase_part){ "shown", slice_from(shown) };
	parts[2] = (struct phrase_part){ "count", slice_from(count) };
	phrase_clear(&book->phrase);
	phrase_label(&book->phrase, "Mean of the brews (diamond)");
	if (analysis->comparison.source != SPREAD_NONE)
		phrase_fill(&book->phrase, ", its {confidence} % interval (line)", parts, 3);
	if (analysis->run->brew_count <= CHART_BREWS)
		phrase_label(&book->phrase, ", and each brew (dot)");
	if (shown_treatments(book) < analysis->run->treatment_count)
		phrase_fill(&book->phrase, "; the first {shown} of {count} treatments", parts, 3);
	title = cell_text_line(&book->text, phrase_slice(&book->phrase), TITLE_CHARACTERS);
	if (title)
		chart_title_set_name(chart, title);
	chart_title_set_name_font(chart, &font);
}

/* The chart in a sentence, for readers who do not see it. */
static const char *describe(struct book *book)
{
	const struct analysis *analysis = book->analysis;
	const struct run *run = analysis->run;
	int decimals = analysis->comparison.response.decimals;
	size_t first = analysis->ranked[0], last = first;
	struct phrase response = { .labels = book->request->labels };
	char count[24], highest[32], lowest[32];

	for (size_t i = 0; i < run->treatment_count; i++)
		if (isfinite(analysis->treatments[analysis->ranked[i]].mean))
			last = analysis->ranked[i];
	say_response(&response, &analysis->comparison.response);
	snprintf(count, sizeof(count), "%zu", run->treatment_count);
	snprintf(highest, sizeof(highest), "%.*f", decimals, analysis->treatments[first].mean);
	snprintf(lowest, sizeof(lowest), "%.*f", decimals, analysis->treatments[last].mean);
	phrase_clear(&book->phrase);
	phrase_fill(
		&book->phrase,
		"{response}: {count} treatments, largest mean at the top, from {first} ({highest}) down to {last} "
		"({lowest}), each with the interval of its mean and its single brews. The table above has the same numbers.",
		(struct phrase_part[]){
			{ "response", phrase_slice(&response) },
			{ "count", slice_from(count) },
			{ "first", run->treatments[first].name },
			{ "highest", slice_from(highest) },
			{ "last", run->treatments[last].name },
			{ "lowest", slice_from(lowest) },
		},
		6);
	book->phrase.failed = book->phrase.failed || response.failed;
	phrase_release(&response);
	return cell_text_line(&book->text, phrase_slice(&book->phrase), DESCRIPTION_CHARACTERS);
}

double chart_left_edge(const struct book *book)
{
	struct scale scale;

	return find_scale(book->analysis, &scale) ? scale.min : 0;
}

static lxw_chart *draw(struct book *book, struct pen *pen, const struct scale *scale)
{
	lxw_chart_line no_line = { .none = LXW_TRUE };
	lxw_chart *chart = workbook_add_chart(book->workbook, LXW_CHART_SCATTER);

	if (!chart) {
		pen_note(pen, LXW_ERROR_MEMORY_MALLOC_FAILED);
		return NULL;
	}
	add_intervals(book, pen, chart);
	add_brews(book, pen, chart);
	add_means(book, pen, chart);
	add_names(book, pen, chart, scale);
	set_axes(book, chart, scale);
	set_title(book, chart);
	chart_legend_set_position(chart, LXW_CHART_LEGEND_NONE);
	chart_show_blanks_as(chart, LXW_CHART_BLANKS_AS_GAP);
	chart_chartarea_set_line(chart, &no_line);
	return chart;
}

void chart_insert(struct book *book, struct pen *pen, double width)
{
	double high = FRAME_PIXELS + TREATMENT_PIXELS * fmax((double)shown_treatments(book), TREATMENTS_LEAST);
	double wide = fmin(width * CHARACTER_PIXELS, CHART_PIXELS_MOST);
	struct scale scale;
	lxw_chart_options options = {
		.x_scale = wide / CHART_PIXELS_WIDE,
		.y_scale = high / CHART_PIXELS_HIGH,
		.object_position = LXW_OBJECT_MOVE_DONT_SIZE,
	};
	lxw_chart *chart;

	if (!find_scale(book->analysis, &scale))
		return;
	chart = draw(book, pen, &scale);
	if (!chart)
		return;
	options.description = (char *)(uintptr_t)describe(book); /* copied there */
	pen_note(pen, worksheet_insert_chart_opt(pen->sheet, pen->row + 1, 0, chart, &options));
	pen_row(pen, pen->row + 1 + (lxw_row_t)ceil(high / ROW_PIXELS));
}
