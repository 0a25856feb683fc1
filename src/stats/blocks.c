/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "blocks.h"

#include <Rmath.h>
#include <math.h>

#include "linear.h"

static struct blocks_row row_of(double df, double ss)
{
	return (struct blocks_row){ .df = df, .ss = ss, .ms = df > 0 ? ss / df : NAN, .f = NAN, .p = NAN };
}

static void test_row(struct blocks_row *row, const struct blocks_row *residual)
{
	if (!(row->df > 0) || !(residual->ms > 0))
		return;
	row->f = row->ms / residual->ms;
	row->p = pf(row->f, row->df, residual->df, 0, 0);
}

/* ---- blocks and treatments ---- */

/* The working space, cut up. v treatments, b blocks; y is taken less its first value. */
struct layout {
	const struct blocks_data *data;
	double *inverse;         /* v x v */
	double *effect;          /* v */
	double *adjusted;        /* v */
	double *treatment_count; /* v */
	double *treatment_sum;   /* v */
	double *block_count;     /* b */
	double *block_sum;       /* b */
	size_t *part;            /* v */
	size_t *order;           /* n: the values, block by block */
	size_t *start;           /* b + 1: where each block begins in order */
};

size_t blocks_work(const struct blocks_data *data)
{
	return data->treatments * data->treatments + 4 * data->treatments + 2 * data->blocks;
}

size_t blocks_part_work(const struct blocks_data *data)
{
	return data->treatments + data->n + data->blocks + 1;
}

static struct layout lay_out(const struct blocks_data *data, double *work, size_t *parts)
{
	size_t v = data->treatments, b = data->blocks;
	struct layout l = { .data = data, .inverse = work, .part = parts };

	l.effect = work + v * v;
	l.adjusted = l.effect + v;
	l.treatment_count = l.adjusted + v;
	l.treatment_sum = l.treatment_count + v;
	l.block_count = l.treatment_sum + v;
	l.block_sum = l.block_count + b;
	l.order = parts + v;
	l.start = l.order + data->n;
	for (double *x = work; x < l.block_sum + b; x++)
		*x = 0;
	return l;
}

static double value(const struct layout *l, size_t i)
{
	return l->data->y[i] - l->data->y[0];
}

static void count_and_sort(struct layout *l)
{
	const struct blocks_data *data = l->data;

	for (size_t b = 0; b <= data->blocks; b++)
		l->start[b] = 0;
	for (size_t i = 0; i < data->n; i++) {
		size_t t = data->treatment[i], b = data->block[i];

		l->treatment_count[t]++;
		l->treatment_sum[t] += value(l, i);
		l->block_count[b]++;
		l->block_sum[b] += value(l, i);
		l->start[b]++;
	}
	for (size_t b = 1; b <= data->blocks; b++)
		l->start[b] += l->start[b - 1];
	for (size_t i = data->n; i-- > 0;)
		l->order[--l->start[data->block[i]]] = i;
}

/* The first treatment of a's part, found by following; part[t] <= t. */
static size_t part_root(const size_t *part, size_t t)
{
	while (part[t] != t)
		t = part[t];
	return t;
}

/* Treatments that share a block belong together. Returns the parts that have a value. */
static size_t find_parts(struct layout *l)
{
	size_t v = l->data->treatments, parts = 0;

	for (size_t t = 0; t < v; t++)
		l->part[t] = t;
	for (size_t b = 0; b < l->data->blocks; b++)
		for (size_t i = l->start[b] + 1; i < l->start[b + 1]; i++) {
			size_t one = part_root(l->part, l->data->treatment[l->order[i - 1]]);
			size_t other = part_root(l->part, l->data->treatment[l->order[i]]);

			if (one < other)
				l->part[other] = one;
			else
				l->part[one] = other;
		}
	for (size_t t = 0; t < v; t++) {
		l->part[t] = part_root(l->part, t);
		parts += l->part[t] == t && l->treatment_count[t] > 0;
	}
	return parts;
}

/* Every treatment in proportion in every block (once in each, say): then block and treatment do not mix. */
static bool is_orthogonal(struct layout *l)
{
	const struct blocks_data *data = l->data;
	double *here = l->effect; /* not in use yet, all 0 */
	bool orthogonal = true;

	for (size_t b = 0; b < data->blocks && orthogonal; b++) {
		for (size_t i = l->start[b]; i < l->start[b + 1]; i++)
			here[data->treatment[l->order[i]]]++;
		for (size_t t = 0; t < data->treatments; t++) {
			orthogonal &= here[t] * (double)data->n == l->treatment_count[t] * l->block_count[b];
			here[t] = 0;
		}
	}
	return orthogonal;
}

