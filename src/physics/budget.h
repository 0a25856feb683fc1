/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * budget.h: the uncertainty of a yield, and where it comes from.
 *
 * First order after the GUM (JCGM 100:2008), checked by Monte Carlo (JCGM 101:2008). A budget is a list of
 * sources: each disturbs one input by a standard uncertainty u, and is either the brew's own or common to all
 * brews of a run. A yield quoted alone has both; in a difference between brews the common part falls out (to
 * first order, for yields of like size).
 *
 * Spread from brew to brew is no part of a budget: it is what treatments are compared with.
 */
#ifndef BREWSPREAD_BUDGET_H
#define BREWSPREAD_BUDGET_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "yield.h"

/* What a source's error looks like; matters for Monte Carlo alone. */
enum budget_shape {
	SHAPE_NORMAL,
	SHAPE_RECTANGULAR,
	SHAPE_TRIANGULAR,
	SHAPE_ARCSINE, /* of something that swings, such as a thermostat */
	SHAPE_STUDENT, /* a mean of readings: t with the source's df, scaled by u (JCGM 101, 6.4.9) */
};

enum budget_scope {
	SCOPE_OWN,    /* drawn anew for each brew */
	SCOPE_COMMON, /* the same for all brews of the run */
};

struct budget_source {
	const char *name; /* kept by the caller; for the report */
	size_t input;     /* which input it disturbs */
	double u;         /* standard uncertainty in that input's unit, >= 0 */
	double df;        /* > 0; INFINITY where u is taken as known */
	enum budget_shape shape;
	enum budget_scope scope;
};

/* NaN where it cannot be had. */
struct budget {
	double value;      /* what the uncertainty is of */
	double u;          /* combined standard uncertainty */
	double u_own;      /* its part that stays in a difference … */
	double u_common;   /* … and the part that falls out */
	double df;         /* effective, of u; INFINITY if all sources are known */
	double df_own;     /* … and of u_own */
	double confidence; /* of the expanded uncertainty, 0 … 1 */
	double coverage;   /* Student's t for confidence and df rounded down; NaN if df < 1 */
	double expanded;   /* coverage · u */
};

/* -- standard uncertainties (GUM 4.3, F.2.2.1) ------------------------------- */

/* Of a value read from a display of that step: step/(2√3). */
double step_u(double step);

/* Of a value known to lie within ± limit: limit/√3. */
double limit_u(double limit);

/* Of a mass that is the difference of two readings of one scale (tare, then full): step/√6. */
double difference_u(double step);

/*
 * Of the mean of count readings with standard deviation s on a display of that step: s²/count + step²/12, as a
 * root.
 */
double mean_u(double s, size_t count, double step);

/*
 * Of a beverage estimated with beverage_from_retention_g(), for the uncertainty of the retention: dose · u / (1
 * - t).
 */
double beverage_estimate_u(double dose_g, double tds_percent, double retention_u);

/* -- combining ------------------------------------------------------------------ */

/*
 * Welch-Satterthwaite: u⁴/Σ(part⁴/df), u² = Σ part², parts being |sensitivity|·u (GUM G.2b). Not rounded.
 * INFINITY if every df is, or if all parts are 0; NaN if a df is not above 0.
 */
double effective_df(const double *parts, const double *df, size_t n);

/*
 * Two-sided Student factor for confidence (0 … 1) at df rounded down; the normal one for INFINITY; NaN if df <
 * 1.
 */
double coverage_factor(double confidence, double df);

/*
 * The budget of value from n independent sources. sensitivity[i] is the change of value per unit of input i,
 * for each input that a source names; shares[n], or NULL, takes each source's share of the variance in per cent
 * (NaN if u is 0).
 */
void budget_combine(double value, const double *sensitivity, const struct budget_source *sources, size_t n,
                    double confidence, struct budget *out, double *shares);

/*
 * Standard uncertainty from correlated inputs: √(Σᵢ Σⱼ cᵢ cⱼ uᵢ uⱼ rᵢⱼ) (GUM 5.2, eq. 16). correlation is n ×
 * n, row by row, symmetric with ones on the diagonal. NaN if the sum is below 0 by more than rounding: such a
 * matrix cannot be.
 */
