/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * live_check.h: do the readings of a cup agree, while the cup is still there to be read again?
 *
 * The yardstick is the spread of readings within the cups that were read before, pooled, but no less than what the step
 * of the display hides (step / sqrt(12), GUM F.2.2.1). Readings agree where their range is within the critical range
 * of ISO 5725-6:1994, clause 5.2, at 95 %: a quantile of the studentized range times that spread, which for two readings
 * and a well-known spread is 2.77 times it. Before anything is known the spread is taken as one step of the display (own
 * choice). A cup that was doubted counts only until cups that were not have told enough: one slip would have the next ones
 * pass for years, and without any of them a meter that scatters more than its step would never be believed. They drift where
 * each is above, or each below, the one before, three times in a row or more, by more than two readings may differ in all: a
 * sample that cools down, or water that evaporates.
 */
#ifndef BREWSPREAD_LIVE_CHECK_H
#define BREWSPREAD_LIVE_CHECK_H

#include <stdbool.h>
#include <stddef.h>

/* What is known of the spread within cups: sums over the cups that are done. Zeroed: nothing. */
struct live_spread {
	/* squares of deviations from each cup's mean, and readings less cups: of cups that agreed, of those that were doubted */
	double squares, df;
	double doubted_squares, doubted_df;
};

/* Adds a cup that is done; doubted: live_check() found something about one of its readings. One reading adds nothing. */
void live_spread_add(struct live_spread *spread, const double *values, size_t n, bool doubted);

enum live_verdict {
	LIVE_FINE,     /* or too few to tell */
	LIVE_DRIFTING, /* the last readings go one way */
	LIVE_OUTSIDE,  /* the last reading lies too far from the others */
};

enum { LIVE_MOST = 20 }; /* readings that are looked at: the last so many of a cup */

struct live_result {
	enum live_verdict verdict;
	double mean;   /* of all of the cup's; NaN: none */
	double sd;     /* NaN below two */
	double range;  /* of those that are looked at */
	double limit;  /* that range or change may have; NaN below two */
	double change; /* LIVE_DRIFTING: last less first of those that go one way */
	double apart;  /* LIVE_OUTSIDE: the last less the mean of the others */
};

/* values[0..n) in the order of reading, all of one unit; step of the display, in that unit. */
struct live_result live_check(const double *values, size_t n, double step, const struct live_spread *spread);

#endif
