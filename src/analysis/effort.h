/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * effort.h: how many brews and readings does it take to find a difference, and which difference does an effort show?
 *
 * The comparison that is planned is the one that the report makes: one mean a brew, the treatments equally often,
 * t pairs of means against the spread between brews pooled over all t treatments, with df = t (b - 1). A difference is found where
 * |T| > c, and c depends on how many questions are asked at once:
 *
 *   one pair, named before anything was brewed   c = Student's t
 *   each treatment against a control             c = Dunnett's critical value
 *   all pairs                                    c = the studentized range's, over √2
 *
 * For any one pair T is Student's t off centre by D / (σ √(2/b)), σ² = σ_brew² + σ_reading²/m, whatever the others do, so the
 * chance of finding a true difference D of one named pair, T > c, is exact for all three (power.h). It is not the chance
 * of finding all differences of that size, which is smaller, nor of finding any of them, which is larger. A
 * finding with the wrong sign counts as none.
 *
 * All spreads and differences are in one unit; the program's is yield points. Sums are taken without a part
 * for rounds: brewing in rounds takes what differs from round to round out of the spread, for b - 1 of the degrees of freedom.
 */
#ifndef BREWSPREAD_EFFORT_H
#define BREWSPREAD_EFFORT_H

#include <stdbool.h>
#include <stddef.h>

/* The two spreads that a plan rests on. NaN: not known. */
struct effort_spread {
	double brew_sd;     /* between brews of one treatment, without what the readings add */
	double brew_df;     /* its degrees of freedom */
	double reading_sd;  /* between readings of one cup */
	double reading_df;  /* its degrees of freedom */
	const char *source; /* where they come from, the end of a sentence; lent */
};

enum effort_family { EFFORT_ONE_PAIR, EFFORT_CONTROL, EFFORT_ALL_PAIRS, EFFORT_FAMILIES };

struct effort_query {
	struct effort_spread spread;
	size_t treatments; /* the control included, at least 2 */
	double power;      /* wanted; alpha < power < 1 */
	double alpha;      /* chance of a false find in the whole family, two-sided */
	double brew_cost, reading_cost;
	enum effort_family family;
};

enum {
	EFFORT_BREWS_MOST = 10000,
	EFFORT_READINGS_MOST = 20, /* readings of a cup that effort_cheapest() tries */
};

/* One way of doing it. */
struct effort {
	size_t brews;      /* of each treatment; 0: more than EFFORT_BREWS_MOST, or nothing to go by */
	size_t readings;   /* of each brew */
	double difference; /* that is found … */
	double power;      /* … with this chance */
	double cost;       /* of all brews and readings of all treatments */
};

/* "all pairs of treatments" and so on. */
const char *effort_family_name(enum effort_family family);

/* The c above for b = brews, which may be a fraction; NaN where it is not above 1 or the rest makes no sense. */
double effort_critical(enum effort_family family, size_t treatments, double brews, double alpha);

/* Chance of finding `difference` of a pair with so many brews and readings; NaN where a spread is not known. */
double effort_power(const struct effort_query *query, size_t brews, size_t readings, double difference);

/* The difference that so many brews (at least 2) and readings find with the wanted power. */
struct effort effort_shown(const struct effort_query *query, size_t brews, size_t readings);

/* The fewest brews, 2 or more, that find `difference` > 0 with so many readings each. */
struct effort effort_fewest(const struct effort_query *query, double difference, size_t readings);

/* The cheapest of 1 to EFFORT_READINGS_MOST readings each; of equal cost the one with more brews. */
struct effort effort_cheapest(const struct effort_query *query, double difference);

/*
 * The spreads that so few degrees of freedom do not rule out: upper limits of confidence (0.8, say) by the χ² distribution,
 * one-sided. A spread without degrees of freedom stays as it is.
 */
struct effort_spread effort_spread_upper(const struct effort_spread *spread, double confidence);

enum { EFFORT_SPREADS = 10 };

/*
 * What to plan with where known lacks a spread: known itself if it has both, else known with each plausible value in its
 * gaps, which are examples and not measured. Returns how many.
 */
size_t effort_spreads(struct effort_spread spreads[EFFORT_SPREADS], const struct effort_spread *known);

/* Are both spreads known? */
bool effort_spread_known(const struct effort_spread *spread);

#endif
