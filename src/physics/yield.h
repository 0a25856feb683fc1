/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * yield.h: mass balances of brewing: what went into the cup, what stayed in the grounds.
 *
 * Masses in g. Strengths, moistures and yields in per cent (100 × g/g), as the names say; yields in per cent of
 * the dose as weighed unless the name says dry. All follow from conservation of mass; the models of Liang, Chan
 * and Ristenpart, Scientific Reports 11 (2021) 6904 are marked with the numbers of their equations.
 *
 * Every function gives NaN where an input is NaN or makes no sense: dose not above 0, a mass below 0, a
 * strength of 100 % or more, a share outside its range. A strength slightly below 0 is let through, and so
 * gives a yield below 0.
 */
#ifndef BREWSPREAD_YIELD_H
#define BREWSPREAD_YIELD_H

#include "brew.h"

/*
 * Water that a gram of grounds keeps: common practice, no source. Liang et al. measured 2.48 ± 0.19 g/g of
 * liquid.
 */
#define RETENTION_STANDARD 2.0
/*
 * Its standard uncertainty where nothing better is known: a judgement, half a gram either way as a rectangle,
 * rounded.
 */
#define RETENTION_STANDARD_U 0.3

/*
 * Retained water per gram outside these is more likely a scale, tare or typing error (common practice, no
 * source).
 */
#define RETENTION_LOW  1.0
#define RETENTION_HIGH 4.0

/* -- yields ---------------------------------------------------------------- */

/* Drip, pour-over, espresso: the solids in the cup over the dose, tds · beverage / dose. */
double yield_percolation_percent(double dose_g, double beverage_g, double tds_percent);

/*
 * Full immersion: all the liquid, in cup and grounds, has the cup's strength. Eq. 17: t/(1 - t) · water/dose.
 */
double yield_immersion_percent(double dose_g, double water_g, double tds_percent);

/*
 * Steep, then drain: the liquid left in the bed has last_drip_tds_percent, and bound_g_per_g of water in each
 * gram of grounds carries no solids. last_drip 0 is percolation; last_drip equal to tds and bound 0 is
 * immersion.
 */
double yield_mixed_percent(double dose_g, double water_g, double beverage_g, double tds_percent,
                           double last_drip_tds_percent, double bound_g_per_g);

/* The same yield on a dry dose: yield / (1 - moisture). moisture_percent 0 … below 100. */
double yield_dry_percent(double yield_percent, double moisture_percent);

/* Points of yield by percolation for one point of TDS: beverage / dose. */
double yield_per_tds(double dose_g, double beverage_g);

/* -- what the grounds keep --------------------------------------------------- */

/* (water - evaporated - beverage (1 - t)) / dose. Below 0 where a mass is wrong: not hidden. */
double retained_water_per_g(double dose_g, double water_g, double beverage_g, double tds_percent, double evaporated_g);

/* The same with the solids it holds at the cup's strength: water / (1 - t). Eq. 24. */
double retained_liquid_per_g(double dose_g, double water_g, double beverage_g, double tds_percent, double evaporated_g);

/*
 * Beverage that was not weighed, from retained water per gram: (water - evaporated - retention · dose) / (1 -
 * t). NaN where that is below 0. What is made from it is to be called estimated.
 */
double beverage_from_retention_g(double dose_g, double water_g, double tds_percent, double retention_g_per_g,
                                 double evaporated_g);

/* -- strengths --------------------------------------------------------------- */

/* After bypass_g of water was added to beverage_g: t · beverage / (beverage + bypass). */
double tds_after_bypass_percent(double tds_percent, double beverage_g, double bypass_g);

/*
 * Water to add to beverage_g to come from tds_percent down to target_percent; NaN if the target is higher, or
 * not above 0.
 */
double bypass_for_target_g(double tds_percent, double beverage_g, double target_percent);

/* A sample that lost lost_percent of its water (0 … below 100): t / (1 - e (1 - t)). */
double tds_after_evaporation_percent(double tds_percent, double lost_percent);

/*
 * A reading zeroed on distilled water, less the solids (mg/kg) that the brew water brought along: t - s (1 -
 * t).
 */
double tds_less_water_solids_percent(double tds_percent, double water_solids_mg_kg);

/*
 * Strength of an immersion at equilibrium. extractable is K·Emax as a fraction of the dose (0.215 ± 0.002
 * measured), ratio is water/dose; for ratios of 3 and more, 80 … 99 °C, about 20 minutes. Eq. 11: K·Emax / (R +
 * K·Emax).
 */
double immersion_tds_percent(double ratio, double extractable);

/* Eq. 12, the short form: K·Emax / R. */
double immersion_tds_short_percent(double ratio, double extractable);

/*
 * Yield that oven-drying the spent grounds shows, low because the liquid left in them dries on to them. Eq. 22:
 * K·Emax (1 - retained / (R + K·Emax)) + volatile; retained liquid in g/g (2.48 measured), volatile the share
 * of the dose lost as vapour in the oven (0.0234 ± 0.006 measured).
 */
double oven_yield_percent(double ratio, double extractable, double retained_liquid, double volatile_loss);

/* -- one brew ------------------------------------------------------------------ */

/* NaN: not given. */
struct yield_input {
	enum brew_method method;
	double dose_g;
	double water_g;           /* that met the bed: without bypass */
	double beverage_g;        /* all of it, with bypass */
	double bypass_g;          /* water added to the beverage after brewing; NaN is 0 */
	double evaporated_g;      /* NaN is 0 */
	double moisture_percent;  /* of the dose */
	double tds_percent;       /* of the beverage as it was read: with bypass */
	double retention_g_per_g; /* for a beverage that was not weighed; NaN is RETENTION_STANDARD */
};

enum yield_flag {
	YIELD_BEVERAGE_ESTIMATED = 1 << 0, /* beverage_used_g is from a retention, and so are yield and solids */
	YIELD_RETENTION_NEGATIVE = 1 << 1, /* more came out than went in */
	YIELD_RETENTION_UNUSUAL = 1 << 2,  /* outside RETENTION_LOW … RETENTION_HIGH */
	YIELD_IMPOSSIBLE = 1 << 3,         /* more solids than dose */
};

/* NaN: cannot be had from what was given. */
struct yield {
	double beverage_used_g;   /* weighed, or estimated */
	double bed_tds_percent;   /* before bypass; equal to the reading without it */
	double solids_g;          /* dissolved: in the cup by percolation, in all the liquid by immersion */
	double yield_percent;     /* of the dose as weighed: the one to compare by */
	double yield_dry_percent; /* of the dry dose; NaN unless the moisture is given */
	double retained_water_g;  /* NaN where the beverage was estimated: it would only repeat the guess */
	double retained_water_per_g;
	double retained_liquid_per_g;
	double ratio_bed;   /* water that met the bed / dose */
	double ratio_total; /* with bypass */
	unsigned flags;     /* of enum yield_flag */
};

/*
 * All of it for one brew. in is lent, out filled whatever happens. Percolation needs dose, TDS and beverage, or
 * water instead of the beverage; immersion needs dose, TDS and water, with bypass the beverage too, which is
 * estimated where it is missing.
 */
void yield_compute(const struct yield_input *in, struct yield *out);

#endif
