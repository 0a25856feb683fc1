/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_simulate RUNS: how soon an audit finds a meter that changed, and how often it cries over one that did not, over
 * seeded runs whose truth is known. docs/audit.md keeps a table of 10,000 runs.
 *
 * A run is a hundred checks in control and AFTER more in which something happens (with limits from 20 checks: 20 and 19).
 * What is printed is points a signal: points looked at over runs that rang within them, which is the average run length
 * where nearly all ring. Theory: of individuals, by the normal distribution; of the weighted mean, by a Markov chain (D. Brook
 * and D. A. Evans, Biometrika 59 (1972) 539-549) that begins as an EWMA in control is spread.
 * Known limits that leave theory by more than four standard errors end the program with 1.
 */
#include <Rmath.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "audit.h"
#include "control_chart.h"
#include "random.h"
#include "reading.h"

enum { BASE = 100, AFTER = 400, POINTS = BASE + AFTER, STATES = 201 };

#define SIGMA  0.01 /* of a zero check, % TDS */
#define DAY_US (INT64_C(86400) * 1000000)

struct change {
	const char *name;
	double shift, drift; /* at once, and with each check, in sigma */
};

static const struct change changes[] = {
	{ "nothing", 0, 0 },
	{ "offset of 1 s", 1, 0 },
	{ "offset of 2 s", 2, 0 },
	{ "offset of 3 s", 3, 0 },
	{ "drift of 0.05 s a check", 0, 0.05 },
	{ "drift of 0.2 s a check", 0, 0.2 },
};

enum { CHANGES = sizeof(changes) / sizeof(changes[0]) };

/* How far the mean has moved at the t-th point after the base, from 1. */
static double moved(const struct change *change, size_t t)
{
	return change->shift + change->drift * (double)t;
}

/* -- theory ------------------------------------------------------------------------- */

static double individuals_theory(const struct change *change, size_t most)
{
	double alive = 1, exposed = 0;

	for (size_t t = 1; t <= most; t++) {
		double m = moved(change, t);

		exposed += alive;
		alive *= pnorm(3 - m, 0, 1, 1, 0) - pnorm(-3 - m, 0, 1, 1, 0);
	}
	return exposed / (1 - alive);
}

/* One step of the chain over STATES equal parts of the space between the limits. */
static void step_on(double *density, double mean)
{
	const double lambda = AUDIT_EWMA_LAMBDA, reach = AUDIT_EWMA_WIDTH * sqrt(lambda / (2 - lambda));
	const double width = 2 * reach / STATES;
	double next[STATES] = { 0 };

	for (size_t from = 0; from < STATES; from++) {
		double z = -reach + ((double)from + 0.5) * width, below;

		if (density[from] < 1e-300)
			continue;
		below = pnorm((-reach - (1 - lambda) * z) / lambda - mean, 0, 1, 1, 0);
		for (size_t to = 0; to < STATES; to++) {
			double edge = -reach + ((double)to + 1) * width;
			double up = pnorm((edge - (1 - lambda) * z) / lambda - mean, 0, 1, 1, 0);

			next[to] += density[from] * (up - below);
			below = up;
		}
	}
	for (size_t i = 0; i < STATES; i++)
		density[i] = next[i];
}

static double ewma_theory(const struct change *change, size_t most)
{
	const double lambda = AUDIT_EWMA_LAMBDA, sd = sqrt(lambda / (2 - lambda));
	double density[STATES], alive = 0, exposed = 0;

	for (size_t i = 0; i < STATES; i++) {
		density[i] = dnorm(-AUDIT_EWMA_WIDTH + ((double)i + 0.5) * 2 * AUDIT_EWMA_WIDTH / STATES, 0, 1, 0) * sd;
		alive += density[i];
	}
	for (size_t i = 0; i < STATES; i++)
		density[i] /= alive;
	alive = 1;
	for (size_t t = 1; t <= most && alive > 1e-9; t++) {
		exposed += alive;
		step_on(density, moved(change, t));
		alive = 0;
		for (size_t i = 0; i < STATES; i++)
			alive += density[i];
	}
	return exposed / (1 - alive);
}

/* -- runs ------------------------------------------------------------------------------ */

struct tally {
	double exposed, rang, squares; /* points looked at, runs that rang, squares of the points */
};

