/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * palette.h: the few colours of figures and pages, for light and for dark ground. Each is told from its neighbours by
 * lightness too, so that colour-blind readers and grey paper lose nothing; and no difference is one of colour alone.
 */
#ifndef BREWSPREAD_PALETTE_H
#define BREWSPREAD_PALETTE_H

#include <stdint.h>

enum tint {
	TINT_NONE,      /* nothing is drawn */
	TINT_PAPER,     /* the ground */
	TINT_INK,       /* words and axes */
	TINT_SOFT,      /* words that matter less */
	TINT_GRID,      /* lines to read off by */
	TINT_BAND,      /* an area with a meaning: margin, target window, limits */
	TINT_BAND_EDGE, /* its border */
	TINT_MEAN,      /* means and intervals */
	TINT_BREW,      /* fill of single brews and readings … */
	TINT_BREW_EDGE, /* … and their outline */
	TINT_FLAG,      /* what calls for a look */
	TINTS
};

enum scheme { SCHEME_LIGHT, SCHEME_DARK, SCHEMES };

/* 0xRRGGBB; of TINT_NONE: 0. */
uint32_t palette_colour(enum tint tint, enum scheme scheme);

/* A word for it in style sheets: "ink"; "none" for TINT_NONE. */
const char *palette_word(enum tint tint);

#endif
