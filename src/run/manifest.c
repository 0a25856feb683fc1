/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "manifest.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "label.h"
#include "manifest_parts.h"

enum { NAMES_LISTED = 20, WORDS_SEEN = 8, SEPARATOR_LINE = 16 };

struct place manifest_place(const struct manifest *manifest, const struct cell *cell)
{
	return (struct place){ manifest->file, cell->line, cell_column(cell) };
}

void tally_add(struct tally *tally, struct place place, struct slice text)
{
	if (tally->count++ > 0)
		return;
	tally->place = place;
	tally->text = text;
}

/* -- the text as a whole ------------------------------------------------------ */

/* The place of the character before which characters others stand. */
static struct place place_by_count(const char *file, struct slice text, size_t characters)
{
	struct place place = { file, 1, 1 };

	for (size_t i = 0; i < text.len; i++) {
		char c = text.text[i];

		if (((unsigned char)c & 0xc0) == 0x80)
			continue;
		if (characters-- == 0)
			break;
		place.column++;
		if (c == '\n' || (c == '\r' && (i + 1 == text.len || text.text[i + 1] != '\n'))) {
			place.line++;
			place.column = 1;
		}
	}
	return place;
}

static void encoding_tell(const struct manifest *manifest, const struct text *text)
{
	struct slice all = { text->bytes, text->len };
	struct place place = { manifest->file, 1, 0 };

	switch (text->encoding) {
	case ENCODING_UTF8:
		break;
	case ENCODING_UTF16LE:
	case ENCODING_UTF16BE:
		faults_add(manifest->faults, SEVERITY_NOTE, place, "the file is %s", encoding_name(text->encoding));
		break;
	case ENCODING_WINDOWS_1252:
		/* each byte became one character, but for the mark that was taken off */
		place = place_by_count(manifest->file, all, text->first_bad - (text->mark ? 3 : 0));
		faults_add(
			manifest->faults, SEVERITY_WARNING, place,
			"byte %zu of the file is not UTF-8; expected UTF-8 (\"CSV UTF-8\" in a spreadsheet program); the "
			"file is taken as Windows-1252",
			text->first_bad);
		break;
	}
}

/* A few NULs cost their rows; a file full of them is no text. */
static bool is_text(struct manifest *manifest)
{
	struct slice text = manifest->text;
	const char *first = memchr(text.text, '\0', text.len);
	size_t count = 0;
	struct place place;

	manifest->has_nul = first != NULL;
	for (const char *at = first; at; at = memchr(at, '\0', (size_t)(text.text + text.len - at))) {
		count++;
		at++;
	}
	if (count <= text.len / 100)
		return true;
	place = place_by_count(manifest->file, text, utf8_count(slice_part(text, 0, (size_t)(first - text.text))));
	faults_add(
		manifest->faults, SEVERITY_ERROR, place,
		"the file is not text: %zu of its %zu bytes are NUL, the first one here; expected rows of text; nothing "
		"of it is taken",
		count, text.len);
	return false;
}

/* A line "sep=;" before all others says the separator. Returns what is behind it. */
static struct slice separator_line(struct manifest *manifest, uint32_t *line)
{
	struct slice text = manifest->text;
	const char *end = text.text + text.len;
	const char *next = line_skip(text.text, end);
	struct slice first = { text.text, (size_t)(next - text.text) };

	*line = 1;
	if (first.len > SEPARATOR_LINE)
		return text;
	while (first.len > 0 && strchr("\r\n\" ", first.text[first.len - 1]))
		first.len--;
	if (first.len > 0 && first.text[0] == '"')
		first = slice_part(first, 1, first.len);
	if (first.len != 5 || !slice_equal_nocase(slice_part(first, 0, 4), SLICE_OF("sep=")) || first.text[4] == '\0' ||
	    !strchr(",;\t|", first.text[4]))
		return text;
	manifest->separator = first.text[4];
	*line = 2;
	return (struct slice){ next, (size_t)(end - next) };
}

/* -- the survey: what all rows together say ------------------------------------ */

