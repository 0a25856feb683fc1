/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * ratio_search.h: the one-dimensional search behind the restricted maximum
 * likelihood fits with two variances. Given the ratio of the brews' to the
 * readings' variance all else has a closed form.
 */
#ifndef RATIO_SEARCH_H
#define RATIO_SEARCH_H

struct ratio_model {
	void *context;
	double (*slope)(void *context, double ratio);  /* derivative of -2 log-likelihood by ratio, at the best scale */
	double (*loglik)(void *context, double ratio); /* called with the ratio that slope() was last called with */
};

struct ratio_found {
	double ratio; /* 0 or more; INFINITY where the likelihood still rises at the end of the range */
	double loglik;
	double slope_at_zero; /* what slope() gives at ratio 0 */
};

/*
 * Looks for falling-to-rising changes of the slope over ratios 1e-12 to
 * 1e12 and takes the likeliest of the places where it is 0 and of ratio 0. The ratio is good to rounding.
 * On return slope() was last called with the ratio found, if finite.
 */
struct ratio_found ratio_search(const struct ratio_model *model);

#endif
