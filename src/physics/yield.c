/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "yield.h"

#include <math.h>
#include <stdbool.h>

/* As a fraction; NaN for what cannot be the strength of a beverage. */
static double fraction(double tds_percent)
{
	return tds_percent > -100 && tds_percent < 100 ? tds_percent / 100 : NAN;
}

/* x, or NaN unless it is finite and above 0. */
static double positive(double x)
{
	return x > 0 && isfinite(x) ? x : NAN;
}

/* x, or NaN unless it is finite and not below 0. */
static double not_negative(double x)
{
	return x >= 0 && isfinite(x) ? x : NAN;
}

/* As not_negative(), with 0 for what is not given. */
static double given_or_zero(double x)
{
	return isnan(x) ? 0 : not_negative(x);
}

double yield_percolation_percent(double dose_g, double beverage_g, double tds_percent)
{
	return 100 * fraction(tds_percent) * not_negative(beverage_g) / positive(dose_g);
}

double yield_immersion_percent(double dose_g, double water_g, double tds_percent)
{
	double t = fraction(tds_percent);

	return 100 * t / (1 - t) * not_negative(water_g) / positive(dose_g);
}

double yield_mixed_percent(double dose_g, double water_g, double beverage_g, double tds_percent,
                           double last_drip_tds_percent, double bound_g_per_g)
{
	double t = fraction(tds_percent);
	double last = fraction(last_drip_tds_percent);
	double in_cup = t * not_negative(beverage_g);
	double left_in_bed = not_negative(water_g) - beverage_g * (1 - t) - not_negative(bound_g_per_g) * dose_g;

	return 100 * (in_cup + last * left_in_bed / (1 - last)) / positive(dose_g);
}

double yield_dry_percent(double yield_percent, double moisture_percent)
{
	if (!(moisture_percent >= 0 && moisture_percent < 100))
		return NAN;
	return yield_percent / (1 - moisture_percent / 100);
}

double yield_per_tds(double dose_g, double beverage_g)
{
	return not_negative(beverage_g) / positive(dose_g);
}

/* Water that did not reach the cup, g. */
static double retained_water(double water_g, double beverage_g, double tds_percent, double evaporated_g)
{
	return not_negative(water_g) - not_negative(evaporated_g) -
	       not_negative(beverage_g) * (1 - fraction(tds_percent));
}

double retained_water_per_g(double dose_g, double water_g, double beverage_g, double tds_percent, double evaporated_g)
{
	return retained_water(water_g, beverage_g, tds_percent, evaporated_g) / positive(dose_g);
}

double retained_liquid_per_g(double dose_g, double water_g, double beverage_g, double tds_percent, double evaporated_g)
{
	return retained_water_per_g(dose_g, water_g, beverage_g, tds_percent, evaporated_g) /
	       (1 - fraction(tds_percent));
}

double beverage_from_retention_g(double dose_g, double water_g, double tds_percent, double retention_g_per_g,
                                 double evaporated_g)
{
	double water_in_cup = not_negative(water_g) - not_negative(evaporated_g) -
	                      not_negative(retention_g_per_g) * positive(dose_g);

	return not_negative(water_in_cup / (1 - fraction(tds_percent)));
}

double tds_after_bypass_percent(double tds_percent, double beverage_g, double bypass_g)
{
	return 100 * fraction(tds_percent) * positive(beverage_g) / (beverage_g + not_negative(bypass_g));
}

double bypass_for_target_g(double tds_percent, double beverage_g, double target_percent)
{
	return not_negative(not_negative(beverage_g) *
	                    (fraction(tds_percent) / fraction(positive(target_percent)) - 1));
}

double tds_after_evaporation_percent(double tds_percent, double lost_percent)
{
	double t = fraction(tds_percent);
	double lost = fraction(not_negative(lost_percent));

	return 100 * t / (1 - lost * (1 - t));
}

double tds_less_water_solids_percent(double tds_percent, double water_solids_mg_kg)
{
	double solids_percent = not_negative(water_solids_mg_kg) * 1e-4; /* mg/kg to g in 100 g */

	return 100 * fraction(tds_percent) - solids_percent * (1 - fraction(tds_percent));
}

double immersion_tds_percent(double ratio, double extractable)
{
	return 100 * positive(extractable) / (positive(ratio) + extractable);
}