struct survey {
	struct tally marks[MARK_WEAK_COMMA + 1]; /* of columns of numbers of ours */
	struct tally other_marks[MARK_WEAK_COMMA + 1];
};

static void survey_cell(struct manifest *manifest, struct survey *survey, size_t index, const struct cell *cell)
{
	struct field *field = &manifest->fields[index];
	const struct known_column *known = field->header.known;
	struct tally *tally = known ? survey->marks : survey->other_marks;
	enum mark_evidence mark;

	field->filled = field->filled || cell_trim(cell->text).len > 0;
	if (known && known->kind != KNOWN_NUMBER)
		return;
	mark = cell_mark(cell->text);
	if (mark != MARK_SILENT)
		tally_add(&tally[mark], tally[mark].count ? tally[mark].place : manifest_place(manifest, cell),
		          cell->text);
}

static void unclosed_tell(struct manifest *manifest, const struct table *table)
{
	struct slice text = table->unclosed.text;
	bool curly = memmem(text.text, text.len, "\xe2\x80\x9d", 3) || memmem(text.text, text.len, "\xe2\x80\x9c", 3);

	faults_add(
		manifest->faults, SEVERITY_ERROR, manifest_place(manifest, &table->unclosed),
		"the quote that opens here, in line %u, is not closed before the next rows: \"%s\"; expected a straight "
		"quote at the cell's end%s; nothing of the file is taken",
		(unsigned int)table->unclosed.line, EXCERPT(text), curly ? " (a curly quote does not close it)" : "");
}

/* Goes over all rows without keeping any. False: there is nothing to go on with. */
static bool survey_rows(struct manifest *manifest, struct survey *survey)
{
	struct table table = manifest->table;
	enum table_result result;
	struct row row;

	table.arena = NULL;
	table.cells = NULL;
	table.capacity = 0;
	while ((result = table_next(&table, &row)) == TABLE_ROW) {
		if (manifest->label < row.count && cell_trim(row.cells[manifest->label].text).len > 0)
			manifest->rows++;
		for (size_t i = 0; i < row.count && i < manifest->field_count; i++)
			survey_cell(manifest, survey, i, &row.cells[i]);
	}
	table_release(&table);
	if (result == TABLE_UNCLOSED)
		unclosed_tell(manifest, &table);
	manifest->memory_gone = result == TABLE_MEMORY;
	return result == TABLE_END;
}

static struct tally tally_both(const struct tally *first, const struct tally *second)
{
	struct tally both = first->count > 0 ? *first : *second;

	both.count = first->count + second->count;
	return both;
}

/* Columns that are not ours may hold dates or versions, so those with the other mark are only told of. */
static void mark_tell_others(struct manifest *manifest, const struct tally *others)
{
	const struct tally *against = &others[manifest->mark == ',' ? MARK_POINT : MARK_COMMA];

	if (against->count > 0)
		faults_add(manifest->faults, SEVERITY_NOTE, against->place,
		           "\"%s\" has a decimal %s, but this file has the %s; the column is taken as words",
		           EXCERPT(against->text), manifest->mark == ',' ? "point" : "comma",
		           manifest->mark == ',' ? "comma" : "point");
}

/*
 * Numbers that can be read in one way only decide; without any the separator tells the custom of the place. A comma in a
 * cell of a file with commas between cells is against that custom, so there all columns are asked, not ours alone.
 */
