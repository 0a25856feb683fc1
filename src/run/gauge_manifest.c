/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "gauge_manifest.h"

#include <math.h>
#include <string.h>

#include "cell.h"
#include "correction.h"
#include "header.h"
#include "label.h"
#include "reading.h"
#include "table.h"
#include "text.h"

enum study_column { STUDY_LOAD, STUDY_SAMPLE, STUDY_OPERATOR, STUDY_DAY, STUDY_KIND, STUDY_COLUMNS };

enum { STUDY_SPELLINGS = 6, STUDY_MISSING = TABLE_CELLS };

static const char *const spellings[STUDY_COLUMNS][STUDY_SPELLINGS] = {
	[STUDY_LOAD] = { "load", "cup", "label", "brew" },
	[STUDY_SAMPLE] = { "sample", "artefact", "standard", "solution", "treatment" },
	[STUDY_OPERATOR] = { "operator", "person", "read by" },
	[STUDY_DAY] = { "day", "date" },
	[STUDY_KIND] = { "kind" },
};

struct study {
	struct run *run;
	struct gauge_design *design;
	struct faults *faults;
	const char *file;
	struct slice text;
	char delimiter;
	size_t at[STUDY_COLUMNS]; /* column, or STUDY_MISSING */
	size_t room;              /* rows at most */
	bool no_memory;
};

static struct place study_place(const struct study *study, const struct cell *cell)
{
	return (struct place){ study->file, cell->line, cell_column(cell) };
}

/* The delimiter that splits the first row with something in it into most cells. */
static char find_delimiter(struct study *study)
{
	static const char delimiters[] = { ',', ';', '\t', '|' };
	size_t most = 0;
	char best = ',';

	for (size_t i = 0; i < sizeof(delimiters); i++) {
		struct table table;
		struct row row;

		table_init(&table, study->text, 1, delimiters[i], NULL);
		while (table_next(&table, &row) == TABLE_ROW && (row.comment || slice_blank(row.cells[0].text)))
			continue;
		if (!row.comment && row.count > most) {
			most = row.count;
			best = delimiters[i];
		}
		table_release(&table);
	}
	return best;
}

static bool spelled(const char *const *words, struct slice name)
{
	for (size_t i = 0; i < STUDY_SPELLINGS && words[i]; i++)
		if (slice_equal(name, slice_from(words[i])))
			return true;
	return false;
}

static void take_header(struct study *study, const struct row *row)
{
	for (size_t column = 0; column < STUDY_COLUMNS; column++)
		study->at[column] = STUDY_MISSING;
	for (size_t i = 0; i < row->count; i++) {
		struct header header;

		if (!header_read(&header, &study->run->memory, row->cells[i].text)) {
			study->no_memory = true;
			return;
		}
		for (size_t column = 0; column < STUDY_COLUMNS; column++) {
			if (!spelled(spellings[column], header.name))
				continue;
			if (study->at[column] == STUDY_MISSING)
				study->at[column] = i;
			else
				faults_add(study->faults, SEVERITY_WARNING, study_place(study, &row->cells[i]),
				           "a second column for the %s; the first one counts", spellings[column][0]);
		}
	}
}

static struct slice cell_of(const struct study *study, const struct row *row, enum study_column column)
{
	size_t at = study->at[column];

	return at < row->count ? slice_trim(row->cells[at].text) : (struct slice){ NULL, 0 };
}

/* The number of name in names[0..*count), where it is added if it is not there. */
static size_t number_of(struct slice *names, size_t *count, struct slice name)
{
	size_t i = 0;

	while (i < *count && !slice_equal(names[i], name))
		i++;
	if (i == *count)
		names[(*count)++] = name;
	return i;
}

