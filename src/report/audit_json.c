/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_json.h"

#include <stdlib.h>
#include <string.h>

#include "audit_words.h"
#include "json_put.h"
#include "reading.h"
#include "timestamp.h"

static void put_flag(json_t *object, const char *name, bool flag)
{
	json_object_set_new(object, name, json_boolean(flag));
}

static void put_moment(json_t *object, const char *name, int64_t us)
{
	char text[TIMESTAMP_TEXT];

	if (us == READING_NO_TIME)
		json_object_set_new(object, name, json_null());
	else
		put_text(object, name, timestamp_print(text, sizeof(text), us, 0));
}

static void put_line(json_t *object, const char *name, const struct audit_line *line)
{
	json_t *out = json_object();

	put_count(out, "n", line->n);
	put_number(out, "slope", line->slope);
	put_interval(out, "interval", line->lower, line->upper);
	put_number(out, "df", line->df);
	put_number(out, "p", line->p);
	json_object_set_new(object, name, out);
}

/* -- a meter's parts -------------------------------------------------------------------- */

static json_t *counts_json(const struct audit_counts *counts)
{
	json_t *out = json_object();

	put_count(out, "readings", counts->readings);
	put_count(out, "samples", counts->samples);
	put_count(out, "zeros", counts->zeros);
	put_count(out, "standards", counts->standards);
	put_count(out, "excluded", counts->excluded);
	put_count(out, "out_of_range", counts->out_of_range);
	put_count(out, "repeated", counts->repeated);
	put_count(out, "questioned", counts->questioned);
	put_count(out, "unlabelled", counts->unlabelled);
	put_count(out, "unmeasured", counts->unmeasured);
	return out;
}

static void put_moments(json_t *object, const char *name, const struct moments *moments)
{
	json_t *out = json_object();

	put_count(out, "n", moments->n);
	put_number(out, "mean", moments_mean(moments));
	put_number(out, "sd", moments_sd(moments));
	put_number(out, "min", moments->n > 0 ? moments->min : NAN);
	put_number(out, "max", moments->n > 0 ? moments->max : NAN);
	json_object_set_new(object, name, out);
}

static json_t *month_json(const struct audit_month *month)
{
	json_t *out = json_object();

	put_text(out, "month", when_month(month->from_us).text);
	json_object_set_new(out, "counts", counts_json(&month->counts));
	put_count(out, "sessions", month->sessions);
	put_count(out, "cups", month->spread.cups);
	put_number(out, "s_r_percent_tds", month->s_r);
	put_number(out, "df", month->spread.pooled.df);
	put_interval(out, "interval", month->lower, month->upper);
	put_flag(out, "step_limited", month->step_limited);
	put_moments(out, "zero_percent_tds", &month->zero);
	put_moments(out, "temp_c", &month->temp);
	return out;
}

static json_t *session_json(const struct audit_session *session)
{
	json_t *out = json_object();

	put_moment(out, "from", session->first_us);
	put_moment(out, "to", session->last_us);
	put_count(out, "first_reading", (uint64_t)session->first_id);
	put_count(out, "last_reading", (uint64_t)session->last_id);
	put_count(out, "run", (uint64_t)session->run);
	put_count(out, "readings", session->counts.readings);
	put_count(out, "excluded", session->counts.excluded);
	put_count(out, "cups", session->spread.cups);
	put_number(out, "s_r_percent_tds", pooled_sd(&session->spread.pooled));
	put_number(out, "df", session->spread.pooled.df);
	put_number(out, "zero_percent_tds", moments_mean(&session->zero));
	put_number(out, "zero_per_hour", session->zero_slope);
	put_number(out, "temp_min_c", session->temp.n > 0 ? session->temp.min : NAN);
	put_number(out, "temp_max_c", session->temp.n > 0 ? session->temp.max : NAN);
	return out;
}

