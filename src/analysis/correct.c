/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "correct.h"

#include <math.h>
#include <stdlib.h>

#define MICROSECONDS 1e6

/* One meter's zero checks in the order of their key, which is the time in seconds, or the reading's place. */
struct zero_line {
	struct zero_offset *offsets;
	size_t count;
	bool by_time;
};

static struct meter_scale scale_of(const struct meter *meter, const struct reading *reading)
{
	return (struct meter_scale){
		.unit = reading->shown.unit != UNIT_NONE ? reading->shown.unit : meter->unit,
		.meter_factor = meter->scale_factor,
		.cal_temp_c = meter->cal_temp_c,
		.compensated = meter->compensated,
	};
}

static bool is_zero_check(const struct reading *reading, size_t meter)
{
	return reading->meter == meter && reading->role == READING_ZERO && reading_used(reading);
}

/* Do all of the meter's readings that count say when they were taken? */
static bool all_timed(const struct run *run, size_t meter)
{
	bool any = false;

	for (size_t i = 0; i < run->reading_count; i++) {
		const struct reading *reading = &run->readings[i];

		if (reading->meter != meter || !reading_used(reading))
			continue;
		if (reading->taken_us == READING_NO_TIME)
			return false;
		any = true;
	}
	return any;
}

static double key_of(const struct run *run, size_t reading, bool by_time)
{
	return by_time ? (double)run->readings[reading].taken_us / MICROSECONDS : (double)reading;
}

static double filter_factor(const struct settings *settings)
{
	const struct sample_type *filter = settings_type(settings, SLICE_OF("filter"));

	return filter ? filter->factor : COFFEE_TDS_PER_BRIX;
}

static double tds_of_offset(const struct analysis *analysis, const struct meter *meter, double delta_n)
{
	/* what a reading of weak coffee would be off by: the slope of the scale near water */
	const double low = 0.0, high = 0.1;
	struct meter_scale brix = {
		.unit = UNIT_BRIX, .meter_factor = 1.0, .cal_temp_c = meter->cal_temp_c, .compensated = true
	};
	double span = zero_offset_from_check(&brix, high, NAN, 0.0).delta_n -
	              zero_offset_from_check(&brix, low, NAN, 0.0).delta_n;

	return delta_n * (high - low) / span * filter_factor(analysis->settings);
}

static void zero_add(struct analysis *analysis, struct zero_line *line, size_t reading)
{
	const struct run *run = analysis->run;
	const struct meter *meter = &run->meters[run->readings[reading].meter];
	const struct reading *check = &run->readings[reading];
	struct meter_scale scale = scale_of(meter, check);
	struct zero_offset offset = zero_offset_from_check(&scale, check->shown.value, check->temp_c,
	                                                   key_of(run, reading, line->by_time));

	analysis->zeros[analysis->zero_count++] = (struct zero_check){
		.reading = reading,
		.offset = offset,
		.tds_percent = offset.kind == ZERO_UNUSABLE ? NAN : tds_of_offset(analysis, meter, offset.delta_n),
	};
	line->offsets[line->count++] = offset;
}

/* Puts the mean of offsets[from, to) at from: checks that stand together are one check read several times. */
static struct zero_offset zero_mean(const struct zero_offset *offsets, size_t from, size_t to)
{
	struct zero_offset mean = { .kind = ZERO_SINGLE };
	double usable = 0;
	double temps = 0;

	for (size_t i = from; i < to; i++) {
		mean.time_s += (offsets[i].time_s - mean.time_s) / (double)(i - from + 1);
		if (offsets[i].kind == ZERO_UNUSABLE)
			continue;
		usable++;
		mean.delta_n += (offsets[i].delta_n - mean.delta_n) / usable;
		if (!isnan(offsets[i].temp_c)) {
			temps++;
			mean.temp_c += (offsets[i].temp_c - mean.temp_c) / temps;
		}
	}
	if (usable == 0)
		mean.kind = ZERO_UNUSABLE;
	if (temps == 0)
		mean.temp_c = NAN;
	return mean;
}

static void line_fill(struct analysis *analysis, struct zero_line *line, size_t meter)
{
	const struct run *run = analysis->run;
	size_t group = 0; /* where the checks that stand together begin */
	size_t kept = 0;

	line->by_time = all_timed(run, meter);
	for (size_t i = 0; i < run->reading_count; i++) {
		const struct reading *reading = &run->readings[i];

		if (reading->meter != meter || !reading_used(reading))
			continue;
		if (is_zero_check(reading, meter)) {
			zero_add(analysis, line, i);
		} else if (line->count > group) {
			line->offsets[kept++] = zero_mean(line->offsets, group, line->count);
			line->count = group = kept;
		}
	}
	if (line->count > group) {
		line->offsets[kept++] = zero_mean(line->offsets, group, line->count);
		line->count = kept;
	}
}

