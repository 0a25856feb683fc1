/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "style.h"

#include <stdio.h>

enum {
	INK_FAINT = 0x66717A,
	INK_CAUTION = 0x8A4B00,
	FILL_HEAD = 0xE3EAF0,
	FILL_CAUTION = 0xFFF4DE,
	EDGE = 0x9AA5AF,
};

/* What differs from a cell of plain text, which stands at the top left. */
struct look {
	bool bold;
	bool italic;
	bool wrap;
	bool line; /* under it */
	bool shrink;
	bool inset; /* from the left, away from a number beside it */
	double size;
	uint8_t across; /* enum lxw_format_alignments */
	uint8_t down;
	lxw_color_t ink;
	lxw_color_t fill;
	const char *number;
};

static const struct look looks[STYLE_DECIMALS] = {
	[STYLE_TITLE] = { .bold = true, .size = 16, .ink = COLOUR_INTERVAL },
	[STYLE_ABOUT_SHEET] = { .ink = INK_FAINT },
	[STYLE_ABOUT_WRAPPED] = { .wrap = true, .ink = INK_FAINT },
	[STYLE_LEAD] = { .bold = true, .wrap = true, .size = 12 },
	[STYLE_SENTENCE] = { .wrap = true },
	[STYLE_CAUTION] = { .wrap = true, .ink = INK_CAUTION, .fill = FILL_CAUTION },
	[STYLE_HEADING] = { .bold = true, .size = 12, .ink = COLOUR_INTERVAL },
	[STYLE_HEAD] = { .inset = true,
	                 .bold = true,
	                 .wrap = true,
	                 .down = LXW_ALIGN_VERTICAL_BOTTOM,
	                 .fill = FILL_HEAD },
	[STYLE_HEAD_RIGHT] = { .bold = true,
	                       .wrap = true,
	                       .across = LXW_ALIGN_RIGHT,
	                       .down = LXW_ALIGN_VERTICAL_BOTTOM,
	                       .fill = FILL_HEAD },
	[STYLE_NOTE] = { .inset = true, .wrap = true, .line = true, .size = 8, .ink = INK_FAINT, .fill = FILL_HEAD },
	[STYLE_NOTE_RIGHT] = { .wrap = true,
	                       .line = true,
	                       .size = 8,
	                       .across = LXW_ALIGN_RIGHT,
	                       .ink = INK_FAINT,
	                       .fill = FILL_HEAD },
	[STYLE_TEXT] = { .inset = true, .ink = COLOUR_INK },
	[STYLE_WRAP] = { .inset = true, .wrap = true },
	[STYLE_STRONG] = { .inset = true, .bold = true, .wrap = true },
	[STYLE_FAINT] = { .inset = true, .size = 9, .ink = INK_FAINT },
	[STYLE_TEXT_RIGHT] = { .across = LXW_ALIGN_RIGHT },
	[STYLE_MARK] = { .inset = true, .bold = true, .wrap = true, .ink = INK_CAUTION },
	[STYLE_CENTRE] = { .bold = true, .across = LXW_ALIGN_CENTER },
	[STYLE_KEY] = { .size = 9, .across = LXW_ALIGN_CENTER, .ink = INK_FAINT, .number = "0" },
	[STYLE_COUNT] = { .across = LXW_ALIGN_RIGHT, .number = "0" },
	[STYLE_PROBABILITY] = { .across = LXW_ALIGN_RIGHT, .number = "[<0.0001]\"< 0.0001\";0.0000" },
	[STYLE_SIGNIFICANT] = { .across = LXW_ALIGN_RIGHT, .number = "General" },
	[STYLE_TIME] = { .across = LXW_ALIGN_RIGHT, .number = "yyyy-mm-dd hh:mm:ss" },
	[STYLE_MISSING] = { .italic = true, .shrink = true, .size = 9, .across = LXW_ALIGN_RIGHT, .ink = INK_FAINT },
	[STYLE_LINK] = { .inset = true, .ink = COLOUR_INTERVAL },
};

static const char *const plain_formats[STYLE_DECIMALS_MOST + 1] = {
	"0", "0.0", "0.00", "0.000", "0.0000", "0.00000", "0.000000",
};

static const char *const signed_formats[STYLE_DECIMALS_MOST + 1] = {
	"+0;-0;0",
	"+0.0;-0.0;0.0",
	"+0.00;-0.00;0.00",
	"+0.000;-0.000;0.000",
	"+0.0000;-0.0000;0.0000",
	"+0.00000;-0.00000;0.00000",
	"+0.000000;-0.000000;0.000000",
};

static struct look look_of(enum style style)
{
	struct look look = { .across = LXW_ALIGN_RIGHT };

	if (style < STYLE_DECIMALS)
		return looks[style];
	if (style < STYLE_SIGNED) {
		look.number = plain_formats[style - STYLE_DECIMALS];
	} else if (style < STYLE_UNUSED) {
		look.number = signed_formats[style - STYLE_SIGNED];
	} else {
		look.number = plain_formats[style - STYLE_UNUSED];
		look.italic = true;
		look.ink = INK_FAINT;
	}
	return look;
}

static void apply(lxw_format *format, const struct look *look)
{
	if (look->bold)
		format_set_bold(format);
	if (look->italic)
		format_set_italic(format);
	if (look->wrap)
		format_set_text_wrap(format);
	if (look->shrink)
		format_set_shrink(format);
	if (look->size > 0)
		format_set_font_size(format, look->size);
	if (look->across)
		format_set_align(format, look->across);
	format_set_align(format, look->down ? look->down : LXW_ALIGN_VERTICAL_TOP);
	if (look->line) {
		format_set_bottom(format, LXW_BORDER_THIN);
		format_set_bottom_color(format, EDGE);
	}
	if (look->inset)
		format_set_indent(format, 1);
	format_set_font_color(format, look->ink ? look->ink : COLOUR_INK);
	if (look->fill) {
		format_set_pattern(format, LXW_PATTERN_SOLID);
		format_set_fg_color(format, look->fill);
	}
	if (look->number)
		format_set_num_format(format, look->number);
}

enum style style_decimals(enum style family, int decimals)
{
	int cut = decimals < 0 ? 0 : decimals > STYLE_DECIMALS_MOST ? STYLE_DECIMALS_MOST : decimals;

	return (enum style)((int)family + cut);
}

bool style_wraps(enum style style)
{
	return style < STYLE_DECIMALS && looks[style].wrap;
}

bool style_bold(enum style style)
{
	return style < STYLE_DECIMALS && looks[style].bold;
}

double style_size(enum style style)
{
	return style < STYLE_DECIMALS && looks[style].size > 0 ? looks[style].size : STYLE_USUAL_SIZE;
}

bool styles_make(lxw_workbook *workbook, lxw_format *styles[STYLES])
{
	for (int i = 0; i < STYLES; i++) {
		struct look look = look_of((enum style)i);

		styles[i] = workbook_add_format(workbook);
		if (!styles[i])
			return false;
		apply(styles[i], &look);
	}
	return true;
}