/* The first of n points with one of the signals; the run is over then. */
static void tally_add(struct tally *tally, const unsigned *signals, size_t n, unsigned which)
{
	size_t t = 0;

	while (t < n && !(signals[t] & which))
		t++;
	tally->rang += t < n;
	t += t < n;
	tally->exposed += (double)t;
	tally->squares += (double)t * (double)t;
}

static double points_a_signal(const struct tally *tally)
{
	return tally->exposed / tally->rang;
}

/* Relative standard error: a run that rings gives one event. */
static double relative_error(const struct tally *tally, double runs)
{
	double mean = tally->exposed / runs, p = tally->rang / runs;

	return sqrt((tally->squares / runs - mean * mean) / (mean * mean) + (1 - p) / p) / sqrt(runs);
}

struct result {
	struct tally individuals, ewma, any;
	double runs;
};

static void result_add(struct result *result, const unsigned *signals, size_t n)
{
	tally_add(&result->individuals, signals, n, CHART_BEYOND_3);
	tally_add(&result->ewma, signals, n, AUDIT_EWMA);
	tally_add(&result->any, signals, n, ~0u);
	result->runs++;
}

/* Limits known: centre 0, sigma 1. */
static void known_run(struct result *result, const struct change *change, struct random *random)
{
	const struct ewma_chart chart = { AUDIT_EWMA_LAMBDA, AUDIT_EWMA_WIDTH, 0, 1 };
	static double x[POINTS];
	static unsigned signals[POINTS];
	static struct ewma_point ewma[POINTS];

	for (size_t i = 0; i < POINTS; i++)
		x[i] = random_normal(random) + (i >= BASE ? moved(change, i - BASE + 1) : 0);
	chart_signals(signals, x, POINTS, 0, 1);
	ewma_chart_points(ewma, &chart, x, POINTS);
	for (size_t i = 0; i < POINTS; i++)
		signals[i] |= ewma[i].z > ewma[i].upper || ewma[i].z < ewma[i].lower ? AUDIT_EWMA : 0;
	if (!(signals[BASE - 1] & AUDIT_EWMA))
		result_add(result, signals + BASE, AFTER);
}

static struct audit *audit_begun(void)
{
	const struct audit_query query = audit_query_standard();
	struct audit *audit = audit_new(&query);
	struct error error = ERROR_INIT;
	struct meter meter = meter_standard();
	uint32_t index;

	meter.name = slice_from("meter");
	if (!audit || audit_meter_add(audit, &meter, &index, &error) != STATUS_OK)
		exit(3);
	return audit;
}

static void put(struct audit *audit, struct audit_reading *reading)
{
	reading->id++;
	if (!audit_add(audit, reading))
		exit(3);
}

/* The signals of the points behind the base of the audit's first chart; count says how many there should be. */
static void take_signals(struct result *result, struct audit *audit, size_t base, size_t count)
{
	struct error error = ERROR_INIT;
	const struct audit_chart *chart;
	unsigned signals[POINTS];

	if (audit_finish(audit, &error) != STATUS_OK || audit->meters[0].chart_count == 0)
		exit(3);
	chart = &audit->meters[0].charts[0];
	if (chart->n != base + count || chart->base != base || chart->step_limited)
		exit(4);
	for (size_t i = 0; i < count; i++)
		signals[i] = chart->points[base + i].signals;
	if (!(chart->points[base - 1].signals & AUDIT_EWMA))
		result_add(result, signals, count);
	audit_free(audit);
}

static struct audit_reading reading_begun(void)
{
	return (struct audit_reading){ .at_us = INT64_C(1420102800000000),
		                       .shown = { 0, 6, UNIT_TDS_PERCENT },
		                       .temp_c = NAN,
		                       .standard_percent = NAN,
		                       .timed = true };
}

/* A zero check a day, one reading each, through the audit from reading to chart. */
static void audited_run(struct result *result, const struct change *change, size_t base, size_t after,
                        struct random *random)
{
	struct audit_reading reading = reading_begun();
	struct audit *audit = audit_begun();

	reading.role = READING_ZERO;
	for (size_t i = 0; i < base + after; i++) {
		reading.at_us += DAY_US;
		reading.shown.value = SIGMA * (random_normal(random) + (i >= base ? moved(change, i - base + 1) : 0));
		put(audit, &reading);
	}
	take_signals(result, audit, base, after);
}

