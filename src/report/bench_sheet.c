/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench_sheet.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "book_file.h"
#include "phrase.h"

enum {
	PAGES = 4,
	XLSX_A4 = 9,
	XLSX_LETTER = 1,
	COLUMNS_MOST = BENCH_READINGS_MOST + 4,
	BREWING_COLUMNS = 11,
	TASTING_COLUMNS = 4,
	KEY_COLUMNS = 4,
};

enum { COLOUR_BENCH_LINE = 0x66717A, COLOUR_BENCH_SHADE = 0xECEFF2 };

#define WRITING_POINTS 28.0 /* a line to write on by hand */
#define FIELD_POINTS   38.0
#define TASTING_POINTS 40.0
#define KEY_POINTS     20.0
#define PAGE_WIDTH     100.0 /* characters across every page, so that all print at one size */

/* Document properties need a moment; a plan has none, so it is always this one: 2000-01-01 00:00 UTC. */
#define NO_MOMENT 946684800

/* The same looks with and without lines round a cell. */
struct palettes {
	lxw_format *plain[STYLES];
	lxw_format *boxed[STYLES];
	lxw_format *first[STYLES];  /* boxed, under the heavier line that begins a round */
	lxw_format *shaded[STYLES]; /* boxed, for what is no cup */
	lxw_format *field[STYLES];  /* boxed, its name in the corner and room below */
};

struct bench {
	const struct run_plan *plan;
	const struct bench_request *request;
	struct book_file file;
	struct palettes palettes;
	struct cell_text text;
	struct phrase phrase;
};

struct page {
	const char *title;
	const char *about;
	void (*write)(struct bench *bench, struct pen *pen);
};

struct head {
	const char *name;
	const char *target; /* NULL: none */
	double width;
};

/* -- looks ------------------------------------------------------------------------- */

static bool palette_make(lxw_workbook *workbook, lxw_format **styles, uint8_t down)
{
	if (!styles_make(workbook, styles))
		return false;
	for (int i = 0; i < STYLES && down; i++) {
		format_set_border(styles[i], LXW_BORDER_THIN);
		format_set_border_color(styles[i], COLOUR_BENCH_LINE);
		format_set_align(styles[i], down);
	}
	return true;
}

static bool palettes_make(lxw_workbook *workbook, struct palettes *palettes)
{
	if (!palette_make(workbook, palettes->plain, 0) ||
	    !palette_make(workbook, palettes->boxed, LXW_ALIGN_VERTICAL_CENTER) ||
	    !palette_make(workbook, palettes->first, LXW_ALIGN_VERTICAL_CENTER) ||
	    !palette_make(workbook, palettes->shaded, LXW_ALIGN_VERTICAL_CENTER) ||
	    !palette_make(workbook, palettes->field, LXW_ALIGN_VERTICAL_TOP))
		return false;
	for (int i = 0; i < STYLES; i++) {
		format_set_top(palettes->first[i], LXW_BORDER_MEDIUM);
		format_set_top_color(palettes->first[i], COLOUR_INK);
		format_set_pattern(palettes->shaded[i], LXW_PATTERN_SOLID);
		format_set_fg_color(palettes->shaded[i], COLOUR_BENCH_SHADE);
	}
	return true;
}

/* -- parts of a page ------------------------------------------------------------------ */

static void write_title(struct pen *pen, const struct page *page)
{
	pen_height(pen, 26.0);
	pen_words(pen, page->title, STYLE_TITLE);
	pen_down(pen);
	pen_words(pen, page->about, STYLE_ABOUT_SHEET);
	pen_down(pen);
	pen_down(pen);
}

static void write_caution(struct pen *pen, lxw_col_t columns, const char *words)
{
	pen_across(pen, slice_from(words), columns, STYLE_CAUTION);
	pen_down(pen);
}

static void write_sentence(struct pen *pen, lxw_col_t columns, const char *words)
{
	pen_across(pen, slice_from(words), columns, STYLE_SENTENCE);
	pen_down(pen);
}

/* A row of boxes with their names in the corner, over the columns that spans give. */
static void write_fields(struct bench *bench, struct pen *pen, const char *const *names, const lxw_col_t *spans,
                         size_t count)
{
	pen->styles = bench->palettes.field;
	pen_height(pen, FIELD_POINTS);
	for (size_t i = 0; i < count; i++) /* one that is filled in already stands out */
		pen_across(pen, slice_from(names[i]), spans[i], strchr(names[i], ':') ? STYLE_STRONG : STYLE_FAINT);
	pen_down(pen);
	pen->styles = bench->palettes.plain;
}

