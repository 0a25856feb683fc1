/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sheet.h"

#include "correct.h"
#include "remarks.h"

/* Above so many rows of one kind a list helps nobody; Readings and Brews have them all. */
enum { LISTED = 5000 };

static const struct column_head brew_heads[] = {
	{ "Brew", NULL, 22, .words = true },
	{ "Treatment", NULL, 26, .words = true },
	{ "What calls for a look", NULL, 78, .words = true },
	{ "Where", "file, line, column", 34, .words = true },
};

static const struct column_head reading_heads[] = {
	{ "Cup", "as the line names it", 0, .words = true },
	{ "Line", "as it came", 0, .words = true },
	{ "Why it is not used", NULL, 0, .words = true },
	{ "Where", "file, line, column", 0, .words = true },
};

static const struct column_head fault_heads[] = {
	{ "Kind", NULL, 0, .words = true },
	{ "Where", "file, line, column", 0, .words = true },
	{ "What is wrong, what was expected, what became of it", NULL, 0, .words = true },
};

#define HEADS(heads) heads, sizeof(heads) / sizeof((heads)[0])

enum { SHEET_COLUMNS = sizeof(brew_heads) / sizeof(brew_heads[0]) };

static void count_line(struct pen *pen, const char *words, size_t count)
{
	pen_words(pen, words, STYLE_TEXT);
	pen_count(pen, count, STYLE_COUNT);
	pen_down(pen);
}

static void write_counts(struct book *book, struct pen *pen)
{
	const struct analysis *analysis = book->analysis;
	size_t brews = 0;

	for (size_t b = 0; b < analysis->run->brew_count; b++)
		brews += analysis->brews[b].why == NULL;
	sheet_heading(pen, "What was there, and what was used");
	count_line(pen, "Brews", analysis->run->brew_count);
	count_line(pen, "… with a result", brews);
	count_line(pen, "Readings", analysis->run->reading_count);
	count_line(pen, "… used", analysis->readings_used);
	count_line(pen, "… zero checks", analysis->zero_count);
	count_line(pen, "… excluded", analysis->readings_excluded);
	count_line(pen, "… of no brew", analysis->readings_unjoined);
	count_line(pen, "… that cannot be", analysis->readings_out_of_range);
}

static void write_more(struct pen *pen, size_t count)
{
	if (count <= LISTED)
		return;
	pen_words(pen, "…", STYLE_TEXT);
	pen_words(pen, "and", STYLE_TEXT);
	pen_count(pen, count - LISTED, STYLE_COUNT);
	pen_down(pen);
}

static bool brew_marked(const struct brew_result *brew)
{
	return brew->why || brew->flags != 0;
}

static void write_brews(struct book *book, struct pen *pen)
{
	const struct run *run = book->analysis->run;
	size_t count = 0;

	for (size_t row = 0; row < run->brew_count; row++) {
		size_t b = book->layout.brew_order[row];

		if (!brew_marked(&book->analysis->brews[b]) || count++ >= LISTED)
			continue;
		if (count == 1) {
			sheet_heading(pen, "Brews without a result, or with marks");
			sheet_heads(pen, HEADS(brew_heads));
		}
		pen_text(pen, run->brews[b].label, STYLE_STRONG);
		pen_text(pen, run->treatments[run->brews[b].treatment].name, STYLE_WRAP);
		remarks_brew(&book->phrase, book->analysis, b);
		pen_text(pen, phrase_slice(&book->phrase), STYLE_WRAP);
		remarks_place(&book->phrase, run->brews[b].place);
		pen_text(pen, phrase_slice(&book->phrase), STYLE_FAINT);
		pen_down(pen);
	}
	write_more(pen, count);
}

static bool reading_dropped(const struct analysis *analysis, size_t i)
{
	const struct reading *reading = &analysis->run->readings[i];

	if (reading->role != READING_SAMPLE)
		return !reading_used(reading);
	return !correct_counts(analysis, i);
}

static void write_readings(struct book *book, struct pen *pen)
{
	const struct run *run = book->analysis->run;
	size_t count = 0;

	for (size_t i = 0; i < run->reading_count; i++) {
		const struct reading *reading = &run->readings[i];
		struct correction correction;

		if (!reading_dropped(book->analysis, i) || count++ >= LISTED)
			continue;
		if (count == 1) {
			sheet_heading(pen, "Readings that are not used");
			sheet_heads(pen, HEADS(reading_heads));
		}
		pen_text(pen, reading->line->label, STYLE_STRONG);
		pen_text(pen, reading->line->raw, STYLE_WRAP);
		correct_steps(&correction, book->analysis, i);
		remarks_reading(&book->phrase, reading, &correction);
		pen_text(pen, phrase_slice(&book->phrase), STYLE_WRAP);
		remarks_place(&book->phrase, reading_place(reading));
		pen_text(pen, phrase_slice(&book->phrase), STYLE_FAINT);
		pen_down(pen);
	}
	write_more(pen, count);
}

static void write_faults(struct book *book, struct pen *pen)
{
	const struct faults *faults = book->faults;

	sheet_heading(pen, "What was wrong with the files");
	if (!faults || faults->count == 0) {
		pen_words(pen, "Nothing was found.", STYLE_TEXT);
		pen_down(pen);
		return;
	}
	sheet_heads(pen, HEADS(fault_heads));
	for (size_t i = 0; i < faults->count && i < LISTED; i++) {
		const struct fault *fault = &faults->items[i];

		pen_words(pen, severity_name(fault->severity),
		          fault->severity == SEVERITY_NOTE ? STYLE_TEXT : STYLE_MARK);
		remarks_place(&book->phrase, fault->place);
		pen_text(pen, phrase_slice(&book->phrase), STYLE_FAINT);
		pen_words(pen, fault->text, STYLE_WRAP);
		pen_down(pen);
	}
	write_more(pen, faults->count + faults->beyond);
}

static void write_fairness(struct book *book, struct pen *pen)
{
	size_t told;

	sheet_widths(pen, HEADS(brew_heads));
	sheet_title(pen, formula_words[sheet_fairness.tab], sheet_fairness.about);
	told = sheet_topic(book, pen, TOPIC_FAIRNESS, SHEET_COLUMNS);
	told += sheet_topic(book, pen, TOPIC_DATA, SHEET_COLUMNS);
	if (told == 0)
		sheet_sentence(pen, SLICE_OF("Nothing speaks against the comparison."), SHEET_COLUMNS, STYLE_SENTENCE);
	write_counts(book, pen);
	write_brews(book, pen);
	write_readings(book, pen);
	write_faults(book, pen);
}

const struct sheet sheet_fairness = {
	.tab = TAB_FAIRNESS,
	.about = "Was the comparison fair, and what is missing, not joined, marked or left out.",
	.write = write_fairness,
};
