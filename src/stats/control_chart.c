/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "control_chart.h"

#include <Rmath.h>
#include <math.h>

#include "describe.h"
#include "linear.h"

/* d2 and d3 for n = 2 .. CHART_CONSTANTS: moments of the range's distribution, integrated numerically. */
static const double range_moments[][2] = {
	{ 1.1283791671, 0.8525024664 }, { 1.6925687506, 0.8883680040 }, { 2.0587507460, 0.8798082028 },
	{ 2.3259289473, 0.8640819411 }, { 2.5344127212, 0.8480396861 }, { 2.7043567512, 0.8332053356 },
	{ 2.8472006121, 0.8198314898 }, { 2.9700263244, 0.8078342746 }, { 3.0775054617, 0.7970506735 },
	{ 3.1728727038, 0.7873146206 }, { 3.2584552797, 0.7784783412 }, { 3.3359803541, 0.7704162021 },
	{ 3.4067631082, 0.7630230956 }, { 3.4718268899, 0.7562114297 }, { 3.5319827861, 0.7499080894 },
	{ 3.5878839618, 0.7440517840 }, { 3.6400637579, 0.7385908534 }, { 3.6889630232, 0.7334814955 },
	{ 3.7349501196, 0.7286863457 }, { 3.7783358298, 0.7241733407 }, { 3.8193846434, 0.7199148084 },
	{ 3.8583234233, 0.7158867355 }, { 3.8953481485, 0.7120681751 }, { 3.9306292195, 0.7084407659 },
};

_Static_assert(sizeof(range_moments) / sizeof(range_moments[0]) == CHART_CONSTANTS - 1, "one row a subgroup size");

double chart_d2(size_t n)
{
	return n < 2 || n > CHART_CONSTANTS ? NAN : range_moments[n - 2][0];
}

double chart_d3(size_t n)
{
	return n < 2 || n > CHART_CONSTANTS ? NAN : range_moments[n - 2][1];
}

double chart_c4(size_t n)
{
	double df = (double)n - 1;

	return n < 2 ? NAN : sqrt(2 / df) * exp(lgamma((df + 1) / 2) - lgamma(df / 2));
}

double chart_D4(size_t n)
{
	return 1 + 3 * chart_d3(n) / chart_d2(n);
}

static double not_negative(double value)
{
	return value < 0 ? 0 : value;
}

double chart_D3(size_t n)
{
	return not_negative(1 - 3 * chart_d3(n) / chart_d2(n));
}

/* Relative standard deviation of s itself. */
static double spread_of_s(size_t n)
{
	double c4 = chart_c4(n);

	return sqrt(1 - c4 * c4) / c4;
}

double chart_B4(size_t n)
{
	return 1 + 3 * spread_of_s(n);
}

double chart_B3(size_t n)
{
	return not_negative(1 - 3 * spread_of_s(n));
}

double chart_A2(size_t n)
{
	return 3 / (chart_d2(n) * sqrt((double)n));
}

double chart_E2(size_t n)
{
	return 3 / chart_d2(n);
}

struct individuals_chart individuals_chart_of(const double *x, size_t n)
{
	struct individuals_chart chart = { .n = n,
		                           .centre = values_mean(x, n),
		                           .mr_mean = NAN,
		                           .sigma = NAN,
		                           .lower = NAN,
		                           .upper = NAN,
		                           .mr_upper = NAN,
		                           .zero_share = NAN,
		                           .provisional = n < CHART_SETTLED };
	double sum = 0;
	size_t zeros = 0;

	if (n < 2)
		return chart;
	for (size_t i = 1; i < n; i++) {
		sum += fabs(x[i] - x[i - 1]);
		zeros += x[i] == x[i - 1];
	}
	chart.mr_mean = sum / (double)(n - 1);
	chart.sigma = chart.mr_mean / chart_d2(2);
	chart.lower = chart.centre - 3 * chart.sigma;
	chart.upper = chart.centre + 3 * chart.sigma;
	chart.mr_upper = chart_D4(2) * chart.mr_mean;
	chart.zero_share = (double)zeros / (double)(n - 1);
	chart.step_limited = 3 * zeros > n - 1;
	return chart;
}

