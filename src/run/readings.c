/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "readings.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lines.h"
#include "number.h"
#include "plain_line.h"
#include "reading_text.h"
#include "text.h"
#include "timestamp.h"

/* A reading that a meter counted, to know it again. */
struct counted {
	struct slice seq, label;
	double value;
};

struct reader {
	struct run *run;
	const struct profile *profile; /* NULL: text */
	struct profile_scratch *scratch;
	struct faults *faults;
	struct label_list labels;
	const char *name;
	uint32_t line;
	uint16_t meter;
	int64_t next_id;
	struct reading_line *shared; /* by the readings that are added */
	struct slice cup;            /* label of lines that have none */
	int64_t clock_us;            /* the last time that a line told */
	bool clock_alone;            /* … and no line a date yet */
	struct counted recent[REPEAT_WINDOW];
	size_t counted;
	size_t unread;
	size_t silent; /* lines that say there is no reading */
	size_t nuls;
	size_t first_reading;
	struct line_doubt doubt; /* over the lines that the profile did not match since it last did */
	bool no_memory;
	struct text_line text;
};

static int label_compare(const void *a, const void *b)
{
	return slice_compare(*(const struct slice *)a, *(const struct slice *)b);
}

/* The labels of the run's brews, as written and, where that is another text, as keys; in order. */
static bool labels_collect(struct label_list *labels, const struct run *run)
{
	struct slice *items;

	*labels = (struct label_list){ .items = NULL };
	if (run->brew_count == 0)
		return true;
	items = malloc(2 * run->brew_count * sizeof(*items));
	if (!items)
		return false;
	for (size_t i = 0; i < run->brew_count; i++) {
		const struct brew *brew = &run->brews[i];

		items[labels->count++] = brew->label;
		if (!slice_equal(brew->label, brew->key))
			items[labels->count++] = brew->key;
	}
	labels->plain = true;
	for (size_t i = 0; i < labels->count; i++) {
		labels->longest = items[i].len > labels->longest ? items[i].len : labels->longest;
		labels->plain = labels->plain && plain_label(items[i]);
	}
	qsort(items, labels->count, sizeof(*items), label_compare);
	labels->items = items;
	return true;
}

/* The number of the meter in the run, which gets it if it has it not. */
static bool meter_find(uint16_t *number, struct run *run, const struct profile *profile)
{
	struct meter meter = profile ? profile->meter : meter_standard();
	struct meter *meters;

	for (size_t i = 0; i < run->meter_count; i++)
		if (!profile || slice_equal(run->meters[i].name, meter.name)) {
			*number = (uint16_t)i;
			return true;
		}
	if (run->meter_count >= UINT16_MAX)
		return false;
	meters = arena_take(&run->memory, (run->meter_count + 1) * sizeof(*meters));
	meter.name = arena_copy(&run->memory, meter.name);
	if (!meters || !meter.name.text)
		return false;
	if (run->meter_count > 0)
		memcpy(meters, run->meters, run->meter_count * sizeof(*meters));
	meters[run->meter_count] = meter;
	run->meters = meters;
	*number = (uint16_t)run->meter_count++;
	return true;
}

/* Where in the file byte at of line stands. */
static struct place place_of(const struct reader *reader, struct slice line, size_t at)
{
	uint32_t column = (uint32_t)utf8_count(slice_part(line, 0, at)) + 1;

	return (struct place){ reader->name, reader->line, column };
}

static bool has_digit(struct slice line)
{
	for (size_t i = 0; i < line.len; i++)
		if (line.text[i] >= '0' && line.text[i] <= '9')
			return true;
	return false;
}

/* A line that gives nothing; the first of them are told one by one. */
static void tell_unread(struct reader *reader, struct slice line, size_t at, const char *reason)
{
	enum severity severity = has_digit(line) ? SEVERITY_ERROR : SEVERITY_NOTE;
	char shown[LINE_PRINT];

	if (++reader->unread <= READINGS_TOLD)
		faults_add(reader->faults, severity, place_of(reader, line, at), "%s; line not read: %s", reason,
		           line_print(shown, sizeof(shown), line));
}

