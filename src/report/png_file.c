/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PNG: W3C Recommendation, Portable Network Graphics, second edition (ISO/IEC 15948:2003). */
#include "png_file.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum {
	COLOURS_MOST = 256,
	CELLS = 16 * 16 * 16, /* the upper halves of the three channels: colours of one cell are taken as one */
	FILTER_UP = 2,
	BIT_DEPTH_AT = 8,
	COLOUR_TYPE_AT = 9,
	TYPE_PALETTE = 3,
};

struct palette {
	uint32_t colours[COLOURS_MOST];
	size_t count;
	int16_t of_cell[CELLS]; /* -1: not seen yet */
};

static size_t cell_of(uint32_t colour)
{
	return ((colour >> 12) & 0xF00) | ((colour >> 8) & 0x0F0) | ((colour >> 4) & 0x00F);
}

static long apart(uint32_t a, uint32_t b)
{
	long sum = 0;

	for (int shift = 0; shift < 24; shift += 8) {
		long step = (long)((a >> shift) & 0xFF) - (long)((b >> shift) & 0xFF);

		sum += step * step;
	}
	return sum;
}

/* A new cell: a colour of its own, or the nearest where the palette is full. */
static int16_t take_cell(struct palette *palette, uint32_t colour)
{
	size_t nearest = 0;

	if (palette->count < COLOURS_MOST) {
		palette->colours[palette->count] = colour & 0xFFFFFF;
		return (int16_t)palette->count++;
	}
	for (size_t i = 1; i < palette->count; i++)
		if (apart(colour, palette->colours[i]) < apart(colour, palette->colours[nearest]))
			nearest = i;
	return (int16_t)nearest;
}

static void palette_init(struct palette *palette, const struct png_image *image)
{
	palette->count = 0;
	memset(palette->of_cell, 0xFF, sizeof(palette->of_cell));
	for (size_t i = 0; i < image->colour_count; i++) {
		int16_t *cell = &palette->of_cell[cell_of(image->colours[i])];

		if (*cell < 0)
			*cell = take_cell(palette, image->colours[i]);
	}
}

/* A row as numbers of colours. */
static void take_row(struct palette *palette, unsigned char *out, const uint32_t *row, uint32_t width)
{
	uint32_t last = row[0];
	unsigned char index = 0;

	for (uint32_t i = 0; i < width; i++) {
		if (i == 0 || row[i] != last) {
			int16_t *cell = &palette->of_cell[cell_of(row[i])];

			if (*cell < 0)
				*cell = take_cell(palette, row[i]);
			index = (unsigned char)*cell;
			last = row[i];
		}
		out[i] = index;
	}
}

/* What differs from the row above, behind the filter's number: most of a drawing becomes runs of 0. */
static void filter_row(unsigned char *out, const unsigned char *row, const unsigned char *above, uint32_t width)
{
	*out++ = FILTER_UP;
	for (uint32_t i = 0; i < width; i++)
		out[i] = (unsigned char)(row[i] - (above ? above[i] : 0));
}

/* Only runs are looked for: there is little else, and it takes a quarter of the time. False: no memory. */
static bool press(unsigned char *out, uLong *out_len, unsigned char *rows, uLong len)
{
	z_stream stream = { .next_in = rows, .avail_in = (uInt)len, .next_out = out, .avail_out = (uInt)*out_len };
	bool good = deflateInit2(&stream, Z_BEST_SPEED, Z_DEFLATED, MAX_WBITS, MAX_MEM_LEVEL, Z_RLE) == Z_OK;

	good = good && deflate(&stream, Z_FINISH) == Z_STREAM_END;
	*out_len = stream.total_out;
	deflateEnd(&stream);
	return good;
}

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

static void add_file(struct phrase *out, const struct png_image *image, const struct palette *palette,
                     const unsigned char *pressed, size_t len)
{
	static const unsigned char signature[] = { 0x89, 'P', 'N', 'G', '\r', '\n', 0x1A, '\n' };
	unsigned char header[13] = { [BIT_DEPTH_AT] = 8, [COLOUR_TYPE_AT] = TYPE_PALETTE };
	unsigned char colours[3 * COLOURS_MOST];

	put_32(header, image->width);
	put_32(header + 4, image->height);
	for (size_t i = 0; i < palette->count; i++)
		for (size_t channel = 0; channel < 3; channel++)
			colours[3 * i + channel] = (unsigned char)(palette->colours[i] >> (16 - 8 * channel));
	phrase_add(out, (struct slice){ (const char *)signature, sizeof(signature) });
	add_chunk(out, "IHDR", header, sizeof(header));
	add_chunk(out, "PLTE", colours, 3 * palette->count);
	add_chunk(out, "IDAT", pressed, len);
	add_chunk(out, "IEND", NULL, 0);
}

/* All rows, filtered, one after the other. */
static void take_rows(struct palette *palette, unsigned char *out, unsigned char *two_rows,
                      const struct png_image *image)
{
	const unsigned char *above = NULL;

	for (uint32_t y = 0; y < image->height; y++) {
		const uint32_t *pixels = image->pixels + y * image->stride;
		unsigned char *row = two_rows + (size_t)(y % 2) * image->width;

		if (above && memcmp(pixels, pixels - image->stride, image->width * sizeof(*pixels)) == 0) {
			memset(out, 0, 1 + (size_t)image->width);
			out[0] = FILTER_UP;
			memcpy(row, above, image->width);
		} else {
			take_row(palette, row, pixels, image->width);
			filter_row(out, row, above, image->width);
		}
		out += 1 + (size_t)image->width;
		above = row;
	}
}

bool png_file_add(struct phrase *out, const struct png_image *image)
{
	uLong len = (uLong)((1 + (size_t)image->width) * image->height);
	uLong pressed_len = compressBound(len);
	unsigned char *rows = malloc(len);
	unsigned char *two_rows = malloc(2 * (size_t)image->width);
	unsigned char *pressed = malloc(pressed_len);
	struct palette *palette = malloc(sizeof(*palette));
	bool good = rows && two_rows && pressed && palette;

	if (good) {
		palette_init(palette, image);
		take_rows(palette, rows, two_rows, image);
		good = press(pressed, &pressed_len, rows, len);
	}
	if (good)
		add_file(out, image, palette, pressed, pressed_len);
	free(rows);
	free(two_rows);
	free(pressed);
	free(palette);
	return good && !out->failed;
}
