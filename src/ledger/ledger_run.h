/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_run.h: which comparison run a reading was captured for, and when runs were opened and closed. */
#ifndef BREWSPREAD_LEDGER_RUN_H
#define BREWSPREAD_LEDGER_RUN_H

#include "ledger.h"
#include "slice.h"

struct ledger_run {
	int64_t id;
	struct slice name;
	struct slice manifest; /* path of its manifest; empty: none */
	int64_t opened_us;     /* first opened, UTC */
	int64_t closed_us;     /* last closed, UTC; READING_NO_TIME: it is open */
};

/*
 * Opens the run of that name and manifest and sets *id: the one that has both, opened again where it was closed, else a
 * new one. at_us is now, UTC. STATUS_INVALID: the name is blank.
 */
enum status ledger_run_open(struct ledger *ledger, struct slice name, struct slice manifest, int64_t at_us, int64_t *id,
                            struct error *error) MUST_USE;

/* Closes it; readings may still be added to it. No effect where it is closed. STATUS_INVALID: there is no such run. */
enum status ledger_run_close(struct ledger *ledger, int64_t id, int64_t at_us, struct error *error) MUST_USE;

/* Sets *id to the newest run of that name; 0: there is none. */
enum status ledger_run_find(struct ledger *ledger, struct slice name, int64_t *id, struct error *error) MUST_USE;

/*
 * Calls each with context and every run, by id, until it returns another status than STATUS_OK, which is then returned;
 * error is handed to it.
 */
enum status ledger_each_run(struct ledger *ledger,
                            enum status (*each)(void *context, const struct ledger_run *run, struct error *error),
                            void *context, struct error *error) MUST_USE;

#endif
