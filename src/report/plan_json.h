/* SPDX-License-Identifier: GPL-3.0-or-later */
/* plan_json.h: what `plan` found out, as JSON. docs/json.md tells the names. */
#ifndef BREWSPREAD_PLAN_JSON_H
#define BREWSPREAD_PLAN_JSON_H

#include "check_standard.h"
#include "effort_table.h"
#include "run_plan.h"

/* Each may be NULL: it was not asked for. */
struct plan_answers {
	const struct run_plan *plan;
	const struct plan_targets *targets; /* of plan */
	const struct effort_table *effort;
	const struct check_standard *standard;
};

/* One JSON text, ended by a line end; what can't be had is null. NULL when there is no memory. The caller's: free(). */
char *plan_json(const struct plan_answers *answers, const char *version);

#endif
