/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "outlying.h"

#include <math.h>

enum {
	DOUBLE_LEAST = 6, /* brews: twice as many as are doubted have to remain (own choice) */
	MANDEL_LEAST = 3, /* of two, each lies as far from their mean as the other */
};

static bool mark(struct analysis *analysis, const struct outlier_test *test, const size_t *brew_of)
{
	unsigned flag = test->mark == OUTLIER_STATISTICAL ? BREW_MEAN_OUTLIER :
	                test->mark == OUTLIER_STRAGGLER   ? BREW_MEAN_STRAGGLER :
	                                                    0;

	for (size_t i = 0; flag != 0 && i < test->count; i++)
		analysis->brews[brew_of[test->index[i]]].flags |= flag;
	return flag != 0;
}

static void test_grubbs(struct analysis *analysis, struct apart *apart, const struct group_values *values,
                        const size_t *brew_of)
{
	struct outlier_test single = grubbs_single_test(values->values, values->n, OUTLIER_EITHER, OUTLIER_TWO_SIDED);
	/* of four, two that happen to be equal would make the other two outliers */
	struct outlier_test pair = grubbs_double_test(values->values, values->n < DOUBLE_LEAST ? 0 : values->n,
	                                              OUTLIER_EITHER);

	apart->grubbs = single.statistic;
	apart->grubbs_5 = single.critical_5;
	apart->grubbs_1 = single.critical_1;
	apart->pair = pair.statistic;
	apart->pair_5 = pair.critical_5;
	apart->pair_1 = pair.critical_1;
	if (!mark(analysis, &single, brew_of))
		mark(analysis, &pair, brew_of);
}

static void test_mandel(struct analysis *analysis, struct apart *apart, const struct group_values *values,
                        const size_t *brew_of)
{
	double mean = values_mean(values->values, values->n);
	double sd = values_sd(values->values, values->n);

	apart->h_most = NAN;
	apart->h_5 = mandel_h_limit(values->n, 0.05);
	apart->h_1 = mandel_h_limit(values->n, 0.01);
	if (values->n < MANDEL_LEAST || !(sd > 0))
		return;
	for (size_t i = 0; i < values->n; i++) {
		struct brew_result *brew = &analysis->brews[brew_of[i]];
		double size = fabs(values->values[i] - mean) / sd;

		brew->mandel_h = (values->values[i] - mean) / sd;
		brew->h_mark = size > apart->h_1 ? OUTLIER_STATISTICAL :
		               size > apart->h_5 ? OUTLIER_STRAGGLER :
		                                   OUTLIER_NONE;
		if (!(size <= apart->h_most))
			apart->h_most = size;
	}
}

void outlying_mark(struct analysis *analysis, struct apart *apart, const struct group_values *values,
                   const size_t *brew_of)
{
	test_grubbs(analysis, apart, values, brew_of);
	test_mandel(analysis, apart, values, brew_of);
}
