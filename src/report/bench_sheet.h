/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * bench_sheet.h: a planned run on paper: a workbook whose four sheets are printed, each one page wide.
 *
 *   Brewing   what to brew next, with what it is meant to be and room to write down what it was
 *   Reading   cups in the order of reading, with room for each reading, and zero checks before, between and after; it
 *             names no treatment, so that whoever reads the meter need not know what is in the cup
 *   Tasting   codes alone
 *   Key       which code is which brew: kept from tasters
 *
 * Cautions stand on the sheet that is in hand when they are needed.
 */
#ifndef BREWSPREAD_BENCH_SHEET_H
#define BREWSPREAD_BENCH_SHEET_H

#include "run_plan.h"
#include "status.h"

enum bench_paper { BENCH_A4, BENCH_LETTER };

struct bench_request {
	const char *path;    /* of the workbook; a symbolic link is followed */
	const char *version; /* of this program */
	enum bench_paper paper;
	const struct plan_targets *targets;
};

enum {
	BENCH_READINGS_MOST = 8, /* columns for readings; more are written beside them */
	BENCH_ZERO_EVERY =
		6, /* a zero check follows the first round that brings this many cups since the last one; common
	                         practice, no source */
};

/*
 * Writes it over what stands there, once it is whole. The same arguments give the same bytes.
 * STATUS_IO: error names the path and the reason; the old file is as it was. STATUS_MEMORY.
 */
enum status bench_sheet_write(const struct run_plan *plan, const struct bench_request *request,
                              struct error *error) MUST_USE;

#endif
