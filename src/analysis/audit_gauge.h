/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_gauge.h: an instrument study: samples, operators, days, loads of the prism, readings. Which of them makes the
 * spread, how many kinds of sample the meter can tell apart, and how many readings and loads are worth taking.
 *
 *   reading = mean + sample + operator + sample × operator + day + load + reading, all random
 *
 * by restricted maximum likelihood (random_components.h), of those that the study can tell apart. Beside it what the
 * textbooks print: three levels (NIST/SEMATECH e-Handbook 2.4.4), days of one sample (GUM H.5), samples × operators
 * (ANOVA), each where the study has its shape (gauge.h). Strengths are corrected for zero and temperature, in % TDS.
 */
#ifndef BREWSPREAD_AUDIT_GAUGE_H
#define BREWSPREAD_AUDIT_GAUGE_H

#include "audit.h"
#include "gauge.h"
#include "run.h"
#include "settings.h"

/* What the manifest of a study says, beside run->brews, which are its loads, and run->treatments, its samples. */
struct gauge_design {
	size_t *operators, *days; /* of each brew; NULL: the study names none */
	struct slice *operator_names, *day_names;
	size_t operator_count, day_count; /* 0: none named */
};

enum { GAUGE_LOADS_MOST = 600 }; /* as many as random_components.h takes */

/* One load of the prism. */
struct gauge_load {
	struct slice label;
	size_t sample, operator, day; /* 0 where the study names none */
	struct brew_summary readings; /* % TDS */
};

enum gauge_part {
	GAUGE_SAMPLE,
	GAUGE_OPERATOR,
	GAUGE_INTERACTION, /* operators differ, not alike on all samples */
	GAUGE_DAY,
	GAUGE_LOAD,
	GAUGE_READING,
	GAUGE_PARTS
};

struct gauge_part_result {
	bool present;
	double var;          /* (% TDS)²; 0: not distinguishable from 0 */
	double sd, df;       /* df of var, about */
	double lower, upper; /* interval of sd; NaN below one degree of freedom */
	double share;        /* of the variance of one reading, % */
	double share_meter;  /* … of what the meter adds, s_gauge², %; NaN: the samples */
};

struct audit_gauge {
	size_t loads, samples, operators, days, readings;
	struct gauge_load *load; /* those with readings; in the order of the manifest */
	/* of the levels, copied slices that show run's memory; NULL: not named */
	struct slice *sample_names, *operator_names, *day_names;
	struct gauge_part_result part[GAUGE_PARTS];
	double mean, se_mean;
	double s_sample, s_gauge;     /* all that is not the samples' */
	double share_gauge;           /* % of the variance of one reading */
	double categories;            /* gauge_categories(); NaN with one sample */
	struct gauge_levels levels;   /* readings, loads, set-ups (operator and day); NaN where a level has no df */
	struct gauge_days by_day;     /* one sample, equal readings a day; else NaN */
	struct gauge_crossed crossed; /* samples × operators, balanced; else NaN */
	struct sd_claim claim;        /* of readings */
	double step;                  /* % TDS */
	struct audit_effort effort;
	struct audit_note *notes;
	size_t note_count;
	struct arena memory;
};

/* "samples", "operators", … */
const char *gauge_part_name(enum gauge_part part);

/*
 * The study of run, whose readings are joined. STATUS_INVALID: fewer than two loads with readings. STATUS_MEMORY. *out
 * is then NULL. The caller's: audit_gauge_free(). run, design and settings are lent for the call; run for as long as
 * out lives.
 */
enum status audit_gauge_make(struct audit_gauge **out, const struct run *run, const struct gauge_design *design,
                             const struct settings *settings, const struct audit_query *query,
                             struct error *error) MUST_USE;

/*
 * Computes from loads whose members are set, of gauge->samples samples and so on: all but load and step. False: no
 * memory.
 */
bool audit_gauge_compute(struct audit_gauge *gauge, const struct audit_query *query) MUST_USE;

/* Takes NULL. */
void audit_gauge_free(struct audit_gauge *gauge);

#endif
