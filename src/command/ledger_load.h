/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_load.h: a run of a bench folder: its manifest, and its readings from the ledger. */
#ifndef BREWSPREAD_LEDGER_LOAD_H
#define BREWSPREAD_LEDGER_LOAD_H

#include "load.h"

/*
 * As load_files(), for the run that operand 0 names in the bench folder of --bench. STATUS_INVALID: there is no such
 * run, or there are other operands too.
 */
enum status load_bench(struct loaded *loaded, struct invocation *invocation) MUST_USE;

#endif
