/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sheet.h"

#include <math.h>
#include <stdio.h>

#include "text.h"

void sheet_title(struct pen *pen, const char *title, const char *about)
{
	pen_row(pen, 0);
	pen_height(pen, 24.0);
	pen_words(pen, title, STYLE_TITLE);
	pen_down(pen);
	pen_words(pen, about, STYLE_ABOUT_SHEET);
	pen_row(pen, TABLE_HEAD_ROW);
}

#define BOLD_LETTERS 1.15 /* to the digits that widths are counted in */

double head_width(const struct labels *labels, const struct column_head *head)
{
	struct slice own = labels_find(labels, slice_from(head->name));
	size_t longest = 0, from = 0;

	if (own.text == head->name)
		return head->width;
	for (size_t i = 0; i <= own.len; i++) {
		if (i < own.len && own.text[i] != ' ' && own.text[i] != '\n')
			continue;
		if (utf8_count(slice_part(own, from, i)) > longest)
			longest = utf8_count(slice_part(own, from, i));
		from = i + 1;
	}
	return fmax(head->width, (double)longest * BOLD_LETTERS + 1.0);
}

void sheet_widths(struct pen *pen, const struct column_head *heads, size_t count)
{
	for (size_t i = 0; i < count; i++)
		pen_width(pen, (int)i, head_width(pen->labels, &heads[i]));
}

void sheet_heads(struct pen *pen, const struct column_head *heads, size_t count)
{
	bool notes = false;

	for (size_t i = 0; i < count; i++) {
		pen_words(pen, heads[i].name, heads[i].words ? STYLE_HEAD : STYLE_HEAD_RIGHT);
		notes = notes || heads[i].note;
	}
	pen_down(pen);
	if (!notes)
		return;
	for (size_t i = 0; i < count; i++)
		pen_words(pen, heads[i].note, heads[i].words ? STYLE_NOTE : STYLE_NOTE_RIGHT);
	pen_down(pen);
}

void sheet_print_area(struct pen *pen, int last_column, lxw_row_t last_row)
{
	pen_note(pen, worksheet_print_area(pen->sheet, 0, 0, last_row, (lxw_col_t)last_column));
}

void sheet_name_range(struct book *book, struct pen *pen, const struct sheet *sheet, const char *name, int column,
                      lxw_row_t first, lxw_row_t last)
{
	char range[sizeof(struct range_name) + 1];

	if (column < 0)
		return;
	snprintf(range, sizeof(range), "=%s", range_name(book->layout.word[sheet->tab], column, first, last).text);
	pen_note(pen, workbook_define_name(book->workbook, name, range));
}

void sheet_heading(struct pen *pen, const char *words)
{
	pen_down(pen);
	pen_height(pen, 20.0);
	pen_words(pen, words, STYLE_HEADING);
	pen_down(pen);
}

void sheet_sentence(struct pen *pen, struct slice text, lxw_col_t columns, enum style style)
{
	pen_across(pen, labels_find(pen->labels, text), columns, style);
	pen_down(pen);
}

size_t sheet_topic(struct book *book, struct pen *pen, enum topic topic, lxw_col_t columns)
{
	const struct analysis *analysis = book->analysis;
	size_t told = 0;

	for (size_t i = 0; i < analysis->sentence_count; i++) {
		const struct sentence *sentence = &analysis->sentences[i];

		if (sentence->topic != topic)
			continue;
		sheet_sentence(pen, slice_from(sentence->text), columns,
		               sentence->severity == SEVERITY_NOTE ? STYLE_SENTENCE : STYLE_CAUTION);
		told++;
	}
	return told;
}

double chart_height(const struct book *book, size_t treatment)
{
	size_t treatments = book->analysis->run->treatment_count;
	double shown = treatments < CHART_TREATMENTS ? (double)treatments : (double)CHART_TREATMENTS;

	return shown + 1.0 - (double)book->layout.place[treatment];
}

void say_response(struct phrase *phrase, const struct response *response)
{
	size_t begin = phrase->len;

	phrase_label(phrase, response->name);
	if (phrase->len > begin && phrase->text[begin] >= 'a' && phrase->text[begin] <= 'z')
		phrase->text[begin] = (char)(phrase->text[begin] - 'a' + 'A');
	if (response->unit[0]) {
		phrase_words(phrase, ", ");
		phrase_label(phrase, response->unit);
	}
}
