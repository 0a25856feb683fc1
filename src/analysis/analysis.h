/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * analysis.h: everything that is computed of one run, once. Sheets, figures, texts and --json show it and compute
 * nothing. A number that can't be had is NaN, and beside it stands why.
 */
#ifndef BREWSPREAD_ANALYSIS_H
#define BREWSPREAD_ANALYSIS_H

#include "arena.h"
#include "blocks.h"
#include "budget.h"
#include "correction.h"
#include "faults.h"
#include "oneway.h"
#include "outliers.h"
#include "pairwise.h"
#include "run.h"
#include "settings.h"
#include "status.h"
#include "yield.h"

struct zero_line;

/* A reading of distilled water and the offset that it gave. */
struct zero_check {
	size_t reading; /* index into run->readings */
	struct zero_offset offset;
	double tds_percent; /* the offset as TDS on the scale of filter coffee: what it would add to a reading */
};

enum brew_flag {
	BREW_RETENTION_ODD = 1 << 0,    /* retained water negative, outside the usual, or far from the run's others */
	BREW_ESTIMATED = 1 << 1,        /* beverage not weighed */
	BREW_SPREAD_STRAGGLER = 1 << 2, /* its readings scatter more than the others' (Cochran, 5 %) */
	BREW_SPREAD_OUTLIER = 1 << 3,   /* … (Cochran, 1 %) */
	BREW_MEAN_STRAGGLER = 1 << 4,   /* far from the other brews of its treatment (Grubbs, 5 %) */
	BREW_MEAN_OUTLIER = 1 << 5,     /* … (Grubbs, 1 %) */
	BREW_FEW_READINGS = 1 << 6,     /* fewer than wanted */
	BREW_DRIFTING = 1 << 7,        /* each reading above, or below, the one before, by more than the limit in all */
	BREW_WRONG_DOSE_SIDE = 1 << 8, /* beverage heavier than the water that went in */
};

struct brew_result {
	size_t first, count; /* its readings: analysis->by_brew[first … first + count), in order of id */
	size_t used;         /* readings that count */
	size_t meters;       /* that made them */
	double tds_percent;  /* mean of them, corrected */
	double tds_sd; /* of the readings about the mean of their meter, with used - meters degrees of freedom; NaN at 0 */
	double tds_min, tds_max;
	double tds_drift; /* last less first of one meter's, the largest in size; NaN where none read twice */
	double temp_c;    /* mean of those told */
	double waited_s;  /* from brewing to the first reading; NaN: not known */
	struct yield yield;
	struct budget budget;           /* uncertainty of yield.yield_percent, points */
	double share[YIELD_QUANTITIES]; /* of budget.u², per cent, by input */
	double response;                /* the value compared; NaN: can't be had, see why */
	const char *why;                /* why it has no response, as the end of a sentence; NULL where it has one */
	double yield_per_tds;           /* points of yield that 1 % TDS more in its readings would make */
	double mandel_h;                /* its value against the other brews of its treatment; NaN below three */
	double mandel_k;                /* its readings' spread against the pooled one */
	enum outlier_mark h_mark,
		k_mark; /* beyond the 5 % or the 1 % limit of h and k, for its number of brews or readings */
	unsigned flags; /* enum brew_flag */
};

/* Tests for brews that lie apart from the others of their treatment (outliers.h); NaN: too few brews for a test. */
struct apart {
	double grubbs, grubbs_5, grubbs_1; /* single test: apart above */
	double pair, pair_5, pair_1;       /* double test: apart below */
	double h_most, h_5, h_1;           /* Mandel's h: the largest in size; apart beyond */
};

struct treatment_result {
	size_t brews;    /* with a response */
	double mean;     /* of the response over brews */
	double adjusted; /* mean with the differences of rounds taken out; NaN unless comparison.blocked */
	double sd;       /* between brews; NaN below two */
	double min, max;
	double lower, upper; /* interval of the mean, from the pooled spread; NaN where there is none */
	double tds_percent;  /* mean over brews */
	double tds_sd;
	double retained_per_g;
	double brew_time_s;
	struct apart apart;
	char letters[32]; /* "a", "bc"; "" where no letters can be given */
};

