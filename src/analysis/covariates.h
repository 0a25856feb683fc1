/* SPDX-License-Identifier: GPL-3.0-or-later */
/* covariates.h: what might explain a difference: numeric columns against the treatments' means. */
#ifndef BREWSPREAD_COVARIATES_H
#define BREWSPREAD_COVARIATES_H

#include "analysis.h"

/*
 * Fills covariates: every numeric column that is not the response and that the program does not compute a yield
 * from, and the brewing time, with at least three treatments that have both and two different means. STATUS_MEMORY.
 */
enum status covariates_compute(struct analysis *analysis, struct error *error) MUST_USE;

/* Adds the sentences of TOPIC_COVARIATE, with the caution that goes with them. False without memory. */
bool covariates_say(struct analysis *analysis);

#endif
