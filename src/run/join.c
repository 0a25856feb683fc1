/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "join.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "label.h"
#include "lines.h"
#include "lookup.h"
#include "read_times.h"
#include "reading_check.h"
#include "text.h"

enum {
	LABELS_TOLD = 50, /* labels and brews that are told one by one */
	BREWS_TOLD = 50,
	NEAREST_LEN = 64, /* longer labels are not compared */
	FIRST_NAMES = 64,
};

/* A label as readings have it, resolved once. */
struct name {
	struct slice label;
	uint32_t brew; /* READING_NO_BREW */
	bool other_case;
	size_t first;    /* reading that has it first */
	size_t readings; /* that have it */
};

struct joiner {
	struct run *run;
	const struct settings *settings;
	struct faults *faults;
	struct lookup brews; /* by label_hash() of their keys */
	struct lookup known; /* names, by hash of their bytes */
	struct name *names;
	size_t name_count, name_capacity;
	struct read_times times;
	size_t apart; /* samples that no label joins with a brew */
	struct arena memory;
};

/* FNV-1a, 64 bits, by Fowler, Noll and Vo. */
static uint64_t bytes_hash(struct slice bytes)
{
	uint64_t hash = 0xcbf29ce484222325;

	for (size_t i = 0; i < bytes.len; i++)
		hash = (hash ^ (unsigned char)bytes.text[i]) * 0x100000001b3;
	return hash;
}

static const char *manifest_name(const struct run *run)
{
	return run->brew_count > 0 && run->brews[0].place.file ? run->brews[0].place.file : "the manifest";
}

static const char *plural(size_t count)
{
	return count == 1 ? "" : "s";
}

/* Where the label of a reading stands, or else its line. */
static struct place label_place(const struct reading *reading)
{
	struct place place = reading_place(reading);
	uintptr_t raw = (uintptr_t)reading->line->raw.text;
	uintptr_t label = (uintptr_t)reading->line->label.text;

	place.column = 0;
	if (label >= raw && label < raw + reading->line->raw.len)
		place.column = (uint32_t)utf8_count(slice_part(reading->line->raw, 0, label - raw)) + 1;
	return place;
}

static bool index_brews(struct joiner *joiner)
{
	const struct run *run = joiner->run;

	for (size_t i = 0; i < run->brew_count; i++)
		if (!lookup_put(&joiner->brews, label_hash(run->brews[i].key), (uint32_t)i))
			return false;
	return true;
}

/* The brew that name's label means: exactly, else but for letter case where one alone does. */
static bool resolve(struct joiner *joiner, struct name *name)
{
	const struct run *run = joiner->run;
	size_t from = 0, alike = 0;
	uint32_t brew;
	struct slice key;

	if (!label_key(&key, &joiner->memory, name->label))
		return false;
	while ((brew = lookup_next(&joiner->brews, label_hash(key), &from)) != LOOKUP_NONE) {
		if (slice_equal(run->brews[brew].key, key)) {
			name->brew = brew;
			name->other_case = false;
			return true;
		}
		if (label_same_nocase(run->brews[brew].key, key)) {
			name->brew = brew;
			name->other_case = true;
			alike++;
		}
	}
	if (alike != 1)
		name->brew = READING_NO_BREW;
	return true;
}

static struct name *name_add(struct joiner *joiner, struct slice label, uint64_t hash, size_t reading)
{
	struct name *name;

	if (joiner->name_count == joiner->name_capacity) {
		size_t capacity = joiner->name_capacity * 2;
		struct name *names = realloc(joiner->names, capacity * sizeof(*names));

		if (!names)
			return NULL;
		joiner->names = names;
		joiner->name_capacity = capacity;
	}
	name = &joiner->names[joiner->name_count];
	*name = (struct name){ .label = label, .brew = READING_NO_BREW, .first = reading };
	if (!lookup_put(&joiner->known, hash, (uint32_t)joiner->name_count) || !resolve(joiner, name))
		return NULL;
	joiner->name_count++;
	return name;
}

/* The name that label is; NULL when there is no memory. */
static struct name *name_of(struct joiner *joiner, struct slice label, size_t reading)
{
	uint64_t hash = bytes_hash(label);
	size_t from = 0;
	uint32_t found;

	while ((found = lookup_next(&joiner->known, hash, &from)) != LOOKUP_NONE)
		if (slice_equal(joiner->names[found].label, label))
			return &joiner->names[found];
	return name_add(joiner, label, hash, reading);
}

