/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * drift.h: do readings or brews move with their order?
 *
 * A drift is a reason to change the procedure (wait, cover, zero again), not
 * to correct the readings.
 */
#ifndef DRIFT_H
#define DRIFT_H

#include <stddef.h>

struct slope_test {
	double slope; /* per unit of x */
	double se;
	double df;
	double t;
	double p; /* two-sided */
};

/*
 * One slope over all brews, each with its own level: stratum i holds
 * x, y[start[i] .. start[i+1]); start has strata + 1 elements. x NULL: the
 * reading's place in its brew, 1, 2, ... df = readings - strata with
 * readings - 1. NaN where df < 1 or x never varies within a brew. Where the
 * fit is perfect se is 0, t infinite (or NaN for slope 0), p 0 (or NaN).
 */
struct slope_test drift_pooled_slope(const double *x, const double *y, const size_t *start, size_t strata);

/* Least-squares slope of y[0..n) over x[0..n): the above with one stratum. For residuals over brewing order or time. */
struct slope_test drift_slope(const double *x, const double *y, size_t n);

/*
 * Power of the two-sided level-alpha test of the pooled slope to find a
 * drift of total size drift, first reading to last, in b brews of m readings with
 * standard deviation sd: noncentral t, both tails. NaN where df < 1.
 */
double drift_power(size_t m, size_t b, double drift, double sd, double alpha);

/*
 * Von Neumann's ratio, sum (x_{i+1} - x_i)^2 / sum (x_i - mean)^2; 2 is
 * expected, small means drift or carry-over. NaN below 2 or if all equal.
 * (von Neumann, Annals of Mathematical Statistics 12 (1941) 367-395.)
 */
double von_neumann_ratio(const double *x, size_t n);

/*
 * P(ratio <= c) for n independent normal values, the lower-tail p. n = 3
 * .. 60: by contour integration between the roots 2 - 2cos(pi k/n), good to
 * 1e-9 (Pan's method; Farebrother, Applied Statistics 29 (1980) 224-227).
 * Above: normal with mean 2 and variance 4(n-2)/(n^2-1). NaN below n = 3,
 * where the ratio has no spread.
 */
double von_neumann_p(size_t n, double c);

/* The c with von_neumann_p(n, c) = alpha. Not monotone in n; at n = 3 the floor is 1, which tells nothing. */
double von_neumann_critical(size_t n, double alpha);

#endif
