/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include "ranks.h"

static void ranks_share_ties(void **state)
{
	static const double x[] = { 3, 1, 3, 2, 3 };
	static const int want[] = { 8, 2, 8, 4, 8 }; /* 4, 1, 4, 2, 4 doubled */
	int got[5];

	(void)state;
	ranks_doubled(got, x, 5);
	for (size_t i = 0; i < 5; i++)
		assert_int_equal(got[i], want[i]);
}

static void constant_or_too_few(void **state)
{
	static const double x[] = { 1, 2, 3, 4 }, flat[] = { 5, 5, 5, 5 };

	(void)state;
	assert_int_equal(pearson_test(x, flat, 4).method, P_NONE);
	assert_int_equal(spearman_test(flat, x, 4).method, P_NONE);
	assert_int_equal(kendall_test(x, flat, 4).method, P_NONE);
	assert_int_equal(mann_kendall_test(flat, 4).method, P_NONE);
	assert_int_equal(pearson_test(x, x, 2).method, P_NONE);
	assert_int_equal(spearman_test(x, x, 2).method, P_NONE);
	assert_int_equal(kendall_test(x, x, 2).method, P_NONE);
	assert_int_equal(mann_kendall_test(x, 1).method, P_NONE);
	assert_true(isnan(spearman_test(x, x, 2).p) && isnan(spearman_test(x, x, 2).estimate));
	assert_true(isnan(pearson_critical(2, 0.05)) && isnan(pearson_critical(5, 1)));
	assert_true(isnan(spearman_exact_lower(13, 0)) && isnan(spearman_exact_lower(1, 0)));
	assert_true(isnan(kendall_exact_upper(61, 0)) && isnan(kendall_exact_upper(0, 0)));
}

/* Four treatments cannot give less than 2/4! = 0.0833, three not less than 1/3. */
static void few_points_prove_little(void **state)
{
	static const double x[] = { 1, 2, 3, 4 };

	(void)state;
	assert_rel_near(spearman_test(x, x, 4).p, 2.0 / 24, 1e-14);
	assert_rel_near(spearman_test(x, x, 4).p_smallest, 2.0 / 24, 1e-14);
	assert_rel_near(kendall_test(x, x, 4).p_smallest, 2.0 / 24, 1e-14);
	assert_rel_near(mann_kendall_test(x, 3).p, 1.0 / 3, 1e-14);
	assert_rel_near(mann_kendall_test(x, 2).p, 1, 1e-14);
	assert_near(mann_kendall_test(x, 2).estimate, 1, 0);
}

/* y = 1, 1, 2: three arrangements with rank products 42, 48, 54 (doubled) and S = -2, 0, 2. By hand. */
static void three_points_with_a_tie(void **state)
{
	static const double x[] = { 1, 2, 3 }, y[] = { 1, 1, 2 }, middle[] = { 1, 2, 1 };
	struct association rho = spearman_test(x, y, 3), tau = kendall_test(x, y, 3);

	(void)state;
	assert_int_equal(rho.method, P_PERMUTED);
	assert_rel_near(rho.p, 2.0 / 3, 1e-14);
	assert_rel_near(rho.p_greater, 1.0 / 3, 1e-14);
	assert_rel_near(rho.p_smallest, 2.0 / 3, 1e-14);
	assert_int_equal(tau.method, P_PERMUTED);
	assert_rel_near(tau.estimate, 2 / sqrt(6), 1e-14); /* S 2 of sqrt(3 * 2) pairs */
	assert_rel_near(tau.p, 2.0 / 3, 1e-14);
	assert_rel_near(tau.p_smallest, 2.0 / 3, 1e-14);
	assert_rel_near(spearman_test(x, middle, 3).p, 1, 0);
	assert_rel_near(kendall_test(x, middle, 3).p, 1, 0);
	assert_rel_near(kendall_test(x, middle, 3).p_greater, 2.0 / 3, 1e-14);
}

struct tally {
	const double *x;
	double y[8];
	size_t n;
	double observed[2]; /* |rho| and |S| of the data */
	double beyond[2];
	double all;
};

