/* SPDX-License-Identifier: GPL-3.0-or-later */
/* comparison.h: the treatments against each other, on one number a brew. */
#ifndef BREWSPREAD_COMPARISON_H
#define BREWSPREAD_COMPARISON_H

#include "analysis.h"

/*
 * Fills treatments, ranked and comparison. Needs response_choose() and yields_budget().
 * STATUS_INVALID: no treatment is called as settings->control says; error lists those there are. STATUS_MEMORY.
 */
enum status comparison_make(struct analysis *analysis, struct error *error) MUST_USE;

#endif
