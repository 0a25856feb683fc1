/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "label.h"
#include "manifest_parts.h"

enum {
	HEADER_WINDOW = 64 * 1024, /* a header line is shorter */
	LINES_TRIED = 50,          /* that have something in them, before the search is given up */
	CELLS_TRIED = 256,
	NAMES_SHOWN = 12,
	SCORE_CLEAR = 4, /* label, treatment, dose, water: no line of data names so many */
};

static const char separators[] = { ',', ';', '\t', '|' };

static const char *separator_name(char separator)
{
	switch (separator) {
	case ',':
		return "comma";
	case ';':
		return "semicolon";
	case '\t':
		return "tab";
	default:
		return "bar";
	}
}

/* How a line looks when it is split at one separator. */
struct trial {
	char separator;
	const char *at; /* the line's first byte */
	uint32_t line;
	size_t score; /* columns of ours that it names */
};

static bool header_known(const struct header *header)
{
	return header->known &&
	       (!header->measure || header->known->kind != KNOWN_NUMBER || known_takes(header->known, header->measure));
}

static size_t score_row(struct manifest *manifest, const struct row *row)
{
	struct arena scratch = ARENA_INIT;
	size_t score = 0;

	for (size_t i = 0; i < row->count && i < CELLS_TRIED; i++) {
		struct header header;

		if (row->cells[i].text.len > HEADER_LONGEST)
			continue;
		if (header_read(&header, &scratch, row->cells[i].text))
			score += header_known(&header);
		else
			manifest->memory_gone = true;
	}
	arena_release(&scratch);
	return score;
}

static size_t score_line(struct manifest *manifest, struct slice text, uint32_t line, char separator)
{
	struct slice window = slice_part(text, 0, HEADER_WINDOW);
	enum table_result result;
	struct table table;
	size_t score = 0;
	struct row row;

	table_init(&table, window, line, separator, NULL);
	result = table_next(&table, &row);
	if (result == TABLE_ROW && !row.comment && (table.at < table.end || window.len == text.len))
		score = score_row(manifest, &row);
	manifest->memory_gone |= result == TABLE_MEMORY;
	table_release(&table);
	return score;
}

static bool line_blank(const char *at, const char *end)
{
	return slice_blank((struct slice){ at, (size_t)(line_skip(at, end) - at) });
}

static void try_line(struct trial *best, struct manifest *manifest, struct slice text, uint32_t line)
{
	size_t count = manifest->separator ? 1 : sizeof(separators);

	for (size_t i = 0; i < count; i++) {
		char separator = manifest->separator ? manifest->separator : separators[i];
		size_t score = score_line(manifest, text, line, separator);

		if (score > best->score)
			*best = (struct trial){ separator, text.text, line, score };
	}
}

/* The line that names most of our columns, among the first ones; *skipped: lines with text above it. */
static struct trial header_search(struct manifest *manifest, struct slice text, uint32_t line, size_t *skipped)
{
	const char *end = text.text + text.len;
	struct trial best = { .score = 0 };
	size_t tried = 0;

	*skipped = 0;
	for (const char *at = text.text; at < end && tried < LINES_TRIED && best.score < SCORE_CLEAR;
	     at = line_skip(at, end), line++) {
		size_t before = best.score;

		if (line_blank(at, end) || *slice_trim((struct slice){ at, (size_t)(end - at) }).text == '#')
			continue;
		try_line(&best, manifest, (struct slice){ at, (size_t)(end - at) }, line);
		if (best.score > before)
			*skipped = tried;
		tried++;
	}
	return best;
}

static struct place place_of_line(const struct manifest *manifest, uint32_t line)
{
	return (struct place){ manifest->file, line, 1 };
}

static bool fields_make(struct manifest *manifest, const struct row *row)
{
	struct arena *memory = &manifest->run->memory;

	manifest->fields = arena_take(memory, row->count * sizeof(*manifest->fields));
	if (!manifest->fields)
		return false;
	manifest->field_count = row->count;
	manifest->header_place = manifest_place(manifest, &row->cells[0]);
	for (size_t i = 0; i < row->count; i++) {
		struct field *field = &manifest->fields[i];

		field->place = manifest_place(manifest, &row->cells[i]);
		if (!header_read(&field->header, memory, row->cells[i].text))
			return false;
	}
	while (manifest->field_count > 1 && manifest->fields[manifest->field_count - 1].header.text.len == 0 &&
	       manifest->field_count > CELLS_TRIED)
		manifest->field_count--; /* thousands of separators behind the last name */
	return true;
}

