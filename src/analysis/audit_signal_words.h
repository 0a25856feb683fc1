/* SPDX-License-Identifier: GPL-3.0-or-later */
/* audit_signal_words.h: what control charts say, and what to try first. For audit_words.c. */
#ifndef BREWSPREAD_AUDIT_SIGNAL_WORDS_H
#define BREWSPREAD_AUDIT_SIGNAL_WORDS_H

#include "audit_words.h"

enum { SIGNALS_SAID = 8 }; /* of each chart, the newest; the others are counted */

/* Says of each of the meter's charts what its limits are worth and which signals it has. False: no memory. */
bool signals_say(struct audit *audit, size_t meter);

#endif
