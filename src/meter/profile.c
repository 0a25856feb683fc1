/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "profile.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "builtin_profiles.h"
#include "number.h"
#include "pattern.h"
#include "profile_file.h"
#include "reading.h"
#include "text.h"
#include "timestamp.h"

static const char *const group_names[PROFILE_GROUPS] = {
	[GROUP_VALUE] = "value", [GROUP_UNIT] = "unit",     [GROUP_TEMP] = "temp", [GROUP_LABEL] = "label",
	[GROUP_TIME] = "time",   [GROUP_STATUS] = "status", [GROUP_SEQ] = "seq",
};

struct profile_scratch {
	struct pattern_runner *runner;
	char reason[PATTERN_REASON];
	char bytes[LINES_CAP]; /* the line without its parity bits */
};

const char *parity_name(enum parity parity)
{
	static const char *const names[] = { "none", "even", "odd", "mark", "space" };

	return names[parity];
}

const char *flow_name(enum flow flow)
{
	static const char *const names[] = { "none", "rtscts", "xonxoff" };

	return names[flow];
}

static void set_standards(struct profile *profile)
{
	*profile = (struct profile){
		.name = "",
		.about = "",
		.meter = meter_standard(),
		.port = { .baud = 9600, .data_bits = 8, .stop_bits = 1, .dtr = true, .rts = true },
		.gap_ms = 100,
		.pattern = "",
		.anchored = true,
		.ask_every_ms = 1000,
	};
}

static void complain_of_pattern(const struct profile *profile, const char *reason, size_t at, struct place place,
                                struct faults *faults)
{
	faults_add(faults, SEVERITY_ERROR, place,
	           "pattern: %s; expected a regular expression; profile not used\n    %s\n    %*s^", reason,
	           profile->pattern, (int)at, "");
}

static void resolve_groups(struct profile *profile, struct place place, struct faults *faults)
{
	const char *name;

	for (int i = 0; i < PROFILE_GROUPS; i++) {
		profile->group[i] = pattern_group_number(profile->code, group_names[i]);
		if (profile->group[i] < 0)
			faults_add(faults, SEVERITY_ERROR, place,
			           "pattern: several groups are called %s; expected one; profile not used",
			           group_names[i]);
	}
	if (profile->group[GROUP_VALUE] == 0)
		faults_add(faults, SEVERITY_ERROR, place,
		           "pattern: no group is called value; expected (?<value>...) around the number shown; "
		           "profile not used");
	for (size_t n = 0; (name = pattern_group_name(profile->code, n)) != NULL; n++) {
		int i;

		for (i = 0; i < PROFILE_GROUPS; i++)
			if (strcmp(name, group_names[i]) == 0)
				break;
		if (i == PROFILE_GROUPS)
			faults_add(faults, SEVERITY_WARNING, place,
			           "pattern: group %s means nothing here; expected value, unit, temp, label, time, "
			           "status or seq; it is not looked at",
			           name);
	}
}

static void settle_pattern(struct profile *profile, struct place place, struct faults *faults)
{
	char reason[PATTERN_REASON];
	size_t at;

	if (place.line == 0) {
		faults_add(faults, SEVERITY_ERROR, place,
		           "no pattern; expected one in [line], with (?<value>...) around the number shown; "
		           "profile not used");
		return;
	}
	profile->code = pattern_compile(profile->pattern, profile->anchored, reason, &at);
	if (!profile->code) {
		complain_of_pattern(profile, reason, at, place, faults);
		return;
	}
	resolve_groups(profile, place, faults);
	if (!pattern_probe(profile->code, profile->pattern, PROFILE_MATCH_LIMIT, reason))
		faults_add(faults, SEVERITY_ERROR, place,
		           "pattern takes more than %d steps: %s; expected no repeat inside a repeat, such as "
		           "(\\d+)+; profile not used",
		           PROFILE_MATCH_LIMIT, reason);
}

enum status profile_parse(struct profile **out, struct slice ini, const char *file, struct faults *faults,
                          struct error *error)
{
	struct profile *profile = malloc(sizeof(*profile));
	struct place place = { .file = file };
	size_t errors = faults->errors;

