/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "blank_manifest.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "part_file.h"
#include "phrase.h"
#include "text.h"

/* Between sample_type and notes: to be filled in. */
static const char *const blanks[] = {
	"dose_g", "water_g", "beverage_g", "water_temp_c", "brew_time_s",
	"grind",  "scale",   "server",     "operator",     "brewed_at",
};

enum { BLANKS = sizeof(blanks) / sizeof(blanks[0]) };

/* A cell of a line, in quotes where something in it would end it; the comma before it is the caller's. */
static void add_cell(struct phrase *csv, struct slice text)
{
	bool quoted = false;

	for (size_t i = 0; i < text.len; i++)
		quoted = quoted || strchr("\",;|\t", text.text[i]);
	if (!quoted) {
		phrase_add(csv, text);
		return;
	}
	phrase_words(csv, "\"");
	for (size_t i = 0; i < text.len; i++) {
		if (text.text[i] == '"')
			phrase_words(csv, "\"");
		phrase_add(csv, slice_part(text, i, i + 1));
	}
	phrase_words(csv, "\"");
}

/* The next of the names separated by commas; false: no more. */
static bool next_name(struct slice *name, struct slice *rest)
{
	const char *comma;
	size_t len;

	if (!rest->text || rest->len == 0)
		return false;
	comma = memchr(rest->text, ',', rest->len);
	len = comma ? (size_t)(comma - rest->text) : rest->len;
	*name = slice_trim(slice_part(*rest, 0, len));
	*rest = slice_part(*rest, comma ? len + 1 : len, rest->len);
	return true;
}

static bool is_head(struct slice name)
{
	static const char *const others[] = { "brew", "treatment", "block", "order", "sample_type", "method", "notes" };

	for (size_t i = 0; i < BLANKS; i++)
		if (slice_equal_nocase(name, slice_from(blanks[i])))
			return true;
	for (size_t i = 0; i < sizeof(others) / sizeof(others[0]); i++)
		if (slice_equal_nocase(name, slice_from(others[i])))
			return true;
	return false;
}

enum status blank_manifest_check(const char *more, struct error *error)
{
	struct slice rest = slice_from(more), name, later, other;

	while (next_name(&name, &rest)) {
		if (is_head(name))
			return error_set(error, STATUS_INVALID, "the manifest has a column \"%.*s\" anyway",
			                 SLICE_ARG(name));
		later = rest;
		while (next_name(&other, &later))
			if (name.len > 0 && slice_equal_nocase(name, other))
				return error_set(error, STATUS_INVALID, "the column \"%.*s\" is named twice",
				                 SLICE_ARG(name));
	}
	return STATUS_OK;
}

static size_t add_more_heads(struct phrase *csv, const char *more)
{
	struct slice rest = slice_from(more), name;
	size_t count = 0;

	while (next_name(&name, &rest)) {
		if (name.len == 0)
			continue;
		phrase_words(csv, ",");
		add_cell(csv, name);
		count++;
	}
	return count;
}

/* Semicolons, not commas: a spreadsheet program that saves the file keeps such a line in one cell. */
static void add_target(struct phrase *csv, const char *before, const char *target, const char *unit)
{
	if (!target)
		return;
	phrase_words(csv, "; ");
	phrase_words(csv, before);
	for (size_t i = 0; target[i]; i++)
		phrase_words(csv, target[i] == ',' ? "." : (char[]){ target[i], '\0' });
	phrase_words(csv, unit);
}

static void add_comments(struct phrase *csv, const struct run_plan *plan, const struct plan_targets *targets)
{
	phrase_print(csv, "# Planned from seed %llu: %zu treatments; %zu of each; %zu at once\n",
	             (unsigned long long)plan->seed, plan->treatment_count, plan->brews_each, plan->at_once);
	phrase_print(csv, "# Meant for every brew: %zu readings", targets->readings);
	add_target(csv, "dose ", targets->dose_g, " g");
	add_target(csv, "water ", targets->water_g, " g");
	add_target(csv, "water at ", targets->temp_c, " °C");
	add_target(csv, "grind ", targets->grind, "");
	add_target(csv, "time ", targets->time, "");
	phrase_words(csv,
	             "\n# Fill in what was weighed and done rather than what was meant; keep the order of brewing\n");
}

static size_t add_heads(struct phrase *csv, const struct manifest_request *request)
{
	size_t more;

	phrase_words(csv, "brew,treatment,block,order,sample_type");
	if (request->targets->method)
		phrase_words(csv, ",method");
	for (size_t i = 0; i < BLANKS; i++) {
		phrase_words(csv, ",");
		phrase_words(csv, blanks[i]);
	}
	more = add_more_heads(csv, request->more);
	phrase_words(csv, ",notes\n");
	return more;
}

static void add_brew(struct phrase *csv, const struct run_plan *plan, size_t i, const struct plan_targets *targets,
                     size_t empty)
{
	const struct planned_brew *brew = &plan->brews[i];

	phrase_words(csv, brew->label);
	phrase_words(csv, ",");
	add_cell(csv, plan->treatments[brew->treatment]);
	phrase_print(csv, ",%zu,%zu,", brew->round + 1, i + 1);
	add_cell(csv, slice_from(targets->sample_type));
	if (targets->method) {
		phrase_words(csv, ",");
		phrase_words(csv, targets->method);
	}
	for (size_t c = 0; c < empty; c++)
		phrase_words(csv, ",");
	phrase_print(csv, ",code %s\n", brew->code);
}

/* Some spreadsheet programs take a file for one of an old code page unless it begins with this mark. */
static void add_mark(struct phrase *out, const struct phrase *csv)
{
	for (size_t i = 0; i < csv->len; i++)
		if ((unsigned char)csv->text[i] >= 0x80) {
			phrase_words(out, "\xef\xbb\xbf");
			return;
		}
}

char *blank_manifest_text(const struct run_plan *plan, const struct manifest_request *request)
{
	struct phrase csv = PHRASE_INIT, whole = PHRASE_INIT;
	char *text = NULL;
	size_t more;

	add_comments(&csv, plan, request->targets);
	more = add_heads(&csv, request);
	for (size_t i = 0; i < plan->brew_count; i++)
		add_brew(&csv, plan, i, request->targets, BLANKS + more);
	add_mark(&whole, &csv);
	phrase_add(&whole, phrase_slice(&csv));
	if (!csv.failed && !whole.failed)
		text = slice_string(phrase_slice(&whole));
	phrase_release(&csv);
	phrase_release(&whole);
	return text;
}

enum status blank_manifest_room(const char *path, const char *text, bool *same, struct error *error)
{
	struct text there = TEXT_INIT;
	struct stat stat_of;
	enum status status;

	*same = false;
	if (lstat(path, &stat_of) != 0 && errno == ENOENT)
		return STATUS_OK;
	status = text_load(&there, path, error);
	if (status != STATUS_OK)
		return status;
	*same = there.len == strlen(text) && memcmp(there.bytes, text, there.len) == 0;
	text_release(&there);
	if (*same)
		return STATUS_OK;
	return error_set(error, STATUS_REFUSED,
	                 "%s: there is a manifest already, and it is not this plan, or was filled in; expected no such "
	                 "file; nothing was written",
	                 path);
}

enum status blank_manifest_write(const char *path, const char *text, struct error *error)
{
	return part_file_write(path, slice_from(text), false, error);
}
