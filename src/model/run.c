/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "run.h"

#include <math.h>
#include <nettle/sha2.h>
#include <stdio.h>
#include <stdlib.h>

struct run *run_new(void)
{
	return calloc(1, sizeof(struct run));
}

bool run_add_reading(struct run *run, const struct reading *reading)
{
	if (run->reading_count == UINT32_MAX)
		return false;
	if (run->reading_count == run->reading_capacity) {
		size_t capacity = run->reading_capacity ? run->reading_capacity + run->reading_capacity / 2 : 256;
		struct reading *readings = realloc(run->readings, capacity * sizeof(*readings));

		if (!readings)
			return false;
		run->readings = readings;
		run->reading_capacity = capacity;
	}
	run->readings[run->reading_count++] = *reading;
	return true;
}

struct reading_line *run_add_line(struct run *run, const struct reading_line *line)
{
	struct reading_line *kept = arena_take(&run->memory, sizeof(*kept));

	if (kept)
		*kept = *line;
	return kept;
}

static void digest_print(char out[65], const char *bytes, size_t len)
{
	uint8_t digest[SHA256_DIGEST_SIZE];
	struct sha256_ctx context;

	sha256_init(&context);
	sha256_update(&context, len, (const uint8_t *)bytes);
	sha256_digest(&context, sizeof(digest), digest);
	for (size_t i = 0; i < sizeof(digest); i++)
		snprintf(out + 2 * i, 3, "%02x", digest[i]);
}

bool run_add_input(struct run *run, const char *name, const char *bytes, size_t len)
{
	struct input *inputs = realloc(run->inputs, (run->input_count + 1) * sizeof(*inputs));
	struct slice copy;

	if (!inputs)
		return false;
	run->inputs = inputs;
	copy = arena_copy(&run->memory, slice_from(name));
	if (!copy.text)
		return false;
	inputs[run->input_count] = (struct input){ .name = copy.text, .bytes = len };
	digest_print(inputs[run->input_count].digest, bytes, len);
	run->input_count++;
	return true;
}

bool run_keep(struct run *run, char *bytes)
{
	char **kept = realloc(run->kept, (run->kept_count + 1) * sizeof(*kept));

	if (!kept) {
		free(bytes);
		return false;
	}
	run->kept = kept;
	kept[run->kept_count++] = bytes;
	return true;
}

double column_value(const struct run *run, const struct column *column, size_t brew)
{
	if (!column->numeric || !isfinite(column->number[brew]))
		return NAN;
	return column->known >= 0 && column->known < BREW_NUMBERS ? run->brews[brew].number[column->known] :
	                                                            column->number[brew];
}

struct slice column_unit(const struct column *column)
{
	static const char *const units[BREW_NUMBERS] = {
		[BREW_DOSE_G] = "g",           [BREW_WATER_G] = "g",  [BREW_BEVERAGE_G] = "g", [BREW_BYPASS_G] = "g",
		[BREW_MOISTURE_PERCENT] = "%", [BREW_SAMPLE_G] = "g", [BREW_DILUENT_G] = "g",  [BREW_ORDER] = "",
		[BREW_TEMP_C] = "°C",          [BREW_BLOOM_G] = "g",  [BREW_TIME_S] = "s",
	};

	return column->known >= 0 && column->known < BREW_NUMBERS ? slice_from(units[column->known]) : column->unit;
}

void run_free(struct run *run)
{
	if (!run)
		return;
	for (size_t i = 0; i < run->kept_count; i++)
		free(run->kept[i]);
	free(run->kept);
	free(run->readings);
	free(run->inputs);
	arena_release(&run->memory);
	free(run);
}