static void mark_decide(struct manifest *manifest, const struct survey *survey)
{
	const struct tally *own = survey->marks, *others = survey->other_marks;
	bool silent = own[MARK_POINT].count == 0 && own[MARK_COMMA].count == 0;
	bool together = silent || (manifest->table.delimiter == ',' && own[MARK_COMMA].count > own[MARK_POINT].count);
	const struct tally commas = together ? tally_both(&own[MARK_COMMA], &others[MARK_COMMA]) : own[MARK_COMMA];
	const struct tally points = together ? tally_both(&own[MARK_POINT], &others[MARK_POINT]) : own[MARK_POINT];
	const struct tally *comma = &commas, *point = &points;

	if (comma->count != point->count)
		manifest->mark = comma->count > point->count ? ',' : '.';
	else
		manifest->mark = manifest->table.delimiter == ';' ? ',' : '.';
	if (comma->count > 0 && point->count > 0)
		faults_add(
			manifest->faults, SEVERITY_WARNING, manifest->mark == ',' ? point->place : comma->place,
			"numbers with a decimal comma (%zu, such as \"%s\") and with a point (%zu, such as \"%s\") in "
			"one file; expected one kind; the %s is taken as this file's",
			comma->count, EXCERPT(comma->text), point->count, EXCERPT(point->text),
			manifest->mark == ',' ? "comma" : "point");
	else if (comma->count > 0)
		faults_add(manifest->faults, SEVERITY_NOTE, comma->place,
		           "the decimal mark of this file is the comma, as in \"%s\"", EXCERPT(comma->text));
	if (!together)
		mark_tell_others(manifest, others);
}

/* -- columns -------------------------------------------------------------------- */

static bool column_start(struct manifest *manifest, struct field *field, size_t position)
{
	struct arena *memory = &manifest->run->memory;
	struct column *column = &manifest->run->columns[manifest->run->column_count++];
	const struct header *header = &field->header;

	*column = (struct column){
		.header = header->text,
		.name = header->name,
		.unit = header->unit,
		.known = known_code(header->known),
		.numeric = header->known && header->known->kind == KNOWN_NUMBER,
		.empty = true,
	};
	if (header->known)
		column->name = slice_from(header->known->name);
	if (header->name.len == 0)
		column->name = slice_from(arena_print(memory, "column %zu", position));
	column->text = arena_take(memory, manifest->rows * sizeof(*column->text));
	if (column->numeric)
		column->number = arena_take(memory, manifest->rows * sizeof(*column->number));
	if (!column->name.text || !column->text || (column->numeric && !column->number))
		return false;
	for (size_t i = 0; column->numeric && i < manifest->rows; i++)
		column->number[i] = NAN;
	field->column = column;
	return true;
}

static bool columns_start(struct manifest *manifest)
{
	struct run *run = manifest->run;

	run->columns = arena_take(&run->memory, manifest->field_count * sizeof(*run->columns));
	run->brews = arena_take(&run->memory, manifest->rows * sizeof(*run->brews));
	run->lost_labels = arena_take(&run->memory, manifest->rows * sizeof(*run->lost_labels));
	if (!run->columns || !run->brews || !run->lost_labels)
		return false;
	for (size_t i = 0; i < manifest->field_count; i++) {
		struct field *field = &manifest->fields[i];

		if ((field->header.name.len > 0 || field->filled) && !column_start(manifest, field, i + 1))
			return false;
	}
	return true;
}

/* Cells of a column that is not ours: how many are numbers, how many words, and the first of these. */
struct kinds {
	size_t numbers, words;
	size_t first_word; /* index of the brew */
};

static struct kinds kinds_count(const struct column *column, size_t count, char mark)
{
	struct kinds kinds = { 0, 0, 0 };

	for (size_t i = 0; i < count; i++) {
		struct quantity quantity;
		enum cell_result result = cell_number(&quantity, column->text[i], mark);

		if (result == CELL_EMPTY || result == CELL_ABSENT)
			continue;
		if (result == CELL_NUMBER && quantity.unit.len == 0) {
			kinds.numbers++;
			continue;
		}
		if (kinds.words++ == 0)
			kinds.first_word = i;
		if (kinds.words > kinds.numbers + WORDS_SEEN)
			break; /* words, whatever follows */
	}
	return kinds;
}

static bool column_numbers(struct manifest *manifest, struct column *column)
{
	size_t count = manifest->run->brew_count;

	column->number = arena_take(&manifest->run->memory, (count ? count : 1) * sizeof(*column->number));
	if (!column->number)
		return false;
	for (size_t i = 0; i < count; i++) {
		struct quantity quantity;

		if (cell_number(&quantity, column->text[i], manifest->mark) != CELL_NUMBER) {
			column->number[i] = NAN;
			continue;
		}
		column->number[i] = quantity.number;
		if (column->decimals < quantity.decimals)
			column->decimals = quantity.decimals;
	}
	column->numeric = true;
	return true;
}

