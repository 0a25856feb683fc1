/* SPDX-License-Identifier: GPL-3.0-or-later */
/* plan_notes.h: what is to be known about a plan, in plain words. */
#ifndef BREWSPREAD_PLAN_NOTES_H
#define BREWSPREAD_PLAN_NOTES_H

#include "run_plan.h"

/* Fills notes from the rest of plan: the design, how even it is and where it is worst. False without memory. */
bool plan_notes_write(struct run_plan *plan);

#endif
