/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "brew_check.h"
#include "label.h"
#include "manifest_parts.h"
#include "reading.h"
#include "timestamp.h"

enum { TREATMENTS_COMPARED = 200 }; /* for names that are nearly the same: with more, something else is wrong */

/* A row on its way to a brew. */
struct draft {
	struct manifest *manifest;
	const struct row *row;
	struct brew *brew;
	size_t index;  /* of the brew in the run */
	uint64_t hash; /* of its key */
	bool bad[BREW_NUMBERS];
};

static const struct slice no_text = { "", 0 };

static struct slice text_of(const struct draft *draft, size_t field)
{
	return field < draft->row->count ? cell_trim(draft->row->cells[field].text) : no_text;
}

/* Of a cell that the row is too short to have: the line as a whole; of a column that is not there: the header. */
static struct place place_of(const struct draft *draft, size_t field)
{
	if (field == NO_FIELD)
		return draft->manifest->header_place;
	if (field < draft->row->count)
		return manifest_place(draft->manifest, &draft->row->cells[field]);
	return (struct place){ draft->manifest->file, draft->row->line, 0 };
}

/* Of a number's cell; user is the draft. */
static struct place number_place(const void *user, enum brew_number which)
{
	const struct draft *draft = user;

	return place_of(draft, draft->manifest->number[which]);
}

static void tally_cell(const struct draft *draft, struct tally *tally, size_t field, struct slice text)
{
	tally_add(tally, tally->count == 0 ? place_of(draft, field) : tally->place, text);
}

static void fault(const struct draft *draft, enum severity severity, size_t field, const char *what)
{
	faults_add(draft->manifest->faults, severity, place_of(draft, field), "%s", what);
}

/* -- rows that make no brew -------------------------------------------------- */

static bool row_blank(const struct row *row)
{
	for (size_t i = 0; i < row->count; i++)
		if (cell_trim(row->cells[i].text).len > 0)
			return false;
	return row->beyond == 0;
}

static void comment_count(struct manifest *manifest, const struct row *row)
{
	struct slice text = { row->at, (size_t)(row->end - row->at) };
	struct place place = { manifest->file, row->line, 1 };
	size_t separators = 0;

	for (size_t i = 0; i < text.len; i++)
		separators += text.text[i] == manifest->table.delimiter;
	if (separators + 1 >= manifest->field_count && manifest->field_count > 3)
		faults_add(
			manifest->faults, SEVERITY_WARNING, place,
			"\"%s\" begins with # and is taken as a comment, but it has as many cells as a row; to make it "
			"one, put the label in quotes",
			EXCERPT(text));
	else
		tally_add(&manifest->comments, place, text);
}

static bool nul_free(const struct draft *draft)
{
	const struct row *row = draft->row;

	if (!draft->manifest->has_nul || !memchr(row->at, '\0', (size_t)(row->end - row->at)))
		return true;
	for (size_t i = 0; i < row->count; i++) {
		const struct cell *cell = &row->cells[i];
		size_t len = (size_t)((i + 1 < row->count ? row->cells[i + 1].at : row->end) - cell->at);
		const char *nul = memchr(cell->at, '\0', len);
		struct cell where = *cell;

		if (!nul)
			continue;
		where.at = nul;
		faults_add(draft->manifest->faults, SEVERITY_ERROR, manifest_place(draft->manifest, &where),
		           "a NUL byte stands in the cell \"%s\"; expected text; the row is left out",
		           EXCERPT(cell->text));
		return false;
	}
	return false;
}

/* The first cell that holds something behind the header's last, or the first that there was no room for. */
static size_t cell_beyond(const struct draft *draft)
{
	const struct row *row = draft->row;
	size_t i = draft->manifest->field_count;

	while (i < row->count && cell_trim(row->cells[i].text).len == 0)
		i++;
	return i;
}

static bool length_right(const struct draft *draft)
{
	const struct row *row = draft->row;
	size_t beyond = cell_beyond(draft);

	if (beyond >= row->count && row->beyond == 0)
		return true;
	faults_add(
		draft->manifest->faults, SEVERITY_ERROR, place_of(draft, beyond),
		"the row has %zu cells, the header %zu; expected no more than that (a decimal comma or a comma in a note "
		"needs quotes around its cell); the row is left out",
		row->count + row->beyond, draft->manifest->field_count);
	return false;
}

