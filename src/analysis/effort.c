/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "effort.h"

#include <Rmath.h>
#include <math.h>
#include <stdlib.h>

#include "dunnett.h"
#include "power.h"
#include "quadrature.h"
#include "studentized_range.h"

/* Values to show where none was measured: examples over the range that seems plausible; no source. */
static const double plausible_brew_sd[] = { 0.1, 0.2, 0.3, 0.5, 0.8 };
static const double plausible_reading_sd[] = { 0.1, 0.2 };

enum {
	PLAUSIBLE_BREW = sizeof(plausible_brew_sd) / sizeof(plausible_brew_sd[0]),
	PLAUSIBLE_READING = sizeof(plausible_reading_sd) / sizeof(plausible_reading_sd[0]),
};

_Static_assert(PLAUSIBLE_BREW *PLAUSIBLE_READING <= EFFORT_SPREADS, "room for every pair of examples");

const char *effort_family_name(enum effort_family family)
{
	switch (family) {
	case EFFORT_ONE_PAIR:
		return "one pair, named beforehand";
	case EFFORT_CONTROL:
		return "each against the control";
	case EFFORT_ALL_PAIRS:
		return "all pairs of treatments";
	case EFFORT_FAMILIES:
		break;
	}
	return "";
}

static double dunnett_equal(double alpha, size_t m, double df)
{
	double *lambda = malloc(m * sizeof(*lambda));
	double critical;

	if (!lambda)
		return NAN;
	for (size_t i = 0; i < m; i++)
		lambda[i] = dunnett_lambda(1, 1);
	critical = dunnett_critical(alpha, lambda, m, df, SIDES_TWO);
	free(lambda);
	return critical;
}

double effort_critical(enum effort_family family, size_t treatments, double brews, double alpha)
{
	double df = (double)treatments * (brews - 1.0);

	if (treatments < 2 || !(brews > 1.0) || !(alpha > 0.0 && alpha < 1.0))
		return NAN;
	switch (family) {
	case EFFORT_ONE_PAIR:
		return qt(0.5 * alpha, df, 0, 0);
	case EFFORT_CONTROL:
		return dunnett_equal(alpha, treatments - 1, df);
	case EFFORT_ALL_PAIRS:
		return studentized_range_critical(alpha, treatments, df) / sqrt(2.0);
	case EFFORT_FAMILIES:
		break;
	}
	return NAN;
}

/* Standard error of the difference of two means. */
static double difference_error(const struct effort_spread *spread, size_t brews, size_t readings)
{
	return sqrt(brew_mean_variance(spread->brew_sd, spread->reading_sd, readings) * 2.0 / (double)brews);
}

static double power_at(double critical, double df, double ncp)
{
	return isnan(ncp) ? NAN : noncentral_t_tail(critical, df, fmin(ncp, 1e4));
}

double effort_power(const struct effort_query *query, size_t brews, size_t readings, double difference)
{
	double critical = effort_critical(query->family, query->treatments, (double)brews, query->alpha);
	double df = (double)query->treatments * ((double)brews - 1.0);

	if (isnan(critical))
		return NAN;
	return power_at(critical, df, fabs(difference) / difference_error(&query->spread, brews, readings));
}

static double cost_of(const struct effort_query *query, size_t brews, size_t readings)
{
	return (double)query->treatments * (double)brews * (query->brew_cost + (double)readings * query->reading_cost);
}

static bool query_good(const struct effort_query *query, size_t readings)
{
	return effort_spread_known(&query->spread) && query->treatments >= 2 && query->alpha > 0 &&
	       query->power > query->alpha && query->power < 1 && readings > 0;
}

static struct effort effort_none(size_t readings)
{
	return (struct effort){ .readings = readings, .difference = NAN, .power = NAN, .cost = NAN };
}

struct effort effort_shown(const struct effort_query *query, size_t brews, size_t readings)
{
	struct effort effort = effort_none(readings);
	double critical = effort_critical(query->family, query->treatments, (double)brews, query->alpha);
	double df = (double)query->treatments * ((double)brews - 1.0);

	if (!query_good(query, readings) || isnan(critical))
		return effort;
	effort.brews = brews;
	effort.power = query->power;
	effort.cost = cost_of(query, brews, readings);
	effort.difference = difference_error(&query->spread, brews, readings) * power_shift(critical, df, query->power);
	return effort;
}

static bool enough(const struct effort_query *query, size_t brews, size_t readings, double difference)
{
	return effort_power(query, brews, readings, difference) >= query->power;
}

/* Fewest brews from `from` on that are enough; power grows with brews. 0: none. */
static size_t fewest_brews(const struct effort_query *query, size_t readings, double difference, size_t most)
{
	size_t low = 1, high = 2; /* low is not enough; high is to be tried */

	while (high < most && !enough(query, high, readings, difference)) {
		low = high;
		high = high * 2 < most ? high * 2 : most;
	}
	if (high == most && !enough(query, most, readings, difference))
		return 0;
	while (high - low > 1) {
		size_t middle = low + (high - low) / 2;

		if (enough(query, middle, readings, difference))
			high = middle;
		else
			low = middle;
	}
	return high;
}

struct effort effort_fewest(const struct effort_query *query, double difference, size_t readings)
{
	struct effort effort = effort_none(readings);

	if (!query_good(query, readings) || !(difference > 0))
		return effort;
	effort.brews = fewest_brews(query, readings, difference, EFFORT_BREWS_MOST);
	if (effort.brews == 0)
		return effort;
	effort.difference = difference;
	effort.power = effort_power(query, effort.brews, readings, difference);
	effort.cost = cost_of(query, effort.brews, readings);
	return effort;
}

struct effort effort_cheapest(const struct effort_query *query, double difference)
{
	struct effort best = effort_none(0);

	for (size_t m = 1; m <= EFFORT_READINGS_MOST; m++) {
		struct effort effort;

		/* two brews are the fewest: further readings can only cost */
		if (best.brews == 2 || (best.brews > 0 && cost_of(query, 2, m) > best.cost))
			break;
		effort = effort_fewest(query, difference, m);
		if (effort.brews > 0 && (best.brews == 0 || effort.cost < best.cost))
			best = effort;
	}
	return best;
}

static double upper_limit(double sd, double df, double confidence)
{
	return df > 0 && isfinite(df) ? sd * sqrt(df / qchisq(1.0 - confidence, df, 1, 0)) : sd;
}

struct effort_spread effort_spread_upper(const struct effort_spread *spread, double confidence)
{
	struct effort_spread upper = *spread;

	upper.brew_sd = upper_limit(spread->brew_sd, spread->brew_df, confidence);
	upper.reading_sd = upper_limit(spread->reading_sd, spread->reading_df, confidence);
	return upper;
}

bool effort_spread_known(const struct effort_spread *spread)
{
	return spread->brew_sd >= 0 && spread->reading_sd >= 0;
}

size_t effort_spreads(struct effort_spread spreads[EFFORT_SPREADS], const struct effort_spread *known)
{
	bool brew_known = known->brew_sd >= 0, reading_known = known->reading_sd >= 0;
	size_t count = 0;

	for (size_t i = 0; i < (brew_known ? 1 : PLAUSIBLE_BREW); i++)
		for (size_t j = 0; j < (reading_known ? 1 : PLAUSIBLE_READING); j++) {
			spreads[count] = *known;
			if (!brew_known)
				spreads[count].brew_sd = plausible_brew_sd[i];
			if (!reading_known)
				spreads[count].reading_sd = plausible_reading_sd[j];
			count++;
		}
	return count;
}
