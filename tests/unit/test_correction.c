/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Worked corrections and published tables stand in tests/reference/test_optics.c. */
#include "correction.h"
#include "near.h"
#include "sucrose.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static const struct meter_scale coffee_meter = { UNIT_TDS_PERCENT, 0.85, 20, true };
static const struct meter_scale plain_meter = { UNIT_TDS_PERCENT, 0.85, 20, false };
static const struct meter_scale brix_meter = { UNIT_BRIX, NAN, 20, true };
static const struct meter_scale index_meter = { UNIT_INDEX, NAN, 20, true };

static struct correction_input reading(const struct meter_scale *scale, double shown, double temp_c)
{
	return (struct correction_input){
		.shown = shown,
		.scale = scale,
		.zero = NULL,
		.temp_c = temp_c,
		.temp_limit_c = NAN,
		.type_factor = COFFEE_TDS_PER_BRIX,
		.sample_g = NAN,
		.diluent_g = NAN,
	};
}

static struct correction corrected(const struct correction_input *in)
{
	struct correction out;

	correction_apply(in, &out);
	return out;
}

/* -- what passes through --------------------------------------------------------- */

/* shown / 0.85 · 0.85 differs from shown for one in ten of these: rounding must not reach the report. */
static void an_uncorrected_reading_is_the_display_bit_for_bit(void **state)
{
	size_t rounding_would_show = 0;

	(void)state;
	for (int hundredths = -100; hundredths <= 3000; hundredths++) {
		double shown = hundredths / 100.0;
		struct correction_input in = reading(&coffee_meter, shown, 22.4);
		struct correction_input plain = reading(&plain_meter, shown, 20);

		assert_near(corrected(&in).tds_percent, shown, 0);
		assert_near(corrected(&plain).tds_percent, shown, 0);
		rounding_would_show += shown / 0.85 * 0.85 != shown;
	}
	assert_true(rounding_would_show > 100);
}

static void a_zero_check_of_zero_changes_nothing(void **state)
{
	struct zero_offset zero = zero_offset_from_check(&coffee_meter, 0.00, 21, 0);
	struct correction_input in = reading(&coffee_meter, 1.38, 21);
	struct correction out;

	(void)state;
	in.zero = &zero;
	out = corrected(&in);
	assert_near(zero.delta_n, 0, 0);
	assert_near(out.tds_percent, 1.38, 0);
	assert_int_equal(out.flags, 0);
}

static void a_brix_check_standard_passes_through(void **state)
{
	struct correction_input in = reading(&brix_meter, 10.1, 21);

	(void)state;
	in.type_factor = 1;
	assert_near(corrected(&in).tds_percent, 10.1, 0);
}

static void water_has_no_dissolved_solids(void **state)
{
	struct correction_input in = reading(&brix_meter, 0.07, 21);

	(void)state;
	in.type_factor = 0;
	assert_near(corrected(&in).tds_percent, 0, 0);
}

/* -- steps ----------------------------------------------------------------------- */

static void every_step_is_kept(void **state)
{
	struct zero_offset zero = zero_offset_from_check(&plain_meter, 0.02, 20, 0);
	struct correction_input in = reading(&plain_meter, 1.40, 25);
	struct correction out;

	(void)state;
	in.zero = &zero;
	in.sample_g = 10;
	in.diluent_g = 5;
	out = corrected(&in);
	assert_near(out.shown, 1.40, 0);
	assert_int_equal(out.unit, UNIT_TDS_PERCENT);
	assert_near(out.brix_shown, 1.40 / 0.85, 1e-15);
	assert_near(out.n_shown, sucrose_index(1.40 / 0.85, 20), 0);
	assert_int_equal(out.zero_kind, ZERO_SINGLE);
	assert_near(out.delta_n, sucrose_index(0.02 / 0.85, 20) - sucrose_index(0, 20), 1e-16);
	assert_near(out.n_zeroed, out.n_shown - out.delta_n, 0);
	assert_near(out.temp_used_c, 25, 0);
	assert_near(sucrose_index(out.brix, 25), out.n_zeroed, 3e-16);
	assert_near(out.type_factor, 0.85, 0);
	assert_near(out.tds_undiluted_percent, 0.85 * out.brix, 0);
	assert_near(out.dilution_factor, 1.5, 0);
	assert_near(out.tds_percent, 1.5 * out.tds_undiluted_percent, 1e-15);
	assert_near(out.possible_error_percent, NAN, 0);
	assert_int_equal(out.flags, CORRECTION_FAR_FROM_ZERO);
}

