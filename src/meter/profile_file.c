/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "profile_file.h"

#include <ini.h>
#include <string.h>

#include "number.h"

enum key_type {
	KEY_TEXT,
	KEY_PATTERN,
	KEY_NUMBER, /* double */
	KEY_COUNT,  /* int */
	KEY_CHOICE, /* enum, numbered as words are */
	KEY_SWITCH, /* bool: the second of two words */
	KEY_UNIT,
	KEY_WORDS,
	KEY_BYTES,
};

enum { CHOICES = 6, LONGEST_LINE = 197, LONGEST_VALUE = 4096 };

struct key_def {
	const char *section, *name;
	enum key_type type;
	size_t offset; /* in struct profile */
	double min, max;
	const char *words[CHOICES];
};

#define FIELD(member) .offset = offsetof(struct profile, member)
#define NO_YES        .words = { "no", "yes" }
#define OFF_ON        .words = { "off", "on" }

static const struct key_def key_defs[] = {
	{ "meter", "name", KEY_TEXT, FIELD(name) },
	{ "meter", "about", KEY_TEXT, FIELD(about) },
	{ "meter", "unit", KEY_UNIT, FIELD(meter.unit), .words = { "tds", "brix", "nd" } },
	{ "meter", "scale-factor", KEY_NUMBER, FIELD(meter.scale_factor), 0.1, 2 },
	{ "meter", "cal-temp", KEY_NUMBER, FIELD(meter.cal_temp_c), -5, 100 },
	{ "meter", "compensated", KEY_SWITCH, FIELD(meter.compensated), NO_YES },
	{ "meter", "step", KEY_NUMBER, FIELD(meter.step), 1e-6, 10 },
	{ "meter", "accuracy", KEY_NUMBER, FIELD(meter.accuracy), 0, 10 },
	{ "port", "baud", KEY_COUNT, FIELD(port.baud), 50, 4000000 },
	{ "port", "data-bits", KEY_COUNT, FIELD(port.data_bits), 7, 8 },
	{ "port", "parity", KEY_CHOICE, FIELD(port.parity), .words = { "none", "even", "odd", "mark", "space" } },
	{ "port", "stop-bits", KEY_COUNT, FIELD(port.stop_bits), 1, 2 },
	{ "port", "flow", KEY_CHOICE, FIELD(port.flow), .words = { "none", "rtscts", "xonxoff" } },
	{ "port", "dtr", KEY_SWITCH, FIELD(port.dtr), OFF_ON },
	{ "port", "rts", KEY_SWITCH, FIELD(port.rts), OFF_ON },
	{ "line", "end", KEY_CHOICE, FIELD(line_end), .words = { "auto", "lf", "cr", "crlf", "gap" } },
	{ "line", "gap", KEY_COUNT, FIELD(gap_ms), 1, 60000 },
	{ "line", "pattern", KEY_PATTERN, FIELD(pattern) },
	{ "line", "anchored", KEY_SWITCH, FIELD(anchored), NO_YES },
	{ "line", "decimal", KEY_CHOICE, FIELD(decimal), .words = { "either", "point", "comma" } },
	{ "line", "temp-unit", KEY_SWITCH, FIELD(fahrenheit), .words = { "C", "F" } },
	{ "line", "no-reading", KEY_WORDS, FIELD(no_reading) },
	{ "line", "strip-parity", KEY_SWITCH, FIELD(strip_parity), NO_YES },
	{ "ask", "send", KEY_BYTES, FIELD(ask) },
	{ "ask", "every", KEY_COUNT, FIELD(ask_every_ms), 10, 3600000 },
};

enum { KEYS = sizeof(key_defs) / sizeof(key_defs[0]) };

struct file_reader {
	struct profile *profile;
	struct faults *faults;
	struct place place;
	struct line_walk walk;
	uint32_t seen[KEYS]; /* line in which a key stands, 0: not yet */
	bool indented;       /* the line begins with a blank */
	bool named;          /* a key came before it in its section */
	bool awaited;        /* the line should have been a key, and was not told of so far */
};

#define COMPLAIN(reader, ...) faults_add((reader)->faults, SEVERITY_ERROR, (reader)->place, __VA_ARGS__)

/* The words of a key as "none, even or odd". */
static const char *words_print(char *out, size_t size, const char *const words[CHOICES])
{
	size_t used = 0;

	out[0] = '\0';
	for (size_t i = 0; i < CHOICES && words[i]; i++) {
		const char *between = i == 0 ? "" : i + 1 < CHOICES && words[i + 1] ? ", " : " or ";
		size_t len = strlen(between) + strlen(words[i]);

		if (used + len >= size)
			break;
		memcpy(out + used, between, strlen(between));
		memcpy(out + used + strlen(between), words[i], strlen(words[i]) + 1);
		used += len;
	}
	return out;
}