static void start_anew(struct reading *reading)
{
	reading->brew = READING_NO_BREW;
	reading->flags &= (uint8_t) ~(READING_UNJOINED | READING_OUT_OF_RANGE);
}

static bool join_by_label(struct joiner *joiner)
{
	struct run *run = joiner->run;
	const struct reading_line *line = NULL;
	struct name *last = NULL;

	joiner->names = calloc(FIRST_NAMES, sizeof(*joiner->names));
	if (!joiner->names)
		return false;
	joiner->name_capacity = FIRST_NAMES;
	for (size_t i = 0; i < run->reading_count; i++) {
		struct reading *reading = &run->readings[i];

		start_anew(reading);
		if (reading->role != READING_SAMPLE)
			continue;
		if (reading->line->label.len == 0) {
			joiner->apart++;
			continue;
		}
		if (reading->line != line && (!last || !slice_equal(last->label, reading->line->label)))
			last = name_of(joiner, reading->line->label, i);
		if (!last)
			return false;
		line = reading->line;
		last->readings++;
		joiner->apart += last->brew == READING_NO_BREW;
		reading->brew = last->brew;
	}
	return true;
}

/* Single changes between two short texts: Levenshtein, Soviet Physics Doklady 10 (1966) 707-710. */
static size_t distance(struct slice a, struct slice b)
{
	size_t row[NEAREST_LEN + 1];

	for (size_t j = 0; j <= b.len; j++)
		row[j] = j;
	for (size_t i = 0; i < a.len; i++) {
		size_t diagonal = row[0];

		row[0] = i + 1;
		for (size_t j = 0; j < b.len; j++) {
			size_t change = diagonal + (a.text[i] != b.text[j]);
			size_t shorter = row[j] < row[j + 1] ? row[j] : row[j + 1];

			diagonal = row[j + 1];
			row[j + 1] = change < shorter + 1 ? change : shorter + 1;
		}
	}
	return row[b.len];
}

/* The brew whose label has most in common with label; NULL: none has anything. */
static const struct brew *nearest_brew(const struct run *run, struct slice label)
{
	const struct brew *nearest = NULL;
	size_t least = SIZE_MAX;

	for (size_t i = 0; i < run->brew_count; i++) {
		struct slice key = run->brews[i].key;
		size_t longer = key.len > label.len ? key.len : label.len;
		size_t apart;

		if (longer > NEAREST_LEN)
			continue;
		apart = distance(label, key);
		if (apart < least && apart < longer) {
			least = apart;
			nearest = &run->brews[i];
		}
	}
	return nearest;
}

/* What could have been meant: the nearest label, or else the first few. */
static void expected_labels(char *out, size_t size, const struct run *run, struct slice label)
{
	enum { SHOWN = 5 };
	const struct brew *nearest = nearest_brew(run, label);
	size_t used = 0;

	if (nearest) {
		snprintf(out, size, "nearest is %.*s", SLICE_ARG(nearest->label));
		return;
	}
	for (size_t i = 0; i < run->brew_count && i < SHOWN; i++) {
		char shown[32];

		used += (size_t)snprintf(out + used, size - used, "%s%s", i == 0 ? "expected " : ", ",
		                         line_print(shown, sizeof(shown), run->brews[i].label));
	}
	if (run->brew_count > SHOWN)
		snprintf(out + used, size - used, ", ...");
}

static void tell_unknown(const struct joiner *joiner, const struct name *name)
{
	const struct run *run = joiner->run;
	struct slice label = slice_trim(name->label);
	char expected[240];

	for (size_t i = 0; i < run->lost_count; i++)
		if (slice_equal_nocase(run->lost_labels[i], label)) {
			faults_add(
				joiner->faults, SEVERITY_ERROR, label_place(&run->readings[name->first]),
				"brew \"%.*s\" has no usable row in %s, see its fault; %zu reading%s kept, not joined",
				SLICE_ARG(label), manifest_name(run), name->readings, plural(name->readings));
			return;
		}
	expected_labels(expected, sizeof(expected), run, label);
	faults_add(joiner->faults, SEVERITY_ERROR, label_place(&run->readings[name->first]),
	           "no brew \"%.*s\" in %s; %s; %zu reading%s kept, not joined", SLICE_ARG(name->label),
	           manifest_name(run), expected, name->readings, plural(name->readings));
}

