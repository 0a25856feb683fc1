/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "oneway.h"

#include <Rmath.h>
#include <math.h>

void oneway_add(struct oneway_sums *sums, size_t n, double mean, double sum_of_squares)
{
	if (n == 0)
		return;
	double from_mean = mean - sums->mean;

	sums->groups++;
	sums->n += n;
	sums->mean += from_mean * ((double)n / (double)sums->n);
	sums->ss_between += (double)n * from_mean * (mean - sums->mean);
	sums->ss_within += sum_of_squares;
}

static void test_equal_means(struct oneway *anova)
{
	anova->f = NAN;
	anova->p = NAN;
	if (!(anova->df_between > 0.0 && anova->df_within > 0.0))
		return;
	if (anova->ss_within > 0.0) {
		anova->f = anova->ms_between / anova->ms_within;
		anova->p = pf(anova->f, anova->df_between, anova->df_within, 0, 0);
	} else if (anova->ss_between > 0.0) {
		anova->f = INFINITY;
		anova->p = 0.0;
	}
}

struct oneway oneway_finish(const struct oneway_sums *sums)
{
	double total = sums->ss_between + sums->ss_within;
	struct oneway anova = {
		.groups = sums->groups,
		.n = sums->n,
		.grand_mean = sums->n ? sums->mean : NAN,
		.ss_between = sums->ss_between,
		.ss_within = sums->ss_within,
		.df_between = sums->groups ? (double)(sums->groups - 1) : 0.0,
		.df_within = (double)(sums->n - sums->groups),
		.r2 = total > 0.0 ? sums->ss_between / total : NAN,
	};

	anova.ms_between = anova.df_between > 0.0 ? anova.ss_between / anova.df_between : NAN;
	anova.ms_within = anova.df_within > 0.0 ? anova.ss_within / anova.df_within : NAN;
	anova.residual_sd = sqrt(anova.ms_within);
	test_equal_means(&anova);
	return anova;
}

static double first_value(const struct group_values *groups, size_t k)
{
	for (size_t i = 0; i < k; i++)
		if (groups[i].n)
			return groups[i].values[0];
	return 0.0;
}

struct oneway oneway_of_values(const struct group_values *groups, size_t k)
{
	struct oneway_sums sums = ONEWAY_SUMS_INIT;
	double origin = first_value(groups, k);
	struct oneway anova;

	for (size_t i = 0; i < k; i++) {
		const struct group_values *group = &groups[i];

		oneway_add(&sums, group->n, values_mean_about(group->values, group->n, origin),
		           values_sum_of_squares(group->values, group->n));
	}
	anova = oneway_finish(&sums);
	anova.grand_mean += origin;
	return anova;
}

struct oneway oneway_of_summaries(const struct group_summary *groups, size_t k)
{
	struct oneway_sums sums = ONEWAY_SUMS_INIT;

	for (size_t i = 0; i < k; i++) {
		const struct group_summary *group = &groups[i];
		double squares = group->n > 1 ? (double)(group->n - 1) * group->sd * group->sd : 0.0;

		oneway_add(&sums, group->n, group->mean, squares);
	}
	return oneway_finish(&sums);
}
