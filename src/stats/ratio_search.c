/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ratio_search.h"

#include <math.h>

#define RATIO_FIRST 1e-12
#define RATIO_STEP  3.1622776601683795
#define RATIO_STEPS 48

/* Where the slope changes sign in [low, high]: secant steps with bisection (Illinois). */
static double root_between(const struct ratio_model *model, double low, double high, double at_low, double at_high)
{
	for (int i = 0; i < 200 && high - low > 4e-16 * high; i++) {
		double middle = low - at_low * (high - low) / (at_high - at_low), at;

		if (!(middle > low && middle < high) || i % 4 == 3)
			middle = 0.5 * (low + high);
		at = model->slope(model->context, middle);
		if (at == 0)
			return middle;
		if (at < 0) {
			low = middle;
			at_low = at;
			at_high *= 0.5;
		} else {
			high = middle;
			at_high = at;
			at_low *= 0.5;
		}
	}
	return 0.5 * (low + high);
}

struct ratio_found ratio_search(const struct ratio_model *model)
{
	struct ratio_found found = { .ratio = 0 };
	double low = 0, high = RATIO_FIRST, at_low = model->slope(model->context, 0);

	found.slope_at_zero = at_low;
	found.loglik = model->loglik(model->context, 0);
	for (int i = 0; i <= RATIO_STEPS; i++) {
		double at_high = model->slope(model->context, high);

		if (at_low < 0 && at_high >= 0) {
			double ratio = root_between(model, low, high, at_low, at_high), loglik;

			model->slope(model->context, ratio);
			loglik = model->loglik(model->context, ratio);
			if (loglik > found.loglik) {
				found.ratio = ratio;
				found.loglik = loglik;
			}
		}
		low = high;
		at_low = at_high;
		high *= RATIO_STEP;
	}
	if (at_low < 0)
		found.ratio = INFINITY;
	else
		model->slope(model->context, found.ratio);
	return found;
}
