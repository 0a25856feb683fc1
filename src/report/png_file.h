/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * png_file.h: a drawing of few colours as a PNG file with a palette of at most 256, small and fast. The shades between colours,
 * at the edges of shapes, come in about sixteen steps.
 */
#ifndef BREWSPREAD_PNG_FILE_H
#define BREWSPREAD_PNG_FILE_H

#include <stdint.h>

#include "phrase.h"

struct png_image {
	const uint32_t
		*pixels; /* height rows of stride, of which width count; 0xRRGGBB each, the upper byte not looked at */
	uint32_t width, height;
	size_t stride;
	const uint32_t *colours; /* that are kept as they are; they differ in the upper half of some channel */
	size_t colour_count;     /* at most 128 */
};

/* Adds a PNG file. The same image gives the same bytes. False when there is no memory. */
bool png_file_add(struct phrase *out, const struct png_image *image);

#endif