/* Samples that their correction says something of. */
struct corrected_samples {
	size_t far;          /* CORRECTION_FAR_FROM_ZERO */
	size_t without_temp; /* CORRECTION_NO_TEMPERATURE */
	size_t beyond;       /* CORRECTION_EXTRAPOLATED */
	double worst;        /* possible_error_percent of those without a temperature, the largest */
};

/* Spread of the readings of one cup by one meter. */
struct repeatability {
	double s_r; /* pooled, % TDS; NaN without a cup read twice by one meter, unless the settings know of earlier runs */
	double df;
	double lower, upper; /* interval of s_r */
	double limit;        /* two readings of one cup differ by no more in 95 of 100 cases */
	double step;         /* of the display, % TDS */
	double claimed;      /* the larger of s_r and what rounding hides */
	bool step_limited;   /* the display's step, not the meter, sets the spread */
	bool from_history;   /* s_r and df are those of earlier runs: no cup was read twice */
	double yield_s_r;    /* s_r in yield points, at the run's mean beverage/dose */
	double yield_limit;
	size_t cups;                          /* with two readings or more by one meter */
	double cochran, cochran_5, cochran_1; /* NaN: not tested */
	size_t cochran_brew;                  /* the brew that scatters most */
	double k_limit_5;                     /* of mandel_k at 5 %, for the commonest number of readings; NaN */
	double k_limit;                       /* … at 1 % */
	double drift;                         /* % TDS per further reading by a meter, pooled over cups; NaN */
	double drift_p;
};

enum spread_source {
	SPREAD_NONE,    /* one brew each and nothing known from before */
	SPREAD_RUN,     /* brews of one treatment in this run */
	SPREAD_HISTORY, /* known from earlier runs; the verdicts are provisional */
};

struct response {
	const char *name;            /* "yield", "TDS", or the column's */
	const char *unit;            /* "%", "g/g", as in the header; "" */
	const char *difference_unit; /* "points", or the unit */
	int decimals;                /* that its uncertainty warrants */
	bool is_yield;
	double margin; /* in its unit; NaN: not set for this response */
};

enum { PAIRS_SHOWN_TREATMENTS = 60 }; /* above, only pairs of neighbours in rank and pairs with the control are kept */

struct comparison {
	struct response response;
	enum spread_source source;
	size_t compared; /* treatments with a value */
	double s_brew;   /* spread between brews of one treatment, incl. what readings add; NaN */
	double s_brew_df;
	double s_brew_lower, s_brew_upper;
	double step_u; /* standard uncertainty that the display's step leaves in a treatment's mean; 0: none to speak of */
	double scale_u; /* … that one scale's stated accuracy makes in a yield; 0: one scale, or no accuracy stated */
	struct oneway oneway; /* on brew values; NaN where one brew each */
	bool blocked;         /* brewed in rounds, and judged within them: the rows below hold instead of oneway's */
	bool block_adjusted; /* differences are not those of the plain means, since not every round has every treatment */
	struct blocks_row block_row, treatment_row, residual_row; /* rounds; treatments after rounds; the rest */
	double tukey_factor;       /* half width of a pair's interval over its standard error */
	struct pair_result *pairs; /* all pairs, or those kept; of treatments, by index */
	size_t pair_count;
	bool pairs_limited;
	size_t control;              /* index of the treatment; SIZE_MAX: none */
	struct pair_result *against; /* every other treatment with the control */
	size_t against_count;
	size_t *settle;         /* parallel to pairs: brews a treatment that would settle an open one; 0: not known */
	size_t *against_settle; /* parallel to against */
	double smallest_seen;   /* difference that this design finds with the wanted power; NaN */
	bool letters;           /* treatments[].letters are filled in */
	double meter_limit;     /* one brew each: differences beyond it exceed the meter's repeatability alone; NaN */
	double h_limit;         /* of mandel_h at 1 %, for the treatment with most brews; NaN */
	double levene_p;        /* Brown–Forsythe on brew values, or on what rounds leave of them; NaN */
	double welch_p;
	size_t spread_left_out;      /* treatments with too few brews for the first */
	struct pair_result *unequal; /* Games–Howell, parallel to pairs; NULL where not asked for by the spreads */
};