/* The readings of this text so far tell no date: the one that a line tells now, at us, is theirs too. */
static void date_back(struct reader *reader, int64_t us)
{
	int64_t shift = (moment_day(us) - moment_day(reader->clock_us)) * MOMENT_DAY_US;

	if (reader->clock_us + shift - us > MOMENT_DAY_US / 2)
		shift -= MOMENT_DAY_US;
	for (size_t i = reader->first_reading; i < reader->run->reading_count; i++) {
		const struct reading *reading = &reader->run->readings[i];

		if (reading->nth == 0 && reading->line->taken_us != READING_NO_TIME)
			reading->line->taken_us += shift;
	}
}

/* A time of day, which lies in 1970, and not the date of a clock that was never set, which the line would tell. */
static bool time_alone(const struct reading_line *line)
{
	return moment_undated(line->taken_us) && !memmem(line->raw.text, line->raw.len, "1970", 4);
}

/* A time of day belongs to the date of the line before it, and the first ones to that of the first line with a date. */
static void date_line(struct reader *reader, struct reading_line *line)
{
	bool alone, first = reader->clock_us == READING_NO_TIME;

	if (line->taken_us == READING_NO_TIME)
		return;
	alone = time_alone(line);
	if (!first && reader->clock_alone && !alone)
		date_back(reader, line->taken_us);
	if (!first && alone)
		line->taken_us = moment_following(line->taken_us, reader->clock_us);
	reader->clock_us = line->taken_us;
	reader->clock_alone = alone && (first || reader->clock_alone);
}

/* What the next readings share. */
static void begin_line(struct reader *reader, struct reading_line *line)
{
	line->id = reader->next_id;
	line->file = reader->name;
	line->number = reader->line;
	date_line(reader, line);
	reader->shared = run_add_line(reader->run, line);
	if (!reader->shared)
		reader->no_memory = true;
}

static_assert(TEXT_LINE_VALUES - 1 <= UINT8_MAX, "a reading's place among those of its line fits reading.nth");

static void add_reading(struct reader *reader, struct reading *reading)
{
	if (reader->no_memory)
		return;
	reading->line = reader->shared;
	reading->nth = (uint8_t)(reader->next_id++ - reader->shared->id);
	reading->meter = reader->meter;
	reading->brew = READING_NO_BREW;
	if (!run_add_reading(reader->run, reading))
		reader->no_memory = true;
}

static void begin_text_line(struct reader *reader, struct slice raw, double temp_c)
{
	const struct text_line *text = &reader->text;
	struct reading_line line = {
		.taken_us = text->taken_us,
		.label = text->label.len > 0 || text->role != READING_SAMPLE ? text->label : reader->cup,
		.raw = raw,
		.temp_c = temp_c,
		.standard_percent = text->standard_percent,
	};

	begin_line(reader, &line);
}

static void add_text_value(struct reader *reader, const struct text_value *value, uint32_t column)
{
	enum unit unit = value->shown.unit != UNIT_NONE ? value->shown.unit : reader->run->meters[reader->meter].unit;
	struct reading reading = {
		.value = value->shown.value,
		.column = column,
		.decimals = (uint16_t)value->shown.decimals,
		.unit = (uint8_t)unit,
		.role = (uint8_t)reader->text.role,
		.flags = value->questioned ? READING_QUESTIONED : 0,
	};

	add_reading(reader, &reading);
}

static void add_text_line(struct reader *reader, struct slice line)
{
	const struct text_line *text = &reader->text;
	bool ascii = utf8_count(line) == line.len;
	uint32_t column = 1;
	size_t from = 0;

	for (size_t i = 0; i < text->count; i++) {
		const struct text_value *value = &text->values[i];

		if (i == 0 || !number_same(value->temp_c, text->values[i - 1].temp_c))
			begin_text_line(reader, line, value->temp_c);
		/* from value to value: from the beginning each time would be twenty times the line */
		column += ascii ? (uint32_t)(value->at - from) :
		                  (uint32_t)utf8_count(slice_part(line, from, value->at));
		from = value->at;
		add_text_value(reader, value, column);
	}
	if (text->questioned)
		faults_add(reader->faults, SEVERITY_WARNING, place_of(reader, line, text->at), "%s", text->reason);
}

