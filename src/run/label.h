/* SPDX-License-Identifier: GPL-3.0-or-later */
/* label.h: names of brews and treatments: what makes two of them one, and what about a name deserves a word. */
#ifndef BREWSPREAD_LABEL_H
#define BREWSPREAD_LABEL_H

#include <stdbool.h>
#include <stdint.h>

#include "arena.h"
#include "slice.h"

/*
 * What label is compared and joined by: blanks at both ends taken off (slice_trim()), characters that do not show
 * (label_hidden()) left out, in Unicode's composed form (NFC). Letter case stays: "a1" is not "A1", and "01" is not
 * "1". Shows label's own bytes where nothing changes, else a copy in arena. False when there is no memory.
 */
bool label_key(struct slice *key, struct arena *arena, struct slice label) __attribute__((warn_unused_result));

/*
 * The first character in valid UTF-8 text that does not show but makes two names differ: control characters, soft
 * hyphen, zero-width and joining characters, direction marks, byte order mark. 0: none.
 */
uint32_t label_hidden(struct slice text);

/* A hash of key in which letter case plays no part, all of Unicode's: for lookup.h. */
uint64_t label_hash(struct slice key);

/* Are two keys the same but for letter case? */
bool label_same_nocase(struct slice a, struct slice b);

/* As label_same_nocase(), with any run of blanks, no-break ones too, taken as one blank. */
bool label_nearly_same(struct slice a, struct slice b);

/* What spreadsheet programs turn names into: "2-1" into "02-Jan", "12E2" into "1.20E+03". */
enum label_look { LABEL_PLAIN, LABEL_DATE, LABEL_POWER };

enum label_look label_look(struct slice label);

#endif
