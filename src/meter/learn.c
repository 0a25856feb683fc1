/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "learn.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "line_columns.h"
#include "line_shape.h"

enum { INI_TEXT = 8000, PIECE = 120, MOST_SILENT = 8 };

struct pupil {
	struct learned *out;
	struct line_shape *shapes;  /* of each line; count 0: none */
	struct slice *texts;        /* of each line, without its parity bits where they are seen */
	char key[SHAPE_TOKENS + 1]; /* the common shape */
	struct line_columns line;   /* what the lines that have it are like */
	enum doubt_cause cause;
	enum line_end end;
	struct doubts doubts;
	bool no_memory;
};

/* Which bytes end the lines: one kind, or LINE_END_AUTO for a mixture; LINE_END_GAP: none do. */
static enum line_end end_of_lines(struct slice bytes)
{
	size_t pairs = 0, cr = 0, lf = 0;

	for (size_t i = 0; i < bytes.len; i++) {
		bool cr_before = i > 0 && bytes.text[i - 1] == '\r';

		pairs += bytes.text[i] == '\n' && cr_before;
		lf += bytes.text[i] == '\n';
		cr += bytes.text[i] == '\r';
	}
	if (cr + lf == 0)
		return LINE_END_GAP;
	if (pairs == cr && pairs == lf)
		return LINE_END_CRLF;
	if (cr == 0)
		return LINE_END_LF;
	return lf == 0 ? LINE_END_CR : LINE_END_AUTO;
}

static struct slice without_parity(struct arena *memory, struct slice line)
{
	struct slice copy = arena_copy(memory, line);
	char *bytes = (char *)(uintptr_t)copy.text;

	for (size_t i = 0; bytes && i < copy.len; i++)
		bytes[i] = (char)(bytes[i] & 0x7f);
	return copy;
}

/* The lines that are not empty; false when there is no memory. */
static bool lines_collect(struct pupil *pupil, struct slice captured)
{
	struct learned *out = pupil->out;
	struct line_walk walk = { .rest = captured, .end = LINE_END_AUTO };
	struct line_doubt bytes = { 0 };
	struct slice line;
	size_t nuls;
	bool parity;

	out->lines = arena_take(&out->memory, LEARN_LINES * sizeof(*out->lines));
	pupil->texts = arena_take(&out->memory, LEARN_LINES * sizeof(*pupil->texts));
	pupil->shapes = malloc(LEARN_LINES * sizeof(*pupil->shapes));
	if (!out->lines || !pupil->texts || !pupil->shapes)
		return false;
	while (out->line_count < LEARN_LINES && line_walk_next(&walk, &line, NULL)) {
		line = line_without_nuls(line, &nuls);
		if (slice_blank(line))
			continue;
		line_doubt_add(&bytes, line);
		out->lines[out->line_count++] = (struct learned_line){ .text = line, .kind = LINE_UNMATCHED };
	}
	pupil->cause = line_doubt_cause(&bytes);
	parity = pupil->cause == DOUBT_EVEN_PARITY || pupil->cause == DOUBT_ODD_PARITY;
	if (parity)
		pupil->end = LINE_END_AUTO; /* with its parity bit, half of an end may not be known as one */
	for (size_t i = 0; i < out->line_count; i++) {
		line = out->lines[i].text;
		pupil->texts[i] = parity ? without_parity(&out->memory, line) : line;
		if (!pupil->texts[i].text)
			return false;
		if (line.len > LINES_CAP || !line_shape_read(&pupil->shapes[i], pupil->texts[i]))
			pupil->shapes[i].count = 0;
	}
	return true;
}

/* The shape that most lines have, of those with a decimal number in them. */
static void find_common_shape(struct pupil *pupil)
{
	size_t most = 0;

	for (size_t i = 0; i < pupil->out->line_count; i++) {
		const struct line_shape *shape = &pupil->shapes[i];
		size_t same = 0;

		if (shape->count == 0 || !memchr(shape->key, 'd', shape->count) || strcmp(shape->key, pupil->key) == 0)
			continue;
		for (size_t j = i; j < pupil->out->line_count; j++)
			same += pupil->shapes[j].count == shape->count && strcmp(pupil->shapes[j].key, shape->key) == 0;
		if (same > most) {
			most = same;
			memcpy(pupil->key, shape->key, shape->count + 1);
		}
	}
}

