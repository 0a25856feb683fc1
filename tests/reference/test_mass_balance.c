/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Yields and strengths against data/mass_balance.csv, which names their sources. */
#include <string.h>

#include "csv_rows.h"
#include "yield.h"

static double computed_yield(const char *function, const double *x)
{
	if (strcmp(function, "percolation") == 0)
		return yield_percolation_percent(x[0], x[1], x[2]);
	if (strcmp(function, "percolation_estimated") == 0)
		return yield_percolation_percent(x[0], beverage_from_retention_g(x[0], x[1], x[2], x[3], 0), x[2]);
	if (strcmp(function, "immersion") == 0)
		return yield_immersion_percent(x[0], x[1], x[2]);
	if (strcmp(function, "mixed") == 0)
		return yield_mixed_percent(x[0], x[1], x[2], x[3], x[4], x[5]);
	if (strcmp(function, "dry") == 0)
		return yield_dry_percent(x[0], x[1]);
	if (strcmp(function, "per_hundredth") == 0)
		return 0.01 * yield_per_tds(x[0], x[1]);
	if (strcmp(function, "oven") == 0)
		return oven_yield_percent(x[0] / x[1], x[2], x[3], x[4]);
	return NAN;
}

static double computed_other(const char *function, const double *x)
{
	if (strcmp(function, "water_kept") == 0)
		return retained_water_per_g(x[0], x[1], x[2], x[3], 0);
	if (strcmp(function, "liquid_kept") == 0)
		return retained_liquid_per_g(x[0], x[1], x[2], x[3], 0);
	if (strcmp(function, "beverage") == 0)
		return beverage_from_retention_g(x[0], x[1], x[2], x[3], 0);
	if (strcmp(function, "immersion_tds") == 0)
		return immersion_tds_percent(x[0] / x[1], x[2]);
	if (strcmp(function, "immersion_tds_short") == 0)
		return immersion_tds_short_percent(x[0] / x[1], x[2]);
	if (strcmp(function, "bypass") == 0)
		return tds_after_bypass_percent(x[0], x[1], x[2]);
	if (strcmp(function, "bypass_for") == 0)
		return bypass_for_target_g(x[0], x[1], x[2]);
	if (strcmp(function, "evaporation") == 0)
		return tds_after_evaporation_percent(x[0], x[1]);
	if (strcmp(function, "water_solids") == 0)
		return tds_less_water_solids_percent(x[0], x[1]);
	return NAN;
}

static void meets_its_row(void **state)
{
	const struct csv_row *row = *state;
	double got = computed_yield(row->word[0], &row->number[1]);

	if (isnan(got))
		got = computed_other(row->word[0], &row->number[1]);
	assert_near(got, row->number[7], row->number[8]);
}

int main(void)
{
	return csv_rows_run("mass_balance.csv", meets_its_row);
}