	*out = NULL;
	if (!profile)
		return error_set(error, STATUS_MEMORY, "%s: no memory", file);
	set_standards(profile);
	profile_file_read(profile, ini, file, faults, &place.line);
	profile->meter.name = slice_from(profile->name);
	settle_pattern(profile, place, faults);
	if (faults->errors > errors) {
		profile_free(profile);
		return error_set(error, STATUS_REFUSED, "%s is not a profile that can be used", file);
	}
	*out = profile;
	return STATUS_OK;
}

static enum status open_builtin(struct profile **out, const struct profile_def *def, struct faults *faults,
                                struct error *error)
{
	enum status status = profile_parse(out, slice_from(def->ini), def->name, faults, error);

	if (*out) {
		(*out)->name = def->name;
		(*out)->about = def->about;
		(*out)->meter.name = slice_from(def->name);
	}
	return status;
}

/* A name that no file has was likely meant for one of these. */
static enum status say_builtin(const char *name, struct error *error)
{
	struct error reason = error ? *error : (struct error){ "" };
	char list[300] = "";
	size_t count, used = 0;
	const struct profile_def *defs = builtin_profiles(&count);

	for (size_t i = 0; i < count && used < sizeof(list); i++)
		used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%s", i > 0 ? ", " : "", defs[i].name);
	return error_set(error, STATUS_IO, "%s; expected a file, or one of the built-in profiles: %s",
	                 reason.text[0] != '\0' ? reason.text : name, list);
}

enum status profile_open(struct profile **out, const char *name, struct faults *faults, struct error *error)
{
	const struct profile_def *def = builtin_profile_find(slice_from(name));
	struct text text = TEXT_INIT;
	enum status status;

	*out = NULL;
	if (def)
		return open_builtin(out, def, faults, error);
	status = text_load(&text, name, error);
	if (status == STATUS_IO && !strchr(name, '/'))
		return say_builtin(name, error);
	if (status == STATUS_OK)
		status = profile_parse(out, (struct slice){ text.bytes, text.len }, name, faults, error);
	text_release(&text);
	return status;
}

void profile_free(struct profile *profile)
{
	if (!profile)
		return;
	pattern_free(profile->code);
	arena_release(&profile->memory);
	free(profile);
}

struct profile_scratch *profile_scratch_new(const struct profile *profile)
{
	struct profile_scratch *scratch = malloc(sizeof(*scratch));

	if (!scratch)
		return NULL;
	scratch->reason[0] = '\0';
	scratch->runner = pattern_runner_new(profile->code, PROFILE_MATCH_LIMIT);
	if (!scratch->runner) {
		free(scratch);
		return NULL;
	}
	return scratch;
}

void profile_scratch_free(struct profile_scratch *scratch)
{
	if (!scratch)
		return;
	pattern_runner_free(scratch->runner);
	free(scratch);
}

const char *profile_reason(const struct profile_scratch *scratch)
{
	return scratch->reason;
}

static struct slice without_parity(struct profile_scratch *scratch, struct slice line)
{
	size_t len = line.len;

	for (size_t i = 0; i < len; i++)
		scratch->bytes[i] = (char)(line.text[i] & 0x7f);
	/* with its parity bit, an end was not known as one */
	while (len > 0 && (scratch->bytes[len - 1] == '\r' || scratch->bytes[len - 1] == '\n'))
		len--;
	return (struct slice){ scratch->bytes, len };
}

static bool says_no_reading(const struct profile *profile, struct slice text)
{
	text = slice_trim(text);
	for (size_t i = 0; i < profile->no_reading_count; i++)
		if (slice_equal(text, profile->no_reading[i]))
			return true;
	return false;
}

static bool number_read(const struct profile *profile, double *value, int *decimals, struct slice text)
{
	switch (profile->decimal) {
	case DECIMAL_POINT:
		return number_parse(value, decimals, text, '.');
	case DECIMAL_COMMA:
		return number_parse(value, decimals, text, ',');
	case DECIMAL_EITHER:
		break;
	}
	return number_parse_any(value, decimals, text);
}

/* The part of the line in group; empty where it took none. */
static struct slice part_of(const struct profile *profile, const struct profile_scratch *scratch, struct slice line,
                            enum profile_group group)
{
	struct slice part;

	if (profile->group[group] > 0 && pattern_group(scratch->runner, profile->group[group], line, &part))
		return slice_trim(part);
	return (struct slice){ NULL, 0 };
}