/* The reduced normal equations, made regular: each part gets a constant that effects summing to 0 ignore. */
static void reduced_equations(struct layout *l)
{
	const struct blocks_data *data = l->data;
	size_t v = data->treatments;

	for (size_t t = 0; t < v; t++)
		l->inverse[t * v + t] = l->treatment_count[t];
	for (size_t b = 0; b < data->blocks; b++)
		for (size_t i = l->start[b]; i < l->start[b + 1]; i++)
			for (size_t j = l->start[b]; j < l->start[b + 1]; j++)
				l->inverse[data->treatment[l->order[i]] * v + data->treatment[l->order[j]]] -=
					1 / l->block_count[b];
	for (size_t t = 0; t < v; t++)
		for (size_t u = 0; u < v; u++)
			if (l->part[t] == l->part[u])
				l->inverse[t * v + u] += 1;
}

static void invert_equations(struct layout *l)
{
	size_t v = l->data->treatments;

	if (is_orthogonal(l)) {
		for (size_t t = 0; t < v; t++)
			if (l->treatment_count[t] > 0)
				l->inverse[t * v + t] = 1 / l->treatment_count[t];
		return;
	}
	reduced_equations(l);
	linear_invert_definite(l->inverse, v, NULL);
}

/* Effects: inverse times (treatment sums less the block means of where they stood); summing to 0 within each part. */
static void solve_effects(struct layout *l)
{
	const struct blocks_data *data = l->data;
	size_t v = data->treatments;
	double *q = l->adjusted; /* not in use yet */

	for (size_t t = 0; t < v; t++)
		q[t] = l->treatment_sum[t];
	for (size_t i = 0; i < data->n; i++)
		q[data->treatment[i]] -= l->block_sum[data->block[i]] / l->block_count[data->block[i]];
	for (size_t t = 0; t < v; t++) {
		l->effect[t] = 0;
		for (size_t u = 0; u < v; u++)
			if (l->part[u] == l->part[t])
				l->effect[t] += l->inverse[t * v + u] * q[u];
	}
	for (size_t root = 0; root < v; root++) {
		double sum = 0, count = 0;

		if (l->part[root] != root)
			continue;
		for (size_t t = root; t < v; t++)
			if (l->part[t] == root) {
				sum += l->effect[t];
				count++;
			}
		for (size_t t = root; t < v; t++)
			if (l->part[t] == root)
				l->effect[t] -= sum / count;
	}
}

/* Mean of a block less the effects of the treatments in it. */
static double block_level(const struct layout *l, size_t b)
{
	double sum = l->block_sum[b];

	for (size_t i = l->start[b]; i < l->start[b + 1]; i++)
		sum -= l->effect[l->data->treatment[l->order[i]]];
	return sum / l->block_count[b];
}

/* The residual sum of squares, from the fitted values; adjusted becomes the level of the part's blocks + effect. */
static double fit_blocks(struct layout *l)
{
	const struct blocks_data *data = l->data;
	size_t v = data->treatments;
	double *levels = l->adjusted, *counts = l->treatment_sum, residual = 0;

	for (size_t t = 0; t < v; t++)
		levels[t] = counts[t] = 0;
	for (size_t b = 0; b < data->blocks; b++) {
		double level;

		if (l->start[b] == l->start[b + 1])
			continue;
		level = block_level(l, b);
		levels[l->part[data->treatment[l->order[l->start[b]]]]] += level;
		counts[l->part[data->treatment[l->order[l->start[b]]]]]++;
		for (size_t i = l->start[b]; i < l->start[b + 1]; i++) {
			double rest = value(l, l->order[i]) - level - l->effect[data->treatment[l->order[i]]];

			residual += rest * rest;
		}
	}
	for (size_t t = v; t-- > 0;) /* from above: a part's first treatment holds its sums */
		levels[t] = data->y[0] + levels[l->part[t]] / counts[l->part[t]] + l->effect[t];
	for (size_t t = 0; t < v; t++)
		if (l->treatment_count[t] == 0)
			levels[t] = l->effect[t] = NAN;
	return residual;
}

/* Sum over classes of count times squared distance of the class mean from the mean. */
static double between_classes(const double *sum, const double *count, size_t classes, double mean, size_t *used)
{
	double ss = 0;

	*used = 0;
	for (size_t c = 0; c < classes; c++) {
		double d = sum[c] / count[c] - mean;

		if (count[c] == 0)
			continue;
		ss += count[c] * d * d;
		++*used;
	}
	return ss;
}

