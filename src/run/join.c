/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "join.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "correction.h"
#include "label.h"
#include "lines.h"
#include "lookup.h"
#include "number.h"
#include "text.h"

enum {
	LABELS_TOLD = 50, /* labels, brews, and readings with one fault that are told one by one */
	BREWS_TOLD = 50,
	READINGS_TOLD_OF = 20,
	NEAREST_LEN = 64, /* longer labels are not compared */
};

/* What a sample may show, in % TDS as the meter displays it, before anybody asks. */
#define FILTER_LOW    0.3
#define FILTER_HIGH   5.0
#define ESPRESSO_LOW  3.0
#define ESPRESSO_HIGH 25.0
#define ZERO_APART    0.5  /* of distilled water */
#define HOT_C         45.0 /* no sample is this hot on a prism; rooms in °F are */
#define SUCROSE_HIGH  100.0

/* A label as readings have it, resolved once. */
struct name {
	struct slice label;
	uint32_t brew; /* READING_NO_BREW */
	bool other_case;
	size_t first;    /* reading that has it first */
	size_t readings; /* that have it */
};

struct window { /* in which the readings of a brew were taken */
	int64_t from, to;
	int64_t last; /* the latest to of this and all before it */
	uint32_t brew;
};

struct limits { /* outside of which a sample is questioned */
	double low, high;
};

enum doubt { DOUBT_RANGE, DOUBT_TEMP_RANGE, DOUBT_SAMPLE, DOUBT_ZERO, DOUBT_HOT, DOUBTS };

struct joiner {
	struct run *run;
	const struct settings *settings;
	struct faults *faults;
	struct lookup brews; /* by label_hash() of their keys */
	struct lookup known; /* names, by hash of their bytes */
	struct name *names;
	size_t name_count, name_capacity;
	struct window *windows; /* by from */
	size_t window_count;
	struct limits *limits; /* one a brew */
	size_t told[DOUBTS];
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
	struct place place = reading->place;
	uintptr_t raw = (uintptr_t)reading->raw.text;
	uintptr_t label = (uintptr_t)reading->label.text;

	place.column = 0;
	if (label >= raw && label < raw + reading->raw.len)
		place.column = (uint32_t)utf8_count(slice_part(reading->raw, 0, label - raw)) + 1;
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

static int window_compare(const void *left, const void *right)
{
	const struct window *a = left;
	const struct window *b = right;

	if (a->from != b->from)
		return a->from < b->from ? -1 : 1;
	return a->brew < b->brew ? -1 : a->brew > b->brew;
}

static bool collect_windows(struct joiner *joiner)
{
	const struct run *run = joiner->run;
	int64_t last = INT64_MIN;

	joiner->windows = malloc((run->brew_count + 1) * sizeof(*joiner->windows));
	if (!joiner->windows)
		return false;
	for (size_t i = 0; i < run->brew_count; i++) {
		const struct brew *brew = &run->brews[i];

		if (brew->read_from_us != READING_NO_TIME && brew->read_to_us != READING_NO_TIME)
			joiner->windows[joiner->window_count++] = (struct window){ brew->read_from_us, brew->read_to_us,
				                                                   0, (uint32_t)i };
	}
	qsort(joiner->windows, joiner->window_count, sizeof(*joiner->windows), window_compare);
	for (size_t i = 0; i < joiner->window_count; i++) {
		last = joiner->windows[i].to > last ? joiner->windows[i].to : last;
		joiner->windows[i].last = last;
	}
	return true;
}

static bool is_espresso(struct slice type)
{
	static const struct slice espresso = { "espresso", 8 };

	for (size_t i = 0; i + espresso.len <= type.len; i++)
		if (slice_equal_nocase(slice_part(type, i, i + espresso.len), espresso))
			return true;
	return false;
}

/* What the meter may show of a brew's sample, diluted as it was. */
static struct limits limits_of(const struct brew *brew, const struct settings *settings)
{
	const struct sample_type *type = settings_type(settings, brew->word[BREW_TYPE]);
	struct slice name = type ? slice_from(type->name) : brew->word[BREW_TYPE];
	double sample = brew->number[BREW_SAMPLE_G];
	double diluent = brew->number[BREW_DILUENT_G];
	double share = sample > 0 && diluent >= 0 ? sample / (sample + diluent) : 1.0;

