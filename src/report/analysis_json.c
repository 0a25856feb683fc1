/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "analysis_json.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "correct.h"
#include "json_put.h"
#include "timestamp.h"
#include "verdict_words.h"

static void put_time(json_t *object, const char *name, int64_t us)
{
	char text[TIMESTAMP_TEXT];

	put_text(object, name, us != READING_NO_TIME ? moment_print(text, sizeof(text), us, 6) : NULL);
}

/* -- parts ----------------------------------------------------------------- */

static json_t *json_reading(const struct analysis *analysis, size_t i)
{
	const struct reading *reading = &analysis->run->readings[i];
	static const char *const roles[] = { "sample", "zero", "standard" };
	json_t *object = json_object();
	struct correction correction;

	correct_steps(&correction, analysis, i);
	json_object_set_new(object, "id", json_integer(reading_id(reading)));
	put_slice(object, "label", reading->line->label);
	put_text(object, "role", roles[reading->role]);
	put_time(object, "taken", reading->line->taken_us);
	put_number(object, "shown", reading->value);
	put_count(object, "decimals", (size_t)reading->decimals);
	put_text(object, "unit", unit_name(correction.unit));
	put_number(object, "temp_c", reading->line->temp_c);
	put_number(object, "n_shown", correction.n_shown);
	put_number(object, "delta_n", correction.delta_n);
	put_number(object, "brix", correction.brix);
	put_number(object, "type_factor", correction.type_factor);
	put_number(object, "dilution_factor", correction.dilution_factor);
	put_number(object, "tds_percent", correction.tds_percent);
	json_object_set_new(object, "used", json_boolean(reading_used(reading) && isfinite(correction.tds_percent)));
	put_count(object, "flags", reading->flags);
	put_count(object, "correction_flags", correction.flags);
	if (reading->line->note.len > 0)
		put_slice(object, "note", reading->line->note);
	put_slice(object, "raw", reading->line->raw);
	return object;
}

static json_t *json_budget(const struct brew_result *brew)
{
	json_t *object = json_object();

	put_number(object, "u", brew->budget.u);
	put_number(object, "u_own", brew->budget.u_own);
	put_number(object, "u_common", brew->budget.u_common);
	put_number(object, "df", brew->budget.df);
	put_number(object, "coverage", brew->budget.coverage);
	put_number(object, "expanded", brew->budget.expanded);
	return object;
}

static json_t *json_brew(const struct analysis *analysis, size_t b)
{
	const struct brew *brew = &analysis->run->brews[b];
	const struct brew_result *result = &analysis->brews[b];
	json_t *object = json_object();

	put_slice(object, "label", brew->label);
	put_slice(object, "treatment", analysis->run->treatments[brew->treatment].name);
	put_count(object, "readings", result->count);
	put_count(object, "readings_used", result->used);
	put_number(object, "tds_percent", result->tds_percent);
	put_number(object, "tds_sd", result->tds_sd);
	put_number(object, "mandel_k", result->used > result->meters ? result->mandel_k : NAN);
	put_number(object, "mandel_h", result->mandel_h);
	put_number(object, "tds_drift", result->tds_drift);
	put_number(object, "temp_c", result->temp_c);
	put_number(object, "dose_g", brew->number[BREW_DOSE_G]);
	put_number(object, "water_g", brew->number[BREW_WATER_G]);
	put_number(object, "beverage_g", result->yield.beverage_used_g);
	put_number(object, "yield_percent", result->yield.yield_percent);
	put_number(object, "yield_dry_percent", result->yield.yield_dry_percent);
	put_number(object, "retained_water_per_g", result->yield.retained_water_per_g);
	put_number(object, "response", result->response);
	put_text(object, "why", result->why);
	put_count(object, "flags", result->flags);
	put_slice(object, "notes", brew->word[BREW_NOTES]);
	json_object_set_new(object, "uncertainty", json_budget(result));
	return object;
}

static json_t *json_apart(const struct apart *apart)
{
	json_t *object = json_object();

	put_number(object, "grubbs", apart->grubbs);
	put_number(object, "grubbs_5_percent", apart->grubbs_5);
	put_number(object, "grubbs_1_percent", apart->grubbs_1);
	put_number(object, "grubbs_double", apart->pair);
	put_number(object, "grubbs_double_5_percent", apart->pair_5);
	put_number(object, "grubbs_double_1_percent", apart->pair_1);
	put_number(object, "mandel_h_largest", apart->h_most);
	put_number(object, "mandel_h_5_percent", apart->h_5);
	put_number(object, "mandel_h_1_percent", apart->h_1);
	return object;
}

