/* SPDX-License-Identifier: GPL-3.0-or-later */
/* gauge.h against the gauge study of the e-Handbook and GUM H.5. Sources: data/README-stats2.md. */
#include "near.h"

#include <string.h>

#include "csv_table.h"
#include "gauge.h"

#define MOST 64

/* The days of one probe; wafers 138 .. 142 are artefacts 0 .. 4, runs 1 and 2 are 0 and 1. */
static size_t read_probe(struct gauge_day *days, const char *probe)
{
	struct csv_table table = csv_table_read("nist_gauge_mpc61.csv");
	size_t n = 0;

	for (size_t row = 0; row < table.rows; row++) {
		if (strcmp(csv_text(&table, row, "probe"), probe) != 0)
			continue;
		assert_true(n < MOST);
		days[n++] = (struct gauge_day){ .artefact = csv_count(&table, row, "wafer") - 138,
			                        .run = csv_count(&table, row, "run") - 1,
			                        .n = 6,
			                        .mean = csv_number(&table, row, "y"),
			                        .sd = csv_number(&table, row, "s") };
	}
	csv_table_release(&table);
	return n;
}

static void levels_of_every_probe(void **state)
{
	struct csv_table table = csv_table_read("nist_gauge_mpc61_expected.csv");
	struct gauge_day days[MOST];

	(void)state;
	for (size_t row = 0; row < table.rows; row++) {
		size_t n = read_probe(days, csv_text(&table, row, "probe"));
		struct gauge_levels levels = gauge_levels_of(days, n, 5, 2);

		assert_rel_near(levels.s1, csv_number(&table, row, "s1"), 1e-12);
		assert_rel_near(levels.s2, csv_number(&table, row, "s2"), 1e-10);
		assert_rel_near(levels.s3, csv_number(&table, row, "s3"), 1e-9);
		assert_near(levels.df1, csv_number(&table, row, "df1"), 0);
		assert_near(levels.df2, csv_number(&table, row, "df2"), 0);
		assert_near(levels.df3, csv_number(&table, row, "df3"), 0);
		assert_rel_near(levels.var_day, levels.s2 * levels.s2 - levels.s1 * levels.s1 / 6, 1e-12);
		assert_rel_near(levels.var_run, levels.s3 * levels.s3 - levels.s2 * levels.s2 / 6, 1e-12);
	}
	csv_table_release(&table);
}

/* e-Handbook mpc442: wafer 140, s2 0.027280 and 0.027560 by run, pooled 0.02742; mpc443: s3 by wafer. */
static void probe_2362_as_printed(void **state)
{
	static const double printed_s3[] = { 0.0223, 0.0027, 0.0289, 0.0133, 0.0205 };
	struct gauge_day days[MOST], some[MOST];
	size_t n = read_probe(days, "2362");

	(void)state;
	for (size_t wafer = 0; wafer < 5; wafer++) {
		size_t kept = 0;
		struct gauge_levels levels;

		for (size_t i = 0; i < n; i++)
			if (days[i].artefact == wafer)
				some[kept++] = days[i];
		levels = gauge_levels_of(some, kept, 5, 2);
		assert_near(levels.s3, printed_s3[wafer], 1e-4); /* printed from rounded averages */
		if (wafer == 2)
			assert_near(levels.s2, 0.02742, 5e-6);
	}
	for (size_t run = 0; run < 2; run++) {
		size_t kept = 0;

		for (size_t i = 0; i < n; i++)
			if (days[i].artefact == 2 && days[i].run == run)
				some[kept++] = days[i];
		assert_near(gauge_levels_of(some, kept, 5, 2).s2, run ? 0.027560 : 0.027280, 4e-6);
	}
}

