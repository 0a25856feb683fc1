/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * png_file.h: a drawing of few colours as a PNG file with a palette of at most 256, small and fast. The shades between colours,
 * at the edges of shapes, come in about sixteen steps.
 */
#ifndef BREWSPREAD_PNG_FILE_H
#define BREWSPREAD_PNG_FILE_H

#include <stdint.h>

#include "phrase.h"

/* A drawing, row by row from the top, as numbers of colours. */
struct png_image;

/*
 * One without rows. colours: count of them, at most 128, 0xRRGGBB, that are kept as they are; they differ in the upper half of
 * some channel. NULL without memory. The caller's: png_image_free(), which takes NULL.
 */
struct png_image *png_image_new(uint32_t width, uint32_t height, const uint32_t *colours, size_t count);
void png_image_free(struct png_image *image);

/*
 * Adds its next rows, each stride words behind the one before; 0xRRGGBB, the upper byte not looked at. Rows below its height
 * are left out.
 */
void png_image_add(struct png_image *image, const uint32_t *pixels, size_t stride, uint32_t rows);

/* Adds the PNG file of an image that has all its rows. The same image gives the same bytes. False when there is no memory. */
bool png_image_file(const struct png_image *image, struct phrase *out);

#endif