static void read_as_text(struct reader *reader, struct slice line)
{
	const struct text_line *text = &reader->text;

	if (!plain_line_read(&reader->text, line, &reader->labels))
		text_line_read(&reader->text, line, &reader->labels);
	switch (text->kind) {
	case TEXT_LINE_EMPTY:
		break;
	case TEXT_LINE_CUP:
		reader->cup = text->label;
		break;
	case TEXT_LINE_READINGS:
		add_text_line(reader, line);
		break;
	case TEXT_LINE_UNREAD:
		tell_unread(reader, line, text->at, text->reason);
		break;
	}
}

/* A line that the profile did not match, where it cannot be one that the meter sent; false: it can. */
static bool read_as_remark(struct reader *reader, struct slice line)
{
	const struct text_line *text = &reader->text;

	if (utf8_valid_part(line) < line.len)
		return false;
	text_line_read(&reader->text, line, &reader->labels);
	switch (text->kind) {
	case TEXT_LINE_EMPTY:
		return true;
	case TEXT_LINE_CUP:
		reader->cup = text->label;
		return true;
	case TEXT_LINE_READINGS:
		if (text->firm)
			add_text_line(reader, line);
		return text->firm;
	case TEXT_LINE_UNREAD:
		break;
	}
	return false;
}

/* Did the meter send this reading before? Remembers it. */
static bool is_repeat(struct reader *reader, struct slice seq, struct slice label, double value)
{
	size_t held = reader->counted < REPEAT_WINDOW ? reader->counted : REPEAT_WINDOW;

	if (seq.len == 0)
		return false;
	for (size_t i = 0; i < held; i++) {
		const struct counted *recent = &reader->recent[i];

		if (recent->value == value && slice_equal(recent->seq, seq) && slice_equal(recent->label, label))
			return true;
	}
	reader->recent[reader->counted++ % REPEAT_WINDOW] = (struct counted){ seq, label, value };
	return false;
}

/* The slice itself, or a copy where it shows the scratch. */
static struct slice kept_slice(struct reader *reader, struct slice slice)
{
	if (slice.len == 0 || !reader->profile->strip_parity)
		return slice;
	slice = arena_copy(&reader->run->memory, slice);
	if (!slice.text)
		reader->no_memory = true;
	return slice;
}

static void add_meter_reading(struct reader *reader, struct slice line, const struct profile_reading *got, size_t at,
                              bool ended)
{
	struct slice label = kept_slice(reader, got->label);
	struct place place = place_of(reader, line, at);
	struct reading_line shared = {
		.taken_us = got->taken_us,
		.label = label.len > 0 ? label : reader->cup,
		.raw = line,
		.temp_c = got->temp_c,
		.standard_percent = NAN,
	};
	struct reading reading = {
		.value = got->shown.value,
		.column = place.column,
		.decimals = (uint16_t)got->shown.decimals,
		.unit = (uint8_t)got->shown.unit,
		.role = READING_SAMPLE,
	};

	if (reader->no_memory)
		return;
	if (is_repeat(reader, kept_slice(reader, got->seq), label, got->shown.value)) {
		reading.flags |= READING_REPEAT;
		faults_add(reader->faults, SEVERITY_NOTE, place,
		           "number %.*s of the meter's count stands here again with the same value; kept, not counted",
		           SLICE_ARG(got->seq));
	}
	if (!ended) {
		reading.flags |= READING_QUESTIONED;
		faults_add(reader->faults, SEVERITY_WARNING, place,
		           "the last line has no end and may be cut off; taken as it stands");
	}
	begin_line(reader, &shared);
	add_reading(reader, &reading);
	if (profile_reason(reader->scratch)[0])
		faults_add(reader->faults, SEVERITY_WARNING, place, "%s", profile_reason(reader->scratch));
}