static void set_widths(struct pen *pen, const struct head *heads, size_t count)
{
	for (size_t i = 0; i < count; i++)
		pen_width(pen, (int)i, heads[i].width);
}

/* The table's head, printed again on each page; below it what is meant, where anything is. */
static void write_heads(struct bench *bench, struct pen *pen, const struct head *heads, size_t count)
{
	lxw_row_t first;
	bool targets = false;

	pen_down(pen);
	first = pen->row;
	pen->styles = bench->palettes.boxed;
	for (size_t i = 0; i < count; i++) {
		pen_words(pen, heads[i].name, STYLE_HEAD);
		targets = targets || heads[i].target;
	}
	pen_down(pen);
	for (size_t i = 0; i < count && targets; i++)
		pen_words(pen, heads[i].target, STYLE_STRONG);
	if (targets)
		pen_down(pen);
	pen_note(pen, worksheet_repeat_rows(pen->sheet, first, pen->row - 1));
}

/* Begins a row of the table. */
static void begin_line(struct bench *bench, struct pen *pen, bool first, double points)
{
	pen->styles = first ? bench->palettes.first : bench->palettes.boxed;
	pen_height(pen, points);
}

static void write_blanks(struct pen *pen, size_t count)
{
	for (size_t i = 0; i < count; i++)
		pen_words(pen, "", STYLE_TEXT);
}

static bool begins_round(const struct run_plan *plan, size_t brew)
{
	return brew > 0 && plan->brews[brew].position == 0;
}

/* -- Brewing ------------------------------------------------------------------------- */

static const char *field_text(struct bench *bench, const char *name, const char *value)
{
	phrase_clear(&bench->phrase);
	phrase_words(&bench->phrase, name);
	if (value) {
		phrase_words(&bench->phrase, ": ");
		phrase_words(&bench->phrase, value);
	}
	phrase_add(&bench->phrase, (struct slice){ "", 1 }); /* its NUL */
	return bench->phrase.text ? bench->phrase.text : "";
}

static void write_brewing_fields(struct bench *bench, struct pen *pen)
{
	static const char *const first[] = { "Date", "Brewed by", "Coffee, roast date" };
	static const lxw_col_t first_spans[] = { 3, 1, 7 };
	static const lxw_col_t second_spans[] = { 3, 1, 4, 3 };
	const char *const second[] = { field_text(bench, "Grind", bench->request->targets->grind), "Grinder",
		                       "Water, kettle", "Scale" };

	write_fields(bench, pen, first, first_spans, 3);
	write_fields(bench, pen, second, second_spans, 4);
}

static bool any_target(const struct plan_targets *targets)
{
	return targets->dose_g || targets->water_g || targets->temp_c || targets->time;
}

static void write_brewing(struct bench *bench, struct pen *pen)
{
	const struct run_plan *plan = bench->plan;
	const struct plan_targets *targets = bench->request->targets;
	const struct head heads[BREWING_COLUMNS] = {
		{ "Done", NULL, 6.5 },
		{ "Round", NULL, 7.5 },
		{ "Brew", NULL, 6.5 },
		{ "Treatment", any_target(targets) ? "meant to be" : NULL, 20 },
		{ "Dose, g", targets->dose_g, 7.5 },
		{ "Water, g", targets->water_g, 7.5 },
		{ "Water, °C", targets->temp_c, 7.5 },
		{ "Time, min:s", targets->time, 8 },
		{ "Beverage, g", NULL, 10.5 },
		{ "Brewed at", NULL, 8 },
		{ "Remarks", NULL, 10.5 },
	};

	set_widths(pen, heads, BREWING_COLUMNS);
	write_sentence(pen, BREWING_COLUMNS,
	               plan->at_once == 1 ? "One brew at a time; a heavy line parts the rounds." :
	                                    "The brews of a round at the same time; a heavy line parts the rounds.");
	write_caution(
		pen, BREWING_COLUMNS,
		"Caution: boiling water and steam scald: keep the way from kettle to brewer clear, pour away from yourself, "
		"and let nobody reach across.");
	write_caution(
		pen, BREWING_COLUMNS,
		"Caution: glass breaks when hot meets cold: warm servers first, set them down on a dry cloth, and use none "
		"that is chipped.");
	pen_down(pen);
	write_brewing_fields(bench, pen);
	write_heads(bench, pen, heads, BREWING_COLUMNS);
	for (size_t i = 0; i < plan->brew_count; i++) {
		begin_line(bench, pen, begins_round(plan, i), WRITING_POINTS);
		pen_words(pen, "☐", STYLE_CENTRE);
		pen_count(pen, plan->brews[i].round + 1, STYLE_CENTRE);
		pen_words(pen, plan->brews[i].label, STYLE_STRONG);
		pen_text(pen, plan->treatments[plan->brews[i].treatment], STYLE_WRAP);
		write_blanks(pen, BREWING_COLUMNS - 4);
		pen_down(pen);
	}
}