static void tally_this_order(struct tally *t)
{
	double rho = fabs(spearman_test(t->x, t->y, t->n).estimate), s = 0;

	for (size_t i = 0; i < t->n; i++)
		for (size_t j = 0; j < i; j++)
			s += ((t->x[i] > t->x[j]) - (t->x[i] < t->x[j])) * ((t->y[i] > t->y[j]) - (t->y[i] < t->y[j]));
	t->beyond[0] += rho > t->observed[0] - 1e-9;
	t->beyond[1] += fabs(s) > t->observed[1] - 1e-9;
	t->all++;
}

static void tally_orders(struct tally *t, size_t at)
{
	if (at == t->n) {
		tally_this_order(t);
		return;
	}
	for (size_t i = at; i < t->n; i++) {
		double keep = t->y[i];

		t->y[i] = t->y[at];
		t->y[at] = keep;
		tally_orders(t, at + 1);
		t->y[at] = t->y[i];
		t->y[i] = keep;
	}
}

/* Ties on both sides against a plain loop over all 720 orders. */
static void ties_against_every_order(void **state)
{
	static const double x[] = { 1, 1, 2, 3, 3, 4 }, y[] = { 1.35, 1.36, 1.36, 1.40, 1.36, 1.38 };
	struct tally t = { .x = x, .n = 6 };
	struct association rho = spearman_test(x, y, 6), tau = kendall_test(x, y, 6);

	(void)state;
	for (size_t i = 0; i < 6; i++)
		t.y[i] = y[i];
	t.observed[0] = fabs(rho.estimate);
	t.observed[1] = 8; /* concordant 9, discordant 1: by hand */
	tally_orders(&t, 0);
	assert_near(t.all, 720, 0);
	assert_rel_near(rho.p, t.beyond[0] / t.all, 1e-12);
	assert_rel_near(tau.p, t.beyond[1] / t.all, 1e-12);
}

static void reversing_one_column_turns_the_sign(void **state)
{
	static const double x[] = { 1, 2, 3, 4, 5, 6, 7 }, y[] = { 2, 1, 4, 3, 7, 5, 6 };
	double down[7];
	struct association up, turned;

	(void)state;
	for (size_t i = 0; i < 7; i++)
		down[i] = -y[i];
	up = spearman_test(x, y, 7);
	turned = spearman_test(x, down, 7);
	assert_rel_near(turned.estimate, -up.estimate, 1e-14);
	assert_rel_near(turned.p, up.p, 1e-13);
	up = kendall_test(x, y, 7);
	turned = kendall_test(x, down, 7);
	assert_rel_near(turned.p, up.p, 1e-13);
	assert_true(turned.p_greater > 0.95);
	up = pearson_test(x, y, 7);
	turned = pearson_test(x, down, 7);
	assert_rel_near(turned.p, up.p, 1e-13);
	assert_rel_near(turned.p_greater + up.p_greater, 1, 1e-13);
}

static void a_straight_line_is_certain(void **state)
{
	static const double x[] = { 1, 2, 3, 4 }, y[] = { 1000002, 1000004, 1000006, 1000008 };
	struct association r = pearson_test(x, y, 4);

	(void)state;
	assert_near(r.estimate, 1, 1e-15);
	assert_near(r.p, 0, 1e-7);
	assert_near(r.p_smallest, 0, 0);
}

/* At the seam between count and approximation the two agree to what a normal law can give. */
static void approximations_join_the_counts(void **state)
{
	double x[61], y[61];
	struct association exact, approximate;

	(void)state;
	for (size_t i = 0; i < 61; i++) {
		x[i] = (double)i;
		y[i] = (double)((i * 17) % 61) + 0.4 * (double)i;
	}
	exact = kendall_test(x, y, 60);
	approximate = kendall_test(x, y, 61);
	assert_int_equal(exact.method, P_EXACT);
	assert_int_equal(approximate.method, P_APPROXIMATE);
	assert_near(approximate.p, exact.p, 0.02);
	exact = spearman_test(x, y, 12);
	approximate = spearman_test(x, y, 13);
	assert_int_equal(exact.method, P_EXACT);
	assert_int_equal(approximate.method, P_APPROXIMATE);
	assert_rel_near(approximate.p_smallest, 2 / 6227020800.0, 1e-10); /* 2 / 13! */
}