static void tell_labels(const struct joiner *joiner)
{
	const struct run *run = joiner->run;
	size_t unknown = 0, readings = 0;

	for (size_t i = 0; i < joiner->name_count; i++) {
		const struct name *name = &joiner->names[i];

		if (name->brew == READING_NO_BREW && ++unknown <= LABELS_TOLD)
			tell_unknown(joiner, name);
		else if (name->brew == READING_NO_BREW)
			readings += name->readings;
		else if (name->other_case)
			faults_add(joiner->faults, SEVERITY_NOTE, label_place(&run->readings[name->first]),
			           "\"%.*s\" differs in letter case from brew %.*s; %zu reading%s joined with it",
			           SLICE_ARG(name->label), SLICE_ARG(run->brews[name->brew].label), name->readings,
			           plural(name->readings));
	}
	if (unknown > LABELS_TOLD)
		faults_add(joiner->faults, SEVERITY_ERROR, (struct place){ .file = manifest_name(run) },
		           "%zu more labels are of no brew; their %zu readings are kept, not joined",
		           unknown - LABELS_TOLD, readings);
}

/* Samples without a label, and what became of them. */
struct unlabelled {
	size_t left; /* not joined */
	size_t first_left;
	size_t several; /* of those: taken in the times of several brews */
};

static struct unlabelled join_by_time(struct joiner *joiner)
{
	struct unlabelled unlabelled = { 0 };
	struct run *run = joiner->run;

	for (size_t i = 0; i < run->reading_count; i++) {
		struct reading *reading = &run->readings[i];
		bool several = false;

		if (reading->role != READING_SAMPLE || reading->line->label.len > 0)
			continue;
		reading->brew = read_times_brew(&joiner->times, reading->line->taken_us, &several);
		if (reading->brew != READING_NO_BREW)
			continue;
		if (unlabelled.left++ == 0)
			unlabelled.first_left = i;
		unlabelled.several += several;
	}
	return unlabelled;
}

/* Is the order of the manifest the only order there is? */
static bool one_order(const struct run *run)
{
	for (size_t i = 0; i < run->brew_count; i++) {
		double order = run->brews[i].number[BREW_ORDER];
		double before = i > 0 ? run->brews[i - 1].number[BREW_ORDER] : -INFINITY;

		if (isnan(order) != isnan(run->brews[0].number[BREW_ORDER]) || order <= before)
			return false;
	}
	return true;
}

/* Joins all samples in order, where that is the one way to do it. */
static bool join_by_order(struct joiner *joiner)
{
	struct run *run = joiner->run;
	size_t wanted = (size_t)joiner->settings->readings_wanted;
	size_t samples = 0, next = 0, first = 0;

	for (size_t i = 0; i < run->reading_count; i++) {
		first = reading_of_a_cup(&run->readings[i]) && samples == 0 ? i : first;
		samples += reading_of_a_cup(&run->readings[i]);
	}
	if (joiner->name_count > 0 || joiner->times.count > 0 || run->brew_count == 0 ||
	    samples != wanted * run->brew_count || !one_order(run))
		return false;
	for (size_t i = 0; i < run->reading_count; i++)
		if (reading_of_a_cup(&run->readings[i]))
			run->readings[i].brew = (uint32_t)(next++ / wanted);
	faults_add(joiner->faults, SEVERITY_NOTE, reading_place(&run->readings[first]),
	           "no reading has a label; there are %zu for each of the %zu brews in %s, joined in that order",
	           wanted, run->brew_count, manifest_name(run));
	return true;
}

