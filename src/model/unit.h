/* SPDX-License-Identifier: GPL-3.0-or-later */
/* unit.h: what a meter's number means: a strength of coffee, a strength of sugar, or a refractive index. */
#ifndef BREWSPREAD_UNIT_H
#define BREWSPREAD_UNIT_H

#include <stddef.h>

enum unit {
	UNIT_NONE,        /* not said, or not one of ours */
	UNIT_TDS_PERCENT, /* total dissolved solids, g in 100 g of beverage */
	UNIT_BRIX,        /* g of sucrose in 100 g of the solution that has the same index */
	UNIT_INDEX,       /* refractive index at the sodium D line, against air */
};

/*
 * The word for unit in files and on the command line: "none", "tds", "brix", "nd". unit_from_text() reads each
 * back.
 */
const char *unit_name(enum unit unit);

/* How unit is written after a number, UTF-8: "", "% TDS", "°Bx", "nD". */
const char *unit_symbol(enum unit unit);

/*
 * The unit that text[0..len) spells, or UNIT_NONE. Case and white space play no part. Read are
 *   TDS    %, % tds, tds, tds %, tds_percent, tds(%)
 *   Brix   brix, bx, °bx, °brix, % brix, brix %, degrees brix
 *   index  nd, ri, n, index, refractive index
 * text need not end in NUL; NULL is allowed where len is 0.
 */
enum unit unit_from_text(const char *text, size_t len);

#endif
