/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "lines.h"
#include "settings_file.h"
#include "text.h"

/* bench.ini while it is read. */
struct reader {
	struct bench *bench; /* NULL: its own sections are not looked at */
	struct faults *faults;
	const char *file;
	uint32_t line;
	enum section { SECTION_OTHER, SECTION_METER, SECTION_CONTROL, SECTION_CUPS, SECTION_PASSED } section;
	uint32_t meter_line; /* where the section of the last meter began */
	size_t errors;
	bool no_memory;
};

struct bench *bench_new(const char *ledger)
{
	struct bench *bench = calloc(1, sizeof(*bench));

	if (!bench)
		return NULL;
	settings_init(&bench->settings);
	bench->folder = ".";
	bench->ledger = arena_print(&bench->memory, "%s", ledger);
	if (!bench->ledger) {
		bench_free(bench);
		return NULL;
	}
	return bench;
}

void bench_free(struct bench *bench)
{
	if (!bench)
		return;
	free(bench->meters);
	arena_release(&bench->memory);
	free(bench);
}

static const char *copied(struct bench *bench, const char *text)
{
	return text ? arena_print(&bench->memory, "%s", text) : NULL;
}

enum status bench_add_meter(struct bench *bench, const struct bench_meter *meter, struct error *error)
{
	struct bench_meter *meters;

	if (bench->meter_count == BENCH_METERS)
		return error_set(error, STATUS_INVALID, "more than %d meters", BENCH_METERS);
	meters = realloc(bench->meters, (bench->meter_count + 1) * sizeof(*meters));
	if (!meters)
		return error_set(error, STATUS_MEMORY, "no memory for a meter");
	bench->meters = meters;
	meters += bench->meter_count++;
	*meters = *meter;
	meters->name = copied(bench, meter->name);
	meters->port = copied(bench, meter->port);
	meters->profile = copied(bench, meter->profile);
	if ((meter->name && !meters->name) || (meter->port && !meters->port) || (meter->profile && !meters->profile))
		return error_set(error, STATUS_MEMORY, "no memory for a meter");
	return STATUS_OK;
}

static void complain(struct reader *reader, uint32_t line, const char *what, struct slice about, const char *rest)
{
	char printed[LINE_PRINT];

	reader->errors++;
	faults_add(reader->faults, SEVERITY_ERROR, (struct place){ reader->file, line, 0 }, "%s \"%s\"%s", what,
	           line_print(printed, sizeof(printed), about), rest);
}

static struct bench_meter *last_meter(const struct reader *reader)
{
	return reader->bench->meters + reader->bench->meter_count - 1;
}

/* The section of a meter ends: has it all that it needs? */
static void meter_end(struct reader *reader)
{
	const struct bench_meter *meter;

	if (!reader->bench || reader->section != SECTION_METER)
		return;
	meter = last_meter(reader);
	if (!meter->port)
		complain(reader, reader->meter_line, "meter", slice_from(meter->name),
		         " has no port; expected port = /dev/serial/by-id/… or another source");
	if (!meter->profile)
		complain(reader, reader->meter_line, "meter", slice_from(meter->name),
		         " has no profile; expected profile = the name of one, or a file");
}

static bool meter_known(const struct bench *bench, struct slice name)
{
	for (size_t i = 0; i < bench->meter_count; i++)
		if (slice_equal(slice_from(bench->meters[i].name), name))
			return true;
	return false;
}

static void meter_begin(struct reader *reader, struct slice name)
{
	struct bench_meter meter = { .name = NULL };
	enum status status;

	reader->meter_line = reader->line;
	if (name.len == 0 || meter_known(reader->bench, name))
		complain(reader, reader->line, "meter", name, "; expected a name that no other meter has");
	meter.name = arena_print(&reader->bench->memory, "%.*s", SLICE_ARG(name));
	status = meter.name ? bench_add_meter(reader->bench, &meter, NULL) : STATUS_MEMORY;
	if (status == STATUS_INVALID)
		complain(reader, reader->line, "meter", name, " is one too many; up to 64 fit");
	if (status == STATUS_MEMORY)
		reader->no_memory = true;
	if (status != STATUS_OK)
		reader->section = SECTION_PASSED;
}

/* "[meter left]" → what is behind "meter", blanks off. */
static bool is_meter_section(struct slice name, struct slice *meter)
{
	*meter = slice_trim(slice_part(name, 5, name.len));
	if (!slice_equal(slice_part(name, 0, 5), SLICE_OF("meter")))
		return false;
	return name.len == 5 || name.text[5] == ' ' || name.text[5] == '\t';
}

