/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PNG: W3C Recommendation, Portable Network Graphics, second edition (ISO/IEC 15948:2003). */
#include "png_file.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum {
	COLOURS_MOST = 256,
	CELLS = 16 * 16 * 16, /* the upper halves of the three channels: colours of one cell are taken as one */
	FILTER_NONE = 0,
	BLOCK = 48, /* pixels that are compared with the row above at once */
	BIT_DEPTH_AT = 8,
	COLOUR_TYPE_AT = 9,
	TYPE_PALETTE = 3,
};

struct palette {
	uint32_t colours[COLOURS_MOST];
	size_t count;
	int16_t of_cell[CELLS]; /* -1: not seen yet */
};

struct png_image {
	uint32_t width, height;
	uint32_t rows; /* so far */
	struct palette palette;
	unsigned char *bytes; /* of each row: the number of its filter, then its colours */
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

static void palette_init(struct palette *palette, const uint32_t *colours, size_t count)
{
	palette->count = 0;
	memset(palette->of_cell, 0xFF, sizeof(palette->of_cell));
	for (size_t i = 0; i < count; i++) {
		int16_t *cell = &palette->of_cell[cell_of(colours[i])];

		if (*cell < 0)
			*cell = take_cell(palette, colours[i]);
	}
}

static size_t row_bytes(const struct png_image *image)
{
	return 1 + (size_t)image->width;
}

struct png_image *png_image_new(uint32_t width, uint32_t height, const uint32_t *colours, size_t count)
{
	struct png_image *image = malloc(sizeof(*image));

	if (!image)
		return NULL;
	image->width = width;
	image->height = height;
	image->rows = 0;
	image->bytes = malloc(row_bytes(image) * height);
	if (!image->bytes) {
		free(image);
		return NULL;
	}
	palette_init(&image->palette, colours, count);
	return image;
}

void png_image_free(struct png_image *image)
{
	if (!image)
		return;
	free(image->bytes);
	free(image);
}

/* Pixels as numbers of colours. */
static void take_pixels(struct palette *palette, unsigned char *out, const uint32_t *pixels, size_t count)
{
	uint32_t last = 0;
	unsigned char index = 0;

	for (size_t i = 0; i < count; i++) {
		if (i == 0 || pixels[i] != last) {
			int16_t *cell = &palette->of_cell[cell_of(pixels[i])];

			if (*cell < 0)
				*cell = take_cell(palette, pixels[i]);
			index = (unsigned char)*cell;
			last = pixels[i];
		}
		out[i] = index;
	}
}

/* above: the row before, which in out stands right before this one; most pixels are as there. NULL: not at hand. */
static void take_row(struct png_image *image, unsigned char *out, const uint32_t *pixels, const uint32_t *above)
{
	for (size_t x = 0; x < image->width; x += BLOCK) {
		size_t count = image->width - x < BLOCK ? image->width - x : BLOCK;

		if (above && memcmp(pixels + x, above + x, count * sizeof(*pixels)) == 0)
			memcpy(out + x, out + x - row_bytes(image), count);
		else
			take_pixels(&image->palette, out + x, pixels + x, count);
	}
}

void png_image_add(struct png_image *image, const uint32_t *pixels, size_t stride, uint32_t rows)
{
	const uint32_t *above = NULL;

	for (; rows > 0 && image->rows < image->height; rows--) {
		unsigned char *out = image->bytes + image->rows++ * row_bytes(image);

		/* a filter would hide from the packer that rows, and letters, stood there before */
		*out = FILTER_NONE;
		take_row(image, out + 1, pixels, above);
		above = pixels;
		pixels += stride;
	}
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

static void add_header(struct phrase *out, const struct png_image *image)
{
	static const unsigned char signature[] = { 0x89, 'P', 'N', 'G', '\r', '\n', 0x1A, '\n' };
	unsigned char header[13] = { [BIT_DEPTH_AT] = 8, [COLOUR_TYPE_AT] = TYPE_PALETTE };

	put_32(header, image->width);
	put_32(header + 4, image->height);
	phrase_add(out, (struct slice){ (const char *)signature, sizeof(signature) });
	add_chunk(out, "IHDR", header, sizeof(header));
}

static void add_palette(struct phrase *out, const struct palette *palette)
{
	unsigned char colours[3 * COLOURS_MOST];

	for (size_t i = 0; i < palette->count; i++)
		for (size_t channel = 0; channel < 3; channel++)
			colours[3 * i + channel] = (unsigned char)(palette->colours[i] >> (16 - 8 * channel));
	add_chunk(out, "PLTE", colours, 3 * palette->count);
}

bool png_image_file(const struct png_image *image, struct phrase *out)
{
	uLong len = (uLong)(row_bytes(image) * image->height);
	uLong packed_len = compressBound(len);
	unsigned char *packed = malloc(packed_len);
	bool good = packed && compress2(packed, &packed_len, image->bytes, len, Z_BEST_SPEED) == Z_OK;

	if (good) {
		add_header(out, image);
		add_palette(out, &image->palette);
		add_chunk(out, "IDAT", packed, packed_len);
		add_chunk(out, "IEND", NULL, 0);
	}
	free(packed);
	return good && !out->failed;
}
