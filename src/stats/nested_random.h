/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * nested_random.h: reading = mean + outer (random) + inner within outer
 * (random) + reading (random): days, runs within days, readings of a check
 * standard; or treatments drawn at random, brews, readings.
 *
 * A group is one inner unit (a run) and its `treatment` the index of its
 * outer unit (the day). Formulas as in nested.h; k1, k2 and k3 are the
 * coefficients of Searle, Casella and McCulloch (1992), section 3.
 */
#ifndef NESTED_RANDOM_H
#define NESTED_RANDOM_H

#include <stdbool.h>
#include <stddef.h>

#include "brew_summary.h"
#include "nested.h"

struct nested_random {
	size_t outers;
	size_t inners;
	size_t readings;
	double mean;     /* ANOVA: of all readings; REML: generalised least squares */
	double se_mean;  /* REML only; NaN from ANOVA */
	double ms_outer; /* ANOVA only, as the next five; NaN from REML */
	double ms_inner;
	double ms_reading;
	double k_inner;       /* E(ms_inner) = var_reading + k_inner var_inner */
	double k_outer_inner; /* E(ms_outer) = var_reading + k_outer_inner var_inner + k_outer var_outer */
	double k_outer;
	double var_outer; /* ANOVA: raw, may be negative; REML: 0 or more */
	double var_inner;
	double var_reading;
	double loglik;  /* REML only */
	bool converged; /* REML: the gradient is down at rounding; ANOVA: true */
};

/*
 * Type 1 ANOVA estimates, raw. work[0..outer_count) is scratch space.
 * A component whose level has no degrees of freedom is NaN, as is every
 * component above it.
 */
void nested_random_anova(struct nested_random *out, struct nested_treatment *work, size_t outer_count,
                         const struct brew_summary *inners, size_t inner_count);

/*
 * Restricted maximum likelihood over var_outer, var_inner >= 0. All four
 * patterns of zero and free components are tried; the likeliest wins.
 * Needs two outers, one outer with two inners and one inner with two
 * readings, and some spread within inners: else every estimate is NaN and
 * converged is false.
 */
void nested_random_reml(struct nested_random *out, struct nested_treatment *work, size_t outer_count,
                        const struct brew_summary *inners, size_t inner_count);

#endif