static void the_three_units_agree(void **state)
{
	double n = sucrose_index_20(1.40 / 0.85);
	struct correction_input tds = reading(&coffee_meter, 1.40, 20);
	struct correction_input brix = reading(&brix_meter, 1.40 / 0.85, 20);
	struct correction_input index = reading(&index_meter, n, 20);

	(void)state;
	assert_near(corrected(&tds).tds_percent, 1.40, 0);
	assert_near(corrected(&brix).tds_percent, 1.40, 1e-12);
	assert_near(corrected(&index).tds_percent, 1.40, 1e-12);
	assert_near(corrected(&index).brix_shown, 1.40 / 0.85, 1e-12);
}

static void the_sample_has_a_factor_of_its_own(void **state)
{
	struct correction_input in = reading(&coffee_meter, 1.40, 20);

	(void)state;
	in.type_factor = 0.79;
	assert_near(corrected(&in).tds_percent, 1.40 * 0.79 / 0.85,
	            1e-14); /* no zero, no temperature: plain proportion */
}

static void a_compensated_meter_is_not_corrected_again(void **state)
{
	struct zero_offset zero = zero_offset_from_check(&coffee_meter, 0.03, 26, 0);
	struct correction_input cool = reading(&coffee_meter, 1.40, 26);
	struct correction_input warm = reading(&coffee_meter, 1.40, 28);

	(void)state;
	cool.zero = &zero;
	warm.zero = &zero;
	assert_near(corrected(&cool).tds_percent, corrected(&warm).tds_percent, 0);
	/* 0.03 shown for water: to first order 0.03 less, as the scale is straight within 0.001 so low down. */
	assert_near(corrected(&cool).tds_percent, 1.37, 0.001);
	assert_int_equal(corrected(&cool).flags, 0);
}

/* -- zero checks -------------------------------------------------------------------- */

/* Zeroed with water at the sample's temperature, nearly nothing is left; taken for 20 °C it would add 0.29 % TDS. */
static void zero_at_the_sample_temperature_is_not_corrected_twice(void **state)
{
	struct zero_offset warm = zero_offset_from_check(&plain_meter, 0, 25, 0);
	struct zero_offset cold = zero_offset_from_check(&plain_meter, 0, 20, 0);
	struct correction_input in = reading(&plain_meter, 1.40, 25);

	(void)state;
	in.zero = &warm;
	assert_near(corrected(&in).tds_percent, 1.4073, 0.00005); /* computed separately */
	in.zero = &cold;
	assert_near(corrected(&in).tds_percent, 1.6935, 0.00005);
}

static void water_read_as_a_sample_comes_out_as_zero(void **state)
{
	static const double shown[] = { -0.31, 0.0, 0.02, 0.4 };

	(void)state;
	for (size_t i = 0; i < COUNT(shown); i++) {
		struct zero_offset zero = zero_offset_from_check(&plain_meter, shown[i], 17, 0);
		struct correction_input in = reading(&plain_meter, shown[i], 17);

		in.zero = &zero;
		assert_near(corrected(&in).tds_percent, 0, 1e-12);
	}
}

static void an_index_meter_is_zeroed_against_the_scale(void **state)
{
	struct zero_offset zero = zero_offset_from_check(&index_meter, 1.33309, 20, 0);

	(void)state;
	assert_int_equal(zero.kind, ZERO_SINGLE);
	assert_near(zero.delta_n, 1.0e-4, 1e-15); /* water on the ICUMSA scale: 1.33299 */
}

