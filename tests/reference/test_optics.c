/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Water, sucrose and the correction against published values; the tables in data/ name their sources. */
#include <string.h>

#include "correction.h"
#include "csv_rows.h"
#include "sucrose.h"
#include "water.h"

static double corrected(double shown, double factor, double cal_temp_c, double zero_temp_c, double temp_c)
{
	struct meter_scale scale = { UNIT_TDS_PERCENT, factor, cal_temp_c, false };
	struct zero_offset zero = zero_offset_from_check(&scale, 0.0, zero_temp_c, 0);
	struct correction_input in = { shown, &scale, &zero, temp_c, NAN, factor, NAN, NAN };
	struct correction out;

	correction_apply(&in, &out);
	return out.tds_percent;
}

/* To add to a reading on the sucrose scale of scale_temp_c that was taken at temp_c. */
static double to_add(double reading, double temp_c, double scale_temp_c)
{
	return sucrose_percent(sucrose_index(reading, scale_temp_c), temp_c) - reading;
}

static double computed(const struct csv_row *row)
{
	const char *function = row->word[0];
	const double *x = &row->number[1];

	if (strcmp(function, "n_abs") == 0)
		return water_index_absolute(x[0], x[1], x[2]);
	if (strcmp(function, "kell") == 0)
		return water_density_kell(x[0]);
	if (strcmp(function, "tanaka") == 0)
		return water_density_tanaka(x[0]);
	if (strcmp(function, "n_water") == 0)
		return water_index(x[0]);
	if (strcmp(function, "n20") == 0)
		return sucrose_index_20(x[0]);
	if (strcmp(function, "w20") == 0)
		return sucrose_percent(x[0], 20);
	if (strcmp(function, "add") == 0)
		return to_add(x[0], x[1], x[2]);
	if (strcmp(function, "correct") == 0)
		return corrected(x[0], x[1], x[2], x[3], x[4]);
	print_message("# no function \"%s\"\n", function);
	fail();
	return NAN;
}

static void single_value(void **state)
{
	const struct csv_row *row = *state;

	assert_near(computed(row), row->number[6], row->number[7]);
}

static void worked_correction(void **state)
{
	const struct csv_row *row = *state;
	const double *x = row->number;

	assert_near(corrected(x[0], x[1], x[2], x[3], x[4]), x[5], x[6]);
}

static void iapws_check_values(void **state)
{
	struct csv_table table = csv_table_read("water_iapws.csv");

	(void)state;
	for (size_t i = 0; i < table.rows; i++) {
		const struct csv_row row = csv_row_read(&table, i);
		const double *x = row.number;

		assert_near(water_index_absolute(x[0], x[1], x[2]), x[3], 5e-9); /* half of its last digit */
	}
	csv_table_release(&table);
}

static void water_meets_iso_1743(void **state)
{
	struct csv_table table = csv_table_read("water_iso1743.csv");

	(void)state;
	for (size_t i = 0; i < table.rows; i++) {
		const struct csv_row row = csv_row_read(&table, i);
		const double *x = row.number;

		/* Five decimals are printed; at 60 °C the table lies 2.5e-6 beyond their rounding. */
		assert_near(water_index(x[0]), x[1], x[0] < 60 ? 5e-6 : 7.6e-6);
	}
	csv_table_release(&table);
}

static void water_table_of_a_second_program(void **state)
{
	struct csv_table table = csv_table_read("water_table.csv");

	(void)state;
	for (size_t i = 0; i < table.rows; i++) {
		const struct csv_row row = csv_row_read(&table, i);
		const double *x = row.number;
		double density = isnan(x[2]) ? x[1] : x[2];

		assert_near(water_density_kell(x[0]), x[1], 6e-6);
		if (!isnan(x[2]))
			assert_near(water_density_tanaka(x[0]), x[2], 6e-6);
		assert_near(water_density(x[0]), density, 6e-6);
		assert_near(water_index_absolute(water_density(x[0]), x[0] + 273.15, SODIUM_D_UM), x[3], 6e-8);
		assert_near(air_index(x[0], SODIUM_D_UM), x[4], 6e-9);
		assert_near(water_index(x[0]), x[5], 6e-8);
	}
	csv_table_release(&table);
}

/* Every row of file within tol_n of the index, and back within tol_percent. */
static void check_index_table(const char *file, double tol_n, double tol_percent)
{
	struct csv_table table = csv_table_read(file);

	for (size_t i = 0; i < table.rows; i++) {
		const struct csv_row row = csv_row_read(&table, i);
		const double *x = row.number;

		assert_near(sucrose_index_20(x[0]), x[1], tol_n);
		assert_near(sucrose_index(x[0], 20), x[1], tol_n);
		assert_near(sucrose_percent(x[1], 20), x[0], tol_percent);
	}
	csv_table_release(&table);
}

