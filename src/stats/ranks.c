/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ranks.h"

#include <Rmath.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "describe.h"
#include "doubles.h"

static struct association no_association(size_t n)
{
	return (struct association){
		.estimate = NAN, .p = NAN, .p_greater = NAN, .p_smallest = NAN, .method = P_NONE, .n = n
	};
}

/* 2 / n!: nothing untied of n points can give less. */
static double smallest_untied(size_t n)
{
	return fmin(1, 2 * exp(-lgamma((double)n + 1)));
}

static bool too_plain(const double *x, const double *y, size_t n)
{
	return n < 3 || values_range(x, n) == 0 || values_range(y, n) == 0;
}

void ranks_doubled(int *doubled, const double *x, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		int less = 0, equal = 0;

		for (size_t j = 0; j < n; j++) {
			less += x[j] < x[i];
			equal += x[j] == x[i];
		}
		doubled[i] = 2 * less + equal + 1;
	}
}

/* ---- product-moment correlation ---- */

static double correlation(const double *x, const double *y, size_t n)
{
	double mean_x = values_mean_about(x, n, x[0]), mean_y = values_mean_about(y, n, y[0]);
	double xx = 0, yy = 0, xy = 0;

	for (size_t i = 0; i < n; i++) {
		double dx = x[i] - x[0] - mean_x, dy = y[i] - y[0] - mean_y;

		xx += dx * dx;
		yy += dy * dy;
		xy += dx * dy;
	}
	return fmax(-1, fmin(1, xy / sqrt(xx) / sqrt(yy)));
}

static void p_from_t(struct association *a)
{
	double df = (double)a->n - 2, t = a->estimate * sqrt(df / ((1 - a->estimate) * (1 + a->estimate)));

	a->p = fmin(1, 2 * pt(fabs(t), df, 0, 0));
	a->p_greater = pt(t, df, 0, 0);
	a->method = P_APPROXIMATE;
}

struct association pearson_test(const double *x, const double *y, size_t n)
{
	struct association a = no_association(n);

	if (too_plain(x, y, n))
		return a;
	a.estimate = correlation(x, y, n);
	p_from_t(&a);
	a.p_smallest = 0;
	return a;
}

double pearson_critical(size_t n, double alpha)
{
	double df = (double)n - 2, t;

	if (n < 3 || !(alpha > 0 && alpha < 1))
		return NAN;
	t = qt(alpha / 2, df, 0, 0);
	return t / sqrt(df + t * t);
}

/* ---- Spearman: all n! sums of a[i] b[p(i)], by which b go to the first half, and what either half can sum to ---- */

#define SUM_MOST (4 * RANKS_SPEARMAN_EXACT * (RANKS_SPEARMAN_EXACT + 1) * (2 * RANKS_SPEARMAN_EXACT + 1) / 6)

struct half {
	const int *a;
	int b[RANKS_SPEARMAN_EXACT];
	size_t n;
	unsigned count[SUM_MOST + 2]; /* of the orders of b that give each sum; then of those that give it or more */
	int most;
};

/* Every order of b[at .. n), by swaps. */
static void count_sums(struct half *h, size_t at, int sum)
{
	if (at == h->n) {
		h->count[sum]++;
		h->most = sum > h->most ? sum : h->most;
		return;
	}
	for (size_t i = at; i < h->n; i++) {
		int chosen = h->b[i];

		h->b[i] = h->b[at];
		h->b[at] = chosen;
		count_sums(h, at + 1, sum + h->a[at] * chosen);
		h->b[at] = h->b[i];
		h->b[i] = chosen;
	}
}

/* Deals b out: the members of set to the first half, the rest to the second; and counts both. */
static void count_halves(struct half half[2], const int *b, size_t n, unsigned set)
{
	size_t filled[2] = { 0, 0 };

	for (size_t i = 0; i < n; i++) {
		int which = set & 1u << i ? 0 : 1;

		half[which].b[filled[which]++] = b[i];
	}
	for (int k = 0; k < 2; k++) {
		for (int sum = 0; sum <= half[k].most + 1; sum++)
			half[k].count[sum] = 0;
		half[k].most = 0;
		count_sums(&half[k], 0, 0);
	}
	half[1].count[half[1].most + 1] = 0;
	for (int sum = half[1].most; sum > 0; sum--)
		half[1].count[sum - 1] += half[1].count[sum];
}

