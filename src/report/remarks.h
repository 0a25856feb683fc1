/* SPDX-License-Identifier: GPL-3.0-or-later */
/* remarks.h: words for what calls for a look at a brew or a reading, the same on every sheet. */
#ifndef BREWSPREAD_REMARKS_H
#define BREWSPREAD_REMARKS_H

#include "analysis.h"
#include "correction.h"
#include "phrase.h"

/* Into phrase: why the brew has no result, and its marks; empty where there are none. */
void remarks_brew(struct phrase *phrase, const struct analysis *analysis, size_t brew);

/* Into phrase: why the reading, so corrected, is not used or deserves a look; empty where there is nothing to say. */
void remarks_reading(struct phrase *phrase, const struct reading *reading, const struct correction *correction);

/* Would remarks_reading() say anything? */
bool remarks_any(const struct reading *reading, const struct correction *correction);

/* Into phrase: "readings.txt:12:5", without the folder: Method has the files in full. */
void remarks_place(struct phrase *phrase, struct place place);

#endif
