/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PNG: W3C Recommendation, Portable Network Graphics, second edition (ISO/IEC 15948:2003). */
#include "png_file.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum {
	CHANNELS = 3,
	FILTER_NONE = 0,
	FILTER_UP = 2,
	PRESSING = 1, /* zlib's fastest: a higher level saves a third and takes thrice as long */
	CHUNK_FRAME = 12,
};

static void put_32(unsigned char *at, uint32_t value)
{
	at[0] = (unsigned char)(value >> 24);
	at[1] = (unsigned char)(value >> 16);
	at[2] = (unsigned char)(value >> 8);
	at[3] = (unsigned char)value;
}

static void add_chunk(struct phrase *out, const char *type, const unsigned char *data, size_t len)
{
	unsigned char word[4];
	uLong sum = crc32(crc32(0, NULL, 0), (const unsigned char *)type, 4);

	put_32(word, (uint32_t)len);
	phrase_add(out, (struct slice){ (const char *)word, sizeof(word) });
	phrase_words(out, type);
	phrase_add(out, (struct slice){ (const char *)data, len });
	if (len > 0)
		sum = crc32(sum, data, (uInt)len);
	put_32(word, (uint32_t)sum);
	phrase_add(out, (struct slice){ (const char *)word, sizeof(word) });
}

/* A row as bytes: what the one above it has is 0. */
static void filter_row(unsigned char *out, const uint32_t *row, const uint32_t *above, uint32_t width)
{
	*out++ = above ? FILTER_UP : FILTER_NONE;
	if (above && memcmp(row, above, width * sizeof(*row)) == 0) {
		memset(out, 0, (size_t)width * CHANNELS);
		return;
	}
	for (uint32_t i = 0; i < width; i++) {
		uint32_t up = above ? above[i] : 0;

		*out++ = (unsigned char)((row[i] >> 16) - (up >> 16));
		*out++ = (unsigned char)((row[i] >> 8) - (up >> 8));
		*out++ = (unsigned char)(row[i] - up);
	}
}

bool png_file_add(struct phrase *out, const uint32_t *pixels, uint32_t width, uint32_t height, size_t stride)
{
	static const unsigned char signature[] = { 0x89, 'P', 'N', 'G', '\r', '\n', 0x1A, '\n' };
	unsigned char header[13] = { [8] = 8, [9] = 2 };
	size_t row_len = 1 + (size_t)width * CHANNELS;
	unsigned char *rows = malloc(row_len * height);
	uLongf pressed_len = compressBound((uLong)(row_len * height));
	unsigned char *pressed = malloc(pressed_len);
	bool good = rows && pressed;

	for (uint32_t y = 0; good && y < height; y++)
		filter_row(rows + y * row_len, pixels + y * stride, y > 0 ? pixels + (y - 1) * stride : NULL, width);
	good = good && compress2(pressed, &pressed_len, rows, (uLong)(row_len * height), PRESSING) == Z_OK;
	if (good) {
		put_32(header, width);
		put_32(header + 4, height);
		phrase_add(out, (struct slice){ (const char *)signature, sizeof(signature) });
		add_chunk(out, "IHDR", header, sizeof(header));
		add_chunk(out, "IDAT", pressed, pressed_len);
		add_chunk(out, "IEND", NULL, 0);
	}
	free(rows);
	free(pressed);
	return good && !out->failed;
}
