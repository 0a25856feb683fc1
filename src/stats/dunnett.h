/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_DUNNETT_H
#define BREWSPREAD_DUNNETT_H

#include <stdbool.h>
#include <stddef.h>

/*
 * Several treatments against one control: the largest of m correlated
 * t values that share the control's mean and the standard deviation
 * (C. W. Dunnett, JASA 50 (1955) 1096-1121; Biometrics 20 (1964) 482-491).
 *
 * With lambda_i = sqrt(n_i/(n_i + n_0)) the correlation of two of them is
 * lambda_i lambda_j for any group sizes, and
 *
 *   P(all |T_i| <= c) = E[ int phi(z) prod_i (Phi((cs + l z)/r) - Phi((-cs + l z)/r)) dz ],
 *
 * l = lambda_i, r = sqrt(1 - l^2), s = sqrt(chi-square(df)/df). One-sided
 * leaves the second Phi out. Absolute error below 1e-11 for df >= 2.
 * lambda is lent: m values in [0, 1), m >= 1. df > 0, infinity allowed. Else NaN.
 * Equal neighbours in lambda are computed once: keep equal group sizes together.
 */
enum sides { SIDES_TWO, SIDES_ONE };

/* lambda_i of a treatment with n brews against a control with n_control; NaN if either is 0. */
double dunnett_lambda(size_t n, size_t n_control);

/* P(all |T_i| <= c), or P(all T_i <= c). */
double dunnett_cdf(double c, const double *lambda, size_t m, double df, enum sides sides);

/*
 * The complement: the adjusted p-value of a comparison whose t is c (for
 * SIDES_TWO its size). Keeps relative accuracy where small.
 */
double dunnett_tail(double c, const double *lambda, size_t m, double df, enum sides sides);

/* dunnett_tail for m treatments of equal size: lambda is that of each. */
double dunnett_tail_equal(double c, double lambda, size_t m, double df, enum sides sides);

/* Is that below alpha (0 < alpha < 1)? What dunnett_tail_equal() says, for a sixth of its cost unless c is near. */
bool dunnett_tail_equal_below(double c, double lambda, size_t m, double df, enum sides sides, double alpha);

/* The c with tail alpha; 0 < alpha < 1 (one-sided: below the tail at 0), else NaN. */
double dunnett_critical(double alpha, const double *lambda, size_t m, double df, enum sides sides);

#endif