/* So that readings with the label of a row that is left out can be told why they find no brew. */
static void label_lose(const struct draft *draft)
{
	struct run *run = draft->manifest->run;
	struct slice label = text_of(draft, draft->manifest->label);

	if (label.len > 0 && run->lost_count < draft->manifest->rows)
		run->lost_labels[run->lost_count++] = label;
}

static bool repeats_header(const struct draft *draft)
{
	const struct manifest *manifest = draft->manifest;

	if (!slice_equal_nocase(text_of(draft, manifest->label), manifest->fields[manifest->label].header.text) ||
	    !slice_equal_nocase(text_of(draft, manifest->treatment), manifest->fields[manifest->treatment].header.text))
		return false;
	fault(draft, SEVERITY_WARNING, manifest->label, "the header stands here again; the row is left out");
	return true;
}

/* -- names ------------------------------------------------------------------- */

/* What about a name may surprise: nothing of it is changed for that. */
static void name_remarks(const struct draft *draft, size_t field, const char *what, struct slice name)
{
	struct faults *faults = draft->manifest->faults;
	struct slice written = draft->row->cells[field].text;
	uint32_t hidden = label_hidden(name);
	bool wide = false;

	for (size_t i = 0; i < written.len && written.len > name.len; i++)
		wide |= (written.text + i < name.text || written.text + i >= name.text + name.len) &&
		        (unsigned char)written.text[i] >= 0x80;
	if (wide)
		faults_add(faults, SEVERITY_NOTE, place_of(draft, field),
		           "%s \"%s\" has a no-break space at an end; taken without it", what, EXCERPT(name));
	if (hidden)
		faults_add(faults, SEVERITY_WARNING, place_of(draft, field),
		           "%s \"%s\" has the character U+%04X in it, which does not show; compared without it", what,
		           EXCERPT(name), (unsigned int)hidden);
	switch (label_look(name)) {
	case LABEL_PLAIN:
		break;
	case LABEL_DATE:
		faults_add(faults, SEVERITY_WARNING, place_of(draft, field),
		           "%s \"%s\" looks like a date that a spreadsheet made of it; taken as it stands", what,
		           EXCERPT(name));
		break;
	case LABEL_POWER:
		faults_add(faults, SEVERITY_WARNING, place_of(draft, field),
		           "%s \"%s\" looks like a number that a spreadsheet made of it; taken as it stands", what,
		           EXCERPT(name));
		break;
	}
}

/* Tells of a brew that has this label already, and of one that has it but for letter case. */
static bool label_new(const struct draft *draft, struct slice label)
{
	const struct manifest *manifest = draft->manifest;
	struct slice key = draft->brew->key;
	const struct brew *near = NULL;
	size_t from = 0;
	uint32_t other;

	while ((other = lookup_next(&manifest->labels, draft->hash, &from)) != LOOKUP_NONE) {
		const struct brew *brew = &manifest->run->brews[other];

		if (slice_equal(brew->key, key)) {
			faults_add(manifest->faults, SEVERITY_ERROR, place_of(draft, manifest->label),
			           "brew %s stands twice, first in line %u%s; expected each label once; the second is "
			           "left out",
			           EXCERPT(label), (unsigned int)brew->place.line,
			           slice_equal(brew->label, label) ? "" :
			                                             ", written with other characters that look alike");
			return false;
		}
		if (!near && label_same_nocase(brew->key, key))
			near = brew;
	}
	if (near)
		faults_add(manifest->faults, SEVERITY_WARNING, place_of(draft, manifest->label),
		           "brew %s differs only in letter case from %s in line %u; taken as two brews", EXCERPT(label),
		           EXCERPT(near->label), (unsigned int)near->place.line);
	return true;
}

/* False: no label, one that stood before, or no memory. */
static bool label_take(struct draft *draft)
{
	struct manifest *manifest = draft->manifest;
	struct slice label = text_of(draft, manifest->label);
	struct brew *brew = draft->brew;

	if (!label_key(&brew->key, &manifest->run->memory, label)) {
		manifest->memory_gone = true;
		return false;
	}
	if (brew->key.len == 0) {
		fault(draft, SEVERITY_ERROR, manifest->label,
		      "the row has no label; expected one for each brew, such as A3; the row is left out");
		return false;
	}
	draft->hash = label_hash(brew->key);
	name_remarks(draft, manifest->label, "brew", label);
	brew->label = label;
	brew->place = place_of(draft, manifest->label);
	return label_new(draft, label);
}