static json_t *json_treatment(const struct analysis *analysis, size_t t)
{
	const struct treatment_result *result = &analysis->treatments[t];
	json_t *object = json_object();

	put_slice(object, "name", analysis->run->treatments[t].name);
	put_count(object, "brews", result->brews);
	put_number(object, "mean", result->mean);
	put_number(object, "mean_adjusted_for_rounds", result->adjusted);
	put_number(object, "sd", result->sd);
	put_interval(object, "interval", result->lower, result->upper);
	put_number(object, "tds_percent", result->tds_percent);
	put_number(object, "retained_water_per_g", result->retained_per_g);
	put_number(object, "brew_time_s", result->brew_time_s);
	put_text(object, "letters", result->letters);
	json_object_set_new(object, "apart", json_apart(&result->apart));
	return object;
}

static json_t *json_pair(const struct analysis *analysis, const struct pair_result *pair, size_t settle)
{
	json_t *object = json_object();

	put_slice(object, "a", analysis->run->treatments[pair->a].name);
	put_slice(object, "b", analysis->run->treatments[pair->b].name);
	put_number(object, "difference", pair->difference);
	put_number(object, "standard_error", pair->standard_error);
	put_number(object, "df", pair->df);
	put_number(object, "statistic", pair->statistic);
	put_number(object, "p", pair->p);
	put_interval(object, "interval", pair->lower, pair->upper);
	put_interval(object, "same_interval", pair->same_lower, pair->same_upper);
	put_text(object, "verdict", verdict_word(pair->verdict));
	json_object_set_new(object, "small", json_boolean(pair->small));
	if (settle > 0)
		put_count(object, "brews_to_settle", settle);
	return object;
}

static json_t *json_pairs(const struct analysis *analysis, const struct pair_result *pairs, const size_t *settle,
                          size_t count)
{
	json_t *array = json_array();

	for (size_t i = 0; pairs && i < count; i++)
		json_array_append_new(array, json_pair(analysis, &pairs[i], settle ? settle[i] : 0));
	return array;
}

static void put_row(json_t *object, const char *name, const struct blocks_row *row)
{
	json_t *line = json_object();

	put_number(line, "df", row->df);
	put_number(line, "ss", row->ss);
	put_number(line, "ms", row->ms);
	put_number(line, "f", row->f);
	put_number(line, "p", row->p);
	json_object_set_new(object, name, line);
}

static json_t *json_comparison(const struct analysis *analysis)
{
	static const char *const sources[] = { "none", "run", "history" };
	const struct comparison *c = &analysis->comparison;
	json_t *object = json_object();

	put_text(object, "response", c->response.name);
	put_text(object, "unit", c->response.unit);
	put_number(object, "margin", c->response.margin);
	put_text(object, "spread_from", sources[c->source]);
	put_number(object, "spread", c->s_brew);
	put_number(object, "spread_df", c->s_brew_df);
	put_number(object, "step_u", c->step_u);
	put_number(object, "scale_u", c->scale_u);
	put_interval(object, "spread_interval", c->s_brew_lower, c->s_brew_upper);
	put_number(object, "ss_treatments", c->oneway.ss_between);
	put_number(object, "ss_brews", c->oneway.ss_within);
	put_number(object, "df_treatments", c->oneway.df_between);
	put_number(object, "df_brews", c->oneway.df_within);
	put_number(object, "f", c->oneway.f);
	put_number(object, "p", c->oneway.p);
	json_object_set_new(object, "rounds", json_boolean(c->blocked));
	if (c->blocked) {
		json_object_set_new(object, "rounds_adjust_differences", json_boolean(c->block_adjusted));
		put_row(object, "rounds_row", &c->block_row);
		put_row(object, "treatments_row", &c->treatment_row);
		put_row(object, "residual_row", &c->residual_row);
	}
	if (analysis->components.known) {
		const struct components *parts = &analysis->components;

		put_text(object, "components_by",
		         parts->by_reml ? "restricted maximum likelihood" : "analysis of variance");
		put_number(object, "component_brew", parts->brew.variance);
		put_interval(object, "component_brew_interval", parts->brew.lower, parts->brew.upper);
		put_number(object, "component_reading", parts->reading.variance);
		put_interval(object, "component_reading_interval", parts->reading.lower, parts->reading.upper);
		put_number(object, "component_brew_df", parts->brew.df);
		put_number(object, "component_reading_df", parts->reading.df);
		put_number(object, "readings_each", parts->readings_each);
		put_number(object, "brew_share_percent", parts->brew.share);
		put_interval(object, "brew_share_interval", parts->share_lower, parts->share_upper);
	}
	put_number(object, "mandel_h_limit", c->h_limit);
	put_number(object, "levene_p", c->levene_p);
	put_number(object, "welch_p", c->welch_p);
	put_number(object, "smallest_difference_found", c->smallest_seen);
	put_number(object, "meter_limit", c->meter_limit);
	json_object_set_new(object, "pairs_limited", json_boolean(c->pairs_limited));
	json_object_set_new(object, "pairs", json_pairs(analysis, c->pairs, c->settle, c->pair_count));
	if (c->against_count > 0) {
		put_slice(object, "control", analysis->run->treatments[c->control].name);
		json_object_set_new(object, "against_control",
		                    json_pairs(analysis, c->against, c->against_settle, c->against_count));
	}
	if (c->unequal)
		json_object_set_new(object, "pairs_unequal_spreads",
		                    json_pairs(analysis, c->unequal, NULL, c->pair_count));
	return object;
}