/* Sessions of four cups read three times, whose spread grows by factor after the base. */
static void spread_run(struct result *result, double factor, struct random *random)
{
	static const char *const cups[] = { "A", "B", "C", "D" };
	struct audit_reading reading = reading_begun();
	struct audit *audit = audit_begun();

	for (size_t i = 0; i < POINTS; i++) {
		reading.at_us += DAY_US;
		for (size_t cup = 0; cup < 12; cup++) {
			reading.label = slice_from(cups[cup / 3]);
			reading.shown.value = 1.4 + SIGMA * (i >= BASE ? factor : 1) * random_normal(random);
			put(audit, &reading);
		}
	}
	take_signals(result, audit, BASE, AFTER);
}

/* -- tables ------------------------------------------------------------------------------ */

static bool as_theory_has_it(const struct tally *tally, double runs, double theory)
{
	return fabs(points_a_signal(tally) / theory - 1) <= 4 * relative_error(tally, runs);
}

static void print_row(const char *name, const char *limits, double theory, double ewma, const struct result *result)
{
	printf("| %s | %s | %.4g | %.4g | %.4g | %.4g | %.4g |\n", name, limits, theory,
	       points_a_signal(&result->individuals), ewma, points_a_signal(&result->ewma),
	       points_a_signal(&result->any));
	fflush(stdout);
}

static bool zero_table(size_t runs)
{
	bool good = true;

	printf("| what happens | limits | one point: theory | one point | weighted mean: theory | weighted mean | any sign |\n"
	       "| --- | --- | --- | --- | --- | --- | --- |\n");
	for (size_t c = 0; c < CHANGES; c++) {
		const struct change *change = &changes[c];
		double theory = individuals_theory(change, AFTER), ewma = ewma_theory(change, AFTER);
		struct result known = { .runs = 0 }, audited = { .runs = 0 }, early = { .runs = 0 };
		struct random random;

		random_seed(&random, 20260314 + c);
		for (size_t i = 0; i < runs; i++) {
			known_run(&known, change, &random);
			audited_run(&audited, change, BASE, AFTER, &random);
			audited_run(&early, change, CHART_SETTLED, CHART_SETTLED - 1, &random);
		}
		print_row(change->name, "known", theory, ewma, &known);
		print_row("", "from 100 checks", theory, ewma, &audited);
		print_row("", "from 20 checks", individuals_theory(change, CHART_SETTLED - 1),
		          ewma_theory(change, CHART_SETTLED - 1), &early);
		good = good && as_theory_has_it(&known.individuals, known.runs, theory) &&
		       as_theory_has_it(&known.ewma, known.runs, ewma);
	}
	return good;
}

/* Beyond the limit s0 √F with chance P(χ² > 8 F / factor²). */
static void spread_table(size_t runs)
{
	static const double factors[] = { 1, 1.5, 2, 3 };
	double limit = qf(AUDIT_SPREAD_ALPHA, 8, 8 * BASE, 0, 0);

	printf("\n| spread of a session | one session: theory | one session | weighted mean | any sign |\n"
	       "| --- | --- | --- | --- | --- |\n");
	for (size_t f = 0; f < sizeof(factors) / sizeof(factors[0]); f++) {
		struct result result = { .runs = 0 };
		struct random random;

		random_seed(&random, 20260315 + f);
		for (size_t i = 0; i < runs; i++)
			spread_run(&result, factors[f], &random);
		printf("| %.3g times that of the base | %.4g | %.4g | %.4g | %.4g |\n", factors[f],
		       1 / pchisq(8 * limit / (factors[f] * factors[f]), 8, 0, 0), points_a_signal(&result.individuals),
		       points_a_signal(&result.ewma), points_a_signal(&result.any));
		fflush(stdout);
	}
}

int main(int argc, char **argv)
{
	size_t runs = argc > 1 ? strtoul(argv[1], NULL, 10) : 10000;
	bool good;

	if (runs < 10)
		return 2;
	printf("%zu seeded runs a row; points until a signal\n\n", runs);
	good = zero_table(runs);
	spread_table(runs / 5);
	if (!good)
		fprintf(stderr, "audit_simulate: known limits do not give what theory says\n");
	return good ? 0 : 1;
}