static void tell_unlabelled(const struct joiner *joiner, const struct unlabelled *unlabelled)
{
	const struct run *run = joiner->run;
	struct place place = reading_place(&run->readings[unlabelled->first_left]);

	place.column = 0;
	if (unlabelled->several > 0)
		faults_add(joiner->faults, SEVERITY_ERROR, place,
		           "%zu reading%s without a label in the times of several brews; expected times that do not "
		           "overlap; kept, not joined",
		           unlabelled->several, plural(unlabelled->several));
	if (joiner->times.dateless > 0)
		faults_add(
			joiner->faults, SEVERITY_ERROR, place,
			"readings without a label were taken on several days, and read_from and read_to of %zu brew%s are "
			"times of day; expected a date with them, such as 2026-03-01 10:30",
			joiner->times.dateless, plural(joiner->times.dateless));
	if (joiner->times.dateless_readings > 0)
		faults_add(
			joiner->faults, SEVERITY_ERROR, place,
			"the cups were read on several days, and %zu reading%s without a label tell%s a time of day alone; "
			"expected a date with it, such as 2026-03-01 10:30",
			joiner->times.dateless_readings, plural(joiner->times.dateless_readings),
			joiner->times.dateless_readings == 1 ? "s" : "");
	if (joiner->times.dateless > 0 || joiner->times.dateless_readings > 0)
		return;
	if (unlabelled->left > unlabelled->several)
		faults_add(joiner->faults, SEVERITY_ERROR, place,
		           "%zu reading%s without a label; expected labels, read_from and read_to of each brew, or no "
		           "labels at all and %zu readings in order for each of the %zu brews; kept, not joined",
		           unlabelled->left - unlabelled->several, plural(unlabelled->left - unlabelled->several),
		           (size_t)joiner->settings->readings_wanted, run->brew_count);
}

static void join_unlabelled(struct joiner *joiner)
{
	struct unlabelled unlabelled = join_by_time(joiner);

	if (unlabelled.left > 0 && !join_by_order(joiner))
		tell_unlabelled(joiner, &unlabelled);
}

/* Warns of each brew that no reading, or none that can be used, is of. */
static bool check_brews(struct joiner *joiner)
{
	const struct run *run = joiner->run;
	unsigned char *seen = calloc(run->brew_count + 1, 1);
	size_t empty = 0;

	if (!seen)
		return false;
	for (size_t i = 0; i < run->reading_count; i++)
		if (run->readings[i].brew != READING_NO_BREW)
			seen[run->readings[i].brew] |= reading_used(&run->readings[i]) ? 2 : 1;
	for (size_t i = 0; i < run->brew_count; i++)
		if (seen[i] < 2 && ++empty <= BREWS_TOLD)
			faults_add(joiner->faults, SEVERITY_WARNING, run->brews[i].place,
			           seen[i] ? "brew %.*s has no reading that can be used; it gets no yield" :
			                     "brew %.*s has no readings; it gets no yield",
			           SLICE_ARG(run->brews[i].label));
	if (empty > BREWS_TOLD)
		faults_add(joiner->faults, SEVERITY_WARNING, (struct place){ .file = manifest_name(run) },
		           "%zu more brews have no readings", empty - BREWS_TOLD);
	free(seen);
	return true;
}

static void flag_unjoined(struct run *run)
{
	for (size_t i = 0; i < run->reading_count; i++) {
		struct reading *reading = &run->readings[i];

		if (reading->role == READING_SAMPLE && reading->brew == READING_NO_BREW)
			reading->flags |= READING_UNJOINED;
	}
}

static void tell_no_brews(const struct joiner *joiner)
{
	const struct run *run = joiner->run;

	if (run->reading_count > 0)
		faults_add(joiner->faults, SEVERITY_ERROR, (struct place){ .file = run->readings[0].line->file },
		           "there are no brews to join %zu reading%s with; kept, not joined", run->reading_count,
		           plural(run->reading_count));
}

static bool join_all(struct joiner *joiner)
{
	if (!index_brews(joiner) || !read_times_collect(&joiner->times, joiner->run) || !join_by_label(joiner))
		return false;
	if (joiner->run->brew_count > 0) {
		tell_labels(joiner);
		if (joiner->apart > 0)
			join_unlabelled(joiner);
	} else {
		tell_no_brews(joiner);
	}
	if (joiner->apart > 0)
		flag_unjoined(joiner->run);
	return readings_check(joiner->run, joiner->settings, joiner->faults) && check_brews(joiner);
}

enum status join_readings(struct run *run, const struct settings *settings, struct faults *faults, struct error *error)
{
	struct joiner joiner = {
		.run = run,
		.settings = settings,
		.faults = faults,
		.brews = LOOKUP_INIT,
		.known = LOOKUP_INIT,
		.memory = ARENA_INIT,
	};
	bool done = join_all(&joiner);

	lookup_release(&joiner.brews);
	lookup_release(&joiner.known);
	arena_release(&joiner.memory);
	free(joiner.names);
	read_times_release(&joiner.times);
	return done ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory to join readings with brews");
}
