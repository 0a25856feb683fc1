/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A figure as PNG and PDF. */
#include "figure_marks.h"

#include <math.h>
#include <stdio.h>

#include "png_file.h"
#include "timestamp.h"

/* Pixels of a PNG a unit, and points of a PDF: at a width of 600, and the PNG twice that. */
#define PNG_SCALE (2.0 * 600 / FIGURE_WIDTH)
#define PDF_SCALE (0.75 * 600 / FIGURE_WIDTH)

#define FULL_TURN (2 * 3.14159265358979323846)

static void set_tint(cairo_t *cairo, enum tint tint, enum scheme scheme)
{
	uint32_t colour = palette_colour(tint, scheme);

	drawing.cairo_set_source_rgb(cairo, (colour >> 16) / 255.0, ((colour >> 8) & 0xFF) / 255.0,
	                             (colour & 0xFF) / 255.0);
}

static void paint(cairo_t *cairo, const struct mark *mark, enum scheme scheme)
{
	if (mark->fill != TINT_NONE) {
		set_tint(cairo, mark->fill, scheme);
		drawing.cairo_fill_preserve(cairo);
	}
	if (mark->edge != TINT_NONE) {
		set_tint(cairo, mark->edge, scheme);
		drawing.cairo_set_line_width(cairo, mark->stroke);
		drawing.cairo_stroke_preserve(cairo);
	}
	drawing.cairo_new_path(cairo);
}

static void draw_line(cairo_t *cairo, const struct mark *mark, enum scheme scheme)
{
	static const double dashes[] = { 4, 3 };

	drawing.cairo_set_dash(cairo, dashes, mark->dashed ? 2 : 0, 0);
	drawing.cairo_move_to(cairo, mark->x, mark->y);
	drawing.cairo_rel_line_to(cairo, mark->width, mark->height);
	paint(cairo, mark, scheme);
	drawing.cairo_set_dash(cairo, dashes, 0, 0);
}

static void path_sign(cairo_t *cairo, const struct mark *mark)
{
	double x = mark->x, y = mark->y, r = mark->width;

	switch (mark->sign) {
	case SIGN_DISC:
		drawing.cairo_arc(cairo, x, y, r, 0, FULL_TURN);
		break;
	case SIGN_SQUARE:
		drawing.cairo_rectangle(cairo, x - 0.9 * r, y - 0.9 * r, 1.8 * r, 1.8 * r);
		break;
	case SIGN_DIAMOND:
		drawing.cairo_move_to(cairo, x, y - 1.25 * r);
		drawing.cairo_line_to(cairo, x + 1.25 * r, y);
		drawing.cairo_line_to(cairo, x, y + 1.25 * r);
		drawing.cairo_line_to(cairo, x - 1.25 * r, y);
		drawing.cairo_close_path(cairo);
		break;
	case SIGN_CROSS:
		drawing.cairo_move_to(cairo, x - 0.8 * r, y - 0.8 * r);
		drawing.cairo_line_to(cairo, x + 0.8 * r, y + 0.8 * r);
		drawing.cairo_move_to(cairo, x - 0.8 * r, y + 0.8 * r);
		drawing.cairo_line_to(cairo, x + 0.8 * r, y - 0.8 * r);
		break;
	case SIGN_TICK:
		drawing.cairo_move_to(cairo, x, y - r);
		drawing.cairo_line_to(cairo, x, y + r);
		break;
	}
}

static void draw_sign(cairo_t *cairo, const struct mark *mark, enum scheme scheme)
{
	struct mark open = *mark;

	drawing.cairo_new_path(cairo);
	path_sign(cairo, mark);
	if (mark->sign == SIGN_CROSS || mark->sign == SIGN_TICK)
		open.fill = TINT_NONE;
	paint(cairo, &open, scheme);
}

static void draw_text(cairo_t *cairo, const struct mark *mark, enum scheme scheme)
{
	drawing.cairo_save(cairo);
	set_tint(cairo, mark->fill, scheme);
	drawing.cairo_translate(cairo, mark->x, mark->y);
	if (mark->text.side)
		drawing.cairo_rotate(cairo, -FULL_TURN / 4);
	drawing.cairo_move_to(cairo, 0, 0);
	drawing.pango_cairo_show_layout_line(cairo, mark->text.line);
	drawing.cairo_restore(cairo);
	drawing.cairo_new_path(cairo);
}

