/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nested_blocked.h"

#include <math.h>

#include "linear.h"
#include "ratio_search.h"

/*
 * The design has two ones a row: the treatment's column and, but for the base block, the block's. So X'WX
 * and quadratic forms of a row take a handful of additions; only the inverse is dense.
 */
struct blocked {
	const struct brew_summary *brews;
	size_t brew_count;
	size_t treatment_count;
	const size_t *column;
	size_t p;
	double *inverse;   /* p x p: (X'WX)^-1 */
	double *effect;    /* p */
	double *right;     /* p: X'Wy, then scratch */
	double *moment[2]; /* p x p each: inverse times X'U D_k U X, for the traces */
	double origin;
	double ss_reading;
	double df;      /* N - p */
	double log_det; /* of X'WX */
	double ss;      /* ss_reading + sum of w r^2 */
	double ss_at_zero;
	bool singular;
};

size_t nested_blocked_work(size_t treatment_count, size_t block_count)
{
	size_t p = treatment_count + block_count;

	return 4 * p * p + 2 * p;
}

size_t nested_blocked_columns(size_t treatment_count, size_t block_count)
{
	return treatment_count + block_count;
}

/* The columns of a brew's row; second == p where the block is the base. */
struct row {
	size_t first, second;
};

static struct row row_of_brew(const struct blocked *m, const struct brew_summary *brew)
{
	return (struct row){ m->column[brew->treatment], m->column[m->treatment_count + brew->block] };
}

static double pick(const double *x, const struct blocked *m, struct row row)
{
	return x[row.first] + (row.second < m->p ? x[row.second] : 0);
}

/* row' a row for symmetric a. */
static double form_of(const double *a, const struct blocked *m, struct row row)
{
	double sum = a[row.first * m->p + row.first];

	if (row.second < m->p)
		sum += a[row.second * m->p + row.second] + 2 * a[row.first * m->p + row.second];
	return sum;
}

static void add_outer(double *a, const struct blocked *m, struct row row, double weight)
{
	a[row.first * m->p + row.first] += weight;
	if (row.second == m->p)
		return;
	a[row.second * m->p + row.second] += weight;
	a[row.first * m->p + row.second] += weight;
	a[row.second * m->p + row.first] += weight;
}

static void add_row(double *x, const struct blocked *m, struct row row, double weight)
{
	x[row.first] += weight;
	if (row.second < m->p)
		x[row.second] += weight;
}

static void clear(double *x, size_t n)
{
	for (size_t i = 0; i < n; i++)
		x[i] = 0;
}

static double weight_at(const struct brew_summary *brew, double ratio)
{
	double n = (double)brew->n;

	return n / (1 + n * ratio);
}

static void multiply(double *out, const double *a, const double *x, size_t p)
{
	for (size_t i = 0; i < p; i++) {
		out[i] = 0;
		for (size_t j = 0; j < p; j++)
			out[i] += a[i * p + j] * x[j];
	}
}

static void solve_effects(struct blocked *m, double ratio)
{
	clear(m->inverse, m->p * m->p);
	clear(m->right, m->p);
	for (size_t i = 0; i < m->brew_count; i++) {
		double w = weight_at(&m->brews[i], ratio);

		if (m->brews[i].n == 0)
			continue;
		add_outer(m->inverse, m, row_of_brew(m, &m->brews[i]), w);
		add_row(m->right, m, row_of_brew(m, &m->brews[i]), w * (m->brews[i].mean - m->origin));
	}
	m->singular |= !linear_invert_definite(m->inverse, m->p, &m->log_det);
	multiply(m->effect, m->inverse, m->right, m->p);
}

static double residual(const struct blocked *m, size_t i)
{
	return m->brews[i].mean - m->origin - pick(m->effect, m, row_of_brew(m, &m->brews[i]));
}

/* As in nested.c, with h the leverage of a row: sum w - sum w^2 h - (N - p) sum w^2 r^2 / ss. */
static double slope_at(void *context, double ratio)
{
	struct blocked *m = context;
	double weights = 0, lost = 0, spread = 0;

	solve_effects(m, ratio);
	m->ss = m->ss_reading;
	for (size_t i = 0; i < m->brew_count && !m->singular; i++) {
		double w = weight_at(&m->brews[i], ratio), r;

		if (m->brews[i].n == 0)
			continue;
		r = residual(m, i);
		weights += w;
		lost += w * w * form_of(m->inverse, m, row_of_brew(m, &m->brews[i]));
		spread += w * w * r * r;
		m->ss += w * r * r;
	}
	if (ratio == 0)
		m->ss_at_zero = m->ss;
	return weights - lost - m->df * spread / m->ss;
}

