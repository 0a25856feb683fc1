/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * precision.h: how close readings lie within a group and across groups.
 *
 * ISO 5725-2:1994, 7.4, for any n per group; the summary of ASTM E691 as
 * the same quantities under its names. In a run the groups are brews of
 * one treatment (or all brews, for the spread of readings alone).
 */
#ifndef PRECISION_H
#define PRECISION_H

#include <stdbool.h>
#include <stddef.h>

#include "brew_summary.h"

/*
 * Two readings of one cup differ by no more than this many s_r in 95 of
 * 100 cases: 1.959964 * sqrt(2). ISO 5725-6 and ASTM E691 print it as 2.8;
 * this program says 2.77.
 */
#define PRECISION_LIMIT_EXACT   2.771807648699355
#define PRECISION_LIMIT_PRINTED 2.8

struct precision {
	size_t groups;          /* with at least one reading: p */
	size_t readings;        /* N */
	double mean;            /* of all readings */
	double nbar;            /* (N - sum n^2 / N) / (p - 1), the n that counts for s_L */
	double ms_within;       /* s_r^2 */
	double ms_between;      /* s_d^2 */
	double var_between_raw; /* s_L^2 before a negative one is set to 0 */
	double s_r;             /* repeatability */
	double s_L;             /* between groups; 0 means "not distinguishable from 0" */
	double s_R;             /* both together: one reading of a new group */
	double df_r;            /* N - p */
	double df_R;            /* Satterthwaite; NaN where s_L was set to 0 */
	double r_limit;         /* PRECISION_LIMIT_EXACT * s_r */
	double R_limit;         /* PRECISION_LIMIT_EXACT * s_R */
	double s_means;         /* standard deviation of the group means, unweighted (E691's s of the cell averages) */
};

/*
 * One group: everything between groups is NaN, s_r is still there. No
 * group of two readings: s_r and all that follow from it are NaN.
 */
struct precision precision_of(const struct brew_summary *groups, size_t count);

struct sd_claim {
	double sd;       /* the spread that can be claimed: the larger of s and step / sqrt(12) */
	double rounding; /* step / sqrt(12): the spread that rounding alone hides (GUM F.2.2.1) */
	bool limited;    /* s < step: the display, not the instrument, shows in these readings */
};

/* step is the display's last digit, in the unit of s; 0 or NaN: unknown, s is taken as it is. s NaN: the rounding. */
struct sd_claim sd_claimable(double s, double step);

/*
 * Standard uncertainty that the display's rounding leaves in the mean of however many values that scatter by s (normally,
 * before rounding), when where the mean lies between two steps is not known. Rounding adds to x the sawtooth
 * Σ (-1)^i step/(πi) sin(2πi x/step); averaging over the scatter takes its i-th term down by exp(-2(πi s/step)²), and this is
 * the root mean square of the rest over a step: step/sqrt(12) for s = 0, a fifteenth of a step for s of a quarter, nothing to
 * speak of from half a step on. 0 where step is not above 0; s NaN or below 0 counts as 0.
 */
double rounding_left(double s, double step);

/* The scatter before rounding, from that of rounded values (Sheppard's correction): sqrt(s² - step²/12), not below 0. */
double sd_before_rounding(double s, double step);

#endif
