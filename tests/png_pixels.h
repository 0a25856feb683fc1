/* SPDX-License-Identifier: GPL-3.0-or-later */
/* png_pixels.h: reads a PNG file of 8 bits a pixel with a palette and without filters, as png_file.h makes them. */
#ifndef PNG_PIXELS_H
#define PNG_PIXELS_H

#include <stdint.h>

#include "slice.h"

/*
 * Its pixels, row by row, as 0xRRGGBB. NULL: it is no such file, not whole, or one of its checksums is wrong. The caller's:
 * free().
 */
uint32_t *png_pixels(struct slice file, uint32_t *width, uint32_t *height);

#endif
