/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sheet.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "chart.h"
#include "text.h"
#include "verdict_words.h"

/* Columns of the table; those behind the letters only where there is something in them. */
enum summary_column {
	SUMMARY_PLACE,
	SUMMARY_TREATMENT,
	SUMMARY_BREWS,
	SUMMARY_MEAN,
	SUMMARY_HALF,
	SUMMARY_LOWER,
	SUMMARY_UPPER,
	SUMMARY_ADJUSTED,
	SUMMARY_LETTERS,
	SUMMARY_DIFFERENCE,
	SUMMARY_VERDICT,
	SUMMARY_TDS,
	SUMMARY_RETAINED,
	SUMMARY_NOTES,
	SUMMARY_COLUMNS
};

enum {
	FINDINGS_SHOWN = 4,
	CAUTIONS_SHOWN = 6,
	ONE_PAGE_TREATMENTS = 12,
	NAMES_MOST = 160, /* bytes of treatments' names in the question */
	NOTES_MOST = 240, /* bytes of a treatment's notes; Brews has all of them */
};

/* -- what the table has ------------------------------------------------------------- */

static bool any_retained(const struct analysis *analysis)
{
	for (size_t t = 0; t < analysis->run->treatment_count; t++)
		if (isfinite(analysis->treatments[t].retained_per_g))
			return true;
	return false;
}

static bool any_interval(const struct analysis *analysis)
{
	for (size_t t = 0; t < analysis->run->treatment_count; t++)
		if (isfinite(analysis->treatments[t].upper))
			return true;
	return false;
}

static bool has(const struct book *book, enum summary_column column)
{
	const struct analysis *analysis = book->analysis;

	switch (column) {
	case SUMMARY_HALF:
	case SUMMARY_LOWER:
	case SUMMARY_UPPER:
		return any_interval(analysis); /* one brew each: the findings say why there is none */
	case SUMMARY_ADJUSTED:
		return analysis->comparison.block_adjusted;
	case SUMMARY_LETTERS:
		return analysis->comparison.letters;
	case SUMMARY_DIFFERENCE:
	case SUMMARY_VERDICT:
		return analysis->comparison.against_count > 0;
	case SUMMARY_TDS:
		return strcmp(analysis->comparison.response.name, "TDS") != 0;
	case SUMMARY_RETAINED:
		return any_retained(analysis);
	case SUMMARY_NOTES:
		return any_word(analysis->run, BREW_NOTES);
	case SUMMARY_PLACE:
	case SUMMARY_TREATMENT:
	case SUMMARY_BREWS:
	case SUMMARY_MEAN:
	case SUMMARY_COLUMNS:
		break;
	}
	return true;
}

static size_t count_findings(const struct analysis *analysis)
{
	size_t count = 0;

	for (size_t i = 0; i < analysis->sentence_count; i++)
		count += analysis->sentences[i].topic == TOPIC_RESULT;
	return count;
}

/* Title, question and dates, a free row, the findings, a free row, the table's two rows of head. */
static lxw_row_t table_row(const struct book *book)
{
	size_t findings = count_findings(book->analysis);

	return (lxw_row_t)(TABLE_HEAD_ROW + (findings < FINDINGS_SHOWN ? findings : FINDINGS_SHOWN + 1) + 1 + 2);
}

lxw_row_t summary_row(const struct book *book, size_t treatment)
{
	return table_row(book) + book->layout.place[treatment] - 1;
}

/* -- heads -------------------------------------------------------------------------- */

