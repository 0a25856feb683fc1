/* SPDX-License-Identifier: GPL-3.0-or-later */
/* plan_text.h: what `plan` found out, printed for people. */
#ifndef BREWSPREAD_PLAN_TEXT_H
#define BREWSPREAD_PLAN_TEXT_H

#include "check_standard.h"
#include "effort_table.h"
#include "run_plan.h"

/* Brew by brew, in the order of brewing. */
void plan_text_brews(const struct run_plan *plan);

/* How even it is. */
void plan_text_notes(const struct run_plan *plan);

void plan_text_effort(const struct effort_table *table);

void plan_text_standard(const struct check_standard *standard);

#endif
