/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_standard.h"

#include <Rmath.h>
#include <math.h>
#include <stdlib.h>

#include "audit_ring.h"
#include "budget.h"
#include "check_standard.h"

static struct audit_standard *standard_of(struct audit_meter *meter, double strength)
{
	for (size_t i = 0; i < meter->standard_count; i++)
		if (meter->standards[i].strength == strength)
			return &meter->standards[i];
	if (meter->standard_count == AUDIT_STRENGTHS)
		return NULL;
	meter->standards[meter->standard_count] = (struct audit_standard){
		.strength = strength, .bias = MOMENTS_INIT, .shown = MOMENTS_INIT, .chart = SIZE_MAX
	};
	return &meter->standards[meter->standard_count++];
}

bool standard_take(const struct audit_desk *desk, const struct audit_check *check)
{
	struct audit_meter *meter = desk->meter;
	struct audit_standard *standard = standard_of(meter, check->strength);
	struct audit_check *checks;

	if (!standard) {
		meter->counts.unmeasured += check->n;
		return true;
	}
	checks = ring_put(meter->standard_checks, sizeof(*checks), desk->live->standards_seen, AUDIT_CHECKS_KEPT,
	                  check);
	if (!checks)
		return false;
	meter->standard_checks = checks;
	meter->standard_check_count = ring_count(++desk->live->standards_seen, AUDIT_CHECKS_KEPT);
	standard->checks++;
	standard->readings += check->n;
	standard->zeroed += check->zeroed;
	moments_add(&standard->bias, check->value);
	moments_add(&standard->shown, check->shown);
	if (check->n > 1) {
		pooled_add(&standard->within.pooled, check->ss, (double)(check->n - 1));
		standard->within.cups++;
		standard->within.equal_cups += check->ss == 0;
	}
	return true;
}

static double weighing_u_of(const struct audit_query *query, const struct audit_meter *meter, double strength)
{
	struct check_standard_query ask = {
		.strength_percent = strength,
		.total_g = query->standard_total_g,
		.temp_c = meter->meter.cal_temp_c,
		.scale_step_g = query->scale_step_g,
		.scale_accuracy_g = query->scale_accuracy_g,
		.meter_factor = meter->meter.scale_factor,
	};
	struct check_standard made;

	if (strength == 0)
		return 0; /* water is not weighed */
	return check_standard_make(&made, &ask, NULL) == STATUS_OK ? made.strength_u : NAN;
}

static void standard_compute(struct audit_standard *standard, const struct audit_desk *desk)
{
	const struct audit_query *query = &desk->audit->query;
	double step = desk->meter->step / query->filter_factor;
	double n = (double)standard->checks;
	double df[2] = { n - 1, INFINITY };
	double part[2];

	standard->u = weighing_u_of(query, desk->meter, standard->strength);
	standard->index = sucrose_index(standard->strength, desk->meter->meter.cal_temp_c);
	part[0] = fmax(moments_sd(&standard->bias) / sqrt(n), isfinite(step) ? step_u(step) : 0);
	part[1] = isfinite(standard->u) ? standard->u : 0;
	if (n < 2) { /* the spread of one check's readings is all there is */
		part[0] = mean_u(pooled_sd(&standard->within.pooled), standard->readings, isfinite(step) ? step : 0);
		df[0] = standard->within.pooled.df;
	}
	standard->u_bias = hypot(part[0], part[1]);
	standard->df = df[0] > 0 ? effective_df(part, df, 2) : NAN;
	standard->lower = moments_mean(&standard->bias) -
	                  coverage_factor(query->confidence, standard->df) * standard->u_bias;
	standard->upper = moments_mean(&standard->bias) +
	                  coverage_factor(query->confidence, standard->df) * standard->u_bias;
}

static int by_strength(const void *left, const void *right)
{
	const struct audit_standard *a = left, *b = right;

	return a->strength < b->strength ? -1 : a->strength > b->strength;
}

/* The squares of all checks about their line come from the strengths' own moments. */
static void sums_of(struct fit_sums *sums, double *within, double *within_df, const struct audit_standard *standards,
                    size_t count)
{
	*within = *within_df = 0;
	*sums = (struct fit_sums){ .n = 0 };
	for (size_t i = 0; i < count; i++) {
		const struct audit_standard *s = &standards[i];
		double weight = (double)s->checks, total = (double)sums->n + weight;
		double dx = s->strength - sums->mean_x, dy = moments_mean(&s->bias) - sums->mean_y;

		sums->mean_x += dx * weight / total;
		sums->mean_y += dy * weight / total;
		sums->sxx += dx * weight * (s->strength - sums->mean_x);
		sums->sxy += dx * weight * (moments_mean(&s->bias) - sums->mean_y);
		sums->syy += dy * weight * (moments_mean(&s->bias) - sums->mean_y) + s->bias.m2;
		sums->n += s->checks;
		*within += s->bias.m2;
		*within_df += weight - 1;
	}
}

void linearity_compute(struct audit_linearity *out, const struct audit_standard *standards, size_t count,
                       double confidence)
{
	struct fit_sums sums;
	double within, within_df, lack = 0;

	*out = (struct audit_linearity){ .strengths = count, .lack_f = NAN, .lack_p = NAN, .worst = NAN };
	sums_of(&sums, &within, &within_df, standards, count);
	out->line = fit_line(&sums, (double)sums.n - 2, confidence);
	if (count < 2)
		return;
	out->worst = 0;
	for (size_t i = 0; i < count; i++) {
		double off = moments_mean(&standards[i].bias) - out->line.at_mean -
		             out->line.slope * (standards[i].strength - out->line.mean_x);

		lack += (double)standards[i].checks * off * off;
		if (fabs(off) > fabs(out->worst)) {
			out->worst = off;
			out->worst_strength = standards[i].strength;
		}
	}
	out->lack_df1 = (double)count - 2;
	out->lack_df2 = within_df;
	if (count < 3 || !(within > 0) || within_df < 1)
		return;
	out->lack_f = lack / out->lack_df1 / (within / within_df);
	out->lack_p = pf(out->lack_f, out->lack_df1, out->lack_df2, 0, 0);
}

void standards_finish(const struct audit_desk *desk)
{
	struct audit_meter *meter = desk->meter;

	qsort(meter->standards, meter->standard_count, sizeof(meter->standards[0]), by_strength);
	for (size_t i = 0; i < meter->standard_count; i++)
		standard_compute(&meter->standards[i], desk);
	linearity_compute(&meter->linearity, meter->standards, meter->standard_count, desk->audit->query.confidence);
}