/* Headers that are one once case, blanks, "_" and units are aside: nobody can say which is meant. */
static bool fields_unique(struct manifest *manifest)
{
	struct lookup seen = LOOKUP_INIT;
	bool unique = true;

	for (size_t i = 0; i < manifest->field_count && !manifest->memory_gone; i++) {
		const struct field *field = &manifest->fields[i];
		uint64_t hash = label_hash(field->header.name);
		size_t from = 0;
		uint32_t other;

		if (field->header.name.len == 0)
			continue;
		while ((other = lookup_next(&seen, hash, &from)) != LOOKUP_NONE)
			if (slice_equal(manifest->fields[other].header.name, field->header.name))
				break;
		if (other != LOOKUP_NONE) {
			faults_add(manifest->faults, SEVERITY_ERROR, field->place,
			           "header \"%s\" of column %zu is the same as \"%s\" of column %u; expected each "
			           "column once; nothing of the file is taken",
			           EXCERPT(field->header.text), i + 1, EXCERPT(manifest->fields[other].header.text),
			           other + 1);
			unique = false;
		}
		manifest->memory_gone = !lookup_put(&seen, hash, (uint32_t)i);
	}
	lookup_release(&seen);
	return unique && !manifest->memory_gone;
}

/* Is row a row of units: nothing where labels stand, units of ours below numbers of ours? */
static bool is_units_row(const struct manifest *manifest, const struct row *row)
{
	size_t found = 0;

	for (size_t i = 0; i < row->count && i < manifest->field_count; i++) {
		const struct known_column *known = manifest->fields[i].header.known;
		struct slice text = slice_trim(row->cells[i].text);
		bool nothing = text.len == 0 || slice_equal(text, SLICE_OF("-"));

		if (text.len > 2 && strchr("([", text.text[0]))
			text = slice_part(text, 1, text.len - 1);
		if (known && (known->kind == KNOWN_LABEL || known->kind == KNOWN_TREATMENT) && !nothing &&
		    !slice_equal_nocase(text, SLICE_OF("unit")) && !slice_equal_nocase(text, SLICE_OF("units")))
			return false;
		found += known && known->kind == KNOWN_NUMBER && known_takes(known, measure_find(text));
	}
	return found > 0;
}

static void unit_take(struct manifest *manifest, struct field *field, const struct cell *cell)
{
	struct slice text = slice_trim(cell->text);
	struct header *header = &field->header;

	if (text.len > 2 && strchr("([", text.text[0]))
		text = slice_trim(slice_part(text, 1, text.len - 1));
	if (text.len == 0 || slice_equal(text, SLICE_OF("-")) || header->name.len == 0)
		return;
	if (header->unit.len > 0 && measure_find(text) != header->measure)
		faults_add(manifest->faults, SEVERITY_ERROR, manifest_place(manifest, cell),
		           "unit \"%s\" stands under the header \"%s\"; expected one unit for a column; the column is "
		           "not taken as %s",
		           EXCERPT(text), EXCERPT(header->text), header->known ? header->known->name : "a number");
	if (header->unit.len > 0 && measure_find(text) != header->measure)
		header->known = NULL;
	header->unit = text;
	header->measure = measure_find(text);
	header->marked = true;
}

/* Takes the row of units, if the next row that holds something is one. */
static bool units_row(struct manifest *manifest)
{
	struct table ahead = manifest->table;
	enum table_result result;
	bool blank = true;
	struct row row;

	manifest->table.cells = NULL; /* the cells are ahead's, until one of the two is dropped */
	manifest->table.capacity = 0;
	do {
		result = table_next(&ahead, &row);
		blank = result == TABLE_ROW && (row.comment || line_blank(row.at, row.end));
	} while (blank);
	if (result == TABLE_MEMORY)
		manifest->memory_gone = true;
	if (result != TABLE_ROW || !is_units_row(manifest, &row)) {
		manifest->table.cells = ahead.cells;
		manifest->table.capacity = ahead.capacity;
		return !manifest->memory_gone;
	}
	faults_add(manifest->faults, SEVERITY_NOTE, place_of_line(manifest, row.line),
	           "this row is taken as the units of the columns above");
	for (size_t i = 0; i < row.count && i < manifest->field_count; i++)
		unit_take(manifest, &manifest->fields[i], &row.cells[i]);
	manifest->table = ahead;
	return true;
}

