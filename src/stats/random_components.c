/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "random_components.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "linear.h"

enum { MM_STEPS = 10, SCORING_STEPS = 200, HALVINGS = 30 };

/* Values are taken in units of their overall spread, so these are relative. */
#define STEP_SMALL  1e-13
#define LEAST_VAR   1e-14 /* of readings: keeps V regular where they all agree */
#define LEAST_SCORE 1e-10

/* The problem at hand: components in use are 0 … count - 1. */
struct fit {
	const struct component_query *query;
	size_t n;
	size_t count;
	size_t which[COMPONENTS_MOST]; /* index in random_components.var */
	double var[COMPONENTS_MOST];
	double readings;  /* N - n: degrees of freedom within cells */
	double ss_within; /* in units of scale² */
	double scale, centre;
	double *y;      /* n */
	double *weight; /* n: 1/n_i */
	double *p;      /* n × n */
	double *r;      /* n: P y */
	double *row;    /* n: row sums of the inverse */
	double *a;      /* n × n: scratch */
	double loglik, mean, se_mean;
	double score[COMPONENTS_MOST];
	double squares[COMPONENTS_MOST]; /* y'P V_k P y, and for readings what lies within cells */
	double traces[COMPONENTS_MOST];
	double info[COMPONENTS_MOST * COMPONENTS_MOST];
};

static size_t level_of(const struct fit *fit, size_t component, size_t i)
{
	size_t which = fit->which[component];

	return which < COMPONENT_FACTORS ? fit->query->factors[which].level[i] : i;
}

static size_t levels_of(const struct fit *fit, size_t component)
{
	size_t which = fit->which[component];

	return which < COMPONENT_FACTORS ? fit->query->factors[which].levels : fit->n;
}

/* V_k = Z diag(weight) Z': 1 but for readings. */
static double weight_of(const struct fit *fit, size_t component, size_t level)
{
	return fit->which[component] == COMPONENT_READING ? fit->weight[level] : 1;
}

static void fill_v(struct fit *fit)
{
	size_t n = fit->n;

	memset(fit->p, 0, n * n * sizeof(*fit->p));
	for (size_t k = 0; k < fit->count; k++) {
		for (size_t i = 0; i < n; i++) {
			if (fit->which[k] >= COMPONENT_FACTORS) {
				fit->p[i * n + i] += fit->var[k] * weight_of(fit, k, i);
				continue;
			}
			for (size_t j = 0; j < n; j++)
				if (level_of(fit, k, i) == level_of(fit, k, j))
					fit->p[i * n + j] += fit->var[k];
		}
	}
}

/* From the inverse of V to P = V⁻¹ - V⁻¹ 1 1' V⁻¹ / 1'V⁻¹1, and P y. Returns y'P y. */
static double fill_p(struct fit *fit, double *information)
{
	size_t n = fit->n;
	double sum = 0, weighted = 0, square = 0;

	for (size_t i = 0; i < n; i++) {
		fit->row[i] = 0;
		for (size_t j = 0; j < n; j++)
			fit->row[i] += fit->p[i * n + j];
		sum += fit->row[i];
		weighted += fit->row[i] * fit->y[i];
	}
	for (size_t i = 0; i < n; i++)
		for (size_t j = 0; j < n; j++)
			fit->p[i * n + j] -= fit->row[i] * fit->row[j] / sum;
	for (size_t i = 0; i < n; i++) {
		fit->r[i] = 0;
		for (size_t j = 0; j < n; j++)
			fit->r[i] += fit->p[i * n + j] * fit->y[j];
		square += fit->r[i] * fit->y[i];
	}
	fit->mean = weighted / sum;
	fit->se_mean = 1 / sqrt(sum);
	*information = sum;
	return square;
}

/* Everything at fit->var: P, the likelihood. False: V is singular. */
static bool evaluate(struct fit *fit)
{
	double log_det, information, square;
	double reading = fit->var[fit->count - 1];

	fill_v(fit);
	if (!linear_invert_definite(fit->p, fit->n, &log_det))
		return false;
	square = fill_p(fit, &information);
	fit->loglik = -0.5 * (log_det + log(information) + square);
	if (fit->readings > 0)
		fit->loglik -= 0.5 * (fit->readings * log(reading) + fit->ss_within / reading);
	return isfinite(fit->loglik);
}

/* Z_a' P Z_b into fit->a, levels of a by levels of b. */
static void fold(struct fit *fit, size_t a, size_t b)
{
	size_t n = fit->n, columns = levels_of(fit, b);

	memset(fit->a, 0, levels_of(fit, a) * columns * sizeof(*fit->a));
	for (size_t i = 0; i < n; i++)
		for (size_t j = 0; j < n; j++)
			fit->a[level_of(fit, a, i) * columns + level_of(fit, b, j)] += fit->p[i * n + j];
}