static bool treatment_add(struct manifest *manifest, struct slice name, uint64_t hash)
{
	struct run *run = manifest->run;
	uint32_t index = (uint32_t)run->treatment_count;

	if (run->treatment_count == manifest->treatment_room) {
		size_t room = manifest->treatment_room ? manifest->treatment_room * 2 : 16;
		struct treatment *more = arena_take(&run->memory, room * sizeof(*more));

		if (!more)
			return false;
		if (run->treatment_count > 0)
			memcpy(more, run->treatments, run->treatment_count * sizeof(*more));
		run->treatments = more;
		manifest->treatment_room = room;
	}
	run->treatments[index] = (struct treatment){ .name = name };
	run->treatment_count++;
	return lookup_put(&manifest->treatments, hash, index);
}

static void treatment_remarks(const struct draft *draft, struct slice name)
{
	const struct manifest *manifest = draft->manifest;
	const struct run *run = manifest->run;

	name_remarks(draft, manifest->treatment, "treatment", text_of(draft, manifest->treatment));
	for (size_t i = 0; run->treatment_count < TREATMENTS_COMPARED && i < run->treatment_count; i++)
		if (label_nearly_same(run->treatments[i].name, name))
			faults_add(
				manifest->faults, SEVERITY_WARNING, place_of(draft, manifest->treatment),
				"treatment \"%s\" differs from \"%s\" only in letter case or blanks; likely one; taken as "
				"two",
				EXCERPT(name), EXCERPT(run->treatments[i].name));
}

/* False: none, or no memory. */
static bool treatment_take(struct draft *draft)
{
	struct manifest *manifest = draft->manifest;
	struct run *run = manifest->run;
	uint32_t found;
	size_t from = 0;
	struct slice name;
	uint64_t hash;

	if (!label_key(&name, &run->memory, text_of(draft, manifest->treatment))) {
		manifest->memory_gone = true;
		return false;
	}
	if (name.len == 0) {
		faults_add(manifest->faults, SEVERITY_ERROR, place_of(draft, manifest->treatment),
		           "brew %s has no treatment; expected what is compared, such as paper A; the row is left out",
		           EXCERPT(text_of(draft, manifest->label)));
		return false;
	}
	hash = label_hash(name);
	while ((found = lookup_next(&manifest->treatments, hash, &from)) != LOOKUP_NONE)
		if (slice_equal(run->treatments[found].name, name))
			break;
	if (found == LOOKUP_NONE) {
		treatment_remarks(draft, name);
		found = (uint32_t)run->treatment_count;
		manifest->memory_gone = !treatment_add(manifest, name, hash);
	}
	draft->brew->treatment = found;
	return !manifest->memory_gone;
}

/* -- words ------------------------------------------------------------------- */

/* Words of the trade that say which balance of water holds. */
static const struct {
	const char *word;
	enum brew_method method;
} methods[] = {
	{ "percolation", METHOD_PERCOLATION }, { "percolator", METHOD_PERCOLATION },
	{ "drip", METHOD_PERCOLATION },        { "pour-over", METHOD_PERCOLATION },
	{ "pour over", METHOD_PERCOLATION },   { "pourover", METHOD_PERCOLATION },
	{ "filter", METHOD_PERCOLATION },      { "batch", METHOD_PERCOLATION },
	{ "batch brew", METHOD_PERCOLATION },  { "espresso", METHOD_PERCOLATION },
	{ "immersion", METHOD_IMMERSION },     { "full immersion", METHOD_IMMERSION },
	{ "steep", METHOD_IMMERSION },         { "steeped", METHOD_IMMERSION },
	{ "steeping", METHOD_IMMERSION },      { "french press", METHOD_IMMERSION },
	{ "press", METHOD_IMMERSION },         { "press pot", METHOD_IMMERSION },
	{ "cupping", METHOD_IMMERSION },
};

static bool method_take(struct draft *draft)
{
	const struct manifest *manifest = draft->manifest;
	struct slice word = manifest->method == NO_FIELD ? no_text : text_of(draft, manifest->method);

	draft->brew->method = METHOD_PERCOLATION;
	if (word.len == 0)
		return true;
	for (size_t i = 0; i < sizeof(methods) / sizeof(methods[0]); i++)
		if (slice_equal_nocase(slice_from(methods[i].word), word)) {
			draft->brew->method = methods[i].method;
			return true;
		}
	faults_add(manifest->faults, SEVERITY_ERROR, place_of(draft, manifest->method),
	           "method \"%s\" is not known; expected percolation (drip, pour-over, filter, espresso) or immersion "
	           "(steep, press, cupping); brew %s gets no yield",
	           EXCERPT(word), EXCERPT(draft->brew->label));
	return false;
}

