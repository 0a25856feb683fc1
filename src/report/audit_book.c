/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_book.h"

#include <stdio.h>

#include "audit_sheet.h"
#include "book_file.h"
#include "reading.h"

/* The order of the tabs. */
static const struct audit_sheet *const sheets[] = {
	&audit_sheet_summary, &audit_sheet_spread, &audit_sheet_zero,   &audit_sheet_standards,
	&audit_sheet_pairs,   &audit_sheet_study,  &audit_sheet_method,
};

enum { SHEETS = sizeof(sheets) / sizeof(sheets[0]), PAPER_A4 = 9 };

/* Document properties need a moment; where no reading tells one it is always this one: 2000-01-01 00:00 UTC. */
#define MOMENT_OF_NONE 946684800

static int64_t moment_of(const struct audit *audit)
{
	int64_t last = READING_NO_TIME;

	for (size_t i = 0; audit && i < audit->meter_count; i++)
		if (audit->meters[i].last_us > last)
			last = audit->meters[i].last_us;
	return last > MOMENT_OF_NONE * INT64_C(1000000) && last < INT64_C(4102444800000000) ? last / 1000000 :
	                                                                                      MOMENT_OF_NONE;
}

static void set_properties(struct audit_book *book, struct pen *pen)
{
	char comments[96];
	lxw_doc_properties properties = {
		.title = (char *)(uintptr_t)(book->gauge ? "Instrument study" : "Audit of meters"), /* copied there */
		.comments = comments,
		.created = (time_t)moment_of(book->audit),
	};

	snprintf(comments, sizeof(comments), "Made by brewspread %.60s", book->request->version);
	pen_note(pen, workbook_set_properties(book->workbook, &properties));
}

static void set_page(struct pen *pen)
{
	worksheet_set_landscape(pen->sheet);
	worksheet_set_paper(pen->sheet, PAPER_A4);
	worksheet_set_margins(pen->sheet, 0.5, 0.5, 0.6, 0.7);
	worksheet_fit_to_pages(pen->sheet, 1, 0);
	pen_note(pen, worksheet_set_footer(pen->sheet, "&L&8&A&R&8page &P of &N"));
}

/* The widths come first: a title stands over several columns. */
static enum status write_sheets(struct audit_book *book, struct pen *pens, size_t *count, struct error *error)
{
	enum status status = STATUS_OK;

	*count = 0;
	for (size_t i = 0; i < SHEETS && status == STATUS_OK; i++) {
		struct pen *pen = &pens[*count];
		lxw_worksheet *sheet;

		if (sheets[i]->wanted && !sheets[i]->wanted(book))
			continue;
		sheet = workbook_add_worksheet(book->workbook, sheets[i]->title);
		if (!sheet)
			return error_set(error, STATUS_MEMORY, "no memory for sheet %s", sheets[i]->title);
		*pen = pen_at(sheet, book->styles, &book->text, false);
		set_page(pen);
		sheet_title(pen, sheets[i]->title, sheets[i]->about);
		book->page_count = 0;
		sheets[i]->write(book, pen);
		book->pages[book->page_count] = 0;
		if (book->page_count > 0)
			pen_note(pen, worksheet_set_h_pagebreaks(pen->sheet, book->pages));
		status = pen_status(pen, sheets[i]->title, error);
		++*count;
	}
	if (status == STATUS_OK && book->phrase.failed)
		status = error_set(error, STATUS_MEMORY, "no memory for the texts of the workbook");
	set_properties(book, &pens[0]);
	return status;
}

enum status audit_book_write(const struct audit *audit, const struct audit_gauge *gauge, const struct faults *faults,
                             const struct audit_book_request *request, struct error *error)
{
	struct audit_book book = {
		.audit = audit,
		.gauge = gauge,
		.faults = faults,
		.request = request,
		.text = CELL_TEXT_INIT,
		.phrase = PHRASE_INIT,
	};
	struct pen pens[SHEETS];
	struct book_file file;
	size_t count = 0;
	enum status status = book_file_open(&file, request->path, error);

	book.workbook = file.workbook;
	if (status == STATUS_OK && !styles_make(book.workbook, book.styles))
		status = error_set(error, STATUS_MEMORY, "no memory for the workbook");
	if (status == STATUS_OK)
		status = write_sheets(&book, pens, &count, error);
	if (status == STATUS_OK)
		status = book_file_finish(&file, pens, count, error);
	book_file_release(&file);
	cell_text_release(&book.text);
	phrase_release(&book.phrase);
	return status;
}
