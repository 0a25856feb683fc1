/* SPDX-License-Identifier: GPL-3.0-or-later */
/* layout.h: which columns and rows the sheets have, so that a formula on one can name a cell of another. */
#ifndef BREWSPREAD_LAYOUT_H
#define BREWSPREAD_LAYOUT_H

#include <xlsxwriter.h>

#include "analysis.h"
#include "labels.h"

/* Columns of Brews from left to right. Those that no brew fills are left out. */
enum brews_column {
	BREWS_NUMBER,
	BREWS_LABEL,
	BREWS_PLACE, /* its treatment's line on Summary */
	BREWS_TREATMENT,
	BREWS_BLOCK,
	BREWS_ORDER,
	BREWS_METHOD,
	BREWS_DOSE,
	BREWS_WATER,
	BREWS_BYPASS,
	BREWS_BEVERAGE,
	BREWS_MOISTURE,
	BREWS_READINGS,
	BREWS_TDS,
	BREWS_TDS_SD,
	BREWS_BED_TDS,
	BREWS_YIELD,
	BREWS_YIELD_HALF,
	BREWS_YIELD_DRY,
	BREWS_RETAINED,
	BREWS_RATIO,
	BREWS_RESPONSE, /* where it is none of the above */
	BREWS_MARKS,
	BREWS_NOTES,
	BREWS_WAITED,
	BREWS_COLUMNS /* how many; behind them come the manifest's other columns, then the chart's */
};

/* Columns of Readings. */
enum readings_column {
	READINGS_BREW,
	READINGS_CUP,
	READINGS_USED,
	READINGS_SHOWN,
	READINGS_UNIT,
	READINGS_TEMP,
	READINGS_BRIX_SHOWN,
	READINGS_INDEX_SHOWN,
	READINGS_OFFSET,
	READINGS_INDEX,
	READINGS_TEMP_USED,
	READINGS_BRIX,
	READINGS_FACTOR,
	READINGS_DILUTION,
	READINGS_TDS,
	READINGS_TAKEN,
	READINGS_REMARKS,
	READINGS_LINE,
	READINGS_PLACE,
	READINGS_COLUMNS
};

/* Rows of a sheet with one table: title, what it is, nothing, head, notes on the columns, then the table. */
enum { TABLE_HEAD_ROW = 3, TABLE_FIRST_ROW = 5 };

/* Readings on one sheet: what is left of its rows. */
enum { READINGS_A_SHEET = LXW_ROW_MAX - TABLE_FIRST_ROW };

/* Tabs, and words that formulas look for in cells. */
enum formula_word {
	TAB_SUMMARY,
	TAB_BREWS,
	TAB_READINGS,
	TAB_METER,
	TAB_COMPARISONS,
	TAB_FAIRNESS,
	TAB_METHOD,
	TABS,
	WORD_YES = TABS,
	WORD_NO,
	WORD_ZERO,
	WORD_STANDARD,
	FORMULA_WORDS
};

enum { FORMULA_WORD_CHARACTERS = 24, FORMULA_WORD_BYTES = 4 * FORMULA_WORD_CHARACTERS + 1 };

/* In English, by enum formula_word. */
extern const char *const formula_words[FORMULA_WORDS];

struct layout {
	/*
	 * Each as it stands in cells and formulas: in English where the label of the other language holds a character that
	 * means something in a formula, or more than FORMULA_WORD_CHARACTERS, or is "History", which no tab may be called; so
	 * do all tabs where two would be alike.
	 */
	char word[FORMULA_WORDS][FORMULA_WORD_BYTES];
	bool formulas;               /* else values: too many readings */
	uint32_t *place;             /* by treatment: its line on Summary, from 1 */
	size_t *brew_order;          /* brews as they stand on Brews: treatment by treatment */
	size_t *first_brew;          /* by treatment: where its brews begin in brew_order */
	lxw_row_t *brew_row;         /* by brew: its row there */
	int brews_at[BREWS_COLUMNS]; /* column, or -1 */
	size_t *extras;              /* columns of the manifest that follow */
	size_t extra_count;
	int first_extra;
	int chart_at;         /* height of a brew's dot in the chart */
	lxw_row_t brews_last; /* row of the last brew */
	int readings_at[READINGS_COLUMNS];
	size_t loose_count; /* readings of no brew: zero checks, standards, those that were not joined */
	size_t readings_sheets;
	lxw_row_t readings_last; /* on the first of them */
	int tds_decimals;        /* of a single reading, at least 2 */
};

/* Lays everything out, with words from labels, which may be NULL: English. STATUS_MEMORY. The caller's: layout_release(). */
enum status layout_make(struct layout *out, const struct analysis *analysis, const struct labels *labels,
                        struct error *error) MUST_USE;

void layout_release(struct layout *layout);

/* The column of Brews that holds what is compared. */
int layout_response(const struct layout *layout, const struct analysis *analysis);

/* Names of cells and ranges as formulas have them: "N7", "'Brews'!$N$6:$N$25". */
struct cell_name {
	char text[24];
};
struct range_name {
	char text[160];
};

struct cell_name cell_name(int column, lxw_row_t row);
struct range_name range_name(const char *tab, int column, lxw_row_t first, lxw_row_t last);

/* All of a column of Brews, or of the first sheet of Readings. */
struct range_name brews_range(const struct layout *layout, int column);
struct range_name readings_range(const struct layout *layout, enum readings_column column);

/* Is a cell of that column filled in for any brew? */
bool any_number(const struct run *run, enum brew_number which);
bool any_word(const struct run *run, enum brew_word which);

/* The manifest's column that fills known, a COLUMN_ of run.h; NULL: none. */
const struct column *column_known(const struct run *run, int known);

#endif
