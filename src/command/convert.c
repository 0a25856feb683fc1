/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>

#include "command.h"
#include "correction.h"
#include "number.h"
#include "profile.h"
#include "shown.h"

static const struct command_option options[] = {
	{ "unit", 'u', "UNIT", "Unit of the value: tds (unless set), brix or nd." },
	{ "temp", 't', "CELSIUS", "Temperature of the sample." },
	{ "type", 'k', "TYPE",
	  "Kind of sample: filter (unless set), espresso, sucrose, water, or one that was added." },
	{ "zero", 'z', "VALUE", "What the meter showed for distilled water." },
	{ "zero-temp", 0, "CELSIUS", "Temperature of that water." },
	{ "cal-temp", 0, "CELSIUS", "Temperature that the meter's scale holds for; 20 unless set." },
	{ "scale-factor", 0, "NUMBER", "TDS per Brix of the meter's own TDS scale; 0.85 unless set." },
	{ "uncompensated", 0, NULL, "The meter does not correct for the temperature itself." },
	{ "sample", 0, "GRAMS", "Mass of sample that was diluted before reading." },
	{ "diluent", 0, "GRAMS", "Mass of water it was diluted with." },
	{ "profile", 'p', "NAME", "Takes unit, scale and compensation from a meter profile." },
	{ "json", 0, NULL, "Prints the steps as JSON." },
	{ .name = NULL },
};

static const char *const sections[] = { "correction", NULL };

struct request {
	struct shown shown;
	struct meter_scale scale;
	struct zero_offset zero;
	bool has_zero;
	struct correction_input in;
};

/* The option's value as a number; NaN where it is not given. False: it is no number, and that is told. */
static bool take_number(const struct invocation *invocation, const char *name, double *value)
{
	const char *text = invocation_value(invocation, name);

	if (!text || number_parse_any(value, NULL, slice_trim(slice_from(text))))
		return true;
	invocation_wrong_use(invocation, "--%s is \"%s\"; expected a number", name, text);
	return false;
}

static enum exit_code take_scale(struct invocation *invocation, struct request *request)
{
	const char *unit = invocation_value(invocation, "unit");
	const char *name = invocation_value(invocation, "profile");
	struct meter meter = meter_standard();
	struct profile *profile = NULL;

	if (name) {
		enum status status = profile_open(&profile, name, &invocation->faults, &invocation->error);

		if (status == STATUS_REFUSED)
			return invocation_tell_faults(invocation);
		if (status != STATUS_OK)
			return invocation_tell_error(invocation, status);
		meter = profile->meter;
		profile_free(profile);
	}
	request->scale = (struct meter_scale){ meter.unit, meter.scale_factor, meter.cal_temp_c, meter.compensated };
	if (unit)
		request->scale.unit = unit_from_text(unit, slice_from(unit).len);
	if (request->scale.unit == UNIT_NONE)
		return invocation_wrong_use(invocation, "--unit is \"%s\"; expected tds, brix or nd", unit ? unit : "");
	if (invocation_given(invocation, "uncompensated"))
		request->scale.compensated = false;
	if (!take_number(invocation, "cal-temp", &request->scale.cal_temp_c) ||
	    !take_number(invocation, "scale-factor", &request->scale.meter_factor))
		return EXIT_USAGE;
	return EXIT_DONE;
}

static enum exit_code take_zero(struct invocation *invocation, struct request *request)
{
	double shown = NAN, temp = NAN;

	if (!take_number(invocation, "zero", &shown) || !take_number(invocation, "zero-temp", &temp))
		return EXIT_USAGE;
	request->has_zero = !isnan(shown);
	if (request->has_zero)
		request->zero = zero_offset_from_check(&request->scale, shown, temp, 0.0);
	return EXIT_DONE;
}

static enum exit_code take_request(struct invocation *invocation, struct request *request)
{
	const char *type = invocation_value(invocation, "type");
	const struct sample_type *sample = settings_type(&invocation->settings, slice_from(type ? type : "filter"));
	const char *value = invocation->operands[0];
	enum exit_code code;

