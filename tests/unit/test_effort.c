/* SPDX-License-Identifier: GPL-3.0-or-later */
/* effort.h, effort_table.h and check_standard.h: how many brews and readings, and what to weigh. */
#include "near.h"

#include <math.h>
#include <string.h>

#include "check_standard.h"
#include "csv_table.h"
#include "effort_table.h"
#include "power.h"
#include "random.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static struct effort_query query_of(size_t treatments, double brew_sd, double reading_sd, enum effort_family family)
{
	return (struct effort_query){
		.spread = { brew_sd, NAN, reading_sd, NAN, "given" },
		.treatments = treatments,
		.power = 0.8,
		.alpha = 0.05,
		.brew_cost = 10,
		.reading_cost = 1,
		.family = family,
	};
}

/* -- one pair of two treatments: R's power.t.test (sources: tests/reference/data/README-comparisons.md) ------- */

static void power_is_that_of_the_t_test(void **state)
{
	struct csv_table table = csv_table_read("power_t.csv");
	size_t seen = 0;

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		struct effort_query query = query_of(2, 1, 0, EFFORT_ONE_PAIR);

		if (strcmp(csv_text(&table, row, "type"), "two.sample") != 0)
			continue;
		query.alpha = csv_number(&table, row, "alpha");
		assert_near(effort_power(&query, csv_count(&table, row, "n"), 1,
		                         csv_number(&table, row, "delta_over_sd")),
		            csv_number(&table, row, "power"), 2e-12);
		seen++;
	}
	assert_true(seen > 10);
	csv_table_release(&table);
}

/* The whole number above R's fractional one; some of its rows ask for less than two brews, which no plan has. */
static void brews_are_those_of_the_t_test(void **state)
{
	struct csv_table table = csv_table_read("power_t_n.csv");
	size_t seen = 0;

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		struct effort_query query = query_of(2, 1, 0, EFFORT_ONE_PAIR);
		double n = csv_number(&table, row, "n");

		if (strcmp(csv_text(&table, row, "type"), "two.sample") != 0)
			continue;
		query.alpha = csv_number(&table, row, "alpha");
		query.power = csv_number(&table, row, "power");
		assert_int_equal(effort_fewest(&query, csv_number(&table, row, "delta_over_sd"), 1).brews,
		                 n < 2 ? 2 : (size_t)ceil(n));
		seen++;
	}
	assert_true(seen > 5);
	csv_table_release(&table);
}

/* R's help page of power.t.test: n = 20, delta 1: 0.8689528; power 0.90, delta 1: n = 22.02110. */
static void help_page(void **state)
{
	struct effort_query query = query_of(2, 1, 0, EFFORT_ONE_PAIR);

	(void)state;
	query.power = 0.9;
	assert_near(effort_power(&query, 20, 1, 1.0), 0.8689528, 5e-8);
	assert_int_equal(effort_fewest(&query, 1.0, 1).brews, 23);
	assert_true(effort_power(&query, 22, 1, 1.0) < 0.9);
}

/* R stops its search at some 1e-6 of it. */
static void difference_that_brews_and_readings_show(void **state)
{
	struct csv_table table = csv_table_read("power_detectable_difference.csv");

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		struct effort_query query = query_of(2, csv_number(&table, row, "sb"), csv_number(&table, row, "se"),
		                                     EFFORT_ONE_PAIR);
		struct effort shown = effort_shown(&query, csv_count(&table, row, "b"), csv_count(&table, row, "m"));

		assert_rel_near(shown.difference, csv_number(&table, row, "delta_80"), 5e-6);
	}
	csv_table_release(&table);
}

/* -- families: the published critical values, where their degrees of freedom are those of whole brews ----------- */

static void all_pairs_have_the_studentized_range(void **state)
{
	struct csv_table table = csv_table_read("crit_studentized_range.csv");
	size_t seen = 0;

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t k = csv_count(&table, row, "k"), df = csv_count(&table, row, "df");

		if (df % k != 0)
			continue;
		assert_near(effort_critical(EFFORT_ALL_PAIRS, k, (double)(df / k + 1),
		                            csv_number(&table, row, "alpha")),
		            csv_number(&table, row, "q") / sqrt(2), 2e-5);
		seen++;
	}
	assert_true(seen > 20);
	csv_table_release(&table);
}

static void a_control_has_dunnetts_value(void **state)
{
	struct csv_table table = csv_table_read("crit_dunnett.csv");
	size_t seen = 0;

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t t = csv_count(&table, row, "k_treatments") + 1, df = csv_count(&table, row, "df");

		if (df % t != 0)
			continue;
		assert_near(effort_critical(EFFORT_CONTROL, t, (double)(df / t + 1), csv_number(&table, row, "alpha")),
		            csv_number(&table, row, "two_sided"), 1e-5);
		seen++;
	}
	assert_true(seen > 10);
	csv_table_release(&table);
}