static void section_begin(struct reader *reader, struct slice line)
{
	const char *close = memchr(line.text, ']', line.len);
	struct slice name = slice_trim(slice_part(line, 1, close ? (size_t)(close - line.text) : line.len));
	struct slice meter;

	meter_end(reader);
	reader->section = SECTION_OTHER;
	if (is_meter_section(name, &meter))
		reader->section = SECTION_METER;
	else if (slice_equal(name, SLICE_OF("control")))
		reader->section = SECTION_CONTROL;
	else if (slice_equal(name, SLICE_OF("cups")))
		reader->section = SECTION_CUPS;
	if (reader->section == SECTION_METER && reader->bench)
		meter_begin(reader, meter);
}

/* The value without a comment behind it. */
static struct slice without_comment(struct slice value)
{
	for (size_t i = 1; i < value.len; i++)
		if (value.text[i] == ';' && (value.text[i - 1] == ' ' || value.text[i - 1] == '\t'))
			return slice_trim(slice_part(value, 0, i));
	return value;
}

static const char *value_copy(struct reader *reader, struct slice value)
{
	const char *copy = arena_print(&reader->bench->memory, "%.*s", SLICE_ARG(value));

	reader->no_memory = reader->no_memory || !copy;
	return copy;
}

/* A path as it is meant: from the bench folder on, where it does not begin with "/". */
static const char *path_in(struct reader *reader, struct slice value)
{
	const char *path;

	if (value.len > 0 && value.text[0] == '/')
		return value_copy(reader, value);
	path = arena_print(&reader->bench->memory, "%s/%.*s", reader->bench->folder, SLICE_ARG(value));
	reader->no_memory = reader->no_memory || !path;
	return path;
}

static bool is_stream_word(struct slice port)
{
	return slice_equal(port, SLICE_OF("-")) || slice_equal(slice_part(port, 0, 4), SLICE_OF("tcp:"));
}

/* A profile's file has a dot or a slash in its name; a built-in one has neither. */
static bool is_file_name(struct slice profile)
{
	return memchr(profile.text, '/', profile.len) || memchr(profile.text, '.', profile.len);
}

static void meter_set(struct reader *reader, struct slice name, struct slice value)
{
	struct bench_meter *meter = last_meter(reader);

	if (value.len == 0)
		complain(reader, reader->line, "nothing behind", name, "; expected a value");
	else if (slice_equal(name, SLICE_OF("port")))
		meter->port = is_stream_word(value) ? value_copy(reader, value) : path_in(reader, value);
	else if (slice_equal(name, SLICE_OF("profile")))
		meter->profile = is_file_name(value) ? path_in(reader, value) : value_copy(reader, value);
	else if (!slice_equal(name, SLICE_OF("waiting")))
		complain(reader, reader->line, "no setting of a meter is called", name,
		         "; expected port, profile or waiting");
	else if (slice_equal(value, SLICE_OF("drop")))
		meter->drop_waiting = true;
	else if (!slice_equal(value, SLICE_OF("keep")))
		complain(reader, reader->line, "waiting is", value, "; expected keep or drop");
}

static void cups_set(struct reader *reader, struct slice name, struct slice value)
{
	if (!slice_equal(name, SLICE_OF("split")))
		complain(reader, reader->line, "no setting of [cups] is called", name, "; expected split");
	else if (slice_equal(value, SLICE_OF("yes")))
		reader->bench->split = true;
	else if (!slice_equal(value, SLICE_OF("no")))
		complain(reader, reader->line, "split is", value, "; expected yes or no");
}

static void own_set(struct reader *reader, struct slice line)
{
	const char *sign = memchr(line.text, '=', line.len);
	size_t at = sign ? (size_t)(sign - line.text) : line.len;
	struct slice name = slice_trim(slice_part(line, 0, at));
	struct slice value = without_comment(slice_trim(slice_part(line, at + 1, line.len)));

	if (!sign) {
		complain(reader, reader->line, "no setting:", line, "; expected name = value");
		return;
	}
	switch (reader->section) {
	case SECTION_METER:
		meter_set(reader, name, value);
		break;
	case SECTION_CONTROL:
		if (slice_equal(name, SLICE_OF("group")))
			reader->bench->group = value_copy(reader, value);
		else
			complain(reader, reader->line, "no setting of [control] is called", name, "; expected group");
		break;
	case SECTION_CUPS:
		cups_set(reader, name, value);
		break;
	case SECTION_OTHER:
	case SECTION_PASSED:
		break;
	}
}

/*
 * Reads the sections that are the bench's own, and makes comments of their lines, so that the rest can be read as a
 * settings file with the same line numbers.
 */
