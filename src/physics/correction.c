/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "correction.h"

#include <math.h>
#include <stddef.h>

#include "sucrose.h"

/* False for NaN. */
static bool within(double x, double low, double high)
{
	return x >= low && x <= high;
}

static bool scale_sound(const struct meter_scale *scale)
{
	if (!within(scale->cal_temp_c, TEMP_C_LOW, TEMP_C_HIGH))
		return false;
	switch (scale->unit) {
	case UNIT_TDS_PERCENT:
		return scale->meter_factor > 0 && isfinite(scale->meter_factor);
	case UNIT_BRIX:
	case UNIT_INDEX:
		return true;
	case UNIT_NONE:
		return false;
	}
	return false;
}

/* Step 1: the display on the sucrose scale, and the index it stands for. */
static double index_of_display(const struct meter_scale *scale, double shown, double *brix)
{
	if (scale->unit == UNIT_INDEX) {
		*brix = sucrose_percent(shown, scale->cal_temp_c);
		return shown;
	}
	*brix = scale->unit == UNIT_TDS_PERCENT ? shown / scale->meter_factor : shown;
	return sucrose_index(*brix, scale->cal_temp_c);
}

struct zero_offset zero_offset_from_check(const struct meter_scale *scale, double shown, double temp_c, double time_s)
{
	struct zero_offset zero = { .kind = ZERO_UNUSABLE, .delta_n = 0, .temp_c = temp_c, .time_s = time_s };
	double water_temp_c = scale->compensated ? scale->cal_temp_c : temp_c;
	double brix;
	double n_shown;

	if (!scale_sound(scale) || !within(water_temp_c, TEMP_C_LOW, TEMP_C_HIGH))
		return zero;
	if (!isnan(temp_c) && !within(temp_c, TEMP_C_LOW, TEMP_C_HIGH))
		return zero;
	n_shown = index_of_display(scale, shown, &brix);
	if (!within(n_shown, INDEX_LOW, INDEX_HIGH))
		return zero;
	zero.kind = ZERO_SINGLE;
	/* Water's index as the sucrose scale has it, 4e-6 above IAPWS: so that a shown 0 is an offset of exactly 0. */
	zero.delta_n = n_shown - sucrose_index(0, water_temp_c);
	return zero;
}

static bool zero_usable(const struct zero_offset *zero)
{
	return zero && (zero->kind == ZERO_SINGLE || zero->kind == ZERO_INTERPOLATED);
}

static bool zero_made(const struct zero_offset *zero)
{
	return zero && zero->kind != ZERO_NONE;
}

/* The only usable one of two, as it stands. */
static struct zero_offset zero_alone(const struct zero_offset *zero)
{
	struct zero_offset alone = *zero;

	alone.kind = ZERO_SINGLE;
	return alone;
}

struct zero_offset zero_offset_between(const struct zero_offset *before, const struct zero_offset *after, double time_s)
{
	struct zero_offset zero = { .kind = ZERO_NONE, .delta_n = 0, .temp_c = NAN, .time_s = time_s };
	double share;

	if (!zero_usable(before) && !zero_usable(after)) {
		if (zero_made(before) || zero_made(after))
			zero.kind = ZERO_UNUSABLE;
		return zero;
	}
	if (!zero_usable(before))
		return zero_alone(after);
	if (!zero_usable(after) || !(time_s > before->time_s))
		return zero_alone(before);
	if (time_s >= after->time_s)
		return zero_alone(after);
	share = (time_s - before->time_s) / (after->time_s - before->time_s);
	if (isnan(share))
		return zero_alone(before);
	zero.kind = ZERO_INTERPOLATED;
	zero.delta_n = before->delta_n + share * (after->delta_n - before->delta_n);
	zero.temp_c = before->temp_c + share * (after->temp_c - before->temp_c);
	return zero;
}