static double loglik_at(void *context, double ratio)
{
	const struct blocked *m = context;
	double sum = m->df * (log(m->ss / m->df) + 1 + log(2 * M_PI)) + m->log_det;

	for (size_t i = 0; i < m->brew_count; i++)
		sum += log1p((double)m->brews[i].n * ratio);
	return -0.5 * sum;
}

/* u^2 D_k of a brew, u = 1 / variance of its mean, D 1 for the brew's component and 1/n for the reading's. */
static double squared_weight(const struct brew_summary *brew, const struct nested_reml *fit, int k)
{
	double n = (double)brew->n, u = n / (fit->var_reading + n * fit->var_brew);

	return k == 0 ? u * u : u * u / n;
}

/* moment[k] = covariance times X' U D_k U X. */
static void weigh_moments(struct blocked *m, const struct nested_reml *fit, double *scratch)
{
	for (int k = 0; k < 2; k++) {
		clear(scratch, m->p * m->p);
		for (size_t i = 0; i < m->brew_count; i++)
			if (m->brews[i].n > 0)
				add_outer(scratch, m, row_of_brew(m, &m->brews[i]),
				          squared_weight(&m->brews[i], fit, k));
		for (size_t r = 0; r < m->p; r++)
			for (size_t c = 0; c < m->p; c++) {
				double sum = 0;

				for (size_t j = 0; j < m->p; j++)
					sum += m->inverse[r * m->p + j] * scratch[j * m->p + c];
				m->moment[k][r * m->p + c] = sum;
			}
	}
}

static double trace_of_product(const double *a, const double *b, size_t p)
{
	double sum = 0;

	for (size_t i = 0; i < p; i++)
		for (size_t j = 0; j < p; j++)
			sum += a[i * p + j] * b[j * p + i];
	return sum;
}

/* (X' U D_k e)' covariance (X' U D_l e), e = u r; the vectors go through right and left. */
static double score_form(struct blocked *m, const struct nested_reml *fit, int k, int l, double *left)
{
	double sum = 0;

	clear(m->right, m->p);
	clear(left, m->p);
	for (size_t i = 0; i < m->brew_count; i++) {
		if (m->brews[i].n == 0)
			continue;
		add_row(m->right, m, row_of_brew(m, &m->brews[i]),
		        squared_weight(&m->brews[i], fit, k) * residual(m, i));
		add_row(left, m, row_of_brew(m, &m->brews[i]), squared_weight(&m->brews[i], fit, l) * residual(m, i));
	}
	for (size_t i = 0; i < m->p; i++)
		for (size_t j = 0; j < m->p; j++)
			sum += m->right[i] * m->inverse[i * m->p + j] * left[j];
	return sum;
}

/* Observed information, as in nested.c; inverse is the covariance of the effects by now. */
static void observe_information(struct blocked *m, struct nested_reml *fit, double *scratch)
{
	static const int pair[3][2] = { { 0, 0 }, { 0, 1 }, { 1, 1 } };
	double v = fit->var_reading, within = (double)(fit->readings - fit->brews);

	weigh_moments(m, fit, scratch);
	for (int e = 0; e < 3; e++) {
		int k = pair[e][0], l = pair[e][1];
		double sum = -0.5 * trace_of_product(m->moment[k], m->moment[l], m->p);

		for (size_t i = 0; i < m->brew_count; i++) {
			double n = (double)m->brews[i].n, u, r;

			if (m->brews[i].n == 0)
				continue;
			u = n / (v + n * fit->var_brew);
			r = residual(m, i);
			sum += squared_weight(&m->brews[i], fit, k) / (l ? n : 1) *
			       (u * r * r - 0.5 + u * form_of(m->inverse, m, row_of_brew(m, &m->brews[i])));
		}
		fit->information[e] = sum - score_form(m, fit, k, l, scratch);
	}
	fit->information[2] += m->ss_reading / (v * v * v) - 0.5 * within / (v * v);
}

static void invert_information(struct nested_reml *fit)
{
	const double *i = fit->information;
	double determinant = i[0] * i[2] - i[1] * i[1];

	if (fit->at_boundary) {
		fit->covariance[2] = 1 / i[2];
		return;
	}
	fit->covariance[0] = i[2] / determinant;
	fit->covariance[1] = -i[1] / determinant;
	fit->covariance[2] = i[0] / determinant;
}

static void undetermined(struct nested_blocked *out)
{
	struct nested_reml *fit = &out->reml;

	fit->var_brew = fit->var_reading = fit->loglik = fit->slope_at_zero = NAN;
	for (int i = 0; i < 3; i++)
		fit->information[i] = fit->covariance[i] = NAN;
	for (size_t i = 0; i < out->columns; i++)
		out->effect[i] = NAN;
	for (size_t i = 0; i < out->columns * out->columns; i++)
		out->covariance[i] = NAN;
}

