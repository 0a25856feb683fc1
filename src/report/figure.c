/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "figure_marks.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "clean_text.h"

#define FAMILY     "Sans"

#define EDGE_WIDTH 1.2

struct figure *figure_new(const char *name)
{
	struct figure *figure = calloc(1, sizeof(*figure));
	cairo_font_options_t *options;

	if (!figure || !drawing_load(NULL)) {
		free(figure);
		return NULL;
	}
	memcpy(figure->name, name, strnlen(name, FIGURE_NAME - 1));
	figure->layer = LAYER_DATA;
	figure->context = drawing.pango_font_map_create_context(drawing.pango_cairo_font_map_get_default());
	options = drawing.cairo_font_options_create();
	/* the same shapes at the same places at every size: nothing is fitted to pixels */
	drawing.cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
	drawing.cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
	drawing.cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
	drawing.pango_cairo_context_set_font_options(figure->context, options);
	drawing.pango_context_set_round_glyph_positions(figure->context, FALSE);
	drawing.pango_context_set_language(figure->context, drawing.pango_language_from_string("en"));
	drawing.cairo_font_options_destroy(options);
	for (int bold = 0; bold < 2; bold++) {
		figure->fonts[bold] = drawing.pango_font_description_from_string(FAMILY);
		drawing.pango_font_description_set_weight(figure->fonts[bold],
		                                          bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
	}
	return figure;
}

void figure_free(struct figure *figure)
{
	if (!figure)
		return;
	for (size_t i = 0; i < figure->layout_count; i++)
		(drawing.g_object_unref)(figure->layouts[i]);
	free(figure->layouts);
	free(figure->marks);
	for (int bold = 0; bold < 2; bold++)
		drawing.pango_font_description_free(figure->fonts[bold]);
	(drawing.g_object_unref)(figure->context);
	phrase_release(&figure->title);
	phrase_release(&figure->alt);
	phrase_release(&figure->caption);
	phrase_release(&figure->scratch);
	free(figure);
}

/* -- marks ----------------------------------------------------------------------- */

static void add(struct figure *figure, const struct mark *mark)
{
	if (figure->count == figure->room) {
		size_t room = figure->room > 0 ? 2 * figure->room : 64;
		struct mark *more = realloc(figure->marks, room * sizeof(*more));

		if (!more) {
			figure->failed = true;
			return;
		}
		figure->marks = more;
		figure->room = room;
	}
	figure->marks[figure->count] = *mark;
	figure->marks[figure->count++].layer = figure->layer;
}

void figure_layer(struct figure *figure, enum figure_layer layer)
{
	figure->layer = layer;
}

static void add_line(struct figure *figure, double x1, double y1, double x2, double y2, double width, enum tint tint,
                     bool dashed)
{
	if (isfinite(x1 + y1 + x2 + y2))
		add(figure, &(struct mark){
				    .kind = MARK_LINE,
				    .edge = tint,
				    .x = x1,
				    .y = y1,
				    .width = x2 - x1,
				    .height = y2 - y1,
				    .stroke = width,
				    .dashed = dashed,
			    });
}

void figure_line(struct figure *figure, double x1, double y1, double x2, double y2, double width, enum tint tint)
{
	add_line(figure, x1, y1, x2, y2, width, tint, false);
}

void figure_dashes(struct figure *figure, double x1, double y1, double x2, double y2, double width, enum tint tint)
{
	add_line(figure, x1, y1, x2, y2, width, tint, true);
}

void figure_bar(struct figure *figure, double x, double y, double width, double height, enum tint fill, enum tint edge)
{
	if (isfinite(x + y + width + height))
		add(figure, &(struct mark){
				    .kind = MARK_BAR,
				    .fill = fill,
				    .edge = edge,
				    .x = x,
				    .y = y,
				    .width = width,
				    .height = height,
				    .stroke = EDGE_WIDTH,
			    });
}

void figure_mark(struct figure *figure, enum figure_sign sign, double x, double y, double radius, enum tint fill,
                 enum tint edge)
{
	if (isfinite(x + y))
		add(figure, &(struct mark){
				    .kind = MARK_SIGN,
				    .sign = sign,
				    .fill = fill,
				    .edge = edge,
				    .x = x,
				    .y = y,
				    .width = radius,
				    .stroke = sign == SIGN_TICK  ? 2.4 :
		                              sign == SIGN_CROSS ? 1.6 :
		                                                   EDGE_WIDTH,
			    });
}

/* -- text ---------------------------------------------------------------------------- */

static bool keep_layout(struct figure *figure, PangoLayout *layout)
{
	if (figure->layout_count == figure->layout_room) {
		size_t room = figure->layout_room > 0 ? 2 * figure->layout_room : 64;
		PangoLayout **more = realloc(figure->layouts, room * sizeof(PangoLayout *));

		if (!more) {
			figure->failed = true;
			(drawing.g_object_unref)(layout);
			return false;
		}
		figure->layouts = more;
		figure->layout_room = room;
	}
	figure->layouts[figure->layout_count++] = layout;
	return true;
}

static bool fits(PangoLayout *layout, const struct figure_type *type)
{
	int width;

	if (type->lines > 1)
		return drawing.pango_layout_get_line_count(layout) <= type->lines;
	drawing.pango_layout_get_size(layout, &width, NULL);
	return width <= (int)(type->width * PANGO_SCALE);
}

/* The longest beginning that fits with "…" behind it; cut between what a reader takes for characters. */
static void cut_to_fit(struct figure *figure, PangoLayout *layout, const struct figure_type *type)
{
	const PangoLogAttr *attributes;
	char *whole = strdup(drawing.pango_layout_get_text(layout));
	int count, low = 0, high;
	bool *stop;

	attributes = drawing.pango_layout_get_log_attrs_readonly(layout, &count);
	stop = calloc((size_t)count, sizeof(*stop));
	if (!whole || !stop) {
		figure->failed = true;
		free(whole);
		free(stop);
		return;
	}
	for (int i = 0; i < count; i++)
		stop[i] = attributes[i].is_cursor_position != 0;
	high = count - 1;
	while (low < high) {
		int middle = (low + high + 1) / 2, end = middle;

		while (end > 0 && !stop[end])
			end--;
		phrase_clear(&figure->scratch);
		phrase_add(&figure->scratch,
		           slice_trim((struct slice){
				   whole, (size_t)(drawing.g_utf8_offset_to_pointer(whole, end) - whole) }));
		phrase_words(&figure->scratch, "…");
		drawing.pango_layout_set_text(layout, figure->scratch.text, (int)figure->scratch.len);
		if (fits(layout, type))
			low = middle;
		else
			high = middle - 1;
	}
	while (low > 0 && !stop[low])
		low--;
	phrase_clear(&figure->scratch);
	phrase_add(&figure->scratch,
	           slice_trim((struct slice){ whole, (size_t)(drawing.g_utf8_offset_to_pointer(whole, low) - whole) }));
	phrase_words(&figure->scratch, "…");
	if (!figure->scratch.failed)
		drawing.pango_layout_set_text(layout, figure->scratch.text, (int)figure->scratch.len);
	free(stop);
	free(whole);
}

static PangoLayout *lay_out(struct figure *figure, struct slice text, const struct figure_type *type)
{
	PangoLayout *layout = drawing.pango_layout_new(figure->context);
	PangoFontDescription *font = figure->fonts[type->bold ? 1 : 0];

	drawing.pango_font_description_set_absolute_size(font,
	                                                 (type->size > 0 ? type->size : FIGURE_SMALL) * PANGO_SCALE);
	drawing.pango_layout_set_font_description(layout, font);
	phrase_clear(&figure->scratch);
	clean_text_add(&figure->scratch, text);
	if (figure->scratch.failed)
		figure->failed = true;
	else
		drawing.pango_layout_set_text(layout, figure->scratch.text ? figure->scratch.text : "",
		                              (int)figure->scratch.len);
	if (type->width > 0 && type->lines > 1) {
		drawing.pango_layout_set_width(layout, (int)(type->width * PANGO_SCALE));
		drawing.pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
	}
	if (type->width > 0 && !fits(layout, type))
		cut_to_fit(figure, layout, type);
	return layout;
}

static double units(int pango_units)
{
	return (double)pango_units / PANGO_SCALE;
}

bool figure_has_letters(struct figure *figure)
{
	bool has = true;

	for (int bold = 0; bold < 2; bold++) {
		struct figure_type type = { .bold = bold };
		PangoLayout *layout = lay_out(figure, SLICE_OF("A0"), &type);
		PangoRectangle ink, logical;

		drawing.pango_layout_line_get_extents(drawing.pango_layout_get_line_readonly(layout, 0), &ink,
		                                      &logical);
		has = has && drawing.pango_layout_get_unknown_glyphs_count(layout) == 0 && ink.width > 0 &&
		      units(logical.width) < 4 * FIGURE_SMALL;
		(drawing.g_object_unref)(layout);
	}
	return has;
}

static double line_width(PangoLayoutLine *line)
{
	PangoRectangle logical;

	drawing.pango_layout_line_get_extents(line, NULL, &logical);
	return units(logical.width);
}

static struct figure_size size_of(PangoLayout *layout)
{
	struct figure_size size = { 0, 0 };
	int height;

