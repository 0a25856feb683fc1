/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nested_random.h"

#include <math.h>

#include "linear.h"

#define COMPONENTS 3 /* outer, inner, reading */

static struct nested_random undetermined(void)
{
	return (struct nested_random){ .se_mean = NAN,
		                       .ms_outer = NAN,
		                       .ms_inner = NAN,
		                       .ms_reading = NAN,
		                       .k_inner = NAN,
		                       .k_outer_inner = NAN,
		                       .k_outer = NAN,
		                       .var_outer = NAN,
		                       .var_inner = NAN,
		                       .var_reading = NAN,
		                       .loglik = NAN };
}

static double sum_of_squared_counts(const struct nested_treatment *outers, size_t count)
{
	double sum = 0;

	for (size_t i = 0; i < count; i++)
		sum += (double)outers[i].readings * (double)outers[i].readings;
	return sum;
}

void nested_random_anova(struct nested_random *out, struct nested_treatment *work, size_t outer_count,
                         const struct brew_summary *inners, size_t inner_count)
{
	struct nested_anova a;
	double n;

	nested_anova(&a, work, outer_count, inners, inner_count);
	n = (double)a.readings;
	*out = undetermined();
	out->outers = a.treatments;
	out->inners = a.brews;
	out->readings = a.readings;
	out->mean = a.mean;
	out->ms_outer = a.ms_treatment;
	out->ms_inner = a.ms_brew;
	out->ms_reading = a.ms_reading;
	out->k_inner = a.k1;
	out->k_outer_inner = a.k2;
	if (a.df_treatment > 0)
		out->k_outer = (n - sum_of_squared_counts(work, outer_count) / n) / a.df_treatment;
	out->var_reading = a.var_reading;
	out->var_inner = a.var_brew_raw;
	out->var_outer = (a.ms_treatment - a.var_reading - a.k2 * a.var_brew_raw) / out->k_outer;
	out->converged = true;
}

/* ---- restricted maximum likelihood ---- */

struct random_model {
	const struct brew_summary *inners;
	size_t inner_count;
	struct nested_treatment *outers;
	size_t outer_count;
	double origin;
	double ss_reading;
	double readings;
	double inner_units;
};

/* What one look at the data with given components yields. */
struct look {
	double loglik;
	double gradient[COMPONENTS];
	double mean;      /* less origin */
	double precision; /* 1 / variance of mean */
};

/*
 * Means and precisions of the outer units on their inner means alone, kept
 * in mean and weight; the rest of -2 log-likelihood that needs no outer variance.
 */
static double look_within(struct random_model *m, const double theta[COMPONENTS], double slope[COMPONENTS])
{
	double sum = (m->readings - m->inner_units) * log(theta[2]) + m->ss_reading / theta[2];

	slope[0] = slope[1] = 0;
	slope[2] = (m->readings - m->inner_units) / theta[2] - m->ss_reading / (theta[2] * theta[2]);
	for (size_t i = 0; i < m->outer_count; i++)
		m->outers[i] = (struct nested_treatment){ .brews = m->outers[i].brews };
	for (size_t i = 0; i < m->inner_count; i++) {
		struct nested_treatment *o = &m->outers[m->inners[i].treatment];
		double n = (double)m->inners[i].n, v = theta[2] + n * theta[1], u = n / v;

		if (m->inners[i].n == 0)
			continue;
		o->weight += u;
		o->mean += u * (m->inners[i].mean - m->origin);
		sum += log(v);
		slope[1] += u;
		slope[2] += u / n;
	}
	for (size_t i = 0; i < m->outer_count; i++)
		if (m->outers[i].brews > 0) {
			m->outers[i].mean /= m->outers[i].weight;
			sum += log(m->outers[i].weight);
		}
	return sum;
}