static json_t *json_repeatability(const struct analysis *analysis)
{
	const struct repeatability *r = &analysis->repeatability;
	json_t *object = json_object();

	put_number(object, "s_r", r->s_r);
	put_number(object, "df", r->df);
	put_interval(object, "interval", r->lower, r->upper);
	put_number(object, "limit", r->limit);
	put_number(object, "step", r->step);
	put_number(object, "claimed", r->claimed);
	json_object_set_new(object, "step_limited", json_boolean(r->step_limited));
	put_number(object, "yield_s_r", r->yield_s_r);
	put_number(object, "yield_limit", r->yield_limit);
	put_number(object, "cochran", r->cochran);
	put_number(object, "cochran_5_percent", r->cochran_5);
	put_number(object, "cochran_1_percent", r->cochran_1);
	put_number(object, "mandel_k_limit_5_percent", r->k_limit_5);
	put_number(object, "mandel_k_limit", r->k_limit);
	put_number(object, "drift_per_reading", r->drift);
	put_number(object, "drift_p", r->drift_p);
	return object;
}

static json_t *json_zeros(const struct analysis *analysis)
{
	json_t *array = json_array();

	for (size_t i = 0; i < analysis->zero_count; i++) {
		const struct zero_check *zero = &analysis->zeros[i];
		const struct reading *reading = &analysis->run->readings[zero->reading];
		json_t *object = json_object();

		json_object_set_new(object, "reading", json_integer(reading_id(reading)));
		put_time(object, "taken", reading->line->taken_us);
		put_number(object, "offset_percent_tds", zero->tds_percent);
		json_array_append_new(array, object);
	}
	return array;
}

/* Of one brew's yield, the one nearest to the run's mean. */
static json_t *json_budget_rows(const struct analysis *analysis)
{
	json_t *object = json_object(), *rows = json_array();

	if (analysis->budget_row_count > 0)
		put_slice(object, "brew", analysis->run->brews[analysis->budget_brew].label);
	else
		put_text(object, "brew", NULL);
	put_number(object, "u_by_simulation", analysis->montecarlo_u);
	for (size_t i = 0; i < analysis->budget_row_count; i++) {
		const struct budget_row *row = &analysis->budget_rows[i];
		json_t *line = json_object();

		put_text(line, "source", row->name);
		put_number(line, "u", row->u);
		put_text(line, "unit", row->unit);
		put_number(line, "points", row->points);
		put_number(line, "share_percent", row->share);
		json_object_set_new(line, "common", json_boolean(row->common));
		json_array_append_new(rows, line);
	}
	json_object_set_new(object, "sources", rows);
	return object;
}

