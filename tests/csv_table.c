/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "csv_table.h"

#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#ifndef TEST_DATA
#define TEST_DATA "tests/reference/data"
#endif

static char *read_whole(const char *name)
{
	char path[512];
	long size;
	char *text;
	FILE *in;

	snprintf(path, sizeof(path), "%s/%s", TEST_DATA, name);
	in = fopen(path, "rb");
	if (!in)
		fail_msg("%s cannot be opened; tests are run from the root of the project", path);
	fseek(in, 0, SEEK_END);
	size = ftell(in);
	rewind(in);
	text = calloc(1, (size_t)size + 1);
	assert_non_null(text);
	assert_int_equal(fread(text, 1, (size_t)size, in), (size_t)size);
	fclose(in);
	return text;
}

static size_t count_of(const char *text, char wanted, char end)
{
	size_t count = 0;

	for (; *text && *text != end; text++)
		count += *text == wanted;
	return count;
}

struct csv_table csv_table_read(const char *name)
{
	struct csv_table table = { .text = read_whole(name) };
	size_t lines = count_of(table.text, '\n', '\0'), filled = 0;
	char *at = table.text;

	table.columns = count_of(table.text, ',', '\n') + 1;
	table.cells = calloc(lines * table.columns, sizeof(*table.cells));
	assert_non_null(table.cells);
	while (*at) {
		size_t length = strcspn(at, ",\n");
		char end = at[length];

		assert_true(filled < lines * table.columns);
		table.cells[filled++] = at;
		at[length] = '\0';
		at += length + 1;
		if (end == '\n' && filled % table.columns)
			fail_msg("%s: row %zu has another number of columns than the header", name,
			         filled / table.columns);
	}
	table.rows = filled / table.columns - 1;
	return table;
}

void csv_table_release(struct csv_table *table)
{
	free(table->cells);
	free(table->text);
	*table = (struct csv_table){ 0 };
}

const char *csv_text(const struct csv_table *table, size_t row, const char *column)
{
	for (size_t i = 0; i < table->columns; i++)
		if (strcmp(table->cells[i], column) == 0)
			return table->cells[(row + 1) * table->columns + i];
	fail_msg("no column %s", column);
	return NULL;
}

double csv_number(const struct csv_table *table, size_t row, const char *column)
{
	const char *text = csv_text(table, row, column);
	char *end;
	double value = strtod(text, &end);

	return end == text || *end ? NAN : value;
}

size_t csv_column(double *x, size_t most, const char *name, const char *column)
{
	struct csv_table table = csv_table_read(name);
	size_t n = table.rows;

	assert_true(n <= most);
	for (size_t i = 0; i < n; i++)
		x[i] = csv_number(&table, i, column);
	csv_table_release(&table);
	return n;
}

size_t csv_count(const struct csv_table *table, size_t row, const char *column)
{
	double value = csv_number(table, row, column);

	assert_true(value >= 0 && value == floor(value));
	return (size_t)value;
}

double csv_lookup(const struct csv_table *table, const char *value, ...)
{
	for (size_t row = 0; row < table->rows; row++) {
		bool same = true;
		const char *column;
		va_list list;

		va_start(list, value);
		while ((column = va_arg(list, const char *)))
			same &= strcmp(csv_text(table, row, column), va_arg(list, const char *)) == 0;
		va_end(list);
		if (same)
			return csv_number(table, row, value);
	}
	fail_msg("no such row for %s", value);
	return NAN;
}
