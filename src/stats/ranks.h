/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * ranks.h: does one column go with another, does a series rise or fall,
 * with p values that hold for a handful of points.
 *
 * Every test carries the smallest two-sided p that its data could have
 * given: with four treatments 0.083, whatever the numbers say.
 */
#ifndef RANKS_H
#define RANKS_H

#include <stddef.h>

#define RANKS_SPEARMAN_EXACT 12   /* up to here Spearman's p is a full count, ties or none */
#define RANKS_KENDALL_EXACT  60   /* up to here Kendall's is where nothing is tied */
#define RANKS_KENDALL_TIED   9    /* up to here it is with ties, and a brew's own readings are permuted */
#define RANKS_SUM_EXACT      1000 /* largest sum of |S| that the pooled trend convolves exactly */

enum p_method {
	P_NONE,        /* too few points or a constant column: estimate and p are NaN */
	P_EXACT,       /* the whole null distribution, no ties */
	P_PERMUTED,    /* the whole permutation distribution of these very values, ties included */
	P_APPROXIMATE, /* a limiting distribution; which one stands at the function */
};

struct association {
	double estimate;   /* r, rho, tau-b or S; NaN where the data allow none */
	double p;          /* two-sided: P(|T| >= |observed|) under no association */
	double p_greater;  /* one-sided, P(T >= observed) */
	double p_smallest; /* the smallest two-sided p that this many points (and these ties) can give */
	enum p_method method;
	size_t n;
};

/*
 * Ranks of x[0..n) from 1, ties sharing their mean, times two so that they
 * are whole numbers, into doubled[0..n). O(n^2).
 */
void ranks_doubled(int *doubled, const double *x, size_t n);

/*
 * Pearson's r; p from t = r sqrt((n-2)/(1-r^2)) on n - 2 degrees of freedom
 * (P_APPROXIMATE: exact for normal errors only). p_smallest is 0 from n =
 * 3 on. NaN below 3 points or where a column is constant.
 */
struct association pearson_test(const double *x, const double *y, size_t n);

/* Smallest |r| that is significant two-sided at alpha: t / sqrt(n - 2 + t^2); NaN below n = 3. */
double pearson_critical(size_t n, double alpha);

/*
 * Spearman's rho on mean ranks. n <= RANKS_SPEARMAN_EXACT: every one of the
 * n! arrangements counted (P_EXACT, with ties P_PERMUTED), by halves, no
 * series. Above: t approximation on n - 2 degrees of freedom. NaN below 3
 * points (2 points always lie on a line) or where a column is constant.
 */
struct association spearman_test(const double *x, const double *y, size_t n);

/*
 * Kendall's tau-b. No ties and n <= RANKS_KENDALL_EXACT: exact recursion.
 * Ties and n <= RANKS_KENDALL_TIED: all arrangements. Else normal, S with
 * continuity correction and the variance for ties (Kendall, "Rank
 * Correlation Methods", chapter 4). NaN as Spearman's.
 */
struct association kendall_test(const double *x, const double *y, size_t n);

/* P(S >= s) for n untied points, exact; s may be any whole number. n up to RANKS_KENDALL_EXACT, else NaN. */
double kendall_exact_upper(size_t n, long s);

/* P(sum of squared rank differences <= d) for n <= RANKS_SPEARMAN_EXACT untied points, exact; else NaN. */
double spearman_exact_lower(size_t n, long d);

struct theil_sen {
	double slope;     /* median of (y_j - y_i) / (x_j - x_i) over pairs with x_j != x_i */
	double intercept; /* median of y - slope x */
	double lower;     /* of the slope's interval, from Kendall's distribution (Sen, JASA 63 (1968) 1379-1389) */
	double upper;
	double level; /* the interval's real level, at least the one asked for; 1 with infinite ends where none is */
};

/*
 * work[0..n(n-1)/2 + n) is scratch space. The interval uses the exact
 * distribution up to RANKS_KENDALL_EXACT, the normal one above, as if
 * nothing were tied. NaN where no two x differ.
 */
struct theil_sen theil_sen_fit(const double *x, const double *y, size_t n, double level, double *work);

/*
 * Mann-Kendall: Kendall's S of y[0..n) against its order; estimate is S. n
 * = 2 allowed (p 1). Exact as kendall_test(); all equal: P_NONE, p NaN.
 */
struct association mann_kendall_test(const double *y, size_t n);

/*
 * The same pooled over brews: estimate is the sum of S over strata i, whose
 * readings in order are y[start[i] .. start[i+1]); start has strata + 1
 * elements. Null: the convolution of the strata's distributions, each by
 * the untied recursion or by permuting the stratum's own readings. Normal
 * with continuity correction where a tied stratum has more than
 * RANKS_KENDALL_TIED readings or the largest possible sum exceeds
 * RANKS_SUM_EXACT. n is the number of readings in strata of two or more.
 * P_NONE where no stratum has two different readings.
 */
struct association mann_kendall_pooled(const double *y, const size_t *start, size_t strata);

/*
 * Smallest |sum of S| whose two-sided p is at most alpha, for b untied
 * brews of m readings; 0 where none is reached. p at that value goes to *p
 * unless p is NULL. b m(m-1)/2 must not exceed RANKS_SUM_EXACT, m not 20.
 */
long mann_kendall_critical(size_t m, size_t b, double alpha, double *p);

#endif