	*request = (struct request){ .in = { .temp_c = NAN, .sample_g = NAN, .diluent_g = NAN } };
	if (!number_parse_any(&request->shown.value, &request->shown.decimals, slice_trim(slice_from(value))))
		return invocation_wrong_use(invocation,
		                            "\"%s\" is not a number; expected what the meter shows, such as 1.38",
		                            value);
	if (!sample)
		return invocation_wrong_use(invocation, "no sample type is called \"%s\"; --sample-type adds one",
		                            type);
	code = take_scale(invocation, request);
	if (code == EXIT_DONE)
		code = take_zero(invocation, request);
	if (code != EXIT_DONE)
		return code;
	request->in.shown = request->shown.value;
	request->in.scale = &request->scale;
	request->in.zero = request->has_zero ? &request->zero : NULL;
	request->in.temp_limit_c = invocation->settings.temp_apart_c;
	request->in.type_factor = sample->factor;
	if (!take_number(invocation, "temp", &request->in.temp_c) ||
	    !take_number(invocation, "sample", &request->in.sample_g) ||
	    !take_number(invocation, "diluent", &request->in.diluent_g))
		return EXIT_USAGE;
	return EXIT_DONE;
}

static void print_step(const char *name, double value, int decimals, const char *unit)
{
	char number[NUMBER_TEXT];

	printf("  %-34s %s%s%s\n", name, number_print(number, sizeof(number), value, decimals),
	       isnan(value) || unit[0] == '\0' ? "" : " ", isnan(value) ? "" : unit);
}

static void print_flags(const struct correction *c)
{
	for (unsigned bit = 1; bit != 0 && bit <= c->flags; bit <<= 1)
		if (c->flags & bit)
			printf("  note: %s\n", correction_flag_text(bit));
	if (!isnan(c->possible_error_percent))
		print_step("possible error for 5 °C either way", c->possible_error_percent, 3, "% TDS");
}

static void print_steps(const struct correction *c)
{
	print_step("shown", c->shown, c->unit == UNIT_INDEX ? 5 : 3, unit_name(c->unit));
	print_step("on the sucrose scale", c->brix_shown, 4, "% sucrose (Brix)");
	print_step("as a refractive index", c->n_shown, 6, "");
	print_step("offset of the zero", c->delta_n, 6, "");
	print_step("index without it", c->n_zeroed, 6, "");
	print_step("taken at", c->temp_used_c, 1, "°C");
	print_step("strength", c->brix, 4, "% sucrose (Brix)");
	print_step("TDS per Brix of the sample", c->type_factor, 4, "");
	print_step("TDS on the prism", c->tds_undiluted_percent, 4, "%");
	print_step("dilution", c->dilution_factor, 4, "times");
	print_step("TDS of the beverage", c->tds_percent, 4, "%");
	print_flags(c);
}

static void json_number(const char *name, double value, const char *behind)
{
	char number[NUMBER_TEXT];

	printf("\"%s\":%s%s", name, number_print_exact(number, sizeof(number), value), behind);
}

static void print_json(const struct correction *c)
{
	printf("{");
	json_number("shown", c->shown, ",");
	printf("\"unit\":\"%s\",", unit_name(c->unit));
	json_number("brix_shown", c->brix_shown, ",");
	json_number("n_shown", c->n_shown, ",");
	json_number("delta_n", c->delta_n, ",");
	json_number("n_zeroed", c->n_zeroed, ",");
	json_number("temp_used_c", c->temp_used_c, ",");
	json_number("brix", c->brix, ",");
	json_number("type_factor", c->type_factor, ",");
	json_number("tds_undiluted_percent", c->tds_undiluted_percent, ",");
	json_number("dilution_factor", c->dilution_factor, ",");
	json_number("tds_percent", c->tds_percent, ",");
	json_number("possible_error_percent", c->possible_error_percent, ",");
	printf("\"flags\":%u}\n", c->flags);
}

static enum exit_code run_convert(struct invocation *invocation)
{
	struct request request;
	struct correction correction;
	enum exit_code code = take_request(invocation, &request);

	if (code != EXIT_DONE)
		return code;
	correction_apply(&request.in, &correction);
	if (invocation_given(invocation, "json"))
		print_json(&correction);
	else
		print_steps(&correction);
	return correction.flags & CORRECTION_FATAL ? EXIT_FAULTS : EXIT_DONE;
}

const struct command command_convert = {
	.name = "convert",
	.purpose = "Takes one value through the correction, each step shown.",
	.operands = "VALUE",
	.operands_min = 1,
	.operands_max = 1,
	.sections = sections,
	.options = options,
	.details = "A value below zero goes behind \"--\": brewspread convert --unit brix -- -0.05",
	.example = "convert 1.62 --unit brix --temp 27.5 --uncompensated --type filter",
	.example_exit = EXIT_DONE,
	.run = run_convert,
};
