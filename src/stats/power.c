/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "power.h"

#include "quadrature.h"

#include <Rmath.h>
#include <math.h>
#include <stdbool.h>

#define LARGEST_T_NCP 1e4
#define LARGEST_F_NCP 1e7
#define LARGEST_N     1e9

/* Given the scale: the normal value with mean ncp exceeds w. */
static double exceeds(const void *context, double w)
{
	const double *ncp = context;

	return normal_lower(*ncp - w);
}

double noncentral_t_tail(double t, double df, double ncp)
{
	double shift = fmax(fmin(ncp, LARGEST_T_NCP), -LARGEST_T_NCP);
	struct scale_mean mean = {
		.kernel = exceeds,
		.context = &shift,
		.df = df,
		.argument = t,
		/* the kernel drops within 1/ncp of log s */
		.step = 1.0 / hypot(1.0 / SCALE_STEP, shift / 0.6),
		.count = INFINITY,
	};

	if (isnan(t) || isnan(ncp) || !(df > 0.0))
		return NAN;
	if (isinf(t))
		return t > 0.0 ? 0.0 : 1.0;
	return scale_mean(&mean);
}

struct shift {
	double critical;
	double df;
};

static double miss_by_shift(const void *context, double ncp)
{
	const struct shift *shift = context;

	return 1.0 - noncentral_t_tail(shift->critical, shift->df, ncp);
}

double power_shift(double critical, double df, double power)
{
	struct shift shift = { critical, df };

	if (!(critical > 0.0 && df > 0.0 && power > 0.0 && power < 1.0))
		return NAN;
	return tail_solve(miss_by_shift, &shift, 1.0 - power, critical + fmax(qnorm(power, 0, 1, 1, 0), 0.1));
}

/* Poisson terms from j on in steps of that sign, each with the beta tail whose first parameter it shifts. */
static double mixture_from(double j, double step, double half_ncp, double x, double df1, double df2)
{
	double sum = 0.0;
	double weight = dpois_raw(j, half_ncp, 0);

	for (; j >= 0.0 && weight > 0.0; j += step) {
		sum += weight * pbeta(x, 0.5 * df1 + j, 0.5 * df2, 0, 0);
		if (weight < 1e-18)
			break;
		weight *= step > 0.0 ? half_ncp / (j + 1.0) : j / half_ncp;
	}
	return sum;
}

double noncentral_f_tail(double f, double df1, double df2, double ncp)
{
	double half_ncp = 0.5 * fmin(ncp, LARGEST_F_NCP);

	if (isnan(f) || !(df1 > 0.0 && df2 > 0.0 && ncp >= 0.0))
		return NAN;
	if (f <= 0.0)
		return 1.0;
	if (isinf(f))
		return 0.0;
	double x = df1 * f / (df1 * f + df2);
	double middle = floor(half_ncp);
	double sum = mixture_from(middle, 1.0, half_ncp, x, df1, df2);

	if (middle > 0.0)
		sum += mixture_from(middle - 1.0, -1.0, half_ncp, x, df1, df2);
	return fmin(sum, 1.0);
}

static bool level_good(double alpha)
{
	return alpha > 0.0 && alpha < 1.0;
}

static double test_df(enum power_test test, double n)
{
	return test == POWER_TWO_SAMPLE ? 2.0 * (n - 1.0) : n - 1.0;
}

static double test_ncp(enum power_test test, double n, double effect)
{
	return effect * sqrt(test == POWER_TWO_SAMPLE ? 0.5 * n : n);
}

double power_t(enum power_test test, double n, double effect, double alpha)
{
	double df = test_df(test, n);

	if (!(n > 1.0) || !level_good(alpha) || isnan(effect))
		return NAN;
	return noncentral_t_tail(qt(0.5 * alpha, df, 0, 0), df, test_ncp(test, n, fabs(effect)));
}

double power_t_strict(enum power_test test, double n, double effect, double alpha)
{
	double df = test_df(test, n);

	if (!(n > 1.0) || !level_good(alpha) || isnan(effect))
		return NAN;
	return power_t(test, n, effect, alpha) +
	       noncentral_t_tail(qt(0.5 * alpha, df, 0, 0), df, -test_ncp(test, n, fabs(effect)));
}

double power_oneway(size_t k, double n, double variance_ratio, double alpha)
{
	double df1 = (double)k - 1.0;
	double df2 = (double)k * (n - 1.0);

	if (k < 2 || !(n > 1.0) || !(variance_ratio >= 0.0) || !level_good(alpha))
		return NAN;
	return noncentral_f_tail(qf(alpha, df1, df2, 0, 0), df1, df2, df1 * n * variance_ratio);
}

/* A design of which n or the effect is still to be found. */
struct design {
	enum power_test test;
	size_t k;
	double n;
	double effect; /* one-way: the variance ratio */
	double alpha;
};

static double miss_t_by_n(const void *context, double beyond_one)
{
	const struct design *design = context;

	return 1.0 - power_t(design->test, 1.0 + beyond_one, design->effect, design->alpha);
}

static double miss_t_by_effect(const void *context, double effect)
{
	const struct design *design = context;

	return 1.0 - power_t(design->test, design->n, effect, design->alpha);
}

