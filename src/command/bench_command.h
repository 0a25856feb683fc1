/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_command.h: what the commands that work in a bench folder have in common. */
#ifndef BREWSPREAD_BENCH_COMMAND_H
#define BREWSPREAD_BENCH_COMMAND_H

#include <jansson.h>

#include "audit_history.h"
#include "bench.h"
#include "command.h"
#include "ledger.h"

/* The row for --bench, the same in all of them. */
#define BENCH_OPTION                                                                                        \
	{                                                                                                   \
		"bench", 'b', "DIR", "The bench folder; unless set, the current one if it has a bench.ini." \
	}

/* The folder that --bench names, else "." where it has a bench.ini; NULL: neither. */
const char *invocation_bench(const struct invocation *invocation);

/* Opens it. STATUS_INVALID: none is named. Else as bench_open(); faults go into the invocation. */
enum status invocation_bench_open(struct bench **out, struct invocation *invocation) MUST_USE;

/* Opens its ledger, that of the bench folder. */
enum status invocation_ledger_open(struct ledger **out, const struct bench *bench, enum ledger_mode mode,
                                   struct invocation *invocation) MUST_USE;

/* What the earlier runs in its ledger say: audit_history(), whose statuses it has besides those of invocation_ledger_open(). */
enum status invocation_history(struct history *out, const struct bench *bench, const struct history_query *query,
                               struct invocation *invocation) MUST_USE;

/*
 * Sends request to the daemon of that folder (NULL: the one that runs without a folder), and gives its answer: the
 * caller's, json_decref(). With meter, which may be NULL, the request is about that one alone.
 * STATUS_BUSY: no daemon listens there. STATUS_INVALID: it refused; error has its words.
 */
enum status daemon_ask(json_t **answer, const char *bench, const char *meter, const char *request,
                       struct error *error) MUST_USE;

/* Tells a daemon, if there is one, that somebody else added to the ledger. */
void daemon_tell_change(const char *bench);

/* The words of the operands with blanks between them, from malloc(); NULL: no memory. */
char *operand_words(const struct invocation *invocation);

#endif
