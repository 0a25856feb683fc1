/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "settings.h"

#include <math.h>
#include <string.h>

#include "number.h"

#define PLACE(field) .offset = offsetof(struct settings, field)

static const struct option_def defs[] = {
	{ .name = "control",
	  .section = "comparison",
	  .type = OPTION_WORD,
	  .standard = "",
	  .text = "The treatment that the others are compared with.",
	  PLACE(control) },
	{ .name = "response",
	  .section = "comparison",
	  .type = OPTION_WORD,
	  .standard = "yield",
	  .text = "What is compared: yield, tds, retention, or a numeric column of the manifest.",
	  PLACE(response) },
	{ .name = "margin",
	  .section = "comparison",
	  .type = OPTION_NUMBER,
	  .min = 0.0001,
	  .max = 1e6,
	  .unit = "points",
	  .text = "Differences inside this margin count as practically the same; 0.5 for the yield unless set.",
	  PLACE(margin) },
	{ .name = "confidence",
	  .section = "comparison",
	  .type = OPTION_NUMBER,
	  .min = 0.5,
	  .max = 0.9999,
	  .standard = "0.95",
	  .text = "Confidence of intervals and verdicts, all of one comparison together.",
	  PLACE(confidence) },
	{ .name = "seed",
	  .section = "comparison",
	  .type = OPTION_COUNT,
	  .min = 0,
	  .max = 9007199254740992.0,
	  .standard = "1",
	  .text = "Start of everything random, so that a result can be had again.",
	  PLACE(seed) },
	{ .name = "history-sd",
	  .section = "comparison",
	  .type = OPTION_NUMBER,
	  .min = 0.000001,
	  .max = 100,
	  .unit = "yield points",
	  .text = "Spread between brews of one treatment, known from earlier runs; for runs with one brew each.",
	  PLACE(history_sd) },
	{ .name = "history-df",
	  .section = "comparison",
	  .type = OPTION_NUMBER,
	  .min = 1,
	  .max = 1e6,
	  .text = "Degrees of freedom of that spread: earlier brews less earlier treatments.",
	  PLACE(history_df) },
	{ .name = "temp-apart",
	  .section = "correction",
	  .type = OPTION_NUMBER,
	  .min = 0.1,
	  .max = 50,
	  .standard = "2",
	  .unit = "°C",
	  .text = "A sample farther than this from the zero check's temperature is flagged.",
	  PLACE(temp_apart_c) },
	{ .name = "meter-accuracy",
	  .section = "correction",
	  .type = OPTION_NUMBER,
	  .min = 0,
	  .max = 5,
	  .unit = "% TDS",
	  .text = "What the meter's maker states, plus or minus.",
	  PLACE(meter_accuracy) },
	{ .name = "retention",
	  .section = "yield",
	  .type = OPTION_NUMBER,
	  .min = 0,
	  .max = 10,
	  .standard = "2.0",
	  .unit = "g/g",
	  .text = "Water kept by a gram of coffee, where a run does not show it "
	          "(common practice, no source).",
	  PLACE(retention_per_g) },
	{ .name = "scale-step",
	  .section = "yield",
	  .type = OPTION_NUMBER,
	  .min = 0.0001,
	  .max = 10,
	  .standard = "0.1",
	  .unit = "g",
	  .text = "Step of the scales' display.",
	  PLACE(scale_step_g) },
	{ .name = "scale-accuracy",
	  .section = "yield",
	  .type = OPTION_NUMBER,
	  .min = 0,
	  .max = 100,
	  .unit = "g",
	  .text = "What the scales' maker states, plus or minus.",
	  PLACE(scale_accuracy_g) },
	{ .name = "readings",
	  .section = "bench",
	  .type = OPTION_COUNT,
	  .min = 1,
	  .max = 1000,
	  .standard = "3",
	  .text = "Readings wanted of each cup.",
	  PLACE(readings_wanted) },
	{ .name = "power",
	  .section = "plan",
	  .type = OPTION_NUMBER,
	  .min = 0.5,
	  .max = 0.999,
	  .standard = "0.8",
	  .text = "Wanted chance of finding a difference of the size asked for.",
	  PLACE(power) },
	{ .name = "brew-cost",
	  .section = "plan",
	  .type = OPTION_NUMBER,
	  .min = 0.001,
	  .max = 1e6,
	  .standard = "10",
	  .text = "Cost of one more brew, in any unit, minutes say.",
	  PLACE(brew_cost) },
	{ .name = "reading-cost",
	  .section = "plan",
	  .type = OPTION_NUMBER,
	  .min = 0.001,
	  .max = 1e6,
	  .standard = "1",
	  .text = "Cost of one more reading, in the same unit.",
	  PLACE(reading_cost) },
};

static const struct sample_type standard_types[] = {
	{ "filter", 0.85, "common practice, no source" },
	{ "espresso", 0.85, "common practice, no source; filter the sample before reading" },
	{ "sucrose", 1.0, "exact, for check standards" },
	{ "water", 0.0, "exact" },
};

