/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "layout.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "book.h"
#include "correct.h"
#include "remarks.h"
#include "text.h"

/* Brews times readings that formulas may look through: each brew looks at all readings. */
#define FORMULA_LOOKS 4e7

bool any_number(const struct run *run, enum brew_number which)
{
	for (size_t b = 0; b < run->brew_count; b++)
		if (!isnan(run->brews[b].number[which]))
			return true;
	return false;
}

bool any_word(const struct run *run, enum brew_word which)
{
	for (size_t b = 0; b < run->brew_count; b++)
		if (run->brews[b].word[which].len > 0)
			return true;
	return false;
}

const struct column *column_known(const struct run *run, int known)
{
	for (size_t c = 0; c < run->column_count; c++)
		if (run->columns[c].known == known)
			return &run->columns[c];
	return NULL;
}

/* -- brews ------------------------------------------------------------------ */

static bool any_immersion(const struct run *run)
{
	for (size_t b = 0; b < run->brew_count; b++)
		if (run->brews[b].method == METHOD_IMMERSION)
			return true;
	return false;
}

static bool any_result(const struct analysis *analysis, double (*of)(const struct brew_result *))
{
	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (isfinite(of(&analysis->brews[b])))
			return true;
	return false;
}

static double waited(const struct brew_result *brew)
{
	return brew->waited_s;
}

static bool any_mark(const struct analysis *analysis)
{
	for (size_t b = 0; b < analysis->run->brew_count; b++)
		if (analysis->brews[b].flags != 0 || analysis->brews[b].why)
			return true;
	return false;
}

static bool brews_has(const struct analysis *analysis, enum brews_column column)
{
	const struct run *run = analysis->run;
	bool bypass = any_number(run, BREW_BYPASS_G);

	switch (column) {
	case BREWS_BLOCK:
		return any_word(run, BREW_BLOCK);
	case BREWS_ORDER:
		return any_number(run, BREW_ORDER);
	case BREWS_METHOD:
		return any_immersion(run);
	case BREWS_BYPASS:
		return bypass;
	case BREWS_BED_TDS:
		return bypass && any_immersion(run);
	case BREWS_MOISTURE:
	case BREWS_YIELD_DRY:
		return any_number(run, BREW_MOISTURE_PERCENT);
	case BREWS_RESPONSE:
		return !analysis->comparison.response.is_yield;
	case BREWS_MARKS:
		return any_mark(analysis);
	case BREWS_NOTES:
		return any_word(run, BREW_NOTES);
	case BREWS_WAITED:
		return any_result(analysis, waited);
	case BREWS_NUMBER:
	case BREWS_LABEL:
	case BREWS_PLACE:
	case BREWS_TREATMENT:
	case BREWS_DOSE:
	case BREWS_WATER:
	case BREWS_BEVERAGE:
	case BREWS_READINGS:
	case BREWS_TDS:
	case BREWS_TDS_SD:
	case BREWS_YIELD:
	case BREWS_YIELD_HALF:
	case BREWS_RETAINED:
	case BREWS_RATIO:
	case BREWS_COLUMNS:
		break;
	}
	return true;
}

/* Columns of the manifest that have no place of their own above. */
static bool is_extra(const struct column *column)
{
	switch (column->known) {
	case COLUMN_NUMBER + BREW_DOSE_G:
	case COLUMN_NUMBER + BREW_WATER_G:
	case COLUMN_NUMBER + BREW_BEVERAGE_G:
	case COLUMN_NUMBER + BREW_BYPASS_G:
	case COLUMN_NUMBER + BREW_MOISTURE_PERCENT:
	case COLUMN_NUMBER + BREW_ORDER:
	case COLUMN_WORD + BREW_BLOCK:
	case COLUMN_WORD + BREW_NOTES:
	case COLUMN_BREW:
	case COLUMN_TREATMENT:
	case COLUMN_METHOD:
		return false;
	default:
		return !column->empty;
	}
}

static void lay_brews(struct layout *layout, const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	int at = 0;

	for (int c = 0; c < BREWS_COLUMNS; c++)
		layout->brews_at[c] = brews_has(analysis, (enum brews_column)c) ? at++ : -1;
	layout->first_extra = at;
	for (size_t c = 0; c < run->column_count; c++)
		if (is_extra(&run->columns[c]))
			layout->extras[layout->extra_count++] = c;
	layout->chart_at = at + (int)layout->extra_count;
}