static void a_zero_check_that_gives_no_offset(void **state)
{
	static const struct meter_scale no_unit = { UNIT_NONE, 0.85, 20, true };
	struct zero_offset zero;

	(void)state;
	zero = zero_offset_from_check(&plain_meter, 0.01, NAN, 0);
	assert_int_equal(zero.kind, ZERO_UNUSABLE);
	assert_near(zero.delta_n, 0, 0);
	assert_int_equal(zero_offset_from_check(&coffee_meter, 0.01, NAN, 0).kind, ZERO_SINGLE);
	assert_int_equal(zero_offset_from_check(&coffee_meter, 0.01, 140, 0).kind, ZERO_UNUSABLE);
	assert_int_equal(zero_offset_from_check(&coffee_meter, NAN, 20, 0).kind, ZERO_UNUSABLE);
	assert_int_equal(zero_offset_from_check(&coffee_meter, 90, 20, 0).kind, ZERO_UNUSABLE);
	assert_int_equal(zero_offset_from_check(&index_meter, 0.0, 20, 0).kind, ZERO_UNUSABLE);
	assert_int_equal(zero_offset_from_check(&no_unit, 0.0, 20, 0).kind, ZERO_UNUSABLE);
}

static void between_two_checks_the_offset_moves_in_a_line(void **state)
{
	struct zero_offset before = { ZERO_SINGLE, 1e-5, 20, 100 };
	struct zero_offset after = { ZERO_SINGLE, 5e-5, 24, 300 };
	struct zero_offset between = zero_offset_between(&before, &after, 150);

	(void)state;
	assert_int_equal(between.kind, ZERO_INTERPOLATED);
	assert_near(between.delta_n, 2e-5, 1e-20);
	assert_near(between.temp_c, 21, 1e-12);
	assert_near(between.time_s, 150, 0);
	after.temp_c = NAN;
	assert_near(zero_offset_between(&before, &after, 150).temp_c, NAN, 0);
}

static void outside_the_checks_the_nearer_holds(void **state)
{
	struct zero_offset before = { ZERO_SINGLE, 1e-5, 20, 100 };
	struct zero_offset after = { ZERO_INTERPOLATED, 5e-5, 24, 300 };

	(void)state;
	assert_near(zero_offset_between(&before, &after, 99).delta_n, 1e-5, 0);
	assert_near(zero_offset_between(&before, &after, 300).delta_n, 5e-5, 0);
	assert_int_equal(zero_offset_between(&before, &after, 301).kind, ZERO_SINGLE);
	before.time_s = 300;
	assert_near(zero_offset_between(&before, &after, 300).delta_n, 1e-5, 0);
	after.time_s = NAN;
	assert_near(zero_offset_between(&before, &after, 400).delta_n, 1e-5, 0);
}

static void with_one_check_that_one_holds(void **state)
{
	struct zero_offset good = { ZERO_SINGLE, 1e-5, 20, 100 };
	struct zero_offset bad = { ZERO_UNUSABLE, 0, NAN, 200 };
	struct zero_offset none = { ZERO_NONE, 0, NAN, 200 };

	(void)state;
	assert_near(zero_offset_between(&good, NULL, 500).delta_n, 1e-5, 0);
	assert_near(zero_offset_between(NULL, &good, 500).delta_n, 1e-5, 0);
	assert_int_equal(zero_offset_between(&good, &bad, 150).kind, ZERO_SINGLE);
	assert_int_equal(zero_offset_between(&bad, &good, 150).kind, ZERO_SINGLE);
	assert_int_equal(zero_offset_between(&bad, NULL, 150).kind, ZERO_UNUSABLE);
	assert_int_equal(zero_offset_between(&none, &bad, 150).kind, ZERO_UNUSABLE);
	assert_int_equal(zero_offset_between(&none, NULL, 150).kind, ZERO_NONE);
	assert_int_equal(zero_offset_between(NULL, NULL, 150).kind, ZERO_NONE);
}

/* -- properties ------------------------------------------------------------------------ */

static void it_rises_with_the_reading_and_with_temperature(void **state)
{
	(void)state;
	for (double t = 10; t <= 40; t += 2.5) {
		for (double shown = 0; shown < 15; shown += 0.5) {
			struct correction_input in = reading(&plain_meter, shown, t);
			struct correction_input more = reading(&plain_meter, shown + 0.01, t);
			struct correction_input warmer = reading(&plain_meter, shown, t + 0.1);

			assert_true(corrected(&more).tds_percent > corrected(&in).tds_percent);
			if (t + 0.1 < 40) /* the density's two formulas meet there */
				assert_true(corrected(&warmer).tds_percent > corrected(&in).tds_percent);
		}
	}
}

