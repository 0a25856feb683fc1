/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "reading_text.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "lines.h"
#include "number.h"
#include "sucrose.h"
#include "timestamp.h"
#include "typed.h"

/* More words than this in front of a colon are prose, not a label. */
enum { LABEL_WORDS = 4, LABEL_TRIES = 16 };

struct scan {
	struct text_line *out;
	const struct label_list *labels;
	struct slice line;
	size_t at;
	bool firm;           /* what gives the label its place is beyond doubt */
	bool comma_behind;   /* the label ends with a comma */
	char sign;           /* decimal sign of the readings */
	bool both_signs;     /* points and commas stand between digits: commas separate */
	double temp_c;       /* of the values to come; NaN */
	size_t without_temp; /* values from here on have none yet */
	size_t without_unit;
	enum unit unit; /* of the values to come */
};

static void unread(struct scan *scan, size_t at, const char *format, ...) __attribute__((format(printf, 3, 4)));

/* The first reason is the one to tell. */
static void unread(struct scan *scan, size_t at, const char *format, ...)
{
	va_list args;

	if (scan->out->kind == TEXT_LINE_UNREAD)
		return;
	scan->out->kind = TEXT_LINE_UNREAD;
	scan->out->questioned = false;
	scan->out->at = at;
	va_start(args, format);
	vsnprintf(scan->out->reason, sizeof(scan->out->reason), format, args);
	va_end(args);
}