static void gum_h5(void **state)
{
	struct csv_table data = csv_table_read("gum_h5.csv"), want = csv_table_read("gum_h5_expected.csv");
	struct brew_summary days[16];
	struct gauge_days g;

	(void)state;
	for (size_t i = 0; i < data.rows; i++) {
		double sd = csv_number(&data, i, "sd_uV") * 1e-6;

		days[i] = (struct brew_summary){ .n = 5, .mean = csv_number(&data, i, "mean_V"), .ss = 4 * sd * sd };
	}
	g = gauge_days_of(days, data.rows);
#define WANT(name)    csv_lookup(&want, "value", "quantity", name, NULL)
#define PRINTED(name) csv_lookup(&want, "printed", "quantity", name, NULL)
	assert_rel_near(g.mean, WANT("grand_mean_V"), 1e-13);
	assert_rel_near(g.s_means * 1e6, WANT("s_daymeans_uV"), 1e-9);
	assert_rel_near(g.s_a * 1e6, WANT("s_a_uV"), 1e-9);
	assert_rel_near(g.s_b * 1e6, WANT("s_b_pooled_uV"), 1e-11);
	assert_rel_near(g.f, WANT("F"), 1e-8);
	assert_rel_near(g.p, WANT("p_value"), 1e-8);
	assert_rel_near(g.u_mean * 1e6, WANT("u_mean_uV"), 1e-8);
	assert_rel_near(g.u_mean_pooled * 1e6, WANT("u_mean_no_day_effect_uV"), 1e-8);
	assert_rel_near(sqrt(g.var_day) * 1e6, WANT("s_B_uV"), 1e-8);
	assert_near(g.s_a * 1e6, PRINTED("s_a_uV"), 0.5);
	assert_near(g.s_b * 1e6, PRINTED("s_b_pooled_uV"), 0.5);
	assert_near(g.u_mean * 1e6, PRINTED("u_mean_uV"), 0.5);
	assert_near(g.f, PRINTED("F"), 0.02); /* the Guide divides rounded numbers */
#undef WANT
#undef PRINTED
	csv_table_release(&want);
	csv_table_release(&data);
}

/* Four samples, three operators, each pair twice; by aov. */
static void samples_and_operators(void **state)
{
	struct csv_table data = csv_table_read("gauge_crossed.csv"),
			 want = csv_table_read("gauge_crossed_expected.csv");
	struct brew_summary cells[12];
	struct gauge_crossed g;

	(void)state;
	for (size_t i = 0; i < 12; i++) {
		double y[2] = { csv_number(&data, 2 * i, "y"), csv_number(&data, 2 * i + 1, "y") };

		cells[i] = brew_summary_of(y, 2);
	}
	g = gauge_crossed_of(cells, 4, 3);
#define WANT(name) csv_lookup(&want, "value", "quantity", name, NULL)
	assert_rel_near(g.ms_sample, WANT("ms_sample"), 1e-10);
	assert_rel_near(g.ms_operator, WANT("ms_operator"), 1e-10);
	assert_rel_near(g.ms_interaction, WANT("ms_interaction"), 1e-10);
	assert_rel_near(g.ms_reading, WANT("ms_reading"), 1e-10);
	assert_rel_near(g.var_sample, WANT("var_sample"), 1e-10);
	assert_rel_near(g.var_operator, WANT("var_operator"), 1e-10);
	assert_rel_near(g.var_interaction, WANT("var_interaction"), 1e-10);
	assert_rel_near(g.s_reproducibility, sqrt(WANT("var_operator")), 1e-10); /* the interaction's is negative */
	assert_rel_near(g.s_gauge, sqrt(WANT("ms_reading") + WANT("var_operator")), 1e-10);
	assert_near(g.categories, 12, 0); /* 1.41421 * 0.127718 / 0.0141912 = 12.7 */
#undef WANT
	csv_table_release(&want);
	csv_table_release(&data);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(levels_of_every_probe),
		cmocka_unit_test(probe_2362_as_printed),
		cmocka_unit_test(gum_h5),
		cmocka_unit_test(samples_and_operators),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