/* A difference in temperature or zero so small that nothing changes must not differ from none. */
static void the_short_cut_joins_the_long_way(void **state)
{
	struct correction_input at_20 = reading(&plain_meter, 1.38, 20);
	struct correction_input near_20 = reading(&plain_meter, 1.38, 20 + 1e-12);

	(void)state;
	assert_near(corrected(&near_20).tds_percent, corrected(&at_20).tds_percent, 1e-11);
}

static void slope_by_temperature(void **state)
{
	struct correction_input plain = reading(&plain_meter, 1.40, 22.5);
	struct correction_input compensated = reading(&coffee_meter, 1.40, 22.5);
	struct correction_input at_the_end = reading(&plain_meter, 1.40, 100);

	(void)state;
	/* From 20 to 25 °C a reading of 1.40 rises to 1.6935 (computed separately), so by 0.0587 a kelvin midway. */
	assert_near(correction_temp_slope(&plain), (1.6935 - 1.40) / 5, 0.0003);
	assert_near(correction_temp_slope(&compensated), 0, 0);
	plain.temp_c = NAN;
	assert_near(correction_temp_slope(&plain), NAN, 0);
	compensated.shown = NAN;
	assert_near(correction_temp_slope(&compensated), NAN, 0);
	at_the_end.temp_c = TEMP_C_LOW;
	assert_true(isfinite(correction_temp_slope(&at_the_end)));
}

/* -- flags ------------------------------------------------------------------------------ */

static void without_a_temperature_it_is_used_as_shown(void **state)
{
	struct zero_offset zero = zero_offset_from_check(&plain_meter, 0.05, 25, 0);
	struct correction_input in = reading(&plain_meter, 1.40, NAN);
	struct correction out;

	(void)state;
	in.zero = &zero;
	out = corrected(&in);
	assert_near(out.tds_percent, 1.40, 0);
	assert_near(out.delta_n, 0, 0);
	assert_int_equal(out.flags, CORRECTION_NO_TEMPERATURE);
	/* At 25 °C it would have been 1.6935, at 15 °C 1.1584 (computed separately): the larger change. */
	assert_near(out.possible_error_percent, 1.6935 - 1.40, 0.0001);
	in.sample_g = 10;
	in.diluent_g = 10;
	assert_near(corrected(&in).possible_error_percent, 2 * (1.6935 - 1.40), 0.0002);
}

static void a_missing_zero_is_said(void **state)
{
	struct zero_offset bad = { ZERO_UNUSABLE, 0, NAN, 0 };
	struct zero_offset none = { ZERO_NONE, 0, NAN, 0 };
	struct correction_input in = reading(&coffee_meter, 1.40, 21);

	(void)state;
	assert_int_equal(corrected(&in).flags, CORRECTION_NO_ZERO);
	in.zero = &none;
	assert_int_equal(corrected(&in).flags, CORRECTION_NO_ZERO);
	in.zero = &bad;
	assert_int_equal(corrected(&in).flags, CORRECTION_NO_ZERO | CORRECTION_ZERO_UNUSABLE);
	assert_near(corrected(&in).tds_percent, 1.40, 0);
}

static void a_sample_far_from_the_zero_check_is_said(void **state)
{
	struct zero_offset zero = zero_offset_from_check(&coffee_meter, 0, 21, 0);
	struct correction_input in = reading(&coffee_meter, 1.40, 23);

	(void)state;
	in.zero = &zero;
	assert_int_equal(corrected(&in).flags, 0);
	in.temp_c = 23.01;
	assert_int_equal(corrected(&in).flags, CORRECTION_FAR_FROM_ZERO);
	assert_near(corrected(&in).tds_percent, 1.40, 0);
	in.temp_limit_c = 5;
	assert_int_equal(corrected(&in).flags, 0);
	in.temp_c = NAN;
	in.temp_limit_c = 0;
	assert_int_equal(corrected(&in).flags, 0);
}