static void two_treatments_are_one_question(void **state)
{
	(void)state;
	for (double brews = 2; brews < 20; brews++) {
		double single = effort_critical(EFFORT_ONE_PAIR, 2, brews, 0.05);

		assert_near(effort_critical(EFFORT_CONTROL, 2, brews, 0.05), single, 1e-8);
		assert_near(effort_critical(EFFORT_ALL_PAIRS, 2, brews, 0.05), single, 1e-8);
	}
}

/* How often 20,000 drawn runs find the first of `treatments` above the second by so many standard errors. */
static double simulated(const struct effort_query *query, size_t brews, size_t readings, double difference)
{
	enum { RUNS = 20000 };
	double sd = sqrt(brew_mean_variance(query->spread.brew_sd, query->spread.reading_sd, readings));
	double critical = effort_critical(query->family, query->treatments, (double)brews, query->alpha);
	struct random random;
	size_t found = 0;

	random_seed(&random, 20260301);
	for (size_t run = 0; run < RUNS; run++) {
		double first_two[2] = { 0, 0 }, within = 0;

		for (size_t t = 0; t < query->treatments; t++) {
			double sum = 0, squares = 0;

			for (size_t b = 0; b < brews; b++) {
				double y = sd * random_normal(&random) + (t == 0 ? difference : 0);

				sum += y;
				squares += y * y;
			}
			within += squares - sum * sum / (double)brews;
			if (t < 2)
				first_two[t] = sum / (double)brews;
		}
		within /= (double)query->treatments * (double)(brews - 1);
		found += (first_two[0] - first_two[1]) / sqrt(within * 2 / (double)brews) > critical;
	}
	return (double)found / RUNS;
}

/* Within four standard errors of such a simulation, 4 √(0.25 / 20000) = 0.0141. */
static void power_of_a_pair_among_many(void **state)
{
	static const struct {
		size_t treatments, brews, readings;
		enum effort_family family;
		double difference;
	} cases[] = {
		{ 4, 4, 3, EFFORT_ALL_PAIRS, 0.8 },
		{ 4, 4, 3, EFFORT_CONTROL, 0.8 },
		{ 4, 4, 3, EFFORT_ONE_PAIR, 0.8 },
		{ 6, 3, 1, EFFORT_ALL_PAIRS, 1.2 },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		struct effort_query query = query_of(cases[i].treatments, 0.3, 0.15, cases[i].family);
		double power = effort_power(&query, cases[i].brews, cases[i].readings, cases[i].difference);

		assert_true(power > 0.2 && power < 0.97); /* where the simulation can tell anything */
		assert_near(simulated(&query, cases[i].brews, cases[i].readings, cases[i].difference), power, 0.0141);
	}
}

/* -- costs --------------------------------------------------------------------------------------------------- */

/* sqrt(10/1) 0.2/0.1 = 6.32455532034 */
static void best_readings_for_the_costs(void **state)
{
	struct effort_question question = { .query = query_of(2, 0.1, 0.2, EFFORT_ONE_PAIR),
		                            .difference = 0.3,
		                            .readings = 3 };
	struct effort_table table;

	(void)state;
	effort_table_make(&table, &question);
	assert_true(table.known);
	assert_near(table.readings_real, 6.32455532034, 1e-11);
	assert_int_equal(table.split_count, EFFORT_SPLITS);
	assert_int_equal(table.splits[2].readings, 3);
}

/* Every other choice costs as much or more, or falls short. */
static void nothing_is_cheaper_than_the_cheapest(void **state)
{
	static const double spreads[][2] = { { 0.3, 0.15 }, { 0.1, 0.4 }, { 0.5, 0.05 }, { 0.0, 0.3 } };

	(void)state;
	for (size_t i = 0; i < COUNT(spreads); i++)
		for (int family = 0; family < EFFORT_FAMILIES; family++) {
			struct effort_query query = query_of(4, spreads[i][0], spreads[i][1],
			                                     (enum effort_family)family);
			struct effort best = effort_cheapest(&query, 0.5);

			assert_true(best.power >= 0.8);
			assert_near(best.cost, 4 * (double)best.brews * (10 + (double)best.readings), 1e-9);
			for (size_t b = 2; b <= best.brews + 6; b++)
				for (size_t m = 1; m <= EFFORT_READINGS_MOST; m++)
					if (4 * (double)b * (10 + (double)m) < best.cost - 1e-9)
						assert_true(effort_power(&query, b, m, 0.5) < 0.8);
		}
}

