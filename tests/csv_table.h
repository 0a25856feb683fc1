/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * csv_table.h: a file of expected values, asked by row and column name.
 *
 * For the plain CSV of tests/reference/data: one header row, commas, LF,
 * no quotes. Anything amiss (no file, no such column) fails the test.
 */
#ifndef CSV_TABLE_H
#define CSV_TABLE_H

#include <stddef.h>

struct csv_table {
	char *text;
	char **cells; /* (rows + 1) x columns, the header first */
	size_t columns;
	size_t rows;
};

/* name is that of a file in TEST_DATA. Free with csv_table_release(). */
struct csv_table csv_table_read(const char *name);
void csv_table_release(struct csv_table *table);

/* Row 0 is the first below the header. The text stays the table's. */
const char *csv_text(const struct csv_table *table, size_t row, const char *column);

/* The numbers of that column of the file to x[0..most), of which it may have no more; returns how many. */
size_t csv_column(double *x, size_t most, const char *name, const char *column);

/* NaN where the cell is no number ("", "NA", "none"). */
double csv_number(const struct csv_table *table, size_t row, const char *column);

/* A whole number from 0; fails the test where the cell is none. */
size_t csv_count(const struct csv_table *table, size_t row, const char *column);

/*
 * The `value` of the row in which the columns name[0], name[1], ... have
 * the texts that follow them; the list ends with NULL. No such row fails.
 */
double csv_lookup(const struct csv_table *table, const char *value, ...) __attribute__((sentinel));

#endif
