/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * floor [--packed-alike] MANIFEST READINGS OUT.xlsx [CELLS]: the least that a report of these readings can cost: reads
 * the same lines and writes the same cells with the workbook library and nothing else. No checks, no statistics, no
 * comparison. CELLS (made of the report by the script cells) has every cell as it is to be written. Without it, for sizes
 * at which the readings are all but everything, their cells are written anew, of the same kinds: numbers of as many
 * digits, texts, formulas up to the size where the program writes them. The library packs as it does by itself;
 * --packed-alike: as the program has it pack, which is cheaper.
 */
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <xlsxwriter.h>

#include "fast_workbook.h"

enum { FORMULAS_UP_TO = 20000, ROWS_A_SHEET = 1048570, LINE = 65536 };

static int packed_alike;

static lxw_workbook *book_new(const char *path, lxw_workbook_options *options)
{
	return packed_alike ? fast_workbook_new(path, options) : workbook_new_opt(path, options);
}

struct sink {
	lxw_workbook *book;
	lxw_worksheet *sheet;
	lxw_format *number, *text;
	lxw_row_t row;
	size_t readings;
	int formulas;
	int parts;
};

/* A format like the one that every book begins with would be looked up anew for each cell: a fifth of all the time. */
static void formats_make(struct sink *sink)
{
	sink->number = workbook_add_format(sink->book);
	format_set_num_format(sink->number, "0.000");
	sink->text = workbook_add_format(sink->book);
	format_set_align(sink->text, LXW_ALIGN_LEFT);
}

static void sheet_next(struct sink *sink)
{
	char name[32];

	snprintf(name, sizeof(name), "Readings %d", ++sink->parts);
	sink->sheet = workbook_add_worksheet(sink->book, name);
	sink->row = 0;
}

static void number_or_formula(struct sink *sink, lxw_col_t col, const char *formula, double value)
{
	if (sink->formulas)
		worksheet_write_formula_num(sink->sheet, sink->row, col, formula, sink->number, value);
	else
		worksheet_write_number(sink->sheet, sink->row, col, value, sink->number);
}

static void reading_write(struct sink *sink, size_t brew, const char *label, double shown, double temp,
                          const char *line, const char *place)
{
	double brix = shown / 0.85;
	double index = 1.33299 + 1.42696702e-3 * brix + 5.50966406e-6 * brix * brix;

	if (sink->row == ROWS_A_SHEET)
		sheet_next(sink);
	worksheet_write_number(sink->sheet, sink->row, 0, (double)brew, sink->number);
	worksheet_write_string(sink->sheet, sink->row, 1, label, sink->text);
	worksheet_write_string(sink->sheet, sink->row, 2, "yes", sink->text);
	worksheet_write_number(sink->sheet, sink->row, 3, shown, sink->number);
	worksheet_write_string(sink->sheet, sink->row, 4, "% TDS", sink->text);
	worksheet_write_number(sink->sheet, sink->row, 5, temp, sink->number);
	number_or_formula(sink, 6, "=D2/'Meter'!$C$20", brix);
	worksheet_write_number(sink->sheet, sink->row, 7, index, sink->number);
	worksheet_write_number(sink->sheet, sink->row, 8, 0, sink->number);
	number_or_formula(sink, 9, "=H2-I2", index);
	worksheet_write_number(sink->sheet, sink->row, 10, 20, sink->number);
	worksheet_write_number(sink->sheet, sink->row, 11, brix, sink->number);
	worksheet_write_number(sink->sheet, sink->row, 12, 0.85, sink->number);
	number_or_formula(sink, 13, "=L2*M2", shown);
	worksheet_write_string(sink->sheet, sink->row, 14, line, sink->text);
	worksheet_write_string(sink->sheet, sink->row, 15, place, sink->text);
	sink->row++;
}

static void line_write(struct sink *sink, char *line, size_t number, const char *file, size_t *brew)
{
	char raw[LINE], place[300];
	char *at = strchr(line, '@');
	double temp = at ? strtod(at + 1, NULL) : 20;
	char *label, *save;

	line[strcspn(line, "\n")] = '\0';
	snprintf(raw, sizeof(raw), "%s", line);
	if (at)
		*at = '\0';
	label = strtok_r(line, " ", &save);
	if (!label)
		return;
	(*brew)++;
	for (char *word; (word = strtok_r(NULL, " ", &save));) {
		snprintf(place, sizeof(place), "%s:%zu:%zu", file, number, (size_t)(word - line) + 1);
		reading_write(sink, *brew, label, strtod(word, NULL), temp, raw, place);
	}
}

