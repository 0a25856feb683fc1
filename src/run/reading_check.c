/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "reading_check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "correction.h"
#include "number.h"

enum { READINGS_TOLD_OF = 20 }; /* readings with one fault that are told one by one */

/* What a sample may show, in % TDS as the meter displays it, before anybody asks. */
#define FILTER_LOW    0.3
#define FILTER_HIGH   5.0
#define ESPRESSO_LOW  3.0
#define ESPRESSO_HIGH 25.0
#define ZERO_APART    0.5  /* of distilled water */
#define HOT_C         45.0 /* no sample is this hot on a prism; rooms in °F are */
#define SUCROSE_HIGH  100.0

struct limits { /* outside of which a sample is questioned */
	double low, high;
};

enum doubt { DOUBT_RANGE, DOUBT_TEMP_RANGE, DOUBT_SAMPLE, DOUBT_ZERO, DOUBT_HOT, DOUBTS };

struct checker {
	struct run *run;
	struct faults *faults;
	struct limits *limits; /* one a brew */
	size_t told[DOUBTS];
};

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

/* One more with this doubt: is it to be told by itself? */
static bool to_be_told(struct checker *checker, enum doubt doubt)
{
	return ++checker->told[doubt] <= READINGS_TOLD_OF;
}

static void value_text(char *out, size_t size, const struct reading *reading)
{
	char number[NUMBER_TEXT];

	number_print(number, sizeof(number), reading->value, reading->decimals);
	snprintf(out, size, "%s %s", number, unit_symbol((enum unit)reading->unit));
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

	switch ((enum unit)reading->unit) {
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

static void check_range(struct checker *checker, struct reading *reading)
{
	struct limits range = range_of(checker->run, reading);
	char text[NUMBER_TEXT + 16];

	if (!(reading->value >= range.low && reading->value <= range.high)) {
		reading->flags |= READING_OUT_OF_RANGE;
		value_text(text, sizeof(text), reading);
		if (to_be_told(checker, DOUBT_RANGE))
			faults_add(checker->faults, SEVERITY_ERROR, reading_place(reading),
			           "%s is no possible reading; expected %.4g to %.4g; kept, not used", text, range.low,
			           range.high);
	}
	if (reading->line->temp_c < TEMP_C_LOW || reading->line->temp_c > TEMP_C_HIGH) {
		reading->flags |= READING_OUT_OF_RANGE;
		if (to_be_told(checker, DOUBT_TEMP_RANGE))
			faults_add(checker->faults, SEVERITY_ERROR, reading_place(reading),
			           "%.4g °C is no possible temperature of a sample; expected %.4g to %.4g; "
			           "reading kept, not used",
			           reading->line->temp_c, TEMP_C_LOW, TEMP_C_HIGH);
	}
}

static void question_sample(struct checker *checker, struct reading *reading, double tds_percent)
{
	const struct limits *limits = &checker->limits[reading->brew];
	char text[NUMBER_TEXT + 16];

	if (tds_percent >= limits->low && tds_percent <= limits->high)
		return;
	reading->flags |= READING_QUESTIONED;
	value_text(text, sizeof(text), reading);
	if (to_be_told(checker, DOUBT_SAMPLE))
		faults_add(checker->faults, SEVERITY_WARNING, reading_place(reading),
		           "%s is unusual for this sample; expected %.3g to %.3g %% TDS; used all the same", text,
		           limits->low, limits->high);
}

static void question_zero(struct checker *checker, struct reading *reading, double tds_percent)
{
	char text[NUMBER_TEXT + 16];

	if (fabs(tds_percent) <= ZERO_APART)
		return;
	reading->flags |= READING_QUESTIONED;
	value_text(text, sizeof(text), reading);
	if (to_be_told(checker, DOUBT_ZERO))
		faults_add(checker->faults, SEVERITY_WARNING, reading_place(reading),
		           "%s is far from zero for distilled water; expected up to %.3g %% TDS; used all the same",
		           text, ZERO_APART);
}

static void question_reading(struct checker *checker, struct reading *reading)
{
	double tds_percent = reading->value;

	if (reading->line->temp_c >= HOT_C) {
		reading->flags |= READING_QUESTIONED;
		if (to_be_told(checker, DOUBT_HOT))
			faults_add(checker->faults, SEVERITY_WARNING, reading_place(reading),
			           "%.4g °C is hot for a sample and may be °F; taken as °C", reading->line->temp_c);
	}
	if (reading->unit == UNIT_BRIX)
		tds_percent *= meter_factor(checker->run, reading);
	else if (reading->unit != UNIT_TDS_PERCENT)
		return;
	if (reading->role == READING_ZERO)
		question_zero(checker, reading, tds_percent);
	else if (reading->role == READING_SAMPLE && reading->brew < checker->run->brew_count)
		question_sample(checker, reading, tds_percent);
}

static void check_readings(struct checker *checker)
{
	static const char *const more[DOUBTS] = {
		[DOUBT_RANGE] = "no possible readings",         [DOUBT_TEMP_RANGE] = "no possible temperatures",
		[DOUBT_SAMPLE] = "unusual for their samples",   [DOUBT_ZERO] = "far from zero for distilled water",
		[DOUBT_HOT] = "hot for samples, perhaps in °F",
	};
	struct run *run = checker->run;

	for (size_t i = 0; i < run->reading_count; i++) {
		struct reading *reading = &run->readings[i];

		check_range(checker, reading);
		if ((reading->flags & READING_OUT_OF_RANGE) == 0)
			question_reading(checker, reading);
	}
	for (int doubt = 0; doubt < DOUBTS; doubt++)
		if (checker->told[doubt] > READINGS_TOLD_OF)
			faults_add(checker->faults, doubt <= DOUBT_TEMP_RANGE ? SEVERITY_ERROR : SEVERITY_WARNING,
			           (struct place){ .file = run->readings[0].line->file }, "%zu more readings are %s",
			           checker->told[doubt] - READINGS_TOLD_OF, more[doubt]);
}

bool readings_check(struct run *run, const struct settings *settings, struct faults *faults)
{
	struct checker checker = { .run = run, .faults = faults };

	checker.limits = calloc(run->brew_count + 1, sizeof(*checker.limits));
	if (!checker.limits)
		return false;
	for (size_t i = 0; i < run->brew_count; i++)
		checker.limits[i] = limits_of(&run->brews[i], settings);
	check_readings(&checker);
	free(checker.limits);
	return true;
}
