/* SPDX-License-Identifier: GPL-3.0-or-later */
/* load.h: a manifest and its readings from files into one joined run: what report, check and others begin with. */
#ifndef BREWSPREAD_LOAD_H
#define BREWSPREAD_LOAD_H

#include "command.h"
#include "profile.h"
#include "run.h"

struct loaded {
	struct run *run;
	struct profile *profile; /* NULL: none was asked for */
	const char *folder;      /* of a run in a bench folder, in the run's memory; NULL: the files are no such run */
};

/*
 * With --bench the run in that folder that operand 0 names: load_bench() (ledger_load.h). Else
 * reads operand 0 as the manifest, the others as readings, through the profile that --profile names, and joins
 * them. Faults go into the invocation. STATUS_REFUSED: nothing to go on with. The caller's, whatever the status:
 * loaded_release().
 */
enum status load_files(struct loaded *loaded, struct invocation *invocation) MUST_USE;

void loaded_release(struct loaded *loaded);

#endif
