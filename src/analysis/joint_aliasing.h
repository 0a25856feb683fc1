/* SPDX-License-Identifier: GPL-3.0-or-later */
/* joint_aliasing.h: circumstances that are mixed up with the treatments only when they are taken together. */
#ifndef BREWSPREAD_JOINT_ALIASING_H
#define BREWSPREAD_JOINT_ALIASING_H

#include "analysis.h"

/* Columns looked at, their different words in all, and sets of columns that are told. */
enum { JOINT_COLUMNS = 12, JOINT_LEVELS = 240, JOINT_TOLD = 6 };

/*
 * How many independent comparisons of treatments lie within what columns (indices into run->columns, text ones) can do
 * together: (treatments - 1) less the rank that the treatments add to [1, dummies of the columns], over the brews that
 * are compared. SIZE_MAX: no memory; 0 also where the columns have more than JOINT_LEVELS words: then nothing is claimed.
 */
size_t joint_aliasing_lost(const struct analysis *analysis, const size_t *columns, size_t count);

/*
 * Says so for each two and each three of columns, leaving out those that hold a set that was told, and, where there is none,
 * for all of them together: none may be mixed up with the treatments alone. Looks at the first JOINT_COLUMNS; where
 * they have too many words that is said. False: no memory.
 */
bool joint_aliasing_say(struct analysis *analysis, const size_t *columns, size_t count);

#endif
