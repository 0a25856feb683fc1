/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench_command.h"
#include "bench_run.h"
#include "clock.h"
#include "ledger_append.h"
#include "ledger_meter.h"
#include "ledger_paste.h"
#include "manifest.h"
#include "number.h"
#include "profile.h"
#include "readings.h"
#include "text.h"
#include "timestamp.h"

static const struct command_option options[] = {
	BENCH_OPTION,
	{ "profile", 'p', "NAME", "Meter profile, built in or a file, that the lines are read with." },
	{ "meter", 'm', "NAME",
	  "The meter they were taken with, by its name at the bench; unless set, the profile's own." },
	{ "run", 'r', "RUN", "The run that the readings are of; unless set, the one that is open." },
	{ "again", 0, NULL, "Takes a text that was taken before once more." },
	{ .name = NULL },
};

/* A text on its way into the ledger. */
struct pasting {
	struct invocation *invocation;
	struct bench *bench;
	struct ledger *ledger;
	struct profile *profile; /* NULL: read as text */
	struct text text;
	const char *name; /* of its file */
	struct run *run;  /* what it was read as */
	int64_t run_id;   /* 0: of no run */
	struct ledger_meter
		known;   /* what --meter names; its id 0: nothing in the ledger. Its name alone is kept of its texts */
	bool known_port; /* … is listened to */
	int64_t paste, meter, now_us;
	int64_t first_id, last_id;
	size_t added, unread;
};

static enum status text_get(struct pasting *pasting)
{
	struct invocation *invocation = pasting->invocation;
	struct text *text = &pasting->text;
	enum status status = text_load(text, pasting->name, &invocation->error);
	bool utf16 = status == STATUS_OK && text->len >= 2 &&
	             (memcmp(text->bytes, "\xff\xfe", 2) == 0 || memcmp(text->bytes, "\xfe\xff", 2) == 0);

	/* what a meter sent stays as it is: a degree sign of one byte is no reason to take all for another encoding */
	if (status == STATUS_OK && (!pasting->profile || utf16))
		status = text_decode(text, &invocation->error);
	if (status == STATUS_OK && text->encoding == ENCODING_WINDOWS_1252)
		faults_add(&invocation->faults, SEVERITY_WARNING, (struct place){ .file = pasting->name },
		           "byte %zu is not UTF-8; expected UTF-8; the text is read as Windows-1252",
		           text->first_bad + 1);
	return status;
}

/* The manifest of the run that the readings are of tells its cups' labels. Its faults are another command's to tell. */
static enum status labels_get(struct pasting *pasting, struct slice run)
{
	const char *manifest = bench_run_manifest(pasting->bench, run, &pasting->run->memory);
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	enum status status = STATUS_MEMORY;

	if (manifest)
		status = manifest_read(pasting->run, manifest, &pasting->invocation->settings, &faults, &error);
	if (status != STATUS_OK)
		faults_add(&pasting->invocation->faults, SEVERITY_WARNING, (struct place){ .file = NULL },
		           "the labels of run %.*s are not known: its manifest can't be read%s%s", SLICE_ARG(run),
		           error.text[0] ? ": " : "", error.text);
	faults_release(&faults);
	return status == STATUS_MEMORY ? error_set(&pasting->invocation->error, STATUS_MEMORY, "no memory") : STATUS_OK;
}

static enum status run_get(struct pasting *pasting)
{
	const char *wanted = invocation_value(pasting->invocation, "run");
	struct error *error = &pasting->invocation->error;
	char name[128];
	enum status status = bench_run_find(pasting->ledger, slice_from(wanted ? wanted : ""), &pasting->run_id, name,
	                                    sizeof(name), error);

	if (status == STATUS_OK && wanted && pasting->run_id == 0)
		status = error_set(error, STATUS_INVALID, "%s has no run \"%s\"", pasting->bench->ledger, wanted);
	if (status == STATUS_OK && pasting->run_id != 0)
		status = labels_get(pasting, slice_from(name));
	return status;
}

static enum status twice_check(struct pasting *pasting)
{
	struct slice text = { pasting->text.bytes, pasting->text.len };
	struct invocation *invocation = pasting->invocation;
	char when[TIMESTAMP_TEXT];
	int64_t id, at_us;
	enum status status = ledger_paste_find(pasting->ledger, text, &id, &at_us, &invocation->error);

	if (status != STATUS_OK || id == 0 || invocation_given(invocation, "again"))
		return status;
	return error_set(&invocation->error, STATUS_REFUSED,
	                 "this text was taken already, at %s; nothing is taken; --again takes it once more",
	                 timestamp_print(when, sizeof(when), at_us, 0));
}

