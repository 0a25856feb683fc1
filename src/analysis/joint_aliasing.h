/* SPDX-License-Identifier: GPL-3.0-or-later */
/* joint_aliasing.h: circumstances that are mixed up with the treatments only when they are taken together. */
#ifndef BREWSPREAD_JOINT_ALIASING_H
#define BREWSPREAD_JOINT_ALIASING_H

#include "analysis.h"

enum { JOINT_COLUMNS = 12, JOINT_LEVELS = 120, JOINT_BREWS = 2000 };

/*
 * How many independent comparisons of treatments lie within what columns (indices into run->columns, text ones) can do
 * together: (treatments - 1) less the rank that the treatments add to [1, dummies of the columns], over the brews that
 * are compared. SIZE_MAX: no memory; 0 also where the columns have more than JOINT_LEVELS words or there are more than
 * JOINT_BREWS brews: then nothing is claimed.
 */
size_t joint_aliasing_lost(const struct analysis *analysis, const size_t *columns, size_t count);

/*
 * Says so for each two of columns, and, where no two do, for all of them together: none may be mixed up with the
 * treatments alone. Looks at the first JOINT_COLUMNS. False: no memory.
 */
bool joint_aliasing_say(struct analysis *analysis, const size_t *columns, size_t count);

#endif
