/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nested.h"

#include <Rmath.h>
#include <math.h>

#include "ratio_search.h"

/* Means are taken less the first brew's: an offset common to all must cost no digits. */
static double origin_of(const struct brew_summary *brews, size_t count)
{
	for (size_t i = 0; i < count; i++)
		if (brews[i].n > 0)
			return brews[i].mean;
	return NAN;
}

static double at_most(double value, double cap)
{
	return value > cap ? cap : value;
}

static double ratio_or_nan(double ss, double df)
{
	return df > 0 ? ss / df : NAN;
}

/* ---- analysis of variance ---- */

static void count_and_average(struct nested_anova *out, struct nested_treatment *treatments, size_t treatment_count,
                              const struct brew_summary *brews, size_t brew_count, double origin)
{
	double sum = 0;

	for (size_t i = 0; i < treatment_count; i++)
		treatments[i] = (struct nested_treatment){ .se = NAN, .df = NAN, .weight = NAN };
	for (size_t i = 0; i < brew_count; i++) {
		struct nested_treatment *t = &treatments[brews[i].treatment];

		if (brews[i].n == 0)
			continue;
		t->brews++;
		t->readings += brews[i].n;
		t->mean += (double)brews[i].n * (brews[i].mean - origin);
		out->ss_reading += brews[i].ss;
		out->brews++;
	}
	for (size_t i = 0; i < treatment_count; i++) {
		struct nested_treatment *t = &treatments[i];

		sum += t->mean;
		t->mean = t->brews ? t->mean / (double)t->readings : NAN;
		out->treatments += t->brews > 0;
		out->readings += t->readings;
	}
	out->mean = sum / (double)out->readings; /* still less origin */
}

/* Sums of squares of treatments and brews, and the coefficients k1 and k2. */
static void sum_squares(struct nested_anova *out, const struct nested_treatment *treatments, size_t treatment_count,
                        const struct brew_summary *brews, size_t brew_count, double origin)
{
	double n_squared = 0, a = 0, readings = (double)out->readings;

	for (size_t i = 0; i < treatment_count; i++) {
		double d = treatments[i].mean - out->mean;

		if (treatments[i].brews > 0)
			out->ss_treatment += (double)treatments[i].readings * d * d;
	}
	for (size_t i = 0; i < brew_count; i++) {
		const struct nested_treatment *t = &treatments[brews[i].treatment];
		double n = (double)brews[i].n, d = brews[i].mean - origin - t->mean;

		if (brews[i].n == 0)
			continue;
		out->ss_brew += n * d * d;
		n_squared += n * n;
		a += n * n / (double)t->readings;
	}
	out->k1 = ratio_or_nan(readings - a, out->df_brew);
	out->k2 = ratio_or_nan(a - n_squared / readings, out->df_treatment);
}

/* c1 ms_brew + (1 - c1) ms_reading and its Satterthwaite df; without df between readings c1 is 1. */
static double combine(const struct nested_anova *a, double c1, double *df)
{
	double brew = c1 * a->ms_brew, reading = (1 - c1) * a->ms_reading, total;

	if (a->df_reading <= 0) {
		*df = a->df_brew;
		return a->ms_brew;
	}
	total = brew + reading;
	*df = total * total / (brew * brew / a->df_brew + reading * reading / a->df_reading);
	return total;
}

static void estimate_components(struct nested_anova *out)
{
	out->ms_treatment = ratio_or_nan(out->ss_treatment, out->df_treatment);
	out->ms_brew = ratio_or_nan(out->ss_brew, out->df_brew);
	out->ms_reading = ratio_or_nan(out->ss_reading, out->df_reading);
	out->var_reading = out->ms_reading;
	out->var_brew_raw = (out->ms_brew - out->ms_reading) / out->k1;
	out->var_brew = out->var_brew_raw < 0 ? 0 : out->var_brew_raw;
	out->var_total = out->df_total = out->f = out->f_denominator = out->f_df_denominator = out->p = NAN;
	if (out->df_brew <= 0)
		return;
	out->var_total = combine(out, 1 / out->k1, &out->df_total);
	if (out->var_brew_raw < 0) {
		out->var_total = out->ms_reading;
		out->df_total = out->df_reading;
	}
	if (out->df_treatment <= 0)
		return;
	out->f_denominator = combine(out, out->k2 / out->k1, &out->f_df_denominator);
	out->f_df_denominator = at_most(out->f_df_denominator, out->df_brew);
	if (!(out->f_denominator > 0))
		return;
	out->f = out->ms_treatment / out->f_denominator;
	out->p = pf(out->f, out->df_treatment, out->f_df_denominator, 0, 0);
}

