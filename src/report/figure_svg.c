/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A figure as SVG: written here, since a drawing library would turn its words into outlines. */
#include "figure_marks.h"

#include <math.h>
#include <stdio.h>

#include "markup.h"

/* What the texts were measured in comes first; the next has the same widths. */
#define FAMILIES "DejaVu Sans, Verdana, sans-serif"

struct writer {
	const struct figure *figure;
	struct phrase *out;
	bool classes; /* else colours of scheme */
	enum scheme scheme;
};

/* At most two decimals, none of them a trailing zero. */
static void put_number(struct writer *writer, double value)
{
	long hundredths = lround(value * 100);
	long whole = labs(hundredths) / 100, rest = labs(hundredths) % 100;

	phrase_print(writer->out, "%s%ld", hundredths < 0 ? "-" : "", whole);
	if (rest > 0)
		phrase_print(writer->out, rest % 10 == 0 ? ".%ld" : ".%02ld", rest % 10 == 0 ? rest / 10 : rest);
}

static void put(struct writer *writer, const char *name, double value)
{
	phrase_print(writer->out, " %s=\"", name);
	put_number(writer, value);
	phrase_words(writer->out, "\"");
}

static void put_tints(struct writer *writer, enum tint fill, enum tint edge)
{
	if (writer->classes) {
		phrase_print(writer->out, " class=\"f-%s e-%s\"", palette_word(fill), palette_word(edge));
		return;
	}
	if (fill == TINT_NONE)
		phrase_words(writer->out, " fill=\"none\"");
	else
		phrase_print(writer->out, " fill=\"#%06X\"", (unsigned)palette_colour(fill, writer->scheme));
	if (edge != TINT_NONE)
		phrase_print(writer->out, " stroke=\"#%06X\"", (unsigned)palette_colour(edge, writer->scheme));
}

static void put_line(struct writer *writer, const struct mark *mark)
{
	phrase_words(writer->out, "<line");
	put(writer, "x1", mark->x);
	put(writer, "y1", mark->y);
	put(writer, "x2", mark->x + mark->width);
	put(writer, "y2", mark->y + mark->height);
	put_tints(writer, TINT_NONE, mark->edge);
	put(writer, "stroke-width", mark->stroke);
	if (mark->dashed)
		phrase_words(writer->out, " stroke-dasharray=\"4 3\"");
	phrase_words(writer->out, "/>\n");
}

static void put_bar(struct writer *writer, const struct mark *mark)
{
	phrase_words(writer->out, "<rect");
	put(writer, "x", mark->x);
	put(writer, "y", mark->y);
	put(writer, "width", mark->width);
	put(writer, "height", mark->height);
	put_tints(writer, mark->fill, mark->edge);
	phrase_words(writer->out, "/>\n");
}

static void put_path(struct writer *writer, const struct mark *mark, const double (*corners)[2], int count, bool closed)
{
	phrase_words(writer->out, "<path d=\"");
	for (int i = 0; i < count; i++) {
		phrase_words(writer->out, i == 0 || (!closed && i % 2 == 0) ? "M" : "L");
		put_number(writer, mark->x + corners[i][0] * mark->width);
		phrase_words(writer->out, " ");
		put_number(writer, mark->y + corners[i][1] * mark->width);
	}
	phrase_words(writer->out, closed ? "Z\"" : "\"");
	put_tints(writer, closed ? mark->fill : TINT_NONE, mark->edge);
	put(writer, "stroke-width", mark->stroke);
	phrase_words(writer->out, "/>\n");
}

static void put_sign(struct writer *writer, const struct mark *mark)
{
	static const double square[][2] = { { -0.9, -0.9 }, { 0.9, -0.9 }, { 0.9, 0.9 }, { -0.9, 0.9 } };
	static const double diamond[][2] = { { 0, -1.25 }, { 1.25, 0 }, { 0, 1.25 }, { -1.25, 0 } };
	static const double cross[][2] = { { -0.8, -0.8 }, { 0.8, 0.8 }, { -0.8, 0.8 }, { 0.8, -0.8 } };
	static const double tick[][2] = { { 0, -1 }, { 0, 1 } };

	switch (mark->sign) {
	case SIGN_DISC:
		phrase_words(writer->out, "<circle");
		put(writer, "cx", mark->x);
		put(writer, "cy", mark->y);
		put(writer, "r", mark->width);
		put_tints(writer, mark->fill, mark->edge);
		phrase_words(writer->out, "/>\n");
		break;
	case SIGN_SQUARE:
		put_path(writer, mark, square, 4, true);
		break;
	case SIGN_DIAMOND:
		put_path(writer, mark, diamond, 4, true);
		break;
	case SIGN_CROSS:
		put_path(writer, mark, cross, 4, false);
		break;
	case SIGN_TICK:
		put_path(writer, mark, tick, 2, false);
		break;
	}
}