static void extrapolation_is_said_where_the_model_is_used(void **state)
{
	static const struct meter_scale warm_scale = { UNIT_BRIX, NAN, 25, true };
	struct correction_input cold = reading(&plain_meter, 1.40, 8);
	struct correction_input strong = reading(&plain_meter, 19, 25);
	struct correction_input untouched = reading(&warm_scale, 24, 25);
	struct correction_input by_index = reading(&index_meter, sucrose_index_20(30), 20);
	struct zero_offset zero = zero_offset_from_check(&warm_scale, 0.1, 25, 0);

	(void)state;
	assert_int_equal(corrected(&cold).flags, CORRECTION_NO_ZERO | CORRECTION_EXTRAPOLATED);
	assert_int_equal(corrected(&strong).flags, CORRECTION_NO_ZERO | CORRECTION_EXTRAPOLATED);
	assert_int_equal(corrected(&untouched).flags, CORRECTION_NO_ZERO);
	untouched.zero = &zero;
	assert_int_equal(corrected(&untouched).flags, CORRECTION_EXTRAPOLATED);
	assert_int_equal(corrected(&by_index).flags, CORRECTION_NO_ZERO); /* the table goes to 85 % at 20 °C */
}

struct refused_case {
	const char *name;
	struct meter_scale scale;
	double shown, temp_c, type_factor, sample_g, diluent_g;
	unsigned flag;
};

static void refused_with_a_reason(void **state)
{
	const struct refused_case *c = *state;
	struct correction_input in = reading(&c->scale, c->shown, c->temp_c);
	struct correction out;

	in.type_factor = c->type_factor;
	in.sample_g = c->sample_g;
	in.diluent_g = c->diluent_g;
	out = corrected(&in);
	assert_near(out.tds_percent, NAN, 0);
	assert_int_equal(out.flags & CORRECTION_FATAL, c->flag);
	assert_near(out.shown, c->shown, 0);
}

static void each_flag_has_its_words(void **state)
{
	(void)state;
	for (unsigned flag = CORRECTION_NO_TEMPERATURE; flag <= CORRECTION_BAD_SETTING; flag <<= 1)
		assert_true(correction_flag_text(flag)[0] != '\0');
	assert_string_equal(correction_flag_text(0), "");
	assert_string_equal(correction_flag_text(CORRECTION_NO_ZERO | CORRECTION_EXTRAPOLATED), "");
	assert_string_equal(correction_flag_text(CORRECTION_BAD_SETTING << 1), "");
}

