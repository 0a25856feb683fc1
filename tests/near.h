/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * near.h: cmocka, and its comparison of doubles done in double precision.
 *
 * The library compares in single precision, which would let a statistic wrong
 * in its eighth digit pass. Include this header instead of <cmocka.h>: it
 * brings in what that header needs, in the order it needs it.
 */
#ifndef NEAR_H
#define NEAR_H

#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <stdbool.h>
#include <math.h>
#include <cmocka.h>

/*
 * A failure says both numbers in full, as a comment in the test's output.
 * |got - want| <= tol. A NaN is near only a NaN, an infinity only itself.
 */
#define assert_near(got, want, tol) near_assert(got, want, tol, #got, __FILE__, __LINE__)

/* |got - want| <= tol * |want|; with want = 0 that asks for exactly 0. */
#define assert_rel_near(got, want, tol) near_assert_rel(got, want, tol, #got, __FILE__, __LINE__)

static inline bool near_within(double got, double want, double tol)
{
	if (isnan(got) || isnan(want))
		return isnan(got) && isnan(want);
	if (isinf(got) || isinf(want))
		return isinf(got) && isinf(want) && signbit(got) == signbit(want);
	return fabs(got - want) <= tol;
}

static inline void near_assert(double got, double want, double tol, const char *what, const char *file, int line)
{
	if (near_within(got, want, tol))
		return;
	print_message("# %s is %.17g, expected %.17g; they differ by %.3g, allowed %.3g\n", what, got, want,
	              fabs(got - want), tol);
	_fail(file, line);
}

static inline void near_assert_rel(double got, double want, double tol, const char *what, const char *file, int line)
{
	if (near_within(got, want, tol * fabs(want)))
		return;
	print_message("# %s is %.17g, expected %.17g; they differ by %.3g of it, allowed %.3g\n", what, got, want,
	              fabs((got - want) / want), tol);
	_fail(file, line);
}

#endif
