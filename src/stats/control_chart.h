/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * control_chart.h: is the meter still the meter it was? Charts for a check
 * standard read again and again.
 *
 * ISO 7870-2 (Shewhart charts) and ISO 7870-6 (EWMA); worked numbers in the
 * NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.
 */
#ifndef CONTROL_CHART_H
#define CONTROL_CHART_H

#include <stdbool.h>
#include <stddef.h>

#define CHART_SETTLED   20 /* fewer points than this: limits are provisional */
#define CHART_CONSTANTS 25 /* largest subgroup of chart_d2() and chart_d3() */

/*
 * Mean and standard deviation of the range of n standard normal values, n =
 * 2 .. CHART_CONSTANTS; and the mean of s / sigma, any n >= 2. NaN else.
 */
double chart_d2(size_t n);
double chart_d3(size_t n);
double chart_c4(size_t n);

/* The factors made of them: D4, D3 (range), B4, B3 (standard deviation), A2 (mean from range), E2 (individuals). */
double chart_D4(size_t n);
double chart_D3(size_t n);
double chart_B4(size_t n);
double chart_B3(size_t n);
double chart_A2(size_t n);
double chart_E2(size_t n);

struct individuals_chart {
	size_t n;
	double centre;  /* mean */
	double mr_mean; /* mean moving range, |x_i - x_{i-1}| */
	double sigma;   /* mr_mean / d2(2) */
	double lower;   /* centre - 3 sigma */
	double upper;
	double mr_upper;   /* D4 mr_mean */
	double zero_share; /* share of moving ranges that are 0 */
	bool provisional;  /* n < CHART_SETTLED */
	bool step_limited; /* zero_share > 1/3: the display step, not the instrument, sets the spread */
};

/* Below 2 points all but n, centre (NaN for n = 0) and provisional is NaN or false. */
struct individuals_chart individuals_chart_of(const double *x, size_t n);

struct ewma_chart {
	double lambda; /* weight of the newest point, 0 < lambda <= 1; 0.2 is usual */
	double width;  /* limits at this many sigma; 3 is usual */
	double centre; /* target, and the value before the first point */
	double sigma;  /* of one point */
};

struct ewma_point {
	double z;
	double lower; /* limits for this very point: lambda/(2-lambda) (1 - (1-lambda)^(2t)) */
	double upper;
};

/* The chart's points for x[0..n) into points[0..n). */
void ewma_chart_points(struct ewma_point *points, const struct ewma_chart *chart, const double *x, size_t n);

/* Half the distance between the limits after many points: width sigma sqrt(lambda/(2-lambda)). */
double ewma_chart_reach(const struct ewma_chart *chart);

/*
 * What a run of points may say, as bits. The tests for special causes of
 * ISO 7870-2:2013, 8.
 */
enum chart_signal {
	CHART_BEYOND_3 = 1 << 0,        /* one point beyond 3 sigma */
	CHART_NINE_ONE_SIDE = 1 << 1,   /* nine in a row on one side of the centre */
	CHART_SIX_STEADY = 1 << 2,      /* six in a row rising, or falling, all the way */
	CHART_FOURTEEN_ZIGZAG = 1 << 3, /* fourteen in a row alternating up and down */
	CHART_TWO_OF_THREE = 1 << 4,    /* two of three in a row beyond 2 sigma on one side */
	CHART_FOUR_OF_FIVE = 1 << 5,    /* four of five in a row beyond 1 sigma on one side */
	CHART_FIFTEEN_CLOSE = 1 << 6,   /* fifteen in a row within 1 sigma */
	CHART_EIGHT_FAR = 1 << 7        /* eight in a row, none within 1 sigma, on both sides */
};

#define CHART_SIGNALS 8

/* What the signal says, in words, such as "9 points in a row on one side of the centre"; NULL for no such bit. */
const char *chart_signal_text(enum chart_signal signal);

/*
 * The signals that each of x[0..n) completes, into signals[0..n) as sums of
 * enum chart_signal. A point exactly on a line is not beyond it, a point on
 * the centre is on neither side, and equal neighbours neither rise nor
 * fall. A NaN point breaks every run. sigma <= 0 or NaN: only the three
 * rules that need no sigma.
 */
void chart_signals(unsigned *signals, const double *x, size_t n, double centre, double sigma);

/*
 * Upper limit of one new standard deviation on df_new degrees of freedom
 * against a pooled one: pooled sqrt(F), F the upper alpha point of F(df_new,
 * df_pool) (e-Handbook 2.2.3). NaN where a df is not positive.
 */
double chart_sd_limit(double pooled, double df_new, double df_pool, double alpha);

/*
 * Average number of points until a chart signals when the mean has moved by
 * shift sigma. Individuals with known limits at width sigma: 1/P(beyond).
 * EWMA with its final limits, started at the target: Crowder's integral
 * equation (Technometrics 29 (1987) 401-407) by Gauss-Legendre, good to
 * 1e-6 relative. NaN for lambda outside [0.05, 1] or width <= 0.
 */
double individuals_run_length(double width, double shift);
double ewma_run_length(double lambda, double width, double shift);

#endif