/* A column that is not ours: numbers if all its cells are, else words. */
static bool column_settle(struct manifest *manifest, struct field *field)
{
	struct column *column = field->column;
	struct kinds kinds;

	if (column->empty)
		return true;
	kinds = kinds_count(column, manifest->run->brew_count, manifest->mark);
	if (kinds.words == 0 && kinds.numbers > 0)
		return column_numbers(manifest, column);
	if (kinds.numbers > 2 * kinds.words)
		faults_add(
			manifest->faults, SEVERITY_WARNING, field->place,
			"\"%s\" has numbers in %zu cells but not in %zu, first \"%s\" of brew %s; expected numbers in "
			"all; the column is taken as words",
			EXCERPT(column->header), kinds.numbers, kinds.words, EXCERPT(column->text[kinds.first_word]),
			EXCERPT(manifest->run->brews[kinds.first_word].label));
	return true;
}

/* -- what is told once for many cells ------------------------------------------- */

static const char *and_more(struct manifest *manifest, const struct tally *tally)
{
	const char *more = NULL;

	if (tally->count > 1)
		more = arena_print(&manifest->run->memory, "; so are %zu more cells of the column", tally->count - 1);
	return more ? more : "";
}

static void field_tell(struct manifest *manifest, const struct field *field)
{
	struct faults *faults = manifest->faults;
	const char *name = field->header.known ? field->header.known->name : "";

	if (field->unit_in_cell.count > 0)
		faults_add(faults, SEVERITY_WARNING, field->unit_in_cell.place,
		           "%s \"%s\" has its unit in the cell; expected the number alone; taken as that%s", name,
		           EXCERPT(field->unit_in_cell.text), and_more(manifest, &field->unit_in_cell));
	if (field->volume.count > 0)
		faults_add(faults, SEVERITY_NOTE, field->volume.place,
		           "%s \"%s\" is a volume; 1 ml is taken as 1 g (at 95 \xc2\xb0"
		           "C it weighs 0.96 g)%s",
		           name, EXCERPT(field->volume.text), and_more(manifest, &field->volume));
	if (field->absent.count > 0)
		faults_add(faults, SEVERITY_NOTE, field->absent.place, "%s \"%s\" is taken as not given%s", name,
		           EXCERPT(field->absent.text), and_more(manifest, &field->absent));
	if (field->nameless.count > 0)
		faults_add(faults, SEVERITY_WARNING, field->nameless.place,
		           "\"%s\" stands in a column without a name; expected a header for it; kept as \"%.*s\"%s",
		           EXCERPT(field->nameless.text), SLICE_ARG(field->column->name),
		           and_more(manifest, &field->nameless));
}

static void rows_tell(struct manifest *manifest)
{
	struct faults *faults = manifest->faults;
	size_t nameless = 0;

	for (size_t i = 0; i < manifest->field_count; i++)
		nameless += manifest->fields[i].column == NULL;
	if (manifest->blank_rows.count > 0)
		faults_add(
			faults, SEVERITY_NOTE, manifest->blank_rows.place,
			"%zu row%s of separators alone, to line %u, and %zu nameless columns without content left out",
			manifest->blank_rows.count, manifest->blank_rows.count == 1 ? "" : "s",
			(unsigned int)manifest->last_blank, nameless);
	else if (nameless > 0)
		faults_add(faults, SEVERITY_NOTE, manifest->header_place,
		           "%zu nameless column%s without content left out", nameless, nameless == 1 ? "" : "s");
	if (manifest->comments.count > 0)
		faults_add(faults, SEVERITY_NOTE, manifest->comments.place,
		           "%zu comment line%s left out, this one the first", manifest->comments.count,
		           manifest->comments.count == 1 ? "" : "s");
	if (manifest->unfiltered.count > 0)
		faults_add(
			faults, SEVERITY_NOTE, manifest->unfiltered.place,
			"sample type \"%s\" gets the factor of the filtered one (%zu brew%s); what floats in a sample can "
			"shift its readings",
			EXCERPT(manifest->unfiltered.text), manifest->unfiltered.count,
			manifest->unfiltered.count == 1 ? "" : "s");
	if (manifest->no_type.count > 0)
		faults_add(faults, SEVERITY_NOTE, manifest->no_type.place,
		           "no sample type for %zu brew%s, first %s; taken as filter (common practice, no source)",
		           manifest->no_type.count, manifest->no_type.count == 1 ? "" : "s",
		           EXCERPT(manifest->no_type.text));
}