double ewma_chart_reach(const struct ewma_chart *chart)
{
	return chart->width * chart->sigma * sqrt(chart->lambda / (2 - chart->lambda));
}

void ewma_chart_points(struct ewma_point *points, const struct ewma_chart *chart, const double *x, size_t n)
{
	double z = chart->centre, reach = ewma_chart_reach(chart), faded = 1;

	for (size_t i = 0; i < n; i++) {
		double now;

		faded *= (1 - chart->lambda) * (1 - chart->lambda);
		now = reach * sqrt(1 - faded);
		z += chart->lambda * (x[i] - z);
		points[i] = (struct ewma_point){ z, chart->centre - now, chart->centre + now };
	}
}

/* ---- signals ---- */

struct series {
	const double *x;
	double centre;
	double sigma;
};

static double off_centre(const struct series *s, size_t i)
{
	return s->x[i] - s->centre;
}

static bool above(const struct series *s, size_t i)
{
	return off_centre(s, i) > 0;
}

static bool below(const struct series *s, size_t i)
{
	return off_centre(s, i) < 0;
}

static bool close_to_centre(const struct series *s, size_t i)
{
	return fabs(off_centre(s, i)) <= s->sigma;
}

static bool far_from_centre(const struct series *s, size_t i)
{
	return fabs(off_centre(s, i)) > s->sigma;
}

/* i >= 1 in these three. */
static bool rises(const struct series *s, size_t i)
{
	return s->x[i] > s->x[i - 1];
}

static bool falls(const struct series *s, size_t i)
{
	return s->x[i] < s->x[i - 1];
}

/* i >= 2: the direction changes at i - 1. */
static bool turns(const struct series *s, size_t i)
{
	return (rises(s, i) && falls(s, i - 1)) || (falls(s, i) && rises(s, i - 1));
}

static bool holds_for_last(bool (*holds)(const struct series *, size_t), const struct series *s, size_t i,
                           size_t length)
{
	for (size_t k = 0; k < length; k++)
		if (!holds(s, i - k))
			return false;
	return true;
}

/* At least `wanted` of the last `length` points, i among them, beyond bound on the side of sign; NaN ends the look. */
static bool beyond_on_side(const struct series *s, size_t i, size_t length, size_t wanted, double bound, int sign)
{
	size_t count = 0;

	if (!(sign * off_centre(s, i) > bound))
		return false;
	for (size_t k = 0; k < length && k <= i && !isnan(s->x[i - k]); k++)
		count += sign * off_centre(s, i - k) > bound;
	return count >= wanted;
}

static bool beyond_on_one_side(const struct series *s, size_t i, size_t length, size_t wanted, double sigmas)
{
	double bound = sigmas * s->sigma;

	return beyond_on_side(s, i, length, wanted, bound, 1) || beyond_on_side(s, i, length, wanted, bound, -1);
}

static bool on_both_sides(const struct series *s, size_t i, size_t length)
{
	return !holds_for_last(above, s, i, length) && !holds_for_last(below, s, i, length);
}

static unsigned signals_of_order(const struct series *s, size_t i)
{
	unsigned signals = 0;

	if (i >= 8 && (holds_for_last(above, s, i, 9) || holds_for_last(below, s, i, 9)))
		signals |= CHART_NINE_ONE_SIDE;
	if (i >= 5 && (holds_for_last(rises, s, i, 5) || holds_for_last(falls, s, i, 5)))
		signals |= CHART_SIX_STEADY;
	if (i >= 13 && holds_for_last(turns, s, i, 12))
		signals |= CHART_FOURTEEN_ZIGZAG;
	return signals;
}

