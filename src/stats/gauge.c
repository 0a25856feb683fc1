/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "gauge.h"

#include <Rmath.h>
#include <math.h>
#include <stdbool.h>

#include "describe.h"

/* Sums over the days of one run with one artefact. */
struct run_sums {
	size_t days;
	double mean;
	double ss; /* of the day means */
};

static struct run_sums sum_run(const struct gauge_day *days, size_t count, size_t artefact, size_t run)
{
	struct moments moments = MOMENTS_INIT;

	for (size_t i = 0; i < count; i++)
		if (days[i].artefact == artefact && days[i].run == run && days[i].n > 0)
			moments_add(&moments, days[i].mean);
	return (struct run_sums){ moments.n, moments_mean(&moments), moments.m2 };
}

/* Running harmonic mean of counts. */
struct harmonic {
	double count;
	double inverse;
};

static double harmonic_mean(const struct harmonic *h)
{
	return h->count / h->inverse;
}

static void harmonic_add(struct harmonic *h, size_t n)
{
	h->count++;
	h->inverse += 1 / (double)n;
}

static struct pooled pool_readings(const struct gauge_day *days, size_t count, struct harmonic *readings)
{
	struct pooled pooled = POOLED_INIT;

	for (size_t i = 0; i < count; i++) {
		double df = (double)days[i].n - 1;

		if (days[i].n == 0)
			continue;
		harmonic_add(readings, days[i].n);
		if (days[i].n >= 2)
			pooled_add(&pooled, df * days[i].sd * days[i].sd, df);
	}
	return pooled;
}

/* Day means within the runs of one artefact, and its run means among themselves. */
static void pool_artefact(struct pooled *day, struct pooled *run, struct harmonic *run_days,
                          const struct gauge_day *days, size_t count, size_t artefact, size_t runs)
{
	struct moments means = MOMENTS_INIT;

	for (size_t r = 0; r < runs; r++) {
		struct run_sums sums = sum_run(days, count, artefact, r);

		if (sums.days == 0)
			continue;
		harmonic_add(run_days, sums.days);
		pooled_add(day, sums.ss, (double)(sums.days - 1));
		moments_add(&means, sums.mean);
	}
	if (means.n >= 2)
		pooled_add(run, means.m2, (double)(means.n - 1));
}

struct gauge_levels gauge_levels_of(const struct gauge_day *days, size_t count, size_t artefacts, size_t runs)
{
	struct harmonic readings = { 0, 0 }, run_days = { 0, 0 };
	struct pooled reading = pool_readings(days, count, &readings), day = POOLED_INIT, run = POOLED_INIT;
	struct gauge_levels out;

	for (size_t a = 0; a < artefacts; a++)
		pool_artefact(&day, &run, &run_days, days, count, a, runs);
	out.s1 = pooled_sd(&reading);
	out.df1 = reading.df;
	out.s2 = pooled_sd(&day);
	out.df2 = day.df;
	out.s3 = pooled_sd(&run);
	out.df3 = run.df;
	out.var_day = out.s2 * out.s2 - out.s1 * out.s1 / harmonic_mean(&readings);
	out.var_run = out.s3 * out.s3 - out.s2 * out.s2 / harmonic_mean(&run_days);
	out.s_reading = NAN;
	if (!isnan(out.var_day) && !isnan(out.var_run))
		out.s_reading = sqrt(out.s1 * out.s1 + fmax(out.var_day, 0) + fmax(out.var_run, 0));
	return out;
}

static bool equal_counts(const struct brew_summary *cells, size_t count)
{
	for (size_t i = 1; i < count; i++)
		if (cells[i].n != cells[0].n)
			return false;
	return true;
}

struct gauge_days gauge_days_of(const struct brew_summary *days, size_t count)
{
	struct gauge_days out = { .days = count,
		                  .mean = NAN,
		                  .s_means = NAN,
		                  .s_a = NAN,
		                  .df_a = NAN,
		                  .s_b = NAN,
		                  .df_b = NAN,
		                  .f = NAN,
		                  .p = NAN,
		                  .u_mean = NAN,
		                  .u_mean_pooled = NAN,
		                  .df_pooled = NAN,
		                  .var_day = NAN };
	struct moments means = MOMENTS_INIT;
	double k = (double)count, n, ss;

