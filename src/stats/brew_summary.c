/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "brew_summary.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

#include "describe.h"

static bool all_equal(const double *x, size_t n)
{
	for (size_t i = 1; i < n; i++)
		if (x[i] != x[0])
			return false;
	return true;
}

struct brew_summary brew_summary_of(const double *x, size_t n)
{
	struct brew_summary summary = { .n = n, .mean = NAN };

	if (n == 0)
		return summary;
	if (all_equal(x, n)) { /* a rounded mean must not turn "no spread" into a little */
		summary.mean = x[0];
		return summary;
	}
	summary.mean = values_mean(x, n);
	summary.ss = values_sum_of_squares(x, n);
	return summary;
}

double brew_sd(const struct brew_summary *group)
{
	return group->n < 2 ? NAN : sqrt(group->ss / (double)(group->n - 1));
}

double brew_pooled_sd(const struct brew_summary *groups, size_t count, double *df)
{
	struct pooled pooled = POOLED_INIT;

	for (size_t i = 0; i < count; i++)
		if (groups[i].n >= 2)
			pooled_add(&pooled, groups[i].ss, (double)(groups[i].n - 1));
	if (df)
		*df = pooled.df;
	return pooled_sd(&pooled);
}

/* One walk for each n there is: they are few. */
size_t brew_commonest_n(const struct brew_summary *groups, size_t count)
{
	size_t best = 0, best_times = 0, last = 1;

	for (;;) {
		size_t next = SIZE_MAX, times = 0;

		for (size_t i = 0; i < count; i++) {
			if (groups[i].n <= last || groups[i].n > next)
				continue;
			times = groups[i].n < next ? 1 : times + 1;
			next = groups[i].n;
		}
		if (times == 0)
			return best;
		if (times > best_times) {
			best = next;
			best_times = times;
		}
		last = next;
	}
}
