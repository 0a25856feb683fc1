/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "book.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include "book_file.h"
#include "fast_workbook.h"
#include "part_file.h"
#include "sheet.h"
#include "xlsx_check.h"

enum {
	FOOTER_MOST = 120, /* bytes of its label */
	SHEETS = 7,
	PAPER_A4 = 9,
	LITTLE_SPACE = 1 << 16, /* bytes: a disk with less is full */
};

#define MICROSECONDS 1000000

/* Document properties need a moment; where no reading tells one it is always this one: 2000-01-01 00:00 UTC. */
#define MOMENT_OF_NO_TIME 946684800

/* The order of the tabs. */
static const struct sheet *const sheets[SHEETS] = {
	&sheet_summary, &sheet_brews, &sheet_readings, &sheet_meter, &sheet_comparisons, &sheet_fairness, &sheet_method,
};

/* -- where it goes -------------------------------------------------------------------- */

/* The file on its way, and the folder for the library's own scratch files. */
struct target {
	struct part_file file;
	char *scratch;
};

static void target_release(struct target *target)
{
	part_file_release(&target->file);
	free(target->scratch);
}

/* The library does not say so when its scratch files fail: see beforehand that there can be any. */
static enum status try_scratch(const struct target *target, const char *path, struct error *error)
{
	size_t room = strlen(target->scratch) + 32;
	char *name = malloc(room);
	enum status status = STATUS_OK;
	int fd;

	if (!name)
		return error_set(error, STATUS_MEMORY, "no memory to write %s", path);
	snprintf(name, room, "%s/.brewspread-XXXXXX", target->scratch);
	fd = mkostemp(name, O_CLOEXEC);
	if (fd < 0) {
		status = error_set_errno(error, STATUS_IO, "%s: not written; scratch files can't be made in %s", path,
		                         target->scratch);
	} else {
		unlink(name);
		close(fd);
	}
	free(name);
	return status;
}

static enum status target_open(struct target *target, const char *path, struct error *error)
{
	const char *temporary = getenv("TMPDIR");
	enum status status;

	status = part_file_open(&target->file, path, error);
	if (status != STATUS_OK)
		return status;
	target->scratch = strdup(temporary && temporary[0] ? temporary : target->file.folder);
	if (!target->scratch)
		return error_set(error, STATUS_MEMORY, "no memory to write %s", path);
	return try_scratch(target, path, error);
}

static bool is_full(const char *folder)
{
	struct statvfs space;

	return statvfs(folder, &space) == 0 && (double)space.f_bavail * (double)space.f_frsize < LITTLE_SPACE;
}

/* -- the workbook --------------------------------------------------------------------- */

static int64_t moment_of(const struct run *run)
{
	int64_t newest = READING_NO_TIME;

	for (size_t i = 0; i < run->reading_count; i++)
		if (run->readings[i].line->taken_us > newest)
			newest = run->readings[i].line->taken_us;
	/* a time of day without a date counts from 1970, and is no moment to show */
	return newest / MICROSECONDS > MOMENT_OF_NO_TIME ? newest / MICROSECONDS : MOMENT_OF_NO_TIME;
}

static void set_properties(struct book *book, struct pen *pen)
{
	char title[4 * 128], comments[4 * 64];
	lxw_doc_properties properties = {
		.title = title,
		.subject = (char *)(uintptr_t) "Comparison of coffee brews", /* copied there */
		.comments = comments,
		.created = (time_t)moment_of(book->analysis->run),
	};
	const char *clean;

	phrase_clear(&book->phrase);
	phrase_fill(&book->phrase, "Comparison: {name}", &(struct phrase_part){ "name", book->analysis->run->name }, 1);
	clean = cell_text_line(&book->text, phrase_slice(&book->phrase), 120);
	snprintf(title, sizeof(title), "%s", clean ? clean : "");
	clean = cell_text_line(&book->text, slice_from(book->request->version), 40);
	snprintf(comments, sizeof(comments), "Made by brewspread %s", clean ? clean : "");
	pen_note(pen, workbook_set_properties(book->workbook, &properties));
}

