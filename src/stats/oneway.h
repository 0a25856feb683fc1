/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_ONEWAY_H
#define BREWSPREAD_ONEWAY_H

#include "describe.h"

#include <stddef.h>

/*
 * One-way analysis of variance. The values are brew means, one per brew:
 * readings of one brew are no independent values.
 *
 * Degenerate data: empty groups are left out; groups of one value count
 * for the between part only. Fewer than two groups, or no degree of freedom
 * within: f and p are NaN. No spread at all: f and p NaN, r2 NaN. No spread
 * within but between: f infinite, p 0, r2 1.
 */
struct oneway {
	size_t groups; /* the non-empty ones */
	size_t n;
	double grand_mean;
	double ss_between;
	double ss_within;
	double df_between;
	double df_within;
	double ms_between; /* NaN without degrees of freedom, like ms_within */
	double ms_within;
	double f;
	double p;
	double r2;          /* ss_between / (ss_between + ss_within) */
	double residual_sd; /* root of ms_within */
};

struct oneway oneway_of_values(const struct group_values *groups, size_t k);

/* From sizes, means and standard deviations; sd is not read where n < 2. */
struct oneway oneway_of_summaries(const struct group_summary *groups, size_t k);

/*
 * The same piece by piece: start with ONEWAY_SUMS_INIT, add each group's
 * size, mean and sum of squares about its mean, then finish. The means may be
 * given less a common origin, which grand_mean then lacks too: after a large
 * offset is taken off exactly, no digits are lost.
 */
struct oneway_sums {
	size_t groups;
	size_t n;
	double mean;
	double ss_between;
	double ss_within;
};

#define ONEWAY_SUMS_INIT            \
	{                           \
		0, 0, 0.0, 0.0, 0.0 \
	}

void oneway_add(struct oneway_sums *sums, size_t n, double mean, double sum_of_squares);
struct oneway oneway_finish(const struct oneway_sums *sums);

#endif
