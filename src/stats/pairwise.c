/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "pairwise.h"

#include "dunnett.h"
#include "studentized_range.h"
#include "welch.h"

#include <Rmath.h>
#include <math.h>

size_t pairs_count(size_t k)
{
	return k ? k * (k - 1) / 2 : 0;
}

size_t pair_place(size_t a, size_t b, size_t k)
{
	return a * (2 * k - a - 1) / 2 + b - a - 1;
}

/*
 * In how many pairs a wrong "same" has to be feared. A pair whose true
 * difference is below the margin can't be wrong. Where treatment j lies at
 * least a margin above i, and k at least one above j, and all pairs have the
 * same half width h < margin, i and k are called the same only if i and j or
 * j and k are: were both differences margin - h or more, their sum would be
 * more than that too. Leaving such pairs i, k out leaves no triangle, and a
 * graph of k points without one has at most k^2/4 edges (W. Mantel, Wiskundige Opgaven 10 (1907) 60-61).
 */
static size_t same_pairs(size_t k, bool balanced)
{
	return balanced ? k * k / 4 : pairs_count(k);
}

static double same_factor(double factor, size_t pairs, double df, double alpha)
{
	return isnan(factor) ? NAN : fmin(factor, qt(alpha / (double)pairs, df, 0, 0));
}

static void pair_judge(struct pair_result *pair, double factor, double same, const struct claim *claim)
{
	pair->half_width = factor * pair->standard_error;
	pair->lower = pair->difference - pair->half_width;
	pair->upper = pair->difference + pair->half_width;
	pair->same_half_width = same * pair->standard_error;
	pair->same_lower = pair->difference - pair->same_half_width;
	pair->same_upper = pair->difference + pair->same_half_width;
	bool differ = pair->lower > 0.0 || pair->upper < 0.0;
	bool inside = pair->same_lower > -claim->margin && pair->same_upper < claim->margin;

	pair->small = differ && inside;
	pair->verdict = differ ? VERDICT_DIFFER : inside ? VERDICT_SAME : VERDICT_OPEN;
}

/* difference/error, with 0 and not NaN where both are 0. */
static double in_errors(double difference, double error)
{
	return difference == 0.0 && error == 0.0 ? 0.0 : difference / error;
}

struct tukey_rule tukey_rule(size_t treatments, double mse, double df, struct claim claim)
{
	struct tukey_rule rule = { .claim = claim, .treatments = treatments, .mse = mse, .df = df };

	rule.factor = studentized_range_critical(claim.alpha, treatments, df) * M_SQRT1_2;
	rule.same_factor = same_factor(rule.factor, same_pairs(treatments, false), df, claim.alpha);
	return rule;
}

void tukey_rule_balance(struct tukey_rule *rule)
{
	rule->same_factor = same_factor(rule->factor, same_pairs(rule->treatments, true), rule->df, rule->claim.alpha);
}

struct pair_result pair_tukey_estimated(const struct tukey_rule *rule, const struct pair_estimate *estimate)
{
	struct pair_result pair = { .a = estimate->a, .b = estimate->b, .df = rule->df, .p = NAN };

	pair.difference = estimate->difference;
	pair.standard_error = sqrt(rule->mse * estimate->factor + estimate->unseen);
	pair.statistic = fabs(in_errors(pair.difference, pair.standard_error)) * M_SQRT2;
	pair_judge(&pair, rule->factor, rule->same_factor, &rule->claim);
	return pair;
}

struct pair_estimate pair_estimate_of(const struct group_summary *groups, size_t a, size_t b)
{
	return (struct pair_estimate){
		.a = a,
		.b = b,
		.difference = groups[a].mean - groups[b].mean,
		.factor = 1.0 / (double)groups[a].n + 1.0 / (double)groups[b].n,
	};
}

struct pair_result pair_tukey(const struct tukey_rule *rule, const struct group_summary *groups, size_t a, size_t b)
{
	struct pair_estimate estimate = pair_estimate_of(groups, a, b);

	return pair_tukey_estimated(rule, &estimate);
}

double pair_tukey_p(const struct tukey_rule *rule, const struct pair_result *pair)
{
	return studentized_range_tail(pair->statistic, rule->treatments, rule->df);
}

