/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "learn.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "line_shape.h"
#include "number.h"

enum { MOST_DOUBTS = 16, PATTERN_TEXT = 3000, INI_TEXT = 8000, PIECE = 120, MOST_SILENT = 8, FEW_LINES = 3 };

enum role {
	ROLE_FIXED, /* the same in every line */
	ROLE_ANY,   /* varies, means nothing here */
	ROLE_VALUE,
	ROLE_TEMP,
	ROLE_LABEL,
	ROLE_TIME,
	ROLE_STATUS,
	ROLE_SEQ,
	ROLE_UNIT,
};

/* One column of the lines that have the common shape: what its tokens are like in all of them. */
struct column_facts {
	enum token_kind kind;
	enum role role;
	struct slice first; /* as the first line has it */
	bool varies;
	bool counts;    /* goes up by little from line to line */
	bool has_digit; /* in any */
	size_t whole_min, whole_max, decimals_min, decimals_max;
	char sign;
	bool both_signs;
	double last;
	enum unit unit; /* that stands beside it */
	bool fahrenheit;
	bool degrees; /* a sign or word beside it says that it is a temperature */
};

struct pupil {
	struct learned *out;
	struct line_shape *shapes;  /* of each line; count 0: none */
	struct slice *texts;        /* of each line, without its parity bits where they are seen */
	char key[SHAPE_TOKENS + 1]; /* the common shape */
	size_t same;                /* lines that have it */
	struct column_facts columns[SHAPE_TOKENS];
	size_t column_count;
	enum doubt_cause cause;
	enum line_end end;
	int value, temp; /* columns; -1: none */
	enum unit unit;
	const char *doubts[MOST_DOUBTS];
	size_t doubt_count;
	bool no_memory;
};

static void doubt(struct pupil *pupil, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void doubt(struct pupil *pupil, const char *format, ...)
{
	char text[400];
	va_list args;
	const char *copy;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	copy = arena_copy(&pupil->out->memory, slice_from(text)).text;
	if (!copy)
		pupil->no_memory = true;
	else if (pupil->doubt_count < MOST_DOUBTS)
		pupil->doubts[pupil->doubt_count++] = copy;
}

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
	for (size_t i = 0; i < pupil->out->line_count; i++) {
		const struct line_shape *shape = &pupil->shapes[i];
		size_t same = 0;

		if (shape->count == 0 || !memchr(shape->key, 'd', shape->count) || strcmp(shape->key, pupil->key) == 0)
			continue;
		for (size_t j = i; j < pupil->out->line_count; j++)
			same += pupil->shapes[j].count == shape->count && strcmp(pupil->shapes[j].key, shape->key) == 0;
		if (same > pupil->same) {
			pupil->same = same;
			memcpy(pupil->key, shape->key, shape->count + 1);
		}
	}
}

static bool has_common_shape(const struct pupil *pupil, size_t line)
{
	return pupil->shapes[line].count > 0 && strcmp(pupil->shapes[line].key, pupil->key) == 0;
}

static void column_begin(struct column_facts *column, const struct token *token)
{
	*column = (struct column_facts){
		.kind = token->kind,
		.first = token->text,
		.counts = true,
		.whole_min = token_whole_digits(token),
		.decimals_min = token_decimals(token),
		.sign = token_sign(token),
		.last = NAN,
	};
}

static void column_add(struct column_facts *column, const struct token *token)
{
	size_t whole = token_whole_digits(token);
	size_t decimals = token_decimals(token);
	double value = NAN;

	column->varies = column->varies || !slice_equal(column->first, token->text);
	for (size_t i = 0; i < token->text.len; i++)
		column->has_digit = column->has_digit || (token->text.text[i] >= '0' && token->text.text[i] <= '9');
	column->whole_min = whole < column->whole_min ? whole : column->whole_min;
	column->whole_max = whole > column->whole_max ? whole : column->whole_max;
	column->decimals_min = decimals < column->decimals_min ? decimals : column->decimals_min;
	column->decimals_max = decimals > column->decimals_max ? decimals : column->decimals_max;
	column->both_signs = column->both_signs || token_sign(token) != column->sign;
	if (token->kind == TOKEN_WHOLE)
		(void)number_parse_any(&value, NULL, token->text);
	if (token->kind != TOKEN_WHOLE || value < column->last || value > column->last + 5)
		column->counts = false;
	column->last = value;
}

