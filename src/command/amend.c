/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <pwd.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "bench_command.h"
#include "clock.h"
#include "label.h"
#include "ledger_amend.h"
#include "ledger_append.h"
#include "number.h"

static const struct command_option options[] = {
	BENCH_OPTION,
	{ "exclude", 'x', NULL, "Takes readings out of the statistics; they stay in the ledger." },
	{ "restore", 'u', NULL, "Takes excluded readings in again." },
	{ "move", 'm', "LABEL", "They are of another cup; or, with zero as the label, of distilled water." },
	{ "reason", 'r', "TEXT", "Why; the report shows it." },
	{ "author", 'a', "NAME", "Who says so; unless set, the account's name." },
	{ .name = NULL },
};

/* What is asked for; false: it makes no sense, and that is told. */
static bool amendment_take(struct amendment *out, struct invocation *invocation)
{
	const char *label = invocation_value(invocation, "move");
	const char *reason = invocation_value(invocation, "reason");
	const char *author = invocation_value(invocation, "author");
	bool exclude = invocation_given(invocation, "exclude");
	bool restore = invocation_given(invocation, "restore");
	const struct passwd *account = author ? NULL : getpwuid(getuid());

	*out = (struct amendment){ .at_us = clock_wall_us(), .role = READING_SAMPLE };
	if (exclude + restore + (label != NULL) != 1) {
		invocation_wrong_use(invocation, "expected one of --exclude, --restore, --move LABEL");
		return false;
	}
	if (!reason || slice_blank(slice_from(reason))) {
		invocation_wrong_use(invocation, "expected a --reason");
		return false;
	}
	out->action = exclude ? AMENDMENT_EXCLUDE : restore ? AMENDMENT_RESTORE : AMENDMENT_MOVE;
	out->label = slice_trim(slice_from(label));
	if (label && slice_equal_nocase(out->label, SLICE_OF("zero"))) {
		out->role = READING_ZERO;
		out->label = (struct slice){ NULL, 0 };
	} else if (label && (out->label.len == 0 || label_hidden(out->label))) {
		invocation_wrong_use(invocation, "--move needs the label of a cup");
		return false;
	}
	out->reason = slice_trim(slice_from(reason));
	out->author = slice_from(author ? author : account ? account->pw_name : "");
	return true;
}

static enum status amend_each(struct ledger *ledger, struct amendment *amendment, struct invocation *invocation)
{
	enum status status = STATUS_OK;

	for (size_t i = 0; status == STATUS_OK && i < invocation->operand_count; i++) {
		long long id;

		if (!number_parse_count(&id, slice_from(invocation->operands[i])))
			return error_set(&invocation->error, STATUS_INVALID,
			                 "\"%s\" is no reading's number; expected a whole number",
			                 invocation->operands[i]);
		amendment->reading = id;
		status = ledger_amend_append(ledger, amendment, &invocation->error);
	}
	return status;
}

/* All of them, or none. */
static enum status amend_all(struct ledger *ledger, struct amendment *amendment, struct invocation *invocation)
{
	enum status status = ledger_begin(ledger, &invocation->error);

	if (status != STATUS_OK)
		return status;
	status = amend_each(ledger, amendment, invocation);
	if (status == STATUS_OK)
		return ledger_commit(ledger, &invocation->error);
	ledger_rollback(ledger);
	return status;
}

static enum exit_code run_amend(struct invocation *invocation)
{
	struct bench *bench = NULL;
	struct ledger *ledger = NULL;
	struct amendment amendment;
	enum status status;

	if (!amendment_take(&amendment, invocation))
		return EXIT_USAGE;
	status = invocation_bench_open(&bench, invocation);
	if (status == STATUS_OK)
		status = invocation_ledger_open(&ledger, bench, LEDGER_WRITE, invocation);
	if (status == STATUS_OK)
		status = amend_all(ledger, &amendment, invocation);
	ledger_free(ledger);
	if (status == STATUS_OK)
		daemon_tell_change(bench->folder);
	bench_free(bench);
	invocation_tell_faults(invocation);
	return status == STATUS_OK ? EXIT_DONE : invocation_tell_error(invocation, status);
}

const struct command command_amend = {
	.name = "amend",
	.purpose = "Excludes, restores or moves readings, with a reason; never rewrites one.",
	.operands = "NUMBER...",
	.operands_min = 1,
	.operands_max = COMMAND_OPERANDS_MAX,
	.options = options,
	.details = "The numbers are those of the ledger: \"listen\", \"status\", \"export\" and the report tell them.",
	.example = "amend 1 --exclude --reason 'bubble on the prism' --bench fixtures",
	.example_exit = EXIT_SYSTEM,
	.run = run_amend,
};
