/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "live_check.h"

#include <math.h>

#include "precision.h"
#include "studentized_range.h"

enum {
	DRIFT_READINGS = 3,
	ENOUGH_DF = 6, /* own choice: three cups of three readings, or six of two */
};

static const double alpha = 0.05;

static double mean_of(const double *values, size_t n)
{
	double sum = 0;

	for (size_t i = 0; i < n; i++)
		sum += values[i];
	return n > 0 ? sum / (double)n : NAN;
}

static double squares_of(const double *values, size_t n)
{
	double mean = mean_of(values, n);
	double squares = 0;

	for (size_t i = 0; i < n; i++)
		squares += (values[i] - mean) * (values[i] - mean);
	return squares;
}

void live_spread_add(struct live_spread *spread, const double *values, size_t n, bool doubted)
{
	if (n < 2)
		return;
	*(doubted ? &spread->doubted_squares : &spread->squares) += squares_of(values, n);
	*(doubted ? &spread->doubted_df : &spread->df) += (double)(n - 1);
}

static double range_of(const double *values, size_t n)
{
	double least = values[0], most = values[0];

	for (size_t i = 1; i < n; i++) {
		least = fmin(least, values[i]);
		most = fmax(most, values[i]);
	}
	return most - least;
}

/* How much n readings of one cup may differ. */
static double critical_range(size_t n, double step, const struct live_spread *spread)
{
	bool enough = spread->df >= ENOUGH_DF;
	double squares = spread->squares + (enough ? 0 : spread->doubted_squares);
	double df = spread->df + (enough ? 0 : spread->doubted_df);
	struct sd_claim claim;

	if (!(df > 0))
		return studentized_range_critical(alpha, n, INFINITY) * step;
	claim = sd_claimable(sqrt(squares / df), step);
	/* what the step hides is known for sure, what few cups show is not */
	return studentized_range_critical(alpha, n, claim.limited ? INFINITY : df) * claim.sd;
}

/* How many of the last readings go one way; their change in *change. */
static size_t trend_of(const double *values, size_t n, double *change)
{
	size_t first = n - 1;

	while (first > 0 && (values[first] - values[first - 1]) * (values[n - 1] - values[n - 2]) > 0)
		first--;
	*change = values[n - 1] - values[first];
	return n - first;
}

/* A display shows 1.40 and 1.38 as 0.02 apart: that must not be 0.020000000000000018. */
static double rounded(double value, double step)
{
	return step > 0 ? round(value / step) * step : value;
}

struct live_result live_check(const double *values, size_t n, double step, const struct live_spread *spread)
{
	struct live_result result = { .mean = mean_of(values, n), .sd = NAN, .range = NAN, .limit = NAN };
	size_t used = n < LIVE_MOST ? n : LIVE_MOST;
	double pair;

	if (n < 2)
		return result;
	result.sd = sqrt(squares_of(values, n) / (double)(n - 1));
	values += n - used;
	result.range = rounded(range_of(values, used), step);
	result.limit = critical_range(used, step, spread);
	pair = critical_range(2, step, spread);
	if (trend_of(values, used, &result.change) >= DRIFT_READINGS && fabs(rounded(result.change, step)) > pair) {
		result.verdict = LIVE_DRIFTING;
		result.limit = pair;
	} else if (result.range > result.limit) {
		result.verdict = LIVE_OUTSIDE;
		result.apart = values[used - 1] - mean_of(values, used - 1);
	}
	return result;
}
