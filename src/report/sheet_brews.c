/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sheet.h"

#include <math.h>
#include <string.h>

#include "remarks.h"

enum { YIELD_DECIMALS = 2, MINUTE_S = 60 };

/* One brew on its way into its row. */
struct entry {
	struct book *book;
	struct pen *pen;
	size_t index;
	const struct brew *brew;
	const struct brew_result *result;
};

static struct cell_name here(const struct entry *entry, enum brews_column column)
{
	return cell_name(entry->book->layout.brews_at[column], entry->pen->row);
}

/* What was typed, with its digits; an empty cell where nothing was. */
static void write_given(const struct entry *entry, enum brew_number which, int least_decimals)
{
	const struct column *column = column_known(entry->book->analysis->run, COLUMN_NUMBER + (int)which);
	int decimals = column && column->decimals > least_decimals ? column->decimals : least_decimals;

	if (isnan(entry->brew->number[which]))
		pen_words(entry->pen, "", STYLE_TEXT);
	else
		pen_number(entry->pen, entry->brew->number[which], style_decimals(STYLE_DECIMALS, decimals));
}

static void write_number(const struct entry *entry)
{
	pen_count(entry->pen, entry->index + 1, STYLE_KEY);
}

static void write_label(const struct entry *entry)
{
	pen_text(entry->pen, entry->brew->label, STYLE_STRONG);
}

static void write_place(const struct entry *entry)
{
	pen_count(entry->pen, entry->book->layout.place[entry->brew->treatment], STYLE_KEY);
}

static void write_treatment(const struct entry *entry)
{
	pen_text(entry->pen, entry->book->analysis->run->treatments[entry->brew->treatment].name, STYLE_WRAP);
}

static void write_block(const struct entry *entry)
{
	pen_text(entry->pen, entry->brew->word[BREW_BLOCK], STYLE_TEXT);
}

static void write_order(const struct entry *entry)
{
	write_given(entry, BREW_ORDER, 0);
}

static void write_method(const struct entry *entry)
{
	pen_words(entry->pen, entry->brew->method == METHOD_IMMERSION ? "immersion" : "percolation", STYLE_TEXT);
}

static void write_dose(const struct entry *entry)
{
	write_given(entry, BREW_DOSE_G, 1);
}

static void write_water(const struct entry *entry)
{
	write_given(entry, BREW_WATER_G, 1);
}

static void write_bypass(const struct entry *entry)
{
	write_given(entry, BREW_BYPASS_G, 1);
}

static void write_beverage(const struct entry *entry)
{
	if (isnan(entry->brew->number[BREW_BEVERAGE_G]) && isfinite(entry->result->yield.beverage_used_g))
		pen_number(entry->pen, entry->result->yield.beverage_used_g, style_decimals(STYLE_UNUSED, 1));
	else
		write_given(entry, BREW_BEVERAGE_G, 1);
}

static void write_moisture(const struct entry *entry)
{
	write_given(entry, BREW_MOISTURE_PERCENT, 1);
}

static void write_readings(const struct entry *entry)
{
	const struct layout *layout = &entry->book->layout;

	pen_formula(entry->pen, (double)entry->result->used, STYLE_COUNT, "COUNTIFS(%s,%s,%s,\"%s\")",
	            readings_range(layout, READINGS_BREW).text, here(entry, BREWS_NUMBER).text,
	            readings_range(layout, READINGS_USED).text, layout->word[WORD_YES]);
}

static void write_tds(const struct entry *entry)
{
	const struct layout *layout = &entry->book->layout;

	pen_formula(entry->pen, entry->result->tds_percent, style_decimals(STYLE_DECIMALS, layout->tds_decimals + 1),
	            "AVERAGEIFS(%s,%s,%s,%s,\"%s\")", readings_range(layout, READINGS_TDS).text,
	            readings_range(layout, READINGS_BREW).text, here(entry, BREWS_NUMBER).text,
	            readings_range(layout, READINGS_USED).text, layout->word[WORD_YES]);
}

static void write_tds_sd(const struct entry *entry)
{
	pen_number(entry->pen, entry->result->tds_sd,
	           style_decimals(STYLE_DECIMALS, entry->book->layout.tds_decimals + 1));
}

static void write_bed_tds(const struct entry *entry)
{
	double bypass = entry->brew->number[BREW_BYPASS_G];
	enum style style = style_decimals(STYLE_DECIMALS, entry->book->layout.tds_decimals + 1);

	if (isnan(bypass) || bypass == 0)
		pen_formula(entry->pen, entry->result->yield.bed_tds_percent, style, "%s", here(entry, BREWS_TDS).text);
	else
		pen_formula(entry->pen, entry->result->yield.bed_tds_percent, style, "%s*%s/(%s-%s)",
		            here(entry, BREWS_TDS).text, here(entry, BREWS_BEVERAGE).text,
		            here(entry, BREWS_BEVERAGE).text, here(entry, BREWS_BYPASS).text);
}

