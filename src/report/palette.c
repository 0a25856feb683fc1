/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "palette.h"

struct palette_row {
	const char *word;
	uint32_t colour[SCHEMES];
};

static const struct palette_row rows[TINTS] = {
	[TINT_NONE] = { "none", { 0, 0 } },
	[TINT_PAPER] = { "paper", { 0xFFFFFF, 0x14191E } },
	[TINT_INK] = { "ink", { 0x1F2933, 0xE8ECEF } },
	[TINT_SOFT] = { "soft", { 0x55616B, 0xA9B4BD } },
	[TINT_GRID] = { "grid", { 0xDDE2E6, 0x303A43 } },
	[TINT_BAND] = { "band", { 0xE9EEF2, 0x222C34 } },
	[TINT_BAND_EDGE] = { "band-edge", { 0x8796A3, 0x6C7B88 } },
	[TINT_MEAN] = { "mean", { 0x1B4F72, 0x8CC4EA } },
	[TINT_BREW] = { "brew", { 0xE69F00, 0xE0A030 } },
	[TINT_BREW_EDGE] = { "brew-edge", { 0x8A5F00, 0xFFDDA0 } },
	[TINT_FLAG] = { "flag", { 0xA93226, 0xFF9A86 } },
};

uint32_t palette_colour(enum tint tint, enum scheme scheme)
{
	return rows[tint].colour[scheme];
}

const char *palette_word(enum tint tint)
{
	return rows[tint].word;
}
