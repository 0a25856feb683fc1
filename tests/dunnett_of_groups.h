/* SPDX-License-Identifier: GPL-3.0-or-later */
/* dunnett_of_groups.h: comparisons with a control as tables of values have them: groups, without rounds. */
#ifndef DUNNETT_OF_GROUPS_H
#define DUNNETT_OF_GROUPS_H

#include <assert.h>

#include "dunnett.h"
#include "pairwise.h"

enum { DUNNETT_GROUPS = 30 };

/* Every group but control against control, in the order of the groups; out holds k - 1. */
static inline void dunnett_of_groups(struct pair_result *out, const struct group_summary *groups, size_t k,
                                     size_t control, double mse, double df, struct claim claim)
{
	struct pair_estimate estimates[DUNNETT_GROUPS];
	double lambda[DUNNETT_GROUPS];
	size_t m = 0;

	assert(k <= DUNNETT_GROUPS);
	for (size_t i = 0; i < k; i++) {
		if (i == control)
			continue;
		lambda[m] = dunnett_lambda(groups[i].n, groups[control].n);
		estimates[m++] = pair_estimate_of(groups, i, control);
	}
	pairs_dunnett(out, estimates, lambda, m, mse, df, claim);
}

#endif