static bool all_equal(const struct group_summary *groups, size_t k)
{
	for (size_t i = 1; i < k; i++)
		if (groups[i].n != groups[0].n)
			return false;
	return true;
}

void pairs_tukey(struct pair_result *out, const struct group_summary *groups, size_t k, double mse, double df,
                 struct claim claim)
{
	struct tukey_rule rule = tukey_rule(k, mse, df, claim);

	if (all_equal(groups, k))
		tukey_rule_balance(&rule);
	for (size_t a = 0; a < k; a++)
		for (size_t b = a + 1; b < k; b++, out++) {
			*out = pair_tukey(&rule, groups, a, b);
			out->p = pair_tukey_p(&rule, out);
		}
}

struct pair_result pair_games_howell(const struct group_summary *groups, size_t k, size_t a, size_t b, double unseen,
                                     struct claim claim)
{
	struct welch_t welch = welch_t(&groups[a], &groups[b], 0.95);
	double factor = studentized_range_critical(claim.alpha, k, welch.df) * M_SQRT1_2;
	struct pair_result pair = {
		.a = a,
		.b = b,
		.difference = welch.difference,
		.standard_error = hypot(welch.standard_error, sqrt(unseen)),
		.df = welch.df,
		.statistic = fabs(welch.t) * M_SQRT2,
	};

	if (unseen > 0)
		pair.statistic = fabs(pair.difference) / pair.standard_error * M_SQRT2;

	pair.p = studentized_range_tail(pair.statistic, k, pair.df);
	pair_judge(&pair, factor, same_factor(factor, pairs_count(k), pair.df, claim.alpha), &claim);
	return pair;
}

void pairs_games_howell(struct pair_result *out, const struct group_summary *groups, size_t k, struct claim claim)
{
	for (size_t a = 0; a < k; a++)
		for (size_t b = a + 1; b < k; b++)
			*out++ = pair_games_howell(groups, k, a, b, 0, claim);
}

/* What all comparisons with one control share. */
struct dunnett_rule {
	const double *lambda;
	size_t count;
	double mse, df;
	double factor, same;
	const struct claim *claim;
};

static struct dunnett_rule dunnett_rule(const double *lambda, size_t count, double mse, double df,
                                        const struct claim *claim)
{
	struct dunnett_rule rule = { lambda, count, mse, df, NAN, NAN, claim };

	rule.factor = dunnett_critical(claim->alpha, lambda, count, df, SIDES_TWO);
	rule.same = same_factor(rule.factor, count, df, claim->alpha);
	return rule;
}

static struct pair_result pair_dunnett(const struct dunnett_rule *rule, const struct pair_estimate *estimate)
{
	struct pair_result pair = { .a = estimate->a, .b = estimate->b, .df = rule->df };

	pair.difference = estimate->difference;
	pair.standard_error = sqrt(rule->mse * estimate->factor + estimate->unseen);
	pair.statistic = in_errors(pair.difference, pair.standard_error);
	pair.p = dunnett_tail(fabs(pair.statistic), rule->lambda, rule->count, rule->df, SIDES_TWO);
	pair_judge(&pair, rule->factor, rule->same, rule->claim);
	return pair;
}

void pairs_dunnett(struct pair_result *out, const struct pair_estimate *estimates, const double *lambda, size_t count,
                   double mse, double df, struct claim claim)
{
	struct dunnett_rule rule = dunnett_rule(lambda, count, mse, df, &claim);

	for (size_t i = 0; i < count; i++)
		out[i] = pair_dunnett(&rule, &estimates[i]);
}

void holm_adjust(double *adjusted, const double *p, size_t n, struct ranked *scratch)
{
	size_t tests = 0;
	double largest = 0.0;

	for (size_t i = 0; i < n; i++) {
		if (isnan(p[i]))
			adjusted[i] = NAN;
		else
			scratch[tests++] = (struct ranked){ .value = p[i], .index = i };
	}
	ranked_sort(scratch, tests);
	for (size_t i = 0; i < tests; i++) {
		largest = fmax(largest, fmin(1.0, (double)(tests - i) * scratch[i].value));
		adjusted[scratch[i].index] = largest;
	}
}