const struct option_def *option_defs(size_t *count)
{
	*count = sizeof(defs) / sizeof(defs[0]);
	return defs;
}

static bool name_matches(const char *name, struct slice given)
{
	if (strlen(name) != given.len)
		return false;
	for (size_t i = 0; i < given.len; i++) {
		char c = given.text[i] == '_' ? '-' : given.text[i];

		if (c != name[i])
			return false;
	}
	return true;
}

const struct option_def *option_find(struct slice name)
{
	for (size_t i = 0; i < sizeof(defs) / sizeof(defs[0]); i++)
		if (name_matches(defs[i].name, name))
			return &defs[i];
	return NULL;
}

void settings_init(struct settings *settings)
{
	*settings = (struct settings){
		.reading_sd = NAN,
		.reading_df = NAN,
		.type_count = sizeof(standard_types) / sizeof(standard_types[0]),
	};
	memcpy(settings->types, standard_types, sizeof(standard_types));
	for (size_t i = 0; i < sizeof(defs) / sizeof(defs[0]); i++) {
		char *field = (char *)settings + defs[i].offset;
		double value = NAN;

		if (defs[i].type == OPTION_WORD) {
			memcpy(field, defs[i].standard, strlen(defs[i].standard) + 1);
			continue;
		}
		if (defs[i].standard)
			number_parse(&value, NULL, slice_from(defs[i].standard), '.');
		memcpy(field, &value, sizeof(value));
	}
}

static enum status set_number(struct settings *settings, const struct option_def *def, struct slice value,
                              struct error *error)
{
	int decimals;
	double got;

	if (!number_parse_any(&got, &decimals, value) || got < def->min || got > def->max ||
	    (def->type == OPTION_COUNT && decimals > 0))
		return error_set(error, STATUS_INVALID, "%s is \"%.*s\"; expected a %s from %.12g to %.12g%s%s",
		                 def->name, SLICE_ARG(value), def->type == OPTION_COUNT ? "whole number" : "number",
		                 def->min, def->max, def->unit ? " " : "", def->unit ? def->unit : "");
	memcpy((char *)settings + def->offset, &got, sizeof(got));
	return STATUS_OK;
}

enum status settings_set(struct settings *settings, struct slice name, struct slice value, struct error *error)
{
	const struct option_def *def = option_find(name);
	char *field;

	value = slice_trim(value);
	if (!def)
		return error_set(error, STATUS_INVALID, "no setting is called \"%.*s\"", SLICE_ARG(name));
	if (def->type != OPTION_WORD)
		return set_number(settings, def, value, error);
	if (value.len >= SETTINGS_NAME)
		return error_set(error, STATUS_INVALID, "%s is longer than %d bytes", def->name, SETTINGS_NAME - 1);
	field = (char *)settings + def->offset;
	memcpy(field, value.text ? value.text : "", value.len);
	field[value.len] = '\0';
	return STATUS_OK;
}

static bool type_matches(const struct sample_type *type, struct slice name)
{
	struct slice own = slice_from(type->name);

	if (slice_equal_nocase(own, name))
		return true;
	return name.len == own.len + 2 && slice_equal_nocase(slice_part(name, own.len, name.len), SLICE_OF("ed")) &&
	       slice_equal_nocase(slice_part(name, 0, own.len), own);
}

const struct sample_type *settings_type(const struct settings *settings, struct slice name)
{
	for (size_t i = 0; i < settings->type_count; i++)
		if (type_matches(&settings->types[i], name))
			return &settings->types[i];
	return NULL;
}

enum status settings_set_type(struct settings *settings, struct slice name, struct slice factor, struct error *error)
{
	struct sample_type *type = NULL;
	double value;

	name = slice_trim(name);
	if (!number_parse_any(&value, NULL, slice_trim(factor)) || value <= 0 || value > 2)
		return error_set(
			error, STATUS_INVALID,
			"sample type \"%.*s\" has the factor \"%.*s\"; expected TDS per Brix above 0 and up to 2",
			SLICE_ARG(name), SLICE_ARG(factor));
	if (name.len == 0 || name.len >= sizeof(type->name))
		return error_set(error, STATUS_INVALID, "a sample type's name has 1 to %zu bytes",
		                 sizeof(type->name) - 1);
	for (size_t i = 0; i < settings->type_count; i++)
		if (slice_equal_nocase(slice_from(settings->types[i].name), name))
			type = &settings->types[i];
	if (!type && settings->type_count == SETTINGS_TYPES)
		return error_set(error, STATUS_INVALID, "more than %d sample types", SETTINGS_TYPES);
	if (!type)
		type = &settings->types[settings->type_count++];
	memcpy(type->name, name.text, name.len);
	type->name[name.len] = '\0';
	type->factor = value;
	type->source = "set by the user";
	return STATUS_OK;
}