/* -- Reading -------------------------------------------------------------------------- */

static size_t reading_columns(const struct bench *bench)
{
	size_t wanted = bench->request->targets->readings;

	return wanted < BENCH_READINGS_MOST ? wanted : BENCH_READINGS_MOST;
}

static void write_check(struct bench *bench, struct pen *pen, const char *name, const char *remark)
{
	pen->styles = bench->palettes.shaded;
	pen_height(pen, WRITING_POINTS);
	pen_words(pen, name, STYLE_STRONG);
	write_blanks(pen, reading_columns(bench) + 2);
	pen_words(pen, remark, STYLE_WRAP);
	pen_down(pen);
}

static void write_reading_advice(struct bench *bench, struct pen *pen, lxw_col_t columns)
{
	const struct run_plan *plan = bench->plan;
	char words[256];

	write_caution(
		pen, columns,
		"Caution: alcohol for the prism burns, and so does its vapour: keep it away from flames, burners and hot "
		"plates, take little, and let the prism dry.");
	write_caution(
		pen, columns,
		"Caution: let hot samples cool, covered, to the temperature of the zero check: a hot one reads wrong, "
		"strains the prism and scalds; an open one dries up and reads high.");
	snprintf(
		words, sizeof(words),
		"%zu reading%s of each cup, from top to bottom, the prism wiped and loaded anew for each. Typed up as: "
		"%s 1.38 1.39 1.38 @22.4, and a zero check, of distilled water, as: zero 0.01 @22.0",
		bench->request->targets->readings, bench->request->targets->readings == 1 ? "" : "s",
		plan->brews[0].label);
	write_sentence(pen, columns, words);
}

static void write_cups(struct bench *bench, struct pen *pen)
{
	const struct run_plan *plan = bench->plan;
	size_t since_zero = 0;

	for (size_t i = 0; i < plan->brew_count; i++) {
		if (begins_round(plan, i) && since_zero >= BENCH_ZERO_EVERY) {
			write_check(bench, pen, "zero", "water");
			since_zero = 0;
		}
		begin_line(bench, pen, begins_round(plan, i), WRITING_POINTS);
		pen_words(pen, plan->brews[i].label, STYLE_STRONG);
		write_blanks(pen, reading_columns(bench) + 3);
		pen_down(pen);
		since_zero++;
	}
}

static void write_reading(struct bench *bench, struct pen *pen)
{
	static const char *const fields[] = { "Date", "Read by, meter" };
	size_t readings = reading_columns(bench), columns = readings + 4;
	double each = readings > 5 ? 7.5 : 10;
	lxw_col_t spans[] = { 2, (lxw_col_t)(columns - 2) };
	struct head heads[COLUMNS_MOST] = { { "Cup", NULL, 10 }, { "Sample, °C", NULL, 9 } };
	char names[BENCH_READINGS_MOST][16];

	for (size_t m = 0; m < readings; m++) {
		snprintf(names[m], sizeof(names[m]), "%s %zu", readings > 5 ? "Read" : "Reading", m + 1);
		heads[m + 2] = (struct head){ names[m], NULL, each };
	}
	heads[columns - 2] = (struct head){ "Read at", NULL, 8 };
	heads[columns - 1] = (struct head){ "Remarks", NULL, PAGE_WIDTH - 27 - each * (double)readings };
	set_widths(pen, heads, columns);
	write_reading_advice(bench, pen, (lxw_col_t)columns);
	pen_down(pen);
	write_fields(bench, pen, fields, spans, 2);
	write_heads(bench, pen, heads, columns);
	write_check(bench, pen, "zero", "water, before all cups");
	write_check(bench, pen, "standard", "sugar, if made up");
	write_cups(bench, pen);
	write_check(bench, pen, "zero", "water, after all cups");
}

/* -- Tasting --------------------------------------------------------------------------- */

static int compare_codes(const void *left, const void *right)
{
	const struct planned_brew *const *a = left, *const *b = right;

	return strcmp((*a)->code, (*b)->code);
}