static const struct column_head heads[SUMMARY_COLUMNS] = {
	[SUMMARY_PLACE] = { "No.", NULL, 6, .words = false },
	[SUMMARY_TREATMENT] = { "Treatment", "largest mean first", 26, .words = true },
	[SUMMARY_BREWS] = { "Brews", "with a result", 8, .words = false },
	[SUMMARY_MEAN] = { NULL, "mean of its brews", 11, .words = false },
	[SUMMARY_HALF] = { "±", NULL, 9, .words = false },
	[SUMMARY_LOWER] = { "from", NULL, 9, .words = false },
	[SUMMARY_UPPER] = { "to", NULL, 9, .words = false },
	[SUMMARY_ADJUSTED] = { "Adjusted", "the rounds' differences taken out", 10, .words = false },
	[SUMMARY_LETTERS] = { "Letters", "in common: not told apart", 11, .words = true },
	[SUMMARY_DIFFERENCE] = { "Difference", NULL, 14, .words = false },
	[SUMMARY_VERDICT] = { "Verdict", "against the control", 20, .words = true },
	[SUMMARY_TDS] = { "TDS, %", "mean of its brews", 9, .words = false },
	[SUMMARY_RETAINED] = { "Retained, g/g", "water kept by a gram of coffee", 11, .words = false },
	[SUMMARY_NOTES] = { "Tasting notes", "of its brews", 48, .words = true },
};

/* The treatments' column as wide as their names, within reason. */
static double width_of(const struct book *book, enum summary_column column)
{
	const struct run *run = book->analysis->run;
	size_t longest = 0;

	if (column != SUMMARY_TREATMENT)
		return head_width(book->request->labels, &heads[column]);
	for (size_t t = 0; t < run->treatment_count; t++)
		if (utf8_count(run->treatments[t].name) > longest)
			longest = utf8_count(run->treatments[t].name);
	return fmin(fmax((double)longest + 3.0, 16.0), heads[column].width);
}

/* Where column stands; it is there. */
static int place_of(const struct book *book, enum summary_column column)
{
	int at = 0;

	for (int c = 0; c < (int)column; c++)
		at += has(book, (enum summary_column)c);
	return at;
}

int summary_difference_column(const struct book *book)
{
	return place_of(book, has(book, SUMMARY_ADJUSTED) ? SUMMARY_ADJUSTED : SUMMARY_MEAN);
}

static double table_width(const struct book *book)
{
	double width = 0;

	for (int c = 0; c < SUMMARY_COLUMNS; c++)
		if (has(book, (enum summary_column)c))
			width += width_of(book, (enum summary_column)c);
	return width;
}

static lxw_col_t table_columns(const struct book *book)
{
	lxw_col_t count = 0;

	for (int c = 0; c < SUMMARY_COLUMNS; c++)
		if (has(book, (enum summary_column)c))
			count++;
	return count;
}

static void set_widths(struct book *book, struct pen *pen)
{
	int at = 0;

	for (int c = 0; c < SUMMARY_COLUMNS; c++)
		if (has(book, (enum summary_column)c))
			pen_width(pen, at++, width_of(book, (enum summary_column)c));
}

static void write_name(struct book *book, struct pen *pen, enum summary_column column)
{
	enum style style = heads[column].words ? STYLE_HEAD : STYLE_HEAD_RIGHT;
	const struct response *response = &book->analysis->comparison.response;

	phrase_clear(&book->phrase);
	if (column == SUMMARY_MEAN) {
		say_response(&book->phrase, response);
	} else if (column == SUMMARY_DIFFERENCE && response->difference_unit[0] != '\0') {
		phrase_fill(&book->phrase, "Difference, {unit}",
		            &(struct phrase_part){
				    "unit", labels_find(book->request->labels, slice_from(response->difference_unit)) },
		            1);
	} else {
		phrase_label(&book->phrase, heads[column].name);
	}
	pen_text(pen, phrase_slice(&book->phrase), style);
}