static unsigned signals_of_distance(const struct series *s, size_t i)
{
	unsigned signals = 0;

	if (fabs(off_centre(s, i)) > 3 * s->sigma)
		signals |= CHART_BEYOND_3;
	if (beyond_on_one_side(s, i, 3, 2, 2))
		signals |= CHART_TWO_OF_THREE;
	if (beyond_on_one_side(s, i, 5, 4, 1))
		signals |= CHART_FOUR_OF_FIVE;
	if (i >= 14 && holds_for_last(close_to_centre, s, i, 15))
		signals |= CHART_FIFTEEN_CLOSE;
	if (i >= 7 && holds_for_last(far_from_centre, s, i, 8) && on_both_sides(s, i, 8))
		signals |= CHART_EIGHT_FAR;
	return signals;
}

void chart_signals(unsigned *signals, const double *x, size_t n, double centre, double sigma)
{
	const struct series series = { x, centre, sigma };

	for (size_t i = 0; i < n; i++) {
		signals[i] = signals_of_order(&series, i);
		if (sigma > 0)
			signals[i] |= signals_of_distance(&series, i);
	}
}

const char *chart_signal_text(enum chart_signal signal)
{
	switch (signal) {
	case CHART_BEYOND_3:
		return "a point beyond 3 sigma";
	case CHART_NINE_ONE_SIDE:
		return "9 points in a row on one side of the centre";
	case CHART_SIX_STEADY:
		return "6 points in a row steadily rising or falling";
	case CHART_FOURTEEN_ZIGZAG:
		return "14 points in a row alternating up and down";
	case CHART_TWO_OF_THREE:
		return "2 of 3 points in a row beyond 2 sigma on one side";
	case CHART_FOUR_OF_FIVE:
		return "4 of 5 points in a row beyond 1 sigma on one side";
	case CHART_FIFTEEN_CLOSE:
		return "15 points in a row within 1 sigma";
	case CHART_EIGHT_FAR:
		return "8 points in a row beyond 1 sigma, on both sides";
	}
	return NULL;
}

double chart_sd_limit(double pooled, double df_new, double df_pool, double alpha)
{
	if (!(df_new > 0) || !(df_pool > 0) || !(alpha > 0 && alpha < 1))
		return NAN;
	return pooled * sqrt(qf(alpha, df_new, df_pool, 0, 0));
}

/* ---- average run length ---- */

double individuals_run_length(double width, double shift)
{
	if (!(width > 0))
		return NAN;
	return 1 / (pnorm5(shift - width, 0, 1, 1, 0) + pnorm5(-width - shift, 0, 1, 1, 0));
}

#define NODES 64

/* Gauss-Legendre nodes and weights on [-1, 1], by Newton's iteration on the polynomial. */
static void legendre_nodes(double node[NODES], double weight[NODES])
{
	for (int i = 0; i < NODES; i++) {
		double x = cos(M_PI * (i + 0.75) / (NODES + 0.5)), slope = 1;

		for (int step = 0; step < 8; step++) {
			double before = 1, now = x;

			for (int k = 2; k <= NODES; k++) {
				double next = ((2 * k - 1) * x * now - (k - 1) * before) / k;

				before = now;
				now = next;
			}
			slope = NODES * (x * now - before) / (x * x - 1);
			x -= now / slope;
		}
		node[i] = x;
		weight[i] = 2 / ((1 - x * x) * slope * slope);
	}
}

double ewma_run_length(double lambda, double width, double shift)
{
	double node[NODES], weight[NODES], length[NODES], a[NODES * NODES];
	double reach = width * sqrt(lambda / (2 - lambda)), sum = 1;

	if (!(lambda >= 0.05 && lambda <= 1) || !(width > 0))
		return NAN;
	legendre_nodes(node, weight);
	for (int i = 0; i < NODES; i++) {
		weight[i] *= reach / lambda;
		node[i] *= reach;
	}
	for (int i = 0; i < NODES; i++) {
		length[i] = 1;
		for (int j = 0; j < NODES; j++)
			a[i * NODES + j] = (i == j) -
			                   weight[j] *
			                           dnorm4((node[j] - (1 - lambda) * node[i]) / lambda - shift, 0, 1, 0);
	}
	linear_solve(a, length, NODES);
	for (int j = 0; j < NODES; j++)
		sum += weight[j] * length[j] * dnorm4(node[j] / lambda - shift, 0, 1, 0);
	return sum;
}
