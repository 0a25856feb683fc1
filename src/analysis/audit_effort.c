/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_effort.h"

#include <math.h>

#include "budget.h"
#include "power.h"

#define YIELD_ASSUMED 20.0 /* %; an example, where no cup tells */

static const size_t tried[AUDIT_EFFORTS] = { 1, 2, 3, 4, 5, 10 };

static double squared(double x)
{
	return x * x;
}

static double one_weighing(const struct audit_query *query)
{
	double limit = isfinite(query->scale_accuracy_g) ? limit_u(query->scale_accuracy_g) : 0;

	return hypot(difference_u(query->scale_step_g), limit);
}

static void shares(struct audit_effort *out)
{
	double rest = squared(out->load_sd) + squared(out->weighing_u);
	double meter = squared(out->reading_sd) / out->readings;
	double total;

	total = squared(out->brew_sd) + rest + meter;
	out->total_sd = sqrt(total);
	out->share_brew = 100 * squared(out->brew_sd) / total;
	out->share_meter = 100 * meter / total;
	out->share_load = 100 * squared(out->load_sd) / total;
	out->share_weighing = 100 * squared(out->weighing_u) / total;
}

void audit_effort_compute(struct audit_effort *out, const struct audit_query *query, double reading_sd, double load_sd,
                          double tds_percent)
{
	double points = query->beverage_g / query->dose_g;
	double yield = isfinite(tds_percent) && tds_percent > 0 ? tds_percent * points : YIELD_ASSUMED;
	double between, known;

	*out = (struct audit_effort){
		.yield_per_tds = points,
		.reading_sd = reading_sd * points,
		.load_sd = load_sd * points,
		.weighing_u = yield *
		              hypot(one_weighing(query) / query->dose_g, one_weighing(query) / query->beverage_g),
		.readings = fmax(query->readings, 1),
	};
	known = squared(out->load_sd) + squared(out->weighing_u);
	between = squared(query->brew_sd) - known - squared(out->reading_sd) / out->readings;
	out->brew_sd = isnan(between) ? NAN : sqrt(fmax(between, 0));
	shares(out);
	for (size_t i = 0; i < AUDIT_EFFORTS; i++) {
		out->tried[i] = tried[i];
		out->sd[i] = sqrt((isnan(out->brew_sd) ? 0 : squared(out->brew_sd)) + known +
		                  squared(out->reading_sd) / (double)tried[i]);
	}
	if (isfinite(out->brew_sd))
		out->best = readings_best(sqrt(squared(out->brew_sd) + known), out->reading_sd, query->brew_cost,
		                          query->reading_cost)
		                    .whole;
}