static void gather_columns(struct pupil *pupil)
{
	bool first = true;

	for (size_t i = 0; i < pupil->out->line_count; i++) {
		const struct line_shape *shape = &pupil->shapes[i];

		if (!has_common_shape(pupil, i))
			continue;
		for (size_t n = 0; n < shape->count; n++) {
			if (first)
				column_begin(&pupil->columns[n], &shape->tokens[n]);
			column_add(&pupil->columns[n], &shape->tokens[n]);
		}
		pupil->column_count = shape->count;
		first = false;
	}
}

static bool word_is_any(struct slice word, const char *const *any)
{
	for (; *any; any++)
		if (slice_equal_nocase(word, slice_from(*any)))
			return true;
	return false;
}

/* The text from column `from` on, as far as it is one unit of up to three tokens; *used of them. */
static enum unit unit_at(const struct pupil *pupil, size_t from, size_t *used)
{
	enum unit found = UNIT_NONE;

	for (size_t to = from; to < pupil->column_count && to < from + 4; to++) {
		const struct column_facts *last = &pupil->columns[to];
		const char *text = pupil->columns[from].first.text;
		enum unit unit;

		if (last->kind != TOKEN_WORD && last->kind != TOKEN_MARK && last->kind != TOKEN_BLANK)
			break;
		unit = unit_from_text(text, (size_t)(last->first.text + last->first.len - text));
		if (unit != UNIT_NONE && last->kind != TOKEN_BLANK) {
			found = unit;
			*used = to - from + 1;
		}
	}
	return found;
}

static size_t skip_blank_column(const struct pupil *pupil, size_t at)
{
	return at < pupil->column_count && pupil->columns[at].kind == TOKEN_BLANK ? at + 1 : at;
}

/* Behind a number: a degree sign, perhaps, and C or F? */
static bool degrees_at(const struct pupil *pupil, size_t at, bool *fahrenheit)
{
	static const char *const letters[] = { "C", "F", NULL };

	while (at < pupil->column_count && pupil->columns[at].kind == TOKEN_MARK &&
	       strchr("\xc2\xb0\xba'", pupil->columns[at].first.text[0]))
		at++;
	at = skip_blank_column(pupil, at);
	if (at >= pupil->column_count || pupil->columns[at].kind != TOKEN_WORD || pupil->columns[at].varies ||
	    !word_is_any(pupil->columns[at].first, letters))
		return false;
	*fahrenheit = slice_equal_nocase(pupil->columns[at].first, SLICE_OF("F"));
	return true;
}

/* The column of the word before column at, over blanks, ":" and "="; -1: there is none. */
static int word_before(const struct pupil *pupil, size_t at)
{
	while (at > 0) {
		const struct column_facts *column = &pupil->columns[--at];
		bool between = column->kind == TOKEN_BLANK ||
		               (column->kind == TOKEN_MARK && strchr(":=", column->first.text[0]));

		if (!between)
			return column->kind == TOKEN_WORD ? (int)at : -1;
	}
	return -1;
}

/* Finds what stands beside each number and says what it is. */
static void look_beside(struct pupil *pupil)
{
	static const char *const temps[] = { "T", "Temp", "Temperature", NULL };

	for (size_t n = 0; n < pupil->column_count; n++) {
		struct column_facts *column = &pupil->columns[n];
		size_t behind = skip_blank_column(pupil, n + 1);
		int before = word_before(pupil, n);
		size_t used;

		if (column->kind != TOKEN_DECIMAL && column->kind != TOKEN_WHOLE)
			continue;
		column->degrees = degrees_at(pupil, behind, &column->fahrenheit) ||
		                  (before >= 0 && word_is_any(pupil->columns[before].first, temps));
		if (column->degrees || column->kind == TOKEN_WHOLE)
			continue;
		column->unit = unit_at(pupil, behind, &used);
		if (column->unit != UNIT_NONE && pupil->columns[behind].kind == TOKEN_WORD &&
		    pupil->columns[behind].varies)
			pupil->columns[behind].role = ROLE_UNIT;
		if (before >= 0 && !pupil->columns[before].varies && unit_at(pupil, (size_t)before, &used) != UNIT_NONE)
			column->unit = unit_at(pupil, (size_t)before, &used);
	}
}

