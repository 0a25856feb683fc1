/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "outliers.h"

#include <Rmath.h>
#include <math.h>
#include <stdint.h>
#include <stdbool.h>

#include "describe.h"

static bool is_level(double alpha)
{
	return alpha > 0 && alpha < 1;
}

/* Marks a statistic that is suspicious when large. */
static enum outlier_mark mark_above(double statistic, double critical_5, double critical_1)
{
	if (isnan(statistic) || isnan(critical_5) || isnan(critical_1))
		return OUTLIER_NOT_TESTED;
	if (statistic > critical_1)
		return OUTLIER_STATISTICAL;
	return statistic > critical_5 ? OUTLIER_STRAGGLER : OUTLIER_NONE;
}

static struct outlier_test not_tested(void)
{
	return (struct outlier_test){ OUTLIER_NOT_TESTED, NAN, NAN, NAN, { 0, 0 }, 0 };
}

struct outlier_test cochran_test(const struct brew_summary *groups, size_t count)
{
	struct outlier_test test = not_tested();
	double sum = 0, largest = -1;
	size_t p = 0, n = brew_commonest_n(groups, count);

	for (size_t i = 0; i < count; i++) {
		double variance = groups[i].n < 2 ? NAN : groups[i].ss / (double)(groups[i].n - 1);

		if (isnan(variance))
			continue;
		p++;
		sum += variance;
		if (variance > largest) {
			largest = variance;
			test.index[0] = i;
		}
	}
	if (p < 2 || !(sum > 0))
		return not_tested();
	test.statistic = largest / sum;
	test.critical_5 = cochran_critical(p, n, 0.05);
	test.critical_1 = cochran_critical(p, n, 0.01);
	test.mark = mark_above(test.statistic, test.critical_5, test.critical_1);
	test.count = 1;
	return test;
}

double cochran_critical(size_t p, size_t n, double alpha)
{
	double groups = (double)p, df = (double)n - 1;

	if (p < 2 || n < 2 || !is_level(alpha))
		return NAN;
	return 1 / (1 + (groups - 1) / qf(alpha / groups, df, (groups - 1) * df, 0, 0));
}

/* The two largest values' places, [0] the largest. n >= 2. */
static void find_highest(size_t at[2], const double *x, size_t n)
{
	at[0] = x[1] > x[0];
	at[1] = 1 - at[0];
	for (size_t i = 2; i < n; i++) {
		if (x[i] > x[at[0]]) {
			at[1] = at[0];
			at[0] = i;
		} else if (x[i] > x[at[1]]) {
			at[1] = i;
		}
	}
}

static void find_lowest(size_t at[2], const double *x, size_t n)
{
	at[0] = x[1] < x[0];
	at[1] = 1 - at[0];
	for (size_t i = 2; i < n; i++) {
		if (x[i] < x[at[0]]) {
			at[1] = at[0];
			at[0] = i;
		} else if (x[i] < x[at[1]]) {
			at[1] = i;
		}
	}
}

struct outlier_test grubbs_single_test(const double *x, size_t p, enum outlier_end end, enum outlier_sides sides)
{
	struct outlier_test test = not_tested();
	size_t high[2], low[2];
	double mean;

	if (p < 3 || values_range(x, p) == 0)
		return test;
	find_highest(high, x, p);
	find_lowest(low, x, p);
	mean = values_mean(x, p);
	if (end == OUTLIER_EITHER)
		end = x[high[0]] - mean >= mean - x[low[0]] ? OUTLIER_HIGH : OUTLIER_LOW;
	test.index[0] = end == OUTLIER_HIGH ? high[0] : low[0];
	test.count = 1;
	test.statistic = (end == OUTLIER_HIGH ? x[high[0]] - mean : mean - x[low[0]]) / values_sd(x, p);
	test.critical_5 = grubbs_single_critical(p, 0.05, sides);
	test.critical_1 = grubbs_single_critical(p, 0.01, sides);
	test.mark = mark_above(test.statistic, test.critical_5, test.critical_1);
	return test;
}

double grubbs_single_critical(size_t p, double alpha, enum outlier_sides sides)
{
	double n = (double)p, t;

	if (p < 3 || !is_level(alpha))
		return NAN;
	t = qt(alpha / (sides == OUTLIER_ONE_SIDED ? n : 2 * n), n - 2, 0, 0);
	return (n - 1) / sqrt(n) * sqrt(t * t / (n - 2 + t * t));
}

/* Sum of squares of x without two places over that of all. */
static double ratio_without(const double *x, size_t n, const size_t at[2], double ss_all)
{
	double origin = x[at[0] != 0 && at[1] != 0 ? 0 : at[0] != 1 && at[1] != 1 ? 1 : 2];
	double sum = 0, ss = 0, mean;

	for (size_t i = 0; i < n; i++)
		if (i != at[0] && i != at[1])
			sum += x[i] - origin;
	mean = sum / (double)(n - 2);
	for (size_t i = 0; i < n; i++)
		if (i != at[0] && i != at[1])
			ss += (x[i] - origin - mean) * (x[i] - origin - mean);
	return ss / ss_all;
}