double correlated_u(const double *sensitivity, const double *u, const double *correlation, size_t n);

/* Standard uncertainty of the difference of two yields of one run: what is common falls out. */
double budget_difference_u(const struct budget *a, const struct budget *b);

/* -- Monte Carlo --------------------------------------------------------------- */

enum { BUDGET_INPUTS_MAX = 16 };

struct montecarlo {
	double mean;
	double sd;
	double low, high; /* probabilistically symmetric coverage interval (JCGM 101, 7.7) */
};

/* What is to be simulated; everything lent. */
struct montecarlo_task {
	double (*model)(const double *x, const void *context);
	const void *context;  /* handed to model */
	const double *values; /* of the inputs */
	size_t inputs;        /* up to BUDGET_INPUTS_MAX */
	const struct budget_source *sources;
	size_t source_count;
	uint64_t seed; /* the same seed brings the same draws */
	double confidence;
};

/*
 * Draws the task's model(x) m times, x[i] = values[i] plus one draw of each source of input i. draws[m] is lent as
 * working space and comes back sorted. All NaN if m < 2, inputs is 0 or above BUDGET_INPUTS_MAX, a source names no input,
 * or model gave a NaN; the limits are NaN where m is too small for confidence (fewer than one draw beyond them).
 */
void montecarlo_run(const struct montecarlo_task *task, double *draws, size_t m, struct montecarlo *out);

/* -- a yield ------------------------------------------------------------------ */

/* The inputs of a yield's budget: the index in budget_source.input. */
enum yield_quantity {
	QUANTITY_TDS,  /* per cent */
	QUANTITY_DOSE, /* g, and so on */
	QUANTITY_WATER,
	QUANTITY_BEVERAGE,
	QUANTITY_BYPASS,
	QUANTITY_RETENTION, /* g/g; counts only where the beverage is estimated */
	YIELD_QUANTITIES
};

/*
 * Change of yield_percent per unit of each quantity, into sensitivity[YIELD_QUANTITIES], by central differences
 * (relative error below 1e-9). 0 for a quantity that plays no part or is not given; all NaN where the brew has
 * no yield.
 */
void yield_sensitivity(const struct yield_input *brew, double *sensitivity);

/* budget_combine() for a brew. */
void yield_budget(const struct yield_input *brew, const struct budget_source *sources, size_t n, double confidence,
                  struct budget *out, double *shares);

/* montecarlo_run() for a brew. Sources of a quantity that plays no part change nothing. */
void yield_montecarlo(const struct yield_input *brew, const struct budget_source *sources, size_t n, uint64_t seed,
                      double confidence, double *draws, size_t m, struct montecarlo *out);

/* How well one mass was weighed. */
struct weighing {
	double step_g;      /* of the display; NaN or 0: not counted */
	double limit_g;     /* stated accuracy, ±; NaN or 0: not stated */
	bool by_difference; /* two readings: tare, then full */
	bool shared_scale;  /* all brews of the run on one scale: its stated accuracy is common to them */
};

/* How well the inputs of one brew are known. */
struct brew_knowledge {
	double reading_s_percent;   /* standard deviation of single readings, in TDS per cent; NaN: none */
	double reading_df;          /* its degrees of freedom; INFINITY if long known */
	size_t reading_count;       /* readings that the TDS is the mean of */
	double meter_step_percent;  /* display step in TDS per cent; NaN or 0: not counted */
	double meter_limit_percent; /* stated accuracy, ±, in TDS per cent; NaN or 0: not stated; common to all brews */
	double temp_u_percent; /* what the thermometer brings in: |correction_temp_slope| · u(T); NaN or 0: none; common */
	double retention_u; /* of a retention that the beverage was estimated from; NaN: RETENTION_STANDARD_U */
	struct weighing dose, water, beverage, bypass;
};

enum { BREW_SOURCES_MAX = 13 };

/*
 * The sources that brew and what is known of it give, into sources[BREW_SOURCES_MAX]; returns how many. Only
 * quantities that play a part for the brew are listed. Names are constants of the program.
 */
size_t brew_sources(const struct yield_input *brew, const struct brew_knowledge *known, struct budget_source *sources);

#endif