static json_t *standard_json(const struct audit_standard *standard)
{
	json_t *out = json_object();

	put_number(out, "strength_percent", standard->strength);
	put_number(out, "index", standard->index);
	put_number(out, "u_percent", standard->u);
	put_count(out, "checks", standard->checks);
	put_count(out, "readings", standard->readings);
	put_count(out, "zeroed", standard->zeroed);
	put_number(out, "bias_percent", moments_mean(&standard->bias));
	put_interval(out, "interval", standard->lower, standard->upper);
	put_number(out, "u_bias_percent", standard->u_bias);
	put_number(out, "df", standard->df);
	put_number(out, "bias_without_zero_percent", moments_mean(&standard->shown));
	put_number(out, "sd_of_checks_percent", moments_sd(&standard->bias));
	put_number(out, "sd_within_checks_percent", pooled_sd(&standard->within.pooled));
	return out;
}

static json_t *signals_json(unsigned signals)
{
	json_t *out = json_array();

	for (unsigned bit = 1; bit <= AUDIT_EWMA; bit <<= 1)
		if (signals & bit)
			json_array_append_new(out, json_string(signal_words(bit)));
	return out;
}

static json_t *point_json(const struct audit_point *point)
{
	json_t *out = json_object();

	put_moment(out, "at", point->at_us);
	put_count(out, "reading", (uint64_t)point->id);
	put_number(out, "value", point->value);
	put_number(out, "score", point->score);
	put_number(out, "df", point->df);
	put_number(out, "moving_range", point->range);
	put_number(out, "upper", point->upper);
	put_number(out, "ewma", point->z);
	put_interval(out, "ewma_limits", point->z_lower, point->z_upper);
	json_object_set_new(out, "signals", signals_json(point->signals));
	return out;
}

static json_t *chart_json(const struct audit_chart *chart)
{
	json_t *out = json_object(), *points = json_array();

	put_text(out, "subject", audit_subject_name(chart->subject));
	if (chart->subject == AUDIT_STANDARD)
		put_number(out, "strength_percent", chart->strength);
	put_text(out, "unit", chart->subject == AUDIT_STANDARD ? "% sucrose" : "% TDS");
	put_count(out, "n", chart->n);
	put_count(out, "base", chart->base);
	put_number(out, "centre", chart->ewma.centre);
	put_number(out, "sigma", chart->sigma);
	put_interval(out, "limits", chart->lower, chart->upper);
	put_number(out, "moving_range_mean", chart->limits.mr_mean);
	put_number(out, "moving_range_limit", chart->limits.mr_upper);
	put_number(out, "pooled", chart->pooled);
	put_number(out, "pooled_df", chart->pooled_df);
	put_flag(out, "provisional", chart->provisional);
	put_flag(out, "step_limited", chart->step_limited);
	put_count(out, "told", chart->told);
	for (size_t i = 0; i < chart->n; i++)
		json_array_append_new(points, point_json(&chart->points[i]));
	json_object_set_new(out, "points", points);
	return out;
}

static json_t *effort_json(const struct audit_effort *effort)
{
	json_t *out = json_object(), *tried = json_array();

	put_number(out, "yield_points_per_percent_tds", effort->yield_per_tds);
	put_number(out, "reading_sd", effort->reading_sd);
	put_number(out, "load_sd", effort->load_sd);
	put_number(out, "weighing_u", effort->weighing_u);
	put_number(out, "brew_sd", effort->brew_sd);
	put_number(out, "total_sd", effort->total_sd);
	put_number(out, "share_meter_percent", effort->share_meter);
	put_number(out, "share_load_percent", effort->share_load);
	put_number(out, "share_weighing_percent", effort->share_weighing);
	put_number(out, "share_brewing_percent", effort->share_brew);
	put_number(out, "readings", effort->readings);
	put_count(out, "readings_worth_taking", effort->best);
	for (size_t i = 0; i < AUDIT_EFFORTS; i++) {
		json_t *one = json_object();

		put_count(one, "readings", effort->tried[i]);
		put_number(one, "sd", effort->sd[i]);
		json_array_append_new(tried, one);
	}
	json_object_set_new(out, "by_readings", tried);
	return out;
}

static json_t *zero_json(const struct audit_zero *zero)
{
	json_t *out = json_object();

	put_count(out, "checks", zero->checks);
	put_count(out, "readings", zero->readings);
	put_moments(out, "offset_percent_tds", &zero->offset);
	put_line(out, "per_hour", &zero->hourly);
	put_line(out, "per_month", &zero->monthly);
	put_number(out, "hours_to_step", zero->hours_to_step);
	return out;
}