static double miss_oneway_by_n(const void *context, double beyond_one)
{
	const struct design *design = context;

	return 1.0 - power_oneway(design->k, 1.0 + beyond_one, design->effect, design->alpha);
}

/* Standard normal distance between the critical value and the wanted power. */
static double normal_distance(double power, double alpha)
{
	return qnorm(0.5 * alpha, 0.0, 1.0, 0, 0) + qnorm(power, 0.0, 1.0, 1, 0);
}

/* The n whose miss is 1 - power; start is that of the normal approximation, which is too small. */
static double solve_n(tail_fn *miss, const struct design *design, double power, double start)
{
	double n = 1.0 + tail_solve(miss, design, 1.0 - power, fmin(fmax(start, 0.5), LARGEST_N));

	return n > 1.0001 && n <= LARGEST_N ? n : NAN;
}

static bool aim_good(double power, double alpha)
{
	return level_good(alpha) && power > alpha && power < 1.0;
}

double power_t_n(enum power_test test, double effect, double power, double alpha)
{
	struct design design = { .test = test, .effect = effect, .alpha = alpha };

	if (!(effect > 0.0) || !aim_good(power, alpha))
		return NAN;
	double groups = test == POWER_TWO_SAMPLE ? 2.0 : 1.0;
	double distance = normal_distance(power, alpha) / effect;

	return solve_n(miss_t_by_n, &design, power, groups * distance * distance);
}

double power_t_effect(enum power_test test, double n, double power, double alpha)
{
	struct design design = { .test = test, .n = n, .alpha = alpha };

	if (!(n > 1.0) || !aim_good(power, alpha))
		return NAN;
	return tail_solve(miss_t_by_effect, &design, 1.0 - power,
	                  normal_distance(power, alpha) / test_ncp(test, n, 1.0));
}

double power_oneway_n(size_t k, double variance_ratio, double power, double alpha)
{
	struct design design = { .k = k, .effect = variance_ratio, .alpha = alpha };

	if (k < 2 || !(variance_ratio > 0.0) || !aim_good(power, alpha))
		return NAN;
	double distance = normal_distance(power, alpha);

	return solve_n(miss_oneway_by_n, &design, power, distance * distance / ((double)(k - 1) * variance_ratio));
}

double brew_mean_variance(double sd_brew, double sd_reading, size_t m)
{
	return m ? sd_brew * sd_brew + sd_reading * sd_reading / (double)m : NAN;
}

double detectable_difference(size_t b, size_t m, double sd_brew, double sd_reading, double power, double alpha)
{
	double sd = sqrt(brew_mean_variance(sd_brew, sd_reading, m));

	return sd * power_t_effect(POWER_TWO_SAMPLE, (double)b, power, alpha);
}

static double variance_times_cost(double sd_brew, double sd_reading, double cost_brew, double cost_reading, size_t m)
{
	return brew_mean_variance(sd_brew, sd_reading, m) * (cost_brew + (double)m * cost_reading);
}

struct readings_plan readings_best(double sd_brew, double sd_reading, double cost_brew, double cost_reading)
{
	struct readings_plan plan = { NAN, 0, NAN };

	if (!(sd_brew >= 0.0 && sd_reading >= 0.0 && cost_brew > 0.0 && cost_reading > 0.0))
		return plan;
	plan.real = sd_reading > 0.0 ? sqrt(cost_brew / cost_reading) * sd_reading / sd_brew : 0.0;
	size_t below = (size_t)fmin(fmax(floor(plan.real), 1.0), READINGS_MOST);
	double at_below = variance_times_cost(sd_brew, sd_reading, cost_brew, cost_reading, below);
	double at_above = variance_times_cost(sd_brew, sd_reading, cost_brew, cost_reading, below + 1);
	bool above = below < READINGS_MOST && at_above < at_below;

	plan.whole = above ? below + 1 : below;
	plan.variance_times_cost = above ? at_above : at_below;
	return plan;
}

/* Fewest whole brews, 2 or more, that reach the power; 0 beyond BREWS_PLAN_MOST. */
static size_t brews_for(double effect, double power, double alpha)
{
	if (power_t(POWER_TWO_SAMPLE, 2.0, effect, alpha) >= power)
		return 2;
	double n = ceil(power_t_n(POWER_TWO_SAMPLE, effect, power, alpha));

	return n <= BREWS_PLAN_MOST ? (size_t)n : 0;
}

struct brew_plan plan_cheapest(const struct plan_query *query)
{
	struct brew_plan best = { 0, 0, NAN, NAN };

	if (!(query->difference > 0.0 && query->cost_brew > 0.0 && query->cost_reading > 0.0) ||
	    !aim_good(query->power, query->alpha))
		return best;
	for (size_t m = 1; m <= query->readings_most; m++) {
		double effect = query->difference / sqrt(brew_mean_variance(query->sd_brew, query->sd_reading, m));
		size_t brews = brews_for(effect, query->power, query->alpha);
		double cost = (double)brews * (query->cost_brew + (double)m * query->cost_reading);

		if (brews == 0 || (best.brews > 0 && cost >= best.cost))
			continue;
		best = (struct brew_plan){ .brews = brews, .readings = m, .cost = cost };
		best.power = power_t(POWER_TWO_SAMPLE, (double)brews, effect, query->alpha);
	}
	return best;
}
