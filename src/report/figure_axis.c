/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "figure_axis.h"

#include <math.h>

#include "digits.h"

#define GRID_WIDTH  1.0
#define MARK_GAP    4.0
#define ROOM_BEYOND 0.04 /* of the span, at both ends */

static const struct figure_type number_type = { .tint = TINT_SOFT, .anchor = ANCHOR_MIDDLE };

void span_take(struct span *span, double value)
{
	if (!isfinite(value))
		return;
	span->low = fmin(span->low, value);
	span->high = fmax(span->high, value);
}

static double round_step(double size)
{
	double power = pow(10.0, floor(log10(size)));

	if (size <= power * 1.0001)
		return power;
	if (size <= 2.0001 * power)
		return 2 * power;
	return size <= 5.0001 * power ? 5 * power : 10 * power;
}

struct axis axis_over(struct span span, double least, double at_from, double at_to, int marks)
{
	struct axis axis = { .at_from = at_from, .at_to = at_to };
	double width;

	if (!(span.low <= span.high))
		span = (struct span){ 0, 1 };
	if (!(least > 0))
		least = fmax(fabs(span.high) * 1e-6, 1e-9);
	if (span.high - span.low < 2 * least) {
		double middle = span.low / 2 + span.high / 2;

		span = (struct span){ middle - least, middle + least };
	}
	width = span.high - span.low;
	axis.from = span.low - ROOM_BEYOND * width;
	axis.to = span.high + ROOM_BEYOND * width;
	axis.step = round_step((axis.to - axis.from) / marks);
	axis.decimals = axis.step < 1 ? (int)ceil(-log10(axis.step) - 1e-9) : 0;
	return axis;
}

double axis_at(const struct axis *axis, double value)
{
	return axis->at_from + (value - axis->from) / (axis->to - axis->from) * (axis->at_to - axis->at_from);
}

/* The i-th marked value; false beyond the end. */
static bool mark_at(const struct axis *axis, int i, double *value, struct words *words)
{
	*value = (ceil(axis->from / axis->step - 1e-9) + i) * axis->step;
	*words = digits_typeset(words_number(*value, axis->decimals));
	return *value <= axis->to + 1e-9 * axis->step;
}

static struct figure_size draw_number(struct figure *figure, const struct axis *axis, double value, double y,
                                      const struct words *words)
{
	struct figure_size size = figure_measure(figure, slice_from(words->text), &number_type);
	double x = fmin(fmax(axis_at(axis, value), size.width / 2 + 1), FIGURE_WIDTH - size.width / 2 - 1);

	return figure_text(figure, x, y, slice_from(words->text), &number_type);
}

void axis_draw_lines(struct figure *figure, const struct axis *axis, double top, double bottom)
{
	double value;
	struct words number;

	figure_layer(figure, LAYER_GRID);
	for (int i = 0; mark_at(axis, i, &value, &number); i++)
		figure_line(figure, axis_at(axis, value), top, axis_at(axis, value), bottom, GRID_WIDTH, TINT_GRID);
}

double axis_draw_below(struct figure *figure, const struct axis *axis, double bottom, struct slice words)
{
	double value, end = bottom + MARK_GAP, middle = (axis->at_from + axis->at_to) / 2;
	struct words number;

	for (int i = 0; mark_at(axis, i, &value, &number); i++) {
		figure_layer(figure, LAYER_GRID);
		figure_line(figure, axis_at(axis, value), bottom, axis_at(axis, value), bottom + MARK_GAP, GRID_WIDTH,
		            TINT_GRID);
		figure_layer(figure, LAYER_TEXT);
		end = fmax(end,
		           bottom + MARK_GAP + draw_number(figure, axis, value, bottom + MARK_GAP, &number).height);
	}
	if (words.len > 0)
		end += figure_text(figure, middle, end, words,
		                   &(struct figure_type){ .anchor = ANCHOR_MIDDLE,
		                                          .width = 2 * fmin(middle, FIGURE_WIDTH - middle) -
		                                                   2 * FIGURE_MARGIN,
		                                          .lines = 2 })
		               .height;
	return end;
}

void axis_draw_above(struct figure *figure, const struct axis *axis, double top)
{
	double value;
	struct words number;

	figure_layer(figure, LAYER_TEXT);
	for (int i = 0; mark_at(axis, i, &value, &number); i++)
		draw_number(figure, axis, value, top, &number);
}

double axis_numbers_width(struct figure *figure, const struct axis *axis)
{
	double value, width = 0;
	struct words number;

	for (int i = 0; mark_at(axis, i, &value, &number); i++)
		width = fmax(width, figure_measure(figure, slice_from(number.text), &number_type).width);
	return width;
}

void axis_draw_left(struct figure *figure, const struct axis *axis, double left, double right, struct slice words)
{
	static const struct figure_type type = { .tint = TINT_SOFT, .anchor = ANCHOR_END };
	double value;
	struct words number;

	for (int i = 0; mark_at(axis, i, &value, &number); i++) {
		double y = axis_at(axis, value);
		struct figure_size size = figure_measure(figure, slice_from(number.text), &type);

		figure_layer(figure, LAYER_GRID);
		figure_line(figure, left, y, right, y, GRID_WIDTH, TINT_GRID);
		figure_layer(figure, LAYER_TEXT);
		figure_text(figure, left - MARK_GAP, y - size.height / 2, slice_from(number.text), &type);
	}
	if (words.len > 0) {
		static const struct figure_type above = { .width = FIGURE_WIDTH - 2 * FIGURE_MARGIN };
		struct figure_size size = figure_measure(figure, words, &above);

		figure_layer(figure, LAYER_TEXT);
		figure_text(figure, FIGURE_MARGIN, fmin(axis->at_from, axis->at_to) - size.height - 7, words, &above);
	}
}