/* Page and pages stand where the label has them; "&" begins a code there, so that none of a user's may. */
static void set_footer(struct book *book, struct pen *pen)
{
	char footer[200];
	struct slice label = labels_find(pen->labels, SLICE_OF("page {page} of {pages}"));

	if (label.len > FOOTER_MOST || memchr(label.text, '&', label.len))
		label = SLICE_OF("page {page} of {pages}");
	phrase_clear(&book->phrase);
	phrase_words(&book->phrase, "&L&8&A&R&8");
	phrase_fill_in(&book->phrase, label,
	               (struct phrase_part[]){ { "page", SLICE_OF("&P") }, { "pages", SLICE_OF("&N") } }, 2);
	snprintf(footer, sizeof(footer), "%.*s", SLICE_ARG(phrase_slice(&book->phrase)));
	pen_note(pen, worksheet_set_footer(pen->sheet, footer));
}

static void set_page(struct book *book, const struct sheet *sheet, struct pen *pen)
{
	if (!sheet->portrait)
		worksheet_set_landscape(pen->sheet);
	worksheet_set_paper(pen->sheet, PAPER_A4);
	worksheet_set_margins(pen->sheet, 0.5, 0.5, 0.6, 0.7);
	worksheet_fit_to_pages(pen->sheet, 1, 0);
	set_footer(book, pen);
	if (sheet->frozen == 0)
		return;
	worksheet_freeze_panes(pen->sheet, sheet->frozen, sheet->frozen_columns);
	pen_note(pen, worksheet_repeat_rows(pen->sheet, TABLE_HEAD_ROW, sheet->frozen - 1));
}

struct stack {
	struct pen *pens; /* one a tab */
	size_t count;
	size_t first[SHEETS]; /* the first tab of each sheet */
};

static size_t parts_of(const struct book *book, const struct sheet *sheet)
{
	return sheet->parts ? sheet->parts(book) : 1;
}

static enum status add_tabs(struct book *book, struct stack *stack, struct error *error)
{
	size_t tab = 0;
	char title[FORMULA_WORD_BYTES + 24];

	for (size_t i = 0; i < SHEETS; i++)
		stack->count += parts_of(book, sheets[i]);
	stack->pens = calloc(stack->count, sizeof(*stack->pens));
	if (!stack->pens)
		return error_set(error, STATUS_MEMORY, "no memory for %zu sheets", stack->count);
	for (size_t i = 0; i < SHEETS; i++) {
		stack->first[i] = tab;
		for (size_t part = 0; part < parts_of(book, sheets[i]); part++, tab++) {
			lxw_worksheet *sheet;

			if (part == 0)
				snprintf(title, sizeof(title), "%s", book->layout.word[sheets[i]->tab]);
			else
				snprintf(title, sizeof(title), "%s %zu", book->layout.word[sheets[i]->tab], part + 1);
			sheet = workbook_add_worksheet(book->workbook, title);
			if (!sheet)
				return error_set(error, STATUS_MEMORY, "no memory for sheet %s", title);
			stack->pens[tab] = pen_at(sheet, book->styles, &book->text, book->layout.formulas);
			stack->pens[tab].labels = book->request->labels;
			set_page(book, sheets[i], &stack->pens[tab]);
		}
	}
	return STATUS_OK;
}

/* From the last tab to the first, so that the earlier ones know where the later ones keep what they refer to. */
static enum status write_sheets(struct book *book, struct stack *stack, struct error *error)
{
	enum status status = STATUS_OK;

