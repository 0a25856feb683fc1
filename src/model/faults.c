/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "faults.h"

#include <stdlib.h>
#include <string.h>

static bool faults_grow(struct faults *faults)
{
	size_t capacity = faults->capacity ? faults->capacity * 2 : 32;
	struct fault *items = realloc(faults->items, capacity * sizeof(*items));

	if (!items)
		return false;
	faults->items = items;
	faults->capacity = capacity;
	return true;
}

static const char *text_make(struct arena *arena, const char *format, va_list args)
{
	va_list again;
	char *text;
	int len;

	va_copy(again, args);
	len = vsnprintf(NULL, 0, format, again);
	va_end(again);
	text = len < 0 ? NULL : arena_take(arena, (size_t)len + 1);
	if (text)
		vsnprintf(text, (size_t)len + 1, format, args);
	return text;
}

void faults_add(struct faults *faults, enum severity severity, struct place place, const char *format, ...)
{
	const char *text = NULL;
	va_list args;

	faults->errors += severity == SEVERITY_ERROR;
	faults->warnings += severity == SEVERITY_WARNING;
	if (faults->count < FAULTS_KEPT && (faults->count < faults->capacity || faults_grow(faults))) {
		va_start(args, format);
		text = text_make(&faults->texts, format, args);
		va_end(args);
	}
	if (!text) {
		faults->beyond++;
		return;
	}
	faults->items[faults->count++] = (struct fault){ place, severity, text };
}

/* Which file of the list comes first, by first mention. */
static size_t file_rank(const struct faults *faults, const char *file)
{
	size_t i;

	for (i = 0; i < faults->count; i++)
		if (faults->items[i].place.file == file)
			break;
	return i;
}

struct ranked {
	struct fault fault;
	size_t file;
	size_t order;
};

static int ranked_compare(const void *left, const void *right)
{
	const struct ranked *a = left;
	const struct ranked *b = right;

	if (a->file != b->file)
		return a->file < b->file ? -1 : 1;
	if (a->fault.place.line != b->fault.place.line)
		return a->fault.place.line < b->fault.place.line ? -1 : 1;
	if (a->fault.place.column != b->fault.place.column)
		return a->fault.place.column < b->fault.place.column ? -1 : 1;
	return a->order < b->order ? -1 : a->order > b->order;
}

void faults_sort(struct faults *faults)
{
	struct ranked *ranked;

	if (faults->count < 2)
		return;
	ranked = malloc(faults->count * sizeof(*ranked));
	if (!ranked)
		return; /* the order found is an order too */
	for (size_t i = 0; i < faults->count; i++) {
		const char *file = faults->items[i].place.file;
		bool same = i > 0 && faults->items[i - 1].place.file == file;

		ranked[i] = (struct ranked){ faults->items[i], same ? ranked[i - 1].file : file_rank(faults, file), i };
	}
	qsort(ranked, faults->count, sizeof(*ranked), ranked_compare);
	for (size_t i = 0; i < faults->count; i++)
		faults->items[i] = ranked[i].fault;
	free(ranked);
}

bool faults_any(const struct faults *faults)
{
	return faults->warnings > 0 || faults->errors > 0;
}

const char *severity_name(enum severity severity)
{
	switch (severity) {
	case SEVERITY_NOTE:
		return "note";
	case SEVERITY_WARNING:
		return "warning";
	case SEVERITY_ERROR:
		return "error";
	}
	return "";
}

void faults_release(struct faults *faults)
{
	free(faults->items);
	arena_release(&faults->texts);
	*faults = (struct faults)FAULTS_INIT;
}