static json_t *json_sentences(const struct analysis *analysis)
{
	static const char *const topics[TOPICS] = { "result", "meter", "fairness", "data", "covariate" };
	json_t *array = json_array();

	for (size_t i = 0; i < analysis->sentence_count; i++) {
		const struct sentence *sentence = &analysis->sentences[i];
		json_t *object = json_object();

		put_text(object, "topic", topics[sentence->topic]);
		put_text(object, "severity", severity_name(sentence->severity));
		put_slice(object, "text", slice_from(sentence->text));
		put_number(object, "size", sentence->size);
		json_array_append_new(array, object);
	}
	return array;
}

static json_t *json_covariates(const struct analysis *analysis)
{
	json_t *array = json_array();

	for (size_t i = 0; i < analysis->covariate_count; i++) {
		const struct covariate *covariate = &analysis->covariates[i];
		json_t *object = json_object();

		put_slice(object, "column", analysis->run->columns[covariate->column].name);
		put_count(object, "treatments", covariate->n);
		put_number(object, "pearson", covariate->pearson);
		put_number(object, "pearson_p", covariate->pearson_p);
		put_number(object, "spearman", covariate->spearman);
		put_number(object, "spearman_p", covariate->spearman_p);
		put_number(object, "kendall", covariate->kendall);
		put_number(object, "kendall_p", covariate->kendall_p);
		put_number(object, "holm_p", covariate->holm_p);
		put_number(object, "smallest_p", covariate->smallest_p);
		put_number(object, "slope", covariate->slope);
		put_number(object, "intercept", covariate->intercept);
		json_array_append_new(array, object);
	}
	return array;
}

static json_t *json_faults(const struct faults *faults)
{
	json_t *array = json_array();

	for (size_t i = 0; i < faults->count; i++) {
		const struct fault *fault = &faults->items[i];
		json_t *object = json_object();

		if (fault->place.file)
			put_slice(object, "file", slice_from(fault->place.file));
		else
			put_text(object, "file", NULL);
		put_count(object, "line", fault->place.line);
		put_count(object, "column", fault->place.column);
		put_text(object, "severity", severity_name(fault->severity));
		put_slice(object, "text", slice_from(fault->text));
		json_array_append_new(array, object);
	}
	return array;
}

static json_t *json_list(const struct analysis *analysis, size_t count,
                         json_t *(*of)(const struct analysis *analysis, size_t index))
{
	json_t *array = json_array();

	for (size_t i = 0; i < count; i++)
		json_array_append_new(array, of(analysis, i));
	return array;
}

/* Takes the object. */
static char *ended_text(json_t *object)
{
	char *text = json_lined(object, JSON_INDENT(1) | JSON_REAL_PRECISION(17), "\n");

	json_decref(object);
	return text;
}

char *faults_json(const struct analysis *analysis, const struct faults *faults, const char *version)
{
	json_t *object = json_object();

	put_text(object, "program", "brewspread");
	put_text(object, "version", version);
	json_object_set_new(object, "faults", json_faults(faults));
	put_count(object, "faults_beyond", faults->beyond);
	if (analysis) {
		put_slice(object, "run", analysis->run->name);
		put_count(object, "brews", analysis->run->brew_count);
		put_count(object, "treatments", analysis->run->treatment_count);
		put_count(object, "readings", analysis->run->reading_count);
		put_count(object, "readings_used", analysis->readings_used);
		json_object_set_new(object, "sentences", json_sentences(analysis));
	}
	return ended_text(object);
}

char *analysis_json(const struct analysis *analysis, const struct faults *faults, const char *version)
{
	json_t *object = json_object();

	put_text(object, "program", "brewspread");
	put_text(object, "version", version);
	put_slice(object, "run", analysis->run->name);
	put_number(object, "seed", analysis->settings->seed);
	put_number(object, "confidence", analysis->settings->confidence);
	json_object_set_new(object, "comparison", json_comparison(analysis));
	json_object_set_new(object, "treatments", json_list(analysis, analysis->run->treatment_count, json_treatment));
	json_object_set_new(object, "brews", json_list(analysis, analysis->run->brew_count, json_brew));
	json_object_set_new(object, "repeatability", json_repeatability(analysis));
	json_object_set_new(object, "zeros", json_zeros(analysis));
	json_object_set_new(object, "uncertainty", json_budget_rows(analysis));
	json_object_set_new(object, "covariates", json_covariates(analysis));
	json_object_set_new(object, "sentences", json_sentences(analysis));
	json_object_set_new(object, "readings", json_list(analysis, analysis->run->reading_count, json_reading));
	json_object_set_new(object, "faults", json_faults(faults));
	return ended_text(object);
}