/* Treatment by treatment as Summary has them, within one as in the manifest: by counting, since there may be many. */
static void order_brews(struct layout *layout, const struct analysis *analysis, size_t *next)
{
	const struct run *run = analysis->run;
	size_t before = 0;

	for (size_t b = 0; b < run->brew_count; b++)
		next[run->brews[b].treatment]++;
	for (size_t i = 0; i < run->treatment_count; i++) {
		size_t treatment = analysis->ranked[i];
		size_t brews = next[treatment];

		layout->place[treatment] = (uint32_t)i + 1;
		next[treatment] = layout->first_brew[treatment] = before;
		before += brews;
	}
	for (size_t b = 0; b < run->brew_count; b++) {
		size_t row = next[run->brews[b].treatment]++;

		layout->brew_order[row] = b;
		layout->brew_row[b] = (lxw_row_t)(TABLE_FIRST_ROW + row);
	}
	layout->brews_last = (lxw_row_t)(TABLE_FIRST_ROW + (run->brew_count > 0 ? run->brew_count - 1 : 0));
}

/* -- readings ----------------------------------------------------------------- */

struct readings_seen {
	bool temp, time, dilution, remark, place;
	int decimals;
};

static struct readings_seen look_at_readings(struct layout *layout, const struct analysis *analysis)
{
	struct readings_seen seen = { .decimals = 2 };

	for (size_t i = 0; i < analysis->run->reading_count; i++) {
		const struct reading *reading = &analysis->run->readings[i];
		struct correction correction;

		correct_steps(&correction, analysis, i);
		layout->loose_count += reading->brew == READING_NO_BREW;
		seen.temp = seen.temp || !isnan(reading->line->temp_c);
		seen.time = seen.time || reading->line->taken_us != READING_NO_TIME;
		/* no factor at all comes from a dilution that makes no sense */
		seen.dilution = seen.dilution || !(correction.dilution_factor == 1.0);
		seen.remark = seen.remark || remarks_any(reading, &correction);
		seen.place = seen.place || reading->line->file;
		if (correction.unit != UNIT_INDEX && reading->decimals > seen.decimals)
			seen.decimals = reading->decimals;
	}
	return seen;
}

static void lay_readings(struct layout *layout, const struct analysis *analysis)
{
	struct readings_seen seen = look_at_readings(layout, analysis);
	size_t count = analysis->run->reading_count;
	int at = 0;

	for (int c = 0; c < READINGS_COLUMNS; c++) {
		bool has = true;

		if (c == READINGS_TEMP)
			has = seen.temp;
		else if (c == READINGS_TAKEN)
			has = seen.time;
		else if (c == READINGS_DILUTION)
			has = seen.dilution;
		else if (c == READINGS_REMARKS)
			has = seen.remark;
		else if (c == READINGS_PLACE)
			has = seen.place;
		layout->readings_at[c] = has ? at++ : -1;
	}
	layout->tds_decimals = seen.decimals < 3 ? seen.decimals : 3;
	layout->readings_sheets = count > 0 ? (count - 1) / READINGS_A_SHEET + 1 : 1;
	if (count > READINGS_A_SHEET)
		count = READINGS_A_SHEET;
	layout->readings_last = (lxw_row_t)(TABLE_FIRST_ROW + (count > 0 ? count - 1 : 0));
	layout->formulas = analysis->run->reading_count <= BOOK_FORMULA_READINGS &&
	                   (double)analysis->run->reading_count * (double)analysis->run->brew_count <= FORMULA_LOOKS;
}

/* -- words that formulas name -------------------------------------------------- */

const char *const formula_words[FORMULA_WORDS] = {
	[TAB_SUMMARY] = "Summary",
	[TAB_BREWS] = "Brews",
	[TAB_READINGS] = "Readings",
	[TAB_METER] = "Meter",
	[TAB_COMPARISONS] = "Comparisons",
	[TAB_FAIRNESS] = "Fairness",
	[TAB_METHOD] = "Method",
	[WORD_YES] = "yes",
	[WORD_NO] = "no",
	[WORD_ZERO] = "zero",
	[WORD_STANDARD] = "standard",
};

static bool fit_for_formula(struct slice text)
{
	/* one program keeps a tab's name for itself, in whatever case */
	if (text.len == 0 || utf8_count(text) > FORMULA_WORD_CHARACTERS ||
	    slice_equal_nocase(text, SLICE_OF("History")))
		return false;
	for (size_t i = 0; i < text.len; i++)
		if ((unsigned char)text.text[i] < ' ' || text.text[i] == 127 ||
		    strchr("'\"[]:*?/\\<>=~&%!", text.text[i]))
			return false;
	return true;
}

