/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "correct.h"

#include <math.h>
#include <stdlib.h>

#include "number.h"

#define MICROSECONDS 1e6

/* One meter's zero checks in the order of their key, which is the time in seconds, or the reading's place. */
struct zero_line {
	struct zero_offset *offsets;
	size_t count;
	bool by_time;
};

static struct meter_scale scale_of(const struct run *run, const struct reading *reading)
{
	const struct meter *meter = &run->meters[reading->meter];

	return (struct meter_scale){
		.unit = run_unit(run, reading),
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
		if (reading->line->taken_us == READING_NO_TIME)
			return false;
		any = true;
	}
	return any;
}

static double key_of(const struct run *run, size_t reading, bool by_time)
{
	return by_time ? (double)run->readings[reading].line->taken_us / MICROSECONDS : (double)reading;
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

	return delta_n * (high - low) / span * analysis->filter_factor;
}

static void zero_add(struct analysis *analysis, struct zero_line *line, size_t reading)
{
	const struct run *run = analysis->run;
	const struct meter *meter = &run->meters[run->readings[reading].meter];
	const struct reading *check = &run->readings[reading];
	struct meter_scale scale = scale_of(run, check);
	struct zero_offset offset = zero_offset_from_check(&scale, check->value, check->line->temp_c,
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

/* The display's step in corrected TDS: how far the result moves when the last digit does. */
static double step_in_tds(const struct analysis *analysis, size_t i, const struct correction *correction)
{
	const struct run *run = analysis->run;
	const struct meter *meter = &run->meters[run->readings[i].meter];
	double step = isnan(meter->step) ? shown_step(reading_shown(&run->readings[i])) : meter->step;
	double slope = correction->type_factor * correction->dilution_factor;
	const double brix_per_index = 700.3; /* near water: optics of sucrose, direct inverse, first term */

	switch (correction->unit) {
	case UNIT_TDS_PERCENT:
		return step * slope / meter->scale_factor;
	case UNIT_BRIX:
		return step * slope;
	case UNIT_INDEX:
		return step * brix_per_index * slope;
	case UNIT_NONE:
		break;
	}
	return NAN;
}

/* A correction, and what the display's step comes to in it. */
struct corrected {
	struct correction steps;
	double display_step;
	uint16_t decimals; /* on the display */
};

static void count_reading(struct analysis *analysis, size_t i, const struct corrected *corrected)
{
	const struct reading *reading = &analysis->run->readings[i];
	bool cut = (corrected->steps.flags & CORRECTION_FATAL) != 0;
	double *finest = &analysis->repeatability.step;

	analysis->readings_excluded += (reading->flags & READING_EXCLUDED) != 0;
	analysis->readings_unjoined += (reading->flags & READING_UNJOINED) != 0;
	analysis->readings_out_of_range += (reading->flags & READING_OUT_OF_RANGE) != 0 || cut;
	if (reading->role == READING_SAMPLE)
		count_sample(&analysis->samples, &corrected->steps);
	if (!correct_counts(analysis, i))
		return;
	analysis->readings_used++;
	/* a meter that shows 1.4 for 1.40 drops its last digit now and then: the most digits seen are the display's */
	if (isnan(*finest) || corrected->display_step < *finest)
		*finest = corrected->display_step;
}

void correct_steps(struct correction *out, const struct analysis *analysis, size_t i)
{
	const struct run *run = analysis->run;
	const struct reading *reading = &run->readings[i];
	const struct brew *brew = reading->brew == READING_NO_BREW ? NULL : &run->brews[reading->brew];
	const struct zero_line *line = &analysis->zero_lines[reading->meter];
	struct meter_scale scale = scale_of(run, reading);
	struct zero_offset zero = line_at(line, key_of(run, i, line->by_time));
	struct correction_input in = {
		.shown = reading->value,
		.scale = &scale,
		.zero = &zero,
		.temp_c = reading->line->temp_c,
		.temp_limit_c = analysis->settings->temp_apart_c,
		.type_factor = analysis->filter_factor,
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
	correction_apply(&in, out);
}

static size_t count_zero_checks(const struct run *run)
{
	size_t count = 0;

	for (size_t i = 0; i < run->reading_count; i++)
		count += run->readings[i].role == READING_ZERO && reading_used(&run->readings[i]);
	return count;
}

/* Corrections of late: most readings of a cup show one of a few values, and are corrected alike. */
enum { REMEMBERED = 8 };

struct recent {
	const struct reading *of; /* the last one; NULL: none */
	size_t next;              /* counts on; its remainder is the place of the next one */
	size_t count;
	struct corrected corrected[REMEMBERED];
};

/* Would two readings that show the same be corrected alike? Not where the zero in force changes along a meter's readings. */
static bool alike(const struct analysis *analysis, const struct reading *a, const struct reading *b)
{
	return a->brew == b->brew && a->meter == b->meter && a->role == b->role && a->unit == b->unit &&
	       number_same(a->line->temp_c, b->line->temp_c) && analysis->zero_lines[a->meter].count <= 1;
}

/* Corrects a reading, or remembers one like it; until the next call. */
static const struct corrected *correct_one(struct recent *recent, const struct analysis *analysis, size_t i)
{
	const struct reading *reading = &analysis->run->readings[i];
	struct corrected *corrected;

	if (!recent->of || !alike(analysis, recent->of, reading))
		recent->count = 0;
	recent->of = reading;
	for (size_t k = 0; k < recent->count; k++) {
		corrected = &recent->corrected[k];
		if (number_same(corrected->steps.shown, reading->value) && corrected->decimals == reading->decimals)
			return corrected;
	}
	if (recent->count == 0)
		recent->next = 0;
	if (recent->count < REMEMBERED)
		recent->count++;
	corrected = &recent->corrected[recent->next++ % REMEMBERED];
	correct_steps(&corrected->steps, analysis, i);
	corrected->display_step = step_in_tds(analysis, i, &corrected->steps);
	corrected->decimals = reading->decimals;
	return corrected;
}

/* Reads the meters' zero checks, of which there are so many; false when there is no memory. */
static bool lines_make(struct analysis *analysis, size_t checks)
{
	size_t meters = analysis->run->meter_count;
	struct zero_line *lines = arena_take(&analysis->memory, (meters + 1) * sizeof(*lines));
	struct zero_offset *offsets = arena_take(&analysis->memory, (checks + 1) * sizeof(*offsets));

	analysis->zero_lines = lines;
	analysis->zeros = arena_take(&analysis->memory, (checks + 1) * sizeof(*analysis->zeros));
	if (!lines || !offsets || !analysis->zeros)
		return false;
	for (size_t m = 0; checks > 0 && m < meters; m++) {
		lines[m].offsets = offsets;
		line_fill(analysis, &lines[m], m);
		qsort(lines[m].offsets, lines[m].count, sizeof(*offsets), by_key);
		offsets += lines[m].count;
	}
	return true;
}

enum status correct_readings(struct analysis *analysis, struct error *error)
{
	size_t count = analysis->run->reading_count;
	struct recent recent = { .of = NULL };

	analysis->filter_factor = filter_factor(analysis->settings);
	analysis->repeatability.step = NAN;
	analysis->tds_percent = malloc((count + 1) * sizeof(*analysis->tds_percent));
	if (!analysis->tds_percent || !lines_make(analysis, count_zero_checks(analysis->run)))
		return error_set(error, STATUS_MEMORY, "no memory for the corrections of %zu readings", count);
	for (size_t i = 0; i < count; i++) {
		const struct corrected *corrected = correct_one(&recent, analysis, i);

		analysis->tds_percent[i] = corrected->steps.tds_percent;
		count_reading(analysis, i, corrected);
	}
	return STATUS_OK;
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