/*
 * A slope belongs to the interval if taking it out leaves no significant trend: so just inside the
 * ends Kendall's p is above 1 - level, just outside not above.
 */
static void slope_interval_inverts_the_test(void **state)
{
	static const double x[] = { 1, 2, 3, 5, 7, 8, 10, 11 }, y[] = { 3.1, 2.7, 4.4, 5.9, 6.0, 8.8, 9.1, 13.2 };
	double work[36], rest[8], ends[2];
	struct theil_sen fit = theil_sen_fit(x, y, 8, 0.95, work);

	(void)state;
	ends[0] = fit.lower;
	ends[1] = fit.upper;
	assert_true(fit.lower < fit.slope && fit.slope < fit.upper);
	assert_true(fit.level >= 0.95 && fit.level < 1);
	for (int end = 0; end < 2; end++)
		for (int side = -1; side <= 1; side += 2) {
			bool inside = end == 0 ? side > 0 : side < 0;
			struct association left;

			for (size_t i = 0; i < 8; i++)
				rest[i] = y[i] - (ends[end] + side * 1e-7) * x[i];
			left = kendall_test(x, rest, 8);
			if (inside)
				assert_true(left.p > 0.05);
			else
				assert_true(left.p <= 1 - fit.level + 1e-12);
		}
}

static void slope_of_few_or_equal_points(void **state)
{
	static const double x[] = { 1, 2, 3, 3 }, y[] = { 2, 4, 7, 5 }, same[] = { 1, 1, 1, 1 };
	double work[16];
	struct theil_sen fit = theil_sen_fit(same, y, 4, 0.95, work);

	(void)state;
	assert_true(isnan(fit.slope) && isnan(fit.intercept) && isnan(fit.lower));
	fit = theil_sen_fit(x, y, 3, 0.95, work); /* slopes 2, 2.5, 3 */
	assert_near(fit.slope, 2.5, 1e-15);
	assert_near(fit.intercept, -0.5, 1e-15); /* -0.5, -1, -0.5 */
	assert_true(isinf(fit.lower) && isinf(fit.upper));
	assert_near(fit.level, 1, 0);
	fit = theil_sen_fit(x, y, 4, 0.95, work); /* a pair at the same x counts for nothing: 2, 2.5, 3, 1.5, 1 */
	assert_near(fit.slope, 2, 1e-15);
	fit = theil_sen_fit(x, y, 4, 0, work);
	assert_true(isnan(fit.lower) && isnan(fit.level));
	assert_near(fit.slope, 2, 1e-15);
}

static void slope_interval_of_many_points(void **state)
{
	static double work[70 * 69 / 2 + 70];
	double x[70], y[70];
	struct theil_sen fit;

	(void)state;
	for (size_t i = 0; i < 70; i++) {
		x[i] = (double)i;
		y[i] = 0.5 * (double)i + ((i * 37) % 70 < 35 ? 1 : -1) * (double)(i % 5);
	}
	fit = theil_sen_fit(x, y, 70, 0.95, work);
	assert_true(fit.lower < 0.5 && 0.5 < fit.upper);
	assert_true(fit.upper - fit.lower < 0.1);
	assert_near(fit.level, 0.95, 0);
}

static void pooled_trend_of_nothing(void **state)
{
	static const double flat[] = { 1, 1, 1, 2, 2, 2 }, singles[] = { 1, 2, 3 };
	static const size_t start[] = { 0, 3, 6 }, one_each[] = { 0, 1, 2, 3 }, none[] = { 0 };

	(void)state;
	assert_int_equal(mann_kendall_pooled(flat, start, 2).method, P_NONE);
	assert_true(isnan(mann_kendall_pooled(flat, start, 2).p));
	assert_int_equal(mann_kendall_pooled(singles, one_each, 3).method, P_NONE);
	assert_int_equal(mann_kendall_pooled(singles, one_each, 3).n, 0);
	assert_int_equal(mann_kendall_pooled(NULL, none, 0).method, P_NONE);
}