/* Pairs of a sum of the first half and one of the second that reach bound together. */
static double pairs_at_least(const struct half half[2], long bound)
{
	double pairs = 0;

	for (int sum = 0; sum <= half[0].most; sum++) {
		long rest = bound - sum;

		if (half[0].count[sum] > 0 && rest <= half[1].most)
			pairs += (double)half[0].count[sum] * half[1].count[rest > 0 ? rest : 0];
	}
	return pairs;
}

static unsigned members(unsigned set)
{
	unsigned count = 0;

	for (; set; set &= set - 1)
		count++;
	return count;
}

/* Shares of all arrangements with sum >= bounds[k], for each of count bounds. */
static void shares_at_least(double *shares, const long *bounds, size_t count, const int *a, const int *b, size_t n)
{
	struct half half[2] = { { .a = a, .n = n / 2, .most = SUM_MOST },
		                { .a = a + n / 2, .n = n - n / 2, .most = SUM_MOST } };

	for (size_t k = 0; k < count; k++)
		shares[k] = 0;
	for (unsigned set = 0; set < 1u << n; set++) {
		if (members(set) != n / 2)
			continue;
		count_halves(half, b, n, set);
		for (size_t k = 0; k < count; k++)
			shares[k] += pairs_at_least(half, bounds[k]);
	}
	for (size_t k = 0; k < count; k++)
		shares[k] /= gammafn((double)n + 1);
}

static int compare_ints(const void *a, const void *b)
{
	int x = *(const int *)a, y = *(const int *)b;

	return (x > y) - (x < y);
}

/* Sums of products of two lists of doubled ranks: as given, largest, smallest; and n times the mean. */
struct rank_sums {
	long observed, most, least, centre;
};

static struct rank_sums sum_ranks(const int *a, const int *b, size_t n)
{
	struct rank_sums s = { 0 };
	int up[2][RANKS_SPEARMAN_EXACT];
	long total_a = 0, total_b = 0;

	for (size_t i = 0; i < n; i++) {
		up[0][i] = a[i];
		up[1][i] = b[i];
		total_a += a[i];
		total_b += b[i];
		s.observed += (long)a[i] * b[i];
	}
	qsort(up[0], n, sizeof(int), compare_ints);
	qsort(up[1], n, sizeof(int), compare_ints);
	for (size_t i = 0; i < n; i++) {
		s.most += (long)up[0][i] * up[1][i];
		s.least += (long)up[0][i] * up[1][n - 1 - i];
	}
	s.centre = total_a * total_b;
	return s;
}

/* Smallest whole number not below num / den. Both positive or num negative. */
static long ceil_div(long num, long den)
{
	return num > 0 ? (num + den - 1) / den : -(-num / den);
}

/* P(|n sum - centre| >= away), from P(sum >= bound) at two bounds. */
static void two_bounds(long bounds[2], const struct rank_sums *s, long n, long away)
{
	bounds[0] = ceil_div(s->centre + away, n);
	bounds[1] = ceil_div(s->centre - away + 1, n); /* sums below this are as far away on the other side */
}

static void spearman_count(struct association *a, const int *x, const int *y, size_t n)
{
	struct rank_sums s = sum_ranks(x, y, n);
	long size = (long)n, away = labs(size * s.observed - s.centre);
	long furthest = size * s.most - s.centre > s.centre - size * s.least ? size * s.most - s.centre :
	                                                                       s.centre - size * s.least;
	long bounds[5];
	double shares[5];

	two_bounds(bounds, &s, size, away);
	two_bounds(bounds + 2, &s, size, furthest);
	bounds[4] = s.observed;
	shares_at_least(shares, bounds, 5, x, y, n);
	a->p = away == 0 ? 1 : shares[0] + (1 - shares[1]);
	a->p_smallest = shares[2] + (1 - shares[3]);
	a->p_greater = shares[4];
}

