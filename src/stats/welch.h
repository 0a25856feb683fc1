/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_WELCH_H
#define BREWSPREAD_WELCH_H

#include "describe.h"

#include <stddef.h>

/*
 * Comparisons that do not assume equal spreads. Groups are brew means.
 * Sources: B. L. Welch, Biometrika 34 (1947) 28-35 (two groups) and 38 (1951) 330-336 (several).
 */
struct welch_anova {
	double f;
	double df1;
	double df2;
	double p;
};

/*
 * All NaN unless there are at least two groups, each with n >= 2 and a
 * spread above 0: a group without spread would get infinite weight.
 */
struct welch_anova welch_anova(const struct group_summary *groups, size_t k);

struct welch_t {
	double difference; /* mean of a less mean of b */
	double standard_error;
	double t;
	double df;
	double p;     /* two-sided */
	double lower; /* interval of the difference, at the level asked for */
	double upper;
};

/*
 * Two groups. Everything but difference is NaN where a group has n < 2 or
 * neither has any spread. level such as 0.95.
 */
struct welch_t welch_t(const struct group_summary *a, const struct group_summary *b, double level);

/* (v_a + v_b)^2 / (v_a^2/(n_a - 1) + v_b^2/(n_b - 1)), v = sd^2/n; NaN as above. */
double welch_df(const struct group_summary *a, const struct group_summary *b);

#endif
