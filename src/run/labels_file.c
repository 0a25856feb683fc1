/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "labels_file.h"

#include <string.h>

#include "cell.h"
#include "table.h"
#include "text.h"

struct labels_file {
	struct labels *labels;
	const char *name;
	struct text text;
	struct table table;
	struct arena scratch; /* cells whose quotes are undone */
	struct faults *faults;
};

static struct place place_of(const struct labels_file *file, const struct cell *cell)
{
	return (struct place){ file->name, cell->line, cell_column(cell) };
}

/* What parts the first two cells of the first row; '\0': nothing does. */
static char delimiter_of(struct slice text)
{
	const char *end = text.text + text.len, *row = text.text;
	bool quoted = false;

	while (row < end && (*row == '#' || *row == '\r' || *row == '\n'))
		row = line_skip(row, end);
	text = (struct slice){ row, (size_t)(end - row) };
	for (size_t i = 0; i < text.len && (quoted || (text.text[i] != '\n' && text.text[i] != '\r')); i++) {
		if (text.text[i] == '"')
			quoted = !quoted;
		else if (!quoted && text.text[i] != '\0' && strchr(",;\t", text.text[i]))
			return text.text[i];
	}
	return '\0';
}

static bool fit(const struct labels_file *file, const struct cell *cells)
{
	struct slice english = cell_trim(cells[0].text), own = cell_trim(cells[1].text), odd;

	if (utf8_valid_part(own) < own.len || memchr(own.text, '\0', own.len)) {
		faults_add(file->faults, SEVERITY_WARNING, place_of(file, &cells[1]),
		           "the label has bytes that are no text; expected UTF-8; \"%s\" stays in English",
		           EXCERPT(english));
		return false;
	}
	if (!labels_same_gaps(english, own, &odd)) {
		faults_add(file->faults, SEVERITY_WARNING, place_of(file, &cells[1]),
		           "%.*s stands in only one of both; expected the same gaps; \"%s\" stays in English",
		           SLICE_ARG(odd), EXCERPT(english));
		return false;
	}
	return true;
}

static enum status take_row(struct labels_file *file, const struct row *row, struct error *error)
{
	struct label label = { .line = row->line };

	if (row->count < 2)
		return STATUS_OK;
	label.english = cell_trim(row->cells[0].text);
	label.own = cell_trim(row->cells[1].text);
	if (label.english.len == 0 || label.own.len == 0 || !fit(file, row->cells))
		return STATUS_OK;
	return labels_add(file->labels, label) ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory for labels");
}

static enum status take_rows(struct labels_file *file, struct error *error)
{
	bool head = true;
	struct row row;

	for (;;) {
		enum status status = STATUS_OK;

		switch (table_next(&file->table, &row)) {
		case TABLE_END:
			return STATUS_OK;
		case TABLE_MEMORY:
			return error_set(error, STATUS_MEMORY, "no memory for labels");
		case TABLE_UNCLOSED:
			faults_add(file->faults, SEVERITY_ERROR, place_of(file, &file->table.unclosed),
			           "the quote that opens here is not closed; expected another one; no label is taken");
			return error_set(error, STATUS_REFUSED, "%s: no labels", file->name);
		case TABLE_ROW:
			if (!row.comment && !head)
				status = take_row(file, &row, error);
			head = head && row.comment;
			break;
		}
		if (status != STATUS_OK)
			return status;
	}
}

static enum status read_table(struct labels_file *file, struct error *error)
{
	struct slice text = { file->text.bytes, file->text.len };
	char delimiter = delimiter_of(text);
	enum status status;

	if (delimiter == '\0') {
		faults_add(file->faults, SEVERITY_ERROR, (struct place){ file->name, 1, 1 },
		           "the first row has no second column; expected names of columns: English, and a language");
		return error_set(error, STATUS_REFUSED, "%s: no labels", file->name);
	}
	table_init(&file->table, text, 1, delimiter, &file->scratch);
	status = take_rows(file, error);
	table_release(&file->table);
	labels_sort(file->labels);
	return status;
}

enum status labels_file_read(struct labels *out, const char *path, struct faults *faults, struct error *error)
{
	struct labels_file file = {
		.labels = out,
		.name = path,
		.text = TEXT_INIT,
		.scratch = ARENA_INIT,
		.faults = faults,
	};
	enum status status;

	*out = (struct labels)LABELS_INIT;
	status = text_load(&file.text, path, error);
	if (status == STATUS_OK)
		status = text_decode(&file.text, error);
	if (status == STATUS_OK)
		status = read_table(&file, error);
	text_release(&file.text);
	arena_release(&file.scratch);
	if (status != STATUS_OK)
		labels_release(out);
	return status;
}