static bool any_tied(const double *x, size_t n)
{
	for (size_t i = 0; i < n; i++)
		for (size_t j = 0; j < i; j++)
			if (x[i] == x[j])
				return true;
	return false;
}

/* Pearson's r of the ranks, without room for them: each rank is counted anew. */
static double rank_correlation(const double *x, const double *y, size_t n)
{
	double centre = (double)n + 1, xx = 0, yy = 0, xy = 0;

	for (size_t i = 0; i < n; i++) {
		double rx = 1, ry = 1;

		for (size_t j = 0; j < n; j++) {
			rx += 2 * (x[j] < x[i]) + (x[j] == x[i]);
			ry += 2 * (y[j] < y[i]) + (y[j] == y[i]);
		}
		xx += (rx - centre) * (rx - centre);
		yy += (ry - centre) * (ry - centre);
		xy += (rx - centre) * (ry - centre);
	}
	return xy / sqrt(xx * yy);
}

struct association spearman_test(const double *x, const double *y, size_t n)
{
	struct association a = no_association(n);
	int rx[RANKS_SPEARMAN_EXACT], ry[RANKS_SPEARMAN_EXACT];

	if (too_plain(x, y, n))
		return a;
	a.estimate = rank_correlation(x, y, n);
	if (n > RANKS_SPEARMAN_EXACT) {
		p_from_t(&a);
		a.p_smallest = smallest_untied(n);
		return a;
	}
	ranks_doubled(rx, x, n);
	ranks_doubled(ry, y, n);
	spearman_count(&a, rx, ry, n);
	a.method = any_tied(x, n) || any_tied(y, n) ? P_PERMUTED : P_EXACT;
	return a;
}

double spearman_exact_lower(size_t n, long d)
{
	int ranks[RANKS_SPEARMAN_EXACT];
	long squares = 0, bound;
	double share;

	if (n < 2 || n > RANKS_SPEARMAN_EXACT)
		return NAN;
	for (size_t i = 0; i < n; i++) {
		ranks[i] = (int)i + 1;
		squares += (long)ranks[i] * ranks[i];
	}
	bound = ceil_div(2 * squares - d, 2); /* d = 2 squares - 2 sum of products */
	shares_at_least(&share, &bound, 1, ranks, ranks, n);
	return share;
}

/* ---- Kendall's S and its null distributions ---- */

#define S_MOST (RANKS_KENDALL_EXACT * (RANKS_KENDALL_EXACT - 1) / 2)

/* P(S = s) at p[s + most], s = -most .. most. */
struct null_law {
	long most;
	double p[2 * S_MOST + 1];
};

_Static_assert(RANKS_SUM_EXACT <= S_MOST, "a pooled S must fit");

static void null_certain(struct null_law *law)
{
	law->most = 0;
	law->p[0] = 1;
}

/* n untied points: the k-th adds 0 .. k-1 inversions, each as likely as the other. */
static void null_untied(struct null_law *law, size_t n)
{
	double inversions[S_MOST + 1] = { 1 };
	long most = 0;

	for (long k = 2; k <= (long)n; k++) {
		most += k - 1;
		for (long v = most; v >= 0; v--) { /* from above: the lower ones are still those of k - 1 */
			double sum = 0;

			for (long j = v; j >= 0 && j > v - k; j--)
				sum += inversions[j];
			inversions[v] = sum / (double)k;
		}
	}
	law->most = most;
	for (long s = -most; s <= most; s++)
		law->p[s + most] = 0;
	for (long v = 0; v <= most; v++)
		law->p[2 * (most - v)] = inversions[v];
}

/* Enumerates the different orders of tied values. */
struct arrangement {
	const double *x; /* NULL: the order itself */
	double value[RANKS_KENDALL_TIED];
	size_t times[RANKS_KENDALL_TIED];
	size_t kinds;
	size_t n;
	size_t chosen[RANKS_KENDALL_TIED];
	struct null_law *law;
	double total;
};

static int sign_of(double d)
{
	return (d > 0) - (d < 0);
}