static void write_note(struct book *book, struct pen *pen, enum summary_column column)
{
	const struct analysis *analysis = book->analysis;

	phrase_clear(&book->phrase);
	phrase_label(&book->phrase, heads[column].note);
	if (column == SUMMARY_HALF) {
		char confidence[32];

		snprintf(confidence, sizeof(confidence), "%.4g", 100 * analysis->settings->confidence);
		phrase_fill(&book->phrase,
		            analysis->comparison.blocked ? "{confidence} % interval of the mean, within rounds" :
		                                           "{confidence} % interval of the mean",
		            &(struct phrase_part){ "confidence", slice_from(confidence) }, 1);
	} else if (column == SUMMARY_DIFFERENCE) {
		phrase_fill(&book->phrase, "from {control}",
		            &(struct phrase_part){ "control",
		                                   analysis->run->treatments[analysis->comparison.control].name },
		            1);
	}
	pen_text(pen, phrase_slice(&book->phrase), heads[column].words ? STYLE_NOTE : STYLE_NOTE_RIGHT);
}

static void write_heads(struct book *book, struct pen *pen)
{
	for (int c = 0; c < SUMMARY_COLUMNS; c++)
		if (has(book, (enum summary_column)c))
			write_name(book, pen, (enum summary_column)c);
	pen_down(pen);
	for (int c = 0; c < SUMMARY_COLUMNS; c++)
		if (has(book, (enum summary_column)c))
			write_note(book, pen, (enum summary_column)c);
	pen_down(pen);
}

/* -- the table ------------------------------------------------------------------------ */

static void write_mean(struct book *book, struct pen *pen, int column, double value, enum style style)
{
	pen_formula(pen, value, style, "AVERAGEIFS(%s,%s,%s)", brews_range(&book->layout, column).text,
	            brews_range(&book->layout, book->layout.brews_at[BREWS_PLACE]).text,
	            cell_name(SUMMARY_PLACE, pen->row).text);
}

static void write_brews(struct book *book, struct pen *pen, const struct treatment_result *result)
{
	pen_formula(pen, (double)result->brews, STYLE_COUNT, "COUNTIFS(%s,%s,%s,\">-1E+300\")",
	            brews_range(&book->layout, book->layout.brews_at[BREWS_PLACE]).text,
	            cell_name(SUMMARY_PLACE, pen->row).text,
	            brews_range(&book->layout, layout_response(&book->layout, book->analysis)).text);
}

static void write_half(struct book *book, struct pen *pen, const struct treatment_result *result)
{
	enum style style = style_decimals(STYLE_DECIMALS, book->analysis->comparison.response.decimals);
	const char *tab = book->layout.word[TAB_COMPARISONS];

	struct cell_name confidence = cell_name(SPREAD_COLUMN, book->spread_row + 2);
	struct cell_name df = cell_name(SPREAD_COLUMN, book->spread_row + 1);
	struct cell_name spread = cell_name(SPREAD_COLUMN, book->spread_row);
	struct cell_name brews = cell_name(SUMMARY_BREWS, pen->row);

	if (book->analysis->comparison.step_u > 0)
		pen_formula(pen, result->upper - result->mean, style,
		            "TINV(1-'%s'!%s,'%s'!%s)*SQRT('%s'!%s^2/%s+'%s'!%s^2)", tab, confidence.text, tab, df.text,
		            tab, spread.text, brews.text, tab, cell_name(SPREAD_COLUMN, book->step_row).text);
	else
		pen_formula(pen, result->upper - result->mean, style, "TINV(1-'%s'!%s,'%s'!%s)*'%s'!%s/SQRT(%s)", tab,
		            confidence.text, tab, df.text, tab, spread.text, brews.text);
}

static const struct pair_result *pair_of(const struct comparison *comparison, size_t treatment)
{
	for (size_t i = 0; i < comparison->against_count; i++)
		if (comparison->against[i].a == treatment)
			return &comparison->against[i];
	return NULL;
}

static void write_against(struct book *book, struct pen *pen, size_t treatment)
{
	const struct comparison *comparison = &book->analysis->comparison;
	const struct pair_result *pair = pair_of(comparison, treatment);

	if (!pair) {
		pen_words(pen, treatment == comparison->control ? "control" : "", STYLE_TEXT_RIGHT);
		pen_words(pen, "", STYLE_TEXT);
		return;
	}
	pen_formula(pen, pair->difference, style_decimals(STYLE_SIGNED, comparison->response.decimals), "%s-%s",
	            cell_name(summary_difference_column(book), pen->row).text,
	            cell_name(summary_difference_column(book), summary_row(book, comparison->control)).text);
	pen_words(pen, comparison->source == SPREAD_NONE ? "no spread known" : verdict_word(pair->verdict),
	          pair->verdict == VERDICT_DIFFER ? STYLE_STRONG : STYLE_WRAP);
}