const char *correction_flag_text(unsigned flag)
{
	static const struct {
		enum correction_flag flag;
		const char *text;
	} texts[] = {
		{ CORRECTION_NO_TEMPERATURE, "no temperature: used uncorrected" },
		{ CORRECTION_NO_ZERO, "no zero check: offset taken as 0" },
		{ CORRECTION_ZERO_UNUSABLE, "the zero check gives no offset" },
		{ CORRECTION_FAR_FROM_ZERO, "temperature far from the zero check's" },
		{ CORRECTION_EXTRAPOLATED, "outside the range that the correction was tested in" },
		{ CORRECTION_OUT_OF_RANGE, "outside the physical range" },
		{ CORRECTION_TEMP_OUT_OF_RANGE, "temperature outside the physical range" },
		{ CORRECTION_BAD_SETTING, "the meter's scale, the sample's factor or its dilution makes no sense" },
	};

	for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++) {
		if (flag == (unsigned)texts[i].flag)
			return texts[i].text;
	}
	return "";
}

/* 1 where neither mass is given; NaN where they make no sense. */
static double dilution_factor(double sample_g, double diluent_g)
{
	if (isnan(sample_g) && isnan(diluent_g))
		return 1;
	if (!(sample_g > 0 && diluent_g >= 0 && isfinite(sample_g + diluent_g)))
		return NAN;
	return (sample_g + diluent_g) / sample_g;
}

/* What can be said before anything is computed. */
static unsigned flags_of_input(const struct correction_input *in)
{
	unsigned flags = 0;

	if (!scale_sound(in->scale) || !(in->type_factor >= 0 && isfinite(in->type_factor)) ||
	    isnan(dilution_factor(in->sample_g, in->diluent_g)))
		flags |= CORRECTION_BAD_SETTING;
	if (isnan(in->temp_c) && !in->scale->compensated)
		flags |= CORRECTION_NO_TEMPERATURE;
	if (!isnan(in->temp_c) && !within(in->temp_c, TEMP_C_LOW, TEMP_C_HIGH))
		flags |= CORRECTION_TEMP_OUT_OF_RANGE;
	if (!zero_usable(in->zero))
		flags |= CORRECTION_NO_ZERO;
	if (in->zero && in->zero->kind == ZERO_UNUSABLE)
		flags |= CORRECTION_ZERO_UNUSABLE;
	return flags;
}

/* Compared only where both temperatures are known. */
static bool far_from_zero(const struct correction_input *in)
{
	double limit = isnan(in->temp_limit_c) ? STANDARD_TEMP_LIMIT_C : in->temp_limit_c;

	return zero_usable(in->zero) && fabs(in->temp_c - in->zero->temp_c) > limit;
}

/* Steps 2 and 3: fills delta_n … brix. Returns whether the model moved the strength. */
static bool correct_index(const struct correction_input *in, struct correction *out)
{
	bool as_it_is = out->flags & CORRECTION_NO_TEMPERATURE;
	double temp_c = in->scale->compensated || as_it_is ? in->scale->cal_temp_c : in->temp_c;

	out->delta_n = zero_usable(in->zero) && !as_it_is ? in->zero->delta_n : 0;
	out->n_zeroed = out->n_shown - out->delta_n;
	out->temp_used_c = temp_c;
	if (out->delta_n == 0 && temp_c == in->scale->cal_temp_c) {
		out->brix = out->brix_shown;
		return false;
	}
	out->brix = sucrose_percent(out->n_zeroed, temp_c);
	return true;
}

/* Steps 4 and 5. */
static void correct_strength(const struct correction_input *in, struct correction *out, bool moved)
{
	bool own_factor = in->scale->unit == UNIT_TDS_PERCENT && in->scale->meter_factor == in->type_factor;

	/* (v / f) · f need not be v: where nothing was corrected, the display has to come out as it was. */
	out->tds_undiluted_percent = own_factor && !moved ? in->shown : in->type_factor * out->brix;
	out->tds_percent = out->tds_undiluted_percent * out->dilution_factor;
}

