/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "dunnett.h"

#include "describe.h"
#include "quadrature.h"

#include <Rmath.h>
#include <math.h>
#include <stdbool.h>

/* No density to speak of from here on. */
#define UNDERFLOWN 40.0

/*
 * Given the scale, and the control's mean at z, the comparisons are
 * independent: each fails to stay within w with probability u_i, and all stay
 * within it with exp(sum log(1 - u_i)).
 */
struct comparisons {
	const double *lambda;
	size_t m;     /* values in lambda */
	size_t times; /* as many comparisons with each */
	enum sides sides;
	double step;  /* of z */
	double reach; /* z runs from -reach (two-sided: 0) to reach */
	bool beyond;  /* probability that not all stay within w */
	bool rough;   /* see quadrature.h */
};

double dunnett_lambda(size_t n, size_t n_control)
{
	if (n == 0 || n_control == 0)
		return NAN;
	return sqrt((double)n / ((double)n + (double)n_control));
}

static double log_all_within(const struct comparisons *all, double z, double w)
{
	double sum = 0.0;
	size_t same;

	for (size_t i = 0; i < all->m; i += same) {
		double lambda = all->lambda[i];
		double rest = sqrt(1.0 - lambda * lambda);
		double outside = normal_lower((lambda * z - w) / rest);

		if (all->sides == SIDES_TWO)
			outside += normal_lower((-lambda * z - w) / rest);
		for (same = 1; i + same < all->m && all->lambda[i + same] == lambda; same++)
			;
		sum += (double)same * log1p(-fmin(outside, 1.0));
	}
	return sum * (double)all->times;
}

static double at_z(const struct comparisons *all, double z, double w)
{
	double sum = log_all_within(all, z, w);

	return all->step * normal_density(z) * (all->beyond ? -expm1(sum) : exp(sum));
}

/* From z = 0 outwards in steps of that sign, 0 left out. */
static double over_half(const struct comparisons *all, double sign, double w)
{
	double sum = 0.0;
	double before = 0.0;

	for (int i = 1; i * all->step < all->reach; i++) {
		double term = at_z(all, sign * i * all->step, w);

		sum += term;
		if (term < before && term < 1e-16 * sum)
			break;
		before = term;
	}
	return sum;
}

static double over_control(const void *context, double w)
{
	const struct comparisons *all = context;
	double above = over_half(all, 1.0, w);
	double below = all->sides == SIDES_TWO ? above : over_half(all, -1.0, w);

	return above + below + at_z(all, 0.0, w);
}

static bool lambda_good(const double *lambda, size_t m)
{
	for (size_t i = 0; i < m; i++)
		if (!(lambda[i] >= 0.0 && lambda[i] < 1.0))
			return false;
	return m > 0;
}

/* lambda, m, times, sides and beyond are set. */
static double probability(double c, struct comparisons all, double df)
{
	double count = (double)(all.m * all.times);
	double crowd = log(count + 1.0);
	double largest = values_max(all.lambda, all.m);
	double steepest = largest / sqrt(1.0 - largest * largest);
	double peak = 1.0 / sqrt(1.0 / (c * c) + 1.0 / df);
	struct scale_mean mean = {
		.kernel = over_control,
		.context = &all,
		.df = df,
		.argument = c,
		.step = 1.0 / (1.0 / SCALE_STEP + 0.28 * crowd * crowd),
		.count = all.beyond && c > 0.0 ? count : INFINITY,
		.rate = 1.0,
		.rough = all.rough,
	};

	all.step = (all.rough ? 2.0 : 1.0) / (1.35 + steepest * (1.1 + 0.75 * crowd));
	all.reach = fmin(fmax(8.0, largest * peak + 6.5), UNDERFLOWN);
	return scale_mean(&mean);
}

static bool arguments_good(double c, const double *lambda, size_t m, double df)
{
	return !isnan(c) && df > 0.0 && lambda_good(lambda, m);
}

double dunnett_cdf(double c, const double *lambda, size_t m, double df, enum sides sides)
{
	if (!arguments_good(c, lambda, m, df))
		return NAN;
	if (sides == SIDES_TWO && c <= 0.0)
		return 0.0;
	if (isinf(c))
		return c > 0.0 ? 1.0 : 0.0;
	return probability(c, (struct comparisons){ .lambda = lambda, .m = m, .times = 1, .sides = sides }, df);
}

/* Comparisons that are all alike are one, so many times: the same number, without going over them at every node. */
static void fold_alike(struct comparisons *all)
{
	size_t alike = 1;

	while (alike < all->m && all->lambda[alike] == all->lambda[0])
		alike++;
	if (alike == all->m) {
		all->times *= all->m;
		all->m = 1;
	}
}

/* all's lambda, m, times, sides and rough are set. */
static double tail_of(double c, struct comparisons all, double df)
{
	if (!arguments_good(c, all.lambda, all.m, df) || all.times == 0)
		return NAN;
	if (all.sides == SIDES_TWO && c <= 0.0)
		return 1.0;
	if (isinf(c))
		return c > 0.0 ? 0.0 : 1.0;
	all.beyond = true;
	fold_alike(&all);
	return probability(c, all, df);
}

double dunnett_tail(double c, const double *lambda, size_t m, double df, enum sides sides)
{
	return tail_of(c, (struct comparisons){ .lambda = lambda, .m = m, .times = 1, .sides = sides }, df);
}

struct equal_case {
	struct comparisons all;
	double df;
};

static double exact_tail_of_equal(const void *context, double c)
{
	const struct equal_case *equal = context;

	return tail_of(c, equal->all, equal->df);
}

static double rough_tail_of_equal(const void *context, double c)
{
	const struct equal_case *equal = context;
	struct comparisons all = equal->all;

	all.rough = true;
	return tail_of(c, all, equal->df);
}

double dunnett_tail_equal(double c, double lambda, size_t m, double df, enum sides sides)
{
	return tail_of(c, (struct comparisons){ .lambda = &lambda, .m = 1, .times = m, .sides = sides }, df);
}

bool dunnett_tail_equal_below(double c, double lambda, size_t m, double df, enum sides sides, double alpha)
{
	struct equal_case equal = { { .lambda = &lambda, .m = 1, .times = m, .sides = sides }, df };

	return tail_below(&(struct tail_pair){ rough_tail_of_equal, exact_tail_of_equal }, &equal, c, alpha);
}

struct dunnett_case {
	const double *lambda;
	size_t m;
	double df;
	enum sides sides;
};

static double tail_of_case(const void *context, double c)
{
	const struct dunnett_case *dunnett = context;

	return dunnett_tail(c, dunnett->lambda, dunnett->m, dunnett->df, dunnett->sides);
}

double dunnett_critical(double alpha, const double *lambda, size_t m, double df, enum sides sides)
{
	struct dunnett_case dunnett = { lambda, m, df, sides };
	double each = alpha / (double)m / (sides == SIDES_TWO ? 2.0 : 1.0);

	if (!arguments_good(0.0, lambda, m, df) || !(alpha > 0.0 && alpha < 1.0))
		return NAN;
	if (sides == SIDES_ONE && alpha >= dunnett_tail(0.0, lambda, m, df, sides))
		return NAN;
	/* Bonferroni's bound; one-sided it may reach 0 where alpha is large. */
	return tail_solve(tail_of_case, &dunnett, alpha, fmax(qt(each, df, 0, 0), 1e-3));
}