static bool has_common_shape(const struct pupil *pupil, size_t line)
{
	return pupil->shapes[line].count > 0 && strcmp(pupil->shapes[line].key, pupil->key) == 0;
}

static void gather_columns(struct pupil *pupil)
{
	for (size_t i = 0; i < pupil->out->line_count; i++)
		if (has_common_shape(pupil, i))
			line_columns_add(&pupil->line, &pupil->shapes[i]);
}

/* A text with room; what does not fit is left off, which the reading back shows. */
struct writer {
	char *text;
	size_t size, used;
};

static void put(struct writer *writer, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void put(struct writer *writer, const char *format, ...)
{
	va_list args;
	int len;

	va_start(args, format);
	len = vsnprintf(writer->text + writer->used, writer->size - writer->used, format, args);
	va_end(args);
	if (len > 0)
		writer->used += (size_t)len;
	if (writer->used >= writer->size)
		writer->used = writer->size - 1;
}

/* text for itself, in a pattern in an INI file. */
static void put_literal(struct writer *writer, struct slice text)
{
	for (size_t i = 0; i < text.len; i++) {
		unsigned char c = (unsigned char)text.text[i];

		if (c == ';' || c == '#')
			put(writer, "[%c]", c);
		else if (c < ' ' || c >= 0x7f)
			put(writer, "\\x%02x", c);
		else if (strchr("\\^$.[]|()?*+{}", c))
			put(writer, "\\%c", c);
		else
			put(writer, "%c", c);
	}
}

static void put_digits(struct writer *writer, size_t least, size_t most)
{
	if (least == most)
		put(writer, "\\d{%zu}", most);
	else
		put(writer, "\\d{%zu,%zu}", least, most);
}

static void put_decimal(struct writer *writer, const struct column_facts *column)
{
	put(writer, "[-+]?");
	/* one digit more than seen, for a reading that grows; a line glued to another still does not fit */
	put_digits(writer, 1, column->whole_max + 1);
	if (column->kind == TOKEN_WHOLE)
		return;
	put(writer, "%s", column->both_signs ? "[.,]" : column->sign == ',' ? "," : "\\.");
	put_digits(writer, column->decimals_min, column->decimals_max);
}

static void put_group(struct writer *writer, const char *name, const struct column_facts *column)
{
	put(writer, "(?<%s>", name);
	put_decimal(writer, column);
	put(writer, ")");
}

static void put_column(struct writer *writer, const struct column_facts *column)
{
	switch (column->role) {
	case ROLE_VALUE:
		put_group(writer, "value", column);
		return;
	case ROLE_TEMP:
		put_group(writer, "temp", column);
		return;
	case ROLE_LABEL:
		put(writer, "(?<label>[\\w-]{1,40})");
		return;
	case ROLE_STATUS:
		put(writer, "(?<status>[\\w-]{1,40})");
		return;
	case ROLE_UNIT:
		put(writer, "(?<unit>\\w{1,20})");
		return;
	case ROLE_TIME:
		put(writer, "(?<time>\\d[\\d.:TZ +-]{3,30}?)");
		return;
	case ROLE_SEQ:
		put(writer, "(?<seq>\\d{%zu,%zu})", column->whole_min, column->whole_max + 2);
		return;
	case ROLE_ANY:
		if (column->kind == TOKEN_WORD)
			put(writer, "[\\w-]{1,40}");
		else if (column->kind == TOKEN_TIME)
			put(writer, "\\d[\\d.:TZ +-]{3,30}?");
		else
			put_decimal(writer, column);
		return;
	case ROLE_FIXED:
		break;
	}
	if (column->kind == TOKEN_BLANK)
		put(writer, "\\s+");
	else
		put_literal(writer, column->first);
}

static void put_pattern(struct writer *writer, const struct pupil *pupil)
{
	size_t piece = writer->used;

	put(writer, "pattern = \\s*");
	for (size_t n = 0; n < pupil->line.column_count; n++) {
		if (writer->used - piece > PIECE) {
			put(writer, "\n  ");
			piece = writer->used;
		}
		put_column(writer, &pupil->line.columns[n]);
	}
	put(writer, "\\s*\n");
}

/* Lines without the common shape that say there is no reading. */
static void put_silent(struct writer *writer, struct pupil *pupil)
{
	static const char *const silent[] = { "Lo",  "Low",  "Hi",    "High",  "Err",  "Error",     "E",
		                              "OL",  "Over", "Under", "Dry",   "Wait", "-",         "--",
		                              "---", "----", "--.-",  "--.--", "-.--", "No sample", NULL };
	struct slice seen[MOST_SILENT];
	size_t count = 0, other = 0;
	struct slice example = { NULL, 0 };
	char shown[LINE_PRINT];

	for (size_t i = 0; i < pupil->out->line_count; i++) {
		struct slice text = slice_trim(pupil->texts[i]);
		size_t n = 0;

		if (has_common_shape(pupil, i))
			continue;
		if (!line_word_is_any(text, silent)) {
			example = other++ == 0 ? text : example;
			continue;
		}
		while (n < count && !slice_equal(seen[n], text))
			n++;
		if (n == count && count < MOST_SILENT) {
			put(writer, "%s%.*s", count == 0 ? "no-reading = " : ", ", SLICE_ARG(text));
			seen[count++] = text;
		}
	}
	if (count > 0)
		put(writer, "\n");
	if (other > 0)
		doubts_add(&pupil->doubts, "%zu line%s another shape, such as \"%s\"", other,
		           other == 1 ? " has" : "s have", line_print(shown, sizeof(shown), example));
}

static void put_meter(struct writer *writer, const struct pupil *pupil)
{
	const struct column_facts *value = &pupil->line.columns[pupil->line.value];

	put(writer, "[meter]\nname = learned\nabout = proposed from %zu of %zu lines\nunit = %s\n", pupil->line.same,
	    pupil->out->line_count, unit_name(pupil->line.unit));
	if (value->decimals_min == value->decimals_max)
		put(writer, "step = %.*f\n", (int)value->decimals_max, pow(10, -(double)value->decimals_max));
	put(writer,
	    "; the lines do not say these: look them up\ncompensated = yes\ncal-temp = 20\n;accuracy = 0.03\n\n");
	put(writer, "[port]\nbaud = 9600\n");
	if (pupil->cause == DOUBT_EVEN_PARITY || pupil->cause == DOUBT_ODD_PARITY)
		put(writer, "data-bits = 7\nparity = %s\n", pupil->cause == DOUBT_EVEN_PARITY ? "even" : "odd");
}

static void put_line(struct writer *writer, struct pupil *pupil)
{
	const struct column_facts *value = &pupil->line.columns[pupil->line.value];

	put(writer, "\n[line]\nend = %s\n", line_end_name(pupil->end));
	put(writer, "decimal = %s\n", value->both_signs ? "either" : value->sign == ',' ? "comma" : "point");
	if (pupil->line.temp >= 0 && pupil->line.columns[pupil->line.temp].fahrenheit)
		put(writer, "temp-unit = F\n");
	if (pupil->cause == DOUBT_EVEN_PARITY || pupil->cause == DOUBT_ODD_PARITY)
		put(writer, "strip-parity = yes\n");
	put_pattern(writer, pupil);
	put_silent(writer, pupil);
}

/* The temperature can have another decimal sign than the reading; the profile knows one. */
static void settle_signs(struct pupil *pupil)
{
	struct column_facts *value = &pupil->line.columns[pupil->line.value];

	if (pupil->line.temp >= 0 && pupil->line.columns[pupil->line.temp].kind == TOKEN_DECIMAL &&
	    pupil->line.columns[pupil->line.temp].sign != value->sign)
		value->both_signs = true;
}

static void propose(struct pupil *pupil)
{
	struct writer writer = { .size = INI_TEXT };

	find_common_shape(pupil);
	gather_columns(pupil);
	if (pupil->line.same == 0) {
		doubts_add(&pupil->doubts, "no line holds a number with decimals");
		return;
	}
	if (!line_columns_explain(&pupil->line))
		return;
	settle_signs(pupil);
	if (pupil->line.same < FEW_LINES)
		doubts_add(&pupil->doubts, "only %zu line%s the proposed shape; capture more to be sure",
		           pupil->line.same, pupil->line.same == 1 ? " has" : "s have");
	writer.text = arena_take(&pupil->out->memory, INI_TEXT);
	if (!writer.text) {
		pupil->no_memory = true;
		return;
	}
	put(&writer, "; Proposed from captured lines: look it over before use.\n\n");
	put_meter(&writer, pupil);
	put_line(&writer, pupil);
	pupil->out->ini = writer.text;
}

/* Slices of the scratch moved to where they stay. */
static void keep_slices(struct pupil *pupil, struct profile_reading *reading)
{
	struct slice *slices[] = { &reading->label, &reading->status, &reading->seq };

	for (size_t i = 0; i < sizeof(slices) / sizeof(slices[0]); i++) {
		struct slice copy = arena_copy(&pupil->out->memory, *slices[i]);

		if (slices[i]->len == 0)
			continue;
		if (!copy.text)
			pupil->no_memory = true;
		else
			*slices[i] = copy;
	}
}

static void try_lines(struct pupil *pupil, const struct profile *profile)
{
	struct profile_scratch *scratch = profile_scratch_new(profile);
	struct learned *out = pupil->out;

	if (!scratch) {
		pupil->no_memory = true;
		return;
	}
	for (size_t i = 0; i < out->line_count; i++) {
		struct learned_line *line = &out->lines[i];

		line->kind = profile_match(profile, scratch, line->text, &line->reading);
		out->reading_count += line->kind == LINE_READING;
		if (profile->strip_parity && (line->kind == LINE_READING || line->kind == LINE_NO_READING))
			keep_slices(pupil, &line->reading);
	}
	profile_scratch_free(scratch);
}

/* Reads the proposal back, as a user will, and tells what it makes of the lines. */
static void read_back(struct pupil *pupil)
{
	struct faults faults = FAULTS_INIT;
	struct profile *profile;
	enum status status = profile_parse(&profile, slice_from(pupil->out->ini), "proposal", &faults, NULL);

	if (status == STATUS_OK)
		try_lines(pupil, profile);
	else if (status == STATUS_MEMORY)
		pupil->no_memory = true;
	if (status != STATUS_OK || pupil->out->reading_count == 0) {
		doubts_add(&pupil->doubts, "the lines are too long or too odd for a pattern: %s",
		           faults.count > 0 ? faults.items[0].text : "it reads none of them");
		pupil->out->ini = NULL;
	}
	profile_free(profile);
	faults_release(&faults);
}

static void learn(struct pupil *pupil, struct slice captured)
{
	pupil->end = end_of_lines(captured);
	if (!lines_collect(pupil, captured)) {
		pupil->no_memory = true;
		return;
	}
	if (pupil->out->line_count == 0) {
		doubts_add(&pupil->doubts, "there are no lines");
		return;
	}
	if (pupil->cause != DOUBT_NONE)
		doubts_add(&pupil->doubts, "%s", doubt_cause_advice(pupil->cause));
	if (pupil->end == LINE_END_GAP)
		doubts_add(&pupil->doubts, "no byte ends a line; taken for one line, ended by silence");
	if (pupil->cause != DOUBT_SPEED)
		propose(pupil);
	if (pupil->out->ini && !pupil->no_memory)
		read_back(pupil);
}

enum status learn_profile(struct learned *out, struct slice captured, struct error *error)
{
	struct pupil pupil = { .out = out, .line = { .value = -1, .temp = -1 } };

	*out = (struct learned){ .memory = ARENA_INIT };
	pupil.line.doubts = &pupil.doubts;
	pupil.doubts.memory = &out->memory;
	learn(&pupil, captured);
	free(pupil.shapes);
	out->doubts = arena_take(&out->memory, MOST_DOUBTS * sizeof(*out->doubts));
	if (pupil.no_memory || pupil.doubts.no_memory || !out->doubts)
		return error_set(error, STATUS_MEMORY, "no memory to learn from the lines");
	memcpy(out->doubts, pupil.doubts.items, sizeof(pupil.doubts.items));
	out->doubt_count = pupil.doubts.count;
	return STATUS_OK;
}

void learned_release(struct learned *learned)
{
	arena_release(&learned->memory);
	*learned = (struct learned){ .memory = ARENA_INIT };
}
