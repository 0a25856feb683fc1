/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sheet.h"

#include <math.h>

#include "precision.h"
#include "remarks.h"

/* Columns of the table of cups, which the repeatability is made from. */
enum {
	CUPS_READINGS = 2,
	CUPS_MEAN,
	CUPS_SD,
	CUPS_MIN,
	CUPS_MAX,
	CUPS_RANGE,
	CUPS_DRIFT,
	CUPS_K,
	CUPS_H,
	CUPS_MARK,
	CUPS_DF,
	CUPS_SQUARES
};

enum { SHEET_COLUMNS = CUPS_SQUARES + 1 };

static const struct column_head cup_heads[SHEET_COLUMNS] = {
	{ "Brew", NULL, 44, .words = true },
	{ "Treatment", NULL, 24, .words = true },
	{ "Readings", "used", 10, .words = false },
	{ "TDS, %", "mean", 10, .words = false },
	{ "s, % TDS", "spread of its readings", 11, .words = false },
	{ "Lowest", "% TDS", 10, .words = false },
	{ "Highest", "% TDS", 10, .words = false },
	{ "Range", "highest less lowest", 10, .words = false },
	{ "Drift", "last less first, % TDS", 10, .words = false },
	{ "k", "spread against the pooled one (Mandel)", 10, .words = false },
	{ "h", "value against its treatment's other brews (Mandel)", 10, .words = false },
	{ "Beyond a limit", "k or h, for its own number of readings or brews", 16, .words = true },
	{ "df", "readings less meters", 8, .words = false },
	{ "Squares", "df × s²", 12, .words = false },
};

static const struct column_head meter_heads[] = {
	{ "Meter", NULL, 0, .words = true },
	{ "Shows", "where a line does not say", 0, .words = true },
	{ "Corrects", "for temperature, itself", 0, .words = true },
	{ "Holds at, °C", NULL, 0, .words = false },
	{ "TDS per °Bx", "of its own scale", 0, .words = false },
	{ "Step", "of its display", 0, .words = false },
	{ "Accuracy", "± as stated", 0, .words = false },
};

static const struct column_head zero_heads[] = {
	{ "Zero check", "reading of distilled water", 0, .words = true },
	{ "Meter", NULL, 0, .words = true },
	{ "Shown", NULL, 0, .words = false },
	{ "At, °C", NULL, 0, .words = false },
	{ "Offset", "as an index", 0, .words = false },
	{ "As TDS, %", "what it would add to a reading", 0, .words = false },
};

static const struct column_head budget_heads[] = {
	{ "Source", NULL, 0, .words = true },
	{ "In a difference", "between brews of this run", 0, .words = true },
	{ "u", "standard uncertainty", 0, .words = false },
	{ "Unit", NULL, 0, .words = true },
	{ "Yield points", "that it alone makes", 0, .words = false },
	{ "Share, %", "of the variance", 0, .words = false },
};

#define HEADS(heads) heads, sizeof(heads) / sizeof((heads)[0])

enum {
	HEADING_ROWS = 2,
	HEAD_ROWS = 2,
	REPEAT_ROWS = 15,
	BUDGET_TOTAL_ROWS = 2,
};

static size_t count_sentences(const struct analysis *analysis)
{
	size_t count = 0;

	for (size_t i = 0; i < analysis->sentence_count; i++)
		count += analysis->sentences[i].topic == TOPIC_METER;
	return count;
}

static size_t budget_rows(const struct analysis *analysis)
{
	return analysis->budget_row_count > 0 ?
	               HEADING_ROWS + HEAD_ROWS + analysis->budget_row_count + BUDGET_TOTAL_ROWS :
	               0;
}

/* Where the table of cups begins: the repeatability, above it, is made from its columns. */
static lxw_row_t cups_row(const struct analysis *analysis)
{
	size_t row = TABLE_HEAD_ROW + count_sentences(analysis);

	row += HEADING_ROWS + REPEAT_ROWS;
	row += HEADING_ROWS + HEAD_ROWS + analysis->run->meter_count;
	row += HEADING_ROWS + (analysis->zero_count > 0 ? HEAD_ROWS + analysis->zero_count : 1);
	row += budget_rows(analysis);
	row += HEADING_ROWS + HEAD_ROWS;
	return (lxw_row_t)row;
}

static struct range_name cups_range(const struct book *book, int column)
{
	lxw_row_t first = cups_row(book->analysis);
	size_t brews = book->analysis->run->brew_count;

