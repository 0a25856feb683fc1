/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>
#include <stdlib.h>

#include "audit_book.h"
#include "audit_json.h"
#include "audit_load.h"
#include "audit_words.h"
#include "command.h"
#include "command_words.h"
#include "version.h"

static const struct command_option options[] = {
	{ "meter", 'm', "NAME", "Only the meter of that name." },
	{ "since", 0, "DATE", "Only readings taken on that day or later, such as 2026-03-01." },
	{ "output", 'o', "FILE", "Writes a workbook with control charts." },
	{ "gauge", 'g', "MANIFEST",
	  "An instrument study: its manifest, one row a load of the prism; the files are its readings." },
	{ "profile", 'p', "NAME", "Meter profile, built in or a file, that lines of readings are read with." },
	{ "dose", 0, "GRAMS", "Dose that spreads are told in yield points for; 20 unless set." },
	{ "beverage", 0, "GRAMS", "Beverage that goes with it; 300 unless set." },
	{ "standard-mass", 0, "GRAMS",
	  "What sucrose standards are made up to; 200 unless set. With --scale-step it says how well they are known." },
	{ "bench", 'b', "DIR", "Takes the ledger of that bench folder, and its settings." },
	{ "json", 0, NULL, "Prints every number as JSON instead." },
	{ .name = NULL },
};

static const char *const sections[] = { "comparison", "correction", "yield", "bench", "plan", NULL };
static const char *const unused[] = { "control", "response", "seed", "power", NULL };

static void print_note(const struct audit_note *note)
{
	printf("  %s%s\n", note->severity == SEVERITY_NOTE ? "" : "warning: ", note->text);
}

static void print_meter(const struct audit *audit, size_t index)
{
	const struct audit_meter *meter = &audit->meters[index];

	printf("%.*s: %llu reading%s in %llu session%s", SLICE_ARG(meter->name),
	       (unsigned long long)meter->counts.readings, meter->counts.readings == 1 ? "" : "s",
	       (unsigned long long)meter->sessions_seen, meter->sessions_seen == 1 ? "" : "s");
	if (meter->first_us != READING_NO_TIME)
		printf(", from %.10s to %.10s", when_moment(meter->first_us).text, when_moment(meter->last_us).text);
	printf("\n");
	for (size_t i = 0; i < audit->note_count; i++)
		if (audit->notes[i].meter == index)
			print_note(&audit->notes[i]);
}

static void print_audit(const struct audit *audit)
{
	bool headed = false;

	for (size_t i = 0; i < audit->meter_count; i++)
		print_meter(audit, i);
	for (size_t i = 0; i < audit->note_count; i++) {
		if (audit->notes[i].meter != SIZE_MAX)
			continue;
		if (!headed)
			printf("All meters\n");
		headed = true;
		print_note(&audit->notes[i]);
	}
	if (audit->meter_count == 0)
		printf("No reading was found.\n");
}

static void print_study(const struct audit_gauge *gauge)
{
	printf("Instrument study\n");
	for (size_t i = 0; i < gauge->note_count; i++)
		print_note(&gauge->notes[i]);
}

static enum status show(struct invocation *invocation, const struct audited *audited)
{
	const char *output = invocation_value(invocation, "output");
	bool json = invocation_given(invocation, "json");
	enum status status = STATUS_OK;
	char *text;

	if (output) {
		struct audit_book_request request = { output, program_version(),
			                              command_words(invocation, &audited->run->memory) };

		status = audit_book_write(audited->audit, audited->gauge, &invocation->faults, &request,
		                          &invocation->error);
	}
	if (status != STATUS_OK)
		return status;
	if (json) {
		text = audit_json(audited->audit, audited->gauge, &invocation->faults, program_version());
		if (!text)
			return error_set(&invocation->error, STATUS_MEMORY, "no memory for the JSON text");
		fputs(text, stdout);
		free(text);
		return STATUS_OK;
	}
	if (audited->gauge)
		print_study(audited->gauge);
	else
		print_audit(audited->audit);
	if (output)
		printf("%s\n", output);
	return STATUS_OK;
}

static enum exit_code run_audit(struct invocation *invocation)
{
	struct audited audited;
	enum status status = audit_load(&audited, invocation);
	enum exit_code code = invocation_tell_faults(invocation);

	if (status == STATUS_OK)
		status = show(invocation, &audited);
	if (status == STATUS_OK && audited.audit && audit_alarm(audited.audit))
		code = EXIT_FAULTS;
	audited_release(&audited);
	if (status == STATUS_OK)
		return code;
	if (status == STATUS_REFUSED && invocation->error.text[0] == '\0')
		return EXIT_FAULTS;
	return invocation_tell_error(invocation, status);
}

const struct command command_audit = {
	.name = "audit",
	.purpose = "Says how well meters repeat, how zero and scale hold over months, and what to try where they do "
		   "not.",
	.operands = "[LEDGER | BENCH | READINGS...]",
	.operands_min = 0,
	.operands_max = COMMAND_OPERANDS_MAX,
	.sections = sections,
	.unused = unused,
	.options = options,
	.details =
		"Without a file it takes ledger.brewspread in the current folder; of a bench folder it takes the ledger in "
		"it. A file of readings as text counts as one run; lines such as \"2026-03-14 09:00 zero 0.01 @21.6\" and "
		"\"standard 2.00: 1.70 1.71\" are its checks. It ends with 1 where the data have faults, or where the newest "
		"check of a zero, a standard or the spread lies beyond its limits.",
	.example = "audit fixtures/audit/months.txt",
	.example_exit = EXIT_FAULTS,
	.run = run_audit,
};
