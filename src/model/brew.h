/* SPDX-License-Identifier: GPL-3.0-or-later */
/* brew.h: one preparation, one row of the manifest, one cup. */
#ifndef BREWSPREAD_BREW_H
#define BREWSPREAD_BREW_H

#include <stdbool.h>
#include <stdint.h>

#include "faults.h"
#include "slice.h"

enum brew_method {
	METHOD_PERCOLATION, /* drip, pour-over, espresso: what dissolved ran into the cup */
	METHOD_IMMERSION,   /* all the liquid, in the cup and in the grounds, has the same strength */
};

/* Columns of numbers that the program itself works with, all in grams, °C, seconds or per cent. */
enum brew_number {
	BREW_DOSE_G,
	BREW_WATER_G, /* without bypass water */
	BREW_BEVERAGE_G,
	BREW_BYPASS_G, /* water added after brewing; in the beverage, not in the bed */
	BREW_MOISTURE_PERCENT,
	BREW_SAMPLE_G,  /* of a sample diluted before reading */
	BREW_DILUENT_G, /* water added to that sample */
	BREW_ORDER,     /* place in the brewing order */
	BREW_TEMP_C,    /* of the water */
	BREW_BLOOM_G,
	BREW_TIME_S,
	BREW_NUMBERS /* how many there are */
};

/* Columns of words that the program itself works with. */
enum brew_word {
	BREW_BLOCK,
	BREW_TYPE, /* sample type: filter, espresso, … a row of the settings' table */
	BREW_GRIND,
	BREW_SCALE,
	BREW_SERVER,
	BREW_OPERATOR,
	BREW_NOTES,
	BREW_WORDS /* how many there are */
};

struct brew {
	struct slice label; /* as written, blanks at both ends taken off */
	struct slice key;   /* label in Unicode's composed form: what readings are joined by */
	struct place place;
	uint32_t treatment; /* index into run->treatments */
	enum brew_method method;
	double number[BREW_NUMBERS];      /* NaN: not given */
	struct slice word[BREW_WORDS];    /* empty: not given */
	int64_t brewed_us;                /* when; READING_NO_TIME */
	int64_t read_from_us, read_to_us; /* readings taken between them are its own; READING_NO_TIME */
	double type_factor;               /* TDS per Brix of its sample type */
	bool usable;                      /* has what a yield needs: dose, and water or beverage */
};

#endif