/* "unfiltered" says how the sample was treated: the factor is that of the kind it is made from. */
static const struct sample_type *type_find(const struct draft *draft, size_t field, struct slice word)
{
	const struct settings *settings = draft->manifest->settings;
	const struct sample_type *type = settings_type(settings, word);

	if (type || word.len < 3 || !slice_equal_nocase(slice_part(word, 0, 2), SLICE_OF("un")))
		return type;
	type = settings_type(settings, slice_part(word, 2, word.len));
	if (type)
		tally_cell(draft, &draft->manifest->unfiltered, field, word);
	return type;
}

static const char *type_names(struct manifest *manifest)
{
	const char *names = "";

	for (size_t i = 0; i < manifest->settings->type_count; i++) {
		const char *more = arena_print(&manifest->run->memory, "%s%s%s", names, i > 0 ? ", " : "",
		                               manifest->settings->types[i].name);

		names = more ? more : names;
	}
	return names;
}

/* Common practice takes a sample for filter coffee where nobody says what it is. */
static bool type_take(struct draft *draft)
{
	struct manifest *manifest = draft->manifest;
	size_t field = manifest->word[BREW_TYPE];
	struct slice word = field == NO_FIELD ? no_text : text_of(draft, field);
	const struct sample_type *type = type_find(draft, field, word.len > 0 ? word : SLICE_OF("filter"));

	draft->brew->type_factor = type ? type->factor : NAN;
	if (word.len == 0)
		tally_cell(draft, &manifest->no_type, field, draft->brew->label);
	if (type)
		return true;
	faults_add(
		manifest->faults, SEVERITY_ERROR, place_of(draft, field),
		"sample type \"%s\" is not known; expected one of %s, or a type of the settings; brew %s gets no yield",
		EXCERPT(word), type_names(manifest), EXCERPT(draft->brew->label));
	return false;
}

static void moment_take(struct draft *draft, enum known_moment which, int64_t *us)
{
	const struct manifest *manifest = draft->manifest;
	size_t field = manifest->moment[which];
	struct slice text = field == NO_FIELD ? no_text : text_of(draft, field);

	*us = READING_NO_TIME;
	if (text.len == 0 || cell_moment(us, text))
		return;
	faults_add(manifest->faults, SEVERITY_ERROR, place_of(draft, field),
	           "%s \"%s\" is not a moment; expected date and time, such as 2026-03-01 10:15, or a time of day; the "
	           "cell is left out",
	           manifest->fields[field].header.known->name, EXCERPT(text));
}

/* Where one of the two lacks its date it is that of the other; past midnight the end is on the day after. */
static void times_date(int64_t *from, int64_t *to)
{
	if (moment_undated(*from) && !moment_undated(*to)) {
		*from += moment_day(*to) * MOMENT_DAY_US;
		*from -= *from > *to ? MOMENT_DAY_US : 0;
	}
	*to = moment_following(*to, *from);
}

static void moments_take(struct draft *draft)
{
	struct brew *brew = draft->brew;

	moment_take(draft, MOMENT_BREWED, &brew->brewed_us);
	moment_take(draft, MOMENT_READ_FROM, &brew->read_from_us);
	moment_take(draft, MOMENT_READ_TO, &brew->read_to_us);
	if (brew->read_from_us == READING_NO_TIME || brew->read_to_us == READING_NO_TIME)
		return;
	times_date(&brew->read_from_us, &brew->read_to_us);
	if (brew->read_from_us <= brew->read_to_us)
		return;
	faults_add(draft->manifest->faults, SEVERITY_ERROR, place_of(draft, draft->manifest->moment[MOMENT_READ_TO]),
	           "the readings of brew %s end before they begin; expected read to after read from; neither is taken",
	           EXCERPT(brew->label));
	brew->read_from_us = brew->read_to_us = READING_NO_TIME;
}

static void words_take(struct draft *draft)
{
	for (size_t i = 0; i < BREW_WORDS; i++)
		if (draft->manifest->word[i] != NO_FIELD)
			draft->brew->word[i] = text_of(draft, draft->manifest->word[i]);
}

