/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "describe.h"

#include <Rmath.h>
#include <math.h>
#include <stdlib.h>

#include "doubles.h"

void moments_add(struct moments *moments, double value)
{
	if (moments->n == 0) {
		*moments = (struct moments){ .n = 1, .origin = value, .min = value, .max = value };
		return;
	}
	double from_mean = value - moments->origin - moments->offset;

	moments->n++;
	moments->offset += from_mean / (double)moments->n;
	moments->m2 += from_mean * (value - moments->origin - moments->offset);
	moments->min = fmin(moments->min, value);
	moments->max = fmax(moments->max, value);
}

void moments_merge(struct moments *into, const struct moments *other)
{
	if (other->n == 0)
		return;
	if (into->n == 0) {
		*into = *other;
		return;
	}
	double n = (double)(into->n + other->n);
	double apart = (other->origin - into->origin) + other->offset - into->offset;

	into->m2 += other->m2 + apart * apart * ((double)into->n * (double)other->n / n);
	into->offset += apart * ((double)other->n / n);
	into->n += other->n;
	into->min = fmin(into->min, other->min);
	into->max = fmax(into->max, other->max);
}

double moments_mean(const struct moments *moments)
{
	return moments->n ? moments->origin + moments->offset : NAN;
}

double moments_variance(const struct moments *moments)
{
	return moments->n < 2 ? NAN : moments->m2 / (double)(moments->n - 1);
}

double moments_sd(const struct moments *moments)
{
	return sqrt(moments_variance(moments));
}

/* A running sum and what rounding has cost it so far. */
struct compensated {
	double sum;
	double lost;
};

static void compensated_add(struct compensated *total, double term)
{
	double sum = total->sum + term;

	if (fabs(total->sum) >= fabs(term))
		total->lost += (total->sum - sum) + term;
	else
		total->lost += (term - sum) + total->sum;
	total->sum = sum;
}

static double sum_about(const double *x, size_t n, double origin)
{
	struct compensated total = { 0.0, 0.0 };

	for (size_t i = 0; i < n; i++)
		compensated_add(&total, x[i] - origin);
	return total.sum + total.lost;
}

double values_sum(const double *x, size_t n)
{
	return sum_about(x, n, 0.0);
}

double values_mean_about(const double *x, size_t n, double origin)
{
	return n ? sum_about(x, n, origin) / (double)n : NAN;
}

double values_mean(const double *x, size_t n)
{
	return n ? x[0] + values_mean_about(x, n, x[0]) : NAN;
}

double values_sum_of_squares(const double *x, size_t n)
{
	struct compensated squares = { 0.0, 0.0 };
	struct compensated rest = { 0.0, 0.0 };

	if (n == 0)
		return NAN;
	double offset = values_mean_about(x, n, x[0]);

	for (size_t i = 0; i < n; i++) {
		double from_mean = (x[i] - x[0]) - offset;

		compensated_add(&squares, from_mean * from_mean);
		compensated_add(&rest, from_mean);
	}
	double left = rest.sum + rest.lost;

	return fmax(squares.sum + squares.lost - left * left / (double)n, 0.0);
}

double values_variance(const double *x, size_t n)
{
	return n < 2 ? NAN : values_sum_of_squares(x, n) / (double)(n - 1);
}

double values_sd(const double *x, size_t n)
{
	return sqrt(values_variance(x, n));
}

struct group_summary values_summary(const double *x, size_t n)
{
	return (struct group_summary){ .n = n, .mean = values_mean(x, n), .sd = values_sd(x, n) };
}

double values_min(const double *x, size_t n)
{
	double min = n ? x[0] : NAN;

	for (size_t i = 1; i < n; i++)
		if (x[i] < min)
			min = x[i];
	return min;
}

double values_max(const double *x, size_t n)
{
	double max = n ? x[0] : NAN;

	for (size_t i = 1; i < n; i++)
		if (x[i] > max)
			max = x[i];
	return max;
}

double values_range(const double *x, size_t n)
{
	return values_max(x, n) - values_min(x, n);
}

double quantile_sorted(const double *x, size_t n, double p)
{
	if (n == 0 || !(p >= 0.0 && p <= 1.0))
		return NAN;
	double place = (double)(n - 1) * p;
	size_t below = (size_t)place;
	double part = place - (double)below;

	if (below + 1 >= n)
		return x[n - 1];
	return x[below] + part * (x[below + 1] - x[below]);
}

double values_median(const double *x, size_t n, double *scratch)
{
	for (size_t i = 0; i < n; i++)
		scratch[i] = x[i];
	doubles_sort(scratch, n);
	return quantile_sorted(scratch, n, 0.5);
}

double values_mad(const double *x, size_t n, double *scratch, double *median)
{
	double centre = values_median(x, n, scratch);

	if (median)
		*median = centre;
	for (size_t i = 0; i < n; i++)
		scratch[i] = fabs(x[i] - centre);
	doubles_sort(scratch, n);
	return quantile_sorted(scratch, n, 0.5);
}

double robust_z(double x, double median, double mad)
{
	double distance = x - median;

	return distance == 0.0 ? 0.0 : 0.6745 * distance / mad;
}

void pooled_add(struct pooled *pooled, double sum_of_squares, double df)
{
	if (!(df > 0.0))
		return;
	pooled->sum_of_squares += sum_of_squares;
	pooled->df += df;
}

double pooled_sd(const struct pooled *pooled)
{
	return pooled->df > 0.0 ? sqrt(pooled->sum_of_squares / pooled->df) : NAN;
}

struct interval sd_interval(double sd, double df, double level)
{
	double tail = (1.0 - level) / 2.0;

	if (!(sd >= 0.0 && df > 0.0 && level > 0.0 && level < 1.0))
		return (struct interval){ NAN, NAN };
	return (struct interval){
		.lower = sd * sqrt(df / qchisq(tail, df, 0, 0)),
		.upper = sd * sqrt(df / qchisq(tail, df, 1, 0)),
	};
}

static int compare_ranked(const void *left, const void *right)
{
	const struct ranked *a = left;
	const struct ranked *b = right;

	if (a->value != b->value)
		return a->value < b->value ? -1 : 1;
	return (a->index > b->index) - (a->index < b->index);
}

void ranked_sort(struct ranked *x, size_t n)
{
	if (n > 1)
		qsort(x, n, sizeof(*x), compare_ranked);
}
