/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench.h: what the benchmarks share. */
#ifndef BENCH_H
#define BENCH_H

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "clock.h"
#include "status.h"

/* Seconds of a clock that never steps back. */
static inline double bench_now_s(void)
{
	return (double)clock_monotonic_us() / 1e6;
}

/* Seconds of processor time of this process: other load on the machine counts for less than in bench_now_s(). */
static inline double bench_cpu_s(void)
{
	struct timespec used;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &used);
	return (double)used.tv_sec + (double)used.tv_nsec / 1e9;
}

static inline int bench_up(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

/* The value that a share (below 1) of values[0..n) lie below; n above 0. Sorts them. */
static inline double bench_quantile(double *values, size_t n, double share)
{
	qsort(values, n, sizeof(*values), bench_up);
	return values[(size_t)(share * (double)n)];
}

/* Ends the program with why unless status is STATUS_OK. */
static inline void bench_stop_at(const char *what, enum status status, const struct error *error)
{
	if (status == STATUS_OK)
		return;
	fprintf(stderr, "%s: %s\n", what, error->text);
	exit(3);
}

#endif