static double pair_information(struct fit *fit, size_t a, size_t b)
{
	size_t rows = levels_of(fit, a), columns = levels_of(fit, b);
	double sum = 0;

	fold(fit, a, b);
	for (size_t i = 0; i < rows; i++)
		for (size_t j = 0; j < columns; j++)
			sum += weight_of(fit, a, i) * weight_of(fit, b, j) * fit->a[i * columns + j] *
			       fit->a[i * columns + j];
	return 0.5 * sum;
}

/* y'P V_k P y and tr(P V_k). */
static void component_sums(struct fit *fit, size_t k)
{
	size_t n = fit->n, levels = levels_of(fit, k);

	fit->squares[k] = fit->traces[k] = 0;
	memset(fit->a, 0, levels * sizeof(*fit->a));
	for (size_t i = 0; i < n; i++)
		fit->a[level_of(fit, k, i)] += fit->r[i];
	for (size_t l = 0; l < levels; l++)
		fit->squares[k] += weight_of(fit, k, l) * fit->a[l] * fit->a[l];
	for (size_t i = 0; i < n; i++)
		for (size_t j = 0; j < n; j++)
			if (level_of(fit, k, i) == level_of(fit, k, j))
				fit->traces[k] += weight_of(fit, k, level_of(fit, k, i)) * fit->p[i * n + j];
}

static void derivatives(struct fit *fit)
{
	size_t last = fit->count - 1;
	double reading = fit->var[last];

	for (size_t k = 0; k < fit->count; k++)
		component_sums(fit, k);
	if (fit->readings > 0) {
		fit->squares[last] += fit->ss_within / (reading * reading);
		fit->traces[last] += fit->readings / reading;
	}
	for (size_t k = 0; k < fit->count; k++)
		fit->score[k] = 0.5 * (fit->squares[k] - fit->traces[k]);
	for (size_t a = 0; a < fit->count; a++)
		for (size_t b = a; b < fit->count; b++)
			fit->info[a * fit->count + b] = fit->info[b * fit->count + a] = pair_information(fit, a, b);
	fit->info[last * fit->count + last] += 0.5 * fit->readings / (reading * reading);
}

static bool multiplicative_step(struct fit *fit)
{
	for (size_t k = 0; k < fit->count; k++)
		if (fit->traces[k] > 0)
			fit->var[k] *= sqrt(fit->squares[k] / fit->traces[k]);
	fit->var[fit->count - 1] = fmax(fit->var[fit->count - 1], LEAST_VAR);
	if (!evaluate(fit))
		return false;
	derivatives(fit);
	return true;
}

/* A component at 0 that would only fall stays there. */
static bool is_free(const struct fit *fit, size_t k)
{
	return fit->var[k] > 0 || fit->score[k] > LEAST_SCORE;
}

/* The scoring step of the free components; false: their information is singular. */
static bool direction(const struct fit *fit, double *step)
{
	double a[COMPONENTS_MOST * COMPONENTS_MOST], b[COMPONENTS_MOST];
	size_t at[COMPONENTS_MOST], free_count = 0;

	for (size_t k = 0; k < fit->count; k++) {
		step[k] = 0;
		if (is_free(fit, k))
			at[free_count++] = k;
	}
	for (size_t i = 0; i < free_count; i++) {
		b[i] = fit->score[at[i]];
		for (size_t j = 0; j < free_count; j++)
			a[i * free_count + j] = fit->info[at[i] * fit->count + at[j]];
	}
	if (!linear_solve(a, b, free_count))
		return false;
	for (size_t i = 0; i < free_count; i++)
		step[at[i]] = b[i];
	return true;
}

static double moved(const double *from, const double *to, size_t count)
{
	double most = 0;

	for (size_t k = 0; k < count; k++)
		most = fmax(most, fabs(to[k] - from[k]));
	return most;
}

/* One step that does not lower the likelihood; *change is how far it went. False: there is none. */
static bool scoring_step(struct fit *fit, double *change)
{
	double step[COMPONENTS_MOST] = { 0 }, from[COMPONENTS_MOST];
	double before = fit->loglik, length = 1;

	memcpy(from, fit->var, sizeof(from));
	if (!direction(fit, step))
		return false;
	for (int i = 0; i < HALVINGS; i++, length /= 2) {
		for (size_t k = 0; k < fit->count; k++)
			fit->var[k] = fmax(from[k] + length * step[k], 0);
		fit->var[fit->count - 1] = fmax(fit->var[fit->count - 1], LEAST_VAR);
		if (evaluate(fit) && fit->loglik >= before - 1e-13 * fabs(before)) {
			*change = moved(from, fit->var, fit->count);
			derivatives(fit);
			return true;
		}
	}
	memcpy(fit->var, from, sizeof(from));
	return false;
}

