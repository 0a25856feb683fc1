/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "welch.h"

#include <Rmath.h>
#include <math.h>
#include <stdbool.h>

/* Variance of the group's mean. */
static double mean_variance(const struct group_summary *group)
{
	return group->n < 2 ? NAN : group->sd * group->sd / (double)group->n;
}

static bool all_have_spread(const struct group_summary *groups, size_t k)
{
	for (size_t i = 0; i < k; i++)
		if (!(mean_variance(&groups[i]) > 0.0))
			return false;
	return true;
}

static double weighted_mean(const struct group_summary *groups, size_t k, double *weights)
{
	double mean = 0.0;

	*weights = 0.0;
	for (size_t i = 0; i < k; i++) {
		double weight = 1.0 / mean_variance(&groups[i]);

		*weights += weight;
		mean += (groups[i].mean - mean) * (weight / *weights);
	}
	return mean;
}

struct welch_anova welch_anova(const struct group_summary *groups, size_t k)
{
	double between = 0.0;
	double lambda = 0.0;
	double weights;
	struct welch_anova result = { NAN, NAN, NAN, NAN };

	if (k < 2 || !all_have_spread(groups, k))
		return result;
	double mean = weighted_mean(groups, k, &weights);
	double df1 = (double)k - 1.0;
	double k2 = (double)k * (double)k - 1.0;

	for (size_t i = 0; i < k; i++) {
		double weight = 1.0 / mean_variance(&groups[i]);
		double from_mean = groups[i].mean - mean;
		double rest = 1.0 - weight / weights;

		between += weight * from_mean * from_mean;
		lambda += rest * rest / (double)(groups[i].n - 1);
	}
	result.f = between / df1 / (1.0 + 2.0 * ((double)k - 2.0) * lambda / k2);
	result.df1 = df1;
	result.df2 = k2 / (3.0 * lambda);
	result.p = pf(result.f, result.df1, result.df2, 0, 0);
	return result;
}

double welch_df(const struct group_summary *a, const struct group_summary *b)
{
	double va = mean_variance(a);
	double vb = mean_variance(b);

	/* As parts of their sum, so that a tiny spread does not underflow when squared: 0/0 remains NaN. */
	double part_a = va / (va + vb);
	double part_b = vb / (va + vb);

	return 1.0 / (part_a * part_a / ((double)a->n - 1.0) + part_b * part_b / ((double)b->n - 1.0));
}

struct welch_t welch_t(const struct group_summary *a, const struct group_summary *b, double level)
{
	struct welch_t result = { .difference = a->mean - b->mean };

	result.df = welch_df(a, b);
	result.standard_error = isnan(result.df) ? NAN : sqrt(mean_variance(a) + mean_variance(b));
	result.t = result.difference / result.standard_error;
	result.p = 2.0 * pt(-fabs(result.t), result.df, 1, 0);
	double half = isnan(result.df) ? NAN : qt((1.0 - level) / 2.0, result.df, 0, 0) * result.standard_error;

	result.lower = result.difference - half;
	result.upper = result.difference + half;
	return result;
}
