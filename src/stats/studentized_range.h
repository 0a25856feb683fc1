/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_STUDENTIZED_RANGE_H
#define BREWSPREAD_STUDENTIZED_RANGE_H

#include <stdbool.h>
#include <stddef.h>

/*
 * The studentized range Q: the range of k independent standard normal
 * values over an independent standard deviation with df degrees of freedom.
 *
 *   P(Q <= q) = E[ k int phi(z) (Phi(z) - Phi(z - qs))^(k-1) dz ],  s = sqrt(chi-square(df)/df)
 *
 * (H. O. Hartley, Biometrika 32 (1942) 334-348; J. W. Tukey 1953). k from 2
 * on, tried to 1,000 and above; df from 1 to infinity, fractions allowed.
 * Absolute error below 1e-12 against mpmath values for df >= 2; the upper
 * tail keeps about ten digits relative as well, as far as 1e-100.
 * NaN for k < 2, df <= 0, or a NaN argument. q <= 0 has cdf 0 and tail 1.
 */
double studentized_range_cdf(double q, size_t k, double df);

/* P(Q > q): the p-value of Tukey's test. */
double studentized_range_tail(double q, size_t k, double df);

/* Is P(Q > q) below alpha (0 < alpha < 1)? What studentized_range_tail() says, for a sixth of its cost unless q is near. */
bool studentized_range_tail_below(double q, size_t k, double df, double alpha);

/* The q with P(Q > q) = alpha, 0 < alpha < 1; NaN outside. Costs some ten tails. */
double studentized_range_critical(double alpha, size_t k, double df);

#endif