/* -- reading -------------------------------------------------------------------- */

static bool rows_read(struct manifest *manifest)
{
	enum table_result result;
	struct row row;

	while ((result = table_next(&manifest->table, &row)) == TABLE_ROW)
		if (!brew_row(manifest, &row))
			return false;
	manifest->memory_gone = result == TABLE_MEMORY;
	return !manifest->memory_gone;
}

static bool columns_finish(struct manifest *manifest)
{
	for (size_t i = 0; i < manifest->field_count; i++) {
		struct field *field = &manifest->fields[i];

		if (!field->column)
			continue;
		if (!field->header.known && !column_settle(manifest, field)) {
			manifest->memory_gone = true;
			return false;
		}
		if (field->column->empty) {
			field->column->numeric = false;
			field->column->number = NULL;
		}
		field_tell(manifest, field);
	}
	rows_tell(manifest);
	return true;
}

/* False: faults say why no brew was read, or memory is gone. */
static bool read_all(struct manifest *manifest)
{
	struct survey survey = { .marks = { { .count = 0 } } };
	struct slice text;
	uint32_t line;

	if (slice_blank(manifest->text)) {
		faults_add(manifest->faults, SEVERITY_ERROR, (struct place){ manifest->file, 0, 0 },
		           "the file is empty; expected a header line and a row for each brew");
		return false;
	}
	if (!is_text(manifest))
		return false;
	text = separator_line(manifest, &line);
	if (!manifest_find_header(manifest, text, line) || !survey_rows(manifest, &survey))
		return false;
	mark_decide(manifest, &survey);
	if (manifest->rows >= LOOKUP_NONE || !columns_start(manifest)) {
		manifest->memory_gone = true;
		return false;
	}
	if (!rows_read(manifest) || !columns_finish(manifest))
		return false;
	if (manifest->run->brew_count == 0)
		faults_add(manifest->faults, SEVERITY_ERROR, manifest->header_place,
		           "no brew is left of the rows below this header; expected a row for each brew");
	return manifest->run->brew_count > 0;
}

/* The last part of a path; parent gets what stands before it. */
static struct slice path_last(struct slice path, struct slice *parent)
{
	const char *slash = path.len > 0 ? memrchr(path.text, '/', path.len) : NULL;
	size_t at = slash ? (size_t)(slash - path.text) : 0;

	*parent = slice_part(path, 0, at);
	return slash ? slice_part(path, at + 1, path.len) : path;
}

/* "runs/papers.csv" is the run "papers", and so is "papers/manifest.csv". */
static struct slice name_of(const char *file)
{
	struct slice folder, rest;
	struct slice name = path_last(slice_from(file), &folder);
	const char *dot = name.len > 0 ? memrchr(name.text, '.', name.len) : NULL;

	if (dot && dot > name.text)
		name.len = (size_t)(dot - name.text);
	if (slice_equal(name, SLICE_OF("manifest"))) {
		folder = path_last(folder, &rest);
		if (folder.len > 0 && folder.text[0] != '.')
			return folder;
	}
	return name;
}

/* Notes the input, decodes it and hands it over to the run. */
static enum status text_take(struct manifest *manifest, struct text *text, struct error *error)
{
	struct run *run = manifest->run;
	enum status status;
	char *bytes;

	if (!run_add_input(run, manifest->file, text->bytes, text->len))
		return error_set(error, STATUS_MEMORY, "%s: no memory", manifest->file);
	status = text_decode(text, error);
	if (status != STATUS_OK)
		return status;
	encoding_tell(manifest, text);
	manifest->text = (struct slice){ text->bytes, text->len };
	bytes = text->bytes;
	text->bytes = NULL;
	if (!run_keep(run, bytes))
		return error_set(error, STATUS_MEMORY, "%s: no memory", manifest->file);
	return STATUS_OK;
}

