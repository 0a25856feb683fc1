/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * read_times.h: whose cup was read when, by read_from and read_to of the manifest. A time of day alone is of the day that
 * what it is compared with tells, if that is one day: readings on Monday and Tuesday are not put into "10:30" by a guess.
 */
#ifndef BREWSPREAD_READ_TIMES_H
#define BREWSPREAD_READ_TIMES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "run.h"
#include "status.h"

struct read_window { /* in which the readings of a brew were taken, both ends included */
	int64_t from, to;
	int64_t last; /* the latest to of this and all before it */
	uint32_t brew;
};

struct read_times {
	struct read_window *windows; /* by from; from malloc() */
	size_t count;
	size_t dateless;          /* of them: times of day to which the readings tell more than one day */
	size_t dateless_readings; /* without a label, at times of day to which the windows tell more than one day */
	int64_t reading_day_us; /* the day that times of day of readings are of: of the windows; 0: none, or several */
};

/*
 * The times of run's brews, beside its samples without a label. false: no memory. Released by read_times_release() in
 * either case.
 */
bool read_times_collect(struct read_times *times, const struct run *run) MUST_USE;

/* The brew whose cup was read at taken_us; READING_NO_BREW: none, or several. */
uint32_t read_times_brew(const struct read_times *times, int64_t taken_us, bool *several);

void read_times_release(struct read_times *times);

#endif
