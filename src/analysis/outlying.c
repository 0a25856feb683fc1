/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "outlying.h"

#include <math.h>

#include "outliers.h"

enum { DOUBLE_LEAST = 6 }; /* brews: twice as many as are doubted have to remain (own choice) */

static bool mark(struct analysis *analysis, const struct outlier_test *test, const size_t *brew_of)
{
	unsigned flag = test->mark == OUTLIER_STATISTICAL ? BREW_MEAN_OUTLIER :
	                test->mark == OUTLIER_STRAGGLER   ? BREW_MEAN_STRAGGLER :
	                                                    0;

	for (size_t i = 0; flag != 0 && i < test->count; i++)
		analysis->brews[brew_of[test->index[i]]].flags |= flag;
	return flag != 0;
}

void outlying_mark(struct analysis *analysis, const struct group_values *values, const size_t *brew_of)
{
	double mean = values_mean(values->values, values->n);
	double sd = values_sd(values->values, values->n);
	struct outlier_test test = grubbs_single_test(values->values, values->n, OUTLIER_EITHER, OUTLIER_TWO_SIDED);

	for (size_t i = 0; i < values->n; i++)
		analysis->brews[brew_of[i]].mandel_h = values->n >= 3 && sd > 0 ? (values->values[i] - mean) / sd : NAN;
	if (mark(analysis, &test, brew_of))
		return;
	/* of four, two that happen to be equal would make the other two outliers */
	if (values->n < DOUBLE_LEAST)
		return;
	test = grubbs_double_test(values->values, values->n, OUTLIER_EITHER);
	mark(analysis, &test, brew_of);
}
