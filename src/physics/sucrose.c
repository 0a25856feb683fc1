/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sucrose.h"

#include <math.h>

#include "water.h"

/* n20(w) = N0 + C1 w + … + C5 w^5: our fit to the ICUMSA scale of 1974, 0 … 85 %. N0 is the table's own value for water. */
#define N0 1.33299
#define C1 1.42696702e-3
#define C2 5.50966406e-6
#define C3 1.10723625e-8
#define C4 1.44876741e-10
#define C5 (-1.00792411e-12)

/* The temperature term w (A x + B x²), x = t - 20. */
#define A            (-1.60e-6)
#define B            2.0e-8

#define SCALE_TEMP_C 20.0

/* What water_index(20) returns, to the last bit: half the cost of an index. */
#define WATER_INDEX_20 1.3329858710092826

/* Domain of the temperature term, and how far below 0 % the noise of a reading of water may lie. */
#define DOMAIN_PERCENT 20.0
#define DOMAIN_LOW_C   10.0
#define DOMAIN_HIGH_C  40.0
#define NOISE_PERCENT  1.0

/* The index above that of water at one temperature: rise(w) = w (slope + C2 w + …), the straight line below 0 %. */
static double rise(double w, double slope)
{
	if (w < 0)
		return w * slope;
	return w * (slope + w * (C2 + w * (C3 + w * (C4 + w * C5))));
}

static double rise_slope(double w, double slope)
{
	if (w < 0)
		return slope;
	return slope + w * (2 * C2 + w * (3 * C3 + w * (4 * C4 + w * 5 * C5)));
}

/* The slope of rise() at 0 %. */
static double slope_at(double temp_c)
{
	double x = temp_c - SCALE_TEMP_C;

	return C1 + x * (A + x * B);
}

/* Index of water on the sucrose scale less N0: 0 at 20 °C, exactly. */
static double water_shift(double temp_c)
{
	return temp_c == SCALE_TEMP_C ? 0.0 : water_index(temp_c) - WATER_INDEX_20;
}

double sucrose_index_20(double w_percent)
{
	return sucrose_index(w_percent, SCALE_TEMP_C);
}

double sucrose_slope_20(double w_percent)
{
	return w_percent <= SUCROSE_PERCENT_MAX ? rise_slope(w_percent, C1) : NAN;
}

double sucrose_index(double w_percent, double temp_c)
{
	if (!(w_percent <= SUCROSE_PERCENT_MAX))
		return NAN;
	return N0 + (water_shift(temp_c) + rise(w_percent, slope_at(temp_c)));
}

/* The root of rise(w) = wanted in 0 … 85 %, by Newton's method, by halving where a step would leave the bracket. */
static double percent_of_rise(double wanted, double slope)
{
	const double enough = 1e-13; /* below the rounding of n itself, which is 1.6e-13 % */
	double low = 0;
	double high = SUCROSE_PERCENT_MAX;
	double w = fmin(wanted / slope, high);

	for (int round = 0; round < 60; round++) {
		double miss = rise(w, slope) - wanted;
		double next = w - miss / rise_slope(w, slope);

		if (miss > 0)
			high = w;
		else
			low = w;
		if (!(next >= low && next <= high))
			next = low + (high - low) / 2;
		if (fabs(next - w) < enough)
			return next;
		w = next;
	}
	return w;
}

double sucrose_percent(double n, double temp_c)
{
	const double residual = 7e-6; /* of the fit: lets the table's own index of 85 % find its way back */
	double slope = slope_at(temp_c);
	double wanted = n - N0 - water_shift(temp_c);

	if (!isfinite(wanted) || wanted > rise(SUCROSE_PERCENT_MAX, slope) + residual)
		return NAN;
	return wanted <= 0 ? wanted / slope : percent_of_rise(wanted, slope);
}

bool sucrose_extrapolated(double w_percent, double temp_c)
{
	if (!(w_percent >= -NOISE_PERCENT && w_percent <= SUCROSE_PERCENT_MAX))
		return true;
	if (temp_c == SCALE_TEMP_C)
		return false;
	return !(w_percent <= DOMAIN_PERCENT && temp_c >= DOMAIN_LOW_C && temp_c <= DOMAIN_HIGH_C);
}

struct sucrose_solution sucrose_solution_make(double w_percent, double total_g, double temp_c)
{
	struct sucrose_solution made = { NAN, NAN, NAN, NAN, NAN };

	if (!(w_percent >= 0 && w_percent <= SUCROSE_PERCENT_MAX && total_g > 0 && isfinite(total_g)))
		return made;
	made.sucrose_g = total_g * w_percent / 100;
	made.water_g = total_g - made.sucrose_g;
	made.strength_percent = w_percent;
	made.index = sucrose_index(w_percent, temp_c);
	made.temp_c = temp_c;
	return made;
}

double sucrose_strength_percent(double sucrose_g, double water_g)
{
	if (!(sucrose_g >= 0 && water_g >= 0 && sucrose_g + water_g > 0) || !isfinite(sucrose_g + water_g))
		return NAN;
	return 100 * sucrose_g / (sucrose_g + water_g);
}
