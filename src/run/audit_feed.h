/* SPDX-License-Identifier: GPL-3.0-or-later */
/* audit_feed.h: where an audit's readings come from: a ledger, line by line, or readings as text. */
#ifndef BREWSPREAD_AUDIT_FEED_H
#define BREWSPREAD_AUDIT_FEED_H

#include "audit.h"
#include "faults.h"
#include "ledger.h"
#include "run.h"

struct audit_feed_query {
	struct slice meter; /* name; empty: all */
	int64_t since_us;   /* taken then or later, or received then where a reading tells no time; 0: no limit */
};

/*
 * Streams the readings of ledger into audit. What is odd in them is told in faults and survived: a clock that was set
 * back (a session ends there; times before and after are taken as they stand), dates before AUDIT_FIRST_YEAR, steps of
 * the clock that the station noted, a file that can't be read to its end (what was read by then is used).
 * STATUS_INVALID: no meter of that name; error lists those there are. STATUS_MEMORY. STATUS_IO and others where not one
 * line could be read.
 */
enum status audit_feed_ledger(struct audit *audit, struct ledger *ledger, const struct audit_feed_query *query,
                              struct faults *faults, struct error *error) MUST_USE;

/*
 * Adds the readings of run from index first on, as read from text, as run number `number`: one session as long as their
 * times have no gap; one that tells no time has that of the reading before it. Samples are of the cups that they name;
 * no manifest is needed.
 */
enum status audit_feed_run(struct audit *audit, const struct run *run, size_t first, int64_t number,
                           const struct audit_feed_query *query, struct faults *faults, struct error *error) MUST_USE;

#define AUDIT_FIRST_YEAR    2000
#define AUDIT_FIRST_YEAR_US INT64_C(946684800000000)

#endif