static void arrange(struct arrangement *a, size_t at, long s)
{
	if (at == a->n) {
		a->law->p[s + a->law->most]++;
		a->total++;
		return;
	}
	for (size_t k = 0; k < a->kinds; k++) {
		long add = 0;

		if (a->times[k] == 0)
			continue;
		for (size_t i = 0; i < at; i++)
			add += (long)(a->x ? sign_of(a->x[at] - a->x[i]) : 1) *
			       sign_of(a->value[k] - a->value[a->chosen[i]]);
		a->times[k]--;
		a->chosen[at] = k;
		arrange(a, at + 1, s + add);
		a->times[k]++;
	}
}

/* The law of S when these very y are permuted against x, n <= RANKS_KENDALL_TIED. */
static void null_permuted(struct null_law *law, const double *x, const double *y, size_t n)
{
	struct arrangement a = { .x = x, .n = n, .law = law };

	law->most = (long)(n * (n - 1) / 2);
	for (long i = 0; i <= 2 * law->most; i++)
		law->p[i] = 0;
	for (size_t i = 0; i < n; i++) {
		size_t k = 0;

		while (k < a.kinds && a.value[k] != y[i])
			k++;
		if (k == a.kinds)
			a.value[a.kinds++] = y[i];
		a.times[k]++;
	}
	arrange(&a, 0, 0);
	for (long i = 0; i <= 2 * law->most; i++)
		law->p[i] /= a.total;
}

/* law becomes that of the sum of two independent S. */
static void null_add(struct null_law *law, const struct null_law *other)
{
	struct null_law sum;

	sum.most = law->most + other->most;
	for (long i = 0; i <= 2 * sum.most; i++)
		sum.p[i] = 0;
	for (long i = 0; i <= 2 * law->most; i++)
		for (long j = 0; law->p[i] > 0 && j <= 2 * other->most; j++)
			sum.p[i + j] += law->p[i] * other->p[j];
	law->most = sum.most;
	for (long i = 0; i <= 2 * sum.most; i++)
		law->p[i] = sum.p[i];
}

static double null_greater(const struct null_law *law, long s)
{
	double sum = 0;

	for (long k = law->most; k >= s && k >= -law->most; k--)
		sum += law->p[k + law->most];
	return fmin(1, sum);
}

static double null_beyond(const struct null_law *law, long s)
{
	double sum = 0;

	if (s == 0)
		return 1;
	for (long k = law->most; k >= labs(s); k--)
		sum += law->p[law->most + k] + law->p[law->most - k];
	return fmin(1, sum);
}

static double null_smallest(const struct null_law *law)
{
	for (long k = law->most; k > 0; k--) {
		double p = law->p[law->most + k] + law->p[law->most - k];

		if (p > 0)
			return p;
	}
	return 1;
}

static void p_from_law(struct association *a, const struct null_law *law, long s)
{
	a->p = null_beyond(law, s);
	a->p_greater = null_greater(law, s);
	a->p_smallest = null_smallest(law);
}

static void p_from_normal(struct association *a, double s, double variance, double smallest)
{
	double sd = sqrt(variance);

	a->p = s == 0 ? 1 : fmin(1, 2 * pnorm5(-(fabs(s) - 1) / sd, 0, 1, 1, 0));
	a->p_greater = pnorm5(-(s - 1) / sd, 0, 1, 1, 0);
	a->p_smallest = smallest;
	a->method = P_APPROXIMATE;
}

/* x NULL: the order. */
static long kendall_s(const double *x, const double *y, size_t n)
{
	long s = 0;

	for (size_t i = 0; i < n; i++)
		for (size_t j = 0; j < i; j++)
			s += (long)(x ? sign_of(x[i] - x[j]) : 1) * sign_of(y[i] - y[j]);
	return s;
}

/* Sums over groups of t tied values: t(t-1), t(t-1)(t-2), t(t-1)(2t+5). */
struct tie_sums {
	double pairs, triples, variance;
};

static struct tie_sums sum_ties(const double *x, size_t n)
{
	struct tie_sums sums = { 0, 0, 0 };

	for (size_t i = 0; x && i < n; i++) {
		double t = 0;

		for (size_t j = 0; j < n; j++)
			t += x[j] == x[i];
		sums.pairs += t - 1; /* each of the t members adds a t-th */
		sums.triples += (t - 1) * (t - 2);
		sums.variance += (t - 1) * (2 * t + 5);
	}
	return sums;
}