static void draw(cairo_t *cairo, const struct mark *mark, enum scheme scheme)
{
	switch (mark->kind) {
	case MARK_LINE:
		draw_line(cairo, mark, scheme);
		break;
	case MARK_BAR:
		drawing.cairo_rectangle(cairo, mark->x, mark->y, mark->width, mark->height);
		paint(cairo, mark, scheme);
		break;
	case MARK_SIGN:
		draw_sign(cairo, mark, scheme);
		break;
	case MARK_TEXT:
		draw_text(cairo, mark, scheme);
		break;
	}
}

static void draw_all(const struct figure *figure, cairo_surface_t *surface, double scale, enum scheme scheme)
{
	cairo_t *cairo = drawing.cairo_create(surface);

	drawing.cairo_scale(cairo, scale, scale);
	set_tint(cairo, TINT_PAPER, scheme);
	drawing.cairo_paint(cairo);
	for (int layer = 0; layer < FIGURE_LAYERS; layer++)
		for (size_t i = 0; i < figure->count; i++)
			if (figure->marks[i].layer == (enum figure_layer)layer)
				draw(cairo, &figure->marks[i], scheme);
	drawing.cairo_destroy(cairo);
	drawing.cairo_surface_flush(surface);
}

static enum status no_memory(const struct figure *figure, struct error *error)
{
	return error_set(error, STATUS_MEMORY, "no memory for the figure \"%s\"", figure->name);
}

/* The drawn surface, whose pixels are cairo's own words of 0xRRGGBB. */
static bool press(const struct figure *figure, cairo_surface_t *surface, enum scheme scheme, struct phrase *out)
{
	uint32_t colours[TINTS];
	struct png_image image = {
		.pixels = (const uint32_t *)(const void *)drawing.cairo_image_surface_get_data(surface),
		.width = (uint32_t)drawing.cairo_image_surface_get_width(surface),
		.height = (uint32_t)drawing.cairo_image_surface_get_height(surface),
		.stride = (size_t)drawing.cairo_image_surface_get_stride(surface) / sizeof(uint32_t),
		.colours = colours,
		.colour_count = TINTS - TINT_PAPER,
	};

	for (int tint = TINT_PAPER; tint < TINTS; tint++)
		colours[tint - TINT_PAPER] = palette_colour((enum tint)tint, scheme);
	return !figure->failed && drawing.cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS &&
	       png_file_add(out, &image);
}

enum status figure_png(const struct figure *figure, enum scheme scheme, struct phrase *out, struct error *error)
{
	cairo_surface_t *surface = drawing.cairo_image_surface_create(CAIRO_FORMAT_RGB24,
	                                                              (int)(FIGURE_WIDTH * PNG_SCALE),
	                                                              (int)ceil(figure->height * PNG_SCALE));
	bool good;

	draw_all(figure, surface, PNG_SCALE, scheme);
	good = press(figure, surface, scheme, out);
	drawing.cairo_surface_destroy(surface);
	return good ? STATUS_OK : no_memory(figure, error);
}

static cairo_status_t add_bytes(void *closure, const unsigned char *bytes, unsigned int len)
{
	struct phrase *out = closure;

	phrase_add(out, (struct slice){ (const char *)bytes, len });
	return out->failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static void say_about(cairo_surface_t *surface, struct figure *figure, int64_t made_us)
{
	char made[TIMESTAMP_TEXT];

	timestamp_print(made, sizeof(made), made_us, 0);
	drawing.cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, made);
	drawing.cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_MOD_DATE, made);
	drawing.cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "brewspread");
	phrase_clear(&figure->scratch);
	phrase_add(&figure->scratch, phrase_slice(&figure->title));
	phrase_add(&figure->scratch, (struct slice){ "", 1 });
	if (!figure->scratch.failed)
		drawing.cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, figure->scratch.text);
	phrase_clear(&figure->scratch);
	phrase_add(&figure->scratch, phrase_slice(&figure->alt));
	phrase_add(&figure->scratch, (struct slice){ "", 1 });
	if (!figure->scratch.failed)
		drawing.cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_SUBJECT, figure->scratch.text);
}

enum status figure_pdf(struct figure *figure, int64_t made_us, struct phrase *out, struct error *error)
{
	cairo_surface_t *surface = drawing.cairo_pdf_surface_create_for_stream(add_bytes, out, FIGURE_WIDTH * PDF_SCALE,
	                                                                       figure->height * PDF_SCALE);
	cairo_status_t ended;

	say_about(surface, figure, made_us);
	draw_all(figure, surface, PDF_SCALE, SCHEME_LIGHT);
	drawing.cairo_surface_finish(surface);
	ended = drawing.cairo_surface_status(surface);
	drawing.cairo_surface_destroy(surface);
	return ended == CAIRO_STATUS_SUCCESS && !figure->failed && !figure->scratch.failed ? STATUS_OK :
	                                                                                     no_memory(figure, error);
}
