/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_chart.h"

#include <Rmath.h>
#include <math.h>
#include <stdlib.h>

#include "budget.h"
#include "reading.h"

#define SCORE_MOST 6.0 /* of a session's spread; one without any has no finite score */

size_t chart_base(size_t n)
{
	const size_t settled = CHART_SETTLED, most = (size_t)5 * CHART_SETTLED;
	size_t base = n / 2 > settled ? n / 2 : settled;

	base = base < most ? base : most;
	return base < n ? base : n;
}

/* -- scores ------------------------------------------------------------------------ */

static double spread_score(double s, double df, double pooled)
{
	double score;

	if (!(pooled > 0) || !(df > 0))
		return 0;
	score = qnorm(pchisq(df * s * s / (pooled * pooled), df, 1, 1), 0, 1, 1, 1);
	if (score > SCORE_MOST / 2) /* the upper tail, where the lower one has no digits left */
		score = -qnorm(pchisq(df * s * s / (pooled * pooled), df, 0, 1), 0, 1, 1, 1);
	return fmax(fmin(score, SCORE_MOST), -SCORE_MOST);
}

static void spread_scores(struct audit_chart *chart)
{
	struct pooled pooled = POOLED_INIT;

	for (size_t i = 0; i < chart->base; i++)
		pooled_add(&pooled, chart->points[i].df * chart->points[i].value * chart->points[i].value,
		           chart->points[i].df);
	chart->pooled = pooled_sd(&pooled);
	chart->pooled_df = pooled.df;
	for (size_t i = 0; i < chart->n; i++) {
		struct audit_point *point = &chart->points[i];

		point->score = spread_score(point->value, point->df, chart->pooled);
		point->upper = chart_sd_limit(chart->pooled, point->df, chart->pooled_df, AUDIT_SPREAD_ALPHA);
	}
}

static void ranges(struct audit_chart *chart)
{
	for (size_t i = 0; i < chart->n; i++)
		chart->points[i].range = i > 0 ? fabs(chart->points[i].score - chart->points[i - 1].score) : NAN;
}

/* -- limits -------------------------------------------------------------------------- */

static void limits_of_checks(struct audit_chart *chart, double step)
{
	const double floor_steps = 0.5;

	chart->step_sigma = step_u(step);
	chart->sigma = chart->limits.sigma;
	chart->step_limited = chart->limits.step_limited || chart->sigma < chart->step_sigma;
	if (chart->step_limited && isfinite(step))
		chart->sigma = fmax(chart->sigma, floor_steps * step);
	chart->lower = chart->limits.centre - 3 * chart->sigma;
	chart->upper = chart->limits.centre + 3 * chart->sigma;
	for (size_t i = 0; i < chart->n; i++)
		chart->points[i].upper = chart->upper;
	chart->ewma.centre = chart->limits.centre;
}

/* Scores are standard normal by their making, whatever the base happens to show. */
static void limits_of_spread(struct audit_chart *chart, double step)
{
	chart->step_sigma = step_u(step);
	chart->sigma = chart->pooled > 0 ? 1 : NAN;
	chart->step_limited = chart->pooled < step / 2;
	chart->lower = -3;
	chart->upper = 3;
	chart->ewma.centre = 0;
}

/* -- signals -------------------------------------------------------------------------- */

static void ewma_judge(struct audit_chart *chart, const struct ewma_point *ewma)
{
	for (size_t i = 0; i < chart->n; i++) {
		struct audit_point *point = &chart->points[i];
		bool high = ewma[i].z > ewma[i].upper;
		bool low = ewma[i].z < ewma[i].lower && chart->subject != AUDIT_REPEATABILITY;

		point->z = ewma[i].z;
		point->z_lower = ewma[i].lower;
		point->z_upper = ewma[i].upper;
		if (chart->sigma > 0 && (high || low))
			point->signals |= AUDIT_EWMA;
	}
}

/* Which of a point's signals count on this chart. */
static unsigned signals_kept(const struct audit_chart *chart, const struct audit_point *point, unsigned signals)
{
	if (chart->subject == AUDIT_REPEATABILITY) {
		const unsigned rising = CHART_NINE_ONE_SIDE | CHART_TWO_OF_THREE | CHART_FOUR_OF_FIVE;

		signals &= point->score > 0 ? rising : 0;
		signals |= point->value > point->upper ? CHART_BEYOND_3 : 0;
	}
	return chart->step_limited ? signals & CHART_BEYOND_3 : signals;
}

static void signals_tell(struct audit_chart *chart)
{
	unsigned before = 0;

	chart->told = 0;
	for (size_t i = 0; i < chart->n; i++) {
		struct audit_point *point = &chart->points[i];

		point->told = (point->signals & ~before) != 0;
		chart->told += point->told;
		before = point->signals;
	}
}