static double variance_of_s(const struct tie_sums *x, const struct tie_sums *y, size_t size)
{
	double n = (double)size;
	double v = (n * (n - 1) * (2 * n + 5) - x->variance - y->variance) / 18;

	if (size > 2)
		v += x->triples * y->triples / (9 * n * (n - 1) * (n - 2));
	return v + x->pairs * y->pairs / (2 * n * (n - 1));
}

/* The p values of S; x NULL: the order. */
static void p_of_s(struct association *a, const double *x, const double *y, size_t n, long s)
{
	bool tied = any_tied(y, n) || (x && any_tied(x, n));
	struct null_law law;

	if (n > RANKS_KENDALL_EXACT || (tied && n > RANKS_KENDALL_TIED)) {
		struct tie_sums tx = sum_ties(x, n), ty = sum_ties(y, n);

		p_from_normal(a, (double)s, variance_of_s(&tx, &ty, n), smallest_untied(n));
		return;
	}
	if (tied)
		null_permuted(&law, x, y, n);
	else
		null_untied(&law, n);
	p_from_law(a, &law, s);
	a->method = tied ? P_PERMUTED : P_EXACT;
}

struct association kendall_test(const double *x, const double *y, size_t n)
{
	struct association a = no_association(n);
	struct tie_sums tx, ty;
	double pairs = (double)n * ((double)n - 1);
	long s;

	if (too_plain(x, y, n))
		return a;
	tx = sum_ties(x, n);
	ty = sum_ties(y, n);
	s = kendall_s(x, y, n);
	a.estimate = 2 * (double)s / sqrt((pairs - tx.pairs) * (pairs - ty.pairs));
	p_of_s(&a, x, y, n, s);
	return a;
}

double kendall_exact_upper(size_t n, long s)
{
	struct null_law law;

	if (n < 1 || n > RANKS_KENDALL_EXACT)
		return NAN;
	null_untied(&law, n);
	return null_greater(&law, s);
}

/* ---- trend ---- */

struct association mann_kendall_test(const double *y, size_t n)
{
	struct association a = no_association(n);
	long s;

	if (n < 2 || values_range(y, n) == 0)
		return a;
	s = kendall_s(NULL, y, n);
	a.estimate = (double)s;
	p_of_s(&a, NULL, y, n, s);
	return a;
}

/* What the strata allow: an exact law, and of which kind. */
static enum p_method pooled_method(const double *y, const size_t *start, size_t strata)
{
	enum p_method method = P_NONE;
	size_t most = 0;

	for (size_t i = 0; i < strata; i++) {
		size_t n = start[i + 1] - start[i];
		bool tied = any_tied(y + start[i], n);

		if (n < 2)
			continue;
		if (values_range(y + start[i], n) > 0 && method == P_NONE)
			method = P_EXACT;
		most += n * (n - 1) / 2;
		if (most > RANKS_SUM_EXACT || (tied && n > RANKS_KENDALL_TIED))
			return values_range(y, start[strata]) > 0 ? P_APPROXIMATE : P_NONE;
	}
	for (size_t i = 0; i < strata && method == P_EXACT; i++)
		if (any_tied(y + start[i], start[i + 1] - start[i]))
			method = P_PERMUTED;
	return method;
}

static void pooled_exact(struct association *a, const double *y, const size_t *start, size_t strata)
{
	struct null_law law, own;

	null_certain(&law);
	for (size_t i = 0; i < strata; i++) {
		size_t n = start[i + 1] - start[i];
		const double *own_y = y + start[i];

		if (n < 2)
			continue;
		if (any_tied(own_y, n))
			null_permuted(&own, NULL, own_y, n);
		else
			null_untied(&own, n);
		null_add(&law, &own);
	}
	p_from_law(a, &law, (long)a->estimate);
}

static void pooled_normal(struct association *a, const double *y, const size_t *start, size_t strata)
{
	struct tie_sums none = { 0, 0, 0 };
	double variance = 0;

	for (size_t i = 0; i < strata; i++) {
		size_t n = start[i + 1] - start[i];
		struct tie_sums ties = sum_ties(y + start[i], n);

		if (n >= 2)
			variance += variance_of_s(&none, &ties, n);
	}
	if (variance > 0)
		p_from_normal(a, a->estimate, variance, 0);
	else
		*a = no_association(a->n);
}

