/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ranks.h and drift.h against full counts and published values. Sources: data/README-stats2.md. */
#include "near.h"

#include <string.h>

#include "csv_table.h"
#include "drift.h"
#include "ranks.h"

#define MOST 64

struct pairs {
	double x[MOST];
	double y[MOST];
	size_t n;
};

static struct pairs read_set(const char *set)
{
	struct csv_table table = csv_table_read("rank_sets.csv");
	struct pairs p = { .n = 0 };

	for (size_t row = 0; row < table.rows; row++) {
		if (strcmp(csv_text(&table, row, "set"), set) != 0)
			continue;
		p.x[p.n] = csv_number(&table, row, "x");
		p.y[p.n++] = csv_number(&table, row, "y");
	}
	csv_table_release(&table);
	return p;
}

/* Every D of the full count, n = 3 .. 10. */
static void spearman_counts(void **state)
{
	struct csv_table table = csv_table_read("spearman_exact.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++)
		assert_near(spearman_exact_lower(csv_count(&table, row, "n"), (long)csv_number(&table, row, "D")),
		            csv_number(&table, row, "p_one_sided_P(rho>=obs)"), 1e-12);
	csv_table_release(&table);
}

static void kendall_counts(void **state)
{
	struct csv_table table = csv_table_read("kendall_exact.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++)
		assert_near(kendall_exact_upper(csv_count(&table, row, "n"), (long)csv_number(&table, row, "S")),
		            csv_number(&table, row, "p_one_sided_P(S>=s)"), 1e-12);
	csv_table_release(&table);
}

/* At the critical rho the tail has the printed probability; at the next lower rho it is too large. */
static void spearman_critical_values(void **state)
{
	struct csv_table table = csv_table_read("spearman_critical.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t n = csv_count(&table, row, "n");
		double cubes = (double)(n * n * n - n), rho = csv_number(&table, row, "critical_rho");
		double tail = csv_number(&table, row, "tail_one_sided");
		long d = isnan(rho) ? 0 : lround((1 - rho) * cubes / 12) * 2;

		if (isnan(rho)) {
			assert_true(spearman_exact_lower(n, 0) > tail);
			continue;
		}
		assert_near(spearman_exact_lower(n, d), csv_number(&table, row, "actual_p"), 6e-8);
		assert_true(spearman_exact_lower(n, d) <= tail);
		assert_true(spearman_exact_lower(n, d + 2) > tail);
	}
	csv_table_release(&table);
}

static void pearson_critical_values(void **state)
{
	struct csv_table table = csv_table_read("pearson_critical.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++)
		assert_rel_near(pearson_critical(csv_count(&table, row, "n"), csv_number(&table, row, "alpha")),
		                csv_number(&table, row, "r_crit_two_sided"), 1e-11);
	csv_table_release(&table);
}

static void meets_expected_set(void **state)
{
	const char *set = *state;
	struct csv_table table = csv_table_read("rank_sets_expected.csv");
	struct pairs p = read_set(set);
	bool ties = strcmp(set, "w7ties") == 0;
	double work[MOST * MOST];
	struct association r = pearson_test(p.x, p.y, p.n), rho = spearman_test(p.x, p.y, p.n);
	struct association tau = kendall_test(p.x, p.y, p.n), trend = mann_kendall_test(p.y, p.n);
	struct theil_sen line = theil_sen_fit(p.x, p.y, p.n, 0.95, work);
	struct slope_test slope = drift_slope(p.x, p.y, p.n);

#define WANT(quantity) csv_lookup(&table, "value", "set", set, "quantity", quantity, NULL)
	assert_rel_near(r.estimate, WANT("pearson_r"), 1e-11);
	assert_rel_near(r.p, WANT("pearson_p"), 1e-10);
	assert_rel_near(rho.estimate, WANT("spearman_rho"), 1e-11);
	assert_rel_near(tau.estimate, WANT("kendall_tau"), 1e-11);
	assert_near(trend.estimate, WANT("mann_kendall_S"), 0);
	assert_rel_near(line.slope, WANT("theil_sen_slope"), 1e-9);
	assert_rel_near(line.intercept, WANT("theil_sen_intercept_median"), 1e-9);
	assert_rel_near(slope.slope, WANT("ols_slope"), 1e-10);
	assert_rel_near(slope.se, WANT("ols_se"), 1e-10);
	assert_rel_near(slope.p, WANT("ols_p"), 1e-10);
	assert_rel_near(von_neumann_ratio(p.y, p.n), WANT("von_neumann_ratio"), 1e-11);
	assert_int_equal(rho.method, ties ? P_PERMUTED : P_EXACT);
	if (!ties)
		assert_rel_near(tau.p, WANT("kendall_p"), 1e-12);
	if (p.n < 10 && !ties) /* at n = 10 R gives a series, 0.0440265 */
		assert_rel_near(rho.p, WANT("spearman_p"), 1e-12);
	if (p.n == 10)
		assert_near(rho.p, 0.0438023589065, 1e-12); /* full count, D = 56 */
#undef WANT
	csv_table_release(&table);
}

/* Conover, Practical Nonparametric Statistics: 12 students, ties; rho 0.5900, tau-b 0.4390. */
static void conover_students(void **state)
{
	struct csv_table table = csv_table_read("conover_gmat_gpa.csv");
	struct pairs p = { .n = table.rows };
	struct association rho, tau;

	(void)state;
	for (size_t i = 0; i < p.n; i++) {
		p.x[i] = csv_number(&table, i, "gmat");
		p.y[i] = csv_number(&table, i, "gpa");
	}
	rho = spearman_test(p.x, p.y, p.n);
	tau = kendall_test(p.x, p.y, p.n);
	assert_near(rho.estimate, 0.590018762681, 1e-12);
	assert_near(tau.estimate, 0.439038900329, 1e-12);
	assert_int_equal(rho.method, P_PERMUTED);
	assert_int_equal(tau.method, P_APPROXIMATE); /* ties beyond RANKS_KENDALL_TIED */
	csv_table_release(&table);
}

/* Normal, with continuity correction and the variance for ties, as R has them. */
static void approximations(void **state)
{
	struct csv_table want = csv_table_read("ranks_approximate.csv"), table = csv_table_read("conover_gmat_gpa.csv");
	double x[70], y[70];
	struct association a;

	(void)state;
#define WANT(set_name, name) csv_lookup(&want, "value", "set", set_name, "quantity", name, NULL)
	for (size_t i = 0; i < table.rows; i++) {
		x[i] = csv_number(&table, i, "gmat");
		y[i] = csv_number(&table, i, "gpa");
	}
	a = kendall_test(x, y, table.rows);
	assert_rel_near(a.p, WANT("conover", "p"), 1e-11);
	assert_rel_near(a.p_greater, WANT("conover", "p_greater"), 1e-11);
	for (size_t i = 0; i < 70; i++) {
		x[i] = (double)(i + 1);
		y[i] = (double)(i + 1 + 40 * ((i + 1) % 7));
	}
	a = kendall_test(x, y, 70);
	assert_int_equal(a.method, P_APPROXIMATE);
	assert_rel_near(a.estimate, WANT("sawtooth", "tau"), 1e-11);
	assert_rel_near(a.p, WANT("sawtooth", "p"), 1e-11);
	assert_rel_near(a.p_greater, WANT("sawtooth", "p_greater"), 1e-11);
	assert_rel_near(pearson_test(x, y, 70).estimate, WANT("sawtooth", "r"), 1e-11);
	a = spearman_test(x, y, 70);
	assert_int_equal(a.method, P_APPROXIMATE);
	assert_rel_near(a.estimate, WANT("sawtooth", "rho"), 1e-11);
	assert_rel_near(a.p, WANT("sawtooth", "rho_p"), 1e-10);
#undef WANT
	csv_table_release(&table);
	csv_table_release(&want);
}

static void pooled_trend_table(void **state)
{
	struct csv_table table = csv_table_read("mann_kendall_stratified.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t m = csv_count(&table, row, "readings_per_brew"), b = csv_count(&table, row, "brews");
		double want = csv_number(&table, row, "S_crit_two_sided_0.05"), p, y[MOST];
		size_t start[MOST];
		struct association rising;

		assert_near((double)mann_kendall_critical(m, b, 0.05, &p), isnan(want) ? 0 : want, 0);
		assert_near(p, csv_number(&table, row, "p_two_sided_at_crit"), 1e-7);
		assert_true(m * b < MOST);
		for (size_t i = 0; i < m * b; i++)
			y[i] = (double)i;
		for (size_t i = 0; i <= b; i++)
			start[i] = i * m;
		rising = mann_kendall_pooled(y, start, b);
		assert_near(rising.estimate, csv_number(&table, row, "max_S"), 0);
		assert_rel_near(rising.p, csv_number(&table, row, "min_p_two_sided"), 5e-6);
		assert_rel_near(rising.p_greater, csv_number(&table, row, "min_p_one_sided"), 5e-6);
		assert_near(rising.p_smallest, rising.p, 0);
	}
	csv_table_release(&table);
}

static void pooled_drift(void **state)
{
	struct csv_table table = csv_table_read("synthetic_drift.csv");
	struct csv_table want = csv_table_read("synthetic_drift_expected.csv");
	size_t start[9];
	double y[24];
	struct slope_test slope;
	struct association trend;

	(void)state;
	assert_int_equal(table.rows, 24);
	for (size_t i = 0; i < 24; i++)
		y[i] = csv_number(&table, i, "y");
	for (size_t i = 0; i <= 8; i++)
		start[i] = 3 * i;
	slope = drift_pooled_slope(NULL, y, start, 8);
	trend = mann_kendall_pooled(y, start, 8);
#define WANT(name) csv_lookup(&want, "value", "quantity", name, NULL)
	assert_rel_near(slope.slope, WANT("pooled_slope"), 1e-11);
	assert_rel_near(slope.se, WANT("se"), 1e-11);
	assert_near(slope.df, WANT("df"), 0);
	assert_rel_near(slope.t, WANT("t"), 1e-11);
	assert_rel_near(slope.p, WANT("p_two_sided"), 1e-10);
	assert_near(trend.estimate, WANT("sum_S"), 0);
	assert_rel_near(trend.p_greater, WANT("exact_p_one_sided"), 1e-12);
	assert_rel_near(trend.p, WANT("exact_p_two_sided"), 1e-12);
#undef WANT
	assert_int_equal(trend.method, P_PERMUTED); /* brew 8 has a tie */
	csv_table_release(&want);
	csv_table_release(&table);
}

static void drift_power_table(void **state)
{
	struct csv_table table = csv_table_read("drift_power.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++)
		assert_near(drift_power(csv_count(&table, row, "m"), csv_count(&table, row, "b"),
		                        csv_number(&table, row, "drift_sd"), 1, 0.05),
		            csv_number(&table, row, "power_two_sided_05"), 1e-9);
	csv_table_release(&table);
}

/* Recalled print for 5 %, n = 4 .. 10, within its known error of 0.0009; ours by Imhof's integral to 8 digits. */
static void von_neumann_table(void **state)
{
	struct csv_table table = csv_table_read("von_neumann_critical.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t n = csv_count(&table, row, "n");
		double printed = csv_number(&table, row, "printed_0.05");

		assert_near(von_neumann_critical(n, 0.10), csv_number(&table, row, "crit_0.10"), 6e-8);
		assert_near(von_neumann_critical(n, 0.05), csv_number(&table, row, "crit_0.05"), 6e-8);
		assert_near(von_neumann_critical(n, 0.01), csv_number(&table, row, "crit_0.01"), 6e-8);
		if (!isnan(printed))
			assert_near(von_neumann_critical(n, 0.05), printed, 9e-4);
	}
	csv_table_release(&table);
}

/* n = 3: P(ratio <= c) = (2/pi) atan sqrt((c-1)/(3-c)). */
static void von_neumann_of_three(void **state)
{
	(void)state;
	for (double c = 1.05; c < 3; c += 0.1)
		assert_near(von_neumann_p(3, c), M_2_PI * atan(sqrt((c - 1) / (3 - c))), 1e-12);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(spearman_counts),
		cmocka_unit_test(kendall_counts),
		cmocka_unit_test(spearman_critical_values),
		cmocka_unit_test(pearson_critical_values),
		{ "four points", meets_expected_set, NULL, NULL, "w4" },
		{ "five points", meets_expected_set, NULL, NULL, "w5" },
		{ "six points", meets_expected_set, NULL, NULL, "w6" },
		{ "eight points", meets_expected_set, NULL, NULL, "w8" },
		{ "ten points", meets_expected_set, NULL, NULL, "w10" },
		{ "seven points, tied", meets_expected_set, NULL, NULL, "w7ties" },
		cmocka_unit_test(conover_students),
		cmocka_unit_test(approximations),
		cmocka_unit_test(pooled_trend_table),
		cmocka_unit_test(pooled_drift),
		cmocka_unit_test(drift_power_table),
		cmocka_unit_test(von_neumann_table),
		cmocka_unit_test(von_neumann_of_three),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