static void read_by_profile(struct reader *reader, struct slice line, bool ended)
{
	struct profile_reading got;
	size_t nuls;
	struct slice text = line_without_nuls(line, &nuls);
	size_t start = text.len > 0 ? (size_t)(text.text - line.text) : 0;
	enum line_kind kind = profile_match(reader->profile, reader->scratch, text, &got);

	reader->nuls += nuls;
	switch (kind) {
	case LINE_READING:
		reader->doubt = (struct line_doubt){ 0 };
		add_meter_reading(reader, line, &got, start + got.value_at, ended);
		return;
	case LINE_NO_READING:
		reader->doubt = (struct line_doubt){ 0 };
		reader->silent++;
		return;
	case LINE_UNMATCHED:
	case LINE_ERROR:
		break;
	}
	if (read_as_remark(reader, text))
		return;
	line_doubt_add(&reader->doubt, line);
	tell_unread(reader, line, 0,
	            kind == LINE_ERROR ? profile_reason(reader->scratch) :
	            ended              ? "the line does not fit the profile's pattern" :
	                                 "the last line has no end and does not fit the profile's pattern");
}

static void read_line(struct reader *reader, struct slice line, bool ended)
{
	char reason[80];

	if (line.len == 0)
		return;
	if (line.len > LINES_CAP) {
		snprintf(reason, sizeof(reason), "the line has %zu bytes; expected up to %d", line.len, LINES_CAP);
		line_doubt_add(&reader->doubt, line);
		tell_unread(reader, line, 0, reason);
	} else if (reader->profile) {
		read_by_profile(reader, line, ended);
	} else {
		read_as_text(reader, line);
	}
}

/* What is told once for the whole file. */
static void tell_summary(const struct reader *reader)
{
	struct place file = { .file = reader->name };
	enum doubt_cause cause = line_doubt_cause(&reader->doubt);

	if (reader->unread > READINGS_TOLD)
		faults_add(reader->faults, SEVERITY_ERROR, file, "%zu more lines are not read either",
		           reader->unread - READINGS_TOLD);
	if (reader->silent > 0)
		faults_add(reader->faults, SEVERITY_NOTE, file, "%zu line%s that the meter had no reading",
		           reader->silent, reader->silent == 1 ? " says" : "s say");
	if (reader->nuls > 0)
		faults_add(reader->faults, SEVERITY_NOTE, file,
		           "%zu NUL byte%s in the lines, as a break on the wire leaves", reader->nuls,
		           reader->nuls == 1 ? "" : "s");
	if (reader->profile && cause != DOUBT_NONE)
		faults_add(reader->faults, SEVERITY_WARNING, file, "the last %zu lines do not fit the profile; %s",
		           reader->doubt.lines, doubt_cause_advice(cause));
	if (reader->run->reading_count == reader->first_reading)
		faults_add(reader->faults, SEVERITY_WARNING, file, "no readings in this file");
}

static void read_lines(struct reader *reader, struct slice bytes)
{
	struct line_walk walk = { .rest = bytes, .end = LINE_END_AUTO };
	struct slice line;
	bool ended;

	while (!reader->no_memory && line_walk_next(&walk, &line, &ended)) {
		reader->line = walk.number;
		read_line(reader, line, ended);
	}
	if (!reader->no_memory)
		tell_summary(reader);
}

static bool begins_as_utf16(const struct text *text)
{
	return text->bytes && text->len >= 2 &&
	       (memcmp(text->bytes, "\xff\xfe", 2) == 0 || memcmp(text->bytes, "\xfe\xff", 2) == 0);
}

/* Brings the text to UTF-8 where it is text, and says so where that is a guess. */
static enum status decode(struct text *text, const struct profile *profile, struct place file, struct faults *faults,
                          struct error *error)
{
	enum status status;

	if (profile && !begins_as_utf16(text))
		return STATUS_OK;
	status = text_decode(text, error);
	if (status == STATUS_OK && text->encoding == ENCODING_WINDOWS_1252)
		faults_add(faults, SEVERITY_WARNING, file,
		           "byte %zu is not UTF-8; expected UTF-8; the file is read as Windows-1252",
		           text->first_bad + 1);
	return status;
}