/* Adds note, cut between characters where it is longer than the room that is left. */
static void add_note(struct phrase *phrase, struct slice note)
{
	size_t room = phrase->len < NOTES_MOST ? NOTES_MOST - phrase->len : 0;

	if (note.len <= room) {
		phrase_add(phrase, note);
		return;
	}
	while (room > 0 && ((unsigned char)note.text[room] & 0xC0) == 0x80)
		room--;
	phrase_add(phrase, slice_part(note, 0, room));
	phrase_words(phrase, "…");
}

static void say_notes(struct book *book, size_t treatment)
{
	const struct run *run = book->analysis->run;

	phrase_clear(&book->phrase);
	for (size_t row = book->layout.first_brew[treatment]; row < run->brew_count; row++) {
		const struct brew *brew = &run->brews[book->layout.brew_order[row]];

		if (brew->treatment != treatment || book->phrase.len >= NOTES_MOST)
			break;
		if (brew->word[BREW_NOTES].len == 0)
			continue;
		phrase_between(&book->phrase, " · ");
		phrase_add(&book->phrase, brew->label);
		phrase_words(&book->phrase, ": ");
		add_note(&book->phrase, brew->word[BREW_NOTES]);
	}
}

static void write_treatment(struct book *book, struct pen *pen, size_t treatment)
{
	const struct analysis *analysis = book->analysis;
	const struct treatment_result *result = &analysis->treatments[treatment];
	enum style style = style_decimals(STYLE_DECIMALS, analysis->comparison.response.decimals);
	struct cell_name mean = cell_name(SUMMARY_MEAN, pen->row);
	struct cell_name half = cell_name(SUMMARY_HALF, pen->row);

	pen_count(pen, book->layout.place[treatment], STYLE_KEY);
	pen_text(pen, analysis->run->treatments[treatment].name, STYLE_STRONG);
	write_brews(book, pen, result);
	write_mean(book, pen, layout_response(&book->layout, analysis), result->mean, style);
	if (has(book, SUMMARY_HALF)) {
		write_half(book, pen, result);
		pen_formula(pen, result->lower, style, "%s-%s", mean.text, half.text);
		pen_formula(pen, result->upper, style, "%s+%s", mean.text, half.text);
	}
	if (has(book, SUMMARY_ADJUSTED))
		pen_number(pen, result->adjusted, style);
	if (has(book, SUMMARY_LETTERS))
		pen_words(pen, result->letters, STYLE_CENTRE);
	if (has(book, SUMMARY_DIFFERENCE))
		write_against(book, pen, treatment);
	if (has(book, SUMMARY_TDS))
		write_mean(book, pen, book->layout.brews_at[BREWS_TDS], result->tds_percent,
		           style_decimals(STYLE_DECIMALS, book->layout.tds_decimals));
	if (has(book, SUMMARY_RETAINED))
		write_mean(book, pen, book->layout.brews_at[BREWS_RETAINED], result->retained_per_g,
		           style_decimals(STYLE_DECIMALS, 2));
	if (has(book, SUMMARY_NOTES)) {
		say_notes(book, treatment);
		pen_text(pen, phrase_slice(&book->phrase), STYLE_WRAP);
	}
	pen_down(pen);
}