	return range_name(book->layout.word[TAB_METER], column, first, first + (lxw_row_t)(brews > 0 ? brews - 1 : 0));
}

/* -- repeatability ---------------------------------------------------------------- */

static void label(struct pen *pen, const char *words)
{
	pen_words_across(pen, words, 2, STYLE_WRAP);
}

static void line(struct pen *pen, const char *words, double value, enum style style)
{
	label(pen, words);
	pen_number(pen, value, style);
	pen_down(pen);
}

static void write_claimed(struct book *book, struct pen *pen, lxw_row_t s_row)
{
	const struct repeatability *r = &book->analysis->repeatability;
	enum style style = style_decimals(STYLE_DECIMALS, 4);
	lxw_row_t step_row = pen->row - 1;

	label(pen, "Spread that can be claimed, % TDS: s, or what rounding hides (step / √12)");
	if (isfinite(r->s_r) && isfinite(r->step))
		pen_formula(pen, r->claimed, style, "MAX(%s,%s/SQRT(12))", cell_name(2, s_row).text,
		            cell_name(2, step_row).text);
	else
		pen_number(pen, r->claimed, style);
	pen_down(pen);
	label(pen, "Repeatability limit, % TDS: two readings of a cup differ by less (95 %)");
	pen_formula(pen, r->limit, style, "%.15g*%s", PRECISION_LIMIT_EXACT, cell_name(2, pen->row - 1).text);
	pen_down(pen);
}

static void write_repeatability(struct book *book, struct pen *pen)
{
	const struct repeatability *r = &book->analysis->repeatability;
	enum style style = style_decimals(STYLE_DECIMALS, 4);
	lxw_row_t s_row;

	sheet_heading(pen, "How well readings of one cup repeat");
	s_row = pen->row;
	label(pen, "Standard deviation s of single readings, pooled over the cups, % TDS");
	sheet_name_range(book, pen, &sheet_meter, "spread_of_readings", pen->col, s_row, s_row);
	pen_formula(pen, r->s_r, style, "SQRT(SUM(%s)/SUM(%s))", cups_range(book, CUPS_SQUARES).text,
	            cups_range(book, CUPS_DF).text);
	pen_down(pen);
	label(pen, "… its degrees of freedom");
	pen_formula(pen, r->df, STYLE_COUNT, "SUM(%s)", cups_range(book, CUPS_DF).text);
	pen_down(pen);
	line(pen, "… interval, from", r->lower, style);
	line(pen, "… to", r->upper, style);
	line(pen, "Step of the display, % TDS", r->step, style);
	write_claimed(book, pen, s_row);
	line(pen, "The spread in yield points, at this run's mean beverage and dose", r->yield_s_r,
	     style_decimals(STYLE_DECIMALS, 3));
	line(pen, "The limit in yield points", r->yield_limit, style_decimals(STYLE_DECIMALS, 3));
	line(pen, "Cochran's C: share of the largest variance among the cups", r->cochran,
	     style_decimals(STYLE_DECIMALS, 3));
	line(pen, "… a straggler above (5 %)", r->cochran_5, style_decimals(STYLE_DECIMALS, 3));
	line(pen, "… an outlier above (1 %)", r->cochran_1, style_decimals(STYLE_DECIMALS, 3));
	line(pen, "Mandel's k: a cup above this scatters unlike the others (5 %)", r->k_limit_5,
	     style_decimals(STYLE_DECIMALS, 2));
	line(pen, "Mandel's k: a cup above this scatters unlike the others (1 %)", r->k_limit,
	     style_decimals(STYLE_DECIMALS, 2));
	line(pen, "Mandel's h: a brew beyond ± this is unlike those of its treatment (1 %, most brews)",
	     book->analysis->comparison.h_limit, style_decimals(STYLE_DECIMALS, 2));
}

/* -- meters, zero checks, budget ----------------------------------------------------- */

static void write_meters(struct book *book, struct pen *pen)
{
	const struct run *run = book->analysis->run;

	sheet_heading(pen, "Meters");
	sheet_heads(pen, HEADS(meter_heads));
	book->meter_row = pen->row;
	for (size_t i = 0; i < run->meter_count; i++) {
		const struct meter *meter = &run->meters[i];

		pen_text(pen, meter->name, STYLE_STRONG);
		pen_words(pen, unit_symbol(meter->unit), STYLE_TEXT);
		pen_words(pen, meter->compensated ? "yes" : "no", STYLE_TEXT);
		pen_number(pen, meter->cal_temp_c, style_decimals(STYLE_DECIMALS, 1));
		pen_number(pen, meter->scale_factor, style_decimals(STYLE_DECIMALS, 3));
		if (isfinite(meter->step))
			pen_number(pen, meter->step, STYLE_SIGNIFICANT);
		else
			pen_words(pen, "as shown", STYLE_MISSING);
		if (isfinite(meter->accuracy))
			pen_number(pen, meter->accuracy, STYLE_SIGNIFICANT);
		else
			pen_words(pen, "not stated", STYLE_MISSING);
		pen_down(pen);
	}
}