static double mean_value(const struct layout *l)
{
	double sum = 0;

	for (size_t i = 0; i < l->data->n; i++)
		sum += value(l, i);
	return sum / (double)l->data->n;
}

static double not_below_zero(double x)
{
	return x < 0 ? 0 : x;
}

static void split_squares(struct blocks_fit *out, struct layout *l)
{
	double mean = mean_value(l), n = (double)out->n, residual, block, treatment, blocks, treatments;
	double parts = (double)out->parts;

	block = between_classes(l->block_sum, l->block_count, l->data->blocks, mean, &out->blocks);
	treatment = between_classes(l->treatment_sum, l->treatment_count, l->data->treatments, mean, &out->treatments);
	blocks = (double)out->blocks;
	treatments = (double)out->treatments;
	for (size_t i = 0; i < out->n; i++)
		out->ss_total += (value(l, i) - mean) * (value(l, i) - mean);
	out->mean = l->data->y[0] + mean;
	residual = fit_blocks(l); /* uses up treatment_sum */
	out->block_first = row_of(blocks - 1, block);
	out->treatment_first = row_of(treatments - 1, treatment);
	out->treatment_adjusted = row_of(treatments - parts, not_below_zero(out->ss_total - block - residual));
	out->block_adjusted = row_of(blocks - parts, not_below_zero(out->ss_total - treatment - residual));
	out->residual = row_of(n - blocks - treatments + parts, residual);
	test_row(&out->block_first, &out->residual);
	test_row(&out->treatment_first, &out->residual);
	test_row(&out->treatment_adjusted, &out->residual);
	test_row(&out->block_adjusted, &out->residual);
}

void blocks_analyse(struct blocks_fit *out, const struct blocks_data *data, double *work, size_t *parts)
{
	struct layout l = lay_out(data, work, parts);

	*out = (struct blocks_fit){ .n = data->n,
		                    .mean = NAN,
		                    .effect = l.effect,
		                    .adjusted = l.adjusted,
		                    .part = l.part,
		                    .inverse = l.inverse,
		                    .stride = data->treatments };
	count_and_sort(&l);
	out->parts = find_parts(&l);
	if (data->n == 0) {
		out->block_first = out->treatment_adjusted = out->treatment_first = out->block_adjusted =
			out->residual = row_of(0, 0);
		for (size_t t = 0; t < data->treatments; t++)
			l.effect[t] = l.adjusted[t] = NAN;
		return;
	}
	invert_equations(&l);
	solve_effects(&l);
	split_squares(out, &l);
}

struct blocks_difference blocks_difference(const struct blocks_fit *fit, size_t a, size_t b)
{
	struct blocks_difference d = { NAN, NAN, NAN, NAN, false };
	const double *g = fit->inverse;
	size_t v = fit->stride;

	d.estimable = fit->part[a] == fit->part[b] && !isnan(fit->effect[a]) && !isnan(fit->effect[b]);
	if (!d.estimable)
		return d;
	d.estimate = fit->effect[a] - fit->effect[b];
	d.factor = a == b ? 0 : g[a * v + a] + g[b * v + b] - g[a * v + b] - g[b * v + a];
	d.se = sqrt(d.factor * fit->residual.ms);
	d.df = fit->residual.df;
	return d;
}

double blocks_relative_efficiency(const struct blocks_fit *fit)
{
	double b = (double)fit->blocks, v = (double)fit->treatments;

	return ((b - 1) * fit->block_first.ms + b * (v - 1) * fit->residual.ms) / ((b * v - 1) * fit->residual.ms);
}

/* ---- additive models in any number of factors ---- */

/* Orthonormal columns that span the terms so far, and what they leave of y. */
struct span {
	double *column; /* column[k * n .. (k+1) * n) */
	double *rest;   /* n: y less its projection */
	double *next;   /* n: the candidate */
	size_t columns;
	size_t n;
};

size_t additive_work(const struct blocks_factor *factors, size_t factor_count, size_t n)
{
	size_t levels = 0;

	for (size_t f = 0; f < factor_count; f++)
		levels += factors[f].levels;
	return n * (3 + levels);
}

static double product(const double *a, const double *b, size_t n)
{
	double sum = 0;

	for (size_t i = 0; i < n; i++)
		sum += a[i] * b[i];
	return sum;
}

/* Takes from next what the span already has. Twice: once loses digits where little is left (Kahan and Parlett). */
static void take_away(struct span *s)
{
	for (int pass = 0; pass < 2; pass++)
		for (size_t k = 0; k < s->columns; k++) {
			const double *column = s->column + k * s->n;
			double share = product(column, s->next, s->n);

			for (size_t i = 0; i < s->n; i++)
				s->next[i] -= share * column[i];
		}
}

