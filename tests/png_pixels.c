/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "png_pixels.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { SIGNATURE = 8, FRAME = 12, HEADER = 13 };

static uint32_t word_at(const unsigned char *bytes)
{
	return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

/* The data of the chunk of that type. */
static const unsigned char *chunk(struct slice file, const char *type, uLong *len)
{
	const unsigned char *bytes = (const unsigned char *)file.text;

	for (size_t at = SIGNATURE; at + FRAME <= file.len; at += FRAME + *len) {
		*len = word_at(bytes + at);
		if (*len > file.len - at - FRAME)
			return NULL;
		if (memcmp(bytes + at + 4, type, 4) == 0)
			return crc32(0, bytes + at + 4, (uInt)*len + 4) == word_at(bytes + at + 8 + *len) ?
			               bytes + at + 8 :
			               NULL;
	}
	return NULL;
}

static unsigned char *rows_unpack(struct slice file, uLong len)
{
	uLong packed_len = 0, got = len;
	const unsigned char *packed = chunk(file, "IDAT", &packed_len);
	unsigned char *rows = packed ? malloc(len) : NULL;

	if (rows && uncompress(rows, &got, packed, packed_len) == Z_OK && got == len)
		return rows;
	free(rows);
	return NULL;
}

static int row_colour(uint32_t *out, const unsigned char *row, uint32_t width, const unsigned char *colours,
                      uLong count)
{
	if (row[0] != 0)
		return -1;
	for (uint32_t x = 0; x < width; x++) {
		const unsigned char *colour = colours + 3 * (size_t)row[1 + x];

		if (row[1 + x] >= count)
			return -1;
		out[x] = (uint32_t)colour[0] << 16 | (uint32_t)colour[1] << 8 | colour[2];
	}
	return 0;
}

uint32_t *png_pixels(struct slice file, uint32_t *width, uint32_t *height)
{
	uLong header_len = 0, colours_len = 0;
	const unsigned char *header = chunk(file, "IHDR", &header_len);
	const unsigned char *colours = chunk(file, "PLTE", &colours_len);
	unsigned char *rows = NULL;
	uint32_t *pixels = NULL;
	int wrong = 1;

	if (header && header_len == HEADER && colours) {
		*width = word_at(header);
		*height = word_at(header + 4);
		rows = rows_unpack(file, (1 + (uLong)*width) * *height);
		pixels = malloc(sizeof(*pixels) * *width * *height);
		wrong = !rows || !pixels;
	}
	for (uint32_t y = 0; !wrong && y < *height; y++)
		wrong = row_colour(pixels + (size_t)y * *width, rows + (1 + (size_t)*width) * y, *width, colours,
		                   colours_len / 3);
	free(rows);
	if (!wrong)
		return pixels;
	free(pixels);
	return NULL;
}