/* Squares of inner means about their outer's; slope_* and score become what the outer level needs. */
static double look_inner(struct random_model *m, const double theta[COMPONENTS], double slope[COMPONENTS])
{
	double sum = 0;

	for (size_t i = 0; i < m->inner_count; i++) {
		struct nested_treatment *o = &m->outers[m->inners[i].treatment];
		double n = (double)m->inners[i].n, u = n / (theta[2] + n * theta[1]);
		double d = m->inners[i].mean - m->origin - o->mean;

		if (m->inners[i].n == 0)
			continue;
		sum += u * d * d;
		slope[1] -= u * u * (d * d + 1 / o->weight);
		slope[2] -= u * u * (d * d + 1 / o->weight) / n;
		o->slope_brew += u * u;
		o->slope_reading += u * u / n;
		o->score[0] -= u * u * d;
		o->score[1] -= u * u * d / n;
	}
	return sum;
}

/* Outer means have variance omega = 1 / weight + theta[0] about the grand mean. */
static double look_outer(struct random_model *m, const double theta[COMPONENTS], double slope[COMPONENTS],
                         struct look *look)
{
	double sum = 0;

	look->mean = look->precision = 0;
	for (size_t i = 0; i < m->outer_count; i++)
		if (m->outers[i].brews > 0) {
			double omega = 1 / m->outers[i].weight + theta[0];

			look->precision += 1 / omega;
			look->mean += m->outers[i].mean / omega;
		}
	look->mean /= look->precision;
	for (size_t i = 0; i < m->outer_count; i++) {
		const struct nested_treatment *o = &m->outers[i];
		double omega = 1 / o->weight + theta[0], d = o->mean - look->mean, by_omega;

		if (o->brews == 0)
			continue;
		sum += log(omega) + d * d / omega;
		by_omega = (1 - 1 / (omega * look->precision) - d * d / omega) / omega;
		slope[0] += by_omega;
		slope[1] += by_omega * o->slope_brew / (o->weight * o->weight) +
		            2 * d / omega * o->score[0] / o->weight;
		slope[2] += by_omega * o->slope_reading / (o->weight * o->weight) +
		            2 * d / omega * o->score[1] / o->weight;
	}
	return sum + log(look->precision);
}

static struct look look_at(struct random_model *m, const double theta[COMPONENTS])
{
	struct look look;
	double slope[COMPONENTS], sum;

	sum = look_within(m, theta, slope);
	sum += look_inner(m, theta, slope);
	sum += look_outer(m, theta, slope, &look);
	look.loglik = -0.5 * (sum + (m->readings - 1) * log(2 * M_PI));
	for (int k = 0; k < COMPONENTS; k++)
		look.gradient[k] = -0.5 * slope[k];
	return look;
}

/* The free components, on a log scale: they stay positive. */
struct climb {
	struct random_model *model;
	bool free[COMPONENTS];
	double theta[COMPONENTS]; /* a component that is not free is 0 */
	struct look look;
	double size; /* the largest |d loglik / d log theta| among the free */
};

static void climb_look(struct climb *c)
{
	c->look = look_at(c->model, c->theta);
	c->size = 0;
	for (int k = 0; k < COMPONENTS; k++)
		if (c->free[k])
			c->size = fmax(c->size, fabs(c->look.gradient[k] * c->theta[k]));
}

/* Gradient and Hessian by log theta over the free components; the Hessian by central differences of the gradient. */
static size_t climb_slopes(const struct climb *c, double g[COMPONENTS], double h[COMPONENTS * COMPONENTS])
{
	const double step = 1e-5;
	size_t row = 0, count = 0;

	for (int k = 0; k < COMPONENTS; k++)
		count += c->free[k];
	for (int k = 0; k < COMPONENTS; k++) {
		double up[COMPONENTS], down[COMPONENTS];
		struct look above, below;
		size_t column = 0;

		if (!c->free[k])
			continue;
		g[row] = c->look.gradient[k] * c->theta[k];
		for (int j = 0; j < COMPONENTS; j++)
			up[j] = down[j] = c->theta[j];
		up[k] *= exp(step);
		down[k] *= exp(-step);
		above = look_at(c->model, up);
		below = look_at(c->model, down);
		for (int j = 0; j < COMPONENTS; j++)
			if (c->free[j])
				h[row * count + column++] = (above.gradient[j] * up[j] - below.gradient[j] * down[j]) /
				                            (2 * step);
		row++;
	}
	return row;
}