static void costs_agree_with_those_of_two_samples(void **state)
{
	struct effort_query query = query_of(2, 0.3, 0.15, EFFORT_ONE_PAIR);
	struct plan_query two = { 0.5, 0.8, 0.05, 0.3, 0.15, 10, 1, EFFORT_READINGS_MOST };

	(void)state;
	assert_int_equal(effort_cheapest(&query, 0.5).brews, plan_cheapest(&two).brews);
	assert_int_equal(effort_cheapest(&query, 0.5).readings, plan_cheapest(&two).readings);
}

static void asking_more_takes_more(void **state)
{
	struct effort_query query = query_of(5, 0.3, 0.15, EFFORT_ONE_PAIR);
	size_t one = effort_fewest(&query, 0.5, 3).brews, control, all;

	(void)state;
	query.family = EFFORT_CONTROL;
	control = effort_fewest(&query, 0.5, 3).brews;
	query.family = EFFORT_ALL_PAIRS;
	all = effort_fewest(&query, 0.5, 3).brews;
	assert_true(one < control && control < all);
}

/* -- what is not known -------------------------------------------------------------------------------------- */

static void unknown_spreads_give_examples(void **state)
{
	struct effort_question question = { .query = query_of(3, NAN, NAN, EFFORT_ALL_PAIRS),
		                            .difference = 0.5,
		                            .readings = 3 };
	struct effort_table table;

	(void)state;
	effort_table_make(&table, &question);
	assert_false(table.known);
	assert_false(table.has_cautious);
	assert_int_equal(table.split_count, 0);
	assert_int_equal(table.line_count, 10);
	for (size_t i = 0; i < table.line_count; i++)
		assert_true(table.lines[i].asked[EFFORT_ALL_PAIRS].brews >= 2);
	question.query.spread.reading_sd = 0.17;
	effort_table_make(&table, &question);
	assert_int_equal(table.line_count, 5);
	for (size_t i = 0; i < table.line_count; i++)
		assert_near(table.lines[i].spread.reading_sd, 0.17, 0);
	question.query.spread = (struct effort_spread){ 0.25, NAN, NAN, NAN, "given" };
	effort_table_make(&table, &question);
	assert_int_equal(table.line_count, 2);
	assert_near(table.lines[1].spread.brew_sd, 0.25, 0);
}

/* The 20 % point of chi-square with 6 degrees of freedom is 3.070 (printed tables): sqrt(6/3.070) = 1.3980. */
static void few_degrees_of_freedom_call_for_caution(void **state)
{
	struct effort_question question = { .query = query_of(3, 0.3, 0.15, EFFORT_ALL_PAIRS),
		                            .difference = 0.5,
		                            .readings = 3 };
	struct effort_table table;

	(void)state;
	question.query.spread.brew_df = 6;
	effort_table_make(&table, &question);
	assert_true(table.has_cautious);
	assert_near(table.cautious.spread.brew_sd, 0.3 * 1.3980, 1e-4);
	assert_near(table.cautious.spread.reading_sd, 0.15, 0);
	assert_true(table.cautious.asked[EFFORT_ALL_PAIRS].brews > table.lines[0].asked[EFFORT_ALL_PAIRS].brews);
}

static void senseless_questions_have_no_answer(void **state)
{
	struct effort_query query = query_of(3, 0.3, 0.15, EFFORT_ALL_PAIRS);

	(void)state;
	assert_true(isnan(effort_critical(EFFORT_ALL_PAIRS, 1, 3, 0.05)));
	assert_true(isnan(effort_critical(EFFORT_CONTROL, 3, 1, 0.05)));
	assert_true(isnan(effort_power(&query, 1, 3, 0.5)));
	assert_true(isnan(effort_shown(&query, 1, 3).difference));
	assert_int_equal(effort_fewest(&query, 0, 3).brews, 0);
	assert_int_equal(effort_fewest(&query, NAN, 3).brews, 0);
	assert_int_equal(effort_fewest(&query, 0.5, 0).brews, 0);
	assert_int_equal(effort_fewest(&query, 1e-6, 3).brews, 0); /* beyond EFFORT_BREWS_MOST */
	query.spread.brew_sd = NAN;
	assert_true(isnan(effort_power(&query, 4, 3, 0.5)));
	assert_int_equal(effort_cheapest(&query, 0.5).brews, 0);
}

static void without_spread_two_brews_are_enough(void **state)
{
	struct effort_query query = query_of(3, 0, 0, EFFORT_ALL_PAIRS);

	(void)state;
	assert_int_equal(effort_fewest(&query, 0.01, 1).brews, 2);
}

/* -- the check standard ---------------------------------------------------------------------------------------- */