static void write_zero(struct book *book, struct pen *pen, const struct zero_check *zero)
{
	const struct reading *reading = &book->analysis->run->readings[zero->reading];

	remarks_place(&book->phrase, reading_place(reading));
	phrase_between(&book->phrase, "  ");
	phrase_add(&book->phrase, reading->line->raw);
	pen_text(pen, phrase_slice(&book->phrase), STYLE_TEXT);
	pen_text(pen, book->analysis->run->meters[reading->meter].name, STYLE_TEXT);
	pen_number(pen, reading->value, style_decimals(STYLE_DECIMALS, reading->decimals));
	pen_number(pen, zero->offset.temp_c, style_decimals(STYLE_DECIMALS, 1));
	pen_number(pen, zero->offset.kind == ZERO_UNUSABLE ? NAN : zero->offset.delta_n,
	           style_decimals(STYLE_SIGNED, 6));
	pen_number(pen, zero->tds_percent, style_decimals(STYLE_SIGNED, 3));
	pen_down(pen);
}

static void write_zeros(struct book *book, struct pen *pen)
{
	const struct analysis *analysis = book->analysis;

	sheet_heading(pen, "Zero checks");
	if (analysis->zero_count == 0) {
		pen_words(pen, "None: the zero of the meter is taken as right.", STYLE_MARK);
		pen_down(pen);
		return;
	}
	sheet_heads(pen, HEADS(zero_heads));
	for (size_t i = 0; i < analysis->zero_count; i++)
		write_zero(book, pen, &analysis->zeros[i]);
}

static void write_budget_totals(struct book *book, struct pen *pen, lxw_row_t first)
{
	const struct budget *budget = &book->analysis->brews[book->analysis->budget_brew].budget;
	lxw_row_t last = pen->row - 1;
	enum style style = style_decimals(STYLE_DECIMALS, 3);

	pen_words(pen, "All together: standard uncertainty of the yield, points", STYLE_STRONG);
	pen_skip(pen, 3);
	pen_formula(pen, budget->u, style, "SQRT(SUMSQ(%s:%s))", cell_name(4, first).text, cell_name(4, last).text);
	pen_down(pen);
	pen_words(pen, "The same by simulation (Monte Carlo)", STYLE_TEXT);
	pen_skip(pen, 3);
	pen_number(pen, book->analysis->montecarlo_u, style);
	pen_down(pen);
}

static void write_budget(struct book *book, struct pen *pen)
{
	const struct analysis *analysis = book->analysis;
	lxw_row_t first;

	if (analysis->budget_row_count == 0)
		return;
	phrase_clear(&book->phrase);
	phrase_fill(&book->phrase, "Where the uncertainty of one yield comes from: brew {brew}",
	            &(struct phrase_part){ "brew", analysis->run->brews[analysis->budget_brew].label }, 1);
	pen_down(pen);
	pen_height(pen, 20.0);
	pen_text(pen, phrase_slice(&book->phrase), STYLE_HEADING);
	pen_down(pen);
	sheet_heads(pen, HEADS(budget_heads));
	first = pen->row;
	for (size_t i = 0; i < analysis->budget_row_count; i++) {
		const struct budget_row *row = &analysis->budget_rows[i];

		pen_words(pen, row->name, STYLE_TEXT);
		pen_words(pen, row->common ? "falls out" : "counts", STYLE_TEXT);
		pen_number(pen, row->u, style_decimals(STYLE_DECIMALS, 4));
		pen_words(pen, row->unit, STYLE_TEXT);
		pen_number(pen, row->points, style_decimals(STYLE_DECIMALS, 3));
		pen_number(pen, row->share, style_decimals(STYLE_DECIMALS, 0));
		pen_down(pen);
	}
	write_budget_totals(book, pen, first);
}

/* -- cups ---------------------------------------------------------------------------- */

