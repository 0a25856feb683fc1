/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_standard.h"

#include <Rmath.h>
#include <math.h>
#include <stdlib.h>

#include "audit_fit.h"
#include "audit_ring.h"
#include "audit_words.h"
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

/* What is known of one strength's mean bias: its variance, that of the checks' spread in it, and what was seen. */
struct strength_mean {
	const struct audit_standard *standard;
	double bias, variance, spread;
};

/* The strengths that count, and the spread within them, which they share. */
struct strengths {
	struct strength_mean of[AUDIT_STRENGTHS];
	size_t count;
	double within_df;
};

static void strengths_of(struct strengths *out, const struct audit_linearity *l, const struct audit_standard *standards,
                         size_t count, double step)
{
	double within = 0, floor = isfinite(step) ? step_u(step) * step_u(step) : 0;

	*out = (struct strengths){ .within_df = 0 };
	for (size_t i = 0; i < count; i++) {
		if (l->left_out & UINT32_C(1) << i)
			continue;
		within += standards[i].bias.m2;
		out->within_df += (double)standards[i].checks - 1;
		out->of[out->count++].standard = &standards[i];
	}
	for (size_t i = 0; i < out->count; i++) {
		struct strength_mean *mean = &out->of[i];
		double u = isfinite(mean->standard->u) ? mean->standard->u : 0;
		double spread = within / out->within_df / (double)mean->standard->checks;

		mean->bias = moments_mean(&mean->standard->bias);
		mean->spread = spread > floor ? spread : 0; /* rounding is known, not estimated */
		mean->variance = fmax(spread, floor) + u * u;
	}
}

/* One check of each strength: what they spread about their line is all there is. */
static void line_through_checks(struct audit_linearity *out, const struct strengths *all, double confidence)
{
	struct fit_sums sums = { .n = 0 };

	for (size_t i = 0; i < all->count; i++)
		fit_add(&sums, all->of[i].standard->strength, all->of[i].bias);
	out->line = fit_line(&sums, (double)sums.n - 2, confidence);
}

static void line_weighted(struct audit_linearity *out, const struct strengths *all, double confidence)
{
	struct audit_line *line = &out->line;
	double sum = 0, sxx = 0, sxy = 0, estimated = 0;

	*line = (struct audit_line){ .n = all->count };
	for (size_t i = 0; i < all->count; i++) {
		const struct strength_mean *mean = &all->of[i];

		sum += 1 / mean->variance;
		line->mean_x += mean->standard->strength / mean->variance;
		line->at_mean += mean->bias / mean->variance;
	}
	line->mean_x /= sum;
	line->at_mean /= sum;
	for (size_t i = 0; i < all->count; i++) {
		const struct strength_mean *mean = &all->of[i];
		double dx = mean->standard->strength - line->mean_x;

		sxx += dx * dx / mean->variance;
		sxy += dx * (mean->bias - line->at_mean) / mean->variance;
		estimated += dx * dx / mean->variance * mean->spread / mean->variance;
	}
	line->slope = sxy / sxx;
	line->se = 1 / sqrt(sxx);
	line->s = NAN;
	line->df = estimated > 0 ? all->within_df * pow(sxx / estimated, 2) : INFINITY;
	line->lower = line->slope - coverage_factor(confidence, line->df) * line->se;
	line->upper = line->slope + coverage_factor(confidence, line->df) * line->se;
	line->p = 2 * pt(-fabs(line->slope / line->se), line->df, 1, 0);
}

static void lack_of_fit(struct audit_linearity *out, const struct strengths *all)
{
	double lack = 0, variance = 0, spread = 0;

	for (size_t i = 0; i < all->count; i++) {
		double off = all->of[i].bias - out->line.at_mean -
		             out->line.slope * (all->of[i].standard->strength - out->line.mean_x);

		lack += off * off / all->of[i].variance;
		variance += all->of[i].variance;
		spread += all->of[i].spread;
		if (fabs(off) >= fabs(out->worst)) {
			out->worst = off;
			out->worst_strength = all->of[i].standard->strength;
		}
	}
	if (all->count < 3 || all->within_df < 1)
		return;
	out->lack_df1 = (double)all->count - 2;
	out->lack_df2 = spread > 0 ? all->within_df * pow(variance / spread, 2) : INFINITY;
	out->lack_f = lack / out->lack_df1;
	out->lack_p = pf(out->lack_f, out->lack_df1, out->lack_df2, 0, 0);
}

void linearity_compute(struct audit_linearity *out, const struct audit_meter *meter, const struct audit_query *query)
{
	struct strengths all;
	bool known;

	*out = (struct audit_linearity){ .lack_f = NAN, .lack_df1 = NAN, .lack_df2 = NAN, .lack_p = NAN, .worst = NAN };
	for (size_t i = 0; i < meter->standard_count; i++)
		if (meter->standards[i].chart != SIZE_MAX && chart_alarm(&meter->charts[meter->standards[i].chart]))
			out->left_out |= UINT32_C(1) << i;
	strengths_of(&all, out, meter->standards, meter->standard_count, meter->step / query->filter_factor);
	out->strengths = all.count;
	known = all.within_df >= 1;
	for (size_t i = 0; i < all.count; i++)
		known = known && all.of[i].variance > 0;
	if (all.count < 2 || !known)
		line_through_checks(out, &all, query->confidence);
	else
		line_weighted(out, &all, query->confidence);
	if (all.count < 2)
		return;
	out->worst = 0;
	lack_of_fit(out, &all);
}

void standards_finish(const struct audit_desk *desk)
{
	struct audit_meter *meter = desk->meter;

	qsort(meter->standards, meter->standard_count, sizeof(meter->standards[0]), by_strength);
	for (size_t i = 0; i < meter->standard_count; i++)
		standard_compute(&meter->standards[i], desk);
}