static void own_read(struct reader *reader, struct text *text)
{
	struct line_walk walk = { .rest = { text->bytes, text->len } };
	struct slice line;

	while (line_walk_next(&walk, &line, NULL)) {
		struct slice trimmed = slice_trim(line);

		reader->line = walk.number;
		if (trimmed.len == 0 || trimmed.text[0] == '#' || trimmed.text[0] == ';')
			continue;
		if (trimmed.text[0] == '[')
			section_begin(reader, trimmed);
		else if (reader->section != SECTION_OTHER && reader->bench)
			own_set(reader, trimmed);
		if (reader->section != SECTION_OTHER)
			text->bytes[trimmed.text - text->bytes] = '#';
	}
	meter_end(reader);
}

/* Reads ini, which may be missing, into settings, and into bench where that is not NULL. */
static enum status ini_read(struct bench *bench, struct settings *settings, const char *ini, struct faults *faults,
                            struct error *error)
{
	struct reader reader = { .bench = bench, .faults = faults };
	struct text text = TEXT_INIT;
	enum status status = STATUS_OK;
	struct stat file;

	if (stat(ini, &file) != 0 && errno == ENOENT)
		return STATUS_OK;
	status = text_load(&text, ini, error);
	if (status == STATUS_OK)
		status = text_decode(&text, error);
	reader.file = arena_print(&faults->texts, "%s", ini);
	if (status == STATUS_OK && !reader.file)
		status = error_set(error, STATUS_MEMORY, "%s: no memory", ini);
	if (status == STATUS_OK) {
		own_read(&reader, &text);
		status = settings_file_read_text(settings, ini, &text, faults, error);
	}
	if (status == STATUS_OK && reader.no_memory)
		status = error_set(error, STATUS_MEMORY, "%s: no memory", ini);
	if (status == STATUS_OK && reader.errors > 0)
		status = error_set(error, STATUS_REFUSED, "%s: %zu setting%s not taken", ini, reader.errors,
		                   reader.errors == 1 ? " is" : "s are");
	text_release(&text);
	return status;
}

enum status bench_open(struct bench **out, const char *path, struct faults *faults, struct error *error)
{
	struct bench *bench;
	struct stat folder;
	enum status status;

	*out = NULL;
	if (stat(path, &folder) != 0)
		return error_set_errno(error, STATUS_IO, "bench folder %s", path);
	if (!S_ISDIR(folder.st_mode))
		return error_set(error, STATUS_IO, "%s is no folder; expected a bench folder", path);
	bench = bench_new("");
	if (!bench)
		return error_set(error, STATUS_MEMORY, "%s: no memory", path);
	bench->folder = arena_print(&bench->memory, "%s", path);
	bench->ini = arena_print(&bench->memory, "%s/bench.ini", path);
	bench->ledger = arena_print(&bench->memory, "%s/ledger.brewspread", path);
	bench->control = arena_print(&bench->memory, "%s/control", path);
	if (bench->folder && bench->ini && bench->ledger && bench->control)
		status = ini_read(bench, &bench->settings, bench->ini, faults, error);
	else
		status = error_set(error, STATUS_MEMORY, "%s: no memory", path);
	if (status == STATUS_OK)
		*out = bench;
	else
		bench_free(bench);
	return status;
}

enum status bench_settings_read(struct settings *settings, const char *path, struct faults *faults, struct error *error)
{
	struct arena memory = ARENA_INIT;
	const char *ini = arena_print(&memory, "%s/bench.ini", path);
	enum status status;

	status = ini ? ini_read(NULL, settings, ini, faults, error) :
	               error_set(error, STATUS_MEMORY, "%s: no memory", path);
	arena_release(&memory);
	return status;
}

bool bench_run_name_fits(struct slice name)
{
	if (name.len == 0 || name.len > 100 || name.text[0] == '.' || utf8_valid_part(name) < name.len)
		return false;
	for (size_t i = 0; i < name.len; i++)
		if (name.text[i] == '/' || (unsigned char)name.text[i] < ' ' || name.text[i] == 0x7f)
			return false;
	return slice_equal(slice_trim(name), name);
}

const char *bench_run_folder(const struct bench *bench, struct slice run, struct arena *memory)
{
	return arena_print(memory, "%s/runs/%.*s", bench->folder, SLICE_ARG(run));
}

const char *bench_run_manifest(const struct bench *bench, struct slice run, struct arena *memory)
{
	return arena_print(memory, "%s/runs/%.*s/manifest.csv", bench->folder, SLICE_ARG(run));
}

const char *bench_run_report(const struct bench *bench, struct slice run, struct arena *memory)
{
	return arena_print(memory, "%s/runs/%.*s/report.xlsx", bench->folder, SLICE_ARG(run));
}
