/* SPDX-License-Identifier: GPL-3.0-or-later */
/* test_png_file.c: a picture's pixels are those that it was given, in however many pieces, with at most 256 colours. */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "png_file.h"
#include "png_pixels.h"

enum { WIDTH = 37, HEIGHT = 23, SPARE = 3, STRIDE = WIDTH + SPARE };

static const uint32_t kept[] = { 0xFFFFFF, 0x1F2933, 0xE69F00 };

/* Pieces of so many rows each, the last of them longer than the picture. */
static void draw(struct phrase *out, const uint32_t *pixels, uint32_t piece)
{
	struct png_image *image = png_image_new(WIDTH, HEIGHT, kept, sizeof(kept) / sizeof(kept[0]));

	assert_non_null(image);
	for (uint32_t y = 0; y < HEIGHT; y += piece)
		png_image_add(image, pixels + (size_t)y * STRIDE, STRIDE, piece);
	assert_true(png_image_file(image, out));
	png_image_free(image);
}

static uint32_t *pixels_of(const struct phrase *file)
{
	uint32_t width, height, *pixels = png_pixels(phrase_slice(file), &width, &height);

	assert_non_null(pixels);
	assert_int_equal(width, WIDTH);
	assert_int_equal(height, HEIGHT);
	return pixels;
}

static void pixels_are_as_given_in_any_pieces(void **state)
{
	uint32_t pixels[2 * HEIGHT * STRIDE] = { 0 }, *got;
	struct phrase whole = PHRASE_INIT;

	(void)state;
	for (int i = 0; i < HEIGHT * STRIDE; i++) {
		int x = i % STRIDE, y = i / STRIDE;

		/* rows that are as the one above, and some that differ in one place; the upper byte is nobody's */
		pixels[i] = (uint32_t)y << 24 | kept[x == y / 2 ? 1 : x > 20 ? 2 : 0];
	}
	draw(&whole, pixels, HEIGHT);
	got = pixels_of(&whole);
	for (int i = 0; i < HEIGHT * WIDTH; i++)
		assert_int_equal(got[i], pixels[i / WIDTH * STRIDE + i % WIDTH] & 0xFFFFFF);
	for (uint32_t piece = 1; piece < HEIGHT; piece++) {
		struct phrase out = PHRASE_INIT;

		draw(&out, pixels, piece);
		assert_int_equal(out.len, whole.len);
		assert_memory_equal(out.text, whole.text, whole.len);
		phrase_release(&out);
	}
	phrase_release(&whole);
	free(got);
}

static void too_many_colours_become_their_nearest(void **state)
{
	uint32_t pixels[HEIGHT * STRIDE], *got;
	struct phrase out = PHRASE_INIT;

	(void)state;
	for (uint32_t i = 0; i < HEIGHT * STRIDE; i++)
		pixels[i] = (i * 0x010203u) & 0xFFFFFF;
	pixels[HEIGHT * STRIDE - SPARE - 1] = kept[2];
	draw(&out, pixels, HEIGHT);
	got = pixels_of(&out);
	assert_int_equal(got[HEIGHT * WIDTH - 1], kept[2]);
	phrase_release(&out);
	free(got);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(pixels_are_as_given_in_any_pieces),
		cmocka_unit_test(too_many_colours_become_their_nearest),
	};

	return cmocka_run_group_tests_name("png file", tests, NULL, NULL);
}
