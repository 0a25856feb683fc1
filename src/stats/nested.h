/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * nested.h: reading = treatment (fixed) + brew within treatment (random) +
 * reading (random), from one summary a brew.
 *
 * For describing, comparing with history and planning. Verdicts on
 * treatments are taken on brew means elsewhere: where the brew component
 * is estimated as 0 a mixed model's degrees of freedom jump from brews to
 * readings, so every df of a difference or test here is capped at brews - treatments.
 *
 * A component estimated as 0 or below reads "not distinguishable from 0".
 * Formulas: Searle, Casella and McCulloch, "Variance Components" (1992),
 * chapters 3 (ANOVA) and 6 (REML); Satterthwaite, Biometrics Bulletin 2
 * (1946) 110-114; intervals Ting, Burdick, Graybill, Jeyaratnam and Lu,
 * J. Statistical Computation and Simulation 35 (1990) 135-143.
 *
 * A brew of no readings and a treatment of no brews are skipped. Brews may
 * stand in any order; brews[i].treatment must be below treatment_count.
 */
#ifndef NESTED_H
#define NESTED_H

#include <stdbool.h>
#include <stddef.h>

#include "brew_summary.h"
#include "describe.h"

/* One a treatment, the caller's array; each function says which members it fills. */
struct nested_treatment {
	size_t brews;
	size_t readings;
	double mean;          /* nested_anova(): of all readings. nested_reml(): generalised least squares */
	double se;            /* nested_reml(): standard error of mean */
	double df;            /* nested_reml(): Satterthwaite, capped */
	double weight;        /* nested_reml(): 1 / se^2 */
	double slope_brew;    /* nested_reml(): derivative of se^2 by var_brew */
	double slope_reading; /* nested_reml(): derivative of se^2 by var_reading */
	double score[2];      /* scratch of nested_reml() */
};

struct nested_anova {
	size_t treatments; /* t, those with brews */
	size_t brews;      /* B */
	size_t readings;   /* N */
	double mean;       /* of all readings */
	double ss_treatment;
	double ss_brew;
	double ss_reading;
	double df_treatment; /* t - 1 */
	double df_brew;      /* B - t */
	double df_reading;   /* N - B */
	double ms_treatment; /* each NaN where its df is 0 */
	double ms_brew;
	double ms_reading;
	double k1; /* E(ms_brew) = var_reading + k1 var_brew; NaN if B = t */
	double k2; /* E(ms_treatment) = var_reading + k2 var_brew + treatments; NaN if t = 1 */
	double var_reading;
	double var_brew_raw;     /* may be negative */
	double var_brew;         /* negative set to 0 */
	double var_total;        /* of one reading of a new brew: var_brew + var_reading */
	double df_total;         /* of var_total, Satterthwaite; not capped: it decides nothing about treatments */
	double f;                /* treatments against brews; NaN where the denominator is <= 0 or lacking */
	double f_denominator;    /* (k2/k1) ms_brew + (1 - k2/k1) ms_reading */
	double f_df_denominator; /* Satterthwaite, capped at B - t */
	double p;
};

/*
 * Analysis of variance (type 1, any numbers). Fills brews, readings and
 * mean of treatments[0..treatment_count).
 *
 * B = t (one brew each): ms_brew, k1, the brew component, f and p are NaN.
 * N = B (one reading each): ms_reading and both components are NaN, while
 * var_total = ms_brew on B - t degrees of freedom and f is the ordinary
 * one-way F on the brews. One treatment: ms_treatment, k2, f, p NaN.
 */
void nested_anova(struct nested_anova *out, struct nested_treatment *treatments, size_t treatment_count,
                  const struct brew_summary *brews, size_t brew_count);

/*
 * Intervals at the given level (0.95) of the two components. Reading:
 * chi-square. Brew: the modified large-sample interval, exact where the
 * readings' share is negligible, cut at 0; for unequal n it uses k1 and is
 * approximate. NaN where the component is.
 */
struct interval nested_interval_reading(const struct nested_anova *anova, double level);
struct interval nested_interval_brew(const struct nested_anova *anova, double level);

/*
 * Interval of var_brew / (var_brew + var_reading / k1): the brews' share of the variance of a brew's mean, 0 to 1. Exact for equal
 * n, from the F distribution of ms_brew / ms_reading (Searle, Casella and McCulloch 1992, section 3.5). NaN where the
 * component is, or where nothing varies.
 */
struct interval nested_interval_share(const struct nested_anova *anova, double level);

struct nested_reml {
	size_t treatments;
	size_t brews;
	size_t readings;
	double var_brew;
	double var_reading;
	double loglik;         /* restricted, with its (N - t) log 2 pi */
	double slope_at_zero;  /* of loglik by var_brew where var_brew = 0, at its best var_reading */
	bool at_boundary;      /* var_brew is 0 because no positive value is likelier */
	double information[3]; /* observed: brew-brew, brew-reading, reading-reading */
	double covariance[3];  /* its inverse; at the boundary only the reading's variance is not 0 */
	double df_cap;         /* B - t */
};

/*
 * Restricted maximum likelihood. Fills all of treatments. The likelihood's
 * derivative is searched over 24 decades of var_brew / var_reading and the
 * likeliest of its roots and of 0 is taken.
 *
 * B = t or N = B: the components cannot be told apart; they, loglik, se and
 * df are NaN, and mean is the treatment's mean of readings. No spread within any
 * brew (ss all 0, N > B): var_reading 0, var_brew the variance of the brew
 * means within treatments, loglik +infinity, df = B - t. No spread at all:
 * both 0 and every se 0.
 */
void nested_reml(struct nested_reml *out, struct nested_treatment *treatments, size_t treatment_count,
                 const struct brew_summary *brews, size_t brew_count);

struct nested_contrast {
	double estimate;
	double se;
	double df;          /* min(df_uncapped, brews - treatments) */
	double df_uncapped; /* Satterthwaite 2 v^2 / (g' H g), with H from the observed information */
};

/* Mean of treatment a minus that of b, from one nested_reml(); NaN where either has no brews. */
struct nested_contrast nested_difference(const struct nested_reml *fit, const struct nested_treatment *treatments,
                                         size_t a, size_t b);

/* Sum of weights[i] times mean i; a treatment of weight 0 plays no part, so may lack brews. */
struct nested_contrast nested_contrast(const struct nested_reml *fit, const struct nested_treatment *treatments,
                                       const double *weights, size_t treatment_count);

#endif
