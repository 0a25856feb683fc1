/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sheet.h"

#include "correct.h"
#include "remarks.h"
#include "timestamp.h"

#define MICROSECONDS_A_DAY 86400e6
#define SERIAL_OF_1970     25569.0 /* days from the spreadsheets' day 0 */

enum { INDEX_DECIMALS = 6 };

static const struct column_head heads[READINGS_COLUMNS] = {
	[READINGS_BREW] = { "Brew no.", "as on Brews", 7, .words = false },
	[READINGS_CUP] = { "Cup", "as the line names it", 14, .words = true },
	[READINGS_USED] = { "Used", "counts in the mean: yes or no", 9, .words = true },
	[READINGS_SHOWN] = { "Shown", "what the display said", 9, .words = false },
	[READINGS_UNIT] = { "Unit", NULL, 7, .words = true },
	[READINGS_TEMP] = { "Sample, °C", "as told", 8, .words = false },
	[READINGS_BRIX_SHOWN] = { "Shown, °Bx", "on the sugar scale", 10, .words = false },
	[READINGS_INDEX_SHOWN] = { "Index shown", "refractive index, at the meter's own temperature", 11,
	                           .words = false },
	[READINGS_OFFSET] = { "Zero offset", "what distilled water was off by", 11, .words = false },
	[READINGS_INDEX] = { "Index", "less the zero offset", 11, .words = false },
	[READINGS_TEMP_USED] = { "Taken at, °C", "temperature it holds for", 9, .words = false },
	[READINGS_BRIX] = { "Strength, °Bx", "after zero and temperature", 10, .words = false },
	[READINGS_FACTOR] = { "TDS per °Bx", "of the kind of sample", 9, .words = false },
	[READINGS_DILUTION] = { "Dilution", "times the sample", 9, .words = false },
	[READINGS_TDS] = { "TDS, %", "corrected: strength × TDS per °Bx", 10, .words = false },
	[READINGS_TAKEN] = { "Taken", "UTC", 19, .words = false },
	[READINGS_REMARKS] = { "Remarks", NULL, 34, .words = true },
	[READINGS_LINE] = { "Line", "as it came", 34, .words = true },
	[READINGS_PLACE] = { "Where", "file, line, column", 26, .words = true },
};

static enum formula_word used_word(const struct reading *reading, bool counts)
{
	if (counts)
		return WORD_YES;
	if (reading->role == READING_ZERO && reading_used(reading))
		return WORD_ZERO;
	if (reading->role == READING_STANDARD && reading_used(reading))
		return WORD_STANDARD;
	return WORD_NO;
}

static struct cell_name here(const struct book *book, const struct pen *pen, enum readings_column column)
{
	return cell_name(book->layout.readings_at[column], pen->row);
}

static void write_shown(struct book *book, struct pen *pen, const struct reading *reading,
                        const struct correction *correction, enum style family)
{
	pen_number(pen, reading->value, style_decimals(family, reading->decimals));
	pen_words(pen, unit_symbol(correction->unit), STYLE_TEXT);
	if (book->layout.readings_at[READINGS_TEMP] >= 0) {
		if (reading->line->temp_c == reading->line->temp_c)
			pen_number(pen, reading->line->temp_c, style_decimals(family, 1));
		else
			pen_words(pen, "", STYLE_TEXT);
	}
	switch (correction->unit) {
	case UNIT_TDS_PERCENT:
		pen_formula(pen, correction->brix_shown, style_decimals(family, 3), "%s/'%s'!$%s$%u",
		            here(book, pen, READINGS_SHOWN).text, book->layout.word[TAB_METER], METER_FACTOR_LETTER,
		            book->meter_row + reading->meter + 1U);
		break;
	case UNIT_BRIX:
		pen_formula(pen, correction->brix_shown, style_decimals(family, 3), "%s",
		            here(book, pen, READINGS_SHOWN).text);
		break;
	case UNIT_INDEX:
	case UNIT_NONE:
		pen_number(pen, correction->brix_shown, style_decimals(family, 3));
		break;
	}
}

static void write_chain(struct book *book, struct pen *pen, const struct correction *correction, enum style family)
{
	bool diluted = book->layout.readings_at[READINGS_DILUTION] >= 0;
	enum style index = style_decimals(family, INDEX_DECIMALS);

	pen_number(pen, correction->n_shown, index);
	pen_number(pen, correction->delta_n, index);
	pen_formula(pen, correction->n_zeroed, index, "%s-%s", here(book, pen, READINGS_INDEX_SHOWN).text,
	            here(book, pen, READINGS_OFFSET).text);
	pen_number(pen, correction->temp_used_c, style_decimals(family, 1));
	pen_number(pen, correction->brix, style_decimals(family, 3));
	pen_number(pen, correction->type_factor, style_decimals(family, 2));
	if (diluted) {
		pen_number(pen, correction->dilution_factor, style_decimals(family, 3));
		pen_formula(pen, correction->tds_percent, style_decimals(family, book->layout.tds_decimals + 1),
		            "%s*%s*%s", here(book, pen, READINGS_BRIX).text, here(book, pen, READINGS_FACTOR).text,
		            here(book, pen, READINGS_DILUTION).text);
	} else {
		pen_formula(pen, correction->tds_percent, style_decimals(family, book->layout.tds_decimals + 1),
		            "%s*%s", here(book, pen, READINGS_BRIX).text, here(book, pen, READINGS_FACTOR).text);
	}
}

