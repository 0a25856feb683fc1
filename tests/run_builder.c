/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "run_builder.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BREWS_MOST = 2048, COLUMNS_MOST = 16, METERS_MOST = 4 };

struct run *build_run(void)
{
	struct run *run = run_new();

	if (!run)
		abort();
	run->name = SLICE_OF("invented");
	run->brews = arena_take(&run->memory, BREWS_MOST * sizeof(*run->brews));
	run->treatments = arena_take(&run->memory, BREWS_MOST * sizeof(*run->treatments));
	run->columns = arena_take(&run->memory, COLUMNS_MOST * sizeof(*run->columns));
	run->meters = arena_take(&run->memory, METERS_MOST * sizeof(*run->meters));
	if (!run->brews || !run->treatments || !run->columns || !run->meters)
		abort();
	run->meters[0] = meter_standard();
	run->meter_count = 1;
	return run;
}

uint16_t build_meter(struct run *run, const char *name)
{
	if (run->meter_count == METERS_MOST)
		abort();
	run->meters[run->meter_count] = meter_standard();
	run->meters[run->meter_count].name = arena_copy(&run->memory, slice_from(name));
	return (uint16_t)run->meter_count++;
}

static uint32_t treatment_called(struct run *run, const char *name)
{
	struct slice copy;

	for (uint32_t t = 0; t < run->treatment_count; t++)
		if (slice_equal(run->treatments[t].name, slice_from(name)))
			return t;
	copy = arena_copy(&run->memory, slice_from(name));
	run->treatments[run->treatment_count] = (struct treatment){ .name = copy };
	return (uint32_t)run->treatment_count++;
}

uint32_t build_brew(struct run *run, const char *label, const char *treatment)
{
	struct brew *brew = &run->brews[run->brew_count];

	if (run->brew_count == BREWS_MOST)
		abort();
	*brew = (struct brew){ .method = METHOD_PERCOLATION, .type_factor = 0.85, .usable = true };
	for (size_t i = 0; i < BREW_NUMBERS; i++)
		brew->number[i] = NAN;
	brew->number[BREW_DOSE_G] = 20;
	brew->number[BREW_WATER_G] = 320;
	brew->number[BREW_BEVERAGE_G] = 280;
	brew->label = brew->key = arena_copy(&run->memory, slice_from(label));
	brew->brewed_us = brew->read_from_us = brew->read_to_us = READING_NO_TIME;
	brew->treatment = treatment_called(run, treatment);
	run->treatments[brew->treatment].brews++;
	return (uint32_t)run->brew_count++;
}

static struct reading *add_reading(struct run *run, enum reading_role role, uint32_t brew, double shown)
{
	struct reading_line line = {
		.id = (int64_t)run->reading_count + 1,
		.taken_us = READING_NO_TIME,
		.temp_c = 20,
		.standard_percent = NAN,
	};
	struct reading reading = {
		.line = run_add_line(run, &line),
		.value = shown,
		.decimals = 2,
		.unit = UNIT_TDS_PERCENT,
		.brew = brew,
		.role = (uint8_t)role,
	};

	if (!reading.line || !run_add_reading(run, &reading))
		abort();
	return &run->readings[run->reading_count - 1];
}

struct reading *build_reading(struct run *run, uint32_t brew, double tds)
{
	return add_reading(run, READING_SAMPLE, brew, tds);
}

struct reading *build_zero(struct run *run, double shown)
{
	return add_reading(run, READING_ZERO, READING_NO_BREW, shown);
}

static struct column *add_column(struct run *run, const char *name, int known)
{
	struct column *column = &run->columns[run->column_count++];

	*column = (struct column){ .known = known };
	column->name = column->header = arena_copy(&run->memory, slice_from(name));
	column->unit = SLICE_OF("");
	column->text = arena_take(&run->memory, (run->brew_count + 1) * sizeof(*column->text));
	if (!column->text)
		abort();
	return column;
}

struct column *build_words(struct run *run, const char *name, int known, const char *const *words)
{
	struct column *column = add_column(run, name, known);

	for (size_t b = 0; b < run->brew_count; b++) {
		column->text[b] = arena_copy(&run->memory, slice_from(words[b]));
		if (known >= COLUMN_WORD && known < COLUMN_BREW)
			run->brews[b].word[known - COLUMN_WORD] = column->text[b];
	}
	return column;
}

struct column *build_numbers(struct run *run, const char *name, int known, const double *numbers)
{
	struct column *column = add_column(run, name, known);

	column->numeric = true;
	column->decimals = 1;
	column->number = arena_take(&run->memory, (run->brew_count + 1) * sizeof(*column->number));
	if (!column->number)
		abort();
	for (size_t b = 0; b < run->brew_count; b++) {
		column->number[b] = numbers[b];
		if (known >= 0 && known < BREW_NUMBERS)
			run->brews[b].number[known] = numbers[b];
	}
	return column;
}
