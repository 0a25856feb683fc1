/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_pair.h: the same cups on two meters: J. M. Bland and D. G. Altman, "Statistical methods for assessing agreement
 * between two methods of clinical measurement", Lancet 327 (1986) 307-310.
 *
 * Two cups are the same where label and run agree and no more than PAIRING_HOURS lie between; each is its mean, less
 * the mean zero of its session.
 */
#ifndef BREWSPREAD_AUDIT_PAIR_H
#define BREWSPREAD_AUDIT_PAIR_H

#include "audit.h"

enum { PAIRING_CUPS = 4096, PAIRING_SLOTS = 8192, PAIRING_HOURS = 12 };

/* A cup that was read. */
struct paired_cup {
	uint64_t key; /* of run and label */
	size_t meter;
	double mean; /* % TDS */
	int64_t at_us, id;
};

/* NULL: no memory. */
struct audit_pairing *pairing_new(void);
void pairing_free(struct audit_pairing *pairing);

/* Looks for the cup on other meters, and keeps it for those to come. False: no memory. */
bool pairing_take(struct audit *audit, const struct paired_cup *cup);

/* A key of run and hash of a label. */
uint64_t pairing_key(int64_t run, uint64_t hash);

/*
 * All of pair that follows from its points, which are sorted by time. n below 3: NaN, and AUDIT_UNKNOWN. confidence is
 * that of the intervals; the verdict takes two one-sided tests at 1 - confidence each.
 */
void pair_compute(struct audit_pair *pair, double confidence, double margin);

/* pair_compute() for all, margins from the query. */
void pairs_finish(struct audit *audit);

#endif
