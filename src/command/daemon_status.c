/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench_command.h"
#include "lines.h"

static const struct command_option options[] = {
	BENCH_OPTION,
	{ "json", 0, NULL, "Prints everything as JSON." },
	{ .name = NULL },
};

static const char *text_of(const json_t *object, const char *name)
{
	const char *text = json_string_value(json_object_get(object, name));

	return text ? text : "";
}

static long long count_of(const json_t *object, const char *name)
{
	return json_integer_value(json_object_get(object, name));
}

/* The time of day in "2026-03-01T10:15:22.250Z". */
static const char *hour_of(const char *stamp)
{
	return strlen(stamp) > 19 ? stamp + 11 : "";
}

static void meter_print(const json_t *meter)
{
	const json_t *cup = json_object_get(meter, "cup");
	const char *at = text_of(meter, "last_at");

	printf("meter %s: %s, %s%s%s\n", text_of(meter, "name"), text_of(meter, "state"),
	       text_of(meter, "path")[0] ? text_of(meter, "path") : text_of(meter, "port"),
	       text_of(meter, "why")[0] ? "; " : "", text_of(meter, "why"));
	printf("  %lld lines, %lld readings, %lld not read", count_of(meter, "lines"), count_of(meter, "readings"),
	       count_of(meter, "not_read"));
	if (at[0])
		printf("; last at %.8s: %s", hour_of(at), text_of(meter, "last_line"));
	printf("\n  on the prism: %s", text_of(cup, "label")[0] ? text_of(cup, "label") : "no cup");
	if (text_of(cup, "label")[0])
		printf(", %lld of %lld readings", count_of(cup, "readings"), count_of(cup, "wanted"));
	if (text_of(cup, "next")[0])
		printf("; next: %s", text_of(cup, "next"));
	if (text_of(cup, "warning")[0])
		printf("\n  %s", text_of(cup, "warning"));
	printf("\n");
}

static void run_print(const json_t *status)
{
	const json_t *run = json_object_get(status, "run");
	const json_t *report = json_object_get(status, "report");

	if (!json_is_object(run)) {
		printf("run: none is open\n");
	} else {
		printf("run %s: %lld of %lld cups read", text_of(run, "name"), count_of(run, "cups_done"),
		       count_of(run, "cups"));
		if (count_of(run, "manifest_faults") > 0)
			printf("; %lld faults in its manifest", count_of(run, "manifest_faults"));
		printf("\n");
	}
	if (text_of(report, "run")[0])
		printf("report of %s: %s%s%s\n", text_of(report, "run"), text_of(report, "state"),
		       text_of(report, "said")[0] ? ": " : "", text_of(report, "said"));
}

static void ledger_print(const json_t *status)
{
	const json_t *ledger = json_object_get(status, "ledger");

	if (json_is_true(json_object_get(ledger, "storing")))
		printf("storing in %s\n", text_of(ledger, "path"));
	else
		printf("NOT STORING: %s; %lld lines and events wait, %lld lines are lost\n", text_of(ledger, "why"),
		       count_of(ledger, "waiting"), count_of(ledger, "lost"));
}

static void reading_print(const json_t *reading)
{
	const char *cup = text_of(reading, "cup");

	printf("  %.8s %s %s %s %s%s%s\n", hour_of(text_of(reading, "received")), text_of(reading, "meter"),
	       cup[0] ? cup : text_of(reading, "role"), text_of(reading, "shown"), text_of(reading, "unit"),
	       text_of(reading, "warning")[0] ? "  " : "", text_of(reading, "warning"));
}

/* Texts in it come from labels and lines: what is not printable was escaped by the daemon, or is here. */
static void status_print(const json_t *status)
{
	const json_t *meters = json_object_get(status, "meters");
	const json_t *readings = json_object_get(status, "readings");
	const json_t *messages = json_object_get(status, "messages");
	size_t i;

	ledger_print(status);
	run_print(status);
	for (i = 0; i < json_array_size(meters); i++)
		meter_print(json_array_get(meters, i));
	if (json_array_size(readings) > 0)
		printf("last readings:\n");
	for (i = 0; i < json_array_size(readings); i++)
		reading_print(json_array_get(readings, i));
	if (json_array_size(messages) > 0)
		printf("messages:\n");
	for (i = 0; i < json_array_size(messages); i++) {
		const json_t *message = json_array_get(messages, i);

		printf("  %.8s %s\n", hour_of(text_of(message, "at")), text_of(message, "text"));
	}
}

static enum exit_code run_status(struct invocation *invocation)
{
	json_t *answer = NULL;
	enum status status = daemon_ask(&answer, invocation_bench(invocation), NULL, "status", &invocation->error);

	if (status != STATUS_OK)
		return invocation_tell_error(invocation, status);
	if (invocation_given(invocation, "json")) {
		json_dumpf(answer, stdout, JSON_COMPACT | JSON_REAL_PRECISION(15));
		printf("\n");
	} else {
		status_print(answer);
	}
	json_decref(answer);
	return EXIT_DONE;
}

const struct command command_status = {
	.name = "status",
	.purpose = "Asks the daemon what it is doing: meters, run, cup, last readings, faults.",
	.operands = "",
	.options = options,
	.details = "The members of the JSON are listed in docs/control.md.",
	.example = "status --bench fixtures",
	.example_exit = EXIT_SYSTEM,
	.run = run_status,
};