struct association mann_kendall_pooled(const double *y, const size_t *start, size_t strata)
{
	struct association a = no_association(0);
	long s = 0;

	a.method = pooled_method(y, start, strata);
	for (size_t i = 0; i < strata; i++) {
		size_t n = start[i + 1] - start[i];

		a.n += n < 2 ? 0 : n;
		s += kendall_s(NULL, y + start[i], n);
	}
	if (a.method == P_NONE)
		return a;
	a.estimate = (double)s;
	if (a.method == P_APPROXIMATE)
		pooled_normal(&a, y, start, strata);
	else
		pooled_exact(&a, y, start, strata);
	return a;
}

long mann_kendall_critical(size_t m, size_t b, double alpha, double *p)
{
	struct null_law law, own;

	if (p)
		*p = NAN;
	if (m < 2 || b < 1 || m > RANKS_KENDALL_EXACT || b * (m * (m - 1) / 2) > RANKS_SUM_EXACT)
		return 0;
	null_untied(&own, m);
	null_certain(&law);
	for (size_t i = 0; i < b; i++)
		null_add(&law, &own);
	for (long s = 1; s <= law.most; s++) {
		double beyond = null_beyond(&law, s);

		if (law.p[law.most + s] == 0 || beyond > alpha)
			continue;
		if (p)
			*p = beyond;
		return s;
	}
	return 0;
}

/* ---- slope ---- */

/* Smallest c with P(|S| >= c) <= 1 - level under the untied null; *level becomes the real one. 0: none. */
static long rejecting_s(size_t n, double *level)
{
	double alpha = 1 - *level;
	long most = (long)(n * (n - 1) / 2);

	if (n > RANKS_KENDALL_EXACT) {
		double size = (double)n, sd = sqrt(size * (size - 1) * (2 * size + 5) / 18);

		return (long)ceil(qnorm5(alpha / 2, 0, 1, 0, 0) * sd + 1);
	}
	struct null_law law;

	null_untied(&law, n);
	for (long s = most % 2 ? 1 : 2; s <= most; s += 2)
		if (null_beyond(&law, s) <= alpha) {
			*level = 1 - null_beyond(&law, s);
			return s;
		}
	return 0;
}

static double median_of_sorted(const double *x, size_t n)
{
	return quantile_sorted(x, n, 0.5);
}

static size_t pair_slopes(double *slopes, const double *x, const double *y, size_t n)
{
	size_t count = 0;

	for (size_t j = 0; j < n; j++)
		for (size_t i = 0; i < j; i++)
			if (x[j] != x[i])
				slopes[count++] = (y[j] - y[i]) / (x[j] - x[i]);
	return count;
}

static void slope_interval(struct theil_sen *fit, const double *slopes, size_t count, size_t n, double level)
{
	long c, low, high;

	fit->level = level;
	c = rejecting_s(n, &fit->level);
	fit->lower = -INFINITY;
	fit->upper = INFINITY;
	low = ((long)count - c) / 2; /* places from 0: the slopes that a trend of this size would have to pass */
	high = ((long)count + c + 1) / 2 - 1;
	if (c == 0 || low < 0 || high >= (long)count) {
		fit->level = 1;
		return;
	}
	fit->lower = slopes[low];
	fit->upper = slopes[high];
}

struct theil_sen theil_sen_fit(const double *x, const double *y, size_t n, double level, double *work)
{
	struct theil_sen fit = { NAN, NAN, NAN, NAN, NAN };
	size_t count = pair_slopes(work, x, y, n);
	double *rest = work + count;

	if (count == 0)
		return fit;
	doubles_sort(work, count);
	fit.slope = median_of_sorted(work, count);
	for (size_t i = 0; i < n; i++)
		rest[i] = y[i] - fit.slope * x[i];
	doubles_sort(rest, n);
	fit.intercept = median_of_sorted(rest, n);
	if (level > 0 && level < 1)
		slope_interval(&fit, work, count, n, level);
	return fit;
}