#define NOTHING_NEW 1e-18 /* relative squared length below which a column adds nothing */

/* Length squared of next beyond the span, 0 where that is rounding only. */
static double length_beyond(struct span *s)
{
	double before = product(s->next, s->next, s->n), after;

	take_away(s);
	after = product(s->next, s->next, s->n);
	return after > NOTHING_NEW * before ? after : 0;
}

/* Adds next to the span and takes its share from y; the sum of squares that explains, *df counting it. */
static double add_column(struct span *s, double *df)
{
	double *column = s->column + s->columns * s->n;
	double length = sqrt(length_beyond(s)), share;

	if (!(length > 0))
		return 0;
	for (size_t i = 0; i < s->n; i++)
		column[i] = s->next[i] / length;
	share = product(column, s->rest, s->n);
	for (size_t i = 0; i < s->n; i++)
		s->rest[i] -= share * column[i];
	s->columns++;
	++*df;
	return share * share;
}

static struct span span_start(const double *y, size_t n, double *work)
{
	struct span s = { .column = work + 2 * n, .rest = work, .next = work + n, .n = n };
	double df = 0;

	for (size_t i = 0; i < n; i++) {
		s.rest[i] = y[i] - y[0];
		s.next[i] = 1;
	}
	add_column(&s, &df);
	return s;
}

static void set_level(struct span *s, const struct blocks_factor *factor, size_t level)
{
	for (size_t i = 0; i < s->n; i++)
		s->next[i] = factor->level[i] == level;
}

static double add_factor(struct span *s, const struct blocks_factor *factor, double *df)
{
	double ss = 0;

	for (size_t level = 0; level < factor->levels; level++) {
		set_level(s, factor, level);
		ss += add_column(s, df);
	}
	return ss;
}

static struct blocks_row residual_row(const struct span *s)
{
	return row_of((double)(s->n - s->columns), product(s->rest, s->rest, s->n));
}

void additive_anova(struct blocks_row *rows, const struct blocks_factor *factors, size_t factor_count, const double *y,
                    size_t n, double *work)
{
	struct span s;

	for (size_t f = 0; f <= factor_count; f++)
		rows[f] = row_of(0, 0);
	if (n == 0)
		return;
	s = span_start(y, n, work);
	for (size_t f = 0; f < factor_count; f++) {
		double df = 0, ss = add_factor(&s, &factors[f], &df);

		rows[f] = row_of(df, ss);
	}
	rows[factor_count] = residual_row(&s);
	for (size_t f = 0; f < factor_count; f++)
		test_row(&rows[f], &rows[factor_count]);
}

/* The model's columns but a's and b's own, of which only the sum: what remains to fit is half their difference. */
static void add_all_but(struct span *s, const struct blocks_factor *factor, size_t a, size_t b)
{
	double df = 0;

	for (size_t level = 0; level < factor->levels; level++) {
		if (level == a || level == b)
			continue;
		set_level(s, factor, level);
		add_column(s, &df);
	}
	for (size_t i = 0; i < s->n; i++)
		s->next[i] = factor->level[i] == a || factor->level[i] == b;
	add_column(s, &df);
}

static bool has_level(const struct blocks_factor *factor, size_t n, size_t level)
{
	for (size_t i = 0; i < n; i++)
		if (factor->level[i] == level)
			return true;
	return false;
}

struct blocks_difference additive_difference(const struct blocks_factor *factors, size_t factor_count, const double *y,
                                             size_t n, size_t a, size_t b, double *work)
{
	struct blocks_difference d = { NAN, NAN, NAN, NAN, false };
	const struct blocks_factor *last = &factors[factor_count - 1];
	struct blocks_row residual;
	struct span s;
	double df = 0, length;

	if (a == b || !has_level(last, n, a) || !has_level(last, n, b))
		return d;
	s = span_start(y, n, work);
	for (size_t f = 0; f + 1 < factor_count; f++)
		add_factor(&s, &factors[f], &df);
	add_all_but(&s, last, a, b);
	for (size_t i = 0; i < n; i++)
		s.next[i] = 0.5 * ((last->level[i] == a) - (last->level[i] == b));
	length = length_beyond(&s);
	if (!(length > 0))
		return d;
	d.estimable = true;
	d.factor = 1 / length;
	d.estimate = product(s.next, s.rest, n) / length;
	add_column(&s, &df);
	residual = residual_row(&s);
	d.df = residual.df;
	d.se = sqrt(d.factor * residual.ms);
	return d;
}