void nested_anova(struct nested_anova *out, struct nested_treatment *treatments, size_t treatment_count,
                  const struct brew_summary *brews, size_t brew_count)
{
	double origin = origin_of(brews, brew_count);

	*out = (struct nested_anova){ 0 };
	count_and_average(out, treatments, treatment_count, brews, brew_count, origin);
	out->df_treatment = (double)out->treatments - 1;
	out->df_brew = (double)(out->brews - out->treatments);
	out->df_reading = (double)(out->readings - out->brews);
	sum_squares(out, treatments, treatment_count, brews, brew_count, origin);
	estimate_components(out);
	out->mean += origin;
	for (size_t i = 0; i < treatment_count; i++)
		treatments[i].mean += origin;
}

struct interval nested_interval_reading(const struct nested_anova *anova, double level)
{
	struct interval sd = sd_interval(sqrt(anova->var_reading), anova->df_reading, level);

	return (struct interval){ sd.lower * sd.lower, sd.upper * sd.upper };
}

/* Upper-tail point of F(df, infinity). */
static double f_infinite(double alpha, double df)
{
	return qchisq(alpha, df, 0, 0) / df;
}

/* In the notation of Ting et al.: bounds of c (s1 - s2), alpha in each tail. */
struct interval nested_interval_brew(const struct nested_anova *anova, double level)
{
	double alpha = (1 - level) / 2, n1 = anova->df_brew, n2 = anova->df_reading;
	double s1 = anova->ms_brew, s2 = anova->ms_reading;
	double g1, g2, h1, h2, f, g12, h12, lower, upper;

	if (isnan(anova->var_brew_raw) || !(level > 0 && level < 1))
		return (struct interval){ NAN, NAN };
	g1 = 1 - 1 / f_infinite(alpha, n1);
	g2 = 1 - 1 / f_infinite(alpha, n2);
	h1 = 1 / f_infinite(1 - alpha, n1) - 1;
	h2 = 1 / f_infinite(1 - alpha, n2) - 1;
	f = qf(alpha, n1, n2, 0, 0);
	g12 = ((f - 1) * (f - 1) - g1 * g1 * f * f - h2 * h2) / f;
	f = qf(1 - alpha, n1, n2, 0, 0);
	h12 = ((1 - f) * (1 - f) - h1 * h1 * f * f - g2 * g2) / f;
	lower = s1 - s2 - sqrt(fmax(g1 * g1 * s1 * s1 + h2 * h2 * s2 * s2 + g12 * s1 * s2, 0));
	upper = s1 - s2 + sqrt(fmax(h1 * h1 * s1 * s1 + g2 * g2 * s2 * s2 + h12 * s1 * s2, 0));
	return (struct interval){ fmax(lower / anova->k1, 0), fmax(upper / anova->k1, 0) };
}

struct interval nested_interval_share(const struct nested_anova *anova, double level)
{
	double alpha = (1 - level) / 2;
	double f = anova->ms_brew / anova->ms_reading;

	if (isnan(anova->var_brew_raw) || isnan(f) || !(level > 0 && level < 1))
		return (struct interval){ NAN, NAN };
	return (struct interval){
		fmax(1 - qf(alpha, anova->df_brew, anova->df_reading, 0, 0) / f, 0),
		fmax(1 - qf(1 - alpha, anova->df_brew, anova->df_reading, 0, 0) / f, 0),
	};
}

