/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drift.h"

#include <Rmath.h>
#include <math.h>
#include <stdbool.h>

#include "describe.h"

struct products {
	double xx, xy;
	double df; /* of the residuals, less the slope's one */
	double residual;
};

static double x_at(const double *x, size_t i, size_t first)
{
	return x ? x[i] - x[first] : (double)(i - first);
}

/* Means of one stratum, each less its first value. */
static void stratum_means(double *mean_x, double *mean_y, const double *x, const double *y, size_t first, size_t end)
{
	*mean_x = *mean_y = 0;
	for (size_t i = first; i < end; i++) {
		*mean_x += x_at(x, i, first);
		*mean_y += y[i] - y[first];
	}
	*mean_x /= (double)(end - first);
	*mean_y /= (double)(end - first);
}

/* Adds a stratum's products; with slope known (second pass) its squared residuals. */
static void add_stratum(struct products *sums, const double *x, const double *y, size_t first, size_t end, double slope)
{
	double mean_x, mean_y;

	if (first == end)
		return;
	stratum_means(&mean_x, &mean_y, x, y, first, end);
	sums->df += (double)(end - first) - 1;
	for (size_t i = first; i < end; i++) {
		double dx = x_at(x, i, first) - mean_x, dy = y[i] - y[first] - mean_y, rest = dy - slope * dx;

		sums->xx += dx * dx;
		sums->xy += dx * dy;
		sums->residual += rest * rest;
	}
}

struct slope_test drift_pooled_slope(const double *x, const double *y, const size_t *start, size_t strata)
{
	struct slope_test test = { NAN, NAN, NAN, NAN, NAN };
	struct products first = { 0 }, second = { 0 };
	double slope, df;

	for (size_t i = 0; i < strata; i++)
		add_stratum(&first, x, y, start[i], start[i + 1], 0);
	df = first.df - 1;
	if (df < 1 || !(first.xx > 0))
		return test;
	slope = first.xy / first.xx;
	for (size_t i = 0; i < strata; i++)
		add_stratum(&second, x, y, start[i], start[i + 1], slope);
	test.slope = slope;
	test.df = df;
	test.se = sqrt(second.residual / df / first.xx);
	test.t = slope / test.se;
	test.p = 2 * pt(-fabs(test.t), df, 1, 0);
	return test;
}

struct slope_test drift_slope(const double *x, const double *y, size_t n)
{
	const size_t start[2] = { 0, n };

	return drift_pooled_slope(x, y, start, 1);
}

double drift_power(size_t m, size_t b, double drift, double sd, double alpha)
{
	double readings = (double)m, brews = (double)b, df = brews * (readings - 1) - 1;
	double ncp, critical;

	if (m < 2 || df < 1 || !(sd > 0) || !(alpha > 0 && alpha < 1))
		return NAN;
	ncp = fabs(drift) / (readings - 1) / sd * sqrt(brews * readings * (readings * readings - 1) / 12);
	critical = qt(alpha / 2, df, 0, 0);
	return pnt(critical, df, ncp, 0, 0) + pnt(-critical, df, ncp, 1, 0);
}

double von_neumann_ratio(const double *x, size_t n)
{
	double steps = 0;

	if (n < 2 || values_range(x, n) == 0)
		return NAN;
	for (size_t i = 1; i < n; i++)
		steps += (x[i] - x[i - 1]) * (x[i] - x[i - 1]);
	return steps / values_sum_of_squares(x, n);
}

#define RATIO_EXACT 60 /* the largest n whose law is integrated */

/*
 * The ratio is at most c where sum of a_k z_k^2 <= 0, a_k = root_k - c. The
 * inverse Laplace integral of prod (1 + 2 s a_k)^(-1/2) / s, folded onto the cuts between
 * pairs of its positive branch points s = 1/(2 x), x = -a_k, leaves
 * sqrt(prod |x / (x + a_k)|) / x over every other gap of the x, with alternating sign.
 */
struct quadratic_form {
	double a[RATIO_EXACT];
	size_t count;
};

/* The integrand at left + from_left = right - from_right, exact near both ends. */
static double form_integrand(const struct quadratic_form *form, double left, double right, double from_left,
                             double from_right)
{
	double x = left + from_left, product = 1;

	for (size_t k = 0; k < form->count; k++) {
		double a = form->a[k],
		       distance = from_left < from_right ? from_left + (left + a) : (right + a) - from_right;

		product *= x / fabs(distance);
	}
	return sqrt(product) / x;
}

/* Double-exponential rule: the ends may be singular (Takahasi and Mori, Publ. RIMS 9 (1974) 721-741). */
static double integrate_gap(const struct quadratic_form *form, double left, double right)
{
	const double step = 1.0 / 16;
	double sum = 0, width = right - left;

	for (int i = -62; i <= 62; i++) {
		double t = i * step, u = M_PI * sinh(t); /* twice the usual pi/2 sinh t */
		double from_left = width / (1 + exp(-u)), from_right = width / (1 + exp(u));
		double weight = M_PI * cosh(t) * from_left * from_right / width;

		if (from_left > 0 && from_right > 0)
			sum += weight * form_integrand(form, left, right, from_left, from_right);
	}
	return sum * step;
}

/* P(ratio <= c), c in (lowest root, 2]. */
static double lower_half(size_t n, double c)
{
	struct quadratic_form form = { .count = n - 1 };
	double sum = 0, sign = 1;

	for (size_t k = 1; k < n; k++)
		form.a[k - 1] = 2 - 2 * cos(M_PI * (double)k / (double)n) - c;
	for (size_t k = 0; k < form.count && form.a[k] < 0; k += 2) {
		bool paired = k + 1 < form.count && form.a[k + 1] < 0;

		sum += sign * integrate_gap(&form, paired ? -form.a[k + 1] : 0, -form.a[k]);
		sign = -sign;
	}
	return fmax(0, fmin(1, sum / M_PI));
}

double von_neumann_p(size_t n, double c)
{
	double lowest = 2 - 2 * cos(M_PI / (double)n), size = (double)n;

	if (n < 3 || isnan(c))
		return NAN;
	if (c <= lowest)
		return 0;
	if (c >= 4 - lowest)
		return 1;
	if (n > RATIO_EXACT)
		return pnorm5((c - 2) / sqrt(4 * (size - 2) / (size * size - 1)), 0, 1, 1, 0);
	return c <= 2 ? lower_half(n, c) : 1 - lower_half(n, 4 - c); /* the roots lie symmetric about 2 */
}

double von_neumann_critical(size_t n, double alpha)
{
	double low = 2 - 2 * cos(M_PI / (double)n), high = 4 - low;

	if (n < 3 || !(alpha > 0 && alpha < 1))
		return NAN;
	for (int i = 0; i < 60 && high - low > 1e-13; i++) {
		double middle = 0.5 * (low + high);

		if (von_neumann_p(n, middle) < alpha)
			low = middle;
		else
			high = middle;
	}
	return 0.5 * (low + high);
}
