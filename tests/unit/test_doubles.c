/* SPDX-License-Identifier: GPL-3.0-or-later */
/* test_doubles.c: sorted as qsort() sorts, however the values lie; and NaN does no harm. */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "doubles.h"
#include "random.h"

enum { MOST = 3000 };

static double drawn(size_t i, size_t n, struct random *random)
{
	(void)i;
	(void)n;
	return random_uniform(random) - 0.5;
}

static double rising(size_t i, size_t n, struct random *random)
{
	(void)n;
	(void)random;
	return (double)i;
}

static double falling(size_t i, size_t n, struct random *random)
{
	(void)random;
	return (double)(n - i);
}

static double all_alike(size_t i, size_t n, struct random *random)
{
	(void)i;
	(void)n;
	(void)random;
	return 1.38;
}

static double few_values(size_t i, size_t n, struct random *random)
{
	(void)i;
	(void)n;
	return (double)(int)(4 * random_uniform(random));
}

static double like_a_roof(size_t i, size_t n, struct random *random)
{
	(void)random;
	return (double)(i < n / 2 ? i : n - i);
}

/* The middle one of first, middle and last is nearly the smallest each time: D. R. Musser, Software 27 (1997) 983-993. */
static double hard_to_split(size_t i, size_t n, struct random *random)
{
	size_t half = n / 2;

	(void)random;
	if (i >= half)
		return (double)(2 * (i - half + 1));
	return (double)(i % 2 == 0 ? i + 1 : half + i);
}

static int compare(const void *left, const void *right)
{
	double a = *(const double *)left, b = *(const double *)right;

	return (a > b) - (a < b);
}

static void sorted_as_by_qsort(void **state)
{
	static double (*const fills[])(size_t, size_t, struct random *) = { drawn,        rising,     falling,
		                                                            all_alike,    few_values, like_a_roof,
		                                                            hard_to_split };
	static double got[MOST + 1], want[MOST];
	struct random random;

	(void)state;
	random_seed(&random, 20260301);
	for (size_t f = 0; f < sizeof(fills) / sizeof(fills[0]); f++)
		for (size_t n = 0; n <= MOST; n = n < 40 ? n + 1 : 2 * n - 7) {
			for (size_t i = 0; i < n; i++)
				got[i] = want[i] = fills[f](i, n, &random);
			got[n] = -1e300; /* none of them */
			qsort(want, n, sizeof(*want), compare);
			doubles_sort(got, n);
			assert_memory_equal(got, want, n * sizeof(*want));
			assert_true(got[n] == -1e300);
		}
	doubles_sort(NULL, 0);
}

static void infinities_and_nans_do_no_harm(void **state)
{
	static const double odd[] = { INFINITY, -INFINITY, 0, NAN, 1 };
	double x[200];
	int nans = 0;

	(void)state;
	for (size_t n = 1; n < 200; n++) {
		for (size_t i = 0; i < n; i++)
			x[i] = odd[i % 3];
		doubles_sort(x, n);
		for (size_t i = 1; i < n; i++)
			assert_true(x[i - 1] <= x[i]);
		for (size_t i = 0; i < n; i++)
			x[i] = odd[(i * i) % 5];
		doubles_sort(x, n);
	}
	for (size_t i = 0; i < 199; i++)
		nans += isnan(x[i]);
	assert_int_equal(nans, 0); /* squares leave 0, 1 or 4 over fives */
	for (size_t i = 0; i < 199; i++)
		x[i] = i % 7 == 3 ? NAN : (double)(i % 11);
	doubles_sort(x, 199);
	for (size_t i = 0; i < 199; i++)
		nans += isnan(x[i]);
	assert_int_equal(nans, 28); /* 3, 10, …, 192 */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(sorted_as_by_qsort),
		cmocka_unit_test(infinities_and_nans_do_no_harm),
	};

	return cmocka_run_group_tests_name("doubles", tests, NULL, NULL);
}