static json_t *linearity_json(const struct audit_linearity *l)
{
	json_t *out = json_object();

	put_count(out, "strengths", l->strengths);
	put_line(out, "bias_over_strength", &l->line);
	put_number(out, "lack_of_fit_f", l->lack_f);
	put_number(out, "lack_of_fit_df1", l->lack_df1);
	put_number(out, "lack_of_fit_df2", l->lack_df2);
	put_number(out, "lack_of_fit_p", l->lack_p);
	put_number(out, "worst_percent", l->worst);
	return out;
}

static void put_repeatability(json_t *out, const struct audit_meter *meter)
{
	put_number(out, "s_r_percent_tds", meter->s_r);
	put_number(out, "df", meter->df);
	put_interval(out, "interval", meter->lower, meter->upper);
	put_count(out, "cups", meter->spread.cups);
	put_count(out, "equal_cups", meter->spread.equal_cups);
	put_number(out, "step_percent_tds", meter->step);
	put_number(out, "claimed_percent_tds", meter->claim.sd);
	put_flag(out, "step_limited", meter->claim.limited);
	put_number(out, "limit_percent_tds", meter->limit);
	put_moments(out, "temp_c", &meter->temp);
}

#define PUT_LIST(object, name, items, count, make)                        \
	do {                                                              \
		json_t *list_ = json_array();                             \
		for (size_t i_ = 0; i_ < (count); i_++)                   \
			json_array_append_new(list_, make(&(items)[i_])); \
		json_object_set_new(object, name, list_);                 \
	} while (0)

static json_t *meter_json(const struct audit_meter *meter)
{
	json_t *out = json_object();

	put_slice(out, "name", meter->name);
	put_moment(out, "from", meter->first_us);
	put_moment(out, "to", meter->last_us);
	json_object_set_new(out, "counts", counts_json(&meter->counts));
	put_count(out, "sessions_seen", meter->sessions_seen);
	put_repeatability(out, meter);
	json_object_set_new(out, "zero", zero_json(&meter->zero));
	PUT_LIST(out, "standards", meter->standards, meter->standard_count, standard_json);
	json_object_set_new(out, "linearity", linearity_json(&meter->linearity));
	json_object_set_new(out, "effort", effort_json(&meter->effort));
	PUT_LIST(out, "months", meter->months, meter->month_count, month_json);
	PUT_LIST(out, "sessions", meter->sessions, meter->session_count, session_json);
	PUT_LIST(out, "charts", meter->charts, meter->chart_count, chart_json);
	return out;
}

/* -- pairs, study, notes -------------------------------------------------------------------- */

static json_t *pair_json(const struct audit *audit, const struct audit_pair *pair)
{
	static const char *const verdicts[] = {
		[AUDIT_UNKNOWN] = "can't tell", [AUDIT_SAME] = "practically the same", [AUDIT_APART] = "apart"
	};
	json_t *out = json_object();

	put_slice(out, "first", audit->meters[pair->a].name);
	put_slice(out, "second", audit->meters[pair->b].name);
	put_count(out, "cups", pair->n);
	put_number(out, "bias_percent_tds", pair->bias);
	put_interval(out, "bias_interval", pair->bias_lower, pair->bias_upper);
	put_number(out, "sd_percent_tds", pair->sd);
	put_interval(out, "limits_of_agreement", pair->low, pair->high);
	put_interval(out, "lower_limit_interval", pair->low_lower, pair->low_upper);
	put_interval(out, "upper_limit_interval", pair->high_lower, pair->high_upper);
	put_line(out, "difference_over_mean", &pair->trend);
	put_number(out, "margin_percent_tds", pair->margin);
	put_text(out, "verdict", verdicts[pair->verdict]);
	return out;
}

static json_t *note_json(const struct audit *audit, const struct audit_note *note)
{
	static const char *const topics[] = {
		[AUDIT_TOPIC_METER] = "meter", [AUDIT_TOPIC_SIGNAL] = "signal", [AUDIT_TOPIC_DATA] = "data"
	};
	json_t *out = json_object();

	if (audit && note->meter < audit->meter_count)
		put_slice(out, "meter", audit->meters[note->meter].name);
	put_text(out, "topic", topics[note->topic]);
	put_text(out, "severity", severity_name(note->severity));
	put_slice(out, "text", slice_from(note->text));
	return out;
}