static bool signals_find(struct audit_chart *chart)
{
	double *scores = malloc((chart->n + 1) * sizeof(*scores));
	unsigned *signals = malloc((chart->n + 1) * sizeof(*signals));
	struct ewma_point *ewma = malloc((chart->n + 1) * sizeof(*ewma));
	bool done = scores && signals && ewma;

	for (size_t i = 0; done && i < chart->n; i++)
		scores[i] = chart->points[i].score;
	if (done) {
		chart_signals(signals, scores, chart->n, chart->ewma.centre, chart->sigma);
		ewma_chart_points(ewma, &chart->ewma, scores, chart->n);
		for (size_t i = 0; i < chart->n; i++)
			chart->points[i].signals = signals_kept(chart, &chart->points[i], signals[i]);
		ewma_judge(chart, ewma);
		signals_tell(chart);
	}
	free(scores);
	free(signals);
	free(ewma);
	return done;
}

static bool base_limits(struct audit_chart *chart)
{
	double *scores = malloc((chart->base + 1) * sizeof(*scores));

	if (!scores)
		return false;
	for (size_t i = 0; i < chart->base; i++)
		scores[i] = chart->points[i].score;
	chart->limits = individuals_chart_of(scores, chart->base);
	free(scores);
	return true;
}

bool chart_compute(struct audit_chart *chart, double step)
{
	chart->base = chart_base(chart->n);
	chart->provisional = chart->n < CHART_SETTLED;
	chart->pooled = chart->pooled_df = NAN;
	if (chart->subject == AUDIT_REPEATABILITY)
		spread_scores(chart);
	else
		for (size_t i = 0; i < chart->n; i++)
			chart->points[i].score = chart->points[i].value;
	ranges(chart);
	if (!base_limits(chart))
		return false;
	if (chart->subject == AUDIT_REPEATABILITY)
		limits_of_spread(chart, step);
	else
		limits_of_checks(chart, step);
	chart->ewma.lambda = AUDIT_EWMA_LAMBDA;
	chart->ewma.width = AUDIT_EWMA_WIDTH;
	chart->ewma.sigma = chart->sigma;
	return signals_find(chart);
}

/* -- the meter's charts ------------------------------------------------------------------ */

static struct audit_point point_of_check(const struct audit_check *check)
{
	return (struct audit_point){
		.at_us = check->at_us, .id = check->id, .value = check->value, .df = (double)check->n
	};
}

static size_t count_points(const struct audit_meter *meter, enum audit_subject subject, double strength)
{
	size_t n = 0;

	switch (subject) {
	case AUDIT_ZERO:
		return meter->zero_check_count;
	case AUDIT_STANDARD:
		for (size_t i = 0; i < meter->standard_check_count; i++)
			n += meter->standard_checks[i].strength == strength;
		return n;
	case AUDIT_REPEATABILITY:
		for (size_t i = 0; i < meter->session_count; i++)
			n += meter->sessions[i].spread.pooled.df > 0;
		return n;
	}
	return n;
}

static void fill_points(struct audit_chart *chart, const struct audit_meter *meter)
{
	size_t n = 0;

	for (size_t i = 0; chart->subject == AUDIT_ZERO && i < meter->zero_check_count; i++)
		chart->points[n++] = point_of_check(&meter->zero_checks[i]);
	for (size_t i = 0; chart->subject == AUDIT_STANDARD && i < meter->standard_check_count; i++)
		if (meter->standard_checks[i].strength == chart->strength)
			chart->points[n++] = point_of_check(&meter->standard_checks[i]);
	for (size_t i = 0; chart->subject == AUDIT_REPEATABILITY && i < meter->session_count; i++) {
		const struct audit_session *session = &meter->sessions[i];

		if (session->spread.pooled.df > 0)
			chart->points[n++] = (struct audit_point){
				.at_us = session->first_us,
				.id = session->first_id,
				.value = pooled_sd(&session->spread.pooled),
				.df = session->spread.pooled.df,
			};
	}
	chart->n = n;
}

static bool chart_add(struct audit *audit, struct audit_meter *meter, enum audit_subject subject, double strength,
                      double step)
{
	size_t n = count_points(meter, subject, strength);
	struct audit_chart *chart = &meter->charts[meter->chart_count];

	if (n < 2)
		return true;
	*chart = (struct audit_chart){ .subject = subject, .strength = strength };
	chart->points = arena_take(&audit->memory, n * sizeof(*chart->points));
	if (!chart->points)
		return false;
	fill_points(chart, meter);
	meter->chart_count++;
	return chart_compute(chart, step);
}

bool charts_make(struct audit *audit, struct audit_meter *meter)
{
	double factor = audit->query.filter_factor;
	bool done;

	meter->charts = arena_take(&audit->memory, (meter->standard_count + 2) * sizeof(*meter->charts));
	done = meter->charts && chart_add(audit, meter, AUDIT_ZERO, 0, meter->step);
	for (size_t i = 0; done && i < meter->standard_count; i++) {
		size_t before = meter->chart_count;

		done = chart_add(audit, meter, AUDIT_STANDARD, meter->standards[i].strength, meter->step / factor);
		if (meter->chart_count > before)
			meter->standards[i].chart = before;
	}
	return done && chart_add(audit, meter, AUDIT_REPEATABILITY, 0, meter->step);
}
