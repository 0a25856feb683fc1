/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "figure_axis.h"
#include "figure_parts.h"
#include "figures.h"
#include "png_pixels.h"
#include "run_builder.h"

/* Is piece in what out says? */
static bool says(const struct phrase *out, const char *piece)
{
	return memmem(out->text, out->len, piece, strlen(piece)) != NULL;
}

static struct figure *figure_of(struct slice text, const struct figure_type *type)
{
	struct figure *figure = figure_new("probe");

	assert_non_null(figure);
	phrase_words(figure_title(figure), "Title");
	phrase_words(figure_alt(figure), "Alt.");
	figure_text(figure, 10, 10, text, type);
	figure_height(figure, 40);
	return figure;
}

/* -- texts ------------------------------------------------------------------------- */

struct text_row {
	const char *name;
	struct slice text;
	const char *there;     /* in the SVG */
	const char *not_there; /* NULL: nothing to look for */
};

static void text_is_harmless(void **state)
{
	const struct text_row *row = *state;
	struct figure *figure = figure_of(row->text, &(struct figure_type){ .size = 12 });
	struct phrase svg = PHRASE_INIT;

	assert_int_equal(figure_svg(figure, SCHEME_LIGHT, &svg, NULL), STATUS_OK);
	if (!says(&svg, row->there))
		fail_msg("\"%s\" is not in %.*s", row->there, (int)svg.len, svg.text);
	if (row->not_there)
		assert_false(says(&svg, row->not_there));
	phrase_release(&svg);
	figure_free(figure);
}

#define TEXT_ROW(what, literal, there, not_there)                        \
	{                                                                \
		what, { literal, sizeof(literal) - 1 }, there, not_there \
	}

static void a_text_keeps_to_its_width(void **state)
{
	static const char *const texts[] = {
		"a name that goes on and on until nobody reads it any more, and then some",
		"onewordthathasnoblankatallandgoesonforlongerthananyfigureiswide",
		"נייר סינון דק מאוד ועוד הרבה מילים שאין להן סוף",
		"厚手の円すい紙厚手の円すい紙厚手の円すい紙厚手の円すい紙厚手の円すい紙",
	};

	(void)state;
	for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++)
		for (int lines = 1; lines <= 3; lines++) {
			struct figure *figure = figure_new("probe");
			struct figure_size one = figure_measure(figure, SLICE_OF("x"),
			                                        &(struct figure_type){ .size = 12 });
			struct figure_size size = figure_measure(figure, slice_from(texts[i]),
			                                         &(struct figure_type){
									 .size = 12, .width = 100, .lines = lines });

			assert_true(size.width > 20 && size.width <= 100.01);
			/* another script's font may be higher than the first one's */
			assert_true(size.height < lines * one.height * 2);
			figure_free(figure);
		}
}

static void a_cut_text_says_so(void **state)
{
	struct figure *figure = figure_of(SLICE_OF("a name that goes on and on until nobody reads it"),
	                                  &(struct figure_type){ .size = 12, .width = 100 });
	struct phrase svg = PHRASE_INIT;

	(void)state;
	assert_int_equal(figure_svg(figure, SCHEME_LIGHT, &svg, NULL), STATUS_OK);
	assert_true(says(&svg, "…</text>"));
	assert_false(says(&svg, "nobody"));
	phrase_release(&svg);
	figure_free(figure);
}

static void what_cannot_be_placed_is_left_out(void **state)
{
	struct figure *figure = figure_new("probe");
	struct phrase svg = PHRASE_INIT;

	(void)state;
	figure_line(figure, NAN, 0, 1, 1, 1, TINT_INK);
	figure_bar(figure, 0, INFINITY, 1, 1, TINT_INK, TINT_NONE);
	figure_mark(figure, SIGN_DISC, 1, NAN, 3, TINT_INK, TINT_NONE);
	figure_text(figure, NAN, 1, SLICE_OF("nowhere"), &(struct figure_type){ .size = 12 });
	figure_height(figure, 10);
	assert_int_equal(figure_svg_inline(figure, &svg, NULL), STATUS_OK);
	assert_false(says(&svg, "nan"));
	assert_false(says(&svg, "nowhere"));
	assert_false(says(&svg, "<line"));
	phrase_release(&svg);
	figure_free(figure);
}

