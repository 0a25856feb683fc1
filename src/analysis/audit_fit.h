/* SPDX-License-Identifier: GPL-3.0-or-later */
/* audit_fit.h: straight lines through streams of points. */
#ifndef BREWSPREAD_AUDIT_FIT_H
#define BREWSPREAD_AUDIT_FIT_H

#include "audit.h"

/* Sums about the means, so that a date far from 0 costs no digits. Zeroed: no point yet. */
struct fit_sums {
	size_t n;
	double mean_x, mean_y;
	double sxx, sxy, syy;
};

void fit_add(struct fit_sums *sums, double x, double y);

/* Adds the sums of other about its own means: one slope over several groups, each with its own level. */
void fit_pool(struct fit_sums *into, const struct fit_sums *other);

/*
 * The least-squares line on df degrees of freedom (n - 2 for one group). slope is NaN where x never varies; all that
 * rests on the residuals is NaN below df = 1.
 */
struct audit_line fit_line(const struct fit_sums *sums, double df, double confidence);

/* The upper (1 + confidence)/2 point of Student's t; NaN below df = 1. */
double fit_student(double confidence, double df);

#endif