static enum status entry_add(struct pasting *pasting, struct ledger_entry *entry)
{
	enum status status;

	entry->received_us = pasting->now_us;
	entry->meter = pasting->meter;
	entry->run = pasting->run_id;
	entry->paste = pasting->paste;
	status = ledger_append(pasting->ledger, entry, &pasting->invocation->error);
	if (status == STATUS_OK && entry->role != LEDGER_RAW) {
		pasting->first_id = pasting->first_id ? pasting->first_id : entry->id;
		pasting->last_id = entry->id;
		pasting->added++;
	}
	return status;
}

static enum status reading_add(struct pasting *pasting, const struct reading *reading)
{
	const uint8_t ours = READING_REPEAT | READING_QUESTIONED | READING_OUT_OF_RANGE;
	struct ledger_entry entry = {
		.taken_us = reading->line->taken_us,
		.line = reading->line->number,
		.column = reading->column,
		.role = reading->role,
		.flags = reading->flags & ours,
		.label = reading->line->label,
		.raw = reading->line->raw,
		.shown = reading_shown(reading),
		.temp_c = reading->line->temp_c,
		.standard_percent = reading->line->standard_percent,
	};

	return entry_add(pasting, &entry);
}

static enum status raw_add(struct pasting *pasting, struct slice line, uint32_t number)
{
	struct ledger_entry entry = LEDGER_ENTRY_INIT;

	entry.raw = line;
	entry.line = number;
	pasting->unread++;
	return entry_add(pasting, &entry);
}

/* Every line, those that gave no reading too, in the order of the text. */
static enum status lines_store(struct pasting *pasting)
{
	struct line_walk walk = { .rest = { pasting->text.bytes, pasting->text.len } };
	const struct run *run = pasting->run;
	enum status status = STATUS_OK;
	struct slice line;
	size_t next = 0;

	while (status == STATUS_OK && line_walk_next(&walk, &line, NULL)) {
		size_t first = next;

		while (status == STATUS_OK && next < run->reading_count &&
		       run->readings[next].line->number == walk.number)
			status = reading_add(pasting, &run->readings[next++]);
		if (status == STATUS_OK && next == first && !slice_blank(line))
			status = raw_add(pasting, line, walk.number);
	}
	return status;
}

/* Of several of that name the last one with a port is what listen reads at the bench; else the last one. */
static enum status meter_look(void *context, const struct ledger_meter *meter, struct error *error)
{
	struct pasting *pasting = context;
	bool has_port = meter->port.len > 0;

	if (!slice_equal(meter->meter.name, slice_from(invocation_value(pasting->invocation, "meter"))) ||
	    (pasting->known.id != 0 && pasting->known_port && !has_port))
		return STATUS_OK;
	pasting->known = *meter;
	pasting->known_port = has_port;
	pasting->known.meter.name = arena_copy(&pasting->run->memory, meter->meter.name);
	return pasting->known.meter.name.text ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory");
}

/* Before the text is read: what a number without a unit means is the meter's to say. */
static enum status meter_get(struct pasting *pasting)
{
	const char *name = invocation_value(pasting->invocation, "meter");
	struct run *run = pasting->run;
	enum status status;

	if (!name)
		return STATUS_OK;
	status = ledger_each_meter(pasting->ledger, meter_look, pasting, &pasting->invocation->error);
	if (status != STATUS_OK)
		return status;
	if (pasting->known.id == 0) {
		faults_add(&pasting->invocation->faults, SEVERITY_WARNING, (struct place){ .file = NULL },
		           "no reading here is of a meter called \"%s\" so far; it is written down as a new one", name);
		return STATUS_OK;
	}
	run->meters = arena_take(&run->memory, sizeof(*run->meters));
	if (!run->meters)
		return error_set(&pasting->invocation->error, STATUS_MEMORY, "no memory");
	run->meters[0] = pasting->known.meter;
	run->meter_count = 1;
	return STATUS_OK;
}

/* Do its numbers mean what the profile says? Then it is the one that is known, and no second one of its name. */
static bool known_fits(const struct pasting *pasting)
{
	const struct meter *known = &pasting->known.meter;
	const struct meter *profile = pasting->profile ? &pasting->profile->meter : known;

	return pasting->known.id != 0 && known->unit == profile->unit && known->compensated == profile->compensated &&
	       number_same(known->scale_factor, profile->scale_factor) &&
	       number_same(known->cal_temp_c, profile->cal_temp_c) && number_same(known->step, profile->step) &&
	       number_same(known->accuracy, profile->accuracy);
}

