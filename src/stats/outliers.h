/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * outliers.h: tests that mark a suspicious group or value. They mark; they
 * never remove.
 *
 * ISO 5725-2:1994, 7.3 and annex A: a statistic beyond its 5 % critical
 * value but not the 1 % one is a straggler (printed *), beyond the 1 % one
 * an outlier (**). Critical values where a closed form exists: Wilrich,
 * Adv. Stat. Anal. (2011), doi 10.1007/s10182-011-0185-y.
 */
#ifndef OUTLIERS_H
#define OUTLIERS_H

#include <stddef.h>

#include "brew_summary.h"

enum outlier_mark {
	OUTLIER_NOT_TESTED, /* too few values, all equal, or beyond the table */
	OUTLIER_NONE,
	OUTLIER_STRAGGLER,  /* beyond 5 %, not 1 % */
	OUTLIER_STATISTICAL /* beyond 1 %: "statistical outlier" */
};

enum outlier_end {
	OUTLIER_HIGH,  /* the largest value or values */
	OUTLIER_LOW,   /* the smallest */
	OUTLIER_EITHER /* whichever lies further from the mean (single) or gives the smaller ratio (double) */
};

enum outlier_sides {
	OUTLIER_TWO_SIDED, /* ISO 5725: either end could have been the one; alpha / (2p) at each */
	OUTLIER_ONE_SIDED  /* the end was chosen before the data were seen; alpha / p */
};

struct outlier_test {
	enum outlier_mark mark;
	double statistic;
	double critical_5; /* 5 % */
	double critical_1; /* 1 % */
	size_t index[2];   /* the value or values in question, in the caller's array */
	size_t count;      /* how many of index are set: 0, 1 or 2 */
};

/*
 * Cochran's C, the largest variance over the sum of variances, of the
 * groups with two readings or more; its critical value is taken for the
 * commonest n (the smaller of two equally common), as ISO 5725-2 does for
 * nearly equal n. Not tested below two such groups or where every variance
 * is 0 (statistic NaN).
 */
struct outlier_test cochran_test(const struct brew_summary *groups, size_t count);

/*
 * Upper critical value of C for p groups of n readings at level alpha:
 * 1 / (1 + (p - 1) / F), F the upper alpha/p point of F(n-1, (p-1)(n-1)).
 * NaN for p < 2, n < 2 or alpha outside (0, 1).
 */
double cochran_critical(size_t p, size_t n, double alpha);

/*
 * Grubbs' single test, G = |extreme - mean| / s, of x[0..p), the group
 * means in ISO 5725. Not tested below 3 values or where all are equal.
 */
struct outlier_test grubbs_single_test(const double *x, size_t p, enum outlier_end end, enum outlier_sides sides);

/*
 * Critical value of the single test: (p-1)/sqrt(p) * sqrt(t^2/(p-2+t^2)), t
 * the upper alpha/(2p) (two-sided) or alpha/p (one-sided) point of t(p-2).
 * ISO's "5 %" is the two-sided one. NaN for p < 3 or alpha outside (0, 1).
 */
double grubbs_single_critical(size_t p, double alpha, enum outlier_sides sides);

/*
 * Grubbs' double test: sum of squares without the two highest (or lowest)
 * values over the sum of squares of all; small means suspicious. index[0]
 * is the more extreme. Not tested below 4 values, above 40 (the table's
 * end), or where all are equal.
 */
struct outlier_test grubbs_double_test(const double *x, size_t p, enum outlier_end end);

/*
 * Critical value of the double test, below which it rejects, at ISO
 * 5725-2's 5 % (percent = 5) or 1 % (percent = 1). No closed form: a table
 * for p = 4..40, NaN elsewhere. p = 4..20 as printed by ISO 5725-2:1994,
 * table 5 (the same numbers as Grubbs and Beck, Technometrics 14 (1972)
 * 847-854, one-sided 2.5 % and 0.5 %); p = 21..40 simulated, see the
 * comment at the table.
 */
double grubbs_double_critical(size_t p, int percent);

/*
 * Mandel's h of each group: (mean_i - mean of means) / s of the means. All
 * NaN below 2 groups or where all means are equal. h[0..count) is written;
 * a group of no readings gets NaN and does not count.
 */
void mandel_h(double *h, const struct brew_summary *groups, size_t count);

/*
 * Mandel's k of each group: s_i sqrt(p) / sqrt(sum of s_i^2) over the p
 * groups with two readings or more; the others get NaN, as do all where
 * every variance is 0.
 */
void mandel_k(double *k, const struct brew_summary *groups, size_t count);

/*
 * Limits at level alpha, for |h| and for k with n readings a group:
 * h (p-1)t/sqrt(p(t^2+p-2)), t the upper alpha/2 point of t(p-2);
 * k sqrt(p/(1+(p-1)/F)), F the upper alpha point of F(n-1, (p-1)(n-1)).
 * NaN for p < 3 (h), p < 2 or n < 2 (k), alpha outside (0, 1).
 */
double mandel_h_limit(size_t p, double alpha);
double mandel_k_limit(size_t p, size_t n, double alpha);

#endif