/* -- axes ---------------------------------------------------------------------------- */

struct axis_row {
	const char *name;
	struct span span;
	double least;
	double step; /* 1, 2 or 5 times a power of ten, for about five marks */
	int decimals;
};

static void axis_is_round(void **state)
{
	const struct axis_row *row = *state;
	struct axis axis = axis_over(row->span, row->least, 0, 100, 5);

	assert_rel_near(axis.step, row->step, 1e-12);
	assert_int_equal(axis.decimals, row->decimals);
	assert_true(axis.from < axis.to);
	assert_near(axis_at(&axis, axis.from), 0, 1e-9);
	assert_near(axis_at(&axis, axis.to), 100, 1e-9);
}

/* -- files ------------------------------------------------------------------------------- */

static void add_png(struct phrase *out, const struct figure *figure, enum scheme scheme)
{
	struct png_image *image;

	assert_int_equal(figure_image(figure, scheme, &image, NULL), STATUS_OK);
	assert_true(png_image_file(image, out));
	png_image_free(image);
}

static void the_same_drawing_gives_the_same_bytes(void **state)
{
	struct phrase out[2][3] = { { PHRASE_INIT } };

	(void)state;
	for (int i = 0; i < 2; i++) {
		struct figure *figure = figure_of(SLICE_OF("text"), &(struct figure_type){ .size = 12 });

		assert_int_equal(figure_svg(figure, SCHEME_DARK, &out[i][0], NULL), STATUS_OK);
		add_png(&out[i][1], figure, SCHEME_DARK);
		assert_int_equal(figure_pdf(figure, 1772359200000000, &out[i][2], NULL), STATUS_OK);
		figure_free(figure);
	}
	for (int form = 0; form < 3; form++) {
		assert_int_equal(out[0][form].len, out[1][form].len);
		assert_memory_equal(out[0][form].text, out[1][form].text, out[0][form].len);
	}
	/* 1,772,359,200 s after 1970 began is 10:00 on 1 March 2026: 20,513 days and 36,000 s */
	assert_true(says(&out[0][2], "/CreationDate (20260301100000Z)"));
	for (int i = 0; i < 6; i++)
		phrase_release(&out[i / 3][i % 3]);
}

