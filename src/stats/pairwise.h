/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_PAIRWISE_H
#define BREWSPREAD_PAIRWISE_H

#include "describe.h"

#include <stdbool.h>
#include <stddef.h>

/*
 * Treatments two at a time, with one of three verdicts for each pair.
 *
 * Inputs are brew means: a group is a treatment, its n the number of brews.
 *
 * What is claimed, and how sure it is. alpha (0.05) is a familywise rate:
 *
 *  DIFFER  The simultaneous 1 - alpha interval (lower..upper: Tukey-Kramer,
 *          Games-Howell or Dunnett) excludes 0. The chance that any pair
 *          of equal treatments in the run is so called is at most alpha.
 *  SAME    The interval same_lower..same_upper lies inside -margin..margin:
 *          both one-sided tests against the margin succeed. Its factor is
 *          the smaller of the one above and the one-sided t quantile at
 *          alpha/M; each of the two alone bounds the familywise chance of a
 *          wrong "same" by alpha, and the choice does not look at the data.
 *          M is 1 for two treatments: the usual two one-sided tests, whose
 *          interval has level 1 - 2 alpha (D. J. Schuirmann, J. Pharmacokin.
 *          Biopharm. 15 (1987) 657-680). Else it is the number of pairs or,
 *          where all n are equal, k^2/4 (tukey_rule_balance). The
 *          simultaneous 1 - 2 alpha interval would be shorter, but no proof
 *          is known to us that it keeps to alpha.
 *  OPEN    Neither. Not "equal".
 *
 * No single pair can be wrong both ways: a true difference of 0 can only be
 * miscalled DIFFER, one of margin or more only SAME. The chance of a wrong
 * call of either kind anywhere in the run is at most 2 alpha.
 *
 * A pair may satisfy both: the verdict is then DIFFER with small set, to be
 * told as "differ, but by less than the margin", which is as sure as SAME is.
 *
 * A margin that is not above 0 (or NaN): SAME is never claimed.
 * No degrees of freedom: intervals and p are NaN, all verdicts OPEN.
 * A spread of exactly 0: intervals shrink to the difference; p is 0, or 1
 * where the difference is 0 too (Games-Howell: NaN and OPEN where both are 0).
 * An empty group: NaN and OPEN.
 */
enum verdict { VERDICT_DIFFER, VERDICT_SAME, VERDICT_OPEN };

struct pair_result {
	size_t a; /* index of the groups; Dunnett: b is the control */
	size_t b;
	double difference;     /* mean of a less mean of b */
	double standard_error; /* of the difference */
	double df;
	double statistic; /* all pairs: studentized range q = |t| sqrt 2; control: t with its sign */
	double half_width;
	double lower;
	double upper;
	double p; /* adjusted for the family; NaN where not yet asked for */
	double same_half_width;
	double same_lower;
	double same_upper;
	bool small; /* DIFFER, yet inside the margin */
	enum verdict verdict;
};

/* What is to be claimed: familywise alpha, and the margin in the unit of the means. */
struct claim {
	double alpha;
	double margin;
};

/* Pairs among k treatments: k(k-1)/2. */
size_t pairs_count(size_t k);

/* Place of pair (a, b), a < b, in the order (0,1) (0,2) ... (0,k-1) (1,2) ... that the pairs_ functions use. */
size_t pair_place(size_t a, size_t b, size_t k);

/*
 * What all Tukey-Kramer pairs of a run share, so that a caller can walk
 * through many treatments and keep only what it shows.
 */
struct tukey_rule {
	struct claim claim;
	size_t treatments;
	double mse; /* variance between brews of one treatment */
	double df;
	double factor; /* times the standard error of a difference: half width */
	double same_factor;
};

/*
 * mse and df from oneway.h, or, where the run has one brew per treatment,
 * the square of a spread between brews known from earlier brews with its
 * degrees of freedom: the verdicts then rest on history and have to be
 * told as such. Costs one critical value (about a millisecond).
 */
struct tukey_rule tukey_rule(size_t treatments, double mse, double df, struct claim claim);

/* Where all treatments have the same number of brews, fewer wrong SAME are possible: shortens their interval. */
void tukey_rule_balance(struct tukey_rule *rule);

