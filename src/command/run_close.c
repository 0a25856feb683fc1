/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <poll.h>
#include <stdio.h>
#include <string.h>

#include "bench_command.h"
#include "bench_run.h"
#include "clock.h"
#include "ledger_run.h"
#include "report_child.h"

static const struct command_option options[] = {
	BENCH_OPTION,
	{ .name = NULL },
};

enum { LOOK_EVERY_MS = 100, REPORT_WAIT_MS = 120000 };

/* The run that is meant: the one that is named, else the one that is open. Closes it in the ledger. */
static enum status close_here(const struct bench *bench, struct slice name, char *run, size_t size,
                              struct invocation *invocation)
{
	struct ledger *ledger;
	int64_t id;
	enum status status = invocation_ledger_open(&ledger, bench, LEDGER_WRITE, invocation);

	if (status == STATUS_OK)
		status = bench_run_find(ledger, name, &id, run, size, &invocation->error);
	if (status == STATUS_OK && id == 0)
		status = name.len > 0 ? error_set(&invocation->error, STATUS_INVALID, "%s has no run %.*s",
		                                  bench->ledger, SLICE_ARG(name)) :
		                        error_set(&invocation->error, STATUS_INVALID, "no run is open");
	if (status == STATUS_OK)
		status = ledger_run_close(ledger, id, clock_wall_us(), &invocation->error);
	ledger_free(ledger);
	return status;
}

/* Writes the report as the daemon would. */
static enum status report_here(const struct bench *bench, const char *run, struct error *error)
{
	struct report_child child;
	struct moment now = moment_now();

	report_child_init(&child, bench->folder);
	report_child_want(&child, run);
	report_child_step(&child, &now);
	report_child_finish(&child, REPORT_WAIT_MS);
	if (child.failed || child.written_us == 0)
		return error_set(error, STATUS_IO, "run %s is closed, but its report was not written: %s", run,
		                 child.said);
	return STATUS_OK;
}

/* How the daemon is doing with it: "being written", "written", "failed". */
static enum status report_look(const struct bench *bench, const char *run, bool *done, struct error *error)
{
	json_t *answer = NULL;
	enum status status = daemon_ask(&answer, bench->folder, NULL, "status", error);
	const json_t *report = json_object_get(answer, "report");
	const char *state = json_string_value(json_object_get(report, "state"));
	const char *said = json_string_value(json_object_get(report, "said"));

	*done = !state || strcmp(state, "being written") != 0;
	if (status == STATUS_OK && state && strcmp(state, "failed") == 0)
		status = error_set(error, STATUS_IO, "run %s is closed, but its report was not written: %s", run,
		                   said ? said : "");
	json_decref(answer);
	return status;
}

/* Waits until the daemon has written it. */
static enum status report_await(const struct bench *bench, const char *run, struct error *error)
{
	int64_t until = clock_monotonic_us() + REPORT_WAIT_MS * INT64_C(1000);
	enum status status = STATUS_OK;
	bool done = false;

	while (status == STATUS_OK && !done) {
		poll(NULL, 0, LOOK_EVERY_MS);
		status = report_look(bench, run, &done, error);
		if (status == STATUS_OK && !done && clock_monotonic_us() > until)
			status = error_set(error, STATUS_IO, "run %s is closed; its report is still being written",
			                   run);
	}
	return status;
}

static enum status close_run(const struct bench *bench, struct slice name, char *run, size_t size,
                             struct invocation *invocation)
{
	json_t *answer = NULL;
	char request[160];
	enum status status;

	snprintf(request, sizeof(request), "close %.*s", SLICE_ARG(name));
	status = daemon_ask(&answer, bench->folder, NULL, request, &invocation->error);
	if (status == STATUS_OK) {
		snprintf(run, size, "%s", json_string_value(json_object_get(answer, "run")));
		json_decref(answer);
		return report_await(bench, run, &invocation->error);
	}
	if (status != STATUS_BUSY)
		return status;
	status = close_here(bench, name, run, size, invocation);
	return status == STATUS_OK ? report_here(bench, run, &invocation->error) : status;
}

static enum exit_code run_close(struct invocation *invocation)
{
	struct slice name = slice_from(invocation->operand_count > 0 ? invocation->operands[0] : "");
	struct bench *bench = NULL;
	char run[128] = "";
	enum status status = invocation_bench_open(&bench, invocation);

	if (status == STATUS_OK && name.len > 0 && !bench_run_name_fits(name))
		status = error_set(&invocation->error, STATUS_INVALID, "\"%.*s\" is no name for a run",
		                   SLICE_ARG(name));
	if (status == STATUS_OK)
		status = close_run(bench, name, run, sizeof(run), invocation);
	if (status == STATUS_OK)
		printf("%s/runs/%s/report.xlsx\n", bench->folder, run);
	bench_free(bench);
	invocation_tell_faults(invocation);
	return status == STATUS_OK ? EXIT_DONE : invocation_tell_error(invocation, status);
}

const struct command command_close = {
	.name = "close",
	.purpose = "Closes a comparison run and writes its final report.",
	.operands = "[RUN]",
	.operands_min = 0,
	.operands_max = 1,
	.options = options,
	.details = "Without RUN the one that is open. \"open\" takes it up again.",
	.example = "close --bench build/demo",
	.example_exit = EXIT_DONE,
	.run = run_close,
};