static void take_word(struct layout *layout, size_t word, const struct labels *labels)
{
	struct slice own = labels_find(labels, slice_from(formula_words[word]));

	snprintf(layout->word[word], sizeof(layout->word[word]), "%.*s",
	         SLICE_ARG(fit_for_formula(own) ? own : slice_from(formula_words[word])));
}

static bool tabs_differ(const struct layout *layout)
{
	for (size_t i = 0; i < TABS; i++)
		for (size_t k = i + 1; k < TABS; k++)
			if (slice_equal_nocase(slice_from(layout->word[i]), slice_from(layout->word[k])))
				return false;
	return true;
}

static void lay_words(struct layout *layout, const struct labels *labels)
{
	for (size_t i = 0; i < FORMULA_WORDS; i++)
		take_word(layout, i, labels);
	if (!tabs_differ(layout))
		for (size_t i = 0; i < TABS; i++)
			take_word(layout, i, NULL);
}

/* -- all ---------------------------------------------------------------------- */

enum status layout_make(struct layout *out, const struct analysis *analysis, const struct labels *labels,
                        struct error *error)
{
	const struct run *run = analysis->run;
	size_t *next;

	*out = (struct layout){ .place = NULL };
	if (run->brew_count > LXW_ROW_MAX - TABLE_FIRST_ROW)
		return error_set(error, STATUS_INVALID, "%zu brews are more than a sheet has rows", run->brew_count);
	next = calloc(run->treatment_count + 1, sizeof(*next));
	*out = (struct layout){
		.place = calloc(run->treatment_count + 1, sizeof(*out->place)),
		.brew_order = calloc(run->brew_count + 1, sizeof(*out->brew_order)),
		.first_brew = calloc(run->treatment_count + 1, sizeof(*out->first_brew)),
		.brew_row = calloc(run->brew_count + 1, sizeof(*out->brew_row)),
		.extras = calloc(run->column_count + 1, sizeof(*out->extras)),
	};
	if (!out->place || !out->brew_order || !out->first_brew || !out->brew_row || !out->extras || !next) {
		free(next);
		layout_release(out);
		return error_set(error, STATUS_MEMORY, "no memory to lay out %zu brews", run->brew_count);
	}
	lay_words(out, labels);
	lay_brews(out, analysis);
	order_brews(out, analysis, next);
	lay_readings(out, analysis);
	free(next);
	return STATUS_OK;
}

void layout_release(struct layout *layout)
{
	free(layout->place);
	free(layout->brew_order);
	free(layout->first_brew);
	free(layout->brew_row);
	free(layout->extras);
	*layout = (struct layout){ .place = NULL };
}

int layout_response(const struct layout *layout, const struct analysis *analysis)
{
	return layout->brews_at[analysis->comparison.response.is_yield ? BREWS_YIELD : BREWS_RESPONSE];
}

/* The library's own takes five times as long, for it prints by a format: a hundredth of a small report. */
struct cell_name cell_name(int column, lxw_row_t row)
{
	struct cell_name name;
	char digits[10];
	size_t at = sizeof(digits), len;

	lxw_col_to_name(name.text, (lxw_col_t)column, 0);
	len = strlen(name.text);
	row++;
	do
		digits[--at] = (char)('0' + row % 10);
	while ((row /= 10) > 0);
	memcpy(name.text + len, digits + at, sizeof(digits) - at);
	name.text[len + sizeof(digits) - at] = '\0';
	return name;
}

struct range_name range_name(const char *tab, int column, lxw_row_t first, lxw_row_t last)
{
	struct range_name name;
	char letters[8];

	lxw_col_to_name(letters, (lxw_col_t)column, 0);
	snprintf(name.text, sizeof(name.text), "'%s'!$%s$%u:$%s$%u", tab, letters, first + 1, letters, last + 1);
	return name;
}

struct range_name brews_range(const struct layout *layout, int column)
{
	return range_name(layout->word[TAB_BREWS], column, TABLE_FIRST_ROW, layout->brews_last);
}

struct range_name readings_range(const struct layout *layout, enum readings_column column)
{
	return range_name(layout->word[TAB_READINGS], layout->readings_at[column], TABLE_FIRST_ROW,
	                  layout->readings_last);
}