	for (size_t i = 0; i < count; i++)
		if (days[i].n > 0)
			moments_add(&means, days[i].mean);
	out.mean = moments_mean(&means);
	if (count < 2 || days[0].n < 2 || !equal_counts(days, count))
		return out;
	n = (double)days[0].n;
	out.s_means = moments_sd(&means);
	out.s_a = sqrt(n) * out.s_means;
	out.df_a = k - 1;
	out.s_b = brew_pooled_sd(days, count, &out.df_b);
	out.f = out.s_a * out.s_a / (out.s_b * out.s_b);
	out.p = pf(out.f, out.df_a, out.df_b, 0, 0);
	out.u_mean = out.s_means / sqrt(k);
	ss = out.df_a * out.s_a * out.s_a + out.df_b * out.s_b * out.s_b;
	out.df_pooled = n * k - 1;
	out.u_mean_pooled = sqrt(ss / out.df_pooled / (n * k));
	out.var_day = (out.s_a * out.s_a - out.s_b * out.s_b) / n;
	return out;
}

/* Mean of `count` cells that stand `apart` apart, less origin. */
static double line_mean(const struct brew_summary *cells, size_t count, size_t apart, double origin)
{
	double sum = 0;

	for (size_t i = 0; i < count; i++)
		sum += cells[i * apart].mean - origin;
	return sum / (double)count;
}

static void crossed_squares(struct gauge_crossed *out, const struct brew_summary *cells, size_t samples,
                            size_t operators)
{
	double origin = cells[0].mean, n = (double)cells[0].n;
	double grand = line_mean(cells, samples * operators, 1, origin);
	double sample = 0, op = 0, interaction = 0;

	for (size_t s = 0; s < samples; s++) {
		double row = line_mean(cells + s * operators, operators, 1, origin);

		sample += (row - grand) * (row - grand);
		for (size_t o = 0; o < operators; o++) {
			double column = line_mean(cells + o, samples, operators, origin);
			double rest = cells[s * operators + o].mean - origin - row - column + grand;

			interaction += rest * rest;
			if (s == 0)
				op += (column - grand) * (column - grand);
		}
	}
	out->ms_sample = n * (double)operators * sample / out->df_sample;
	out->ms_operator = n * (double)samples * op / out->df_operator;
	out->ms_interaction = n * interaction / out->df_interaction;
}

static void crossed_components(struct gauge_crossed *out, double n, double samples, double operators)
{
	out->var_reading = out->ms_reading;
	out->var_interaction = (out->ms_interaction - out->ms_reading) / n;
	out->var_operator = (out->ms_operator - out->ms_interaction) / (n * samples);
	out->var_sample = (out->ms_sample - out->ms_interaction) / (n * operators);
	out->s_sample = sqrt(fmax(out->var_sample, 0));
	out->s_repeatability = sqrt(out->var_reading);
	out->s_reproducibility = sqrt(fmax(out->var_operator, 0) + fmax(out->var_interaction, 0));
	out->s_gauge = hypot(out->s_repeatability, out->s_reproducibility);
	out->share_gauge = out->s_gauge * out->s_gauge / (out->s_gauge * out->s_gauge + out->s_sample * out->s_sample);
	out->categories = gauge_categories(out->s_sample, out->s_gauge);
}

struct gauge_crossed gauge_crossed_of(const struct brew_summary *cells, size_t samples, size_t operators)
{
	struct gauge_crossed out = { NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN,
		                     NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN };
	double sd;

	if (samples < 2 || operators < 2 || cells[0].n < 2 || !equal_counts(cells, samples * operators))
		return out;
	out.df_sample = (double)(samples - 1);
	out.df_operator = (double)(operators - 1);
	out.df_interaction = out.df_sample * out.df_operator;
	sd = brew_pooled_sd(cells, samples * operators, &out.df_reading);
	out.ms_reading = sd * sd;
	crossed_squares(&out, cells, samples, operators);
	crossed_components(&out, (double)cells[0].n, (double)samples, (double)operators);
	return out;
}

double gauge_categories(double s_sample, double s_gauge)
{
	if (!(s_sample >= 0) || !(s_gauge >= 0) || (s_sample == 0 && s_gauge == 0))
		return NAN;
	return fmax(1, floor(M_SQRT2 * s_sample / s_gauge));
}
