/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * figure.h: one drawing, put out as SVG, PNG and PDF, on light and on dark ground.
 *
 * A drawing is a list of marks in units of FIGURE_WIDTH, about a pixel of a telephone's screen: text of 12 units is
 * legible there, and at 600 pixels it is as large as that of a page. The origin is at the top left. Colours are words
 * of palette.h, so that one list serves both grounds.
 *
 * Texts are laid out once, in the machine's sans serif, any script; an SVG has them as text, with the width that they
 * were given, so that another font can't make them overlap. Texts may hold any bytes. A figure without memory for
 * all of its marks says so when it is put out.
 */
#ifndef BREWSPREAD_FIGURE_H
#define BREWSPREAD_FIGURE_H

#include <stdint.h>

#include "palette.h"
#include "phrase.h"
#include "png_file.h"
#include "status.h"

enum { FIGURE_WIDTH = 432, FIGURE_MARGIN = 12, FIGURE_NAME = 40 };

/* Sizes of text. */
#define FIGURE_TITLE 16.0
#define FIGURE_LABEL 13.5
#define FIGURE_SMALL 12.0

/* What lies on what; within a layer later marks lie on earlier ones. */
enum figure_layer { LAYER_BAND, LAYER_GRID, LAYER_DATA, LAYER_TEXT, FIGURE_LAYERS };

enum figure_sign { SIGN_DISC, SIGN_SQUARE, SIGN_DIAMOND, SIGN_CROSS, SIGN_TICK };

enum figure_anchor { ANCHOR_START, ANCHOR_MIDDLE, ANCHOR_END };

/* How a text is set. Zero in a field: FIGURE_SMALL, TINT_INK, no limit, one line. */
struct figure_type {
	double size;
	bool bold;
	enum tint tint;
	enum figure_anchor anchor; /* which end of the lines is at x; of a text on its side: at y, from the bottom up */
	double width;              /* broken at it, else cut */
	int lines;                 /* at most; the last ends in "…" where words are missing */
	bool side;                 /* on its side, read from below */
};

struct figure_size {
	double width, height;
};

struct figure;

/*
 * An empty drawing. name: that of its file, without ending, of letters a-z, digits and "-"; cut to FIGURE_NAME.
 * NULL when there is no memory, or no drawing library: drawing.h. The caller's: figure_free(), which takes NULL.
 */
struct figure *figure_new(const char *name);
void figure_free(struct figure *figure);

/*
 * Can letters be drawn, thin and bold? Without a font that can be read, the library draws boxes or nothing, says so to nobody,
 * and takes minutes for it.
 */
bool figure_has_letters(struct figure *figure);

/* -- drawing ------------------------------------------------------------------------ */

/* The layer of the marks that follow; LAYER_DATA at first. */
void figure_layer(struct figure *figure, enum figure_layer layer);

void figure_line(struct figure *figure, double x1, double y1, double x2, double y2, double width, enum tint tint);
void figure_dashes(struct figure *figure, double x1, double y1, double x2, double y2, double width, enum tint tint);
void figure_bar(struct figure *figure, double x, double y, double width, double height, enum tint fill, enum tint edge);

/* A sign of that radius about x, y. A cross and an upright tick have no fill. */
void figure_mark(struct figure *figure, enum figure_sign sign, double x, double y, double radius, enum tint fill,
                 enum tint edge);

/* Sets text with its upper edge at y (on its side: its left edge at x); returns the size that it takes up. */
struct figure_size figure_text(struct figure *figure, double x, double y, struct slice text,
                               const struct figure_type *type);

/* The size that it would take up. */
struct figure_size figure_measure(struct figure *figure, struct slice text, const struct figure_type *type);

/* How far down the drawing reaches; the last call counts. */
void figure_height(struct figure *figure, double height);

/* -- what it says -------------------------------------------------------------------- */

/* Texts to be filled in by whoever draws; until the figure is freed. */
struct phrase *figure_title(struct figure *figure);   /* what it shows, a few words */
struct phrase *figure_alt(struct figure *figure);     /* what can be seen in it, as a sentence */
struct phrase *figure_caption(struct figure *figure); /* how to read it, and sources */
const char *figure_name(const struct figure *figure);

/* -- putting out ------------------------------------------------------------------------ */

/* The height in units. */
double figure_size_down(const struct figure *figure);

/* Adds a whole SVG document, well-formed XML. STATUS_MEMORY. */
enum status figure_svg(const struct figure *figure, enum scheme scheme, struct phrase *out,
                       struct error *error) MUST_USE;

/*
 * Adds an <svg> element for a page, whose style sheet says what the classes "f-WORD" (fills) and "e-WORD" (edges and
 * lines) are, WORD as in palette_word(). STATUS_MEMORY.
 */
enum status figure_svg_inline(const struct figure *figure, struct phrase *out, struct error *error) MUST_USE;

/*
 * Draws it as pixels, twice as large as the figure is at a width of 600, for png_image_file() to make a PNG file of.
 * STATUS_MEMORY. *out is the caller's: png_image_free().
 */
enum status figure_image(const struct figure *figure, enum scheme scheme, struct png_image **out,
                         struct error *error) MUST_USE;

/* Adds a PDF file of one page on light ground, fonts embedded, made at that moment by its own account. STATUS_MEMORY. */
enum status figure_pdf(struct figure *figure, int64_t made_us, struct phrase *out, struct error *error) MUST_USE;

#endif