static void sucrose_meets_icumsa_1974(void **state)
{
	(void)state;
	check_index_table("sucrose_icumsa1974.csv", 6.2e-6, 0.0043); /* the polynomial's own largest residuals */
}

static void sucrose_meets_oiv_tenths(void **state)
{
	(void)state;
	check_index_table("sucrose_oiv2004.csv", 1e-5, 0.0065); /* one unit of the table's last digit */
}

/* Published corrections of the 20 °C scale, rounded to 0.01 %: the largest and the rms residual of the model. */
static void check_corrections(const char *file, double domain, double largest_allowed, double rms_allowed)
{
	struct csv_table table = csv_table_read(file);
	double squares = 0;
	size_t count = 0;

	for (size_t i = 0; i < table.rows; i++) {
		const struct csv_row row = csv_row_read(&table, i);
		const double *x = row.number;

		if (x[3] != domain)
			continue;
		assert_near(to_add(x[1], x[0], 20), x[2], largest_allowed);
		squares += pow(to_add(x[1], x[0], 20) - x[2], 2);
		count++;
	}
	assert_true(count >= 24);
	assert_near(sqrt(squares / (double)count), 0, rms_allowed);
	csv_table_release(&table);
}

static void corrections_of_the_gost_table(void **state)
{
	(void)state;
	check_corrections("sucrose_temp_gost.csv", 1, 0.0150, 0.0054);
	check_corrections("sucrose_temp_gost.csv", 0, 0.0216, 0.0100);
}

static void corrections_of_the_oiv_table(void **state)
{
	(void)state;
	check_corrections("sucrose_temp_oiv.csv", 1, 0.0238, 0.0115);
	check_corrections("sucrose_temp_oiv.csv", 0, 0.0787, 0.0266);
}

/* The column of 0 % depends on water alone, and nothing was fitted to it. */
static void corrections_of_water_itself(void **state)
{
	struct csv_table table = csv_table_read("sucrose_temp_gost.csv");
	double squares = 0;
	size_t count = 0;

	(void)state;
	for (size_t i = 0; i < table.rows; i++) {
		const struct csv_row row = csv_row_read(&table, i);
		const double *x = row.number;

		if (x[1] != 0)
			continue;
		squares += pow(to_add(0, x[0], 20) - x[2], 2);
		count++;
	}
	assert_int_equal(count, 12);
	assert_near(sqrt(squares / 12), 0, 0.0071);
	csv_table_release(&table);
}

/*
 * Another sugar: how much faster than water the index of glucose syrup falls, against the temperature term. ISO 1743
 * prints five decimals; the limits are the largest differences of the model, rounded up.
 */
static void temperature_term_against_glucose_syrup(void **state)
{
	struct csv_table table = csv_table_read("syrup_iso1743.csv");
	double syrup_20 = NAN;
	size_t count = 0;

	(void)state;
	for (size_t i = 0; i < table.rows; i++) {
		double w = csv_number(&table, i, "percent");
		double t = csv_number(&table, i, "temp_c");
		double n = csv_number(&table, i, "n");
		double published, model;

		if (t == 20) {
			syrup_20 = n;
			continue;
		}
		published = n - syrup_20 - (water_index(t) - water_index(20));
		model = sucrose_index(w, t) - sucrose_index_20(w) - (water_index(t) - water_index(20));
		assert_near(model, published, t == 30 ? 9.5e-6 : t == 45 ? 4.3e-5 : 1.9e-4);
		count++;
	}
	assert_int_equal(count, 33);
	csv_table_release(&table);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(iapws_check_values),
		cmocka_unit_test(water_meets_iso_1743),
		cmocka_unit_test(water_table_of_a_second_program),
		cmocka_unit_test(sucrose_meets_icumsa_1974),
		cmocka_unit_test(sucrose_meets_oiv_tenths),
		cmocka_unit_test(corrections_of_the_gost_table),
		cmocka_unit_test(corrections_of_the_oiv_table),
		cmocka_unit_test(corrections_of_water_itself),
		cmocka_unit_test(temperature_term_against_glucose_syrup),
	};

	return cmocka_run_group_tests(tests, NULL, NULL) + csv_rows_run("optics_checks.csv", single_value) +
	       csv_rows_run("temp_correction_worked.csv", worked_correction);
}