static bool climb(struct fit *fit)
{
	double change = INFINITY;

	if (!evaluate(fit))
		return false;
	derivatives(fit);
	for (int i = 0; i < MM_STEPS; i++)
		if (!multiplicative_step(fit))
			return false;
	for (int i = 0; i < SCORING_STEPS; i++) {
		if (!scoring_step(fit, &change))
			break;
		if (change < STEP_SMALL)
			break;
	}
	if (!evaluate(fit))
		return false;
	derivatives(fit);
	return change < sqrt(STEP_SMALL);
}

/* Degrees of freedom from the information of the components above 0. */
static void freedom(const struct fit *fit, struct random_components *out)
{
	double inverse[COMPONENTS_MOST * COMPONENTS_MOST];
	size_t at[COMPONENTS_MOST], count = 0;

	for (size_t k = 0; k < fit->count; k++)
		if (fit->var[k] > LEAST_VAR)
			at[count++] = k;
	for (size_t i = 0; i < count; i++)
		for (size_t j = 0; j < count; j++)
			inverse[i * count + j] = fit->info[at[i] * fit->count + at[j]];
	if (count == 0 || !linear_invert_definite(inverse, count, NULL))
		return;
	for (size_t i = 0; i < count; i++)
		out->df[fit->which[at[i]]] = 2 * fit->var[at[i]] * fit->var[at[i]] / inverse[i * count + i];
}

static void results(const struct fit *fit, struct random_components *out)
{
	double square = fit->scale * fit->scale;

	for (size_t k = 0; k < fit->count; k++)
		out->var[fit->which[k]] = fit->var[k] > LEAST_VAR ? fit->var[k] * square : 0;
	freedom(fit, out);
	out->mean = fit->centre + fit->scale * fit->mean;
	out->se_mean = fit->scale * fit->se_mean;
	out->loglik = fit->loglik;
}

static void nothing(struct random_components *out)
{
	*out = (struct random_components){ .mean = NAN, .se_mean = NAN, .loglik = NAN };
	for (size_t k = 0; k < COMPONENTS_MOST; k++)
		out->var[k] = out->df[k] = NAN;
}

/* Counts readings, settles the scale; false: nothing spreads. */
static bool survey(struct fit *fit)
{
	const struct component_query *query = fit->query;
	double readings = 0, ss = 0;

	fit->centre = 0;
	for (size_t i = 0; i < fit->n; i++)
		fit->centre += (query->cells[i].mean - fit->centre) / (double)(i + 1);
	for (size_t i = 0; i < fit->n; i++) {
		double off = query->cells[i].mean - fit->centre;

		readings += (double)query->cells[i].n;
		fit->ss_within += query->cells[i].ss;
		ss += off * off;
	}
	fit->readings = readings - (double)fit->n;
	fit->scale = sqrt((ss + fit->ss_within) / readings);
	if (!(fit->scale > 0))
		return false;
	fit->ss_within /= fit->scale * fit->scale;
	for (size_t i = 0; i < fit->n; i++) {
		fit->y[i] = (query->cells[i].mean - fit->centre) / fit->scale;
		fit->weight[i] = 1 / (double)query->cells[i].n;
	}
	return true;
}

static void choose(struct fit *fit)
{
	for (size_t k = 0; k < fit->query->factor_count && k < COMPONENT_FACTORS; k++)
		fit->which[fit->count++] = k;
	if (fit->query->cell_effect && fit->readings > 0)
		fit->which[fit->count++] = COMPONENT_CELL;
	fit->which[fit->count++] = COMPONENT_READING;
	for (size_t k = 0; k < fit->count; k++)
		fit->var[k] = 1 / (double)fit->count;
}

bool random_components_reml(struct random_components *out, const struct component_query *query)
{
	struct fit fit = { .query = query, .n = query->count };
	size_t n = query->count;
	double *space;

	nothing(out);
	if (n < 2 || n > COMPONENT_CELLS)
		return true;
	for (size_t k = 0; k < query->factor_count; k++)
		if (query->factors[k].levels > n)
			return true;
	space = malloc((2 * n * n + 4 * n) * sizeof(*space));
	if (!space)
		return false;
	fit.p = space;
	fit.a = fit.p + n * n;
	fit.y = fit.a + n * n;
	fit.weight = fit.y + n;
	fit.r = fit.weight + n;
	fit.row = fit.r + n;
	if (survey(&fit)) {
		choose(&fit);
		out->converged = climb(&fit);
		if (out->converged)
			results(&fit, out);
	}
	free(space);
	return true;
}
