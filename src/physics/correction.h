/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * correction.h: from the number on a meter's display to the TDS of the beverage, every step kept.
 *
 *   1 unit         the display to an index, with the meter's own scale at its calibration temperature
 *   2 zero         less the offset that a reading of distilled water showed, as an index
 *   3 temperature  to the strength of the sucrose solution that has this index: at the sample's temperature where the meter
 *                  does not compensate, at the calibration temperature where it does
 *   4 type         times TDS per °Brix of the kind of sample
 *   5 dilution     times (sample + diluent) / sample
 *
 * Zero and temperature are both taken care of as indices, so that neither is corrected twice: a meter set to
 * zero with water at the sample's own temperature needs next to no temperature correction, and gets none here.
 *
 * NaN in a field that says so means "not known". Nothing here fails: what is wrong is a flag, and the result is
 * then NaN.
 */
#ifndef BREWSPREAD_CORRECTION_H
#define BREWSPREAD_CORRECTION_H

#include <stdbool.h>

#include "unit.h"

/* TDS per °Brix of coffee: common practice, no source. Published data disagree with it and with each other. */
#define COFFEE_TDS_PER_BRIX   0.85

#define STANDARD_CAL_TEMP_C   20.0 /* the temperature of the ICUMSA scale */
#define STANDARD_TEMP_LIMIT_C 2.0  /* sample against zero check: common practice, no source */
#define POSSIBLE_ERROR_SPAN_C 5.0  /* for the error to reckon with where a temperature is missing */

/* Outside these a value is no reading of coffee, sugar water or water. */
#define TDS_PERCENT_LOW  (-1.0)
#define TDS_PERCENT_HIGH 30.0
#define TEMP_C_LOW       (-5.0)
#define TEMP_C_HIGH      100.0
#define INDEX_LOW        1.30
#define INDEX_HIGH       1.55

/* How a meter's display is to be read. */
struct meter_scale {
	enum unit unit;      /* of the display; UNIT_NONE is a bad setting */
	double meter_factor; /* TDS per °Brix built into the meter's own TDS scale, > 0; used for UNIT_TDS_PERCENT only */
	double cal_temp_c; /* temperature at which the scale holds, -5 … 100 °C */
	bool compensated;  /* the meter itself brings the reading to cal_temp_c */
};

enum zero_kind {
	ZERO_NONE,         /* no zero check: the offset is taken as 0 */
	ZERO_SINGLE,       /* from the one check at hand */
	ZERO_INTERPOLATED, /* between a check before and one after */
	ZERO_UNUSABLE,     /* a check without a temperature on an uncompensated meter, or out of range: taken as 0 */
};

/* The offset of an instrument, as an index, at one moment. */
struct zero_offset {
	enum zero_kind kind;
	double delta_n; /* index shown for water less the index water has; 0 where kind gives none */
	double temp_c;  /* of the water; NaN: not known */
	double time_s;  /* when, in seconds from any origin; used between two checks only */
};

/*
 * The offset that one zero check gives: shown is what the display of scale said for distilled water of temp_c
 * (NaN: not noted), at time_s. The index of water is taken at scale->cal_temp_c for a compensated meter, else
 * at temp_c. Kind ZERO_SINGLE, or ZERO_UNUSABLE with delta_n 0.
 */
struct zero_offset zero_offset_from_check(const struct meter_scale *scale, double shown, double temp_c, double time_s);

/*
 * The offset in force at time_s: on the straight line between before and after, temperature likewise (NaN
 * unless both are known). Where one of them is NULL or gives no offset the other holds as it is; where neither
 * does, ZERO_NONE, or ZERO_UNUSABLE if there was a check. Outside the time between them the nearer holds, as
 * ZERO_SINGLE.
 */
struct zero_offset zero_offset_between(const struct zero_offset *before, const struct zero_offset *after,
                                       double time_s);

/* What the result carries beside its number. Those in CORRECTION_FATAL leave no number. */
enum correction_flag {
	CORRECTION_NO_TEMPERATURE =
		1u << 0,              /* uncompensated, no temperature: used uncorrected, see possible_error_percent */
	CORRECTION_NO_ZERO = 1u << 1, /* no usable zero check: offset taken as 0 */
	CORRECTION_ZERO_UNUSABLE = 1u << 2, /* there was one, but it gave no offset */
	CORRECTION_FAR_FROM_ZERO = 1u << 3, /* sample and zero check differ by more than the limit; nothing altered */
	CORRECTION_EXTRAPOLATED = 1u << 4,  /* outside what the model of sucrose.h rests on */
	CORRECTION_OUT_OF_RANGE = 1u << 5,  /* strength or index cannot be, or the value is not finite */
	CORRECTION_TEMP_OUT_OF_RANGE = 1u << 6, /* the sample's temperature cannot be */
	CORRECTION_BAD_SETTING = 1u << 7,       /* scale, factor or dilution make no sense */
};
#define CORRECTION_FATAL (CORRECTION_OUT_OF_RANGE | CORRECTION_TEMP_OUT_OF_RANGE | CORRECTION_BAD_SETTING)

/* One flag in words, as the end of a sentence about a reading; "" for 0 or more than one flag. */
const char *correction_flag_text(unsigned flag);

struct correction_input {
	double shown;                    /* as on the display, in scale->unit */
	const struct meter_scale *scale; /* not NULL */
	const struct zero_offset *zero;  /* NULL: none */
	double temp_c;                   /* of the sample; NaN: not known */
	double temp_limit_c;             /* sample against zero check; NaN: STANDARD_TEMP_LIMIT_C */
	double type_factor;              /* TDS per °Brix of the sample: 0.85 coffee, 1 sucrose, 0 water; >= 0 */
	double sample_g;                 /* dilution before reading: mass of sample, > 0, … */
	double diluent_g;                /* … and of what was added, >= 0; both NaN: not diluted */
};

/* Every step, in order. A step that could not be taken is NaN, and so are those after it. */
struct correction {
	double shown;      /* in unit */
	double brix_shown; /* the display on the sucrose scale, at the calibration temperature */
	double n_shown;    /* … and as an index */
	double delta_n;    /* the offset that was taken off, of zero_kind */
	double n_zeroed;
	double temp_used_c; /* at which n_zeroed was taken back to a strength */
	double brix;        /* after zero and temperature */
	double type_factor;
	double tds_undiluted_percent; /* of what lay on the prism */
	double dilution_factor;       /* 1 where not diluted */
	double tds_percent;           /* of the beverage: the result; NaN with any flag of CORRECTION_FATAL */
	double possible_error_percent; /* largest change of tds_percent for ±5 °C with CORRECTION_NO_TEMPERATURE, else NaN */
	enum unit unit;                /* these three side by side: one of each reading is kept */
	enum zero_kind zero_kind;
	unsigned flags; /* of enum correction_flag */
};

/*
 * Corrects one reading. in is lent; out is filled whatever happens.
 *
 * Where neither zero nor temperature shift the index, the strength on the sucrose scale is the shown one, bit
 * for bit, without a trip through the model; and a display in TDS whose meter_factor is the type_factor then
 * gives tds_undiluted_percent == shown, so that 1.38 stays 1.38 and not 1.3799999999999999.
 */
void correction_apply(const struct correction_input *in, struct correction *out);

/*
 * Change of the corrected TDS (per cent) per kelvin of the sample's temperature, by a central difference; for
 * the uncertainty that a thermometer brings in. 0 for a compensated meter, NaN without a temperature or without
 * a result.
 */
double correction_temp_slope(const struct correction_input *in);

#endif