/* Goes along the direction, halving until the likelihood rises (or, near the top, the gradient falls). */
static bool climb_step(struct climb *c, const double direction[COMPONENTS])
{
	for (double length = 1; length > 1e-9; length *= 0.5) {
		struct climb next = *c;
		int row = 0;

		for (int k = 0; k < COMPONENTS; k++)
			if (c->free[k])
				next.theta[k] *= exp(fmax(-3, fmin(3, length * direction[row++])));
		climb_look(&next);
		if (next.look.loglik > c->look.loglik ||
		    (c->size < 1e-3 && next.size < c->size && next.look.loglik > c->look.loglik - 1e-9)) {
			*c = next;
			return true;
		}
	}
	return false;
}

static void climb_to_top(struct climb *c)
{
	climb_look(c);
	for (int i = 0; i < 200 && c->size > 1e-13; i++) {
		double g[COMPONENTS], h[COMPONENTS * COMPONENTS], direction[COMPONENTS], uphill = 0;
		size_t count = climb_slopes(c, g, h);

		for (size_t k = 0; k < count; k++)
			direction[k] = -g[k];
		if (!linear_solve(h, direction, count))
			uphill = -1;
		for (size_t k = 0; k < count && uphill >= 0; k++)
			uphill += direction[k] * g[k];
		if (!(uphill > 0)) /* not concave here: the gradient itself */
			for (size_t k = 0; k < count; k++)
				direction[k] = g[k];
		if (!climb_step(c, direction))
			return;
	}
}

#define CLIMB_CONVERGED 1e-8

/* Maximises with the components of pattern (bit 0 outer, bit 1 inner) free, the others 0. */
static struct climb climb_pattern(struct random_model *m, int pattern, const double start[COMPONENTS])
{
	struct climb c = { .model = m, .free = { pattern & 1, pattern & 2, true } };

	for (int k = 0; k < COMPONENTS; k++)
		c.theta[k] = c.free[k] ? start[k] : 0;
	climb_to_top(&c);
	return c;
}

static void report(struct nested_random *out, const struct climb *best, double origin)
{
	out->mean = best->look.mean + origin;
	out->se_mean = 1 / sqrt(best->look.precision);
	out->var_outer = best->theta[0];
	out->var_inner = best->theta[1];
	out->var_reading = best->theta[2];
	out->loglik = best->look.loglik;
	out->converged = best->size < CLIMB_CONVERGED;
}

void nested_random_reml(struct nested_random *out, struct nested_treatment *work, size_t outer_count,
                        const struct brew_summary *inners, size_t inner_count)
{
	struct random_model m = {
		.inners = inners, .inner_count = inner_count, .outers = work, .outer_count = outer_count
	};
	struct nested_anova a;
	struct nested_random estimate;
	struct climb best = { .look.loglik = -INFINITY };
	double start[COMPONENTS], least;

	nested_random_anova(&estimate, work, outer_count, inners, inner_count);
	nested_anova(&a, work, outer_count, inners, inner_count);
	*out = undetermined();
	out->outers = a.treatments;
	out->inners = a.brews;
	out->readings = a.readings;
	out->mean = a.mean;
	if (a.df_treatment <= 0 || a.df_brew <= 0 || a.df_reading <= 0 || a.ss_reading <= 0)
		return;
	m.origin = a.mean;
	m.ss_reading = a.ss_reading;
	m.readings = (double)a.readings;
	m.inner_units = (double)a.brews;
	least = 0.05 * estimate.var_reading;
	start[0] = fmax(estimate.var_outer, least);
	start[1] = fmax(estimate.var_inner, least);
	start[2] = estimate.var_reading;
	for (int pattern = 0; pattern < 4; pattern++) {
		struct climb c = climb_pattern(&m, pattern, start);

		if (c.look.loglik > best.look.loglik + 1e-12)
			best = c;
	}
	report(out, &best, m.origin);
}