static bool set_choice(void *field, const struct key_def *def, struct slice value)
{
	for (int i = 0; i < CHOICES && def->words[i]; i++) {
		if (!slice_equal_nocase(value, slice_from(def->words[i])))
			continue;
		if (def->type == KEY_SWITCH)
			memcpy(field, &(bool){ i == 1 }, sizeof(bool));
		else
			memcpy(field, &i, sizeof(i));
		return true;
	}
	return false;
}

static bool set_number(void *field, const struct key_def *def, struct slice value)
{
	int decimals, whole;
	double number;

	if (!number_parse_any(&number, &decimals, value) || number < def->min || number > def->max)
		return false;
	if (def->type == KEY_NUMBER) {
		memcpy(field, &number, sizeof(number));
		return true;
	}
	whole = (int)number;
	memcpy(field, &whole, sizeof(whole));
	return decimals == 0;
}

static bool set_unit(void *field, struct slice value)
{
	enum unit unit = unit_from_text(value.text, value.len);

	if (unit != UNIT_NONE)
		memcpy(field, &unit, sizeof(unit));
	return unit != UNIT_NONE;
}

static bool set_text(struct arena *memory, void *field, struct slice value)
{
	struct slice copy = arena_copy(memory, value);

	memcpy(field, &copy.text, sizeof(copy.text));
	return copy.text != NULL;
}

/* The words between the commas of value. */
static bool set_words(struct profile *profile, struct slice value)
{
	struct slice copy = arena_copy(&profile->memory, value);
	size_t count = 1;

	for (size_t i = 0; i < value.len; i++)
		count += value.text[i] == ',';
	profile->no_reading = arena_take(&profile->memory, count * sizeof(*profile->no_reading));
	if (!copy.text || !profile->no_reading)
		return false;
	while (copy.len > 0) {
		const char *comma = memchr(copy.text, ',', copy.len);
		size_t len = comma ? (size_t)(comma - copy.text) : copy.len;
		struct slice word = slice_trim(slice_part(copy, 0, len));

		if (word.len > 0)
			profile->no_reading[profile->no_reading_count++] = word;
		copy = slice_part(copy, len + 1, copy.len);
	}
	return true;
}

static int hex_digit(char c)
{
	if (c >= '0' && c <= '9')
		return c - '0';
	if (c >= 'a' && c <= 'f')
		return c - 'a' + 10;
	if (c >= 'A' && c <= 'F')
		return c - 'A' + 10;
	return -1;
}

/* What the escape at text begins with stands for; *used bytes long. */
static bool escape_read(char *out, struct slice text, size_t *used)
{
	static const char codes[] = "rnt\\0";
	static const char bytes[] = "\r\n\t\\";
	const char *code;

	*used = 2;
	if (text.len < 2)
		return false;
	if (text.text[1] == 'x') {
		int high = text.len >= 4 ? hex_digit(text.text[2]) : -1;
		int low = text.len >= 4 ? hex_digit(text.text[3]) : -1;

		*used = 4;
		*out = (char)(high * 16 + low);
		return high >= 0 && low >= 0;
	}
	code = memchr(codes, text.text[1], sizeof(codes) - 1);
	if (code)
		*out = bytes[code - codes];
	return code != NULL;
}

static bool set_bytes(struct profile *profile, struct slice value)
{
	char *bytes = arena_take(&profile->memory, value.len + 1);
	size_t len = 0;

	if (!bytes)
		return false;
	for (size_t at = 0; at < value.len;) {
		size_t used = 1;

		bytes[len] = value.text[at];
		if (value.text[at] == '\\' && !escape_read(&bytes[len], slice_part(value, at, value.len), &used))
			return false;
		at += used;
		len++;
	}
	profile->ask = (struct slice){ bytes, len };
	return true;
}

static bool key_set(struct profile *profile, const struct key_def *def, struct slice value)
{
	void *field = (char *)profile + def->offset;

	switch (def->type) {
	case KEY_TEXT:
	case KEY_PATTERN:
		return set_text(&profile->memory, field, value);
	case KEY_NUMBER:
	case KEY_COUNT:
		return set_number(field, def, value);
	case KEY_CHOICE:
	case KEY_SWITCH:
		return set_choice(field, def, value);
	case KEY_UNIT:
		return set_unit(field, value);
	case KEY_WORDS:
		return set_words(profile, value);
	case KEY_BYTES:
		return set_bytes(profile, value);
	}
	return false;
}

static void complain_of_value(struct file_reader *reader, const struct key_def *def, const char *value)
{
	char words[80];

	if (def->words[0])
		COMPLAIN(reader, "%s is \"%s\"; expected %s; profile not used", def->name, value,
		         words_print(words, sizeof(words), def->words));
	else if (def->type == KEY_NUMBER || def->type == KEY_COUNT)
		COMPLAIN(reader, "%s is \"%s\"; expected a %s from %.12g to %.12g; profile not used", def->name, value,
		         def->type == KEY_COUNT ? "whole number" : "number", def->min, def->max);
	else if (def->type == KEY_BYTES)
		COMPLAIN(reader,
		         "%s is \"%s\"; expected characters, \\r, \\n, \\t, \\\\, \\0 or \\x with two hexadecimal "
		         "digits; profile not used",
		         def->name, value);
	else
		COMPLAIN(reader, "%s: no memory", def->name);
}