static void put_text(struct writer *writer, const struct mark *mark)
{
	const PangoLayoutLine *line = mark->text.line;
	const char *text = drawing.pango_layout_get_text(line->layout) + line->start_index;
	bool end = mark->text.right_to_left; /* its beginning is on the right */

	phrase_words(writer->out, "<text");
	if (mark->text.side) {
		phrase_words(writer->out, " transform=\"translate(");
		put_number(writer, mark->x);
		phrase_words(writer->out, " ");
		put_number(writer, mark->y - (end ? mark->width : 0));
		phrase_words(writer->out, ") rotate(-90)\"");
	} else {
		put(writer, "x", mark->x + (end ? mark->width : 0));
		put(writer, "y", mark->y);
	}
	put(writer, "font-size", mark->text.size);
	if (mark->text.bold)
		phrase_words(writer->out, " font-weight=\"bold\"");
	if (end)
		phrase_words(writer->out, " direction=\"rtl\"");
	put(writer, "textLength", mark->width);
	phrase_words(writer->out, " lengthAdjust=\"spacingAndGlyphs\"");
	put_tints(writer, mark->fill, TINT_NONE);
	phrase_words(writer->out, ">");
	markup_add(writer->out, MARKUP_HTML, slice_trim((struct slice){ text, (size_t)line->length }));
	phrase_words(writer->out, "</text>\n");
}

static void put_marks(struct writer *writer)
{
	const struct figure *figure = writer->figure;

	for (int layer = 0; layer < FIGURE_LAYERS; layer++)
		for (size_t i = 0; i < figure->count; i++) {
			const struct mark *mark = &figure->marks[i];

			if (mark->layer != (enum figure_layer)layer)
				continue;
			if (mark->kind == MARK_LINE)
				put_line(writer, mark);
			else if (mark->kind == MARK_BAR)
				put_bar(writer, mark);
			else if (mark->kind == MARK_SIGN)
				put_sign(writer, mark);
			else
				put_text(writer, mark);
		}
}

/* Title and, as what can't be seen otherwise, the alt text and how to read the figure. */
static void put_says(struct writer *writer)
{
	const struct figure *figure = writer->figure;

	phrase_print(writer->out, "<title id=\"%s-title\">", figure->name);
	markup_add(writer->out, MARKUP_HTML, phrase_slice(&figure->title));
	phrase_print(writer->out, "</title>\n<desc id=\"%s-desc\">", figure->name);
	markup_add(writer->out, MARKUP_HTML, phrase_slice(&figure->alt));
	phrase_words(writer->out, " ");
	markup_add(writer->out, MARKUP_HTML, phrase_slice(&figure->caption));
	phrase_words(writer->out, "</desc>\n");
}

static enum status put_all(struct writer *writer, struct error *error)
{
	const struct figure *figure = writer->figure;

	phrase_words(writer->out, "<svg xmlns=\"http://www.w3.org/2000/svg\"");
	if (!writer->classes)
		phrase_print(writer->out, " width=\"%d\" height=\"%.0f\"", 600,
		             ceil(figure->height * 600 / FIGURE_WIDTH));
	phrase_print(writer->out, " viewBox=\"0 0 %d %.0f\"", FIGURE_WIDTH, figure->height);
	phrase_print(writer->out, " role=\"img\" aria-labelledby=\"%s-title\" aria-describedby=\"%s-desc\"",
	             figure->name, figure->name);
	phrase_words(writer->out, " font-family=\"" FAMILIES "\">\n");
	put_says(writer);
	if (!writer->classes)
		put_bar(writer, &(struct mark){ .fill = TINT_PAPER, .width = FIGURE_WIDTH, .height = figure->height });
	put_marks(writer);
	phrase_words(writer->out, "</svg>\n");
	if (figure->failed || writer->out->failed || figure->title.failed || figure->alt.failed ||
	    figure->caption.failed)
		return error_set(error, STATUS_MEMORY, "no memory for the figure \"%s\"", figure->name);
	return STATUS_OK;
}

enum status figure_svg(const struct figure *figure, enum scheme scheme, struct phrase *out, struct error *error)
{
	struct writer writer = { .figure = figure, .out = out, .scheme = scheme };

	phrase_words(out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
	return put_all(&writer, error);
}

enum status figure_svg_inline(const struct figure *figure, struct phrase *out, struct error *error)
{
	struct writer writer = { .figure = figure, .out = out, .classes = true };

	return put_all(&writer, error);
}