static void write_origin(struct book *book, struct pen *pen, const struct reading *reading,
                         const struct correction *correction)
{
	const int *at = book->layout.readings_at;

	if (at[READINGS_TAKEN] >= 0) {
		char text[TIMESTAMP_TEXT];

		if (reading->line->taken_us != READING_NO_TIME && moment_undated(reading->line->taken_us))
			pen_text(pen, slice_from(moment_print(text, sizeof(text), reading->line->taken_us, 0)),
			         STYLE_TEXT);
		else if (reading->line->taken_us != READING_NO_TIME)
			pen_number(pen, (double)reading->line->taken_us / MICROSECONDS_A_DAY + SERIAL_OF_1970,
			           STYLE_TIME);
		else
			pen_words(pen, "", STYLE_TEXT);
	}
	if (at[READINGS_REMARKS] >= 0) {
		remarks_reading(&book->phrase, reading, correction);
		pen_text(pen, phrase_slice(&book->phrase), STYLE_TEXT);
	}
	pen_text(pen, reading->line->raw, STYLE_TEXT);
	if (at[READINGS_PLACE] >= 0) {
		remarks_place(&book->phrase, reading_place(reading));
		pen_text(pen, phrase_slice(&book->phrase), STYLE_FAINT);
	}
}

static void write_reading(struct book *book, struct pen *pen, size_t i)
{
	const struct reading *reading = &book->analysis->run->readings[i];
	bool counts = correct_counts(book->analysis, i);
	enum style family = counts ? STYLE_DECIMALS : STYLE_UNUSED;
	struct correction correction;

	correct_steps(&correction, book->analysis, i);
	if (reading->brew != READING_NO_BREW)
		pen_count(pen, reading->brew + 1U, STYLE_KEY);
	else
		pen_words(pen, "", STYLE_TEXT);
	pen_text(pen, reading->line->label, STYLE_TEXT);
	pen_text(pen, slice_from(book->layout.word[used_word(reading, counts)]),
	         counts || (reading->role != READING_SAMPLE && reading_used(reading)) ? STYLE_TEXT : STYLE_MARK);
	write_shown(book, pen, reading, &correction, family);
	write_chain(book, pen, &correction, family);
	write_origin(book, pen, reading, &correction);
	pen_down(pen);
}

/* -- the sheets, of which there are as many as the readings need --------------- */

struct feed {
	struct book *book;
	struct pen *pens;
	size_t part;
	size_t on_part; /* readings on this sheet so far */
};

/* Of the sheet that is begun. */
static lxw_row_t last_row(const struct feed *feed)
{
	size_t left = feed->book->analysis->run->reading_count - feed->part * READINGS_A_SHEET;

	if (left > READINGS_A_SHEET)
		left = READINGS_A_SHEET;
	return (lxw_row_t)(TABLE_FIRST_ROW + (left > 0 ? left - 1 : 0));
}

static void begin_part(struct feed *feed)
{
	struct pen *pen = &feed->pens[feed->part];
	struct column_head present[READINGS_COLUMNS];
	size_t count = 0;

	for (int c = 0; c < READINGS_COLUMNS; c++)
		if (feed->book->layout.readings_at[c] >= 0)
			present[count++] = heads[c];
	sheet_widths(pen, present, count);
	sheet_title(pen, formula_words[sheet_readings.tab], sheet_readings.about);
	sheet_print_area(pen, feed->book->layout.readings_at[READINGS_LINE] - 1, last_row(feed));
	sheet_heads(pen, present, count);
}

static void feed_reading(struct feed *feed, size_t i)
{
	if (feed->on_part == READINGS_A_SHEET) {
		feed->part++;
		feed->on_part = 0;
		begin_part(feed);
	}
	write_reading(feed->book, &feed->pens[feed->part], i);
	feed->on_part++;
}

static void write_readings(struct book *book, struct pen *pens)
{
	const struct analysis *analysis = book->analysis;
	const struct run *run = analysis->run;
	struct feed feed = { .book = book, .pens = pens };

	begin_part(&feed);
	sheet_name_range(book, pens, &sheet_readings, "reading_brew", book->layout.readings_at[READINGS_BREW],
	                 TABLE_FIRST_ROW, book->layout.readings_last);
	sheet_name_range(book, pens, &sheet_readings, "reading_used", book->layout.readings_at[READINGS_USED],
	                 TABLE_FIRST_ROW, book->layout.readings_last);
	sheet_name_range(book, pens, &sheet_readings, "reading_tds", book->layout.readings_at[READINGS_TDS],
	                 TABLE_FIRST_ROW, book->layout.readings_last);
	for (size_t row = 0; row < run->brew_count; row++) {
		const struct brew_result *brew = &analysis->brews[book->layout.brew_order[row]];

		for (size_t k = brew->first; k < brew->first + brew->count; k++)
			feed_reading(&feed, analysis->by_brew[k]);
	}
	for (size_t i = 0; i < run->reading_count && book->layout.loose_count > 0; i++)
		if (run->readings[i].brew == READING_NO_BREW)
			feed_reading(&feed, i);
}

static size_t count_parts(const struct book *book)
{
	return book->layout.readings_sheets;
}

const struct sheet sheet_readings = {
	.tab = TAB_READINGS,
	.about =
		"Each reading, its correction step by step, and the line it came from. Change a \"yes\" to \"no\" and the brew's TDS and yield follow.",
	.frozen = TABLE_FIRST_ROW,
	.frozen_columns = 3,
	.parts = count_parts,
	.write = write_readings,
};
