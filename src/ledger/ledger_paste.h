/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_paste.h: texts that readings were taken from, so that the same text is not taken twice unnoticed. */
#ifndef BREWSPREAD_LEDGER_PASTE_H
#define BREWSPREAD_LEDGER_PASTE_H

#include "ledger.h"
#include "slice.h"

/*
 * Digest of text: SHA-256 in hex of its lines, without blanks at their ends and without blank lines, so that line ends
 * changed by a mail or an editor make no other text of it.
 */
void ledger_paste_digest(char digest[65], struct slice text);

/*
 * The first paste of the same text, by digest: *id is 0 where there was none; else *at_us is when.
 */
enum status ledger_paste_find(struct ledger *ledger, struct slice text, int64_t *id, int64_t *at_us,
                              struct error *error) MUST_USE;

/* Notes that text, from the file of that name, was taken in at at_us; sets *id. The same text may come again. */
enum status ledger_paste_add(struct ledger *ledger, struct slice name, struct slice text, int64_t at_us, int64_t *id,
                             struct error *error) MUST_USE;

#endif