	drawing.pango_layout_get_size(layout, NULL, &height);
	size.height = units(height);
	for (int i = 0; i < drawing.pango_layout_get_line_count(layout); i++)
		size.width = fmax(size.width, line_width(drawing.pango_layout_get_line_readonly(layout, i)));
	return size;
}

/* One mark a line. Along is how far down from the upper edge of the text its base line is. */
static void add_text_line(struct figure *figure, double x, double y, double along, PangoLayoutLine *line,
                          const struct figure_type *type)
{
	PangoRectangle ink, logical;
	double width, back, base;

	drawing.pango_layout_line_get_extents(line, &ink, &logical);
	width = units(logical.width);
	back = type->anchor == ANCHOR_END ? width : type->anchor == ANCHOR_MIDDLE ? width / 2 : 0;
	base = type->side ? y + back : y + along;
	add(figure, &(struct mark){
			    .kind = MARK_TEXT,
			    .fill = type->tint == TINT_NONE ? TINT_INK : type->tint,
			    .x = type->side ? x + along : x - back,
			    .y = base,
			    .width = width,
			    .text.line = line,
			    .text.top = base + units(type->side ? -ink.x - ink.width : ink.y),
			    .text.bottom = base + units(type->side ? -ink.x : ink.y + ink.height),
			    .text.size = type->size > 0 ? type->size : FIGURE_SMALL,
			    .text.bold = type->bold,
			    .text.side = type->side,
			    .text.right_to_left = line->resolved_dir == PANGO_DIRECTION_RTL,
		    });
}

struct figure_size figure_text(struct figure *figure, double x, double y, struct slice text,
                               const struct figure_type *type)
{
	PangoLayout *layout = lay_out(figure, text, type);
	struct figure_size size = size_of(layout);
	PangoLayoutIter *iter;

	if (!keep_layout(figure, layout) || !isfinite(x + y))
		return (struct figure_size){ 0, 0 };
	iter = drawing.pango_layout_get_iter(layout);
	do {
		PangoLayoutLine *line = drawing.pango_layout_iter_get_line_readonly(iter);

		if (line->length > 0)
			add_text_line(figure, x, y, units(drawing.pango_layout_iter_get_baseline(iter)), line, type);
	} while (drawing.pango_layout_iter_next_line(iter));
	drawing.pango_layout_iter_free(iter);
	return type->side ? (struct figure_size){ size.height, size.width } : size;
}

struct figure_size figure_measure(struct figure *figure, struct slice text, const struct figure_type *type)
{
	PangoLayout *layout = lay_out(figure, text, type);
	struct figure_size size = size_of(layout);

	(drawing.g_object_unref)(layout);
	return type->side ? (struct figure_size){ size.height, size.width } : size;
}

/* -- the whole ----------------------------------------------------------------------- */

void figure_height(struct figure *figure, double height)
{
	figure->height = ceil(height);
}

double figure_size_down(const struct figure *figure)
{
	return figure->height;
}

struct phrase *figure_title(struct figure *figure)
{
	return &figure->title;
}

struct phrase *figure_alt(struct figure *figure)
{
	return &figure->alt;
}

struct phrase *figure_caption(struct figure *figure)
{
	return &figure->caption;
}

const char *figure_name(const struct figure *figure)
{
	return figure->name;
}