static int by_key(const void *left, const void *right)
{
	const struct zero_offset *a = left;
	const struct zero_offset *b = right;

	return a->time_s < b->time_s ? -1 : a->time_s > b->time_s;
}

/* The offset in force at key. */
static struct zero_offset line_at(const struct zero_line *line, double key)
{
	size_t low = 0, high = line->count; /* the first check after key lies in [low, high] */

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (line->offsets[middle].time_s <= key)
			low = middle + 1;
		else
			high = middle;
	}
	return zero_offset_between(low > 0 ? &line->offsets[low - 1] : NULL,
	                           low < line->count ? &line->offsets[low] : NULL, key);
}

static void count_sample(struct corrected_samples *samples, const struct correction *correction)
{
	samples->far += (correction->flags & CORRECTION_FAR_FROM_ZERO) != 0;
	samples->beyond += (correction->flags & CORRECTION_EXTRAPOLATED) != 0;
	if (!(correction->flags & CORRECTION_NO_TEMPERATURE))
		return;
	samples->without_temp++;
	if (correction->possible_error_percent > samples->worst)
		samples->worst = correction->possible_error_percent;
}

/* without_brew: the factor of a sample that no brew gives a type. */
static void correct_one(struct analysis *analysis, const struct zero_line *lines, size_t i, double without_brew)
{
	const struct run *run = analysis->run;
	const struct reading *reading = &run->readings[i];
	const struct brew *brew = reading->brew == READING_NO_BREW ? NULL : &run->brews[reading->brew];
	struct meter_scale scale = scale_of(&run->meters[reading->meter], reading);
	struct zero_offset zero = line_at(&lines[reading->meter], key_of(run, i, lines[reading->meter].by_time));
	struct correction_input in = {
		.shown = reading->shown.value,
		.scale = &scale,
		.zero = &zero,
		.temp_c = reading->temp_c,
		.temp_limit_c = analysis->settings->temp_apart_c,
		.type_factor = without_brew,
		.sample_g = NAN,
		.diluent_g = NAN,
	};

	if (reading->role == READING_STANDARD) {
		in.type_factor = 1.0;
	} else if (brew) {
		in.type_factor = brew->type_factor;
		in.sample_g = brew->number[BREW_SAMPLE_G];
		in.diluent_g = brew->number[BREW_DILUENT_G];
	}
	correction_apply(&in, &analysis->corrections[i]);
	if (reading->role == READING_SAMPLE)
		count_sample(&analysis->samples, &analysis->corrections[i]);
}

static size_t count_zero_checks(const struct run *run)
{
	size_t count = 0;

	for (size_t i = 0; i < run->reading_count; i++)
		count += run->readings[i].role == READING_ZERO && reading_used(&run->readings[i]);
	return count;
}

enum status correct_readings(struct analysis *analysis, struct error *error)
{
	const struct run *run = analysis->run;
	size_t checks = count_zero_checks(run);
	struct zero_line *lines = calloc(run->meter_count + 1, sizeof(*lines));
	struct zero_offset *offsets = calloc(checks + 1, sizeof(*offsets));
	double without_brew = filter_factor(analysis->settings);
	size_t taken = 0;
	enum status status = STATUS_OK;

	analysis->corrections = calloc(run->reading_count + 1, sizeof(*analysis->corrections));
	analysis->zeros = arena_take(&analysis->memory, (checks + 1) * sizeof(*analysis->zeros));
	if (!lines || !offsets || !analysis->corrections || !analysis->zeros) {
		status = error_set(error, STATUS_MEMORY, "no memory for the corrections of %zu readings",
		                   run->reading_count);
		goto done;
	}
	for (size_t m = 0; checks > 0 && m < run->meter_count; m++) {
		lines[m].offsets = offsets + taken;
		line_fill(analysis, &lines[m], m);
		qsort(lines[m].offsets, lines[m].count, sizeof(*offsets), by_key);
		taken += lines[m].count;
	}
	for (size_t i = 0; i < run->reading_count; i++)
		correct_one(analysis, lines, i, without_brew);
done:
	free(offsets);
	free(lines);
	return status;
}

bool correct_counts(const struct analysis *analysis, size_t reading)
{
	const struct reading *r = &analysis->run->readings[reading];

	return r->role == READING_SAMPLE && r->brew != READING_NO_BREW && reading_used(r) &&
	       isfinite(analysis->corrections[reading].tds_percent);
}

bool correct_meter_counts(const struct analysis *analysis, size_t meter)
{
	for (size_t i = 0; i < analysis->run->reading_count; i++)
		if (analysis->run->readings[i].meter == meter && correct_counts(analysis, i))
			return true;
	return false;
}

size_t correct_meters(const struct analysis *analysis)
{
	size_t count = 0;

	for (size_t m = 0; m < analysis->run->meter_count; m++)
		count += correct_meter_counts(analysis, m);
	return count;
}