static void name_columns(struct book *book, struct pen *pen, lxw_row_t first)
{
	static const struct {
		enum summary_column column;
		const char *name;
	} named[] = {
		{ SUMMARY_TREATMENT, "treatment_name" }, { SUMMARY_BREWS, "treatment_brews" },
		{ SUMMARY_MEAN, "treatment_mean" },      { SUMMARY_LOWER, "treatment_lower" },
		{ SUMMARY_UPPER, "treatment_upper" },    { SUMMARY_DIFFERENCE, "treatment_difference" },
		{ SUMMARY_TDS, "treatment_tds" },
	};

	for (size_t i = 0; i < sizeof(named) / sizeof(named[0]); i++)
		if (has(book, named[i].column))
			sheet_name_range(book, pen, &sheet_summary, named[i].name, place_of(book, named[i].column),
			                 first, pen->row - 1);
}

static void write_table(struct book *book, struct pen *pen)
{
	lxw_row_t first;

	pen_row(pen, table_row(book) - 2);
	pen_note(pen, worksheet_repeat_rows(pen->sheet, pen->row, pen->row + 1));
	write_heads(book, pen);
	first = pen->row;
	for (size_t i = 0; i < book->analysis->run->treatment_count; i++)
		write_treatment(book, pen, book->analysis->ranked[i]);
	name_columns(book, pen, first);
}

/* -- words ---------------------------------------------------------------------------- */

/* As many of the names as fit into a line or two. */
static void say_names(struct phrase *phrase, const struct run *run)
{
	size_t begin = phrase->len;

	for (size_t i = 0; i < run->treatment_count; i++) {
		phrase_words(phrase, i > 0 ? ", " : "");
		if (phrase->len - begin + run->treatments[i].name.len > NAMES_MOST) {
			phrase_words(phrase, "…");
			return;
		}
		phrase_add(phrase, run->treatments[i].name);
	}
}

static void say_question(struct book *book)
{
	const struct analysis *analysis = book->analysis;
	const struct run *run = analysis->run;
	bool control = analysis->comparison.control != SIZE_MAX;
	struct phrase names = PHRASE_INIT;
	char treatments[24], brews_used[24], readings[24];
	size_t brews = 0;

	for (size_t b = 0; b < run->brew_count; b++)
		brews += analysis->brews[b].why == NULL;
	snprintf(treatments, sizeof(treatments), "%zu", run->treatment_count);
	snprintf(brews_used, sizeof(brews_used), "%zu", brews);
	snprintf(readings, sizeof(readings), "%zu", analysis->readings_used);
	say_names(&names, run);
	phrase_clear(&book->phrase);
	phrase_fill(
		&book->phrase,
		control ? "Does the {response} differ between the treatments ({count}: {names}), with {control} as the "
			  "control? Brews with a result: {brews}; readings used: {readings}." :
			  "Does the {response} differ between the treatments ({count}: {names})? Brews with a result: "
			  "{brews}; readings used: {readings}.",
		(struct phrase_part[]){
			{ "response",
	                  labels_find(book->request->labels, slice_from(analysis->comparison.response.name)) },
			{ "count", slice_from(treatments) },
			{ "names", phrase_slice(&names) },
			{ "control", control ? run->treatments[analysis->comparison.control].name : SLICE_OF("") },
			{ "brews", slice_from(brews_used) },
			{ "readings", slice_from(readings) },
		},
		6);
	book->phrase.failed = book->phrase.failed || names.failed;
	phrase_release(&names);
}

/* "3 more on Comparisons." */
static void write_more(struct book *book, struct pen *pen, const char *english, size_t count)
{
	char number[24];

	snprintf(number, sizeof(number), "%zu", count);
	phrase_clear(&book->phrase);
	phrase_fill(&book->phrase, english, &(struct phrase_part){ "count", slice_from(number) }, 1);
	pen_text(pen, phrase_slice(&book->phrase), STYLE_FAINT);
	pen_down(pen);
}

