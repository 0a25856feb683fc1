/* SPDX-License-Identifier: GPL-3.0-or-later */
/* analysis_json.h: every number of an analysis, with full precision, as JSON. */
#ifndef BREWSPREAD_ANALYSIS_JSON_H
#define BREWSPREAD_ANALYSIS_JSON_H

#include "analysis.h"

/*
 * The analysis and its faults as one JSON text, ended by a line end. A number that can't be had is null; no other
 * text stands for one. NULL when there is no memory. The caller's: free().
 */
char *analysis_json(const struct analysis *analysis, const struct faults *faults, const char *version);

/*
 * The faults alone, each with severity, file (null: none), line and column (0: none) and text, and what was read and is to
 * be said of it unless analysis is NULL. NULL when there is no memory. The caller's: free().
 */
char *faults_json(const struct analysis *analysis, const struct faults *faults, const char *version);

#endif