/* Is the factor of the family's interval, at df, below t? */
static bool within_factor(const struct settle_query *query, double t, double df)
{
	double alpha = query->claim.alpha;
	double alone = 2.0 * pt(-t, df, 1, 0);
	double pairs = (double)(query->family == FAMILY_CONTROL ? query->treatments - 1 :
	                                                          pairs_count(query->treatments));

	/* The family's p is never below that of a single t, nor above as many times that as there are pairs (Bonferroni). */
	if (!(alone < alpha))
		return false;
	if (pairs * alone < alpha)
		return true;
	switch (query->family) {
	case FAMILY_ALL_PAIRS:
		return studentized_range_tail_below(t * M_SQRT2, query->treatments, df, alpha);
	case FAMILY_CONTROL:
		return dunnett_tail_equal_below(t, M_SQRT1_2, query->treatments - 1, df, SIDES_TWO, alpha);
	}
	return false;
}

static bool within_same_factor(const struct settle_query *query, double t, double df)
{
	size_t pairs = query->treatments - 1;

	if (query->family == FAMILY_ALL_PAIRS)
		pairs = same_pairs(query->treatments, true);
	return pt(-t, df, 1, 0) < query->claim.alpha / (double)pairs || within_factor(query, t, df);
}

/* The verdict with n brews of each treatment. */
static enum verdict settled(const struct settle_query *query, size_t n)
{
	double df = query->df_base + query->df_rate * (double)(n - 1);
	double error = sqrt(query->variance_sum / (double)n + query->unseen);
	double size = fabs(query->difference);
	double room = query->claim.margin - size;

	if (!(df > 0.0))
		return VERDICT_OPEN;
	if (within_factor(query, in_errors(size, error), df))
		return VERDICT_DIFFER;
	if (room > 0.0 && within_same_factor(query, in_errors(room, error), df))
		return VERDICT_SAME;
	return VERDICT_OPEN;
}

/* Where to begin looking: the n at which the half width would be right with a normal quantile, Bonferroni's. */
static size_t settle_guess(const struct settle_query *query)
{
	double pairs = (double)(query->family == FAMILY_CONTROL ? query->treatments - 1 :
	                                                          pairs_count(query->treatments));
	double size = fmax(fabs(query->difference), query->claim.margin - fabs(query->difference));
	double errors = qnorm(query->claim.alpha / (2.0 * pairs), 0.0, 1.0, 0, 0) / size;
	double n = ceil(errors * errors * query->variance_sum);

	if (!(n >= 1.0))
		return 1;
	return n < BREWS_MOST ? (size_t)n : BREWS_MOST;
}

struct settle brews_to_settle(const struct settle_query *query)
{
	struct settle settle = { 0, VERDICT_OPEN };
	size_t open = 0; /* not settled with so many brews */
	size_t n, step;

	if (query->treatments < 2 || isnan(query->difference))
		return settle;
	n = settle_guess(query);
	step = 1 + n / 8;
	/* each look costs a quadrature, so the search goes outwards from the guess */
	if (settled(query, n) == VERDICT_OPEN) {
		do {
			open = n;
			if (n == BREWS_MOST)
				return settle;
			n = BREWS_MOST - n > step ? n + step : BREWS_MOST;
			step *= 2;
		} while (settled(query, n) == VERDICT_OPEN);
	} else {
		size_t lower = n > step ? n - step : 0;

		while (lower > 0 && settled(query, lower) != VERDICT_OPEN) {
			n = lower;
			step *= 2;
			lower = n > step ? n - step : 0;
		}
		open = lower;
	}
	while (n - open > 1) {
		size_t middle = open + (n - open) / 2;

		if (settled(query, middle) == VERDICT_OPEN)
			open = middle;
		else
			n = middle;
	}
	settle.brews = n;
	settle.verdict = settled(query, n);
	return settle;
}

double welch_df_rate(double sd_a, double sd_b)
{
	double largest = fmax(sd_a, sd_b);
	double va = sd_a / largest * (sd_a / largest);
	double vb = sd_b / largest * (sd_b / largest);

	return (va + vb) * (va + vb) / (va * va + vb * vb);
}