int main(void)
{
	static struct refused_case cases[] = {
		{ "TDS below -1",
		  { UNIT_TDS_PERCENT, 0.85, 20, true },
		  -1.01,
		  20,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_OUT_OF_RANGE },
		{ "TDS above 30",
		  { UNIT_TDS_PERCENT, 0.85, 20, true },
		  30.01,
		  20,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_OUT_OF_RANGE },
		{ "a missing decimal point",
		  { UNIT_TDS_PERCENT, 0.85, 20, true },
		  138,
		  20,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_OUT_OF_RANGE },
		{ "above 30 after dilution",
		  { UNIT_TDS_PERCENT, 0.85, 20, true },
		  12,
		  20,
		  0.85,
		  10,
		  20,
		  CORRECTION_OUT_OF_RANGE },
		{ "below -1 after the temperature",
		  { UNIT_TDS_PERCENT, 0.85, 20, false },
		  -0.9,
		  12,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_OUT_OF_RANGE },
		{ "index below 1.30",
		  { UNIT_INDEX, NAN, 20, true },
		  1.299,
		  20,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_OUT_OF_RANGE },
		{ "index above 1.55",
		  { UNIT_INDEX, NAN, 20, true },
		  1.551,
		  20,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_OUT_OF_RANGE },
		{ "Brix above the table",
		  { UNIT_BRIX, NAN, 20, true },
		  90,
		  20,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_OUT_OF_RANGE },
		{ "Brix of syrup", { UNIT_BRIX, NAN, 20, true }, 60, 20, 0.85, NAN, NAN, CORRECTION_OUT_OF_RANGE },
		{ "no number", { UNIT_TDS_PERCENT, 0.85, 20, true }, NAN, 20, 0.85, NAN, NAN, CORRECTION_OUT_OF_RANGE },
		{ "infinite", { UNIT_BRIX, NAN, 20, true }, -INFINITY, 20, 0.85, NAN, NAN, CORRECTION_OUT_OF_RANGE },
		{ "colder than -5",
		  { UNIT_TDS_PERCENT, 0.85, 20, true },
		  1.4,
		  -5.1,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_TEMP_OUT_OF_RANGE },
		{ "hotter than 100",
		  { UNIT_TDS_PERCENT, 0.85, 20, false },
		  1.4,
		  100.1,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_TEMP_OUT_OF_RANGE },
		{ "no unit", { UNIT_NONE, 0.85, 20, true }, 1.4, 20, 0.85, NAN, NAN, CORRECTION_BAD_SETTING },
		{ "a unit that is none",
		  { (enum unit)9, 0.85, 20, true },
		  1.4,
		  20,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_BAD_SETTING },
		{ "meter factor 0",
		  { UNIT_TDS_PERCENT, 0, 20, true },
		  1.4,
		  20,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_BAD_SETTING },
		{ "scale at 200 degrees",
		  { UNIT_BRIX, NAN, 200, true },
		  1.4,
		  20,
		  0.85,
		  NAN,
		  NAN,
		  CORRECTION_BAD_SETTING },
		{ "sample factor below 0",
		  { UNIT_BRIX, NAN, 20, true },
		  1.4,
		  20,
		  -0.1,
		  NAN,
		  NAN,
		  CORRECTION_BAD_SETTING },
		{ "sample factor missing",
		  { UNIT_BRIX, NAN, 20, true },
		  1.4,
		  20,
		  NAN,
		  NAN,
		  NAN,
		  CORRECTION_BAD_SETTING },
		{ "sample without diluent",
		  { UNIT_BRIX, NAN, 20, true },
		  1.4,
		  20,
		  0.85,
		  10,
		  NAN,
		  CORRECTION_BAD_SETTING },
		{ "diluent without sample",
		  { UNIT_BRIX, NAN, 20, true },
		  1.4,
		  20,
		  0.85,
		  NAN,
		  10,
		  CORRECTION_BAD_SETTING },
		{ "sample of 0 g", { UNIT_BRIX, NAN, 20, true }, 1.4, 20, 0.85, 0, 10, CORRECTION_BAD_SETTING },
		{ "diluent below 0", { UNIT_BRIX, NAN, 20, true }, 1.4, 20, 0.85, 10, -1, CORRECTION_BAD_SETTING },
	};
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(an_uncorrected_reading_is_the_display_bit_for_bit),
		cmocka_unit_test(a_zero_check_of_zero_changes_nothing),
		cmocka_unit_test(a_brix_check_standard_passes_through),
		cmocka_unit_test(water_has_no_dissolved_solids),
		cmocka_unit_test(every_step_is_kept),
		cmocka_unit_test(the_three_units_agree),
		cmocka_unit_test(the_sample_has_a_factor_of_its_own),
		cmocka_unit_test(a_compensated_meter_is_not_corrected_again),
		cmocka_unit_test(zero_at_the_sample_temperature_is_not_corrected_twice),
		cmocka_unit_test(water_read_as_a_sample_comes_out_as_zero),
		cmocka_unit_test(an_index_meter_is_zeroed_against_the_scale),
		cmocka_unit_test(a_zero_check_that_gives_no_offset),
		cmocka_unit_test(between_two_checks_the_offset_moves_in_a_line),
		cmocka_unit_test(outside_the_checks_the_nearer_holds),
		cmocka_unit_test(with_one_check_that_one_holds),
		cmocka_unit_test(it_rises_with_the_reading_and_with_temperature),
		cmocka_unit_test(the_short_cut_joins_the_long_way),
		cmocka_unit_test(slope_by_temperature),
		cmocka_unit_test(without_a_temperature_it_is_used_as_shown),
		cmocka_unit_test(a_missing_zero_is_said),
		cmocka_unit_test(a_sample_far_from_the_zero_check_is_said),
		cmocka_unit_test(extrapolation_is_said_where_the_model_is_used),
		cmocka_unit_test(each_flag_has_its_words),
	};
	struct CMUnitTest refused[COUNT(cases)];

	for (size_t i = 0; i < COUNT(cases); i++)
		refused[i] = (struct CMUnitTest){
			.name = cases[i].name,
			.test_func = refused_with_a_reason,
			.initial_state = &cases[i],
		};
	return cmocka_run_group_tests(refused, NULL, NULL) + cmocka_run_group_tests(tests, NULL, NULL);
}