static int yield_decimals(const struct entry *entry)
{
	const struct response *response = &entry->book->analysis->comparison.response;

	return response->is_yield ? response->decimals : YIELD_DECIMALS;
}

static void write_yield(const struct entry *entry)
{
	const struct layout *layout = &entry->book->layout;
	enum style style = style_decimals(STYLE_DECIMALS, yield_decimals(entry));
	struct cell_name strength = here(entry, layout->brews_at[BREWS_BED_TDS] >= 0 ? BREWS_BED_TDS : BREWS_TDS);
	double value = entry->result->yield.yield_percent;

	switch (entry->brew->method) {
	case METHOD_PERCOLATION:
		pen_formula(entry->pen, value, style, "%s*%s/%s", here(entry, BREWS_TDS).text,
		            here(entry, BREWS_BEVERAGE).text, here(entry, BREWS_DOSE).text);
		break;
	case METHOD_IMMERSION:
		pen_formula(entry->pen, value, style, "100*%s/(100-%s)*%s/%s", strength.text, strength.text,
		            here(entry, BREWS_WATER).text, here(entry, BREWS_DOSE).text);
		break;
	}
}

static void write_yield_half(const struct entry *entry)
{
	pen_number(entry->pen, entry->result->budget.expanded, style_decimals(STYLE_DECIMALS, yield_decimals(entry)));
}

static void write_yield_dry(const struct entry *entry)
{
	pen_formula(entry->pen, entry->result->yield.yield_dry_percent,
	            style_decimals(STYLE_DECIMALS, yield_decimals(entry)), "%s/(1-%s/100)",
	            here(entry, BREWS_YIELD).text, here(entry, BREWS_MOISTURE).text);
}

static void write_retained(const struct entry *entry)
{
	struct cell_name bypass = { "0" };

	if (entry->book->layout.brews_at[BREWS_BYPASS] >= 0)
		bypass = here(entry, BREWS_BYPASS);
	pen_formula(entry->pen, entry->result->yield.retained_water_per_g, style_decimals(STYLE_DECIMALS, 2),
	            "(%s+%s-%s*(1-%s/100))/%s", here(entry, BREWS_WATER).text, bypass.text,
	            here(entry, BREWS_BEVERAGE).text, here(entry, BREWS_TDS).text, here(entry, BREWS_DOSE).text);
}

static void write_ratio(const struct entry *entry)
{
	pen_formula(entry->pen, entry->result->yield.ratio_bed, style_decimals(STYLE_DECIMALS, 2), "%s/%s",
	            here(entry, BREWS_WATER).text, here(entry, BREWS_DOSE).text);
}

static void write_response(const struct entry *entry)
{
	const struct response *response = &entry->book->analysis->comparison.response;
	enum style style = style_decimals(STYLE_DECIMALS, response->decimals);

	if (strcmp(response->name, "TDS") == 0)
		pen_formula(entry->pen, entry->result->response, style, "%s", here(entry, BREWS_TDS).text);
	else
		pen_number(entry->pen, entry->result->response, style);
}

static void write_marks(const struct entry *entry)
{
	remarks_brew(&entry->book->phrase, entry->book->analysis, entry->index);
	pen_text(entry->pen, phrase_slice(&entry->book->phrase), STYLE_MARK);
}

static void write_notes(const struct entry *entry)
{
	pen_text(entry->pen, entry->brew->word[BREW_NOTES], STYLE_WRAP);
}

static void write_waited(const struct entry *entry)
{
	pen_number(entry->pen, entry->result->waited_s / MINUTE_S, style_decimals(STYLE_DECIMALS, 1));
}

