/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * gauge.h: which share of a meter's spread comes from the reading, the day,
 * the set-up, the operator, and whether the meter can tell samples apart.
 */
#ifndef GAUGE_H
#define GAUGE_H

#include <stddef.h>

#include "brew_summary.h"

/* One day's readings of one artefact (a check standard, a wafer) in one run. */
struct gauge_day {
	size_t artefact; /* index from 0 */
	size_t run;      /* index from 0 */
	size_t n;        /* readings that day */
	double mean;
	double sd; /* of the readings; not used where n < 2 */
};

struct gauge_levels {
	double s1, df1;   /* 1, repeatability: within a day */
	double s2, df2;   /* 2, reproducibility: daily means within run and artefact */
	double s3, df3;   /* 3, stability: run means within artefact */
	double var_day;   /* s2^2 - s1^2/J, J the readings a day; raw, may be negative */
	double var_run;   /* s3^2 - s2^2/K, K the days a run; raw */
	double s_reading; /* sqrt(var_run + var_day + s1^2), negatives as 0: one reading on one day */
};

/*
 * The three levels of the NIST/SEMATECH e-Handbook, 2.4.4, pooled over
 * artefacts. Any number of runs; J and K are harmonic means where unequal.
 * A level without degrees of freedom is NaN. O(count * artefacts * runs)
 * at worst; artefacts and runs are one more than the largest index.
 */
struct gauge_levels gauge_levels_of(const struct gauge_day *days, size_t count, size_t artefacts, size_t runs);

struct gauge_days {
	size_t days;
	double mean;    /* of the day means */
	double s_means; /* standard deviation of the day means */
	double s_a;     /* between: sqrt(n) s_means */
	double df_a;    /* days - 1 */
	double s_b;     /* within, pooled */
	double df_b;
	double f; /* s_a^2 / s_b^2 */
	double p;
	double u_mean;        /* of the grand mean, day effect included: s_means / sqrt(days), df_a */
	double u_mean_pooled; /* if days did not differ: all readings pooled */
	double df_pooled;
	double var_day; /* (s_a^2 - s_b^2) / n, raw */
};

/*
 * GUM (JCGM 100:2008) H.5: one artefact, equal n readings on each of several days. Unequal
 * n or fewer than two days or readings: all but days and mean are NaN.
 */
struct gauge_days gauge_days_of(const struct brew_summary *days, size_t count);

/* Samples x operators, each pair read several times. */
struct gauge_crossed {
	double ms_sample, ms_operator, ms_interaction, ms_reading;
	double df_sample, df_operator, df_interaction, df_reading;
	double var_sample; /* raw ANOVA estimates, may be negative */
	double var_operator;
	double var_interaction;
	double var_reading;
	double s_sample;          /* negatives as 0 from here on */
	double s_repeatability;   /* sqrt(var_reading) */
	double s_reproducibility; /* sqrt(var_operator + var_interaction) */
	double s_gauge;           /* both */
	double share_gauge;       /* s_gauge^2 / (s_gauge^2 + s_sample^2) */
	double categories;        /* gauge_categories(s_sample, s_gauge) */
};

/*
 * Two-way random ANOVA, balanced: cells[sample * operators + operator],
 * each with the same n >= 2. Anything else (or fewer than two samples or
 * operators): all NaN.
 */
struct gauge_crossed gauge_crossed_of(const struct brew_summary *cells, size_t samples, size_t operators);

/*
 * How many kinds of sample the meter can tell apart: floor(sqrt(2) s_sample
 * / s_gauge), at least 1; 5 or more is wanted (Burdick, Borror and
 * Montgomery, J. Quality Technology 35 (2003) 342-354; common practice).
 * Infinite for s_gauge 0 and s_sample > 0; NaN where both are 0 or either is NaN or negative.
 */
double gauge_categories(double s_sample, double s_gauge);

#endif