enum status manifest_read_text(struct run *run, const char *name, struct text *text, const struct settings *settings,
                               struct faults *faults, struct error *error)
{
	struct manifest manifest = { .run = run, .settings = settings, .faults = faults, .text = { "", 0 } };
	enum status status;

	manifest.file = arena_copy(&run->memory, slice_from(name)).text;
	if (!manifest.file) {
		text_release(text);
		return error_set(error, STATUS_MEMORY, "%s: no memory", name);
	}
	run->name = name_of(manifest.file);
	status = text_take(&manifest, text, error);
	text_release(text);
	if (status != STATUS_OK)
		return status;
	if (!read_all(&manifest))
		status = manifest.memory_gone ? error_set(error, STATUS_MEMORY, "%s: no memory", name) :
		                                error_set(error, STATUS_REFUSED, "%s: no brew could be read", name);
	table_release(&manifest.table);
	lookup_release(&manifest.labels);
	lookup_release(&manifest.treatments);
	return status;
}

enum status manifest_read(struct run *run, const char *path, const struct settings *settings, struct faults *faults,
                          struct error *error)
{
	struct text text = TEXT_INIT;
	enum status status = text_load(&text, path, error);

	if (status != STATUS_OK)
		return status;
	return manifest_read_text(run, strcmp(path, "-") == 0 ? "standard input" : path, &text, settings, faults,
	                          error);
}

/* -- treatments by name ---------------------------------------------------------- */

/* "paper A", "paper B" and so on, from malloc(); NULL when there is no memory. */
static char *treatment_names(const struct run *run)
{
	enum { LISTED_BYTES = NAMES_LISTED * (EXCERPT_BYTES + 8) };
	char *list = calloc(1, LISTED_BYTES);
	size_t filled = 0;

	for (size_t i = 0; list && i < run->treatment_count && i < NAMES_LISTED; i++)
		filled += (size_t)snprintf(list + filled, LISTED_BYTES - filled, "%s\"%s\"", i > 0 ? ", " : "",
		                           EXCERPT(run->treatments[i].name));
	return list;
}

static bool find_exactly(uint32_t *index, const struct run *run, struct slice name)
{
	for (size_t i = 0; i < run->treatment_count; i++)
		if (slice_equal(run->treatments[i].name, name)) {
			*index = (uint32_t)i;
			return true;
		}
	return false;
}

/* How many treatments are nearly called so; *index is the last of them. */
static size_t find_nearly(uint32_t *index, const struct run *run, struct slice name)
{
	size_t found = 0;

	for (size_t i = 0; i < run->treatment_count; i++)
		if (label_nearly_same(run->treatments[i].name, name)) {
			*index = (uint32_t)i;
			found++;
		}
	return found;
}

bool manifest_find_treatment(uint32_t *index, const struct run *run, struct slice name, struct faults *faults)
{
	struct place place = { run->brew_count > 0 ? run->brews[0].place.file : "", 0, 0 };
	struct arena scratch = ARENA_INIT;
	struct slice key = name;
	uint32_t near = 0;
	size_t found;
	bool exactly;
	char *names;

	if (!label_key(&key, &scratch, name))
		key = slice_trim(name);
	exactly = find_exactly(index, run, key);
	found = exactly ? 0 : find_nearly(&near, run, key);
	arena_release(&scratch);
	if (exactly)
		return true;
	if (found == 1) {
		*index = near;
		faults_add(faults, SEVERITY_NOTE, place, "treatment \"%s\" is taken as \"%s\"", EXCERPT(name),
		           EXCERPT(run->treatments[near].name));
		return true;
	}
	names = treatment_names(run);
	faults_add(faults, SEVERITY_ERROR, place, "%s treatment is called \"%s\"; expected one of %s%s",
	           found > 1 ? "more than one" : "no", EXCERPT(name), names ? names : "",
	           run->treatment_count > NAMES_LISTED ? ", \xe2\x80\xa6" : "");
	free(names);
	return false;
}