/* -- numbers ----------------------------------------------------------------- */

/* A percolation whose beverage is known needs no water for its yield, nor bypass. */
static bool yield_needs(const struct draft *draft, enum brew_number which)
{
	bool steeped = draft->brew->method == METHOD_IMMERSION;

	switch (which) {
	case BREW_DOSE_G:
	case BREW_SAMPLE_G:
	case BREW_DILUENT_G:
		return true;
	case BREW_BEVERAGE_G:
		return !steeped;
	case BREW_WATER_G:
	case BREW_BYPASS_G:
		return steeped || isnan(draft->brew->number[BREW_BEVERAGE_G]);
	case BREW_MOISTURE_PERCENT:
	case BREW_ORDER:
	case BREW_TEMP_C:
	case BREW_BLOOM_G:
	case BREW_TIME_S:
	case BREW_NUMBERS:
		break;
	}
	return false;
}

/* Tells of a number that is not taken, and what becomes of its brew. */
static void number_refuse(struct draft *draft, enum brew_number which, const char *what)
{
	const struct manifest *manifest = draft->manifest;
	size_t index = manifest->number[which];
	const struct header *header = &manifest->fields[index].header;
	bool yield = yield_needs(draft, which);
	const struct known_column *known = header->known;
	bool own_unit = header->measure && (header->measure->factor != 1 || header->measure->zero != 0);

	draft->bad[which] = true;
	faults_add(manifest->faults, SEVERITY_ERROR, number_place(draft, which), "%s %s; expected %s%s; %s%s%s",
	           known->name, what, own_unit ? "a number in " : known->expected,
	           own_unit ? header->measure->name : "", yield ? "brew " : "the cell is left out",
	           yield ? EXCERPT(draft->brew->label) : "", yield ? " gets no yield" : "");
}

__attribute__((format(printf, 3, 4))) static void number_fault(struct draft *draft, enum brew_number which,
                                                               const char *format, ...)
{
	char what[2 * EXCERPT_BYTES + 100];
	va_list args;

	va_start(args, format);
	vsnprintf(what, sizeof(what), format, args);
	va_end(args);
	number_refuse(draft, which, what);
}

/* The unit typed behind a number: false if it does not measure what the column does. */
static bool unit_in_cell(struct draft *draft, enum brew_number which, const struct quantity *quantity,
                         struct slice text)
{
	struct manifest *manifest = draft->manifest;
	struct field *field = &manifest->fields[manifest->number[which]];
	const struct measure *own = field->header.measure;
	const struct known_column *known = field->header.known;
	const char *own_name = own ? own->name : measure_base(known->measure);

	if (!known_takes(known, quantity->measure)) {
		number_fault(draft, which, "\"%s\" is in \"%s\"", EXCERPT(text), EXCERPT(quantity->unit));
		return false;
	}
	if (own == quantity->measure || (!own && quantity->measure->factor == 1 && quantity->measure->zero == 0))
		tally_cell(draft, &field->unit_in_cell, manifest->number[which], text);
	else
		faults_add(manifest->faults, SEVERITY_WARNING, number_place(draft, which),
		           "%s \"%s\" is in another unit than its column; expected %s; taken as %.6g %s", known->name,
		           EXCERPT(text), own_name,
		           measure_from_base(own, measure_to_base(quantity->measure, quantity->number)), own_name);
	return true;
}

/* Reads text, which is not empty. *got is in the base unit. */
static bool number_read(struct draft *draft, enum brew_number which, struct slice text, double *got)
{
	struct manifest *manifest = draft->manifest;
	struct field *field = &manifest->fields[manifest->number[which]];
	const struct measure *measure = field->header.measure;
	char mark = manifest->mark;
	struct quantity quantity;
	bool hours;

	if (which == BREW_TIME_S && cell_duration(got, &hours, text))
		return true;
	switch (cell_number(&quantity, text, mark)) {
	case CELL_NUMBER:
		if (quantity.measure && !unit_in_cell(draft, which, &quantity, text))
			return false;
		if (quantity.measure)
			measure = quantity.measure;
		if (measure && measure->kind == MEASURE_VOLUME)
			tally_add(&field->volume, number_place(draft, which), text);
		*got = measure_to_base(measure, quantity.number);
		if (field->column->decimals < quantity.decimals)
			field->column->decimals = quantity.decimals;
		return true;
	case CELL_ABSENT:
		if (which != BREW_DOSE_G) {
			tally_add(&field->absent, number_place(draft, which), text);
			*got = NAN;
			return true;
		}
		break;
	case CELL_MARK:
		number_fault(draft, which, "\"%s\" has a decimal %s, but this file has the %s", EXCERPT(text),
		             mark == ',' ? "point" : "comma", mark == ',' ? "comma" : "point");
		return false;
	case CELL_GROUPED:
		number_fault(draft, which,
		             "\"%s\" can be read as two numbers, since this file's decimal mark is the %s",
		             EXCERPT(text), mark == ',' ? "comma" : "point");
		return false;
	case CELL_UNIT:
		number_fault(draft, which, "\"%s\" is in \"%s\"", EXCERPT(text), EXCERPT(quantity.unit));
		return false;
	case CELL_EMPTY:
	case CELL_WORDS:
		break;
	}
	number_fault(draft, which, "\"%s\" is not a number", EXCERPT(text));
	return false;
}

