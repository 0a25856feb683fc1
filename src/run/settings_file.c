/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "settings_file.h"

#include <ini.h>
#include <string.h>

#include "cell.h"
#include "table.h"

enum { SETTINGS_SEEN = 256 }; /* settings whose line is remembered, to find them twice */

struct seen {
	const char *section; /* of the row; "types" */
	char name[SETTINGS_NAME];
	uint32_t line;
};

/* The library asks for line after line and hands out what it finds in one before it asks for the next. */
struct source {
	struct settings *settings;
	struct faults *faults;
	const char *file;
	const char *at, *end;
	uint32_t line;        /* handed out last */
	struct slice setting; /* what it holds, until the library has found it */
	size_t errors;
	struct seen seen[SETTINGS_SEEN];
	size_t seen_count;
};

static void complain(struct source *source, const char *what)
{
	faults_add(source->faults, SEVERITY_ERROR, (struct place){ source->file, source->line, 0 }, "%s", what);
	source->errors++;
}

/* Called when the next line is asked for: the library found no setting in the one before. */
static void setting_missed(struct source *source)
{
	char what[2 * EXCERPT_BYTES];

	if (source->setting.len == 0)
		return;
	snprintf(what, sizeof(what), "\"%s\" is no setting; expected name = value, [section] or # comment",
	         EXCERPT(source->setting));
	complain(source, what);
}

/* The section of the row at index, if no row before it has it; else NULL. */
static const char *section_first_in(size_t index)
{
	const struct option_def *defs;
	size_t count;

	defs = option_defs(&count);
	for (size_t i = 0; i < index; i++)
		if (strcmp(defs[i].section, defs[index].section) == 0)
			return NULL;
	return defs[index].section;
}

static bool section_known(struct slice name)
{
	const struct option_def *defs;
	size_t count;

	defs = option_defs(&count);
	for (size_t i = 0; i < count; i++)
		if (slice_equal(slice_from(defs[i].section), name))
			return true;
	return slice_equal(SLICE_OF("types"), name);
}

static void section_unknown(struct source *source, struct slice name)
{
	char what[4 * EXCERPT_BYTES];
	size_t used, count;

	option_defs(&count);
	used = (size_t)snprintf(what, sizeof(what), "no section is called \"%s\"; expected ", EXCERPT(name));
	for (size_t i = 0; i < count && used < sizeof(what) - SETTINGS_NAME; i++) {
		const char *section = section_first_in(i);

		if (section)
			used += (size_t)snprintf(what + used, sizeof(what) - used, "%s, ", section);
	}
	snprintf(what + used, sizeof(what) - used, "or types; nothing of it is taken");
	complain(source, what);
}

static void section_check(struct source *source, struct slice line)
{
	const char *close = memchr(line.text, ']', line.len);
	struct slice name = slice_trim(slice_part(line, 1, close ? (size_t)(close - line.text) : line.len));
	char what[2 * EXCERPT_BYTES];

	if (!close) {
		snprintf(what, sizeof(what), "section \"%s\" is not closed; expected ]", EXCERPT(line));
		complain(source, what);
	} else if (!section_known(name)) {
		section_unknown(source, name);
	}
}

static struct slice line_take(struct source *source)
{
	const char *next = line_skip(source->at, source->end);
	struct slice line = slice_trim((struct slice){ source->at, (size_t)(next - source->at) });

	source->at = next;
	source->line++;
	return line;
}

/* Is line for the library? What is wrong with one that is not is told. */
static bool line_fits(struct source *source, struct slice line, size_t size)
{
	if (line.len == 0 || line.text[0] == '#' || line.text[0] == ';')
		return false;
	if (line.len + 2 <= size && !memchr(line.text, '\0', line.len))
		return true;
	complain(source, "the line is too long, or not text; expected name = value");
	return false;
}

/*
 * The next line for the library, without its indent, which would make it the continuation of the one before. A line
 * that is not for it goes out empty.
 */
