/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check_standard.h"

#include <math.h>

#include "budget.h"

static double in_steps(double mass_g, double step_g)
{
	return step_g > 0 ? round(mass_g / step_g) * step_g : mass_g;
}

static double mass_u(const struct check_standard_query *query)
{
	double accuracy = query->scale_accuracy_g > 0 ? limit_u(query->scale_accuracy_g) : 0;
	double step = query->scale_step_g > 0 ? difference_u(query->scale_step_g) : 0;

	return hypot(step, accuracy);
}

static enum status check_query(const struct check_standard_query *query, const struct sucrose_solution *solution,
                               struct error *error)
{
	if (!(query->strength_percent > 0 && query->strength_percent <= SUCROSE_PERCENT_MAX))
		return error_set(error, STATUS_INVALID, "a solution of %.6g %%; expected above 0 and up to %.0f %%",
		                 query->strength_percent, SUCROSE_PERCENT_MAX);
	if (!(query->total_g > 0))
		return error_set(error, STATUS_INVALID, "%.6g g of solution; expected more than 0", query->total_g);
	if (isnan(solution->index))
		return error_set(error, STATUS_INVALID, "no index is known at %.6g °C; expected a temperature of use",
		                 query->temp_c);
	if (!(in_steps(solution->sucrose_g, query->scale_step_g) > 0) ||
	    !(in_steps(solution->water_g, query->scale_step_g) > 0))
		return error_set(
			error, STATUS_INVALID,
			"%.6g g of a %.6g %% solution holds %.3g g of sugar and %.3g g of water, which scales of "
			"step %.6g g don't show; expected a larger mass",
			query->total_g, query->strength_percent, solution->sucrose_g, solution->water_g,
			query->scale_step_g);
	return STATUS_OK;
}

static void weigh_strength(struct check_standard *out)
{
	double total = out->sucrose_g + out->water_g;
	double by_sucrose = 100 * out->water_g / (total * total) * out->mass_u_g;
	double by_water = 100 * out->sucrose_g / (total * total) * out->mass_u_g;

	out->strength_u = hypot(by_sucrose, by_water);
	out->strength_expanded = 2 * out->strength_u;
	out->sucrose_share = out->strength_u > 0 ? 100 * by_sucrose * by_sucrose / (out->strength_u * out->strength_u) :
	                                           NAN;
	/* both sensitivities go with 1/total */
	out->total_for_aim_g = total * out->strength_expanded / CHECK_STANDARD_AIM;
}

enum status check_standard_make(struct check_standard *out, const struct check_standard_query *query,
                                struct error *error)
{
	struct sucrose_solution solution = sucrose_solution_make(query->strength_percent, query->total_g,
	                                                         query->temp_c);
	enum status status = check_query(query, &solution, error);

	if (status != STATUS_OK)
		return status;
	*out = (struct check_standard){
		.query = *query,
		.sucrose_g = in_steps(solution.sucrose_g, query->scale_step_g),
		.water_g = in_steps(solution.water_g, query->scale_step_g),
		.mass_u_g = mass_u(query),
	};
	out->strength_percent = sucrose_strength_percent(out->sucrose_g, out->water_g);
	out->tds_percent = query->meter_factor * out->strength_percent;
	weigh_strength(out);
	out->index_20 = sucrose_index_20(out->strength_percent);
	out->index = sucrose_index(out->strength_percent, query->temp_c);
	out->index_expanded = sucrose_slope_20(out->strength_percent) * out->strength_expanded;
	return STATUS_OK;
}
