/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_POWER_H
#define BREWSPREAD_POWER_H

#include <stddef.h>

/*
 * What a design can show: power, brews needed, smallest difference found.
 *
 * n is brews per treatment and may be a fraction where a design is being
 * solved for. effect is a difference over the standard deviation of one
 * brew mean (paired: of one difference). alpha is two-sided.
 * NaN where an argument is out of its range.
 */

/*
 * P(T > t) of the non-central t distribution: E[Phi(ncp - t s)], by the
 * quadrature of quadrature.h; absolute error below 1e-13.
 */
double noncentral_t_tail(double t, double df, double ncp);

/*
 * The non-centrality at which P(T > critical) is power: times the standard error of a difference it is the difference that a
 * test with that critical value finds with that chance, whatever family the critical value is for. NaN unless critical > 0,
 * df > 0 and 0 < power < 1.
 */
double power_shift(double critical, double df, double power);

/*
 * P(F > f) of the non-central F distribution, as a Poisson mixture of
 * incomplete beta functions (Johnson, Kotz and Balakrishnan, Continuous
 * Univariate Distributions 2, ch. 30). ncp >= 0; above 1e7 it is taken as 1e7, a lower bound.
 */
double noncentral_f_tail(double f, double df1, double df2, double ncp);

enum power_test { POWER_TWO_SAMPLE, POWER_PAIRED };

/*
 * Power of the two-sided t test with n > 1 brews per treatment (pairs).
 * Only findings in the direction of the effect count: the other tail, a
 * finding with the wrong sign, is no success. power_t_strict counts it.
 */
double power_t(enum power_test test, double n, double effect, double alpha);
double power_t_strict(enum power_test test, double n, double effect, double alpha);

/* Fractional n of power_t; NaN if 1.0001 to 1e9 does not hold it. effect > 0, alpha < power < 1. Round up. */
double power_t_n(enum power_test test, double effect, double power, double alpha);

/* The effect found with that power; times the standard deviation of a brew mean it is a difference. */
double power_t_effect(enum power_test test, double n, double power, double alpha);

/*
 * One-way analysis of variance, k treatments of n brews each;
 * variance_ratio: variance of the true treatment means (divisor k - 1) over that within.
 */
double power_oneway(size_t k, double n, double variance_ratio, double alpha);
double power_oneway_n(size_t k, double variance_ratio, double power, double alpha);

/* Variance of the mean of m readings of one brew: sd_brew^2 + sd_reading^2/m. NaN if m is 0. */
double brew_mean_variance(double sd_brew, double sd_reading, size_t m);

/* Difference found with that power by b brews per treatment, m readings each, two treatments. */
double detectable_difference(size_t b, size_t m, double sd_brew, double sd_reading, double power, double alpha);

struct readings_plan {
	double real;                /* sqrt(cost_brew/cost_reading) sd_reading/sd_brew */
	size_t whole;               /* the better neighbour, at least 1 */
	double variance_times_cost; /* (sd_brew^2 + sd_reading^2/m)(cost_brew + m cost_reading) at whole */
};

#define READINGS_MOST 1000

/*
 * Readings per brew that give the most exact comparison for the money (or
 * time). Costs > 0, spreads >= 0, else NaN and 0. sd_brew 0: real is infinite
 * and whole READINGS_MOST, which is also the cap elsewhere. With 1 reading
 * per brew the spread of the readings stays unknown: keep 2 somewhere.
 */
struct readings_plan readings_best(double sd_brew, double sd_reading, double cost_brew, double cost_reading);

struct brew_plan {
	size_t brews;    /* per treatment; 0: none found within BREWS_PLAN_MOST */
	size_t readings; /* per brew */
	double power;
	double cost; /* per treatment */
};

#define BREWS_PLAN_MOST 10000

struct plan_query {
	double difference; /* > 0, to be found */
	double power;
	double alpha;
	double sd_brew;
	double sd_reading;
	double cost_brew;
	double cost_reading;
	size_t readings_most; /* readings per brew to consider: 1 to this */
};

/* The cheapest brews and readings that reach the power in a two-sample t test; of equal cost the one with more brews. */
struct brew_plan plan_cheapest(const struct plan_query *query);

#endif