/* Brews from first to end by their codes; NULL without memory. The caller's: free(). */
static const struct planned_brew **by_code(const struct run_plan *plan, size_t first, size_t end)
{
	const struct planned_brew **sorted = malloc((end - first) * sizeof(const struct planned_brew *));

	if (!sorted)
		return NULL;
	for (size_t i = first; i < end; i++)
		sorted[i - first] = &plan->brews[i];
	qsort(sorted, end - first, sizeof(const struct planned_brew *), compare_codes);
	return sorted;
}

/* A round's codes, ascending: in an order that has nothing to do with that of brewing. */
static void write_tasting_round(struct bench *bench, struct pen *pen, size_t round)
{
	size_t first = bench->plan->start[round], end = bench->plan->start[round + 1];
	const struct planned_brew **sorted = by_code(bench->plan, first, end);

	if (!sorted)
		pen_note(pen, LXW_ERROR_MEMORY_MALLOC_FAILED);
	for (size_t i = 0; i < end - first && sorted; i++) {
		begin_line(bench, pen, round > 0 && i == 0, TASTING_POINTS);
		pen_count(pen, round + 1, STYLE_CENTRE);
		pen_words(pen, sorted[i]->code, STYLE_CENTRE);
		write_blanks(pen, TASTING_COLUMNS - 2);
		pen_down(pen);
	}
	free(sorted);
}

static void write_tasting(struct bench *bench, struct pen *pen)
{
	static const struct head heads[TASTING_COLUMNS] = {
		{ "Round", NULL, 8 },
		{ "Cup", NULL, 10 },
		{ "Score", NULL, 20 },
		{ "What it tastes of", NULL, PAGE_WIDTH - 38 },
	};
	static const char *const fields[] = { "Taster", "Date, question asked" };
	static const lxw_col_t spans[] = { 3, 1 };

	set_widths(pen, heads, TASTING_COLUMNS);
	write_caution(
		pen, TASTING_COLUMNS,
		"Caution: before serving, tell tasters what is in the cups: caffeine, and milk or whatever else may cause an "
		"allergy. Ask about allergies, pregnancy and heart trouble, and let anybody decline or spit.");
	write_caution(
		pen, TASTING_COLUMNS,
		"Caution: clean hands, clean cups, a clean spoon for each taster and never back into a shared cup; serve no "
		"hotter than can be sipped. Serving the public: local food codes and licensed practice go before "
		"this sheet.");
	pen_down(pen);
	write_fields(bench, pen, fields, spans, 2);
	write_heads(bench, pen, heads, TASTING_COLUMNS);
	for (size_t r = 0; r < bench->plan->rounds; r++)
		write_tasting_round(bench, pen, r);
}

/* -- Key --------------------------------------------------------------------------------- */

static void write_key_line(struct bench *bench, struct pen *pen, const struct planned_brew *brew)
{
	const struct run_plan *plan = bench->plan;

	pen->styles = bench->palettes.boxed;
	pen_height(pen, KEY_POINTS);
	pen_words(pen, brew->code, STYLE_CENTRE);
	pen_words(pen, brew->label, STYLE_TEXT);
	pen_count(pen, brew->round + 1, STYLE_CENTRE);
	phrase_clear(&bench->phrase);
	phrase_add(&bench->phrase, plan->treatments[brew->treatment]);
	if (brew->treatment == plan->control)
		phrase_words(&bench->phrase, " (control)");
	pen_text(pen, phrase_slice(&bench->phrase), STYLE_WRAP);
	pen_down(pen);
}

static void write_notes(struct bench *bench, struct pen *pen)
{
	const struct run_plan *plan = bench->plan;

	pen->styles = bench->palettes.plain;
	pen_down(pen);
	pen_height(pen, 20.0);
	pen_words(pen, "How even the plan is", STYLE_HEADING);
	pen_down(pen);
	for (size_t i = 0; i < plan->note_count; i++) {
		pen_across(pen, slice_from(plan->notes[i].text), KEY_COLUMNS,
		           plan->notes[i].severity == SEVERITY_NOTE ? STYLE_SENTENCE : STYLE_CAUTION);
		pen_down(pen);
	}
	phrase_clear(&bench->phrase);
	phrase_print(&bench->phrase, "Drawn from seed %llu by brewspread ", (unsigned long long)plan->seed);
	phrase_words(&bench->phrase, bench->request->version);
	phrase_words(&bench->phrase, "; the same seed brings the same plan.");
	pen_across(pen, phrase_slice(&bench->phrase), KEY_COLUMNS, STYLE_SENTENCE);
	pen_down(pen);
}

