/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "line_columns.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "number.h"

void doubts_add(struct doubts *doubts, const char *format, ...)
{
	char text[400];
	va_list args;
	const char *copy;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	copy = arena_copy(doubts->memory, slice_from(text)).text;
	if (!copy)
		doubts->no_memory = true;
	else if (doubts->count < MOST_DOUBTS)
		doubts->items[doubts->count++] = copy;
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

void line_columns_add(struct line_columns *line, const struct line_shape *shape)
{
	for (size_t n = 0; n < shape->count; n++) {
		if (line->same == 0)
			column_begin(&line->columns[n], &shape->tokens[n]);
		column_add(&line->columns[n], &shape->tokens[n]);
	}
	line->column_count = shape->count;
	line->same++;
}

bool line_word_is_any(struct slice word, const char *const *any)
{
	for (; *any; any++)
		if (slice_equal_nocase(word, slice_from(*any)))
			return true;
	return false;
}

/* The text from column `from` on, as far as it is one unit of up to three tokens; *used of them. */
static enum unit unit_at(const struct line_columns *line, size_t from, size_t *used)
{
	enum unit found = UNIT_NONE;

	for (size_t to = from; to < line->column_count && to < from + 4; to++) {
		const struct column_facts *last = &line->columns[to];
		const char *text = line->columns[from].first.text;
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

static size_t skip_blank_column(const struct line_columns *line, size_t at)
{
	return at < line->column_count && line->columns[at].kind == TOKEN_BLANK ? at + 1 : at;
}

/* Behind a number: a degree sign, perhaps, and C or F? */
static bool degrees_at(const struct line_columns *line, size_t at, bool *fahrenheit)
{
	static const char *const letters[] = { "C", "F", NULL };

	while (at < line->column_count && line->columns[at].kind == TOKEN_MARK &&
	       strchr("\xc2\xb0\xba'", line->columns[at].first.text[0]))
		at++;
	at = skip_blank_column(line, at);
	if (at >= line->column_count || line->columns[at].kind != TOKEN_WORD || line->columns[at].varies ||
	    !line_word_is_any(line->columns[at].first, letters))
		return false;
	*fahrenheit = slice_equal_nocase(line->columns[at].first, SLICE_OF("F"));
	return true;
}

/* The column of the word before column at, over blanks, ":" and "="; -1: there is none. */
static int word_before(const struct line_columns *line, size_t at)
{
	while (at > 0) {
		const struct column_facts *column = &line->columns[--at];
		bool between = column->kind == TOKEN_BLANK ||
		               (column->kind == TOKEN_MARK && strchr(":=", column->first.text[0]));

		if (!between)
			return column->kind == TOKEN_WORD ? (int)at : -1;
	}
	return -1;
}

/* Finds what stands beside each number and says what it is. */
static void look_beside(struct line_columns *line)
{
	static const char *const temps[] = { "T", "Temp", "Temperature", NULL };

	for (size_t n = 0; n < line->column_count; n++) {
		struct column_facts *column = &line->columns[n];
		size_t behind = skip_blank_column(line, n + 1);
		int before = word_before(line, n);
		size_t used;

		if (column->kind != TOKEN_DECIMAL && column->kind != TOKEN_WHOLE)
			continue;
		column->degrees = degrees_at(line, behind, &column->fahrenheit) ||
		                  (before >= 0 && line_word_is_any(line->columns[before].first, temps));
		if (column->degrees || column->kind == TOKEN_WHOLE)
			continue;
		column->unit = unit_at(line, behind, &used);
		if (column->unit != UNIT_NONE && line->columns[behind].kind == TOKEN_WORD &&
		    line->columns[behind].varies)
			line->columns[behind].role = ROLE_UNIT;
		if (before >= 0 && !line->columns[before].varies && unit_at(line, (size_t)before, &used) != UNIT_NONE)
			column->unit = unit_at(line, (size_t)before, &used);
	}
}

/* The only column of decimals that is no temperature and, where unit is one, has that unit; -1: none, -2: several. */
static int only_value(const struct line_columns *line, bool with_unit, enum unit unit)
{
	int found = -1;

	for (size_t n = 0; n < line->column_count; n++) {
		const struct column_facts *column = &line->columns[n];

		if (column->kind != TOKEN_DECIMAL || column->degrees || (with_unit && column->unit == UNIT_NONE) ||
		    (unit != UNIT_NONE && column->unit != unit))
			continue;
		found = found == -1 ? (int)n : -2;
	}
	return found;
}

static void doubt_values(struct line_columns *line)
{
	char list[200] = "";
	size_t used = 0;

	for (size_t n = 0; n < line->column_count; n++) {
		const struct column_facts *column = &line->columns[n];

		if (column->kind == TOKEN_DECIMAL && !column->degrees && used + 24 < sizeof(list))
			used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%.*s", used > 0 ? ", " : "",
			                         slice_print_len(slice_part(column->first, 0, 16)), column->first.text);
	}
	doubts_add(line->doubts, "several numbers of a line could be the reading: %s; write the pattern by hand", list);
}

static void find_value(struct line_columns *line)
{
	int value = only_value(line, true, UNIT_NONE);

	if (value == -2) {
		value = only_value(line, true, UNIT_TDS_PERCENT);
		if (value >= 0)
			doubts_add(line->doubts,
			           "the lines hold readings in several units; the one in %% TDS is taken");
	} else if (value == -1) {
		value = only_value(line, false, UNIT_NONE);
	}
	if (value == -2)
		doubt_values(line);
	if (value == -1)
		doubts_add(line->doubts, "the only numbers with decimals are temperatures");
	line->value = value;
	if (value < 0)
		return;
	line->columns[value].role = ROLE_VALUE;
	line->unit = line->columns[value].unit;
	if (line->unit == UNIT_NONE) {
		line->unit = UNIT_TDS_PERCENT;
		doubts_add(line->doubts, "no unit stands beside the number; taken for %% TDS");
	}
}

static void find_temp(struct line_columns *line)
{
	line->temp = -1;
	for (size_t n = 0; n < line->column_count; n++) {
		if (!line->columns[n].degrees)
			continue;
		if (line->temp >= 0) {
			doubts_add(line->doubts, "several numbers of a line are temperatures; the first is taken");
			return;
		}
		line->temp = (int)n;
		line->columns[n].role = ROLE_TEMP;
	}
}

static void find_count(struct line_columns *line)
{
	for (size_t n = 0; n < line->column_count; n++) {
		struct column_facts *column = &line->columns[n];

		if (column->role != ROLE_FIXED || column->kind != TOKEN_WHOLE || !column->counts || !column->varies ||
		    line->same < FEW_LINES)
			continue;
		column->role = ROLE_SEQ;
		return;
	}
}

/* Words that vary: one behind the reading without digits tells how it went, another is the label. */
static void find_words(struct line_columns *line)
{
	bool label = false, status = false;

	for (size_t n = 0; n < line->column_count; n++) {
		struct column_facts *column = &line->columns[n];

		if (column->role == ROLE_FIXED && column->kind == TOKEN_WORD && !column->varies && column->has_digit)
			doubts_add(line->doubts,
			           "\"%.*s\" is the same in every line; taken for part of all of them, not for a label",
			           SLICE_ARG(slice_part(column->first, 0, 40)));
		if (column->role != ROLE_FIXED || column->kind != TOKEN_WORD || !column->varies)
			continue;
		if (!status && (int)n > line->value && !column->has_digit) {
			column->role = ROLE_STATUS;
			status = true;
			doubts_add(line->doubts,
			           "the word \"%.*s\" behind the reading varies; taken for its status: list in "
			           "no-reading which of its words mean that there is none",
			           SLICE_ARG(slice_part(column->first, 0, 40)));
		} else if (!label) {
			column->role = ROLE_LABEL;
			label = true;
			doubts_add(line->doubts, "the word \"%.*s\" varies; taken for the label of the cup",
			           SLICE_ARG(slice_part(column->first, 0, 40)));
		} else {
			column->role = ROLE_ANY;
		}
	}
}

static void find_rest(struct line_columns *line)
{
	bool time = false;

	for (size_t n = 0; n < line->column_count; n++) {
		struct column_facts *column = &line->columns[n];

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

bool line_columns_explain(struct line_columns *line)
{
	look_beside(line);
	find_temp(line);
	find_value(line);
	if (line->value < 0)
		return false;
	find_count(line);
	find_words(line);
	find_rest(line);
	return true;
}