/* The only column of decimals that is no temperature and, where unit is one, has that unit; -1: none, -2: several. */
static int only_value(const struct pupil *pupil, bool with_unit, enum unit unit)
{
	int found = -1;

	for (size_t n = 0; n < pupil->column_count; n++) {
		const struct column_facts *column = &pupil->columns[n];

		if (column->kind != TOKEN_DECIMAL || column->degrees || (with_unit && column->unit == UNIT_NONE) ||
		    (unit != UNIT_NONE && column->unit != unit))
			continue;
		found = found == -1 ? (int)n : -2;
	}
	return found;
}

static void doubt_values(struct pupil *pupil)
{
	char list[200] = "";
	size_t used = 0;

	for (size_t n = 0; n < pupil->column_count; n++) {
		const struct column_facts *column = &pupil->columns[n];

		if (column->kind == TOKEN_DECIMAL && !column->degrees && used + 24 < sizeof(list))
			used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%.*s", used > 0 ? ", " : "",
			                         slice_print_len(slice_part(column->first, 0, 16)), column->first.text);
	}
	doubt(pupil, "several numbers of a line could be the reading: %s; write the pattern by hand", list);
}

static void find_value(struct pupil *pupil)
{
	int value = only_value(pupil, true, UNIT_NONE);

	if (value == -2) {
		value = only_value(pupil, true, UNIT_TDS_PERCENT);
		if (value >= 0)
			doubt(pupil, "the lines hold readings in several units; the one in %% TDS is taken");
	} else if (value == -1) {
		value = only_value(pupil, false, UNIT_NONE);
	}
	if (value == -2)
		doubt_values(pupil);
	if (value == -1)
		doubt(pupil, "the only numbers with decimals are temperatures");
	pupil->value = value;
	if (value < 0)
		return;
	pupil->columns[value].role = ROLE_VALUE;
	pupil->unit = pupil->columns[value].unit;
	if (pupil->unit == UNIT_NONE) {
		pupil->unit = UNIT_TDS_PERCENT;
		doubt(pupil, "no unit stands beside the number; taken for %% TDS");
	}
}

static void find_temp(struct pupil *pupil)
{
	pupil->temp = -1;
	for (size_t n = 0; n < pupil->column_count; n++) {
		if (!pupil->columns[n].degrees)
			continue;
		if (pupil->temp >= 0) {
			doubt(pupil, "several numbers of a line are temperatures; the first is taken");
			return;
		}
		pupil->temp = (int)n;
		pupil->columns[n].role = ROLE_TEMP;
	}
}

static void find_count(struct pupil *pupil)
{
	for (size_t n = 0; n < pupil->column_count; n++) {
		struct column_facts *column = &pupil->columns[n];

		if (column->role != ROLE_FIXED || column->kind != TOKEN_WHOLE || !column->counts || !column->varies ||
		    pupil->same < FEW_LINES)
			continue;
		column->role = ROLE_SEQ;
		return;
	}
}

/* Words that vary: one behind the reading without digits tells how it went, another is the label. */
static void find_words(struct pupil *pupil)
{
	bool label = false, status = false;

	for (size_t n = 0; n < pupil->column_count; n++) {
		struct column_facts *column = &pupil->columns[n];

		if (column->role == ROLE_FIXED && column->kind == TOKEN_WORD && !column->varies && column->has_digit)
			doubt(pupil,
			      "\"%.*s\" is the same in every line; taken for part of all of them, not for a label",
			      SLICE_ARG(slice_part(column->first, 0, 40)));
		if (column->role != ROLE_FIXED || column->kind != TOKEN_WORD || !column->varies)
			continue;
		if (!status && (int)n > pupil->value && !column->has_digit) {
			column->role = ROLE_STATUS;
			status = true;
			doubt(pupil,
			      "the word \"%.*s\" behind the reading varies; taken for its status: list in "
			      "no-reading which of its words mean that there is none",
			      SLICE_ARG(slice_part(column->first, 0, 40)));
		} else if (!label) {
			column->role = ROLE_LABEL;
			label = true;
			doubt(pupil, "the word \"%.*s\" varies; taken for the label of the cup",
			      SLICE_ARG(slice_part(column->first, 0, 40)));
		} else {
			column->role = ROLE_ANY;
		}
	}
}

