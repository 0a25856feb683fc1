/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "brew_check.h"

#include <math.h>

#include "cell.h"

static const struct {
	enum brew_number which;
	double low, high;
	const char *name;
	const char *unit;
	const char *hint;
} limits[] = {
	{ BREW_DOSE_G, 1, 500, "dose", "g", "" },
	{ BREW_WATER_G, 10, 20000, "water", "g", "" },
	{ BREW_BEVERAGE_G, 5, 20000, "beverage", "g", "" },
	{ BREW_BYPASS_G, 0, 20000, "bypass", "g", "" },
	{ BREW_MOISTURE_PERCENT, 0.1, 20, "moisture", "%", " (1.5 % is written as 1.5)" },
	{ BREW_SAMPLE_G, 0.05, 500, "sample mass", "g", "" },
	{ BREW_DILUENT_G, 0, 5000, "diluent mass", "g", "" },
	{ BREW_BLOOM_G, 1, 5000, "bloom", "g", "" },
	{ BREW_TIME_S, 5, 172800, "brew time", "s", " (3:30 is 3 min 30 s)" },
};

static void check_limits(const struct brew *brew, struct number_places places, struct faults *faults)
{
	for (size_t i = 0; i < sizeof(limits) / sizeof(limits[0]); i++) {
		double number = brew->number[limits[i].which];

		if (number > limits[i].high || (number < limits[i].low && number != 0))
			faults_add(faults, SEVERITY_WARNING, places.of(places.user, limits[i].which),
			           "%s of brew %s is %.6g %s; expected %g to %g %s%s; used all the same",
			           limits[i].name, EXCERPT(brew->label), number, limits[i].unit, limits[i].low,
			           limits[i].high, limits[i].unit, limits[i].hint);
	}
}

void brew_check(const struct brew *brew, struct number_places places, struct faults *faults)
{
	double dose = brew->number[BREW_DOSE_G];
	double water = brew->number[BREW_WATER_G];
	double beverage = brew->number[BREW_BEVERAGE_G];
	double bypass = isnan(brew->number[BREW_BYPASS_G]) ? 0 : brew->number[BREW_BYPASS_G];

	check_limits(brew, places, faults);
	if (beverage > water + bypass)
		faults_add(
			faults, SEVERITY_WARNING, places.of(places.user, BREW_BEVERAGE_G),
			"brew %s has more beverage than water: %.6g g of %.6g g; expected less, for the grounds keep "
			"some; a wrong tare or swapped cells? used all the same",
			EXCERPT(brew->label), beverage, water + bypass);
	if (water < dose)
		faults_add(faults, SEVERITY_WARNING, places.of(places.user, BREW_WATER_G),
		           "brew %s has less water than coffee: %.6g g on %.6g g; swapped cells? used all the same",
		           EXCERPT(brew->label), water, dose);
	if (brew->number[BREW_BLOOM_G] > water)
		faults_add(faults, SEVERITY_WARNING, places.of(places.user, BREW_BLOOM_G),
		           "bloom of brew %s is %.6g g, more than its water of %.6g g; expected a part of it",
		           EXCERPT(brew->label), brew->number[BREW_BLOOM_G], water);
	if (brew->method == METHOD_PERCOLATION && brew->number[BREW_TIME_S] > 3600)
		faults_add(faults, SEVERITY_WARNING, places.of(places.user, BREW_TIME_S),
		           "brew time of brew %s is %.6g s, more than an hour; expected less for percolation "
		           "(spreadsheets take 3:30 for hours and minutes: write 0:03:30); used all the same",
		           EXCERPT(brew->label), brew->number[BREW_TIME_S]);
}