/* Numbers the treatments and blocks that have brews; the first such block gets no column. */
static void number_columns(struct nested_blocked *out, size_t *column, size_t treatment_count, size_t block_count,
                           const struct brew_summary *brews, size_t brew_count)
{
	const size_t absent = (size_t)-1;
	size_t next = 0, base = absent;

	for (size_t i = 0; i < treatment_count + block_count; i++)
		column[i] = absent;
	for (size_t i = 0; i < brew_count; i++)
		if (brews[i].n > 0) {
			column[brews[i].treatment] = 0;
			column[treatment_count + brews[i].block] = 0;
			out->reml.brews++;
			out->reml.readings += brews[i].n;
		}
	for (size_t i = 0; i < treatment_count + block_count; i++) {
		if (column[i] == absent)
			continue;
		if (i < treatment_count)
			out->reml.treatments++;
		else
			out->blocks++;
		if (i >= treatment_count && base == absent)
			base = i;
		else
			column[i] = next++;
	}
	out->columns = next;
	for (size_t i = 0; i < treatment_count + block_count; i++)
		if (column[i] == absent || i == base)
			column[i] = next;
}

static void fit_components(struct nested_blocked *out, struct blocked *m, double *scratch)
{
	const struct ratio_model model = { m, slope_at, loglik_at };
	struct nested_reml *fit = &out->reml;
	struct ratio_found found = ratio_search(&model);

	if (m->singular || isinf(found.ratio)) {
		undetermined(out);
		return;
	}
	fit->loglik = found.loglik;
	fit->var_reading = m->ss / m->df;
	fit->var_brew = found.ratio * fit->var_reading;
	fit->slope_at_zero = -0.5 * found.slope_at_zero * m->df / m->ss_at_zero;
	fit->at_boundary = found.ratio == 0;
	for (size_t i = 0; i < m->p * m->p; i++)
		m->inverse[i] *= fit->var_reading;
	observe_information(m, fit, scratch);
	invert_information(fit);
}

void nested_blocked_reml(struct nested_blocked *out, size_t treatment_count, size_t block_count,
                         const struct brew_summary *brews, size_t brew_count, double *work, size_t *columns)
{
	struct blocked m = {
		.brews = brews, .brew_count = brew_count, .treatment_count = treatment_count, .column = columns
	};
	struct nested_reml *fit = &out->reml;
	size_t p;

	*out = (struct nested_blocked){ .column = columns, .treatment_count = treatment_count };
	number_columns(out, columns, treatment_count, block_count, brews, brew_count);
	p = m.p = out->columns;
	out->covariance = m.inverse = work;
	m.moment[0] = work + p * p;
	m.moment[1] = m.moment[0] + p * p;
	out->effect = m.effect = m.moment[1] + p * p;
	m.right = m.effect + p;
	for (size_t i = brew_count; i-- > 0;)
		if (brews[i].n > 0) {
			m.origin = brews[i].mean;
			m.ss_reading += brews[i].ss;
		}
	fit->df_cap = (double)fit->brews - (double)p;
	m.df = (double)fit->readings - (double)p;
	if (fit->df_cap <= 0 || fit->readings == fit->brews || !(m.ss_reading > 0)) {
		undetermined(out);
		return;
	}
	fit_components(out, &m, m.right + p);
}

struct nested_contrast nested_blocked_difference(const struct nested_blocked *fit, const struct brew_summary *brews,
                                                 size_t brew_count, size_t a, size_t b)
{
	struct nested_contrast out = { NAN, NAN, NAN, NAN };
	const double *c = fit->covariance, *h = fit->reml.covariance;
	size_t p = fit->columns, ca = fit->column[a], cb = fit->column[b];
	double slope[2] = { 0, 0 }, v;

	if (ca == p || cb == p)
		return out;
	v = c[ca * p + ca] + c[cb * p + cb] - 2 * c[ca * p + cb];
	for (size_t i = 0; i < brew_count; i++) {
		size_t t, block;
		double f;

		if (brews[i].n == 0)
			continue;
		t = fit->column[brews[i].treatment];
		block = fit->column[fit->treatment_count + brews[i].block];
		f = c[t * p + ca] - c[t * p + cb];
		f += block < p ? c[block * p + ca] - c[block * p + cb] : 0;
		for (int k = 0; k < 2; k++)
			slope[k] += squared_weight(&brews[i], &fit->reml, k) * f * f;
	}
	out.estimate = fit->effect[ca] - fit->effect[cb];
	out.se = sqrt(v);
	out.df_uncapped = 2 * v * v /
	                  (slope[0] * slope[0] * h[0] + 2 * slope[0] * slope[1] * h[1] + slope[1] * slope[1] * h[2]);
	out.df = out.df_uncapped > fit->reml.df_cap ? fit->reml.df_cap : out.df_uncapped;
	return out;
}
