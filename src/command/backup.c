/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>

#include "bench_command.h"
#include "ledger_backup.h"

static const struct command_option options[] = {
	BENCH_OPTION,
	{ .name = NULL },
};

static enum exit_code run_backup(struct invocation *invocation)
{
	struct bench *bench = NULL;
	struct ledger *ledger = NULL;
	enum status status = invocation_bench_open(&bench, invocation);

	if (status == STATUS_OK)
		status = invocation_ledger_open(&ledger, bench, LEDGER_READ, invocation);
	if (status == STATUS_OK)
		status = ledger_backup(ledger, invocation->operands[0], &invocation->error);
	ledger_free(ledger);
	bench_free(bench);
	invocation_tell_faults(invocation);
	return status == STATUS_OK ? EXIT_DONE : invocation_tell_error(invocation, status);
}

const struct command command_backup = {
	.name = "backup",
	.purpose = "Copies the ledger whole, also while it is written to, and checks the copy.",
	.operands = "FILE",
	.operands_min = 1,
	.operands_max = 1,
	.options = options,
	.details =
		"A copy made by a file manager lacks what still stands in the ledger's \"-wal\" file. To go back to a copy,\n"
		"stop the daemon, move ledger.brewspread and its -wal and -shm files away, and put the copy there.",
	.example = "backup build/demo/copy.brewspread --bench fixtures",
	.example_exit = EXIT_SYSTEM,
	.run = run_backup,
};
