/* SPDX-License-Identifier: GPL-3.0-or-later */
/* verdict_words.h: the verdicts in words. */
#ifndef BREWSPREAD_VERDICT_WORDS_H
#define BREWSPREAD_VERDICT_WORDS_H

#include "analysis.h"

/* "differ", "practically the same", "can't tell": the same words in every sheet, figure and text. */
const char *verdict_word(enum verdict verdict);

/* Adds the sentences of TOPIC_RESULT. False without memory. */
bool verdicts_say(struct analysis *analysis);

/*
 * How large the spread between brews would have to be for the largest difference among single brews of so many treatments to
 * be nothing out of the ordinary: difference / the range that so many normal values exceed in 5 of 100 cases, 2.77 for two,
 * which is the repeatability limit solved for its standard deviation (ISO 5725-6).
 */
double spread_that_explains(double difference, size_t treatments);

#endif