static const char *measure_names(const struct known_column *known)
{
	switch (known->measure) {
	case MEASURE_MASS:
		return known->volume ? "g, kg, mg, oz, lb, ml, l" : "g, kg, mg, oz, lb";
	case MEASURE_TEMPERATURE:
		return "\xc2\xb0"
		       "C, \xc2\xb0"
		       "F, K";
	case MEASURE_TIME:
		return "s, min, min:s, h";
	case MEASURE_PERCENT:
		return "%";
	case MEASURE_VOLUME:
	case MEASURE_NONE:
		break;
	}
	return "no unit";
}

/* A number of ours in a unit that is not converted is not taken as ours. */
static void unit_check(struct manifest *manifest, struct field *field)
{
	struct header *header = &field->header;
	const struct known_column *known = header->known;
	bool other_kind;

	if (!known || known->kind != KNOWN_NUMBER || header->unit.len == 0 || known_takes(known, header->measure))
		return;
	other_kind = header->measure && known->which > BREW_BEVERAGE_G;
	faults_add(manifest->faults, other_kind ? SEVERITY_NOTE : SEVERITY_ERROR, field->place,
	           "%s is in \"%s\"; expected %s; the column is kept, but not as %s", known->name,
	           EXCERPT(header->unit), measure_names(known), known->name);
	header->known = NULL;
}

/* Where the field of this kind is noted; NULL: as one of ours it is not needed again. */
static size_t *slot_of(struct manifest *manifest, const struct known_column *known)
{
	switch (known->kind) {
	case KNOWN_LABEL:
		return &manifest->label;
	case KNOWN_TREATMENT:
		return &manifest->treatment;
	case KNOWN_METHOD:
		return &manifest->method;
	case KNOWN_NUMBER:
		return &manifest->number[known->which];
	case KNOWN_WORD:
		return &manifest->word[known->which];
	case KNOWN_MOMENT:
		return &manifest->moment[known->which];
	}
	return NULL;
}

/* Two columns could be the same one of ours: the better spelling is it; of numbers none can be chosen. */
static bool slot_contest(struct manifest *manifest, size_t *slot, size_t index)
{
	struct field *field = &manifest->fields[index];
	struct field *other = &manifest->fields[*slot];
	struct field *winner = field->header.spelling < other->header.spelling ? field : other;
	struct field *loser = winner == field ? other : field;
	bool number = field->header.known->kind == KNOWN_NUMBER;
	bool told = slice_equal(field->header.name, other->header.name); /* as one header that stands twice */

	if (number && !told)
		faults_add(manifest->faults, SEVERITY_ERROR, field->place,
		           "header \"%s\" of column %zu and \"%s\" of column %zu both mean %s; expected one such "
		           "column; nothing of the file is taken",
		           EXCERPT(field->header.text), index + 1, EXCERPT(other->header.text), *slot + 1,
		           field->header.known->name);
	else if (!told)
		faults_add(manifest->faults, SEVERITY_NOTE, loser->place,
		           "\"%s\" could mean %s too, but \"%s\" does; this column is kept as one of its own",
		           EXCERPT(loser->header.text), loser->header.known->name, EXCERPT(winner->header.text));
	loser->header.known = NULL;
	*slot = (size_t)(winner - manifest->fields);
	return !number;
}

static bool slots_fill(struct manifest *manifest)
{
	bool clear = true;

	for (size_t i = 0; i < manifest->field_count; i++) {
		struct field *field = &manifest->fields[i];
		size_t *slot;

		unit_check(manifest, field);
		if (!field->header.known)
			continue;
		slot = slot_of(manifest, field->header.known);
		if (*slot == NO_FIELD)
			*slot = i;
		else if (!slot_contest(manifest, slot, i))
			clear = false;
	}
	return clear;
}

/* The names of the header, for a message: what could not be mapped is among them. */
static const char *header_names(struct manifest *manifest)
{
	const char *names = "";

	for (size_t i = 0; i < manifest->field_count && i < NAMES_SHOWN; i++) {
		const char *more = arena_print(&manifest->run->memory, "%s%s\"%s\"", names, i > 0 ? ", " : "",
		                               EXCERPT(manifest->fields[i].header.text));

		names = more ? more : names;
	}
	return names;
}

