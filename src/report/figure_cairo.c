/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A figure as PNG and PDF. */
#include "figure_marks.h"

#include <math.h>
#include <stdio.h>

#include "timestamp.h"

/* Pixels of a PNG a unit, and points of a PDF: at a width of 600, and the PNG twice that. */
#define PNG_SCALE (2.0 * 600 / FIGURE_WIDTH)
#define PDF_SCALE (0.75 * 600 / FIGURE_WIDTH)

/* So many are drawn at once: what is small stays in the processor's cache, and asks for no memory anew. */
enum { BAND_ROWS = 64 };

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

/* Places down the figure. */
struct stretch {
	double top, bottom;
};

/* Where mark leaves traces, rather too much than too little. */
static struct stretch stretch_of(const struct mark *mark)
{
	double slack = 1 + 2 * mark->stroke;

	switch (mark->kind) {
	case MARK_TEXT:
		return (struct stretch){ mark->text.top - slack, mark->text.bottom + slack };
	case MARK_SIGN:
		return (struct stretch){ mark->y - 2 * mark->width - slack, mark->y + 2 * mark->width + slack };
	case MARK_LINE:
	case MARK_BAR:
		break;
	}
	return (struct stretch){ mark->y + fmin(mark->height, 0) - slack, mark->y + fmax(mark->height, 0) + slack };
}

static void draw_stretch(const struct figure *figure, cairo_t *cairo, struct stretch seen, enum scheme scheme)
{
	set_tint(cairo, TINT_PAPER, scheme);
	drawing.cairo_paint(cairo);
	for (int layer = 0; layer < FIGURE_LAYERS; layer++)
		for (size_t i = 0; i < figure->count; i++) {
			const struct mark *mark = &figure->marks[i];
			struct stretch at = stretch_of(mark);

			if (mark->layer == (enum figure_layer)layer && at.top < seen.bottom && at.bottom > seen.top)
				draw(cairo, mark, scheme);
		}
}

static enum status no_memory(const struct figure *figure, struct error *error)
{
	return error_set(error, STATUS_MEMORY, "no memory for the figure \"%s\"", figure->name);
}

static struct png_image *image_new(const struct figure *figure, enum scheme scheme)
{
	uint32_t colours[TINTS];

	for (int tint = TINT_PAPER; tint < TINTS; tint++)
		colours[tint - TINT_PAPER] = palette_colour((enum tint)tint, scheme);
	return png_image_new((uint32_t)(FIGURE_WIDTH * PNG_SCALE), (uint32_t)ceil(figure->height * PNG_SCALE), colours,
	                     TINTS - TINT_PAPER);
}

/* The rows of the figure from top on, on a surface of BAND_ROWS, whose pixels are cairo's own words of 0xRRGGBB. */
static bool add_band(struct png_image *image, const struct figure *figure, cairo_surface_t *surface, uint32_t top,
                     enum scheme scheme)
{
	cairo_t *cairo = drawing.cairo_create(surface);

	drawing.cairo_translate(cairo, 0, -(double)top);
	drawing.cairo_scale(cairo, PNG_SCALE, PNG_SCALE);
	draw_stretch(figure, cairo, (struct stretch){ top / PNG_SCALE, (top + BAND_ROWS) / PNG_SCALE }, scheme);
	drawing.cairo_destroy(cairo);
	drawing.cairo_surface_flush(surface);
	if (drawing.cairo_surface_status(surface) != CAIRO_STATUS_SUCCESS)
		return false;
	png_image_add(image, (const uint32_t *)(const void *)drawing.cairo_image_surface_get_data(surface),
	              (size_t)drawing.cairo_image_surface_get_stride(surface) / sizeof(uint32_t), BAND_ROWS);
	return true;
}

enum status figure_image(const struct figure *figure, enum scheme scheme, struct png_image **out, struct error *error)
{
	cairo_surface_t *surface = drawing.cairo_image_surface_create(CAIRO_FORMAT_RGB24,
	                                                              (int)(FIGURE_WIDTH * PNG_SCALE), BAND_ROWS);
	struct png_image *image = image_new(figure, scheme);
	double rows = ceil(figure->height * PNG_SCALE);
	bool good = image && !figure->failed;

	for (uint32_t top = 0; good && top < rows; top += BAND_ROWS)
		good = add_band(image, figure, surface, top, scheme);
	drawing.cairo_surface_destroy(surface);
	if (!good) {
		png_image_free(image);
		return no_memory(figure, error);
	}
	*out = image;
	return STATUS_OK;
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

static void draw_page(const struct figure *figure, cairo_surface_t *surface)
{
	cairo_t *cairo = drawing.cairo_create(surface);

	drawing.cairo_scale(cairo, PDF_SCALE, PDF_SCALE);
	draw_stretch(figure, cairo, (struct stretch){ -INFINITY, INFINITY }, SCHEME_LIGHT);
	drawing.cairo_destroy(cairo);
}

enum status figure_pdf(struct figure *figure, int64_t made_us, struct phrase *out, struct error *error)
{
	cairo_surface_t *surface = drawing.cairo_pdf_surface_create_for_stream(add_bytes, out, FIGURE_WIDTH * PDF_SCALE,
	                                                                       figure->height * PDF_SCALE);
	cairo_status_t ended;

	say_about(surface, figure, made_us);
	draw_page(figure, surface);
	drawing.cairo_surface_finish(surface);
	ended = drawing.cairo_surface_status(surface);
	drawing.cairo_surface_destroy(surface);
	return ended == CAIRO_STATUS_SUCCESS && !figure->failed && !figure->scratch.failed ? STATUS_OK :
	                                                                                     no_memory(figure, error);
}
