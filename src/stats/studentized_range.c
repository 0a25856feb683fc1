/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "studentized_range.h"

#include "quadrature.h"

#include <Rmath.h>
#include <math.h>

/* No density to speak of from here on. */
#define UNDERFLOWN 40.0

/* Enough for 10,000 values and any q whose tail has not underflowed. */
#define MOST_NODES 600

/*
 * The largest of the k values as a fixed grid: with z the largest, the
 * others lie within w of it with probability (1 - Phi(z - w)/Phi(z))^(k-1).
 * That form needs no difference of nearly equal numbers in either tail.
 */
struct largest {
	size_t others; /* k - 1 */
	size_t nodes;
	double z[MOST_NODES];
	double lower[MOST_NODES];  /* Phi(z) */
	double weight[MOST_NODES]; /* step times the density of the largest at z */
};

/*
 * The trapezoidal rule over z needs steps the shorter the more values there
 * are, for their largest scatters less. Found by comparing with steps of a tenth: error below 1e-11 up to 3,000.
 */
static double step_for(double k)
{
	return 0.54 / (1.0 + 0.51 * log(0.5 * k));
}

/* lower: Phi(z) */
static double log_density(double z, double lower, double others)
{
	return -0.5 * z * z + others * log(lower);
}

/* Where the density of the largest peaks, near enough: its median. */
static double peak_place(double k)
{
	double z = 0.0;

	while (k * normal_upper(z) > 0.7)
		z += 0.1;
	return z;
}

static void largest_lay(struct largest *largest, size_t k, double widest, bool rough)
{
	double step = (rough ? 2.0 : 1.0) * step_for((double)k);
	double others = (double)(k - 1);
	double peak = peak_place((double)k);
	double floor = log_density(peak, normal_lower(peak), others) - 33.0;
	double last = fmin(0.5 * widest + 6.5, UNDERFLOWN);
	double z = peak;

	while (z < last || log_density(z, normal_lower(z), others) > floor)
		z += step;
	largest->others = k - 1;
	largest->nodes = 0;
	for (; largest->nodes < MOST_NODES; z -= step) {
		double lower = normal_lower(z);
		size_t i = largest->nodes;

		if (z < peak && log_density(z, lower, others) < floor)
			break;
		largest->z[i] = z;
		largest->lower[i] = lower;
		largest->weight[i] = step * (double)k * normal_density(z) * pow(lower, others);
		largest->nodes++;
	}
}

/* 1 - (1 - p)^n by squaring, in which nothing is ever subtracted from a number near to it. */
static double any_of(double p, size_t n)
{
	double any = 0.0;

	for (; n > 0; n /= 2) {
		if (n % 2 == 1)
			any += p * (1.0 - any);
		p *= 2.0 - p;
	}
	return any;
}

/* Of one node: that not all others lie within w of the largest. */
static double others_beyond(const struct largest *largest, size_t i, double w)
{
	return any_of(normal_lower(largest->z[i] - w) / largest->lower[i], largest->others);
}

static double range_within(const void *context, double w)
{
	const struct largest *largest = context;
	double sum = 0.0;

	if (!(w > 0.0))
		return 0.0;
	for (size_t i = 0; i < largest->nodes; i++)
		sum += largest->weight[i] * (1.0 - others_beyond(largest, i, w));
	return sum;
}

static double range_beyond(const void *context, double w)
{
	const struct largest *largest = context;
	double sum = 0.0;
	double before = 0.0;

	if (!(w > 0.0))
		return 1.0;
	for (size_t i = 0; i < largest->nodes; i++) {
		double term = largest->weight[i] * others_beyond(largest, i, w);

		sum += term;
		if (term < before && term < 1e-15 * sum)
			break;
		before = term;
	}
	return sum;
}

static double probability(double q, size_t k, double df, kernel_fn *kernel, bool rough)
{
	double kk = (double)k;
	struct largest largest;
	struct scale_mean mean = {
		.kernel = kernel,
		.context = &largest,
		.df = df,
		.argument = q,
		.step = 1.0 / (1.0 / SCALE_STEP + 0.28 * log(kk) * log(kk)),
		/* two of the k(k-1)/2 differences bound the range */
		.count = kernel == range_beyond ? 0.5 * kk * (kk - 1.0) : INFINITY,
		.rate = sqrt(0.5),
		.rough = rough,
	};

	largest_lay(&largest, k, 1.0 / sqrt(1.0 / (q * q) + 0.5 / df), rough);
	return scale_mean(&mean);
}

double studentized_range_cdf(double q, size_t k, double df)
{
	if (k < 2 || !(df > 0.0) || isnan(q))
		return NAN;
	if (isinf(q))
		return q > 0.0 ? 1.0 : 0.0;
	return q > 0.0 ? probability(q, k, df, range_within, false) : 0.0;
}

static double tail(double q, size_t k, double df, bool rough)
{
	if (k < 2 || !(df > 0.0) || isnan(q))
		return NAN;
	if (isinf(q))
		return q > 0.0 ? 0.0 : 1.0;
	return q > 0.0 ? probability(q, k, df, range_beyond, rough) : 1.0;
}

double studentized_range_tail(double q, size_t k, double df)
{
	return tail(q, k, df, false);
}

struct range_case {
	size_t k;
	double df;
};

static double tail_of_case(const void *context, double q)
{
	const struct range_case *range = context;

	return studentized_range_tail(q, range->k, range->df);
}

static double rough_tail_of_case(const void *context, double q)
{
	const struct range_case *range = context;

	return tail(q, range->k, range->df, true);
}

bool studentized_range_tail_below(double q, size_t k, double df, double alpha)
{
	struct range_case range = { k, df };

	return tail_below(&(struct tail_pair){ rough_tail_of_case, tail_of_case }, &range, q, alpha);
}

double studentized_range_critical(double alpha, size_t k, double df)
{
	struct range_case range = { k, df };
	double kk = (double)k;

	if (k < 2 || !(df > 0.0) || !(alpha > 0.0 && alpha < 1.0))
		return NAN;
	/* Bonferroni's bound: exact for two, little too large for a few. */
	return tail_solve(tail_of_case, &range, alpha, sqrt(2.0) * qt(alpha / (kk * (kk - 1.0)), df, 0, 0));
}
