/* SPDX-License-Identifier: GPL-3.0-or-later */
/* findings.h: last step of an analysis: what the numbers say, in sentences that a careful reader can publish. */
#ifndef BREWSPREAD_FINDINGS_H
#define BREWSPREAD_FINDINGS_H

#include "analysis.h"

/* Fills sentences, topic by topic. Needs everything else. STATUS_MEMORY. */
enum status findings_write(struct analysis *analysis, struct error *error) MUST_USE;

#endif
