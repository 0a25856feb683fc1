/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * studentized_range.h and dunnett.h against high-precision and published values.
 * Data: data/README-comparisons.md.
 */
#include "near.h"

#include <Rmath.h>
#include <stdio.h>

#include "csv_table.h"
#include "dunnett.h"
#include "quadrature.h"
#include "studentized_range.h"

/* 72 values computed with mpmath, from the tests of SciPy's studentized_range. */
static void range_meets_mpmath(void **state)
{
	struct csv_table table = csv_table_read("studentized_range_cdf_ref.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		double q = csv_number(&table, row, "q");
		size_t k = csv_count(&table, row, "k");
		double df = csv_number(&table, row, "df");
		double want = csv_number(&table, row, "cdf_mpmath");

		assert_near(studentized_range_cdf(q, k, df), want, 1e-12);
		assert_near(studentized_range_tail(q, k, df), 1.0 - want, 1e-12);
	}
	csv_table_release(&table);
}

/* Computed values with 8 decimals; they round to the printed tables for df 3 to 15. */
static void range_critical_meets_tables(void **state)
{
	struct csv_table table = csv_table_read("crit_studentized_range.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++)
		assert_near(studentized_range_critical(csv_number(&table, row, "alpha"), csv_count(&table, row, "k"),
		                                       csv_number(&table, row, "df")),
		            csv_number(&table, row, "q"), 5.1e-9);
	csv_table_release(&table);
}

/* The range of two is Student's t times the root of 2, in closed form. */
static void range_of_two_is_students_t(void **state)
{
	static const double dfs[] = { 1, 2, 3, 4.5, 8, 20, 100, 1e4, INFINITY };

	(void)state;
	for (size_t i = 0; i < sizeof(dfs) / sizeof(dfs[0]); i++)
		for (double t = 0.01; t < 30.0; t *= 1.7) {
			double want = 2.0 * pt(-t, dfs[i], 1, 0);

			assert_rel_near(studentized_range_tail(t * sqrt(2.0), 2, dfs[i]), want, 1e-12);
			assert_near(studentized_range_cdf(t * sqrt(2.0), 2, dfs[i]), 1.0 - want, 1e-12);
		}
}

/*
 * Upper tails to 13 digits, where a difference from 1 would have none left:
 * 30-digit integration with mpmath of E[k int phi(z) (Phi(z)^(k-1) - (Phi(z) - Phi(z - qs))^(k-1)) dz].
 */
static void far_tails_keep_their_digits(void **state)
{
	static const struct {
		size_t k;
		double q;
		double df;
		double tail;
	} cases[] = {
		{ 3, 4, INFINITY, 0.012987661373194239 },
		{ 3, 10, INFINITY, 4.6122265303587988e-12 },
		{ 10, 12, INFINITY, 9.6838259462524857e-16 },
		{ 30, 5, INFINITY, 0.099381639391160116 },
		{ 30, 9, INFINITY, 8.5128970354268257e-08 },
		{ 1000, 8, INFINITY, 0.0056165620760319425 },
		{ 5, 3.5, 1, 0.48080799659879 },
		{ 4, 60, 4, 6.5284048886018e-06 },
		{ 3, 20, 12, 2.137573935717e-08 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		assert_rel_near(studentized_range_tail(cases[i].q, cases[i].k, cases[i].df), cases[i].tail, 1e-11);
}

/* Dunnett's tables, equal n; the stored values come from a root search stopped near 2e-9. */
static void dunnett_critical_meets_tables(void **state)
{
	struct csv_table table = csv_table_read("crit_dunnett.csv");
	static const double half[] = { M_SQRT1_2, M_SQRT1_2, M_SQRT1_2, M_SQRT1_2, M_SQRT1_2, M_SQRT1_2 };

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		double alpha = csv_number(&table, row, "alpha");
		double df = csv_number(&table, row, "df");
		size_t m = csv_count(&table, row, "k_treatments");

		assert_near(dunnett_critical(alpha, half, m, df, SIDES_TWO), csv_number(&table, row, "two_sided"),
		            3e-9);
		assert_near(dunnett_critical(alpha, half, m, df, SIDES_ONE), csv_number(&table, row, "one_sided"),
		            3e-9);
	}
	csv_table_release(&table);
}

/* One comparison is Student's t, whatever the group sizes. */
static void dunnett_of_one_is_students_t(void **state)
{
	static const double dfs[] = { 1, 2, 3, 7, 30, 1000, INFINITY };
	static const double lambdas[] = { 0.0, 0.3, M_SQRT1_2, 0.95 };

	(void)state;
	for (size_t i = 0; i < sizeof(dfs) / sizeof(dfs[0]); i++)
		for (size_t j = 0; j < sizeof(lambdas) / sizeof(lambdas[0]); j++)
			for (double c = 0.05; c < 20.0; c *= 1.9) {
				double want = pt(-c, dfs[i], 1, 0);

				assert_near(dunnett_tail(c, &lambdas[j], 1, dfs[i], SIDES_TWO), 2.0 * want, 1e-12);
				assert_near(dunnett_tail(c, &lambdas[j], 1, dfs[i], SIDES_ONE), want, 1e-12);
				assert_near(dunnett_cdf(-c, &lambdas[j], 1, dfs[i], SIDES_ONE), want, 1e-12);
			}
}

/* lambda 0: the control's mean is known, the comparisons are independent; in closed form for a known spread. */
static void dunnett_of_independent_comparisons(void **state)
{
	static const double none[5] = { 0 };

	(void)state;
	for (double c = 0.5; c < 6.0; c += 0.5) {
		double inside = 1.0 - 2.0 * normal_upper(c);

		assert_near(dunnett_cdf(c, none, 5, INFINITY, SIDES_TWO), pow(inside, 5.0), 1e-13);
		assert_near(dunnett_cdf(c, none, 5, INFINITY, SIDES_ONE), pow(normal_lower(c), 5.0), 1e-13);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(range_meets_mpmath),
		cmocka_unit_test(range_critical_meets_tables),
		cmocka_unit_test(range_of_two_is_students_t),
		cmocka_unit_test(far_tails_keep_their_digits),
		cmocka_unit_test(dunnett_critical_meets_tables),
		cmocka_unit_test(dunnett_of_one_is_students_t),
		cmocka_unit_test(dunnett_of_independent_comparisons),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