static void write_findings(struct book *book, struct pen *pen)
{
	const struct analysis *analysis = book->analysis;
	size_t findings = count_findings(analysis), shown = 0;

	for (size_t i = 0; i < analysis->sentence_count && shown < FINDINGS_SHOWN; i++) {
		const struct sentence *sentence = &analysis->sentences[i];
		enum style style = sentence->severity == SEVERITY_NOTE ? STYLE_SENTENCE : STYLE_CAUTION;

		if (sentence->topic != TOPIC_RESULT)
			continue;
		sheet_sentence(pen, slice_from(sentence->text), table_columns(book),
		               shown++ == 0 && style == STYLE_SENTENCE ? STYLE_LEAD : style);
	}
	if (findings > shown)
		write_more(book, pen, "{count} more on Comparisons.", findings - shown);
}

/* The repeatability, whatever it is, and whatever speaks against the comparison. */
static bool caution(const struct sentence *sentence, bool *meter_told)
{
	if (sentence->topic == TOPIC_RESULT || sentence->topic == TOPIC_COVARIATE)
		return false;
	if (sentence->topic == TOPIC_METER && !*meter_told) {
		*meter_told = true;
		return true;
	}
	return sentence->severity != SEVERITY_NOTE;
}

static void write_cautions(struct book *book, struct pen *pen)
{
	const struct analysis *analysis = book->analysis;
	bool meter_told = false;
	size_t count = 0;

	sheet_heading(pen, "Before it is published");
	for (size_t i = 0; i < analysis->sentence_count; i++) {
		const struct sentence *sentence = &analysis->sentences[i];

		if (!caution(sentence, &meter_told) || count++ >= CAUTIONS_SHOWN)
			continue;
		sheet_sentence(pen, slice_from(sentence->text), table_columns(book),
		               sentence->severity == SEVERITY_NOTE ? STYLE_SENTENCE : STYLE_CAUTION);
	}
	if (count > CAUTIONS_SHOWN) {
		write_more(book, pen, "{count} more on Fairness and Meter.", count - CAUTIONS_SHOWN);
	} else if (count == 0) {
		pen_words(pen, "Nothing speaks against the comparison: see Fairness and Meter.", STYLE_TEXT);
		pen_down(pen);
	}
}

static void write_guide(struct book *book, struct pen *pen)
{
	static const struct sheet *const others[] = { &sheet_brews,       &sheet_readings, &sheet_meter,
		                                      &sheet_comparisons, &sheet_fairness, &sheet_method };

	sheet_heading(pen, "In this workbook");
	for (size_t i = 0; i < sizeof(others) / sizeof(others[0]); i++) {
		pen_skip(pen, 1);
		pen_link(pen, book->layout.word[others[i]->tab], STYLE_LINK);
		pen_words_across(pen, others[i]->about, table_columns(book) - 2, STYLE_ABOUT_WRAPPED);
		pen_down(pen);
	}
}

static void write_title(struct book *book, struct pen *pen)
{
	pen_height(pen, 26.0);
	phrase_clear(&book->phrase);
	phrase_fill(&book->phrase, "Comparison: {name}", &(struct phrase_part){ "name", book->analysis->run->name }, 1);
	pen_text(pen, phrase_slice(&book->phrase), STYLE_TITLE);
	pen_down(pen);
	say_question(book);
	sheet_sentence(pen, phrase_slice(&book->phrase), table_columns(book), STYLE_ABOUT_WRAPPED);
	pen_row(pen, TABLE_HEAD_ROW);
}

static void write_summary(struct book *book, struct pen *pen)
{
	worksheet_gridlines(pen->sheet, LXW_HIDE_ALL_GRIDLINES);
	if (book->analysis->run->treatment_count <= ONE_PAGE_TREATMENTS)
		worksheet_fit_to_pages(pen->sheet, 1, 1);
	set_widths(book, pen);
	write_title(book, pen);
	write_findings(book, pen);
	write_table(book, pen);
	chart_insert(book, pen, table_width(book));
	write_cautions(book, pen);
	write_guide(book, pen);
}

const struct sheet sheet_summary = {
	.tab = TAB_SUMMARY,
	.about = "What was found, in one table and one chart.",
	.write = write_summary,
};
