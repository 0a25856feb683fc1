/* SPDX-License-Identifier: GPL-3.0-or-later */
/* audit_gauge_words.h: what an instrument study says, in plain words. For audit_gauge.c. */
#ifndef BREWSPREAD_AUDIT_GAUGE_WORDS_H
#define BREWSPREAD_AUDIT_GAUGE_WORDS_H

#include "audit_gauge.h"

/* Says that other can't be told from part in this study. False: no memory. */
bool gauge_say_mixed(struct audit_gauge *gauge, enum gauge_part part, enum gauge_part other);

/* Says all that was computed. False: no memory. */
bool gauge_say(struct audit_gauge *gauge, const struct audit_query *query);

#endif