static bool temperature_possible(struct draft *draft, double temp_c, struct slice text)
{
	if (temp_c >= 0 && temp_c <= 101) /* a kettle's display may overshoot */
		return true;
	if (temp_c > 101 && temp_c <= 214)
		number_fault(draft, BREW_TEMP_C,
		             "\"%s\" is above boiling (%.1f \xc2\xb0"
		             "C if \xc2\xb0"
		             "F was meant)",
		             EXCERPT(text), (temp_c - 32) / 1.8);
	else
		number_fault(draft, BREW_TEMP_C, "\"%s\" is no temperature of liquid water", EXCERPT(text));
	return false;
}

/* What no brew can have. */
static bool number_possible(struct draft *draft, enum brew_number which, double got, struct slice text)
{
	bool zero_allowed = which != BREW_DOSE_G && which != BREW_WATER_G && which != BREW_BEVERAGE_G &&
	                    which != BREW_SAMPLE_G;

	if (isnan(got))
		return true;
	if (which == BREW_TEMP_C)
		return temperature_possible(draft, got, text);
	if (got < 0)
		number_fault(draft, which, "\"%s\" is negative", EXCERPT(text));
	else if (got == 0 && !zero_allowed)
		number_fault(draft, which, "\"%s\" is nothing", EXCERPT(text));
	else if (which == BREW_MOISTURE_PERCENT && got >= 100)
		number_fault(draft, which, "\"%s\" leaves no coffee", EXCERPT(text));
	else if (which == BREW_ORDER && got != floor(got))
		number_fault(draft, which, "\"%s\" is not whole", EXCERPT(text));
	else
		return true;
	return false;
}

static void number_take(struct draft *draft, enum brew_number which)
{
	struct manifest *manifest = draft->manifest;
	size_t index = manifest->number[which];
	struct field *field = &manifest->fields[index];
	struct slice text = text_of(draft, index);
	double got = NAN;

	if (text.len == 0) {
		if (which == BREW_DOSE_G)
			number_refuse(draft, which, "is empty");
		return;
	}
	if (!number_read(draft, which, text, &got) || !number_possible(draft, which, got, text))
		return;
	draft->brew->number[which] = got;
	if (field->header.measure && field->header.measure->factor != 1)
		got = measure_from_base(field->header.measure, got);
	field->column->number[draft->index] = got;
}

/* Dose first, then what says whether the rest is needed for the yield. */
static void numbers_take(struct draft *draft)
{
	static const enum brew_number sequence[BREW_NUMBERS] = {
		BREW_DOSE_G,    BREW_BEVERAGE_G, BREW_WATER_G, BREW_BYPASS_G, BREW_MOISTURE_PERCENT, BREW_SAMPLE_G,
		BREW_DILUENT_G, BREW_ORDER,      BREW_TEMP_C,  BREW_BLOOM_G,  BREW_TIME_S,
	};

	for (size_t i = 0; i < BREW_NUMBERS; i++)
		draft->brew->number[i] = NAN;
	for (size_t i = 0; i < BREW_NUMBERS; i++)
		if (draft->manifest->number[sequence[i]] != NO_FIELD)
			number_take(draft, sequence[i]);
}