static void add_load(struct study *study, const struct row *row, struct slice label, struct slice key)
{
	struct run *run = study->run;
	struct gauge_design *design = study->design;
	struct slice sample = cell_of(study, row, STUDY_SAMPLE);
	size_t at = run->brew_count, treatment = 0;

	while (treatment < run->treatment_count && !slice_equal(run->treatments[treatment].name, sample))
		treatment++;
	if (treatment == run->treatment_count)
		run->treatments[run->treatment_count++] = (struct treatment){ .name = sample };
	run->treatments[treatment].brews++;
	run->brews[at] = (struct brew){
		.label = label,
		.key = key,
		.place = study_place(study, &row->cells[study->at[STUDY_LOAD]]),
		.treatment = (uint32_t)treatment,
		.brewed_us = READING_NO_TIME,
		.read_from_us = READING_NO_TIME,
		.read_to_us = READING_NO_TIME,
		.type_factor = COFFEE_TDS_PER_BRIX,
	};
	for (size_t i = 0; i < BREW_NUMBERS; i++)
		run->brews[at].number[i] = NAN;
	if (design->operators)
		design->operators[at] = number_of(design->operator_names, &design->operator_count,
		                                  cell_of(study, row, STUDY_OPERATOR));
	if (design->days)
		design->days[at] = number_of(design->day_names, &design->day_count, cell_of(study, row, STUDY_DAY));
	run->brew_count++;
}

/* Nothing that the study names may be left open in a row. */
static bool row_whole(struct study *study, const struct row *row)
{
	for (size_t column = 0; column < STUDY_KIND; column++) {
		if (study->at[column] == STUDY_MISSING || cell_of(study, row, (enum study_column)column).len > 0)
			continue;
		faults_add(study->faults, SEVERITY_ERROR, (struct place){ study->file, row->line, 0 },
		           "the %s is missing; expected one in each row; the row is left out", spellings[column][0]);
		return false;
	}
	if (study->at[STUDY_KIND] != STUDY_MISSING &&
	    !slice_equal_nocase(cell_of(study, row, STUDY_KIND), SLICE_OF("gauge"))) {
		struct slice kind = cell_of(study, row, STUDY_KIND);

		faults_add(study->faults, SEVERITY_ERROR, (struct place){ study->file, row->line, 0 },
		           "kind \"%s\" is not that of an instrument study; expected gauge; the row is left out",
		           EXCERPT(kind));
		return false;
	}
	return true;
}

static bool label_new(struct study *study, const struct row *row, struct slice key)
{
	for (size_t i = 0; i < study->run->brew_count; i++) {
		const struct brew *brew = &study->run->brews[i];

		if (!slice_equal(brew->key, key))
			continue;
		faults_add(
			study->faults, SEVERITY_ERROR, study_place(study, &row->cells[study->at[STUDY_LOAD]]),
			"load \"%s\" stands twice, first in line %u; expected each once: a new load needs a label of "
			"its own; "
			"the second is left out",
			EXCERPT(key), brew->place.line);
		return false;
	}
	return true;
}

static void take_row(struct study *study, const struct row *row)
{
	struct slice label = cell_of(study, row, STUDY_LOAD);
	struct slice key;

	if (row->comment || (row->count == 1 && slice_blank(row->cells[0].text)) || !row_whole(study, row))
		return;
	if (study->run->brew_count == GAUGE_LOADS_MOST) {
		faults_add(study->faults, SEVERITY_ERROR, (struct place){ study->file, row->line, 0 },
		           "more than %d loads; this one is left out", GAUGE_LOADS_MOST);
		return;
	}
	if (!label_key(&key, &study->run->memory, label))
		study->no_memory = true;
	else if (label_new(study, row, key))
		add_load(study, row, label, key);
}

