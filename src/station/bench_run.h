/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_run.h: a run's place in a bench folder, and in its ledger. */
#ifndef BREWSPREAD_BENCH_RUN_H
#define BREWSPREAD_BENCH_RUN_H

#include <stdint.h>

#include "bench.h"
#include "ledger.h"

/*
 * Makes the folder of a run and puts a copy of the manifest at path there; path NULL: it has to be there already. A copy
 * that is there with the same content is left as it is. STATUS_INVALID: no name for a run, no manifest, or another one
 * is there, which stays. STATUS_IO: error.
 */
enum status bench_run_place(const struct bench *bench, struct slice name, const char *path,
                            struct error *error) MUST_USE;

/* Marks the run as open in the ledger; *id is its number there. */
enum status bench_run_mark_open(struct ledger *ledger, struct slice name, int64_t *id, struct error *error) MUST_USE;

/*
 * The id of the run of that name; an empty name: of the newest that is open. *id is 0 where there is none. With out,
 * which may be NULL, its name goes to out[0..size).
 */
enum status bench_run_find(struct ledger *ledger, struct slice name, int64_t *id, char *out, size_t size,
                           struct error *error) MUST_USE;

#endif