static void miss(struct manifest *manifest, const char *what, const char *spellings)
{
	faults_add(manifest->faults, SEVERITY_ERROR, manifest->header_place,
	           "no column for %s; expected a header such as %s; found %s%s; nothing of the file is taken", what,
	           spellings, header_names(manifest), manifest->field_count > NAMES_SHOWN ? ", \xe2\x80\xa6" : "");
}

static bool needed_there(struct manifest *manifest)
{
	bool mass = manifest->number[BREW_WATER_G] != NO_FIELD || manifest->number[BREW_BEVERAGE_G] != NO_FIELD;
	bool dose = manifest->number[BREW_DOSE_G] != NO_FIELD;

	if (manifest->label == NO_FIELD)
		miss(manifest, "the brew's label", "brew, cup or label");
	if (manifest->treatment == NO_FIELD)
		miss(manifest, "the treatment, which is what is compared", "treatment, condition or variant");
	if (!dose)
		miss(manifest, "the dose", "dose_g or \"Dose (g)\"");
	if (!mass)
		miss(manifest, "water or beverage", "water_g or beverage_g");
	return manifest->label != NO_FIELD && manifest->treatment != NO_FIELD && dose && mass;
}

/* One note for all columns whose unit nobody wrote. */
static void units_assumed(struct manifest *manifest)
{
	const char *list = NULL;

	for (size_t i = 0; i < manifest->field_count; i++) {
		const struct header *header = &manifest->fields[i].header;
		const char *unit = header->known ? measure_base(header->known->measure) : "";

		if (*unit == '\0' || header->unit.len > 0)
			continue;
		list = list ? arena_print(&manifest->run->memory, "%s, %s in %s", list, header->known->name, unit) :
		              arena_print(&manifest->run->memory, "%s in %s", header->known->name, unit);
	}
	if (list)
		faults_add(manifest->faults, SEVERITY_NOTE, manifest->header_place,
		           "no unit in the header for %s: so taken", list);
}

static bool header_refused(struct manifest *manifest, struct slice text, uint32_t line)
{
	const char *end = text.text + text.len;
	const char *at = text.text;

	for (; at < end && line_blank(at, end); at = line_skip(at, end))
		line++;
	faults_add(
		manifest->faults, SEVERITY_ERROR, place_of_line(manifest, line),
		"no header found; expected a line that names the columns brew, treatment, dose, and water or beverage; "
		"found \"%s\"; nothing of the file is taken",
		EXCERPT(slice_trim((struct slice){ at, (size_t)(line_skip(at, end) - at) })));
	return false;
}

static void slots_clear(struct manifest *manifest)
{
	manifest->label = manifest->treatment = manifest->method = NO_FIELD;
	for (size_t i = 0; i < BREW_NUMBERS; i++)
		manifest->number[i] = NO_FIELD;
	for (size_t i = 0; i < BREW_WORDS; i++)
		manifest->word[i] = NO_FIELD;
	for (size_t i = 0; i < sizeof(manifest->moment) / sizeof(manifest->moment[0]); i++)
		manifest->moment[i] = NO_FIELD;
}

bool manifest_find_header(struct manifest *manifest, struct slice text, uint32_t line)
{
	size_t skipped;
	struct trial trial = header_search(manifest, text, line, &skipped);
	const char *end = text.text + text.len;
	bool unique, clear;
	struct row row;

	if (manifest->memory_gone)
		return false;
	if (trial.score == 0)
		return header_refused(manifest, text, line);
	table_init(&manifest->table, (struct slice){ trial.at, (size_t)(end - trial.at) }, trial.line, trial.separator,
	           &manifest->run->memory);
	if (table_next(&manifest->table, &row) != TABLE_ROW || !fields_make(manifest, &row)) {
		manifest->memory_gone = true; /* the line was read before: nothing else can fail */
		return false;
	}
	manifest->table.columns = manifest->field_count;
	if (skipped > 0)
		faults_add(manifest->faults, SEVERITY_NOTE, place_of_line(manifest, trial.line),
		           "the header is found in this line, cells separated by %s; %zu line%s above it %s left out",
		           separator_name(trial.separator), skipped, skipped == 1 ? "" : "s",
		           skipped == 1 ? "is" : "are");
	slots_clear(manifest);
	unique = fields_unique(manifest);
	if (!units_row(manifest))
		return false;
	clear = slots_fill(manifest);
	if (!unique || !clear || !needed_there(manifest))
		return false;
	units_assumed(manifest);
	return true;
}