#define DOUBLE_FIRST 4
#define DOUBLE_LAST  40

/*
 * 5 % and 1 %. p = 4..20 as printed, see the header. p = 21..40: quantiles of 1.2e7
 * simulated ratios each, standard error 0.0001 (5 %) and 0.0002 (1 %); the
 * same simulation meets the printed p = 4..20 within 0.0004.
 */
static const double double_critical[][2] = {
	{ 0.0002, 0.0000 }, { 0.0090, 0.0018 }, { 0.0349, 0.0116 }, { 0.0708, 0.0308 }, { 0.1101, 0.0563 },
	{ 0.1492, 0.0851 }, { 0.1864, 0.1150 }, { 0.2213, 0.1448 }, { 0.2537, 0.1738 }, { 0.2836, 0.2016 },
	{ 0.3112, 0.2280 }, { 0.3367, 0.2530 }, { 0.3603, 0.2767 }, { 0.3822, 0.2990 }, { 0.4025, 0.3200 },
	{ 0.4214, 0.3398 }, { 0.4391, 0.3585 }, { 0.4556, 0.3763 }, { 0.4711, 0.3926 }, { 0.4855, 0.4086 },
	{ 0.4994, 0.4235 }, { 0.5123, 0.4376 }, { 0.5245, 0.4510 }, { 0.5360, 0.4640 }, { 0.5471, 0.4761 },
	{ 0.5574, 0.4874 }, { 0.5672, 0.4986 }, { 0.5766, 0.5089 }, { 0.5857, 0.5192 }, { 0.5939, 0.5289 },
	{ 0.6022, 0.5380 }, { 0.6101, 0.5470 }, { 0.6175, 0.5553 }, { 0.6247, 0.5635 }, { 0.6315, 0.5714 },
	{ 0.6382, 0.5790 }, { 0.6445, 0.5863 },
};

double grubbs_double_critical(size_t p, int percent)
{
	if (p < DOUBLE_FIRST || p > DOUBLE_LAST || (percent != 5 && percent != 1))
		return NAN;
	return double_critical[p - DOUBLE_FIRST][percent == 1];
}

struct outlier_test grubbs_double_test(const double *x, size_t p, enum outlier_end end)
{
	struct outlier_test test = not_tested();
	size_t high[2], low[2];
	double ss, without_high, without_low;

	if (p < DOUBLE_FIRST || p > DOUBLE_LAST || values_range(x, p) == 0)
		return test;
	find_highest(high, x, p);
	find_lowest(low, x, p);
	ss = values_sum_of_squares(x, p);
	without_high = ratio_without(x, p, high, ss);
	without_low = ratio_without(x, p, low, ss);
	if (end == OUTLIER_EITHER)
		end = without_high <= without_low ? OUTLIER_HIGH : OUTLIER_LOW;
	for (int i = 0; i < 2; i++)
		test.index[i] = end == OUTLIER_HIGH ? high[i] : low[i];
	test.count = 2;
	test.statistic = end == OUTLIER_HIGH ? without_high : without_low;
	test.critical_5 = grubbs_double_critical(p, 5);
	test.critical_1 = grubbs_double_critical(p, 1);
	test.mark = mark_above(-test.statistic, -test.critical_5, -test.critical_1);
	return test;
}

/* Mean and standard deviation of the group means; NaN below two groups or where all are equal. */
static double spread_of_means(double *mean, const struct brew_summary *groups, size_t count)
{
	struct moments moments = MOMENTS_INIT;

	for (size_t i = 0; i < count; i++)
		if (groups[i].n > 0)
			moments_add(&moments, groups[i].mean);
	*mean = moments_mean(&moments);
	return moments.n >= 2 && moments.max > moments.min ? moments_sd(&moments) : NAN;
}

void mandel_h(double *h, const struct brew_summary *groups, size_t count)
{
	double mean, sd = spread_of_means(&mean, groups, count);

	for (size_t i = 0; i < count; i++)
		h[i] = groups[i].n == 0 ? NAN : (groups[i].mean - mean) / sd;
}

void mandel_k(double *k, const struct brew_summary *groups, size_t count)
{
	double sum = 0, p = 0;

	for (size_t i = 0; i < count; i++) {
		k[i] = brew_sd(&groups[i]);
		if (groups[i].n >= 2) {
			sum += k[i] * k[i];
			p++;
		}
	}
	for (size_t i = 0; i < count; i++)
		k[i] = sum > 0 ? k[i] * sqrt(p / sum) : NAN;
}

double mandel_h_limit(size_t p, double alpha)
{
	double n = (double)p, t;

	if (p < 3 || !is_level(alpha))
		return NAN;
	t = qt(alpha / 2, n - 2, 0, 0);
	return (n - 1) * t / sqrt(n * (t * t + n - 2));
}

double mandel_k_limit(size_t p, size_t n, double alpha)
{
	double groups = (double)p, df = (double)n - 1;

	if (p < 2 || n < 2 || !is_level(alpha))
		return NAN;
	return sqrt(groups / (1 + (groups - 1) / qf(alpha, df, (groups - 1) * df, 0, 0)));
}
