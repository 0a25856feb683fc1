/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>

#include "bench_command.h"
#include "bench_run.h"

static const struct command_option options[] = {
	BENCH_OPTION,
	{ .name = NULL },
};

/* Without a daemon: the next one takes the run up. */
static enum status open_here(const struct bench *bench, struct slice name, struct invocation *invocation)
{
	struct ledger *ledger;
	char open[128];
	int64_t id = 0;
	enum status status = invocation_ledger_open(&ledger, bench, LEDGER_CREATE, invocation);

	if (status == STATUS_OK)
		status = bench_run_find(ledger, (struct slice){ NULL, 0 }, &id, open, sizeof(open), &invocation->error);
	if (status == STATUS_OK && id != 0 && !slice_equal(slice_from(open), name))
		status = error_set(&invocation->error, STATUS_INVALID, "run %s is open; expected it to be closed first",
		                   open);
	if (status == STATUS_OK && id == 0)
		status = bench_run_mark_open(ledger, name, &id, &invocation->error);
	ledger_free(ledger);
	return status;
}

static enum status open_run(const struct bench *bench, struct invocation *invocation)
{
	struct slice name = slice_from(invocation->operands[0]);
	json_t *answer = NULL;
	char request[128];
	enum status status;

	status = bench_run_place(bench, name, invocation->operand_count > 1 ? invocation->operands[1] : NULL,
	                         &invocation->error);
	if (status != STATUS_OK)
		return status;
	snprintf(request, sizeof(request), "open %s", invocation->operands[0]);
	status = daemon_ask(&answer, bench->folder, NULL, request, &invocation->error);
	json_decref(answer);
	return status == STATUS_BUSY ? open_here(bench, name, invocation) : status;
}

static enum exit_code run_open(struct invocation *invocation)
{
	struct bench *bench = NULL;
	enum status status = invocation_bench_open(&bench, invocation);

	if (status == STATUS_OK)
		status = open_run(bench, invocation);
	if (status == STATUS_OK)
		printf("%s/runs/%s\n", bench->folder, invocation->operands[0]);
	bench_free(bench);
	invocation_tell_faults(invocation);
	return status == STATUS_OK ? EXIT_DONE : invocation_tell_error(invocation, status);
}

const struct command command_open = {
	.name = "open",
	.purpose = "Opens a comparison run: what is read from then on belongs to it.",
	.operands = "RUN [MANIFEST]",
	.operands_min = 1,
	.operands_max = 2,
	.options = options,
	.details =
		"The manifest is copied to runs/RUN/manifest.csv in the bench folder, and is filled in there: each time it "
		"is\nsaved the daemon reads it again. Without MANIFEST the file has to be there already.",
	.example = "open tray-1 fixtures/demo/manifest.csv --bench build/demo",
	.example_exit = EXIT_DONE,
	.run = run_open,
};