/* The brews' sheet: about as many cells a row as the report has. */
static size_t brews_write(struct sink *sink, const char *path)
{
	lxw_worksheet *sheet = workbook_add_worksheet(sink->book, "Brews");
	FILE *file = fopen(path, "r");
	char line[LINE];
	lxw_row_t row = 0;

	if (!file)
		exit(1);
	while (fgets(line, sizeof(line), file)) {
		line[strcspn(line, "\n")] = '\0';
		worksheet_write_string(sheet, row, 0, line, sink->text);
		for (lxw_col_t col = 1; col < 20; col++)
			worksheet_write_number(sheet, row, col, 20.0 + (double)row / 7.0 + col, sink->number);
		row++;
	}
	fclose(file);
	return row;
}

static size_t count_words(const char *path)
{
	FILE *file = fopen(path, "r");
	size_t words = 0;
	int c, before = '\n';

	if (!file)
		exit(1);
	for (; (c = getc(file)) != EOF; before = c)
		words += before == ' ' && c != '@';
	fclose(file);
	return words;
}

/* As the script cells writes them. */
struct cell {
	uint16_t sheet, col;
	uint32_t row;
	char kind;
	char unused[3];
	uint32_t formula, text;
	double value;
};

struct cells {
	uint32_t count, sheets;
	struct cell cell[];
};

static const struct cells *cells_map(const char *path)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC);
	struct stat about;
	void *map;

	if (fd < 0 || fstat(fd, &about) != 0)
		exit(1);
	map = mmap(NULL, (size_t)about.st_size, PROT_READ, MAP_PRIVATE, fd, 0);
	if (map == MAP_FAILED)
		exit(1);
	return map;
}

static void cell_write(lxw_worksheet *sheet, const struct cell *cell, const char *words, const struct sink *sink)
{
	switch (cell->kind) {
	case 'n':
		worksheet_write_number(sheet, cell->row, cell->col, cell->value, sink->number);
		break;
	case 'f':
		worksheet_write_formula_num(sheet, cell->row, cell->col, words + cell->formula, sink->number,
		                            cell->value);
		break;
	case 't':
		worksheet_write_formula_str(sheet, cell->row, cell->col, words + cell->formula, sink->text,
		                            words + cell->text);
		break;
	default:
		worksheet_write_string(sheet, cell->row, cell->col, words + cell->text, sink->text);
	}
}

static int cells_write(struct sink *sink, const struct cells *cells)
{
	const char *words = (const char *)&cells->cell[cells->count];

	for (uint32_t i = 0; i < cells->count; i++) {
		while (sink->parts <= cells->cell[i].sheet)
			sheet_next(sink);
		cell_write(sink->sheet, &cells->cell[i], words, sink);
	}
	return workbook_close(sink->book) != LXW_NO_ERROR;
}

/* The input is read as it has to be: its words cut, its numbers understood. */
static double input_read(const char *path)
{
	FILE *file = fopen(path, "r");
	char line[LINE];
	double sum = 0;
	char *save;

	if (!file)
		exit(1);
	while (fgets(line, sizeof(line), file))
		for (char *word = strtok_r(line, " ,@\n", &save); word; word = strtok_r(NULL, " ,@\n", &save))
			sum += strtod(word, NULL);
	fclose(file);
	return sum;
}

static int cells_again(char **argv)
{
	struct sink sink = { .book = book_new(argv[3], NULL) };
	volatile double sum = input_read(argv[1]) + input_read(argv[2]);

	(void)sum;
	formats_make(&sink);
	return cells_write(&sink, cells_map(argv[4]));
}

int main(int argc, char **argv)
{
	lxw_workbook_options options = { .constant_memory = LXW_TRUE };
	struct sink sink = { .formulas = 0 };
	char line[LINE];
	size_t number = 0, brew = 0;
	FILE *file;

	if (argc > 1 && strcmp(argv[1], "--packed-alike") == 0) {
		packed_alike = 1;
		argv++;
		argc--;
	}
	if (argc == 5)
		return cells_again(argv);
	if (argc != 4)
		return 2;
	sink.formulas = count_words(argv[2]) <= FORMULAS_UP_TO;
	sink.book = book_new(argv[3], &options);
	formats_make(&sink);
	brews_write(&sink, argv[1]);
	sheet_next(&sink);
	file = fopen(argv[2], "r");
	if (!file)
		return 1;
	while (fgets(line, sizeof(line), file))
		line_write(&sink, line, ++number, argv[2], &brew);
	fclose(file);
	return workbook_close(sink.book) != LXW_NO_ERROR;
}
