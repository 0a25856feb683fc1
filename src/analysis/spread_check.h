/* SPDX-License-Identifier: GPL-3.0-or-later */
/* spread_check.h: do the treatments' brews scatter alike, as the verdicts take them to? */
#ifndef BREWSPREAD_SPREAD_CHECK_H
#define BREWSPREAD_SPREAD_CHECK_H

#include "analysis.h"
#include "rounds.h"
#include "spread_tests.h"

/*
 * Fills comparison.levene_p, welch_p and spread_left_out. groups and summaries are parallel to run->treatments. The Brown–Forsythe
 * test takes the treatments with three brews or more, and where brews are judged within rounds what is left of their values
 * without rounds and treatments: its p is then an approximation. Welch's test takes those with two or more, and knows nothing of
 * rounds. False: no memory.
 */
bool spread_check(struct analysis *analysis, const struct group_values *groups, const struct group_summary *summaries,
                  const struct rounds *rounds) MUST_USE;

#endif