static void pattern_go_on(struct file_reader *reader, const char *value)
{
	struct profile *profile = reader->profile;
	char *joined = arena_print(&profile->memory, "%s%s", profile->pattern, value);

	if (joined && strlen(joined) <= LONGEST_VALUE)
		profile->pattern = joined;
	else
		COMPLAIN(reader, "the pattern is longer than %d bytes; profile not used", LONGEST_VALUE);
}

static bool same_name(const char *known, const char *given)
{
	for (; *known; known++, given++)
		if (*known != (*given == '_' ? '-' : *given))
			return false;
	return *given == '\0';
}

static const struct key_def *key_find(const char *section, const char *name)
{
	for (size_t i = 0; i < KEYS; i++)
		if (strcmp(key_defs[i].section, section) == 0 && same_name(key_defs[i].name, name))
			return &key_defs[i];
	return NULL;
}

/* The section that has a key of that name; NULL: none has. */
static const char *section_of(const char *name)
{
	for (size_t i = 0; i < KEYS; i++)
		if (same_name(key_defs[i].name, name))
			return key_defs[i].section;
	return NULL;
}

static void complain_of_key(struct file_reader *reader, const char *section, const char *name)
{
	const char *home = section_of(name);

	if (home)
		COMPLAIN(reader, "%s stands in [%s]; expected in [%s]; profile not used", name, section, home);
	else
		COMPLAIN(reader, "no key of a profile is called \"%s\" in [%s]; profile not used", name, section);
}

static int take_key(void *user, const char *section, const char *name, const char *value)
{
	struct file_reader *reader = user;
	const struct key_def *def = key_find(section, name);
	uint32_t *seen = def ? &reader->seen[def - key_defs] : NULL;

	reader->awaited = false;
	if (reader->indented && reader->named) {
		if (def && def->type == KEY_PATTERN)
			pattern_go_on(reader, value);
		else
			COMPLAIN(reader, "the line begins with a blank; only a pattern goes on in the next line; "
			                 "profile not used");
		return 1;
	}
	reader->named = true;
	if (!def) {
		complain_of_key(reader, section, name);
		return 1;
	}
	if (*seen)
		COMPLAIN(reader, "%s stands twice, first in line %u; expected once; profile not used", name, *seen);
	else if (!key_set(reader->profile, def, slice_from(value)))
		complain_of_value(reader, def, value);
	if (!*seen)
		*seen = reader->place.line;
	return 1;
}

/* Says of the line before, if it should have been a key, that it was none. */
static void settle_line(struct file_reader *reader)
{
	if (reader->awaited)
		COMPLAIN(reader, "the line is neither [section] nor \"key = value\"; profile not used");
	reader->awaited = false;
}

/* Looks at a line before it is parsed; false: it is faulty and told of. */
static bool check_line(struct file_reader *reader, struct slice line)
{
	struct slice text = slice_trim(line);

	reader->indented = line.len > text.len && text.len > 0 && text.text > line.text;
	if (reader->place.line == 1 && text.text > line.text && line.text[0] == '\xef')
		reader->indented = false; /* a byte order mark */
	if (text.len == 0)
		return true;
	if (line.len > LONGEST_LINE) {
		COMPLAIN(reader,
		         "the line has %zu bytes; expected up to %d, a pattern goes on in the next line, indented; "
		         "profile not used",
		         line.len, LONGEST_LINE);
		return false;
	}
	if (memchr(text.text, '\0', text.len)) {
		COMPLAIN(reader, "the line holds a NUL byte; profile not used");
		return false;
	}
	if (text.text[0] == '[' && !(reader->indented && reader->named)) {
		reader->named = false;
		reader->awaited = !memchr(text.text, ']', text.len);
	} else {
		reader->awaited = text.text[0] != ';' && text.text[0] != '#';
	}
	return true;
}

/* The next line of the file, as fgets() would give it. */
static char *next_line(char *out, int size, void *stream)
{
	struct file_reader *reader = stream;
	struct slice line;

	settle_line(reader);
	do {
		if (!line_walk_next(&reader->walk, &line, NULL))
			return NULL;
		reader->place.line = reader->walk.number;
	} while (!check_line(reader, line) || line.len + 2 > (size_t)size);
	memcpy(out, line.text, line.len);
	out[line.len] = '\n';
	out[line.len + 1] = '\0';
	return out;
}

void profile_file_read(struct profile *profile, struct slice ini, const char *file, struct faults *faults,
                       uint32_t *pattern_line)
{
	struct file_reader reader = {
		.profile = profile,
		.faults = faults,
		.place = { .file = file },
		.walk = { .rest = ini },
	};

	/* its result is the first faulty line, which settle_line() has told of, like the rest */
	(void)ini_parse_stream(next_line, &reader, take_key, &reader);
	*pattern_line = reader.seen[key_find("line", "pattern") - key_defs];
}