double immersion_tds_short_percent(double ratio, double extractable)
{
	return 100 * positive(extractable) / positive(ratio);
}

double oven_yield_percent(double ratio, double extractable, double retained_liquid, double volatile_loss)
{
	double dried_on = not_negative(retained_liquid) / (positive(ratio) + positive(extractable));

	return 100 * (extractable * (1 - dried_on) + not_negative(volatile_loss));
}

/* The masses of a brew with what is not given put in its place. NaN where a mass makes no sense. */
struct balance {
	double dose_g;
	double water_g; /* that met the bed and did not evaporate */
	double bypass_g;
	double cup_g; /* all of it */
	double t;     /* as read, a fraction */
	double bed_t; /* before bypass */
	bool weighed; /* cup_g is */
};

/* Strength before bypass. Computed only where there is any, so that the reading is not touched by rounding. */
static double strength_before_bypass(double t, double cup_g, double bypass_g)
{
	if (bypass_g == 0)
		return t;
	return cup_g > bypass_g ? fraction(100 * t * cup_g / (cup_g - bypass_g)) : NAN;
}

static struct balance balance_of(const struct yield_input *in)
{
	double retention = isnan(in->retention_g_per_g) ? RETENTION_STANDARD : in->retention_g_per_g;
	struct balance b = {
		.dose_g = positive(in->dose_g),
		.water_g = not_negative(in->water_g) - given_or_zero(in->evaporated_g),
		.bypass_g = given_or_zero(in->bypass_g),
		.t = fraction(in->tds_percent),
		.weighed = !isnan(in->beverage_g),
	};

	if (b.weighed)
		b.cup_g = not_negative(in->beverage_g);
	else
		b.cup_g = beverage_from_retention_g(in->dose_g, b.water_g + b.bypass_g, in->tds_percent, retention, 0);
	b.bed_t = strength_before_bypass(b.t, b.cup_g, b.bypass_g);
	return b;
}

/* All that dissolved, g. */
static double solids_of(enum brew_method method, const struct balance *b)
{
	switch (method) {
	case METHOD_PERCOLATION:
		return b->t * b->cup_g;
	case METHOD_IMMERSION:
		return b->bed_t / (1 - b->bed_t) * not_negative(b->water_g);
	}
	return NAN;
}

/* Does the yield depend on the mass in the cup? An immersion's does only through its bypass. */
static bool cup_counts(enum brew_method method, const struct balance *b)
{
	return method == METHOD_PERCOLATION || b->bypass_g != 0;
}

static void fill_retention(const struct balance *b, struct yield *out)
{
	out->retained_water_g = b->water_g + b->bypass_g - b->cup_g * (1 - b->t);
	out->retained_water_per_g = out->retained_water_g / b->dose_g;
	out->retained_liquid_per_g = out->retained_water_per_g / (1 - b->bed_t);
	if (out->retained_water_g < 0)
		out->flags |= YIELD_RETENTION_NEGATIVE;
	if (out->retained_water_per_g < RETENTION_LOW || out->retained_water_per_g > RETENTION_HIGH)
		out->flags |= YIELD_RETENTION_UNUSUAL;
}

void yield_compute(const struct yield_input *in, struct yield *out)
{
	struct balance b = balance_of(in);
	bool estimated = !b.weighed && cup_counts(in->method, &b) && !isnan(b.cup_g);

	*out = (struct yield){
		.beverage_used_g = b.weighed || estimated ? b.cup_g : NAN,
		.bed_tds_percent = b.bypass_g == 0 && !isnan(b.t) ? in->tds_percent : 100 * b.bed_t,
		.solids_g = solids_of(in->method, &b),
		.retained_water_g = NAN,
		.retained_water_per_g = NAN,
		.retained_liquid_per_g = NAN,
		.ratio_bed = not_negative(in->water_g) / b.dose_g,
		.ratio_total = (not_negative(in->water_g) + b.bypass_g) / b.dose_g,
		.flags = estimated ? YIELD_BEVERAGE_ESTIMATED : 0,
	};
	out->yield_percent = 100 * out->solids_g / b.dose_g;
	out->yield_dry_percent = yield_dry_percent(out->yield_percent, in->moisture_percent);
	if (out->solids_g > b.dose_g)
		out->flags |= YIELD_IMPOSSIBLE;
	if (b.weighed)
		fill_retention(&b, out);
}
