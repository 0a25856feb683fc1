/* SPDX-License-Identifier: GPL-3.0-or-later */
/* group_table.h: the groups of a file of measured values, one value a row. */
#ifndef GROUP_TABLE_H
#define GROUP_TABLE_H

#include "near.h"

#include <string.h>

#include "csv_table.h"
#include "describe.h"

enum { GROUP_TABLE_GROUPS = 30, GROUP_TABLE_VALUES = 400 };

struct group_table {
	struct csv_table csv;
	const char *name[GROUP_TABLE_GROUPS];
	struct group_values group[GROUP_TABLE_GROUPS];
	struct group_summary summary[GROUP_TABLE_GROUPS];
	size_t count;
	double values[GROUP_TABLE_VALUES];
};

static inline size_t group_table_find(const struct group_table *table, const char *name)
{
	for (size_t i = 0; i < table->count; i++)
		if (strcmp(table->name[i], name) == 0)
			return i;
	fail_msg("no group %s", name);
	return 0;
}

/* The place of the group of that name, which is added where it is new. */
static inline size_t group_table_place(struct group_table *table, const char *name)
{
	for (size_t i = 0; i < table->count; i++)
		if (strcmp(table->name[i], name) == 0)
			return i;
	assert_true(table->count < GROUP_TABLE_GROUPS);
	table->name[table->count] = name;
	table->group[table->count] = (struct group_values){ NULL, 0 };
	return table->count++;
}

static inline bool group_table_takes(const struct group_table *table, size_t row, const char *set)
{
	return !set || strcmp(csv_text(&table->csv, row, "set"), set) == 0;
}

/*
 * column names the group, y holds the value; groups stand in the order in which they first appear.
 * Where set is not NULL, only the rows whose column "set" says so. Free with group_table_release().
 */
static inline void group_table_read(struct group_table *table, const char *file, const char *column, const char *set)
{
	size_t filled = 0;

	table->csv = csv_table_read(file);
	table->count = 0;
	for (size_t row = 0; row < table->csv.rows; row++)
		if (group_table_takes(table, row, set))
			group_table_place(table, csv_text(&table->csv, row, column));
	for (size_t i = 0; i < table->count; i++) {
		table->group[i].values = &table->values[filled];
		for (size_t row = 0; row < table->csv.rows; row++) {
			if (!group_table_takes(table, row, set) ||
			    strcmp(csv_text(&table->csv, row, column), table->name[i]) != 0)
				continue;
			assert_true(filled < GROUP_TABLE_VALUES);
			table->values[filled++] = csv_number(&table->csv, row, "y");
			table->group[i].n++;
		}
		table->summary[i] = values_summary(table->group[i].values, table->group[i].n);
	}
}

static inline void group_table_release(struct group_table *table)
{
	csv_table_release(&table->csv);
}

#endif