static uint32_t word_at(const struct phrase *out, size_t at)
{
	const unsigned char *bytes = (const unsigned char *)out->text + at;

	return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

static void a_png_is_twice_as_large_as_600_wide(void **state)
{
	struct figure *figure = figure_of(SLICE_OF("text"), &(struct figure_type){ .size = 12 });
	struct phrase out = PHRASE_INIT;

	(void)state;
	figure_height(figure, FIGURE_WIDTH / 2.0);
	add_png(&out, figure, SCHEME_LIGHT);
	assert_memory_equal(out.text, "\x89PNG\r\n\x1a\n", 8);
	assert_int_equal(word_at(&out, 16), 1200);
	assert_int_equal(word_at(&out, 20), 600);
	assert_memory_equal(out.text + out.len - 8, "IEND", 4);
	phrase_release(&out);
	figure_free(figure);
}

/* Pixels that are not paper between two columns. */
static int ink_between(const uint32_t *pixels, uint32_t width, uint32_t height, uint32_t from, uint32_t to)
{
	int ink = 0;

	for (uint32_t y = 0; y < height; y++)
		for (uint32_t x = from; x < to; x++)
			ink += pixels[(size_t)y * width + x] != palette_colour(TINT_PAPER, SCHEME_LIGHT);
	return ink;
}

/* A pixel is 0.36 units: each column of marks stands 11 pixels lower, so wherever a picture is put together, some are cut. */
static void marks_look_the_same_wherever_they_stand(void **state)
{
	enum { MARKS = 30, COLUMN = 36 };
	struct figure *figure = figure_new("probe");
	struct phrase out = PHRASE_INIT;
	uint32_t width, height, *pixels;
	int ink;

	(void)state;
	for (int i = 0; i < MARKS; i++) {
		double x = 0.36 * COLUMN * i, y = 18 + 0.36 * 11 * i;

		figure_mark(figure, SIGN_DISC, x + 6, y, 5, TINT_BREW, TINT_BREW_EDGE);
		figure_text(figure, x + 2, y + 20, SLICE_OF("Å"), &(struct figure_type){ .size = 10 });
	}
	figure_height(figure, 200);
	add_png(&out, figure, SCHEME_LIGHT);
	pixels = png_pixels(phrase_slice(&out), &width, &height);
	assert_non_null(pixels);
	ink = ink_between(pixels, width, height, 0, COLUMN);
	assert_in_range(ink, 900, 1200);
	for (uint32_t i = 1; i < MARKS; i++)
		assert_int_equal(ink_between(pixels, width, height, COLUMN * i, COLUMN * (i + 1)), ink);
	free(pixels);
	phrase_release(&out);
	figure_free(figure);
}

static void light_and_dark_differ_in_colours_alone(void **state)
{
	struct figure *figure = figure_of(SLICE_OF("text"), &(struct figure_type){ .size = 12 });
	struct phrase light = PHRASE_INIT, dark = PHRASE_INIT;

	(void)state;
	assert_int_equal(figure_svg(figure, SCHEME_LIGHT, &light, NULL), STATUS_OK);
	assert_int_equal(figure_svg(figure, SCHEME_DARK, &dark, NULL), STATUS_OK);
	assert_int_equal(light.len, dark.len);
	assert_true(says(&light, "#FFFFFF"));
	assert_false(says(&dark, "#FFFFFF"));
	phrase_release(&light);
	phrase_release(&dark);
	figure_free(figure);
}

/* -- kinds --------------------------------------------------------------------------------- */

static void each_kind_bears(struct run *run, size_t figures_least, const char *alt)
{
	struct analysis *analysis = NULL;
	struct settings settings;
	struct figures figures;
	struct phrase out = PHRASE_INIT;

	settings_init(&settings);
	assert_int_equal(analysis_make(&analysis, run, &settings, NULL), STATUS_OK);
	assert_int_equal(figures_make(&figures, analysis, NULL), STATUS_OK);
	assert_true(figures.count >= figures_least);
	for (size_t i = 0; i < figures.count; i++) {
		phrase_clear(&out);
		assert_int_equal(figure_svg(figures.items[i], SCHEME_LIGHT, &out, NULL), STATUS_OK);
		assert_false(says(&out, "nan"));
		assert_false(says(&out, "<script"));
		assert_true(figure_alt(figures.items[i])->len > 0);
		assert_true(figure_size_down(figures.items[i]) > 100);
		if (i == 0 && alt)
			assert_true(says(figure_alt(figures.items[i]), alt));
	}
	phrase_release(&out);
	figures_release(&figures);
	analysis_free(analysis);
	run_free(run);
}

static void a_run_of_nothing_has_no_figures(void **state)
{
	(void)state;
	each_kind_bears(build_run(), 0, NULL);
}

static void one_brew_of_a_hostile_name(void **state)
{
	struct run *run = build_run();

	(void)state;
	build_reading(run, build_brew(run, "<script>", "<script>\"&'|`"), 1.40);
	/* 1.40 % of 280 g over 20 g: 19.6 % */
	each_kind_bears(run, 1, "<script>\"&'|` with 19.60 % (1 brew)");
}

static void brews_without_readings_among_others(void **state)
{
	struct run *run = build_run();

	(void)state;
	build_brew(run, "A", "unread");
	for (int i = 0; i < 6; i++) {
		uint32_t brew = build_brew(run, i % 2 ? "b" : "c", i % 2 ? "tame" : "wild");

		build_reading(run, brew, i % 2 ? 1.40 : 0.5 + 0.4 * i);
		build_reading(run, brew, i % 2 ? 1.40 : 0.6 + 0.4 * i);
	}
	each_kind_bears(run, 4, NULL);
}

static void a_chart_bears_any_number_of_values(void **state)
{
	static const double values[] = { 0.01, NAN, 0.01, 0.02, 0.01 };

	(void)state;
	for (size_t n = 0; n <= 5; n++) {
		struct figure *figure = figure_new("chart");
		struct chart_view view = { .title = "t",
			                   .quantity = "q",
			                   .values = values,
			                   .count = n,
			                   .decimals = 2,
			                   .chart = individuals_chart_of(values, n) };
		struct phrase out = PHRASE_INIT;

		assert_int_equal(figure_chart(figure, &view), n > 0);
		assert_int_equal(figure_svg(figure, SCHEME_LIGHT, &out, NULL), STATUS_OK);
		assert_false(says(&out, "nan"));
		phrase_release(&out);
		figure_free(figure);
	}
}

int main(void)
{
	static struct text_row texts[] = {
		TEXT_ROW("markup", "<script>alert('x')</script>", "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;",
		         "<script"),
		TEXT_ROW("quotes and ampersand", "\"a\" & b", "&quot;a&quot; &amp; b", NULL),
		TEXT_ROW("end of a comment or a section", "--> ]]>", "--&gt; ]]&gt;", "]]>"),
		TEXT_ROW("control characters", "a\x01\x02\x1b[31mb", "a[31mb", "\x1b"),
		TEXT_ROW("a NUL", "a\0b", "ab", NULL),
		TEXT_ROW("line ends and tabs", "a\r\n\tb", "a b", NULL),
		TEXT_ROW("reversed reading", "a\u202Eb\u2066c", "abc", "\u202E"),
		TEXT_ROW("bytes that are no text", "a\xff\xfe", "a\uFFFD\uFFFD", "\xff"),
		TEXT_ROW("from right to left", "\u05D0\u05D1", "direction=\"rtl\"", NULL),
	};
	/* 1, 2, 5 steps by hand: the span with 4 % at both ends, over five marks, rounded up to such a step */
	static struct axis_row axes[] = {
		{ "a few", { 0, 10 }, 0, 5, 0 },
		{ "tenths", { 20.0, 21.1 }, 0.01, 0.5, 1 },
		{ "hundredths", { 1.33, 1.43 }, 0.01, 0.05, 2 },
		{ "below 0", { -0.5, 0.5 }, 0.01, 0.5, 1 },
		{ "one value", { 20, 20 }, 0.1, 0.05, 2 },
		{ "none", { INFINITY, -INFINITY }, 0.1, 0.5, 1 },
		{ "large", { 0, 9000 }, 1, 2000, 0 },
	};
	static const struct CMUnitTest rest[] = {
		cmocka_unit_test(a_text_keeps_to_its_width),
		cmocka_unit_test(a_cut_text_says_so),
		cmocka_unit_test(what_cannot_be_placed_is_left_out),
		cmocka_unit_test(the_same_drawing_gives_the_same_bytes),
		cmocka_unit_test(a_png_is_twice_as_large_as_600_wide),
		cmocka_unit_test(marks_look_the_same_wherever_they_stand),
		cmocka_unit_test(light_and_dark_differ_in_colours_alone),
		cmocka_unit_test(a_run_of_nothing_has_no_figures),
		cmocka_unit_test(one_brew_of_a_hostile_name),
		cmocka_unit_test(brews_without_readings_among_others),
		cmocka_unit_test(a_chart_bears_any_number_of_values),
	};
	enum {
		TEXTS = sizeof(texts) / sizeof(texts[0]),
		AXES = sizeof(axes) / sizeof(axes[0]),
		REST = sizeof(rest) / sizeof(rest[0]),
	};
	struct CMUnitTest tests[TEXTS + AXES + REST];

	for (size_t i = 0; i < TEXTS; i++)
		tests[i] = (struct CMUnitTest){ .name = texts[i].name,
			                        .test_func = text_is_harmless,
			                        .initial_state = &texts[i] };
	for (size_t i = 0; i < AXES; i++)
		tests[TEXTS + i] = (struct CMUnitTest){ .name = axes[i].name,
			                                .test_func = axis_is_round,
			                                .initial_state = &axes[i] };
	memcpy(tests + TEXTS + AXES, rest, sizeof(rest));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