	if (slice_equal_nocase(name, SLICE_OF("water")) || slice_equal_nocase(name, SLICE_OF("sucrose")))
		return (struct limits){ -INFINITY, INFINITY };
	if (is_espresso(name))
		return (struct limits){ ESPRESSO_LOW * share, ESPRESSO_HIGH * share };
	return (struct limits){ FILTER_LOW * share, FILTER_HIGH * share };
}

static bool collect_limits(struct joiner *joiner)
{
	const struct run *run = joiner->run;

	joiner->limits = calloc(run->brew_count + 1, sizeof(*joiner->limits));
	if (!joiner->limits)
		return false;
	for (size_t i = 0; i < run->brew_count; i++)
		joiner->limits[i] = limits_of(&run->brews[i], joiner->settings);
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
		size_t capacity = joiner->name_capacity ? joiner->name_capacity * 2 : 64;
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

static bool join_by_label(struct joiner *joiner)
{
	struct run *run = joiner->run;
	struct name *last = NULL;

	for (size_t i = 0; i < run->reading_count; i++) {
		struct reading *reading = &run->readings[i];

		if (reading->role != READING_SAMPLE || reading->label.len == 0)
			continue;
		if (!last || !slice_equal(last->label, reading->label))
			last = name_of(joiner, reading->label, i);
		if (!last)
			return false;
		last->readings++;
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
	char expected[240];

	expected_labels(expected, sizeof(expected), run, slice_trim(name->label));
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

/* The brew in whose times moment lies; *several: in those of more than one. */
static uint32_t brew_at(const struct joiner *joiner, int64_t moment, bool *several)
{
	size_t from = 0;
	size_t to = joiner->window_count;
	uint32_t brew = READING_NO_BREW;

	while (from < to) {
		size_t middle = from + (to - from) / 2;

		if (joiner->windows[middle].from <= moment)
			from = middle + 1;
		else
			to = middle;
	}
	*several = false;
	for (; from > 0 && joiner->windows[from - 1].last >= moment; from--) {
		if (joiner->windows[from - 1].to < moment)
			continue;
		*several = brew != READING_NO_BREW;
		if (*several)
			return READING_NO_BREW;
		brew = joiner->windows[from - 1].brew;
	}
	return brew;
}

/* Samples without a label, and what became of them. */
struct unlabelled {
	size_t left; /* not joined */
	size_t first_left;
	size_t several; /* of those: taken in the times of several brews */
};

static bool is_sample_of_a_cup(const struct reading *reading)
{
	return reading->role == READING_SAMPLE &&
	       (reading->flags & (READING_REPEAT | READING_STALE | READING_EXCLUDED)) == 0;
}

static struct unlabelled join_by_time(struct joiner *joiner)
{
	struct unlabelled unlabelled = { 0 };
	struct run *run = joiner->run;

	for (size_t i = 0; i < run->reading_count; i++) {
		struct reading *reading = &run->readings[i];
		bool several = false;

		if (reading->role != READING_SAMPLE || reading->label.len > 0)
			continue;
		if (reading->taken_us != READING_NO_TIME)
			reading->brew = brew_at(joiner, reading->taken_us, &several);
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
		first = is_sample_of_a_cup(&run->readings[i]) && samples == 0 ? i : first;
		samples += is_sample_of_a_cup(&run->readings[i]);
	}
	if (joiner->name_count > 0 || joiner->window_count > 0 || run->brew_count == 0 ||
	    samples != wanted * run->brew_count || !one_order(run))
		return false;
	for (size_t i = 0; i < run->reading_count; i++)
		if (is_sample_of_a_cup(&run->readings[i]))
			run->readings[i].brew = (uint32_t)(next++ / wanted);
	faults_add(joiner->faults, SEVERITY_NOTE, run->readings[first].place,
	           "no reading has a label; there are %zu for each of the %zu brews in %s, joined in that order",
	           wanted, run->brew_count, manifest_name(run));
	return true;
}

static void tell_unlabelled(const struct joiner *joiner, const struct unlabelled *unlabelled)
{
	const struct run *run = joiner->run;
	struct place place = run->readings[unlabelled->first_left].place;

	place.column = 0;
	if (unlabelled->several > 0)
		faults_add(joiner->faults, SEVERITY_ERROR, place,
		           "%zu reading%s without a label in the times of several brews; expected times that do not "
		           "overlap; kept, not joined",
		           unlabelled->several, plural(unlabelled->several));
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

/* One more with this doubt: is it to be told by itself? */
static bool to_be_told(struct joiner *joiner, enum doubt doubt)
{
	return ++joiner->told[doubt] <= READINGS_TOLD_OF;
}

static void value_text(char *out, size_t size, const struct shown *shown)
{
	char number[NUMBER_TEXT];

	number_print(number, sizeof(number), shown->value, shown->decimals);
	snprintf(out, size, "%s %s", number, unit_symbol(shown->unit));
}

static const struct meter *meter_of(const struct run *run, const struct reading *reading)
{
	return reading->meter < run->meter_count ? &run->meters[reading->meter] : NULL;
}

static double meter_factor(const struct run *run, const struct reading *reading)
{
	const struct meter *meter = meter_of(run, reading);

	return meter && meter->scale_factor > 0 ? meter->scale_factor : COFFEE_TDS_PER_BRIX;
}

/* The values that are physically possible, in the reading's own unit. */
static struct limits range_of(const struct run *run, const struct reading *reading)
{
	double factor = meter_factor(run, reading);

	switch (reading->shown.unit) {
	case UNIT_TDS_PERCENT:
		return (struct limits){ TDS_PERCENT_LOW, TDS_PERCENT_HIGH };
	case UNIT_BRIX:
		return (struct limits){ TDS_PERCENT_LOW / factor,
			                reading->role == READING_STANDARD ? SUCROSE_HIGH : TDS_PERCENT_HIGH / factor };
	case UNIT_INDEX:
		return (struct limits){ INDEX_LOW, INDEX_HIGH };
	case UNIT_NONE:
		break;
	}
	return (struct limits){ -INFINITY, INFINITY };
}

static void check_range(struct joiner *joiner, struct reading *reading)
{
	struct limits range = range_of(joiner->run, reading);
	char text[NUMBER_TEXT + 16];

	if (!(reading->shown.value >= range.low && reading->shown.value <= range.high)) {
		reading->flags |= READING_OUT_OF_RANGE;
		value_text(text, sizeof(text), &reading->shown);
		if (to_be_told(joiner, DOUBT_RANGE))
			faults_add(joiner->faults, SEVERITY_ERROR, reading->place,
			           "%s is no possible reading; expected %.4g to %.4g; kept, not used", text, range.low,
			           range.high);
	}
	if (reading->temp_c < TEMP_C_LOW || reading->temp_c > TEMP_C_HIGH) {
		reading->flags |= READING_OUT_OF_RANGE;
		if (to_be_told(joiner, DOUBT_TEMP_RANGE))
			faults_add(joiner->faults, SEVERITY_ERROR, reading->place,
			           "%.4g °C is no possible temperature of a sample; expected %.4g to %.4g; "
			           "reading kept, not used",
			           reading->temp_c, TEMP_C_LOW, TEMP_C_HIGH);
	}
}

static void question_sample(struct joiner *joiner, struct reading *reading, double tds_percent)
{
	const struct limits *limits = &joiner->limits[reading->brew];
	char text[NUMBER_TEXT + 16];

	if (tds_percent >= limits->low && tds_percent <= limits->high)
		return;
	reading->flags |= READING_QUESTIONED;
	value_text(text, sizeof(text), &reading->shown);
	if (to_be_told(joiner, DOUBT_SAMPLE))
		faults_add(joiner->faults, SEVERITY_WARNING, reading->place,
		           "%s is unusual for this sample; expected %.3g to %.3g %% TDS; used all the same", text,
		           limits->low, limits->high);
}

static void question_zero(struct joiner *joiner, struct reading *reading, double tds_percent)
{
	char text[NUMBER_TEXT + 16];

	if (fabs(tds_percent) <= ZERO_APART)
		return;
	reading->flags |= READING_QUESTIONED;
	value_text(text, sizeof(text), &reading->shown);
	if (to_be_told(joiner, DOUBT_ZERO))
		faults_add(joiner->faults, SEVERITY_WARNING, reading->place,
		           "%s is far from zero for distilled water; expected up to %.3g %% TDS; used all the same",
		           text, ZERO_APART);
}

static void question_reading(struct joiner *joiner, struct reading *reading)
{
	double tds_percent = reading->shown.value;

	if (reading->temp_c >= HOT_C) {
		reading->flags |= READING_QUESTIONED;
		if (to_be_told(joiner, DOUBT_HOT))
			faults_add(joiner->faults, SEVERITY_WARNING, reading->place,
			           "%.4g °C is hot for a sample and may be °F; taken as °C", reading->temp_c);
	}
	if (reading->shown.unit == UNIT_BRIX)
		tds_percent *= meter_factor(joiner->run, reading);
	else if (reading->shown.unit != UNIT_TDS_PERCENT)
		return;
	if (reading->role == READING_ZERO)
		question_zero(joiner, reading, tds_percent);
	else if (reading->role == READING_SAMPLE && reading->brew < joiner->run->brew_count)
		question_sample(joiner, reading, tds_percent);
}

static void check_readings(struct joiner *joiner)
{
	static const char *const more[DOUBTS] = {
		[DOUBT_RANGE] = "no possible readings",         [DOUBT_TEMP_RANGE] = "no possible temperatures",
		[DOUBT_SAMPLE] = "unusual for their samples",   [DOUBT_ZERO] = "far from zero for distilled water",
		[DOUBT_HOT] = "hot for samples, perhaps in °F",
	};
	struct run *run = joiner->run;

	for (size_t i = 0; i < run->reading_count; i++) {
		struct reading *reading = &run->readings[i];

		if (reading->role == READING_SAMPLE && reading->brew == READING_NO_BREW)
			reading->flags |= READING_UNJOINED;
		check_range(joiner, reading);
		if ((reading->flags & READING_OUT_OF_RANGE) == 0)
			question_reading(joiner, reading);
	}
	for (int doubt = 0; doubt < DOUBTS; doubt++)
		if (joiner->told[doubt] > READINGS_TOLD_OF)
			faults_add(joiner->faults, doubt <= DOUBT_TEMP_RANGE ? SEVERITY_ERROR : SEVERITY_WARNING,
			           (struct place){ .file = run->readings[0].place.file }, "%zu more readings are %s",
			           joiner->told[doubt] - READINGS_TOLD_OF, more[doubt]);
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

static void start_anew(struct run *run)
{
	for (size_t i = 0; i < run->reading_count; i++) {
		run->readings[i].brew = READING_NO_BREW;
		run->readings[i].flags &= (uint8_t) ~(READING_UNJOINED | READING_OUT_OF_RANGE);
	}
}

static void tell_no_brews(const struct joiner *joiner)
{
	const struct run *run = joiner->run;

	if (run->reading_count > 0)
		faults_add(joiner->faults, SEVERITY_ERROR, (struct place){ .file = run->readings[0].place.file },
		           "there are no brews to join %zu reading%s with; kept, not joined", run->reading_count,
		           plural(run->reading_count));
}

static bool join_all(struct joiner *joiner)
{
	start_anew(joiner->run);
	if (!index_brews(joiner) || !collect_windows(joiner) || !collect_limits(joiner) || !join_by_label(joiner))
		return false;
	if (joiner->run->brew_count > 0) {
		tell_labels(joiner);
		join_unlabelled(joiner);
	} else {
		tell_no_brews(joiner);
	}
	check_readings(joiner);
	return check_brews(joiner);
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
	free(joiner.windows);
	free(joiner.limits);
	return done ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory to join readings with brews");
}
