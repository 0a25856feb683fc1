/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_DESCRIBE_H
#define BREWSPREAD_DESCRIBE_H

#include <stddef.h>

/*
 * Describing a list of numbers: centre, spread, order statistics.
 *
 * All arrays are lent for the call. Units are those of the values (the
 * variance: their square). Values must be finite; a NaN among them makes
 * the result NaN or, where something is sorted, meaningless. Too few
 * values give NaN; each function says how many it needs.
 */

/* Readings or brew means of one group; the values stay the caller's. */
struct group_values {
	const double *values;
	size_t n;
};

/* One group told by its size, mean and standard deviation (divisor n - 1; NaN where n < 2). */
struct group_summary {
	size_t n;
	double mean;
	double sd;
};

/*
 * Running moments of a stream of values: memory does not grow with it.
 * Values are taken relative to the first one, so a large common offset
 * (10^7 with a spread of 0.1) costs no digits; the update is that of
 * B. P. Welford, Technometrics 4 (1962) 419-420, the merge that of Chan,
 * Golub and LeVeque, The American Statistician 37 (1983) 242-247.
 * Start with MOMENTS_INIT. Fields are for reading; offset is the mean
 * less origin, m2 the sum of squares about the mean.
 */
struct moments {
	size_t n;
	double origin;
	double offset;
	double m2;
	double min;
	double max;
};

#define MOMENTS_INIT                       \
	{                                  \
		0, 0.0, 0.0, 0.0, 0.0, 0.0 \
	}

void moments_add(struct moments *moments, double value);

/* Makes into what it would be had it seen the values of both. other is unchanged. */
void moments_merge(struct moments *into, const struct moments *other);

/* NaN if no value was added. */
double moments_mean(const struct moments *moments);

/* Divisor n - 1; NaN below two values. */
double moments_variance(const struct moments *moments);
double moments_sd(const struct moments *moments);

/* Sum with the compensation of A. Neumaier, ZAMM 54 (1974) 39-51. 0 if n is 0. */
double values_sum(const double *x, size_t n);

/* Arithmetic mean of x less origin: keeps the digits that a large offset would cost. NaN if n is 0. */
double values_mean_about(const double *x, size_t n, double origin);

/* Arithmetic mean. NaN if n is 0. */
double values_mean(const double *x, size_t n);

/*
 * Sum of squares about the mean by two passes, with the correction for
 * the rounded mean (Chan, Golub and LeVeque 1983, formula 1.7). NaN if n is 0.
 */
double values_sum_of_squares(const double *x, size_t n);

/* Divisor n - 1; NaN below two values. */
double values_variance(const double *x, size_t n);
double values_sd(const double *x, size_t n);

/* Size, mean and standard deviation in one. */
struct group_summary values_summary(const double *x, size_t n);

/* NaN if n is 0. */
double values_min(const double *x, size_t n);
double values_max(const double *x, size_t n);
double values_range(const double *x, size_t n);

/*
 * Quantile p in [0, 1] of x[0..n), sorted ascending; NaN if n is 0 or p is outside.
 * Linear between order statistics at 1 + (n-1)p: definition 7 of
 * Hyndman and Fan, The American Statistician 50 (1996) 361-365.
 */
double quantile_sorted(const double *x, size_t n, double p);

/* Median; scratch holds n values and is overwritten, x is not. NaN if n is 0. */
double values_median(const double *x, size_t n, double *scratch);

/*
 * Median of the absolute deviations from the median, unscaled; scratch as
 * for values_median. NaN if n is 0. Where median is not NULL, it receives the median.
 */
double values_mad(const double *x, size_t n, double *scratch, double *median);

/*
 * Modified z-score 0.6745 (x - median)/mad; beyond 3.5 in size the value is
 * suspect (B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers,
 * ASQC 1993). 0 where x is the median; infinite where mad is 0 and x is not.
 */
double robust_z(double x, double median, double mad);

/*
 * Spread pooled over groups. Start with POOLED_INIT, add each group's sum
 * of squares about its own mean with its n - 1; df of 0 adds nothing.
 */
struct pooled {
	double sum_of_squares;
	double df;
};

#define POOLED_INIT      \
	{                \
		0.0, 0.0 \
	}

void pooled_add(struct pooled *pooled, double sum_of_squares, double df);

/* NaN while there are no degrees of freedom. */
double pooled_sd(const struct pooled *pooled);

struct interval {
	double lower;
	double upper;
};

/*
 * Interval of a standard deviation with df degrees of freedom, from
 * chi-square: sd sqrt(df / quantile). level is that of the interval
 * (0.95); both ends NaN unless sd >= 0, df > 0 and 0 < level < 1.
 */
struct interval sd_interval(double sd, double df, double level);

/* A value and where it stood: for sorting that has to find the way back. */
struct ranked {
	double value;
	size_t index;
};

/* Sorts ascending by value, equal ones by index. */
void ranked_sort(struct ranked *x, size_t n);

#endif