static json_t *part_json(const struct audit_gauge *gauge, enum gauge_part which)
{
	const struct gauge_part_result *part = &gauge->part[which];
	json_t *out = json_object();

	put_text(out, "between", gauge_part_name(which));
	put_number(out, "variance", part->var);
	put_number(out, "sd_percent_tds", part->sd);
	put_number(out, "df", part->df);
	put_interval(out, "interval", part->lower, part->upper);
	put_number(out, "share_percent", part->share);
	put_number(out, "share_of_meter_percent", part->share_meter);
	return out;
}

static json_t *levels_json(const struct audit_gauge *gauge)
{
	const struct gauge_levels *levels = &gauge->levels;
	json_t *out = json_object();

	put_number(out, "s1", levels->s1);
	put_number(out, "df1", levels->df1);
	put_number(out, "s2", levels->s2);
	put_number(out, "df2", levels->df2);
	put_number(out, "s3", levels->s3);
	put_number(out, "df3", levels->df3);
	put_number(out, "s_reading", levels->s_reading);
	return out;
}

static json_t *gauge_json(const struct audit_gauge *gauge)
{
	json_t *out = json_object(), *parts = json_array(), *notes = json_array();

	put_count(out, "loads", gauge->loads);
	put_count(out, "samples", gauge->samples);
	put_count(out, "operators", gauge->operators);
	put_count(out, "days", gauge->days);
	put_count(out, "readings", gauge->readings);
	put_number(out, "mean_percent_tds", gauge->mean);
	for (size_t part = 0; part < GAUGE_PARTS; part++)
		if (gauge->part[part].present)
			json_array_append_new(parts, part_json(gauge, (enum gauge_part)part));
	json_object_set_new(out, "components", parts);
	put_number(out, "s_gauge_percent_tds", gauge->s_gauge);
	put_number(out, "s_sample_percent_tds", gauge->s_sample);
	put_number(out, "share_gauge_percent", gauge->share_gauge);
	put_number(out, "categories", gauge->categories);
	json_object_set_new(out, "levels", levels_json(gauge));
	put_number(out, "u_mean_over_days", gauge->by_day.u_mean);
	put_flag(out, "step_limited", gauge->claim.limited);
	json_object_set_new(out, "effort", effort_json(&gauge->effort));
	for (size_t i = 0; i < gauge->note_count; i++)
		json_array_append_new(notes, note_json(NULL, &gauge->notes[i]));
	json_object_set_new(out, "notes", notes);
	return out;
}

static json_t *fault_json(const struct fault *fault)
{
	json_t *out = json_object();

	put_text(out, "severity", severity_name(fault->severity));
	if (fault->place.file)
		put_slice(out, "file", slice_from(fault->place.file));
	put_count(out, "line", fault->place.line);
	put_count(out, "column", fault->place.column);
	put_slice(out, "text", slice_from(fault->text));
	return out;
}

static void put_audit(json_t *out, const struct audit *audit)
{
	json_t *pairs = json_array(), *notes = json_array();

	put_number(out, "confidence", audit->query.confidence);
	put_number(out, "dose_g", audit->query.dose_g);
	put_number(out, "beverage_g", audit->query.beverage_g);
	PUT_LIST(out, "meters", audit->meters, audit->meter_count, meter_json);
	for (size_t i = 0; i < audit->pair_count; i++)
		json_array_append_new(pairs, pair_json(audit, &audit->pairs[i]));
	json_object_set_new(out, "pairs", pairs);
	for (size_t i = 0; i < audit->note_count; i++)
		json_array_append_new(notes, note_json(audit, &audit->notes[i]));
	json_object_set_new(out, "notes", notes);
	put_flag(out, "alarm", audit_alarm(audit));
}

char *audit_json(const struct audit *audit, const struct audit_gauge *gauge, const struct faults *faults,
                 const char *version)
{
	json_t *out = json_object();
	char *text;

	put_text(out, "program", "brewspread");
	put_text(out, "version", version);
	if (audit)
		put_audit(out, audit);
	if (gauge)
		json_object_set_new(out, "study", gauge_json(gauge));
	if (faults)
		PUT_LIST(out, "faults", faults->items, faults->count, fault_json);
	text = json_lined(out, JSON_INDENT(1), "\n");
	json_decref(out);
	return text;
}
