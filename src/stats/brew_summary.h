/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * brew_summary.h: one brew (or any group of readings) in three numbers, so that memory
 * grows with the groups and not with the readings.
 *
 * A group is a brew here, a laboratory in ISO 5725-2, a run in a gauge
 * study. All modules that need no single reading take arrays of these.
 */
#ifndef BREW_SUMMARY_H
#define BREW_SUMMARY_H

#include <stddef.h>

struct brew_summary {
	size_t n;         /* readings; a group of none is skipped everywhere */
	double mean;      /* of the readings, in their unit */
	double ss;        /* sum of squared deviations from mean, unit squared */
	size_t treatment; /* index from 0 of what the group belongs to; 0 where there is one only */
	size_t block;     /* index from 0; 0 where there are no blocks */
};

/*
 * The summary of x[0..n), treatment and block 0. Mean by compensated
 * summation, sum of squares by a second pass, so that an offset of 1e6
 * costs no digits. n = 0 gives mean NaN and ss 0; n = 1 gives ss 0.
 */
struct brew_summary brew_summary_of(const double *x, size_t n);

/* Standard deviation s = sqrt(ss / (n - 1)); NaN below two readings. */
double brew_sd(const struct brew_summary *group);

/*
 * Pooled standard deviation within groups[0..count), each with its own
 * mean; its degrees of freedom, the sum of (n - 1), go to *df unless df is
 * NULL. NaN (and 0) where no group has two readings.
 */
double brew_pooled_sd(const struct brew_summary *groups, size_t count, double *df);

/* The n of 2 or more that most groups have, the smaller of two equally common; 0: none has. ISO 5725-2 takes it for all. */
size_t brew_commonest_n(const struct brew_summary *groups, size_t count);

#endif
