/* SPDX-License-Identifier: GPL-3.0-or-later */
/* fairness.h: could something other than the treatments have made the differences? From the manifest alone. */
#ifndef BREWSPREAD_FAIRNESS_H
#define BREWSPREAD_FAIRNESS_H

#include "analysis.h"

/* Adds the sentences of TOPIC_FAIRNESS. False without memory. */
bool fairness_say(struct analysis *analysis);

#endif