/* Why a part of the line cannot be used, for profile_reason(). */
static void doubt_part(struct profile_scratch *scratch, const char *what, struct slice part, const char *expected)
{
	char shown[48];

	snprintf(scratch->reason, sizeof(scratch->reason), "%s \"%s\"; expected %s", what,
	         line_print(shown, sizeof(shown), part), expected);
}

static void read_temp(const struct profile *profile, struct profile_scratch *scratch, struct slice part, double *temp_c)
{
	double temp;

	*temp_c = NAN;
	if (part.len == 0)
		return;
	if (number_read(profile, &temp, NULL, part))
		*temp_c = profile->fahrenheit ? (temp - 32.0) / 1.8 : temp;
	else
		doubt_part(scratch, "the temperature is", part, "a number; taken as not told");
}

static void read_time(struct profile_scratch *scratch, struct slice part, int64_t *taken_us)
{
	*taken_us = READING_NO_TIME;
	if (part.len > 0 && !timestamp_parse(taken_us, NULL, part))
		doubt_part(scratch, "the time is", part, "2026-03-01 10:15:22 or 10:15:22; taken as not told");
}

/* The number and its unit; false: they cannot be used. */
static bool read_shown(const struct profile *profile, struct profile_scratch *scratch, struct slice line,
                       struct slice value, struct shown *out)
{
	struct slice unit = part_of(profile, scratch, line, GROUP_UNIT);

	if (!number_read(profile, &out->value, &out->decimals, value)) {
		doubt_part(scratch, "the value is", value,
		           profile->decimal == DECIMAL_COMMA ? "a number with a decimal comma" :
		           profile->decimal == DECIMAL_POINT ? "a number with a decimal point" :
		                                               "a number");
		return false;
	}
	out->unit = unit.len > 0 ? unit_from_text(unit.text, unit.len) : profile->meter.unit;
	if (out->unit == UNIT_NONE)
		doubt_part(scratch, "the unit is", unit, "% TDS, brix or nd");
	return out->unit != UNIT_NONE;
}

static enum line_kind read_matched(const struct profile *profile, struct profile_scratch *scratch, struct slice line,
                                   struct profile_reading *out)
{
	struct slice value = part_of(profile, scratch, line, GROUP_VALUE);
	struct slice status = part_of(profile, scratch, line, GROUP_STATUS);
	struct profile_reading reading = { .status = status };

	if (says_no_reading(profile, value) || says_no_reading(profile, status) || (value.len == 0 && status.len > 0)) {
		*out = (struct profile_reading){ .status = status.len > 0 ? status : value, .temp_c = NAN };
		return LINE_NO_READING;
	}
	if (value.len == 0)
		return LINE_UNMATCHED;
	if (!read_shown(profile, scratch, line, value, &reading.shown))
		return LINE_ERROR;
	read_temp(profile, scratch, part_of(profile, scratch, line, GROUP_TEMP), &reading.temp_c);
	read_time(scratch, part_of(profile, scratch, line, GROUP_TIME), &reading.taken_us);
	reading.label = part_of(profile, scratch, line, GROUP_LABEL);
	reading.seq = part_of(profile, scratch, line, GROUP_SEQ);
	reading.value_at = (size_t)(value.text - line.text);
	*out = reading;
	return LINE_READING;
}

enum line_kind profile_match(const struct profile *profile, struct profile_scratch *scratch, struct slice line,
                             struct profile_reading *out)
{
	char failure[PATTERN_REASON];
	int result;

	scratch->reason[0] = '\0';
	if (line.len > LINES_CAP) {
		snprintf(scratch->reason, sizeof(scratch->reason), "the line is longer than %d bytes", LINES_CAP);
		return LINE_ERROR;
	}
	if (profile->strip_parity)
		line = without_parity(scratch, line);
	result = pattern_run(profile->code, scratch->runner, line);
	if (result > 0)
		return read_matched(profile, scratch, line, out);
	if (result < PATTERN_NO_MATCH) {
		snprintf(scratch->reason, sizeof(scratch->reason), "matching failed: %.150s (%d)",
		         pattern_failure(result, failure), result);
		return LINE_ERROR;
	}
	if (!says_no_reading(profile, line))
		return LINE_UNMATCHED;
	*out = (struct profile_reading){ .status = slice_trim(line), .temp_c = NAN };
	return LINE_NO_READING;
}