static bool ready(struct study *study)
{
	struct arena *memory = &study->run->memory;
	struct gauge_design *design = study->design;
	size_t room = GAUGE_LOADS_MOST;

	study->run->brews = arena_take(memory, room * sizeof(*study->run->brews));
	study->run->treatments = arena_take(memory, room * sizeof(*study->run->treatments));
	*design = (struct gauge_design){ .operators = NULL };
	if (study->at[STUDY_OPERATOR] != STUDY_MISSING) {
		design->operators = arena_take(memory, room * sizeof(*design->operators));
		design->operator_names = arena_take(memory, room * sizeof(*design->operator_names));
	}
	if (study->at[STUDY_DAY] != STUDY_MISSING) {
		design->days = arena_take(memory, room * sizeof(*design->days));
		design->day_names = arena_take(memory, room * sizeof(*design->day_names));
	}
	return study->run->brews && study->run->treatments &&
	       (study->at[STUDY_OPERATOR] == STUDY_MISSING || (design->operators && design->operator_names)) &&
	       (study->at[STUDY_DAY] == STUDY_MISSING || (design->days && design->day_names));
}

/* The first row that is none of remark and blank; false: there is none. */
static bool find_header(struct study *study, struct table *table)
{
	struct row row;

	while (table_next(table, &row) == TABLE_ROW) {
		if (row.comment || (row.count == 1 && slice_blank(row.cells[0].text)))
			continue;
		take_header(study, &row);
		if (study->at[STUDY_LOAD] != STUDY_MISSING)
			return true;
		faults_add(study->faults, SEVERITY_ERROR, (struct place){ study->file, row.line, 0 },
		           "no column for the load in this header; expected load, and any of sample, operator, day");
		return false;
	}
	faults_add(study->faults, SEVERITY_ERROR, (struct place){ study->file, 0, 0 },
	           "nothing in it; expected a header with load, and any of sample, operator, day");
	return false;
}

static enum status read_rows(struct study *study, struct error *error)
{
	enum status status = STATUS_OK;
	struct table table;
	struct row row;
	enum table_result result = TABLE_END;

	study->delimiter = find_delimiter(study);
	table_init(&table, study->text, 1, study->delimiter, &study->run->memory);
	if (!find_header(study, &table))
		status = STATUS_REFUSED;
	else if (!ready(study))
		study->no_memory = true;
	while (status == STATUS_OK && !study->no_memory && (result = table_next(&table, &row)) == TABLE_ROW)
		take_row(study, &row);
	if (result == TABLE_UNCLOSED)
		faults_add(study->faults, SEVERITY_ERROR, study_place(study, &table.unclosed),
		           "the quote that opens here is never closed; what follows is left out");
	if (study->no_memory || result == TABLE_MEMORY)
		status = error_set(error, STATUS_MEMORY, "%s: no memory", study->file);
	table_release(&table);
	return status;
}

enum status gauge_manifest_read_text(struct run *run, struct gauge_design *design, const char *name, struct text *text,
                                     struct faults *faults, struct error *error)
{
	struct study study = { .run = run, .design = design, .faults = faults };
	enum status status;

	study.file = arena_copy(&run->memory, slice_from(name)).text;
	if (!study.file || !run_add_input(run, name, text->bytes, text->len))
		return error_set(error, STATUS_MEMORY, "%s: no memory", name);
	status = text_decode(text, error);
	if (status != STATUS_OK)
		return status;
	study.text = (struct slice){ text->bytes, text->len };
	text->bytes = NULL; /* the run's from here on */
	if (!run_keep(run, (char *)(uintptr_t)study.text.text))
		return error_set(error, STATUS_MEMORY, "%s: no memory", name);
	status = read_rows(&study, error);
	if (status == STATUS_OK && run->brew_count == 0) {
		faults_add(faults, SEVERITY_ERROR, (struct place){ study.file, 0, 0 },
		           "no load in it; nothing to study");
		status = STATUS_REFUSED;
	}
	return status;
}

enum status gauge_manifest_read(struct run *run, struct gauge_design *design, const char *path, struct faults *faults,
                                struct error *error)
{
	struct text text = TEXT_INIT;
	enum status status = text_load(&text, path, error);

	if (status == STATUS_OK)
		status = gauge_manifest_read_text(run, design, path, &text, faults, error);
	text_release(&text);
	return status;
}
