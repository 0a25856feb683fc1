/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * check_standard.h: a sucrose solution of known strength to check a meter with: what to weigh, and how well its
 * strength is then known.
 *
 * Strength w = 100 s/(s + a) from the masses s of sucrose and a of water, so that u(w) = 100/(s + a)² √((a u_s)² +
 * (s u_a)²). Each mass is the difference of two readings of the scales (tare, then full): u = step/√6, and
 * where an accuracy is stated, with that/√3 in quadrature; the two weighings are taken as independent. GUM
 * (JCGM 100:2008), 4.3.7 and 5.1.2. Not counted: moisture and purity of the sugar, water lost while it dissolves, buoyancy
 * of air (a 10 % solution weighed in air is one of 9.996 %, sucrose.h).
 */
#ifndef BREWSPREAD_CHECK_STANDARD_H
#define BREWSPREAD_CHECK_STANDARD_H

#include "status.h"
#include "sucrose.h"

struct check_standard_query {
	double strength_percent; /* wanted, above 0 */
	double total_g;
	double temp_c;           /* at which it will be read */
	double scale_step_g;     /* of the scales' display */
	double scale_accuracy_g; /* ± stated; NaN: not stated */
	double meter_factor;     /* TDS per °Brix of the meter's own TDS scale */
};

struct check_standard {
	struct check_standard_query query;
	double sucrose_g, water_g; /* to weigh, in whole steps of the scales */
	double strength_percent;   /* °Brix of just these masses */
	double tds_percent;        /* what a meter with that factor shows for it */
	double mass_u_g;           /* standard uncertainty of each */
	double strength_u;         /* standard uncertainty of the strength, % */
	double strength_expanded;  /* 2 · strength_u: about 95 % */
	double sucrose_share;      /* of strength_u², %: the weighing of the sugar */
	double index_20;           /* at 20 °C … */
	double index;              /* … and at temp_c */
	double index_expanded;     /* of both, from the strength alone */
	double total_for_aim_g;    /* total at which strength_expanded would be CHECK_STANDARD_AIM */
};

#define CHECK_STANDARD_AIM 0.02 /* %; a judgement: a fifth of a display step of 0.1 °Brix */

/*
 * STATUS_INVALID: a strength outside 0 … 85 %, a total that is not above 0 or so small that the scales can't show the sugar,
 * a temperature outside the water model; error says which.
 */
enum status check_standard_make(struct check_standard *out, const struct check_standard_query *query,
                                struct error *error) MUST_USE;

#endif