/* ---- restricted maximum likelihood ---- */

/*
 * With ratio = var_brew / var_reading known, brew means are independent
 * with weights w = n / (1 + n ratio) in units of 1 / var_reading; var_reading drops out.
 */
struct fitting {
	const struct brew_summary *brews;
	size_t brew_count;
	struct nested_treatment *treatments;
	size_t treatment_count;
	double origin;
	double ss_reading;
	double df;         /* N - t */
	double ss_at_zero; /* ss at ratio 0 */
	double ss;         /* ss_reading + sum of w (mean - treatment mean)^2, at the ratio last evaluated */
	double weights;    /* sum of w */
};

/* Weighted treatment means (less origin) at ratio, into mean and weight. */
static void weigh(struct fitting *fit, double ratio)
{
	fit->weights = 0;
	for (size_t i = 0; i < fit->treatment_count; i++)
		fit->treatments[i].weight = fit->treatments[i].mean = 0;
	for (size_t i = 0; i < fit->brew_count; i++) {
		const struct brew_summary *brew = &fit->brews[i];
		struct nested_treatment *t = &fit->treatments[brew->treatment];
		double n = (double)brew->n, w = n / (1 + n * ratio);

		if (brew->n == 0)
			continue;
		t->weight += w;
		t->mean += w * (brew->mean - fit->origin);
		fit->weights += w;
	}
	for (size_t i = 0; i < fit->treatment_count; i++)
		if (fit->treatments[i].brews > 0)
			fit->treatments[i].mean /= fit->treatments[i].weight;
}

/* Derivative of -2 log-likelihood, profiled over var_reading, by ratio. */
static double slope_at(void *context, double ratio)
{
	struct fitting *fit = context;
	double spread = 0, lost = 0;

	weigh(fit, ratio);
	fit->ss = fit->ss_reading;
	for (size_t i = 0; i < fit->brew_count; i++) {
		const struct brew_summary *brew = &fit->brews[i];
		const struct nested_treatment *t = &fit->treatments[brew->treatment];
		double n = (double)brew->n, w = n / (1 + n * ratio);
		double d = brew->mean - fit->origin - t->mean;

		if (brew->n == 0)
			continue;
		fit->ss += w * d * d;
		spread += w * w * d * d;
		lost += w * w / t->weight;
	}
	if (ratio == 0)
		fit->ss_at_zero = fit->ss;
	return fit->weights - lost - fit->df * spread / fit->ss;
}

/* Log-likelihood at the ratio that slope_at() was last called for. */
static double loglik_at(void *context, double ratio)
{
	const struct fitting *fit = context;
	double sum = fit->df * (log(fit->ss / fit->df) + 1 + log(2 * M_PI));

	for (size_t i = 0; i < fit->brew_count; i++)
		sum += log1p((double)fit->brews[i].n * ratio);
	for (size_t i = 0; i < fit->treatment_count; i++)
		if (fit->treatments[i].brews > 0)
			sum += log(fit->treatments[i].weight);
	return -0.5 * sum;
}

/* Sums over the brews of one fit that the observed information is made of; [0] brew, [1] reading. */
static void add_scores(struct fitting *fit, const struct nested_reml *out, double information[3])
{
	for (size_t i = 0; i < fit->treatment_count; i++) {
		struct nested_treatment *t = &fit->treatments[i];

		t->slope_brew = t->slope_reading = t->score[0] = t->score[1] = 0;
	}
	for (size_t i = 0; i < fit->brew_count; i++) {
		const struct brew_summary *brew = &fit->brews[i];
		struct nested_treatment *t = &fit->treatments[brew->treatment];
		double n = (double)brew->n, u = n / (out->var_reading + n * out->var_brew);
		double d = brew->mean - fit->origin - t->mean;
		/* - 1/2 (u^2 - 2 u^3 / W) + u^3 d^2: what this brew alone adds */
		double own = u * u * (u * d * d - 0.5 + u / t->weight);

		if (brew->n == 0)
			continue;
		t->slope_brew += u * u;
		t->slope_reading += u * u / n;
		t->score[0] += u * u * d;
		t->score[1] += u * u * d / n;
		information[0] += own;
		information[1] += own / n;
		information[2] += own / (n * n);
	}
}