/* A number of Brews, repeated by reference. */
static void write_from_brews(struct book *book, struct pen *pen, size_t b, enum brews_column column, double value,
                             enum style style)
{
	pen_formula(pen, value, style, "'%s'!%s", book->layout.word[TAB_BREWS],
	            cell_name(book->layout.brews_at[column], book->layout.brew_row[b]).text);
}

static void write_squares(struct pen *pen, const struct brew_result *brew)
{
	double df = (double)(brew->used - brew->meters);

	pen_formula(pen, df, STYLE_COUNT, "MAX(%s-%zu,0)", cell_name(CUPS_READINGS, pen->row).text,
	            brew->meters > 0 ? brew->meters : 1);
	if (df > 0)
		pen_formula(pen, df * brew->tds_sd * brew->tds_sd, style_decimals(STYLE_DECIMALS, 6), "%s*%s^2",
		            cell_name(CUPS_DF, pen->row).text, cell_name(CUPS_SD, pen->row).text);
	else
		pen_words(pen, "", STYLE_TEXT);
}

static void say_mark(struct phrase *phrase, enum outlier_mark mark, const char *at_5, const char *at_1)
{
	if (mark != OUTLIER_STRAGGLER && mark != OUTLIER_STATISTICAL)
		return;
	phrase_between(phrase, "; ");
	phrase_label(phrase, mark == OUTLIER_STATISTICAL ? at_1 : at_5);
}

static void write_marks(struct book *book, struct pen *pen, const struct brew_result *brew)
{
	phrase_clear(&book->phrase);
	say_mark(&book->phrase, brew->k_mark, "k beyond 5 %", "k beyond 1 %");
	say_mark(&book->phrase, brew->h_mark, "h beyond 5 %", "h beyond 1 %");
	pen_text(pen, phrase_slice(&book->phrase), STYLE_MARK);
}

static void write_cup(struct book *book, struct pen *pen, size_t b)
{
	const struct run *run = book->analysis->run;
	const struct brew_result *brew = &book->analysis->brews[b];
	enum style style = style_decimals(STYLE_DECIMALS, book->layout.tds_decimals + 1);

	pen_text(pen, run->brews[b].label, STYLE_STRONG);
	pen_text(pen, run->treatments[run->brews[b].treatment].name, STYLE_TEXT);
	write_from_brews(book, pen, b, BREWS_READINGS, (double)brew->used, STYLE_COUNT);
	write_from_brews(book, pen, b, BREWS_TDS, brew->tds_percent, style);
	write_from_brews(book, pen, b, BREWS_TDS_SD, brew->tds_sd, style);
	pen_number(pen, brew->tds_min, style);
	pen_number(pen, brew->tds_max, style);
	pen_formula(pen, brew->tds_max - brew->tds_min, style, "%s-%s", cell_name(CUPS_MAX, pen->row).text,
	            cell_name(CUPS_MIN, pen->row).text);
	pen_number(pen, brew->tds_drift, style_decimals(STYLE_SIGNED, book->layout.tds_decimals + 1));
	pen_number(pen, brew->used > brew->meters ? brew->mandel_k : NAN, style_decimals(STYLE_DECIMALS, 2));
	if (isfinite(brew->mandel_h))
		pen_number(pen, brew->mandel_h, style_decimals(STYLE_SIGNED, 2));
	else
		pen_words(pen, "", STYLE_TEXT);
	write_marks(book, pen, brew);
	write_squares(pen, brew);
	pen_down(pen);
}

static void write_cups(struct book *book, struct pen *pen)
{
	const struct run *run = book->analysis->run;

	sheet_heading(pen, "Cup by cup");
	sheet_heads(pen, HEADS(cup_heads));
	if (pen->row != cups_row(book->analysis))
		pen_note(pen, LXW_ERROR_PARAMETER_VALIDATION);
	for (size_t row = 0; row < run->brew_count; row++)
		write_cup(book, pen, book->layout.brew_order[row]);
}

static void write_meter(struct book *book, struct pen *pen)
{
	sheet_widths(pen, HEADS(cup_heads));
	sheet_title(pen, formula_words[sheet_meter.tab], sheet_meter.about);
	sheet_topic(book, pen, TOPIC_METER, SHEET_COLUMNS);
	write_repeatability(book, pen);
	write_meters(book, pen);
	write_zeros(book, pen);
	write_budget(book, pen);
	write_cups(book, pen);
}

const struct sheet sheet_meter = {
	.tab = TAB_METER,
	.about = "How well the meter repeats, how far off its zero was, and how each cup's readings lie together.",
	.write = write_meter,
};
