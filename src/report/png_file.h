/* SPDX-License-Identifier: GPL-3.0-or-later */
/* png_file.h: an image of few colours as a PNG file, fast: such images press well, so that it is quick pays off. */
#ifndef BREWSPREAD_PNG_FILE_H
#define BREWSPREAD_PNG_FILE_H

#include <stdint.h>

#include "phrase.h"

/*
 * Adds a PNG file of 8 bits a channel. pixels: height rows of stride, of which width count, 0xRRGGBB each, its upper byte not
 * looked at. The same pixels give the same bytes. False when there is no memory.
 */
bool png_file_add(struct phrase *out, const uint32_t *pixels, uint32_t width, uint32_t height, size_t stride);

#endif
