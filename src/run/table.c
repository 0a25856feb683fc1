/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "table.h"

#include <stdlib.h>
#include <string.h>

#include "text.h"

enum { FIRST_CELLS = 16, FEWEST_COLUMNS = 4 }; /* of a line inside quotes that can be told from prose with commas */

void table_init(struct table *table, struct slice text, uint32_t line, char delimiter, struct arena *arena)
{
	*table = (struct table){
		.at = text.text,
		.end = text.text + text.len,
		.line_at = text.text,
		.line = line,
		.delimiter = delimiter,
		.arena = arena,
	};
	table->stops[(unsigned char)delimiter] = true;
	table->stops['\n'] = true;
	table->stops['\r'] = true;
}

void table_release(struct table *table)
{
	free(table->cells);
	table->cells = NULL;
	table->capacity = 0;
}

/* Behind the line end at at, if there is one; a CR and the LF after it are one. */
static const char *line_end_skip(const char *at, const char *end)
{
	if (at < end && *at == '\r')
		at++;
	else if (at < end && *at == '\n')
		return at + 1;
	else
		return at;
	return at < end && *at == '\n' ? at + 1 : at;
}

static const char *line_end(const char *at, const char *end)
{
	while (at < end && *at != '\n' && *at != '\r')
		at++;
	return at;
}

const char *line_skip(const char *at, const char *end)
{
	return line_end_skip(line_end(at, end), end);
}

static const char *blanks_skip(const struct table *table, const char *at)
{
	while (at < table->end && (*at == ' ' || (*at == '\t' && table->delimiter != '\t')))
		at++;
	return at;
}

static const char *plain_end(const struct table *table, const char *at)
{
	const char *end = table->end;

	while (at < end && !table->stops[(unsigned char)*at])
		at++;
	return at;
}

/* The closing quote of a cell whose content begins at at; NULL: none. *doubled: quotes stand doubled in it. */
static const char *quote_end(const char *at, const char *end, bool *doubled)
{
	*doubled = false;
	while (at < end) {
		at = memchr(at, '"', (size_t)(end - at));
		if (!at || at + 1 == end || at[1] != '"')
			return at;
		*doubled = true;
		at += 2;
	}
	return NULL;
}

/*
 * Does a whole line inside the quotes look like a row? Separators that a blank follows are those of prose.
 */
static bool swallows_row(const struct table *table, struct slice content)
{
	const char *end = content.text + content.len;
	const char *at = line_skip(content.text, end);

	if (table->columns < FEWEST_COLUMNS)
		return false;
	while (at < end) {
		const char *line = line_end(at, end);
		size_t separators = 0;

		if (line == end)
			break; /* the last one may be cut short by the closing quote */
		for (; at < line; at++)
			separators += *at == table->delimiter && at[1] != ' ';
		if (separators + 1 >= table->columns)
			return true;
		at = line_end_skip(line, end);
	}
	return false;
}

/* A copy of content with single quotes for doubled ones and LF for every line end. */
static bool quotes_undo(struct slice *out, struct arena *arena, struct slice content)
{
	char *copy = arena_take(arena, content.len + 1);
	const char *end = content.text + content.len;
	char *to = copy;

	if (!copy)
		return false;
	for (const char *at = content.text; at < end;) {
		if (*at == '\r') {
			at = line_end_skip(at, end);
			*to++ = '\n';
			continue;
		}
		*to++ = *at;
		at += *at == '"' ? 2 : 1;
	}
	*out = (struct slice){ copy, (size_t)(to - copy) };
	return true;
}

/* Moves the table's line to that of content's end; false if all of it is on one line. */
static bool lines_count(struct table *table, struct slice content)
{
	const char *end = content.text + content.len;
	const char *at = line_end(content.text, end);
	uint32_t before = table->line;

	while (at < end) {
		at = line_end_skip(at, end);
		table->line++;
		table->line_at = at;
		at = line_end(at, end);
	}
	return table->line > before;
}

/* Reads the quoted cell that begins at *at, its quote at quote, and moves *at behind it. */
static enum table_result cell_quoted(struct table *table, struct cell *cell, const char *quote, const char **at)
{
	bool doubled, broken;
	const char *close = quote_end(quote + 1, table->end, &doubled);
	struct slice content;
	const char *behind;

	if (!close) {
		table->unclosed = *cell;
		table->unclosed.text = (struct slice){ quote + 1, (size_t)(table->end - quote - 1) };
		return TABLE_UNCLOSED;
	}
	content = (struct slice){ quote + 1, (size_t)(close - quote - 1) };
	broken = lines_count(table, content);
	behind = blanks_skip(table, close + 1);
	*at = plain_end(table, behind);
	cell->stray = *at > behind;
	cell->text = content;
	if (broken && (cell->stray || swallows_row(table, content))) {
		table->unclosed = *cell;
		return TABLE_UNCLOSED;
	}
	if (cell->stray)
		cell->text = (struct slice){ quote, (size_t)(*at - quote) };
	else if (table->arena && (doubled || (broken && memchr(content.text, '\r', content.len))) &&
	         !quotes_undo(&cell->text, table->arena, content))
		return TABLE_MEMORY;
	return TABLE_ROW;
}

static enum table_result cell_next(struct table *table, struct cell *cell, const char **at)
{
	const char *first = blanks_skip(table, *at);

	*cell = (struct cell){ .at = *at, .line_at = table->line_at, .line = table->line };
	if (first < table->end && *first == '"') {
		cell->at = first;
		return cell_quoted(table, cell, first, at);
	}
	*at = plain_end(table, first);
	cell->text = (struct slice){ cell->at, (size_t)(*at - cell->at) };
	return TABLE_ROW;
}

static bool cells_grow(struct table *table)
{
	size_t capacity = table->capacity ? table->capacity * 2 : FIRST_CELLS;
	struct cell *cells = realloc(table->cells, capacity * sizeof(*cells));

	if (!cells)
		return false;
	table->cells = cells;
	table->capacity = capacity;
	return true;
}

static enum table_result cells_read(struct table *table, struct row *row, const char **at)
{
	for (;;) {
		enum table_result result;
		struct cell cell;

		result = cell_next(table, &cell, at);
		if (result != TABLE_ROW)
			return result;
		if (row->count == table->capacity && row->count < TABLE_CELLS && !cells_grow(table))
			return TABLE_MEMORY;
		if (row->count < TABLE_CELLS)
			table->cells[row->count++] = cell;
		else
			row->beyond++;
		if (*at == table->end || **at != table->delimiter)
			return TABLE_ROW;
		(*at)++;
	}
}

enum table_result table_next(struct table *table, struct row *row)
{
	const char *at = table->at;
	const char *first = blanks_skip(table, at);
	enum table_result result = TABLE_ROW;

	*row = (struct row){ .line = table->line, .at = at };
	if (at == table->end)
		return TABLE_END;
	if (first < table->end && *first == '#') {
		row->comment = true;
		at = line_end(at, table->end);
	} else {
		result = cells_read(table, row, &at);
	}
	if (result != TABLE_ROW) {
		table->at = table->end;
		return result;
	}
	row->cells = table->cells;
	row->end = at;
	table->at = line_end_skip(at, table->end);
	table->line += table->at > at;
	table->line_at = table->at;
	return TABLE_ROW;
}

uint32_t cell_column(const struct cell *cell)
{
	return (uint32_t)utf8_count((struct slice){ cell->line_at, (size_t)(cell->at - cell->line_at) }) + 1;
}