/* A variance of single readings, in the unit of the response, squared. */
struct component {
	double variance; /* 0: not distinguishable from 0; NaN: can't be had */
	double df; /* Satterthwaite; of the brews never above that of brews within treatments; NaN where it is 0 */
	double lower, upper; /* its interval; NaN: none */
	double share;        /* of the variance of one brew's value, the mean of its readings, % */
};

/*
 * The model reading = treatment (+ round) + brew + reading, for description, planning and comparing with earlier runs; verdicts are
 * taken on brew values instead (nested.h). Intervals are exact where every cup is read equally often; else they are those of
 * unweighted brew values (Thomas and Hultquist, Annals of Statistics 6 (1978) 582-587).
 */
struct components {
	bool known;
	bool by_reml;   /* else by analysis of variance */
	bool brew_zero; /* brewing adds nothing that can be told from the scatter of readings */
	struct component brew, reading;
	double readings_each;            /* of a cup: harmonic mean */
	double share_lower, share_upper; /* interval of brew.share, % */
};

enum topic {                 /* the order is that of the Summary sheet and of the terminal */
	     TOPIC_RESULT,   /* verdicts */
	     TOPIC_METER,    /* repeatability, zero, temperature */
	     TOPIC_FAIRNESS, /* was the comparison fair */
	     TOPIC_DATA,     /* missing, unjoined, flagged, excluded */
	     TOPIC_COVARIATE,
	     TOPICS
};

/* A finding in plain words, fit to be published by a careful reader. */
struct sentence {
	enum topic topic;
	enum severity severity;
	const char *text;
	double size; /* how large, in the response's unit; NaN: has no size */
};

/* A source of the yield's uncertainty, for the brew nearest to the run's mean. */
struct budget_row {
	const char *name;
	double u; /* in the unit of its input */
	const char *unit;
	double share;  /* of the variance, % */
	double points; /* yield points that it alone makes */
	bool common;   /* falls out in a difference between brews of this run */
};

/* A numeric column against the treatments' means. */
struct covariate {
	size_t column; /* index into run->columns */
	size_t n;      /* treatments with both */
	double *x;     /* mean of the column over the treatment's brews, parallel to treatments; NaN */
	double pearson, pearson_p;
	double spearman, spearman_p;
	double kendall, kendall_p;
	double holm_p;           /* kendall_p, adjusted for the columns tried */
	double slope, intercept; /* Theil–Sen: response per unit of the column */
	double smallest_p;       /* that so few treatments can give */
};

struct analysis {
	const struct run *run;           /* lent */
	const struct settings *settings; /* lent */
	double *tds_percent;          /* of run->readings, corrected; NaN: can't be had. The steps: correct_steps() */
	struct zero_line *zero_lines; /* parallel to run->meters: what correct.c took from their zero checks */
	double filter_factor;         /* TDS per °Brix of a sample that no brew gives a type */
	uint32_t *by_brew;            /* indices of joined readings, brew by brew */
	double *cup_values;           /* corrected % TDS of those that count, in that order */
	size_t *strata; /* where in cup_values the readings of one cup by one meter begin; one more than strata_count */
	size_t strata_count;
	struct zero_check *zeros;
	size_t zero_count;
	struct brew_result *brews;           /* parallel to run->brews */
	struct treatment_result *treatments; /* parallel to run->treatments */
	size_t *ranked;                      /* treatment indices from the largest mean down; those without one last */
	struct repeatability repeatability;
	struct comparison comparison;
	struct components components;
	struct covariate *covariates;
	size_t covariate_count;
	struct budget_row *budget_rows;
	size_t budget_row_count;
	size_t budget_brew;         /* the brew it is of */
	double montecarlo_u;        /* of that brew's yield, by simulation; NaN */
	struct sentence *sentences; /* topic by topic */
	size_t sentence_count;
	size_t readings_used, readings_excluded, readings_unjoined, readings_out_of_range;
	struct corrected_samples samples;
	struct arena memory;
};

/*
 * Computes all of it. run and settings are lent for as long as the analysis lives.
 * STATUS_INVALID: settings name a control or a response that the run has not; error says which there are.
 * STATUS_MEMORY. *out is then NULL. The caller's: analysis_free().
 */
enum status analysis_make(struct analysis **out, const struct run *run, const struct settings *settings,
                          struct error *error) MUST_USE;

/* Takes NULL. */
void analysis_free(struct analysis *analysis);

#endif