/* A difference from any linear model, such as one with rounds: blocks.h. */
struct pair_estimate {
	size_t a;
	size_t b;
	double difference; /* a less b */
	double factor;     /* its variance over that of one value; 1/n_a + 1/n_b where there are no rounds */
	double unseen;     /* variance that comes on top, that no scatter shows and no further value lessens; else 0 */
};

/* All of one pair but p, which is NaN: no quadrature. */
struct pair_result pair_tukey(const struct tukey_rule *rule, const struct group_summary *groups, size_t a, size_t b);

/* The difference of two groups' means in a run without rounds; unseen is 0. */
struct pair_estimate pair_estimate_of(const struct group_summary *groups, size_t a, size_t b);

/*
 * pair_tukey() of such a difference. Exact where all factors are equal (complete rounds, balanced incomplete ones); else
 * conservative, as Kramer's for unequal n (A. J. Hayter, Annals of Statistics 12 (1984) 61-75, for those).
 */
struct pair_result pair_tukey_estimated(const struct tukey_rule *rule, const struct pair_estimate *estimate);

/* The p of such a pair: one quadrature (about 0.05 ms). */
double pair_tukey_p(const struct tukey_rule *rule, const struct pair_result *pair);

/* Every pair with its p; out holds pairs_count(k) results. For unequal n: C. Y. Kramer, Biometrics 12 (1956) 307-310. */
void pairs_tukey(struct pair_result *out, const struct group_summary *groups, size_t k, double mse, double df,
                 struct claim claim);

/*
 * Unequal spreads: P. A. Games and J. F. Howell, J. Educ. Stat. 1 (1976)
 * 113-125. Each pair has its own degrees of freedom, hence its own critical
 * value. unseen as in pair_estimate. Groups with n < 2: OPEN and NaN. The method
 * is approximate: with few brews its familywise rate can exceed alpha a little.
 */
struct pair_result pair_games_howell(const struct group_summary *groups, size_t k, size_t a, size_t b, double unseen,
                                     struct claim claim);
void pairs_games_howell(struct pair_result *out, const struct group_summary *groups, size_t k, struct claim claim);

/*
 * Differences from one control, count of them, in their order; two-sided. lambda[i] is dunnett_lambda() of their sizes where
 * there are no rounds; else sqrt(1/2), which takes them as correlated by 1/2: exact for complete and for balanced incomplete
 * rounds, near it for others.
 */
void pairs_dunnett(struct pair_result *out, const struct pair_estimate *estimates, const double *lambda, size_t count,
                   double mse, double df, struct claim claim);

/*
 * S. Holm, Scand. J. Statist. 6 (1979) 65-70. adjusted may be p itself;
 * scratch holds n. A NaN stays NaN and does not count as a test.
 */
void holm_adjust(double *adjusted, const double *p, size_t n, struct ranked *scratch);

/* How sure would more brews make it? */
enum family { FAMILY_ALL_PAIRS, FAMILY_CONTROL };

struct settle_query {
	enum family family;
	size_t treatments; /* the control included */
	double difference;
	double variance_sum; /* of the difference between two single brews: 2 mse, or s_a^2 + s_b^2 */
	double unseen;       /* that stays however many they are: as in pair_estimate */
	double df_base;      /* known beforehand: 0, or the degrees of freedom of an earlier spread */
	double df_rate;      /* gained by each further brew of every treatment: k, or welch_df_rate() */
	struct claim claim;
};

struct settle {
	size_t brews;         /* of each treatment; 0: not with BREWS_MOST */
	enum verdict verdict; /* the one it would become; OPEN with 0 brews */
};

#define BREWS_MOST 100000

/*
 * Brews of each treatment (equal numbers, all anew) at which this pair
 * would be settled if the difference and the spread came out as observed:
 * the smallest n whose half width falls below |difference| (DIFFER), or
 * whose same_half_width falls below margin - |difference| (SAME), whichever
 * comes first. The new difference will scatter about the old one: this gives about
 * an even chance, not assurance; for a wanted power see power.h.
 */
struct settle brews_to_settle(const struct settle_query *query);

/* For Games-Howell: (s_a^2 + s_b^2)^2 / (s_a^4 + s_b^4). NaN if both are 0. */
double welch_df_rate(double sd_a, double sd_b);

#endif