static struct check_standard_query standard_of(double percent, double total_g)
{
	return (struct check_standard_query){ percent, total_g, 20, 0.1, NAN, 0.85 };
}

/*
 * By hand: 4 g in 200 g; u of a mass 0.1/sqrt(6) = 0.0408248; of the strength 100/200^2 sqrt((196 u)^2 + (4 u)^2) =
 * 0.0200083. Index of 2 % at 20 °C: 1.33586 (ICUMSA 1974). On a TDS scale of 0.85 per Brix: 1.70.
 */
static void two_per_cent(void **state)
{
	struct check_standard_query query = standard_of(2, 200);
	struct check_standard standard;

	(void)state;
	assert_int_equal(check_standard_make(&standard, &query, NULL), STATUS_OK);
	assert_near(standard.sucrose_g, 4.0, 1e-12);
	assert_near(standard.water_g, 196.0, 1e-12);
	assert_near(standard.strength_percent, 2.0, 1e-12);
	assert_near(standard.mass_u_g, 0.0408248, 1e-7);
	assert_near(standard.strength_u, 0.0200083, 1e-7);
	assert_near(standard.strength_expanded, 0.0400167, 1e-7);
	assert_near(standard.total_for_aim_g, 400.167, 1e-3);
	assert_near(standard.index_20, 1.33586, 1e-5);
	assert_near(standard.index, standard.index_20, 1e-12);
	assert_near(standard.tds_percent, 1.70, 1e-12);
}

/* In whole steps of the scales, the strength being that of the masses: 100 * 3.1/(3.1 + 246.9) = 1.24. */
static void masses_in_steps(void **state)
{
	struct check_standard_query query = standard_of(1.25, 250);
	struct check_standard standard;

	(void)state;
	assert_int_equal(check_standard_make(&standard, &query, NULL), STATUS_OK);
	assert_near(standard.sucrose_g, 3.1, 1e-9);
	assert_near(standard.water_g, 246.9, 1e-9);
	assert_near(standard.strength_percent, 1.24, 1e-9);
}

/* With ± 0.1 g stated: u = sqrt(0.1^2/6 + 0.1^2/3) = 0.0707107. */
static void stated_accuracy_counts(void **state)
{
	struct check_standard_query query = standard_of(2, 200);
	struct check_standard standard;

	(void)state;
	query.scale_accuracy_g = 0.1;
	assert_int_equal(check_standard_make(&standard, &query, NULL), STATUS_OK);
	assert_near(standard.mass_u_g, 0.0707107, 1e-7);
}

static void standards_that_can_t_be(void **state)
{
	static const struct {
		const char *name;
		struct check_standard_query query;
	} cases[] = {
		{ "no sugar", { 0, 200, 20, 0.1, NAN, 0.85 } },
		{ "more than the table", { 86, 200, 20, 0.1, NAN, 0.85 } },
		{ "no mass", { 2, 0, 20, 0.1, NAN, 0.85 } },
		{ "sugar below the scales' step", { 0.1, 20, 20, 0.1, NAN, 0.85 } },
		{ "boiling dry", { 2, 200, 150, 0.1, NAN, 0.85 } },
		{ "not a number", { NAN, 200, 20, 0.1, NAN, 0.85 } },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		struct check_standard standard;
		struct error error = ERROR_INIT;

		if (check_standard_make(&standard, &cases[i].query, &error) != STATUS_INVALID || error.text[0] == '\0')
			fail_msg("%s was made", cases[i].name);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(power_is_that_of_the_t_test),
		cmocka_unit_test(brews_are_those_of_the_t_test),
		cmocka_unit_test(help_page),
		cmocka_unit_test(difference_that_brews_and_readings_show),
		cmocka_unit_test(all_pairs_have_the_studentized_range),
		cmocka_unit_test(a_control_has_dunnetts_value),
		cmocka_unit_test(two_treatments_are_one_question),
		cmocka_unit_test(power_of_a_pair_among_many),
		cmocka_unit_test(best_readings_for_the_costs),
		cmocka_unit_test(nothing_is_cheaper_than_the_cheapest),
		cmocka_unit_test(costs_agree_with_those_of_two_samples),
		cmocka_unit_test(asking_more_takes_more),
		cmocka_unit_test(unknown_spreads_give_examples),
		cmocka_unit_test(few_degrees_of_freedom_call_for_caution),
		cmocka_unit_test(senseless_questions_have_no_answer),
		cmocka_unit_test(without_spread_two_brews_are_enough),
		cmocka_unit_test(two_per_cent),
		cmocka_unit_test(masses_in_steps),
		cmocka_unit_test(stated_accuracy_counts),
		cmocka_unit_test(standards_that_can_t_be),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