/* The largest change of the result if the sample was 5 °C off the calibration temperature. */
static double possible_error(const struct correction_input *in, const struct correction *out)
{
	double cal_temp_c = in->scale->cal_temp_c;
	double warmer = sucrose_percent(out->n_shown, cal_temp_c + POSSIBLE_ERROR_SPAN_C) - out->brix;
	double colder = sucrose_percent(out->n_shown, cal_temp_c - POSSIBLE_ERROR_SPAN_C) - out->brix;

	return fmax(fabs(warmer), fabs(colder)) * out->type_factor * out->dilution_factor;
}

static bool in_physical_range(const struct correction *out)
{
	if (out->unit == UNIT_TDS_PERCENT && !within(out->shown, TDS_PERCENT_LOW, TDS_PERCENT_HIGH))
		return false;
	return within(out->n_shown, INDEX_LOW, INDEX_HIGH) && within(out->n_zeroed, INDEX_LOW, INDEX_HIGH) &&
	       within(out->tds_undiluted_percent, TDS_PERCENT_LOW, TDS_PERCENT_HIGH) &&
	       within(out->tds_percent, TDS_PERCENT_LOW, TDS_PERCENT_HIGH);
}

/* Does the result, or a step on the way to it, rest on the model outside of what it was tested for? */
static bool extrapolates(const struct correction *out, double cal_temp_c, bool moved)
{
	if (!moved && out->unit != UNIT_INDEX)
		return false;
	return sucrose_extrapolated(out->brix, out->temp_used_c) ||
	       (out->unit != UNIT_INDEX && sucrose_extrapolated(out->brix_shown, cal_temp_c));
}

void correction_apply(const struct correction_input *in, struct correction *out)
{
	bool moved;

	*out = (struct correction){
		.shown = in->shown,
		.unit = in->scale->unit,
		.brix_shown = NAN,
		.n_shown = NAN,
		.zero_kind = in->zero ? in->zero->kind : ZERO_NONE,
		.delta_n = NAN,
		.n_zeroed = NAN,
		.temp_used_c = NAN,
		.brix = NAN,
		.type_factor = in->type_factor,
		.tds_undiluted_percent = NAN,
		.dilution_factor = dilution_factor(in->sample_g, in->diluent_g),
		.tds_percent = NAN,
		.possible_error_percent = NAN,
		.flags = flags_of_input(in),
	};
	if (out->flags & CORRECTION_FATAL)
		return;
	out->n_shown = index_of_display(in->scale, in->shown, &out->brix_shown);
	moved = correct_index(in, out);
	correct_strength(in, out, moved);
	if (!in_physical_range(out)) {
		out->flags |= CORRECTION_OUT_OF_RANGE;
		out->tds_percent = NAN;
		return;
	}
	if (far_from_zero(in))
		out->flags |= CORRECTION_FAR_FROM_ZERO;
	if (extrapolates(out, in->scale->cal_temp_c, moved))
		out->flags |= CORRECTION_EXTRAPOLATED;
	if (out->flags & CORRECTION_NO_TEMPERATURE)
		out->possible_error_percent = possible_error(in, out);
}

double correction_temp_slope(const struct correction_input *in)
{
	const double span_c = 0.5;
	struct correction_input shifted = *in;
	struct correction low, high;

	correction_apply(in, &high);
	if (isnan(in->temp_c) || isnan(high.tds_percent))
		return NAN;
	if (in->scale->compensated)
		return 0;
	shifted.temp_c = fmax(in->temp_c - span_c, TEMP_C_LOW);
	correction_apply(&shifted, &low);
	shifted.temp_c = fmin(in->temp_c + span_c, TEMP_C_HIGH);
	correction_apply(&shifted, &high);
	return (high.tds_percent - low.tds_percent) /
	       (fmin(in->temp_c + span_c, TEMP_C_HIGH) - fmax(in->temp_c - span_c, TEMP_C_LOW));
}