static void question(struct scan *scan, struct text_value *value, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

static void question(struct scan *scan, struct text_value *value, const char *format, ...)
{
	va_list args;

	value->questioned = true;
	if (scan->out->questioned || scan->out->kind == TEXT_LINE_UNREAD)
		return;
	scan->out->questioned = true;
	scan->out->at = value->at;
	va_start(args, format);
	vsnprintf(scan->out->reason, sizeof(scan->out->reason), format, args);
	va_end(args);
}

static struct slice rest_of(const struct scan *scan)
{
	return slice_part(scan->line, scan->at, scan->line.len);
}

bool label_list_has(const struct label_list *labels, struct slice label)
{
	size_t from = 0;
	size_t to = labels->count;

	while (from < to) {
		size_t middle = from + (to - from) / 2;
		int order = slice_compare(label, labels->items[middle]);

		if (order == 0)
			return true;
		if (order < 0)
			to = middle;
		else
			from = middle + 1;
	}
	return false;
}

/* Past what mails and lists put in front of a line. */
static void skip_front(struct scan *scan)
{
	static const char *const bullets[] = { "-", "*", "\xe2\x80\xa2", "\xc2\xb7", NULL };
	size_t bullet, behind;

	for (;;) {
		scan->at = typed_skip_blanks(scan->line, scan->at);
		if (scan->at < scan->line.len && (scan->line.text[scan->at] == '>' || scan->line.text[scan->at] == '|'))
			scan->at++;
		else
			break;
	}
	if (scan->at >= scan->line.len)
		return;
	bullet = typed_begins(scan->line, scan->at, bullets);
	behind = typed_skip_blanks(scan->line, scan->at + bullet);
	if (bullet == 0 || typed_blank(scan->line, scan->at + bullet) == 0 || behind >= scan->line.len)
		return;
	if (scan->line.text[scan->at] != '-' || !typed_digit(scan->line.text[behind])) /* "- 1.38" may be below zero */
		scan->at = behind;
}

static void take_stamp(struct scan *scan)
{
	size_t used;

	if (scan->at >= scan->line.len || !typed_digit(scan->line.text[scan->at]) ||
	    !timestamp_parse(&scan->out->taken_us, &used, rest_of(scan)))
		return;
	scan->at = typed_skip_blanks(scan->line, scan->at + used);
	if (scan->at < scan->line.len && typed_separator(scan->line.text[scan->at]))
		scan->at = typed_skip_blanks(scan->line, scan->at + 1);
}

/* Past the colon or "=" behind a label, or the separator. */
static void skip_behind_label(struct scan *scan)
{
	scan->at = typed_skip_blanks(scan->line, scan->at);
	if (scan->at >= scan->line.len || !strchr(":=,;|", scan->line.text[scan->at]) ||
	    scan->line.text[scan->at] == '\0')
		return;
	scan->comma_behind = scan->line.text[scan->at] == ',';
	scan->at = typed_skip_blanks(scan->line, scan->at + 1);
}

static void set_label(struct scan *scan, size_t from, size_t to)
{
	scan->out->label = slice_trim(slice_part(scan->line, from, to));
	scan->at = to;
}

/* "A 1" in quotes; a number in quotes is a reading unless a brew is called that. */
static bool label_in_quotes(struct scan *scan)
{
	size_t quote = typed_quote(scan->line, scan->at);
	size_t from = scan->at + quote;
	size_t to = from;
	struct slice inside;

	if (quote == 0)
		return false;
	while (to < scan->line.len && typed_quote(scan->line, to) == 0)
		to++;
	if (to == scan->line.len || to == from)
		return false;
	inside = slice_part(scan->line, from, to);
	if (typed_has_decimals(inside) && !label_list_has(scan->labels, inside))
		return false;
	set_label(scan, from, to);
	scan->at = to + typed_quote(scan->line, to);
	scan->out->firm = true;
	return true;
}

/* The longest label of a brew that the line begins with. */
static bool label_of_a_brew(struct scan *scan)
{
	size_t to = scan->at;
	size_t best = 0;

	for (int tries = 0; tries < LABEL_TRIES && to < scan->line.len && to - scan->at < scan->labels->longest;
	     tries++) {
		to++;
		while (!typed_word_ends(scan->line, to) && scan->line.text[to] != ':' && scan->line.text[to] != '=')
			to++;
		if (label_list_has(scan->labels, slice_part(scan->line, scan->at, to)) &&
		    !typed_decimal_comma(scan->line, scan->at, to))
			best = to;
	}
	if (best == 0)
		return false;
	set_label(scan, scan->at, best);
	scan->out->firm = true;
	return true;
}

/* Does the line go on with word, in any letter case? Then past it. */
static bool take_word(struct scan *scan, struct slice word)
{
	struct slice rest = rest_of(scan);

	if (!slice_equal_nocase(slice_part(rest, 0, word.len), word))
		return false;
	if (!typed_word_ends(rest, word.len) && rest.text[word.len] != ':' && rest.text[word.len] != '=')
		return false;
	scan->at = typed_skip_blanks(scan->line, scan->at + word.len);
	return true;
}

static size_t words_in(struct slice text)
{
	size_t words = 0;

	for (size_t at = typed_skip_blanks(text, 0); at < text.len; words++) {
		while (at < text.len && typed_blank(text, at) == 0)
			at++;
		at = typed_skip_blanks(text, at);
	}
	return words;
}

/* All before the first colon or "=". True: a label, or the line is no reading at all. */
static bool label_before_colon(struct scan *scan)
{
	struct slice label;
	size_t to = scan->at;

	while (to < scan->line.len && scan->line.text[to] != ':' && scan->line.text[to] != '=' &&
	       scan->line.text[to] != '#')
		to++;
	if (to >= scan->line.len || scan->line.text[to] == '#')
		return false;
	label = slice_trim(slice_part(scan->line, scan->at, to));
	if (label.len == 0 || words_in(label) > LABEL_WORDS || typed_holds_decimals(label)) {
		unread(scan, scan->at,
		       "what stands before \"%c\" is no label; expected one of up to %d words, or in quotes",
		       scan->line.text[to], LABEL_WORDS);
		return true;
	}
	set_label(scan, scan->at, to);
	return true;
}

/* A unit in place of a label: "TDS 1.38". */
static bool take_leading_unit(struct scan *scan, struct slice word)
{
	enum unit unit = word.len >= 2 ? unit_from_text(word.text, word.len) : UNIT_NONE;

	if (unit == UNIT_NONE)
		return false;
	scan->unit = unit;
	scan->at += word.len;
	return true;
}

/* "12b", "3-2": begins with a digit and is no number, and no number with a unit. */
static bool is_label_of_digits(struct slice word)
{
	size_t digits = 0;

	while (digits < word.len && typed_digit(word.text[digits]))
		digits++;
	if (digits == 0 || digits == word.len || unit_from_text(word.text + digits, word.len - digits) != UNIT_NONE)
		return false;
	return isalpha((unsigned char)word.text[digits]) || strchr("-/_", word.text[digits]);
}

/* The first word, where it is not a reading. */
static void label_from_first_word(struct scan *scan)
{
	size_t to = typed_word_end(scan->line, scan->at);
	struct slice word = slice_part(scan->line, scan->at, to);

	if (typed_decimal_comma(scan->line, scan->at, to)) {
		to = typed_word_end(scan->line, to + 1);
		word = slice_part(scan->line, scan->at, to);
	}
	if (word.len == 0 || typed_quote(word, 0) > 0 || word.text[0] == '@')
		return;
	if (typed_digit(word.text[0]) || word.text[0] == '-' || word.text[0] == '+' || typed_minus(word, 0) > 0) {
		/* "01 1.38" has a label, "1.38 1.39" has none */
		if ((typed_is_whole(word) || is_label_of_digits(word)) &&
		    typed_holds_decimals(slice_part(scan->line, to, scan->line.len)))
			set_label(scan, scan->at, to);
	} else if (!take_leading_unit(scan, word)) {
		set_label(scan, scan->at, to);
	}
}

static void take_label(struct scan *scan)
{
	if (!label_in_quotes(scan) && !label_before_colon(scan))
		label_from_first_word(scan);
	if (scan->out->label.len > 0)
		skip_behind_label(scan);
}

/* Is there nothing more in the line but a remark? */
static bool at_end(const struct scan *scan)
{
	return scan->at >= scan->line.len || scan->line.text[scan->at] == '#';
}

/* "5.00:" behind the word standard. */
static void take_strength(struct scan *scan)
{
	size_t from = scan->at;
	size_t to = from;
	double value;

	while (to < scan->line.len &&
	       (typed_digit(scan->line.text[to]) || scan->line.text[to] == '.' || scan->line.text[to] == ','))
		to++;
	if (!number_parse_any(&value, NULL, slice_part(scan->line, from, to))) {
		unread(scan, from,
		       "no strength behind \"standard\"; expected \"standard 5.00: 4.98\", in per cent of sucrose");
		return;
	}
	if (value <= 0 || value > SUCROSE_PERCENT_MAX) {
		unread(scan, from,
		       "strength out of range; expected above 0 and up to 85 %% of sucrose, as in \"standard 5.00: 4.98\"");
		return;
	}
	scan->out->standard_percent = value;
	to = typed_skip_blanks(scan->line, to);
	if (to < scan->line.len && scan->line.text[to] == '%')
		to = typed_skip_blanks(scan->line, to + 1);
	if (to >= scan->line.len || (scan->line.text[to] != ':' && scan->line.text[to] != '='))
		unread(scan, to, "no colon behind the strength; expected \"standard 5.00: 4.98\"");
	scan->at = to + 1;
}

/* "cup A1", and "cup A1 1.38", a label behind a word that says so; false: cup is a label like any other. */
static bool take_cup(struct scan *scan)
{
	size_t word = scan->at;
	struct slice first;

	if (!take_word(scan, SLICE_OF("cup")))
		return false;
	skip_behind_label(scan);
	first = slice_part(scan->line, scan->at, typed_word_end(scan->line, scan->at));
	if (typed_has_decimals(first)) {
		scan->at = word;
		return false;
	}
	if (!label_in_quotes(scan) && !label_of_a_brew(scan) && !at_end(scan))
		set_label(scan, scan->at, scan->at + first.len);
	skip_behind_label(scan);
	scan->out->firm = true;
	if (at_end(scan))
		scan->out->kind = TEXT_LINE_CUP;
	return true;
}

static void take_head(struct scan *scan)
{
	if (label_of_a_brew(scan)) {
		skip_behind_label(scan);
		if (at_end(scan))
			scan->out->kind = TEXT_LINE_CUP;
	} else if (take_word(scan, SLICE_OF("zero"))) {
		take_word(scan, SLICE_OF("check"));
		scan->out->role = READING_ZERO;
		scan->out->firm = true;
		skip_behind_label(scan);
	} else if (take_word(scan, SLICE_OF("standard"))) {
		scan->out->role = READING_STANDARD;
		scan->out->firm = true;
		take_strength(scan);
	} else if (!take_cup(scan)) {
		take_label(scan);
	}
}

struct signs {
	size_t points, commas; /* between digits */
	size_t doubtful;       /* where a second comma stands in one word; 0: nowhere */
};

/* Counts from where the readings begin. Temperatures behind "@" have a sign of their own. */
static struct signs signs_count(const struct scan *scan)
{
	struct signs signs = { 0 };
	size_t in_word = 0;
	struct slice line = scan->line;

	for (size_t at = scan->at; at < line.len && line.text[at] != '#'; at++) {
		bool between = at > scan->at && typed_digit(line.text[at - 1]) && at + 1 < line.len &&
		               typed_digit(line.text[at + 1]);

		if (line.text[at] == '@')
			at = typed_word_end(line, typed_skip_blanks(line, at + 1)) - 1;
		else if (typed_blank(line, at) > 0 || line.text[at] == ';' || line.text[at] == '|')
			in_word = 0;
		else if (between && line.text[at] == '.')
			signs.points++;
		else if (between && line.text[at] == ',') {
			signs.commas++;
			if (++in_word == 2 && signs.doubtful == 0)
				signs.doubtful = at;
		}
	}
	return signs;
}

static void settle_sign(struct scan *scan)
{
	struct signs signs = signs_count(scan);

	scan->both_signs = signs.points > 0 && signs.commas > 0;
	if (signs.points > 0 || signs.commas == 0)
		return;
	scan->sign = ',';
	if (signs.doubtful > 0)
		unread(scan, signs.doubtful,
		       "the commas may be decimal signs or stand between readings; expected 1,41; 1,42 or 1.41, 1.42");
	else if (scan->comma_behind)
		unread(scan, scan->at,
		       "the comma behind the label makes the others doubtful; expected \";\" there, or decimal points");
}

/* Bytes of the number at `at`, digits and all that could belong to one; 0: none begins here. */
static size_t number_len(const struct scan *scan, size_t at)
{
	struct slice line = scan->line;
	size_t to = at + typed_minus(line, at);

	if (to == at && to < line.len && (line.text[to] == '-' || line.text[to] == '+'))
		to++;
	if (to >= line.len || !typed_digit(line.text[to]))
		return 0;
	while (to < line.len &&
	       (typed_digit(line.text[to]) || line.text[to] == '.' ||
	        (line.text[to] == ',' && scan->sign == ',' && to + 1 < line.len && typed_digit(line.text[to + 1]))))
		to++;
	return to - at;
}

/* The word at `at`, for a message: up to the next blank. */
static struct slice word_at(const struct scan *scan, size_t at)
{
	size_t to = at;

	while (to < scan->line.len && typed_blank(scan->line, to) == 0)
		to++;
	return slice_part(scan->line, at, to);
}

static void unread_word(struct scan *scan, size_t at, const char *expected)
{
	char shown[64];

	unread(scan, at, "\"%s\" is %s", line_print(shown, sizeof(shown), word_at(scan, at)), expected);
}

static double to_celsius(double temp, bool fahrenheit)
{
	return fahrenheit ? (temp - 32.0) / 1.8 : temp;
}

/* A temperature holds for the values before it that have none, or for those behind it where none stand before. */
static void temp_holds(struct scan *scan, double temp_c)
{
	struct text_line *out = scan->out;

	if (scan->without_temp == out->count)
		scan->temp_c = temp_c;
	for (; scan->without_temp < out->count; scan->without_temp++)
		out->values[scan->without_temp].temp_c = temp_c;
}

/* "@22.4", the unit °C or °F perhaps behind it. */
static void take_temp(struct scan *scan)
{
	size_t from = typed_skip_blanks(scan->line, scan->at + 1);
	size_t to = from;
	bool fahrenheit = false;
	double temp;
	size_t unit;

	if (to < scan->line.len && scan->line.text[to] == '-')
		to++;
	while (to < scan->line.len &&
	       (typed_digit(scan->line.text[to]) || ((scan->line.text[to] == '.' || scan->line.text[to] == ',') &&
	                                             to + 1 < scan->line.len && typed_digit(scan->line.text[to + 1]))))
		to++;
	if (!number_parse_any(&temp, NULL, slice_part(scan->line, from, to))) {
		unread_word(scan, scan->at, "no temperature; expected one such as @22.4");
		return;
	}
	unit = typed_degrees(scan->line, typed_skip_blanks(scan->line, to), &fahrenheit);
	if (unit > 0)
		to = typed_skip_blanks(scan->line, to) + unit;
	if (!typed_word_ends(scan->line, to) && scan->line.text[to] != '#')
		unread_word(scan, scan->at, "no temperature; expected one such as @22.4");
	temp_holds(scan, to_celsius(temp, fahrenheit));
	scan->at = to;
}

static void unit_holds(struct scan *scan, enum unit unit)
{
	for (; scan->without_unit < scan->out->count; scan->without_unit++)
		scan->out->values[scan->without_unit].shown.unit = unit;
}

static void add_value(struct scan *scan, double value, int decimals, size_t at)
{
	struct text_line *out = scan->out;

	if (out->count == TEXT_LINE_VALUES) {
		unread(scan, at, "more than %d readings in a line; expected several lines", TEXT_LINE_VALUES);
		return;
	}
	out->values[out->count++] = (struct text_value){ { value, decimals, scan->unit }, scan->temp_c, at, false };
}

/* A number, and what tells whether it is a reading or a temperature. */
static void take_number(struct scan *scan, size_t len)
{
	size_t from = scan->at;
	size_t to = from + len;
	enum unit unit = UNIT_NONE;
	bool fahrenheit = false;
	int decimals;
	double value;
	size_t behind, unit_bytes;

	if (!number_parse(&value, &decimals, slice_part(scan->line, from, to), scan->sign)) {
		unread_word(scan, from, "not a number; expected one such as 1.38");
		return;
	}
	to += typed_quote(scan->line, to);
	behind = typed_skip_blanks(scan->line, to);
	unit_bytes = typed_degrees(scan->line, behind, &fahrenheit);
	if (unit_bytes > 0) {
		temp_holds(scan, to_celsius(value, fahrenheit));
		scan->at = behind + unit_bytes;
		return;
	}
	add_value(scan, value, decimals, from);
	unit_bytes = typed_unit(scan->line, behind, &unit);
	scan->at = unit_bytes > 0 ? behind + unit_bytes : to;
	if (unit_bytes > 0)
		unit_holds(scan, unit);
	else if (!typed_word_ends(scan->line, to) && scan->line.text[to] != '@')
		unread_word(scan, from, "not a number with a unit; expected one such as 1.38, 1.38 % or 1.6 brix");
}

/* One number, temperature or separator; false: the readings are at their end. */
static bool take_next(struct scan *scan)
{
	size_t len;

	while (scan->at < scan->line.len &&
	       (typed_blank(scan->line, scan->at) > 0 || typed_separator(scan->line.text[scan->at])))
		scan->at += typed_blank(scan->line, scan->at) > 0 ? typed_blank(scan->line, scan->at) : 1;
	if (scan->at >= scan->line.len || scan->line.text[scan->at] == '#')
		return false;
	if (scan->line.text[scan->at] == '@') {
		take_temp(scan);
		return true;
	}
	scan->at += typed_quote(scan->line, scan->at);
	len = number_len(scan, scan->at);
	if (len > 0) {
		take_number(scan, len);
	} else if (scan->out->count == 0 && scan->unit == UNIT_NONE) {
		len = typed_unit(scan->line, scan->at, &scan->unit);
		scan->at += len;
		if (len == 0)
			unread_word(scan, scan->at,
			            "not a number; expected readings such as 1.38 behind a label of one word");
	} else {
		unread_word(scan, scan->at, "neither a number nor a unit; expected a remark behind \"#\"");
	}
	return true;
}

/* A comma with three digits behind it, as in a thousand? */
static bool looks_grouped(const struct scan *scan, const struct text_value *value)
{
	return scan->sign == ',' && value->shown.decimals == 3 && value->shown.value >= 1;
}

static void check_value(struct scan *scan, struct text_value *value)
{
	const struct shown *shown = &value->shown;
	bool per_cent = shown->unit == UNIT_NONE || shown->unit == UNIT_TDS_PERCENT;
	bool fraction = shown->decimals >= 3 && shown->value >= 0.003 && shown->value <= 0.05;
	bool whole = shown->decimals == 0 && shown->value > 30;
	bool negative = shown->value < 0;
	char text[NUMBER_TEXT], other[NUMBER_TEXT];

	if (scan->out->role != READING_SAMPLE || !per_cent || !(fraction || whole || negative))
		return;
	number_print(text, sizeof(text), shown->value, shown->decimals);
	if (fraction)
		question(scan, value, "%s may be %s %% as a fraction; taken as %s %%", text,
		         number_print(other, sizeof(other), shown->value * 100, shown->decimals - 2), text);
	else if (whole)
		question(scan, value, "%s may have lost its decimal sign; taken as it stands", text);
	else
		question(scan, value, "%s is below zero; expected that of zero checks only; taken as it stands", text);
}

/* Whole numbers are readings only where nothing speaks against it. */
static void check_whole_number(struct scan *scan, const struct text_value *value, bool some_decimals)
{
	if (scan->both_signs)
		unread(scan, value->at, "points and commas stand in the numbers; expected one kind of decimal sign");
	else if (!scan->out->firm && some_decimals)
		unread(scan, value->at,
		       "a whole number stands beside one with decimals; expected the label of a brew, "
		       "in front and in quotes if it has blanks");
	else if (!scan->out->firm && value->shown.unit == UNIT_NONE)
		unread(scan, value->at,
		       "a number without decimals, unit, or the label of a brew is not taken for a reading; "
		       "expected one such as 1.38");
}

/* What the readings of the line as a whole tell about it. */
static void check_values(struct scan *scan)
{
	struct text_line *out = scan->out;
	bool grouped = out->count > 0;
	bool some_decimals = false;

	if (out->count == 0)
		unread(scan, scan->line.len, "no reading; expected one such as 1.38 behind the label");
	for (size_t i = 0; i < out->count; i++) {
		some_decimals = some_decimals || out->values[i].shown.decimals > 0;
		grouped = grouped && looks_grouped(scan, &out->values[i]);
	}
	for (size_t i = 0; i < out->count; i++) {
		if (out->values[i].shown.decimals == 0)
			check_whole_number(scan, &out->values[i], some_decimals);
		if (grouped)
			question(scan, &out->values[i], "the comma may group a thousand; taken as the decimal sign");
		check_value(scan, &out->values[i]);
	}
}

void text_line_read(struct text_line *out, struct slice line, const struct label_list *labels)
{
	struct scan scan = { .out = out, .labels = labels, .line = line, .sign = '.', .temp_c = NAN };

	out->kind = TEXT_LINE_READINGS;
	out->role = READING_SAMPLE;
	out->label = (struct slice){ NULL, 0 };
	out->standard_percent = NAN;
	out->taken_us = READING_NO_TIME;
	out->questioned = false;
	out->firm = false;
	out->at = 0;
	out->reason[0] = '\0';
	out->count = 0;
	skip_front(&scan);
	if (scan.at >= line.len || line.text[scan.at] == '#') {
		out->kind = TEXT_LINE_EMPTY;
		return;
	}
	take_stamp(&scan);
	take_head(&scan);
	if (out->kind != TEXT_LINE_READINGS)
		return;
	settle_sign(&scan);
	while (out->kind == TEXT_LINE_READINGS && take_next(&scan))
		continue;
	check_values(&scan);
	if (out->kind != TEXT_LINE_READINGS)
		out->count = 0;
}