/* A sample is diluted with both masses, or not at all. */
static bool dilution_whole(struct draft *draft)
{
	const struct brew *brew = draft->brew;
	bool sample = !isnan(brew->number[BREW_SAMPLE_G]);
	bool diluent = !isnan(brew->number[BREW_DILUENT_G]);
	enum brew_number missing = sample ? BREW_DILUENT_G : BREW_SAMPLE_G;
	enum brew_number given = sample ? BREW_SAMPLE_G : BREW_DILUENT_G;

	if (sample == diluent || draft->bad[missing] || (diluent && brew->number[BREW_DILUENT_G] == 0))
		return true;
	faults_add(draft->manifest->faults, SEVERITY_ERROR, number_place(draft, given),
	           "brew %s has a %s mass but no %s mass; expected both or neither; brew %s gets no yield",
	           EXCERPT(brew->label), sample ? "sample" : "diluent", sample ? "diluent" : "sample",
	           EXCERPT(brew->label));
	return false;
}

/* Are dose, and water or beverage, there as the method needs them? Bad cells are told already. */
static bool masses_there(struct draft *draft)
{
	const struct brew *brew = draft->brew;
	bool steeped = brew->method == METHOD_IMMERSION;
	bool water = !isnan(brew->number[BREW_WATER_G]);
	bool beverage = !isnan(brew->number[BREW_BEVERAGE_G]);

	for (size_t i = 0; i < BREW_NUMBERS; i++)
		if (draft->bad[i] && yield_needs(draft, (enum brew_number)i))
			return false;
	if (isnan(brew->number[BREW_DOSE_G]))
		return false;
	if (water || (beverage && !steeped))
		return true;
	faults_add(draft->manifest->faults, SEVERITY_ERROR, brew->place,
	           "brew %s has no %s; expected grams, such as %s; brew %s gets no yield", EXCERPT(brew->label),
	           steeped ? "water, which an immersion is balanced by" : "water and no beverage",
	           steeped ? "300" : "264.0", EXCERPT(brew->label));
	return false;
}

/* -- the row ----------------------------------------------------------------- */

/* One cell of a row is enough to find the others by. */
static void quotes_remark(const struct draft *draft)
{
	size_t i = 0;

	while (i < draft->row->count && !draft->row->cells[i].stray)
		i++;
	if (i < draft->row->count)
		faults_add(
			draft->manifest->faults, SEVERITY_WARNING, place_of(draft, i),
			"text stands behind the closing quote of %s; expected quotes within a cell to be doubled; taken "
			"as written",
			EXCERPT(draft->row->cells[i].text));
}

static void texts_take(struct draft *draft)
{
	for (size_t i = 0; i < draft->manifest->field_count; i++) {
		struct field *field = &draft->manifest->fields[i];
		struct slice text = text_of(draft, i);

		if (!field->column)
			continue;
		field->column->text[draft->index] = text;
		if (text.len == 0)
			continue;
		field->column->empty = false;
		if (field->header.text.len == 0)
			tally_cell(draft, &field->nameless, i, text);
	}
}

bool brew_row(struct manifest *manifest, const struct row *row)
{
	struct run *run = manifest->run;
	struct brew brew = { .usable = false };
	struct draft draft = { .manifest = manifest, .row = row, .brew = &brew, .index = run->brew_count };
	bool type, method, masses;

	if (row->comment) {
		comment_count(manifest, row);
		return true;
	}
	if (row_blank(row)) {
		if (row->count > 1) {
			tally_add(&manifest->blank_rows, (struct place){ manifest->file, row->line, 0 }, no_text);
			manifest->last_blank = row->line;
		}
		return true;
	}
	if (!nul_free(&draft) || repeats_header(&draft))
		return true;
	if (!length_right(&draft)) {
		label_lose(&draft);
		return true;
	}
	quotes_remark(&draft);
	if (!label_take(&draft))
		return !manifest->memory_gone;
	if (!treatment_take(&draft)) {
		label_lose(&draft);
		return !manifest->memory_gone;
	}
	method = method_take(&draft);
	type = type_take(&draft);
	numbers_take(&draft);
	words_take(&draft);
	moments_take(&draft);
	texts_take(&draft);
	masses = masses_there(&draft);
	brew.usable = dilution_whole(&draft) && masses && method && type;
	brew_check(&brew, (struct number_places){ number_place, &draft }, manifest->faults);
	run->treatments[brew.treatment].brews++;
	run->brews[run->brew_count++] = brew;
	manifest->memory_gone = !lookup_put(&manifest->labels, draft.hash, (uint32_t)draft.index);
	return !manifest->memory_gone;
}