static const struct brews_row {
	struct column_head head;
	void (*write)(const struct entry *entry);
} rows[BREWS_COLUMNS] = {
	[BREWS_NUMBER] = { { "No.", "row of the manifest", 6, .words = false }, write_number },
	[BREWS_LABEL] = { { "Brew", "its cup's label", 12, .words = true }, write_label },
	[BREWS_PLACE] = { { "Tr.", "line on Summary", 6, .words = false }, write_place },
	[BREWS_TREATMENT] = { { "Treatment", NULL, 22, .words = true }, write_treatment },
	[BREWS_BLOCK] = { { "Block", NULL, 9, .words = true }, write_block },
	[BREWS_ORDER] = { { "Order", "of brewing", 7, .words = false }, write_order },
	[BREWS_METHOD] = { { "Method", NULL, 11, .words = true }, write_method },
	[BREWS_DOSE] = { { "Dose, g", "coffee as weighed", 9, .words = false }, write_dose },
	[BREWS_WATER] = { { "Water, g", "poured on the coffee", 9, .words = false }, write_water },
	[BREWS_BYPASS] = { { "Bypass, g", "water added afterwards", 9, .words = false }, write_bypass },
	[BREWS_BEVERAGE] = { { "Beverage, g", "in italics: estimated", 10, .words = false }, write_beverage },
	[BREWS_MOISTURE] = { { "Moisture, %", "of the dose", 9, .words = false }, write_moisture },
	[BREWS_READINGS] = { { "Readings", "used", 9, .words = false }, write_readings },
	[BREWS_TDS] = { { "TDS, %", "mean of its readings", 9, .words = false }, write_tds },
	[BREWS_TDS_SD] = { { "s of TDS", "spread of its readings, % TDS", 10, .words = false }, write_tds_sd },
	[BREWS_BED_TDS] = { { "TDS before bypass, %", NULL, 10, .words = false }, write_bed_tds },
	[BREWS_YIELD] = { { "Yield, %", "solids / dose", 9, .words = false }, write_yield },
	[BREWS_YIELD_HALF] = { { "±, points", "uncertainty of this yield alone", 10, .words = false },
	                       write_yield_half },
	[BREWS_YIELD_DRY] = { { "Dry yield, %", "of the dry dose", 9, .words = false }, write_yield_dry },
	[BREWS_RETAINED] = { { "Retained, g/g", "water kept by a gram of coffee", 10, .words = false },
	                     write_retained },
	[BREWS_RATIO] = { { "Ratio", "water / dose", 8, .words = false }, write_ratio },
	[BREWS_RESPONSE] = { { "Compared", "the value compared", 11, .words = false }, write_response },
	[BREWS_MARKS] = { { "Marks", "what calls for a look", 30, .words = true }, write_marks },
	[BREWS_NOTES] = { { "Tasting notes", NULL, 40, .words = true }, write_notes },
	[BREWS_WAITED] = { { "Waited, min", "from brewing to the first reading", 10, .words = false }, write_waited },
};

/* -- the manifest's other columns ---------------------------------------------- */

/* Names for the columns whose values the program has brought to its own units. */
static const struct {
	int known;
	const char *name;
	int decimals;
} own_units[] = {
	{ COLUMN_NUMBER + BREW_SAMPLE_G, "Sample, g", 2 },  { COLUMN_NUMBER + BREW_DILUENT_G, "Diluent, g", 2 },
	{ COLUMN_NUMBER + BREW_TEMP_C, "Water, °C", 0 },    { COLUMN_NUMBER + BREW_BLOOM_G, "Bloom, g", 0 },
	{ COLUMN_NUMBER + BREW_TIME_S, "Brew time, s", 0 },
};

static int own_unit(const struct column *column)
{
	for (size_t i = 0; i < sizeof(own_units) / sizeof(own_units[0]); i++)
		if (own_units[i].known == column->known)
			return (int)i;
	return -1;
}

static bool is_number(const struct column *column)
{
	return own_unit(column) >= 0 || (column->numeric && column->known < 0 && column->number);
}

static void write_extra(const struct entry *entry, const struct column *column)
{
	int own = own_unit(column);
	double value;

	if (!is_number(column)) {
		pen_text(entry->pen, column->text ? column->text[entry->index] : (struct slice){ NULL, 0 }, STYLE_WRAP);
		return;
	}
	value = own >= 0 ? entry->brew->number[column->known - COLUMN_NUMBER] : column->number[entry->index];
	if (isnan(value))
		pen_words(entry->pen, "", STYLE_TEXT);
	else
		pen_number(entry->pen, value,
		           style_decimals(STYLE_DECIMALS, own >= 0 && own_units[own].decimals > column->decimals ?
		                                                  own_units[own].decimals :
		                                                  column->decimals));
}

/* -- the sheet ------------------------------------------------------------------ */

static bool has_chart(const struct book *book)
{
	return book->analysis->run->brew_count <= CHART_BREWS;
}

static double width_of_texts(const struct run *run, bool labels)
{
	size_t most = 0;

	for (size_t b = 0; b < run->brew_count; b++) {
		size_t len = labels ? run->brews[b].label.len : run->treatments[run->brews[b].treatment].name.len;

		if (len > most)
			most = len;
	}
	return fmin(fmax((double)most + 2.0, labels ? 9.0 : 14.0), labels ? 24.0 : 32.0);
}