/* The bytes behind a byte order mark. */
static struct slice without_mark(struct slice bytes)
{
	if (bytes.text && bytes.len >= 3 && memcmp(bytes.text, "\xef\xbb\xbf", 3) == 0)
		return slice_part(bytes, 3, bytes.len);
	return bytes;
}

static enum status read_kept(struct reader *reader, struct slice bytes, struct error *error)
{
	struct run *run = reader->run;

	if (run->reading_count > 0)
		reader->next_id = reading_id(&run->readings[run->reading_count - 1]) + 1;
	reader->first_reading = run->reading_count;
	if (reader->profile)
		reader->scratch = profile_scratch_new(reader->profile);
	reader->no_memory = (reader->profile && !reader->scratch) || !labels_collect(&reader->labels, run) ||
	                    !meter_find(&reader->meter, run, reader->profile);
	if (!reader->no_memory)
		read_lines(reader, without_mark(bytes));
	free((void *)(uintptr_t)reader->labels.items);
	profile_scratch_free(reader->scratch);
	if (reader->no_memory)
		return error_set(error, STATUS_MEMORY, "%s: no memory for the readings", reader->name);
	return STATUS_OK;
}

/* Does the newest input have the very bytes of an earlier one? Its readings would count twice. */
static bool tell_again(struct run *run, const struct text *text, struct faults *faults)
{
	const struct input *newest = &run->inputs[run->input_count - 1];

	for (size_t i = 0; text->len > 0 && i + 1 < run->input_count; i++) {
		if (strcmp(run->inputs[i].digest, newest->digest) != 0)
			continue;
		faults_add(faults, SEVERITY_WARNING, (struct place){ .file = newest->name },
		           "the same text as %s; its readings are used once", run->inputs[i].name);
		run->input_count--;
		return true;
	}
	return false;
}

/* Takes text over, whatever happens. */
static enum status read_text(struct run *run, const char *name, struct text *text, const struct profile *profile,
                             struct faults *faults, struct error *error)
{
	struct reader *reader = calloc(1, sizeof(*reader));
	struct slice bytes;
	enum status status = STATUS_MEMORY;

	if (!reader || !run_add_input(run, name, text->bytes ? text->bytes : "", text->len)) {
		error_set(error, STATUS_MEMORY, "%s: no memory for the readings", name);
		goto done;
	}
	*reader = (struct reader){
		.run = run, .profile = profile, .faults = faults, .next_id = 1, .clock_us = READING_NO_TIME
	};
	reader->name = run->inputs[run->input_count - 1].name;
	if (tell_again(run, text, faults)) {
		status = STATUS_OK;
		goto done;
	}
	status = decode(text, profile, (struct place){ .file = reader->name }, faults, error);
	if (status != STATUS_OK)
		goto done;
	bytes = (struct slice){ text->bytes, text->len };
	text->bytes = NULL; /* handed over */
	if (bytes.text && !run_keep(run, (char *)(uintptr_t)bytes.text))
		status = error_set(error, STATUS_MEMORY, "%s: no memory for the readings", name);
	else
		status = read_kept(reader, bytes, error);
done:
	text_release(text);
	free(reader);
	return status;
}

enum status readings_read(struct run *run, const char *path, const struct profile *profile,
                          const struct settings *settings, struct faults *faults, struct error *error)
{
	struct text text = TEXT_INIT;
	enum status status = text_load(&text, path, error);

	(void)settings; /* nothing in them bears on reading so far; join.h uses them */
	if (status != STATUS_OK)
		return status;
	return read_text(run, path, &text, profile, faults, error);
}

enum status readings_parse(struct run *run, const char *name, struct slice bytes, const struct profile *profile,
                           const struct settings *settings, struct faults *faults, struct error *error)
{
	struct text text = TEXT_INIT;

	(void)settings;
	text.bytes = malloc(bytes.len + 1);
	if (!text.bytes)
		return error_set(error, STATUS_MEMORY, "%s: no memory for the readings", name);
	if (bytes.len > 0)
		memcpy(text.bytes, bytes.text, bytes.len);
	text.bytes[bytes.len] = '\0';
	text.len = bytes.len;
	return read_text(run, name, &text, profile, faults, error);
}
