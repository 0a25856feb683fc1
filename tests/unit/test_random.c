/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdlib.h>

#include "near.h"
#include "random.h"

/* From the state 1, 2, 3, 4: the first outputs of the authors' reference program, as many libraries test themselves. */
static void the_generator_is_xoshiro256starstar(void **state)
{
	static const uint64_t expected[] = {
		11520, 0, 1509978240, 1215971899390074240, 1216172134540287360, 607988272756665600
	};
	struct random generator = { { 1, 2, 3, 4 } };

	(void)state;
	for (size_t i = 0; i < 6; i++)
		assert_int_equal(random_next(&generator), expected[i]);
}

/* splitmix64 from 1234567, by the authors' reference program. */
static void the_seed_goes_through_splitmix64(void **state)
{
	struct random generator;

	(void)state;
	random_seed(&generator, 1234567);
	assert_int_equal(generator.word[0], UINT64_C(6457827717110365317));
	assert_int_equal(generator.word[1], UINT64_C(3203168211198807973));
	assert_int_equal(generator.word[2], UINT64_C(9817491932198370423));
	assert_int_equal(generator.word[3], UINT64_C(4593380528125082431));
	random_seed(&generator, 0);
	assert_int_equal(random_next(&generator), UINT64_C(11091344671253066420)); /* computed separately */
}

static void uniform_stays_below_one(void **state)
{
	struct random all_ones = { { 0, UINT64_MAX, 0, 0 } };
	struct random generator;
	double sum = 0;

	(void)state;
	random_seed(&generator, 1);
	for (int i = 0; i < 100000; i++) {
		double u = random_uniform(&generator);

		assert_true(u >= 0 && u < 1);
		sum += u;
	}
	assert_near(sum / 100000, 0.5, 4 / sqrt(12 * 100000.0));
	assert_true(random_uniform(&all_ones) < 1);
}

static void below_covers_its_range_evenly(void **state)
{
	enum { SIDES = 6, THROWS = 60000 };
	size_t seen[SIDES] = { 0 };
	struct random generator;
	double chi_squared = 0;

	(void)state;
	random_seed(&generator, 2);
	for (int i = 0; i < THROWS; i++) {
		uint64_t side = random_below(&generator, SIDES);

		assert_true(side < SIDES);
		seen[side]++;
	}
	for (int i = 0; i < SIDES; i++)
		chi_squared += pow((double)seen[i] - THROWS / SIDES, 2) / (THROWS / (double)SIDES);
	assert_true(chi_squared < 20.5); /* 0.1 % point of χ² with 5 degrees of freedom: 20.515 */
	assert_int_equal(random_below(&generator, 0), 0);
	assert_int_equal(random_below(&generator, 1), 0);
}

/* With n = 3·2^62 a quarter of the bits are skipped; taken modulo n they would fall below 2^62 twice as often. */
static void below_has_no_bias_for_a_large_range(void **state)
{
	enum { THROWS = 30000 };
	const uint64_t third = UINT64_C(1) << 62;
	struct random generator;
	int low = 0;

	(void)state;
	random_seed(&generator, 3);
	for (int i = 0; i < THROWS; i++)
		low += random_below(&generator, 3 * third) < third;
	assert_near(low / (double)THROWS, 1 / 3.0, 4 * sqrt(2 / 9.0 / THROWS));
}

/* Mean, variance and fourth moment of count draws with df degrees of freedom. */
static void check_moments(double df, double variance, double kurtosis, double kurtosis_tol)
{
	enum { DRAWS = 200000 };
	double sum = 0, squares = 0, fourths = 0;
	struct random generator;

	random_seed(&generator, 4);
	for (int i = 0; i < DRAWS; i++) {
		double x = random_student(&generator, df);

		sum += x;
		squares += x * x;
		fourths += x * x * x * x;
	}
	assert_near(sum / DRAWS, 0, 4 * sqrt(variance / DRAWS));
	assert_near(squares / DRAWS, variance, 4 * variance * sqrt((kurtosis - 1) / DRAWS));
	assert_near(fourths / DRAWS / (variance * variance), kurtosis, kurtosis_tol);
}

static void normal_and_student_have_their_moments(void **state)
{
	(void)state;
	check_moments(INFINITY, 1, 3, 0.09);              /* a normal */
	check_moments(30, 30 / 28.0, 3 + 6 / 26.0, 0.15); /* variance ν/(ν-2), kurtosis 3 + 6/(ν-4) */
	check_moments(12.5, 12.5 / 10.5, 3 + 6 / 8.5, 0.4);
}

static void student_needs_degrees_of_freedom(void **state)
{
	struct random generator;

	(void)state;
	random_seed(&generator, 5);
	assert_near(random_student(&generator, 0), NAN, 0);
	assert_near(random_student(&generator, -INFINITY), NAN, 0);
	assert_near(random_student(&generator, NAN), NAN, 0);
}

static void shuffle_gives_all_orders_evenly(void **state)
{
	enum { ORDERS = 6, SHUFFLES = 60000 };
	size_t seen[27] = { 0 };
	struct random generator;
	double chi_squared = 0;
	int orders = 0;

	(void)state;
	random_seed(&generator, 6);
	for (int i = 0; i < SHUFFLES; i++) {
		size_t order[3] = { 0, 1, 2 };

		random_shuffle(&generator, order, 3);
		seen[order[0] * 9 + order[1] * 3 + order[2]]++;
	}
	for (int i = 0; i < 27; i++) {
		if (seen[i] == 0)
			continue;
		orders++;
		chi_squared += pow((double)seen[i] - SHUFFLES / ORDERS, 2) / (SHUFFLES / (double)ORDERS);
	}
	assert_int_equal(orders, ORDERS);
	assert_true(chi_squared < 20.5);
}

static void shuffle_of_none_or_one_changes_nothing(void **state)
{
	size_t one[1] = { 7 };
	struct random generator;

	(void)state;
	random_seed(&generator, 7);
	random_shuffle(&generator, one, 1);
	random_shuffle(&generator, NULL, 0);
	assert_int_equal(one[0], 7);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_generator_is_xoshiro256starstar),
		cmocka_unit_test(the_seed_goes_through_splitmix64),
		cmocka_unit_test(uniform_stays_below_one),
		cmocka_unit_test(below_covers_its_range_evenly),
		cmocka_unit_test(below_has_no_bias_for_a_large_range),
		cmocka_unit_test(normal_and_student_have_their_moments),
		cmocka_unit_test(student_needs_degrees_of_freedom),
		cmocka_unit_test(shuffle_gives_all_orders_evenly),
		cmocka_unit_test(shuffle_of_none_or_one_changes_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