	for (size_t i = SHEETS; i-- > 0;)
		sheets[i]->write(book, &stack->pens[stack->first[i]]);
	set_properties(book, &stack->pens[0]);
	worksheet_activate(stack->pens[0].sheet);
	for (size_t i = 0; i < SHEETS && status == STATUS_OK; i++)
		for (size_t part = 0; part < parts_of(book, sheets[i]) && status == STATUS_OK; part++)
			status = pen_status(&stack->pens[stack->first[i] + part], formula_words[sheets[i]->tab], error);
	if (status == STATUS_OK && book->phrase.failed)
		status = error_set(error, STATUS_MEMORY, "no memory for the texts of the workbook");
	return status;
}

static enum status check(const struct target *target, const struct stack *stack, struct error *error)
{
	struct sheet_size *sizes = calloc(stack->count, sizeof(*sizes));
	enum status status;

	if (!sizes)
		return error_set(error, STATUS_MEMORY, "no memory to check %zu sheets", stack->count);
	for (size_t i = 0; i < stack->count; i++)
		sizes[i] = (struct sheet_size){ .rows = stack->pens[i].rows, .cells = stack->pens[i].cells };
	status = xlsx_check(target->file.part, sizes, stack->count, error);
	free(sizes);
	return status;
}

/* Why the file is not whole, with the most likely cause first. */
static enum status tell_failure(const struct target *target, const char *shown_path, const char *reason,
                                struct error *error)
{
	const char *full = is_full(target->file.folder) ? target->file.folder :
	                   is_full(target->scratch)     ? target->scratch :
	                                                  NULL;

	if (full)
		return error_set(error, STATUS_IO, "%s: not written; the disk that holds %s is full", shown_path, full);
	return error_set(error, STATUS_IO, "%s: not written; %s", shown_path, reason);
}

static enum status close_and_check(struct book *book, const struct target *target, const struct stack *stack,
                                   struct error *error)
{
	struct error reason = ERROR_INIT;
	const char *failed = book_file_close(book->workbook);
	enum status status;

	book->workbook = NULL;
	if (failed)
		return tell_failure(target, book->request->path, failed, error);
	status = check(target, stack, &reason);
	if (status == STATUS_IO)
		return tell_failure(target, book->request->path, reason.text, error);
	return status == STATUS_OK ? STATUS_OK : error_set(error, status, "%s", reason.text);
}

static enum status write_book(struct book *book, struct target *target, struct error *error)
{
	lxw_workbook_options options = {
		/* with so many cells they go to a file at once; else equal texts are kept once, which is the smaller file */
		.constant_memory = book->layout.formulas ? LXW_FALSE : LXW_TRUE,
		.tmpdir = target->scratch,
	};
	struct stack stack = { .pens = NULL };
	enum status status;

	book->workbook = fast_workbook_new(target->file.part, &options);
	if (!book->workbook || !styles_make(book->workbook, book->styles))
		return error_set(error, STATUS_MEMORY, "no memory for the workbook");
	status = add_tabs(book, &stack, error);
	if (status == STATUS_OK)
		status = write_sheets(book, &stack, error);
	if (status == STATUS_OK)
		status = close_and_check(book, target, &stack, error);
	free(stack.pens);
	return status;
}

enum status book_write(const struct analysis *analysis, const struct faults *faults, const struct book_request *request,
                       struct error *error)
{
	struct book book = {
		.analysis = analysis,
		.faults = faults,
		.request = request,
		.text = CELL_TEXT_INIT,
		.phrase = { .labels = request->labels },
	};
	struct target target = { .file = PART_FILE_INIT };
	enum status status;

	if (!request->path || request->path[0] == '\0')
		return error_set(error, STATUS_INVALID, "the workbook has no name");
	status = layout_make(&book.layout, analysis, request->labels, error);
	if (status == STATUS_OK)
		status = target_open(&target, request->path, error);
	if (status == STATUS_OK)
		status = write_book(&book, &target, error);
	if (book.workbook)
		lxw_workbook_free(book.workbook);
	if (status == STATUS_OK)
		status = part_file_finish(&target.file, request->path, true, error);
	target_release(&target);
	layout_release(&book.layout);
	cell_text_release(&book.text);
	phrase_release(&book.phrase);
	return status;
}