/* Observed information: y'P V_k P V_l P y - tr(P V_k P V_l) / 2. Weights must be 1 / variance. */
static void observe_information(struct fitting *fit, struct nested_reml *out)
{
	double within = out->readings > out->brews ? (double)(out->readings - out->brews) : 0;
	double v = out->var_reading;
	double *information = out->information;

	add_scores(fit, out, information);
	for (size_t i = 0; i < fit->treatment_count; i++) {
		struct nested_treatment *t = &fit->treatments[i];
		double w = t->weight, b = t->slope_brew / w, r = t->slope_reading / w;

		if (t->brews == 0)
			continue;
		information[0] -= t->score[0] * t->score[0] / w + 0.5 * b * b;
		information[1] -= t->score[0] * t->score[1] / w + 0.5 * b * r;
		information[2] -= t->score[1] * t->score[1] / w + 0.5 * r * r;
		t->slope_brew = b / w;
		t->slope_reading = r / w;
	}
	information[2] += fit->ss_reading / (v * v * v) - 0.5 * within / (v * v);
}

static void invert_information(struct nested_reml *out)
{
	const double *i = out->information;
	double determinant = i[0] * i[2] - i[1] * i[1];

	if (out->at_boundary) {
		out->covariance[2] = 1 / i[2];
		return;
	}
	out->covariance[0] = i[2] / determinant;
	out->covariance[1] = -i[1] / determinant;
	out->covariance[2] = i[0] / determinant;
}

/* From one weight vector to the standard error and the degrees of freedom of sum l_i mean_i. */
struct contrast_sums {
	double estimate;
	double variance;
	double slope_brew;
	double slope_reading;
};

static void contrast_add(struct contrast_sums *sums, const struct nested_treatment *t, double l)
{
	sums->estimate += l * t->mean;
	sums->variance += l * l * t->se * t->se;
	sums->slope_brew += l * l * t->slope_brew;
	sums->slope_reading += l * l * t->slope_reading;
}

static struct nested_contrast contrast_finish(const struct nested_reml *fit, const struct contrast_sums *sums)
{
	const double *h = fit->covariance;
	double b = sums->slope_brew, r = sums->slope_reading, v = sums->variance;
	double spread = b * b * h[0] + 2 * b * r * h[1] + r * r * h[2];
	struct nested_contrast out = { .estimate = sums->estimate, .se = sqrt(v) };

	out.df_uncapped = v == 0 ? fit->df_cap : 2 * v * v / spread;
	out.df = at_most(out.df_uncapped, fit->df_cap);
	return out;
}

static void finish_treatments(const struct nested_reml *out, struct nested_treatment *treatments, size_t count,
                              double origin)
{
	for (size_t i = 0; i < count; i++) {
		struct nested_treatment *t = &treatments[i];
		struct contrast_sums sums = { 0 };

		t->mean = t->brews == 0 ? NAN : t->mean + origin;
		t->se = t->brews == 0 ? NAN : 1 / sqrt(t->weight);
		if (t->brews == 0)
			t->weight = t->slope_brew = t->slope_reading = NAN;
		contrast_add(&sums, t, 1);
		t->df = contrast_finish(out, &sums).df;
	}
}

