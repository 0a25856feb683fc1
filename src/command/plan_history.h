/* SPDX-License-Identifier: GPL-3.0-or-later */
/* plan_history.h: the spreads that a plan rests on, from the earlier runs of a bench folder. */
#ifndef BREWSPREAD_PLAN_HISTORY_H
#define BREWSPREAD_PLAN_HISTORY_H

#include "command.h"
#include "effort_table.h"
#include "run_plan.h"

enum { PLAN_HISTORY_WORDS = 400 };

/*
 * What is not known of spread yet, from the runs of targets' method in the ledger of --bench. With targets for dose and
 * water the meter's scatter is turned into yield points and taken off the spread between brews, as far as readings
 * wanted of a cup made it; without them the spread between brews holds it, and reading_sd is 0. words, of
 * PLAN_HISTORY_WORDS bytes, says where it came from, and spread->source points to it. Where no earlier run says anything
 * spread stays, and words says that. Statuses as of invocation_bench_open() and audit_history().
 */
enum status plan_history(struct effort_spread *spread, const struct plan_targets *targets, char *words,
                         struct invocation *invocation) MUST_USE;

#endif