static void write_key(struct bench *bench, struct pen *pen)
{
	static const struct head heads[KEY_COLUMNS] = {
		{ "Code", NULL, 10 },
		{ "Brew", NULL, 10 },
		{ "Round", NULL, 8 },
		{ "Treatment", NULL, PAGE_WIDTH - 28 },
	};
	const struct run_plan *plan = bench->plan;
	const struct planned_brew **sorted = by_code(plan, 0, plan->brew_count);

	set_widths(pen, heads, KEY_COLUMNS);
	write_heads(bench, pen, heads, KEY_COLUMNS);
	if (!sorted)
		pen_note(pen, LXW_ERROR_MEMORY_MALLOC_FAILED);
	for (size_t i = 0; i < plan->brew_count && sorted; i++)
		write_key_line(bench, pen, sorted[i]);
	free(sorted);
	write_notes(bench, pen);
}

/* -- the workbook --------------------------------------------------------------------------- */

static const struct page pages[PAGES] = {
	{ "Brewing", "Brew from top to bottom and write down what it was, not what it was meant to be.",
	  write_brewing },
	{ "Reading", "Which cup holds what is not told here: readings are taken without knowing.", write_reading },
	{ "Tasting", "One copy for each taster; cups carry the codes and nothing else.", write_tasting },
	{ "Key", "Which cup is which. Keep this page from tasters until all have written down what they found.",
	  write_key },
};

static void set_page(const struct bench *bench, struct pen *pen, const struct page *page)
{
	char footer[96];

	snprintf(footer, sizeof(footer), "&L&8%s&R&8page &P of &N", page->title);
	worksheet_set_paper(pen->sheet, bench->request->paper == BENCH_LETTER ? XLSX_LETTER : XLSX_A4);
	worksheet_set_margins(pen->sheet, 0.5, 0.5, 0.5, 0.7);
	worksheet_fit_to_pages(pen->sheet, 1, 0);
	worksheet_center_horizontally(pen->sheet);
	pen_note(pen, worksheet_set_footer(pen->sheet, footer));
}

static void set_properties(struct bench *bench, struct pen *pen)
{
	char comments[96];
	lxw_doc_properties properties = {
		.title = (char *)(uintptr_t) "Bench sheet", /* copied there */
		.comments = comments,
		.created = (time_t)NO_MOMENT,
	};

	snprintf(comments, sizeof(comments), "Made by brewspread %s", bench->request->version);
	pen_note(pen, workbook_set_properties(bench->file.workbook, &properties));
}

static enum status write_pages(struct bench *bench, struct pen *pens, struct error *error)
{
	enum status status = STATUS_OK;

	for (size_t i = 0; i < PAGES; i++) {
		lxw_worksheet *sheet = workbook_add_worksheet(bench->file.workbook, pages[i].title);

		if (!sheet)
			return error_set(error, STATUS_MEMORY, "no memory for sheet %s", pages[i].title);
		pens[i] = pen_at(sheet, bench->palettes.plain, &bench->text, false);
		set_page(bench, &pens[i], &pages[i]);
		write_title(&pens[i], &pages[i]);
		pages[i].write(bench, &pens[i]);
	}
	set_properties(bench, &pens[0]);
	for (size_t i = 0; i < PAGES && status == STATUS_OK; i++)
		status = pen_status(&pens[i], pages[i].title, error);
	if (status == STATUS_OK && bench->phrase.failed)
		status = error_set(error, STATUS_MEMORY, "no memory for the texts of the bench sheet");
	return status;
}

enum status bench_sheet_write(const struct run_plan *plan, const struct bench_request *request, struct error *error)
{
	struct bench bench = { .plan = plan, .request = request, .text = CELL_TEXT_INIT, .phrase = PHRASE_INIT };
	struct pen pens[PAGES];
	enum status status = book_file_open(&bench.file, request->path, error);

	if (status == STATUS_OK && !palettes_make(bench.file.workbook, &bench.palettes))
		status = error_set(error, STATUS_MEMORY, "no memory for the bench sheet");
	if (status == STATUS_OK)
		status = write_pages(&bench, pens, error);
	if (status == STATUS_OK)
		status = book_file_finish(&bench.file, pens, PAGES, error);
	book_file_release(&bench.file);
	cell_text_release(&bench.text);
	phrase_release(&bench.phrase);
	return status;
}