static char *line_give(char *out, int size, void *user)
{
	struct source *source = user;
	struct slice line;

	setting_missed(source);
	source->setting.len = 0;
	if (source->at == source->end)
		return NULL;
	line = line_take(source);
	if (!line_fits(source, line, (size_t)size))
		line.len = 0;
	else if (line.text[0] == '[')
		section_check(source, line);
	else
		source->setting = line;
	memcpy(out, line.text, line.len);
	out[line.len] = '\n';
	out[line.len + 1] = '\0';
	return out;
}

static bool seen_before(struct source *source, const char *section, struct slice name)
{
	char what[2 * EXCERPT_BYTES];
	struct seen *seen;

	for (size_t i = 0; i < source->seen_count; i++) {
		seen = &source->seen[i];
		if (seen->section != section || !slice_equal_nocase(slice_from(seen->name), name))
			continue;
		snprintf(what, sizeof(what),
		         "%s stands twice, first in line %u; expected it once; this one is not taken", EXCERPT(name),
		         (unsigned int)seen->line);
		complain(source, what);
		return true;
	}
	if (source->seen_count == SETTINGS_SEEN || name.len >= SETTINGS_NAME)
		return false;
	seen = &source->seen[source->seen_count++];
	*seen = (struct seen){ .section = section, .line = source->line };
	memcpy(seen->name, name.text, name.len);
	return false;
}

static void type_set(struct source *source, struct slice name, struct slice value)
{
	struct error error = ERROR_INIT;

	if (!seen_before(source, "types", name) &&
	    settings_set_type(source->settings, name, value, &error) != STATUS_OK)
		complain(source, error.text);
}

static void option_set(struct source *source, struct slice section, struct slice name, struct slice value)
{
	const struct option_def *def = option_find(name);
	struct error error = ERROR_INIT;
	char what[2 * EXCERPT_BYTES];

	if (section.len > 0 && !section_known(section))
		return; /* told at its heading */
	if (def && section.len > 0 && !slice_equal(slice_from(def->section), section)) {
		snprintf(what, sizeof(what), "%s stands in [%s]; expected in [%s]; not taken", def->name,
		         EXCERPT(section), def->section);
		complain(source, what);
	} else if (!def || !seen_before(source, def->section, slice_from(def->name))) {
		if (settings_set(source->settings, name, value, &error) != STATUS_OK)
			complain(source, error.text);
	}
}

static int setting_take(void *user, const char *section, const char *name, const char *value)
{
	struct source *source = user;

	source->setting.len = 0;
	if (strcmp(section, "types") == 0)
		type_set(source, slice_from(name), slice_from(value));
	else
		option_set(source, slice_from(section), slice_from(name), slice_from(value));
	return 1;
}

enum status settings_file_read_text(struct settings *settings, const char *name, struct text *text,
                                    struct faults *faults, struct error *error)
{
	struct source source = { .settings = settings, .faults = faults };
	enum status status = text_decode(text, error);

	if (status != STATUS_OK)
		return status;
	source.file = arena_copy(&faults->texts, slice_from(name)).text;
	if (!source.file)
		return error_set(error, STATUS_MEMORY, "%s: no memory", name);
	source.at = text->bytes;
	source.end = text->bytes + text->len;
	ini_parse_stream(line_give, &source, setting_take, &source); /* its own errors are told line by line above */
	if (source.errors > 0)
		return error_set(error, STATUS_REFUSED, "%s: %zu setting%s not taken", name, source.errors,
		                 source.errors == 1 ? " is" : "s are");
	return STATUS_OK;
}

enum status settings_file_read(struct settings *settings, const char *path, struct faults *faults, struct error *error)
{
	struct text text = TEXT_INIT;
	enum status status = text_load(&text, path, error);

	if (status == STATUS_OK)
		status = settings_file_read_text(settings, path, &text, faults, error);
	text_release(&text);
	return status;
}