/* {1, 2, 3} and {1, 1, 2}: S = 3 + 2, with P(3) 1/6 and P(2) 1/3 each the largest: 1/18. */
static void pooled_trend_with_a_tied_stratum(void **state)
{
	static const double y[] = { 1, 2, 3, 1, 1, 2, 9 };
	static const size_t start[] = { 0, 3, 6, 7 };
	struct association a = mann_kendall_pooled(y, start, 3);

	(void)state;
	assert_int_equal(a.method, P_PERMUTED);
	assert_int_equal(a.n, 6);
	assert_near(a.estimate, 5, 0);
	assert_rel_near(a.p_greater, 1.0 / 18, 1e-14);
	assert_rel_near(a.p, 2.0 / 18, 1e-14);
	assert_rel_near(a.p_smallest, 2.0 / 18, 1e-14);
}

/* A stratum that never varies adds nothing, and does not stand in the way of the others. */
static void pooled_trend_passes_over_constant_strata(void **state)
{
	static const double y[] = { 5, 5, 5, 1, 2, 3 };
	static const size_t start[] = { 0, 3, 6 };
	struct association a = mann_kendall_pooled(y, start, 2);

	(void)state;
	assert_near(a.estimate, 3, 0);
	assert_rel_near(a.p, 1.0 / 3, 1e-14);
}

/* 400 brews of 3: S up to 1200, so normal, with variance 400 * 3 * 2 * 11 / 18. */
static void pooled_trend_of_many(void **state)
{
	static double y[1200];
	static size_t start[401];
	struct association a;

	(void)state;
	for (size_t i = 0; i < 1200; i++)
		y[i] = (double)((i * 7919) % 1201);
	for (size_t i = 0; i <= 400; i++)
		start[i] = 3 * i;
	a = mann_kendall_pooled(y, start, 400);
	assert_int_equal(a.method, P_APPROXIMATE);
	assert_rel_near(a.p, erfc((fabs(a.estimate) - 1) / sqrt(400 * 66 / 18.0) / sqrt(2)), 1e-12);
}

/* Ten readings with a tie cannot be permuted; ten equal ones have no variance. */
static void pooled_trend_of_long_tied_strata(void **state)
{
	static const double y[] = { 1, 2, 3, 3, 4, 5, 6, 7, 8, 9 }, mixed[] = { 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2 };
	static const size_t start[] = { 0, 10 }, both[] = { 0, 10, 11 };

	(void)state;
	assert_int_equal(mann_kendall_pooled(y, start, 1).method, P_APPROXIMATE);
	assert_int_equal(mann_kendall_test(y, 10).method, P_APPROXIMATE);
	assert_int_equal(mann_kendall_pooled(mixed, both, 2).method, P_NONE);
}

static void critical_sums(void **state)
{
	double p;

	(void)state;
	assert_int_equal(mann_kendall_critical(3, 3, 0.05, &p), 9); /* p 2/216 */
	assert_rel_near(p, 2.0 / 216, 1e-13);
	assert_int_equal(mann_kendall_critical(3, 2, 0.05, &p), 0);
	assert_true(isnan(p));
	assert_int_equal(mann_kendall_critical(3, 8, 0.05, NULL), 12);
	assert_int_equal(mann_kendall_critical(1, 8, 0.05, NULL), 0);
	assert_int_equal(mann_kendall_critical(3, 0, 0.05, NULL), 0);
	assert_int_equal(mann_kendall_critical(3, 400, 0.05, NULL), 0); /* beyond RANKS_SUM_EXACT */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(ranks_share_ties),
		cmocka_unit_test(constant_or_too_few),
		cmocka_unit_test(few_points_prove_little),
		cmocka_unit_test(three_points_with_a_tie),
		cmocka_unit_test(ties_against_every_order),
		cmocka_unit_test(reversing_one_column_turns_the_sign),
		cmocka_unit_test(a_straight_line_is_certain),
		cmocka_unit_test(approximations_join_the_counts),
		cmocka_unit_test(slope_interval_inverts_the_test),
		cmocka_unit_test(slope_of_few_or_equal_points),
		cmocka_unit_test(slope_interval_of_many_points),
		cmocka_unit_test(pooled_trend_of_nothing),
		cmocka_unit_test(pooled_trend_with_a_tied_stratum),
		cmocka_unit_test(pooled_trend_passes_over_constant_strata),
		cmocka_unit_test(pooled_trend_of_many),
		cmocka_unit_test(pooled_trend_of_long_tied_strata),
		cmocka_unit_test(critical_sums),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
