/* SPDX-License-Identifier: GPL-3.0-or-later */
/* csv_rows.h: the rows of a csv_table whose first column is a name, as cases for cmocka. */
#ifndef CSV_ROWS_H
#define CSV_ROWS_H

#include "near.h"

#include <stdlib.h>

#include "csv_table.h"

enum { CSV_ROW_CELLS = 14 };

struct csv_row {
	const char *name;                /* the table's */
	const char *word[CSV_ROW_CELLS]; /* the cells after the name, as written; the table's */
	double number[CSV_ROW_CELLS];    /* NaN where the cell is no number */
};

static inline struct csv_row csv_row_read(const struct csv_table *table, size_t row)
{
	struct csv_row out = { .name = table->cells[(row + 1) * table->columns] };

	assert_true(table->columns <= CSV_ROW_CELLS + 1);
	for (size_t i = 1; i < table->columns; i++) {
		out.word[i - 1] = table->cells[(row + 1) * table->columns + i];
		out.number[i - 1] = csv_number(table, row, table->cells[i]);
	}
	return out;
}

/* Runs test once a row of file, the row as its state and its name in the report; returns how many failed. */
static inline int csv_rows_run(const char *file, CMUnitTestFunction test)
{
	struct csv_table table = csv_table_read(file);
	struct csv_row *rows = calloc(table.rows, sizeof(*rows));
	struct CMUnitTest *tests = calloc(table.rows, sizeof(*tests));
	int failed = 1;

	if (rows && tests && table.rows > 0) {
		for (size_t i = 0; i < table.rows; i++) {
			rows[i] = csv_row_read(&table, i);
			tests[i] = (struct CMUnitTest){
				.name = rows[i].name,
				.test_func = test,
				.initial_state = &rows[i],
			};
		}
		failed = _cmocka_run_group_tests(file, tests, table.rows, NULL, NULL);
	}
	free(tests);
	free(rows);
	csv_table_release(&table);
	return failed;
}

#endif
