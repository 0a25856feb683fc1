/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "precision.h"

#include <math.h>

#include "describe.h"

struct totals {
	size_t groups;
	double n;         /* readings */
	double n_squared; /* sum of n_i^2 */
	double origin;    /* the first group's mean: means are taken relative to it */
	double weighted;  /* mean of all readings, less origin */
	double plain;     /* mean of the group means, less origin */
};

static struct totals totals_of(const struct brew_summary *groups, size_t count)
{
	struct totals t = { 0 };
	double sum = 0, plain_sum = 0;

	for (size_t i = 0; i < count; i++) {
		double n = (double)groups[i].n;

		if (groups[i].n == 0)
			continue;
		if (t.groups == 0)
			t.origin = groups[i].mean;
		t.groups++;
		t.n += n;
		t.n_squared += n * n;
		sum += n * (groups[i].mean - t.origin);
		plain_sum += groups[i].mean - t.origin;
	}
	t.weighted = sum / t.n;
	t.plain = plain_sum / (double)t.groups;
	return t;
}

static void between_groups(struct precision *out, const struct totals *t, const struct brew_summary *groups,
                           size_t count)
{
	double ss = 0, ss_means = 0;
	double df = (double)(t->groups - 1);

	for (size_t i = 0; i < count; i++) {
		double d = groups[i].mean - t->origin;

		if (groups[i].n == 0)
			continue;
		ss += (double)groups[i].n * (d - t->weighted) * (d - t->weighted);
		ss_means += (d - t->plain) * (d - t->plain);
	}
	out->ms_between = ss / df;
	out->s_means = sqrt(ss_means / df);
	out->nbar = (t->n - t->n_squared / t->n) / df;
}

/* Satterthwaite for s_R^2 = ms_between / nbar + (1 - 1/nbar) s_r^2. */
static double df_reproducibility(const struct precision *p)
{
	double between = p->ms_between / p->nbar;
	double within = (1 - 1 / p->nbar) * p->ms_within;
	double total = between + within;

	return total * total / (between * between / (double)(p->groups - 1) + within * within / p->df_r);
}

struct precision precision_of(const struct brew_summary *groups, size_t count)
{
	struct precision out = { .nbar = NAN,
		                 .ms_between = NAN,
		                 .var_between_raw = NAN,
		                 .s_L = NAN,
		                 .s_R = NAN,
		                 .df_R = NAN,
		                 .s_means = NAN };
	struct totals t = totals_of(groups, count);

	out.groups = t.groups;
	out.readings = (size_t)t.n;
	out.mean = t.origin + t.weighted;
	out.s_r = brew_pooled_sd(groups, count, &out.df_r);
	out.ms_within = out.s_r * out.s_r;
	if (t.groups >= 2) {
		between_groups(&out, &t, groups, count);
		out.var_between_raw = (out.ms_between - out.ms_within) / out.nbar;
		out.s_L = isnan(out.var_between_raw) ? NAN : sqrt(fmax(out.var_between_raw, 0));
		out.s_R = sqrt(out.ms_within + out.s_L * out.s_L);
		if (out.var_between_raw > 0)
			out.df_R = df_reproducibility(&out);
	}
	out.r_limit = PRECISION_LIMIT_EXACT * out.s_r;
	out.R_limit = PRECISION_LIMIT_EXACT * out.s_R;
	return out;
}

struct sd_claim sd_claimable(double s, double step)
{
	struct sd_claim claim = { .sd = s };

	if (!(step > 0))
		return claim;
	claim.rounding = step / sqrt(12);
	claim.limited = !(s >= step);
	claim.sd = s > claim.rounding ? s : claim.rounding;
	return claim;
}

double rounding_left(double s, double step)
{
	const double pi = 3.14159265358979323846;
	double sum = 0;

	if (!(step > 0))
		return 0;
	if (!(s > 0))
		return step / sqrt(12);
	for (int i = 1; i < 10000; i++) {
		double damped = exp(-pow(2 * pi * i * s / step, 2)) / (2 * pi * pi * i * i);

		sum += damped;
		if (damped < 1e-9 * sum || damped == 0)
			break;
	}
	return step * sqrt(sum);
}

double sd_before_rounding(double s, double step)
{
	return sqrt(fmax(s * s - step * step / 12, 0));
}
