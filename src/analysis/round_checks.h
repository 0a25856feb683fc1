/* SPDX-License-Identifier: GPL-3.0-or-later */
/* round_checks.h: how evenly were the treatments spread over rounds, and over the places within them? */
#ifndef BREWSPREAD_ROUND_CHECKS_H
#define BREWSPREAD_ROUND_CHECKS_H

#include "analysis.h"

/* Adds sentences of TOPIC_FAIRNESS where brews name their rounds. Counts only: block_checks.h. False without memory. */
bool round_checks_say(struct analysis *analysis);

#endif