/* No spread within brews: every brew mean counts alike. */
static void fit_without_reading_spread(struct fitting *fit, struct nested_reml *out)
{
	double ss = 0;

	for (size_t i = 0; i < fit->treatment_count; i++)
		fit->treatments[i].mean = 0;
	for (size_t i = 0; i < fit->brew_count; i++)
		if (fit->brews[i].n > 0)
			fit->treatments[fit->brews[i].treatment].mean += fit->brews[i].mean - fit->origin;
	for (size_t i = 0; i < fit->treatment_count; i++)
		if (fit->treatments[i].brews > 0)
			fit->treatments[i].mean /= (double)fit->treatments[i].brews;
	for (size_t i = 0; i < fit->brew_count; i++) {
		double d = fit->brews[i].mean - fit->origin - fit->treatments[fit->brews[i].treatment].mean;

		if (fit->brews[i].n > 0)
			ss += d * d;
	}
	out->var_reading = 0;
	out->var_brew = ss / out->df_cap;
	out->loglik = INFINITY;
	out->slope_at_zero = INFINITY;
	out->covariance[0] = 2 * out->var_brew * out->var_brew / out->df_cap;
	for (size_t i = 0; i < fit->treatment_count; i++) {
		struct nested_treatment *t = &fit->treatments[i];

		t->weight = (double)t->brews / out->var_brew;
		t->slope_brew = 1 / (double)t->brews;
		t->slope_reading = 0;
	}
}

static void fit_components(struct fitting *fit, struct nested_reml *out)
{
	const struct ratio_model model = { fit, slope_at, loglik_at };
	struct ratio_found found = ratio_search(&model);

	if (isinf(found.ratio)) {
		fit_without_reading_spread(fit, out);
		return;
	}
	out->loglik = found.loglik;
	out->slope_at_zero = -0.5 * found.slope_at_zero * fit->df / fit->ss_at_zero;
	out->var_reading = fit->ss / fit->df;
	out->var_brew = found.ratio * out->var_reading;
	out->at_boundary = found.ratio == 0;
	for (size_t i = 0; i < fit->treatment_count; i++)
		fit->treatments[i].weight /= out->var_reading;
	observe_information(fit, out);
	invert_information(out);
}

static void not_separable(struct nested_reml *out, struct nested_treatment *treatments, size_t treatment_count)
{
	out->var_brew = out->var_reading = out->loglik = out->slope_at_zero = NAN;
	for (int i = 0; i < 3; i++)
		out->information[i] = out->covariance[i] = NAN;
	for (size_t i = 0; i < treatment_count; i++)
		treatments[i].weight = treatments[i].slope_brew = treatments[i].slope_reading = NAN;
}

void nested_reml(struct nested_reml *out, struct nested_treatment *treatments, size_t treatment_count,
                 const struct brew_summary *brews, size_t brew_count)
{
	struct fitting fit = {
		.brews = brews, .brew_count = brew_count, .treatments = treatments, .treatment_count = treatment_count
	};
	struct nested_anova anova;

	nested_anova(&anova, treatments, treatment_count, brews, brew_count);
	*out = (struct nested_reml){ .treatments = anova.treatments,
		                     .brews = anova.brews,
		                     .readings = anova.readings,
		                     .df_cap = anova.df_brew };
	if (anova.df_brew <= 0 || anova.df_reading <= 0) {
		not_separable(out, treatments, treatment_count);
		return;
	}
	fit.origin = origin_of(brews, brew_count);
	fit.ss_reading = anova.ss_reading;
	fit.df = (double)(anova.readings - anova.treatments);
	if (anova.ss_reading > 0)
		fit_components(&fit, out);
	else
		fit_without_reading_spread(&fit, out);
	finish_treatments(out, treatments, treatment_count, fit.origin);
}

struct nested_contrast nested_difference(const struct nested_reml *fit, const struct nested_treatment *treatments,
                                         size_t a, size_t b)
{
	struct contrast_sums sums = { 0 };

	contrast_add(&sums, &treatments[a], 1);
	contrast_add(&sums, &treatments[b], -1);
	return contrast_finish(fit, &sums);
}

struct nested_contrast nested_contrast(const struct nested_reml *fit, const struct nested_treatment *treatments,
                                       const double *weights, size_t treatment_count)
{
	struct contrast_sums sums = { 0 };

	for (size_t i = 0; i < treatment_count; i++)
		if (weights[i] != 0)
			contrast_add(&sums, &treatments[i], weights[i]);
	return contrast_finish(fit, &sums);
}
