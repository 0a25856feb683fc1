/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "linear.h"

static void solves_with_a_zero_in_the_corner(void **state)
{
	double a[] = { 0, 2, 1, 1, 1, 1, 2, 0, 3 }, b[] = { 7, 6, 11 }; /* x = 1, 2, 3 */

	(void)state;
	assert_true(linear_solve(a, b, 3));
	for (size_t i = 0; i < 3; i++)
		assert_near(b[i], (double)(i + 1), 1e-14);
}

static void refuses_a_singular_system(void **state)
{
	double a[] = { 1, 2, 2, 4 }, b[] = { 1, 1 };

	(void)state;
	assert_false(linear_solve(a, b, 2));
}

/* The 3 x 3 Hilbert matrix: inverse 9 -36 30 | -36 192 -180 | 30 -180 180, determinant 1/2160. */
static void inverts_a_definite_matrix(void **state)
{
	static const double want[] = { 9, -36, 30, -36, 192, -180, 30, -180, 180 };
	double a[9], log_det;

	(void)state;
	for (size_t i = 0; i < 9; i++)
		a[i] = 1 / (double)(i / 3 + i % 3 + 1);
	assert_true(linear_invert_definite(a, 3, &log_det));
	for (size_t i = 0; i < 9; i++)
		assert_rel_near(a[i], want[i], 1e-12);
	assert_rel_near(log_det, -log(2160), 1e-12);
}

static void refuses_what_is_not_definite(void **state)
{
	double singular[] = { 1, 1, 1, 1 }, negative[] = { 1, 2, 2, 1 };

	(void)state;
	assert_false(linear_invert_definite(singular, 2, NULL));
	assert_false(linear_invert_definite(negative, 2, NULL));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(solves_with_a_zero_in_the_corner),
		cmocka_unit_test(refuses_a_singular_system),
		cmocka_unit_test(inverts_a_definite_matrix),
		cmocka_unit_test(refuses_what_is_not_definite),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