static void find_rest(struct pupil *pupil)
{
	bool time = false;

	for (size_t n = 0; n < pupil->column_count; n++) {
		struct column_facts *column = &pupil->columns[n];

		if (column->role != ROLE_FIXED)
			continue;
		if (column->kind == TOKEN_TIME) {
			column->role = time ? ROLE_ANY : ROLE_TIME;
			time = true;
		} else if (column->kind == TOKEN_WHOLE || column->kind == TOKEN_DECIMAL) {
			column->role = ROLE_ANY;
		}
	}
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
	for (size_t n = 0; n < pupil->column_count; n++) {
		if (writer->used - piece > PIECE) {
			put(writer, "\n  ");
			piece = writer->used;
		}
		put_column(writer, &pupil->columns[n]);
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
		if (!word_is_any(text, silent)) {
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
		doubt(pupil, "%zu line%s another shape, such as \"%s\"", other, other == 1 ? " has" : "s have",
		      line_print(shown, sizeof(shown), example));
}

static void put_meter(struct writer *writer, const struct pupil *pupil)
{
	const struct column_facts *value = &pupil->columns[pupil->value];

	put(writer, "[meter]\nname = learned\nabout = proposed from %zu of %zu lines\nunit = %s\n", pupil->same,
	    pupil->out->line_count, unit_name(pupil->unit));
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
	const struct column_facts *value = &pupil->columns[pupil->value];

	put(writer, "\n[line]\nend = %s\n", line_end_name(pupil->end));
	put(writer, "decimal = %s\n", value->both_signs ? "either" : value->sign == ',' ? "comma" : "point");
	if (pupil->temp >= 0 && pupil->columns[pupil->temp].fahrenheit)
		put(writer, "temp-unit = F\n");
	if (pupil->cause == DOUBT_EVEN_PARITY || pupil->cause == DOUBT_ODD_PARITY)
		put(writer, "strip-parity = yes\n");
	put_pattern(writer, pupil);
	put_silent(writer, pupil);
}

/* The temperature can have another decimal sign than the reading; the profile knows one. */
static void settle_signs(struct pupil *pupil)
{
	struct column_facts *value = &pupil->columns[pupil->value];

	if (pupil->temp >= 0 && pupil->columns[pupil->temp].kind == TOKEN_DECIMAL &&
	    pupil->columns[pupil->temp].sign != value->sign)
		value->both_signs = true;
}

static void propose(struct pupil *pupil)
{
	struct writer writer = { .size = INI_TEXT };

	find_common_shape(pupil);
	if (pupil->same == 0) {
		doubt(pupil, "no line holds a number with decimals");
		return;
	}
	gather_columns(pupil);
	look_beside(pupil);
	find_temp(pupil);
	find_value(pupil);
	if (pupil->value < 0)
		return;
	find_count(pupil);
	find_words(pupil);
	find_rest(pupil);
	settle_signs(pupil);
	if (pupil->same < FEW_LINES)
		doubt(pupil, "only %zu line%s the proposed shape; capture more to be sure", pupil->same,
		      pupil->same == 1 ? " has" : "s have");
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
		doubt(pupil, "the lines are too long or too odd for a pattern: %s",
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
		doubt(pupil, "there are no lines");
		return;
	}
	if (pupil->cause != DOUBT_NONE)
		doubt(pupil, "%s", doubt_cause_advice(pupil->cause));
	if (pupil->end == LINE_END_GAP)
		doubt(pupil, "no byte ends a line; taken for one line, ended by silence");
	if (pupil->cause != DOUBT_SPEED)
		propose(pupil);
	if (pupil->out->ini && !pupil->no_memory)
		read_back(pupil);
}

enum status learn_profile(struct learned *out, struct slice captured, struct error *error)
{
	struct pupil pupil = { .out = out, .value = -1, .temp = -1 };

	*out = (struct learned){ .memory = ARENA_INIT };
	learn(&pupil, captured);
	free(pupil.shapes);
	out->doubts = arena_take(&out->memory, MOST_DOUBTS * sizeof(*out->doubts));
	if (pupil.no_memory || !out->doubts)
		return error_set(error, STATUS_MEMORY, "no memory to learn from the lines");
	memcpy(out->doubts, pupil.doubts, sizeof(pupil.doubts));
	out->doubt_count = pupil.doubt_count;
	return STATUS_OK;
}

void learned_release(struct learned *learned)
{
	arena_release(&learned->memory);
	*learned = (struct learned){ .memory = ARENA_INIT };
}
