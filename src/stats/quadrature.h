/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_QUADRATURE_H
#define BREWSPREAD_QUADRATURE_H

#include <stdbool.h>

/*
 * The quadrature behind the studentized range, Dunnett and non-central t
 * probabilities: each is the mean of some probability over the random
 * scale s = sqrt(chi-square(df)/df) of an estimated standard deviation.
 *
 * In x = log s the density of s is analytic and falls off doubly
 * exponentially to the right, as exp(df x) to the left. For such
 * integrands the trapezoidal rule converges geometrically (L. N. Trefethen
 * and J. A. C. Weideman, SIAM Review 56 (2014) 385-458): no tables of nodes.
 */

/* Above this many degrees of freedom a standard deviation counts as known. */
#define DF_KNOWN 1e10

/* A probability given the scale: w = (argument times s). Must be within [0, 1] and smooth. */
typedef double kernel_fn(const void *context, double w);

#define SCALE_STEP 0.16

struct scale_mean {
	kernel_fn *kernel;
	const void *context;
	double df;       /* > 0, infinity allowed: then the result is kernel(argument) */
	double argument; /* the kernel gets argument times s */
	/* Largest step in log s that the kernel bears: SCALE_STEP where it is as smooth as one normal probability. */
	double step;
	/*
	 * Where the kernel is a small upper tail: kernel(w) <= count exp(-(rate w)^2 / 2).
	 * The nodes are then laid where the product is large, so the tail keeps
	 * its relative accuracy. A count of infinity, or a rate of 0: no such bound is known.
	 */
	double count;
	double rate;
	bool rough; /* twice the steps: four digits, for a sixth of the cost */
};

/*
 * Mean of kernel(argument s) over s; error about 1e-13 (rough: 2e-4) of the largest
 * possible kernel value, relative where a bound is given. NaN for df that is
 * not positive. Below one degree of freedom it grows slow, not wrong.
 */
double scale_mean(const struct scale_mean *mean);

/*
 * Solves tail(context, x) = p for x > 0, tail falling from at least p at 0
 * towards 0: safeguarded secant steps on the logarithm of the tail, to a
 * relative 1e-12 of x. start is a guess. NaN unless 0 < p < 1, or where no x below 1e300 is found.
 */
typedef double tail_fn(const void *context, double x);

double tail_solve(tail_fn *tail, const void *context, double p, double start);

/*
 * Is a tail below alpha? rough and exact give it, with the errors above: the second is asked only where the first is too
 * near to alpha to tell.
 */
struct tail_pair {
	tail_fn *rough;
	tail_fn *exact;
};

bool tail_below(const struct tail_pair *tail, const void *context, double x, double alpha);

/* Standard normal density, distribution and upper tail. */
double normal_density(double z);
double normal_lower(double z);
double normal_upper(double z);

#endif