static enum status meter_add(struct pasting *pasting)
{
	struct ledger_meter row = { .seen_us = pasting->now_us, .meter = meter_standard() };
	const char *name = invocation_value(pasting->invocation, "meter");
	enum status status;

	if (known_fits(pasting)) {
		pasting->meter = pasting->known.id;
		return STATUS_OK;
	}
	if (pasting->profile) {
		row.meter = pasting->profile->meter;
		row.profile = slice_from(pasting->profile->pattern);
	}
	if (name)
		row.meter.name = slice_from(name);
	else if (row.meter.name.len == 0)
		row.meter.name = SLICE_OF("pasted text");
	status = ledger_meter_add(pasting->ledger, &row, &pasting->invocation->error);
	pasting->meter = row.id;
	return status;
}

/* All of it, or nothing. */
static enum status text_store(struct pasting *pasting)
{
	struct slice text = { pasting->text.bytes, pasting->text.len };
	struct error *error = &pasting->invocation->error;
	enum status status = ledger_begin(pasting->ledger, error);

	if (status != STATUS_OK)
		return status;
	status = meter_add(pasting);
	if (status == STATUS_OK)
		status = ledger_paste_add(pasting->ledger, slice_from(pasting->name), text, pasting->now_us,
		                          &pasting->paste, error);
	if (status == STATUS_OK)
		status = lines_store(pasting);
	if (status == STATUS_OK)
		return ledger_commit(pasting->ledger, error);
	ledger_rollback(pasting->ledger);
	return status;
}

static enum status text_take(struct pasting *pasting)
{
	struct invocation *invocation = pasting->invocation;
	const char *profile = invocation_value(invocation, "profile");
	enum status status = STATUS_OK;

	if (profile)
		status = profile_open(&pasting->profile, profile, &invocation->faults, &invocation->error);
	if (status == STATUS_OK)
		status = text_get(pasting);
	if (status == STATUS_OK)
		status = run_get(pasting);
	if (status == STATUS_OK)
		status = twice_check(pasting);
	if (status == STATUS_OK)
		status = meter_get(pasting);
	if (status == STATUS_OK)
		status = readings_parse(pasting->run, pasting->name,
		                        (struct slice){ pasting->text.bytes, pasting->text.len }, pasting->profile,
		                        &invocation->settings, &invocation->faults, &invocation->error);
	return status == STATUS_OK ? text_store(pasting) : status;
}

static void told(const struct pasting *pasting)
{
	if (pasting->added == 0)
		printf("no readings");
	else if (pasting->added == 1)
		printf("1 reading, number %lld", (long long)pasting->first_id);
	else
		printf("%zu readings, numbers %lld to %lld", pasting->added, (long long)pasting->first_id,
		       (long long)pasting->last_id);
	printf("; %zu other lines kept\n", pasting->unread);
}

static enum exit_code run_paste(struct invocation *invocation)
{
	struct pasting pasting = { .invocation = invocation, .text = TEXT_INIT, .now_us = clock_wall_us() };
	enum exit_code code;
	enum status status = invocation_bench_open(&pasting.bench, invocation);

	pasting.name = invocation->operand_count > 0 ? invocation->operands[0] : "-";
	pasting.run = run_new();
	if (status == STATUS_OK && !pasting.run)
		status = error_set(&invocation->error, STATUS_MEMORY, "no memory");
	if (status == STATUS_OK)
		status = invocation_ledger_open(&pasting.ledger, pasting.bench, LEDGER_CREATE, invocation);
	if (status == STATUS_OK)
		status = text_take(&pasting);
	code = invocation_tell_faults(invocation);
	if (status == STATUS_OK) {
		told(&pasting);
		daemon_tell_change(pasting.bench->folder);
	} else {
		code = invocation_tell_error(invocation, status);
	}
	ledger_free(pasting.ledger);
	run_free(pasting.run);
	text_release(&pasting.text);
	profile_free(pasting.profile);
	bench_free(pasting.bench);
	return code;
}

const struct command command_paste = {
	.name = "paste",
	.purpose = "Takes readings from text, from a file or standard input, into the ledger.",
	.operands = "[FILE]",
	.operands_min = 0,
	.operands_max = 1,
	.options = options,
	.details = "All of the text is taken, or nothing. The same text is not taken twice, unless told to.",
	.example = "paste fixtures/demo/readings.txt --again --bench build/demo",
	.example_exit = EXIT_DONE,
	.run = run_paste,
};
