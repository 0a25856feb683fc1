/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * sucrose.h: refractive index of sucrose solutions in water, the scale behind °Brix.
 *
 * Strengths are per cent by mass (°Brix), temperatures °C, indices against air at 589.3 nm.
 *
 *     n(w, t) = n20(w) + water_index(t) - water_index(20) + w (a x + b x²)      x = t - 20
 *
 * n20 is a polynomial fitted to the ICUMSA scale of 1974 (0 … 85 %, largest residual 6.1e-6 in n, 0.0042 % in
 * w); below 0 %, where a meter that reads under its zero lands, it goes on as a straight line. The last term, a
 * = -1.60e-6 and b = +2.0e-8, is ours: chosen so that the published temperature corrections of the 20 °C
 * sucrose scale are met within 0.015 % (0 … 20 %, 10 … 22 °C, where they could be verified). From 22 to 40 °C
 * no published sucrose row could be verified: reckon with 0.02 % up to 5 % and 0.03 % up to 20 % at 30 °C, more
 * towards 40 °C. The formula of ICUMSA SPS-3 (2000) is not used: it could not be had.
 */
#ifndef BREWSPREAD_SUCROSE_H
#define BREWSPREAD_SUCROSE_H

#include <stdbool.h>

#define SUCROSE_PERCENT_MAX 85.0 /* the end of the ICUMSA table */

/* Index at 20 °C of w per cent. Below 0 % the straight line; NaN above 85 %. */
double sucrose_index_20(double w_percent);

/* Slope of sucrose_index_20() per per cent; NaN above 85 %. */
double sucrose_slope_20(double w_percent);

/* Index of w per cent at temp_c. NaN above 85 % or where water_index() is NaN. */
double sucrose_index(double w_percent, double temp_c);

/*
 * The strength whose index at temp_c is n: the inverse of sucrose_index(), to 1e-12 %, by Newton's method kept
 * inside a bracket. Negative where n is below that of water. An index up to 7e-6 above that of 85 %, within the
 * residuals of the fit, is 85 %; above, or where n is not finite or water_index() is NaN, NaN.
 */
double sucrose_percent(double n, double temp_c);

/*
 * True where the model rests on no table: below -1 % or above 85 %; and away from 20 °C also above 20 % or
 * outside 10 … 40 °C. (A reading a little under zero is noise about water, and counts as inside.) NaN in either
 * argument counts as outside.
 */
bool sucrose_extrapolated(double w_percent, double temp_c);

/* A solution made up by mass, to check a meter with. */
struct sucrose_solution {
	double sucrose_g;
	double water_g;
	double strength_percent; /* exact by its making */
	double index;            /* at temp_c */
	double temp_c;
};

/*
 * What to weigh for total_g of a solution of w_percent, and the index it then has at temp_c. Everything NaN
 * where w_percent is outside 0 … 85 or total_g is not above 0. Buoyancy of air is left out: weighed in air a 10
 * % solution comes out as 9.996 % (derived, with a density of sucrose of 1.59 g/cm3 from memory).
 */
struct sucrose_solution sucrose_solution_make(double w_percent, double total_g, double temp_c);

/* The strength of a solution made of these masses, per cent; NaN where a mass is negative or both are 0. */
double sucrose_strength_percent(double sucrose_g, double water_g);

#endif
