/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "spread_tests.h"

#include <Rmath.h>
#include <math.h>

/* Overwrites scratch with the distances of the group's values from its centre. */
static void distances(const struct group_values *group, enum spread_centre centre, double *scratch)
{
	double middle;

	if (centre == CENTRE_MEDIAN)
		middle = values_median(group->values, group->n, scratch);
	else
		middle = values_mean(group->values, group->n);
	for (size_t i = 0; i < group->n; i++)
		scratch[i] = fabs(group->values[i] - middle);
}

struct oneway spread_levene(const struct group_values *groups, size_t k, enum spread_centre centre, double *scratch)
{
	struct oneway_sums sums = ONEWAY_SUMS_INIT;

	for (size_t i = 0; i < k; i++) {
		size_t n = groups[i].n;

		distances(&groups[i], centre, scratch);
		oneway_add(&sums, n, values_mean(scratch, n), values_sum_of_squares(scratch, n));
	}
	return oneway_finish(&sums);
}

struct bartlett spread_bartlett(const struct group_summary *groups, size_t k)
{
	struct pooled pooled = POOLED_INIT;
	double logs = 0.0;
	double inverses = 0.0;
	struct bartlett result = { NAN, NAN, NAN };

	if (k < 2)
		return result;
	for (size_t i = 0; i < k; i++) {
		double df = (double)groups[i].n - 1.0;
		double variance = groups[i].sd * groups[i].sd;

		if (!(df > 0.0 && variance > 0.0))
			return result;
		pooled_add(&pooled, df * variance, df);
		logs += df * log(variance);
		inverses += 1.0 / df;
	}
	double within = pooled.df * log(pooled.sum_of_squares / pooled.df) - logs;

	result.df = (double)k - 1.0;
	result.k2 = within / (1.0 + (inverses - 1.0 / pooled.df) / (3.0 * result.df));
	result.p = pchisq(result.k2, result.df, 0, 0);
	return result;
}