static void write_widths(struct book *book, struct pen *pen)
{
	const struct layout *layout = &book->layout;
	const struct run *run = book->analysis->run;

	for (int c = 0; c < BREWS_COLUMNS; c++)
		if (layout->brews_at[c] >= 0)
			pen_width(pen, layout->brews_at[c], head_width(pen->labels, &rows[c].head));
	pen_width(pen, layout->brews_at[BREWS_LABEL], width_of_texts(run, true));
	pen_width(pen, layout->brews_at[BREWS_TREATMENT], width_of_texts(run, false));
	for (size_t i = 0; i < layout->extra_count; i++)
		pen_width(pen, layout->first_extra + (int)i, is_number(&run->columns[layout->extras[i]]) ? 11.0 : 18.0);
	pen_width(pen, layout->chart_at, 8.0);
}

static void write_names(struct book *book, struct pen *pen)
{
	const struct layout *layout = &book->layout;
	const struct run *run = book->analysis->run;

	for (int c = 0; c < BREWS_COLUMNS; c++)
		if (layout->brews_at[c] >= 0)
			pen_words(pen, rows[c].head.name, rows[c].head.words ? STYLE_HEAD : STYLE_HEAD_RIGHT);
	for (size_t i = 0; i < layout->extra_count; i++) {
		const struct column *column = &run->columns[layout->extras[i]];
		enum style style = is_number(column) ? STYLE_HEAD_RIGHT : STYLE_HEAD;

		if (own_unit(column) >= 0)
			pen_words(pen, own_units[own_unit(column)].name, style);
		else
			pen_text(pen, column->header, style);
	}
	if (has_chart(book))
		pen_words(pen, "Chart", STYLE_HEAD_RIGHT);
	pen_down(pen);
}

static void write_about_columns(struct book *book, struct pen *pen)
{
	const struct layout *layout = &book->layout;

	for (int c = 0; c < BREWS_COLUMNS; c++)
		if (layout->brews_at[c] >= 0)
			pen_words(pen, rows[c].head.note, rows[c].head.words ? STYLE_NOTE : STYLE_NOTE_RIGHT);
	for (size_t i = 0; i < layout->extra_count; i++)
		pen_words(pen, "from the manifest",
		          is_number(&book->analysis->run->columns[layout->extras[i]]) ? STYLE_NOTE_RIGHT : STYLE_NOTE);
	if (has_chart(book))
		pen_words(pen, "height of its dot", STYLE_NOTE_RIGHT);
	pen_down(pen);
}

static void write_brew(struct book *book, struct pen *pen, size_t index)
{
	const struct layout *layout = &book->layout;
	const struct run *run = book->analysis->run;
	struct entry entry = {
		.book = book,
		.pen = pen,
		.index = index,
		.brew = &run->brews[index],
		.result = &book->analysis->brews[index],
	};

	for (int c = 0; c < BREWS_COLUMNS; c++)
		if (layout->brews_at[c] >= 0)
			rows[c].write(&entry);
	for (size_t i = 0; i < layout->extra_count; i++)
		write_extra(&entry, &run->columns[layout->extras[i]]);
	if (has_chart(book))
		pen_number(pen, chart_height(book, entry.brew->treatment) - CHART_BREW_DROP,
		           style_decimals(STYLE_UNUSED, 2));
	pen_down(pen);
}

static void name_columns(struct book *book, struct pen *pen)
{
	static const struct {
		enum brews_column column;
		const char *name;
	} named[] = {
		{ BREWS_LABEL, "brew_label" }, { BREWS_TREATMENT, "brew_treatment" }, { BREWS_DOSE, "brew_dose" },
		{ BREWS_WATER, "brew_water" }, { BREWS_BEVERAGE, "brew_beverage" },   { BREWS_TDS, "brew_tds" },
		{ BREWS_YIELD, "brew_yield" }, { BREWS_RETAINED, "brew_retained" },   { BREWS_RATIO, "brew_ratio" },
	};

	for (size_t i = 0; i < sizeof(named) / sizeof(named[0]); i++)
		sheet_name_range(book, pen, &sheet_brews, named[i].name, book->layout.brews_at[named[i].column],
		                 TABLE_FIRST_ROW, book->layout.brews_last);
}

static void write_brews(struct book *book, struct pen *pen)
{
	write_widths(book, pen);
	sheet_title(pen, formula_words[sheet_brews.tab], sheet_brews.about);
	sheet_print_area(pen, book->layout.first_extra - 1, book->layout.brews_last);
	write_names(book, pen);
	write_about_columns(book, pen);
	for (size_t row = 0; row < book->analysis->run->brew_count; row++)
		write_brew(book, pen, book->layout.brew_order[row]);
	name_columns(book, pen);
}

const struct sheet sheet_brews = {
	.tab = TAB_BREWS,
	.about =
		"Each brew: what was weighed, its strength and yield with the formulas that make them, and how it tasted.",
	.frozen = TABLE_FIRST_ROW,
	.frozen_columns = 2,
	.write = write_brews,
};
