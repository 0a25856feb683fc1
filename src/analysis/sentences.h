/* SPDX-License-Identifier: GPL-3.0-or-later */
/* sentences.h: the list of findings in plain words. */
#ifndef BREWSPREAD_SENTENCES_H
#define BREWSPREAD_SENTENCES_H

#include "analysis.h"

/* Adds one made from format; size: how large in the response's unit, NaN where it has none. False without memory. */
bool sentence_say(struct analysis *analysis, enum topic topic, enum severity severity, double size, const char *format,
                  ...) __attribute__((format(printf, 5, 6)));

/* Room for a number in a sentence. */
struct words {
	char text[48];
};

/* "1.23" with so many decimals; "+1.23" or "-1.23" where the sign is to be told. */
struct words words_number(double value, int decimals);
struct words words_signed(double value, int decimals);

/* A spread or a p with two significant digits: "0.011", "p = 0.03", "p < 0.001". */
struct words words_spread(double value);
struct words words_p(double p);

/* "1 brew", "3 brews". */
/* "1 degree of freedom", "12 degrees of freedom", as they are known whole. */
struct words words_df(double df);

struct words words_count(size_t count, const char *one, const char *more);

/* A treatment's name for "%.*s". */
struct slice treatment_name(const struct analysis *analysis, size_t treatment);

#endif
