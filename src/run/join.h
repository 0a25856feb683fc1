/* SPDX-License-Identifier: GPL-3.0-or-later */
/* join.h: which reading is of which brew, and which readings make no sense. */
#ifndef BREWSPREAD_JOIN_H
#define BREWSPREAD_JOIN_H

#include "faults.h"
#include "run.h"
#include "settings.h"
#include "status.h"

/*
 * Sets brew and READING_UNJOINED of each reading, and the flags of readings_check() (reading_check.h). May be called
 * again after readings or brews were added or changed.
 *
 * By label: the brew with the same label in Unicode's composed form, blanks at both ends off; else the only one
 * with it but for letter case, told in a note; else none: told with the nearest. "1" and "01" are two labels.
 * Without a label: the only brew with the reading's time between its read_from and read_to, both included (read_times.h).
 * By order: if no sample has a label, no brew has such times, and there are exactly settings->readings_wanted
 * samples for each brew, the first so many are the first brew's, and so on; not if the brews' order column says
 * another order than the manifest. Told in a note. In every other case they are kept, not joined, and told. Zero
 * checks and standards are of no brew.
 *
 * A brew without readings is warned of. What many lines share is told once with a count. STATUS_MEMORY.
 */
enum status join_readings(struct run *run, const struct settings *settings, struct faults *faults,
                          struct error *error) MUST_USE;

#endif
