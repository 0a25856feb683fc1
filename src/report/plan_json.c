/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_json.h"

#include <stdlib.h>
#include <string.h>

#include "json_put.h"

/* -- the plan -------------------------------------------------------------------------- */

static const char *design_name(enum plan_design design)
{
	switch (design) {
	case PLAN_TOGETHER:
		return "together";
	case PLAN_IN_TURN:
		return "in turn";
	case PLAN_BALANCED:
		return "balanced incomplete";
	case PLAN_EVENED:
		return "evened incomplete";
	}
	return "";
}

static void put_range(json_t *object, const char *name, const struct count_range *range)
{
	json_t *both = json_object();

	put_count(both, "lowest", range->lowest);
	put_count(both, "highest", range->highest);
	json_object_set_new(object, name, both);
}

static json_t *brews_json(const struct run_plan *plan)
{
	json_t *list = json_array();

	for (size_t i = 0; i < plan->brew_count; i++) {
		const struct planned_brew *brew = &plan->brews[i];
		const struct slice *name = &plan->treatments[brew->treatment];
		json_t *item = json_object();

		put_text(item, "brew", brew->label);
		json_object_set_new(item, "treatment", json_stringn(name->text, name->len));
		put_count(item, "block", brew->round + 1);
		put_count(item, "order", i + 1);
		put_count(item, "place_in_block", brew->position + 1);
		put_text(item, "code", brew->code);
		json_array_append_new(list, item);
	}
	return list;
}

static json_t *notes_json(const struct run_plan *plan)
{
	json_t *list = json_array();

	for (size_t i = 0; i < plan->note_count; i++) {
		json_t *item = json_object();

		put_text(item, "severity", severity_name(plan->notes[i].severity));
		put_text(item, "text", plan->notes[i].text);
		json_array_append_new(list, item);
	}
	return list;
}

static json_t *targets_json(const struct plan_targets *targets)
{
	json_t *object = json_object();

	put_text(object, "dose_g", targets->dose_g);
	put_text(object, "water_g", targets->water_g);
	put_text(object, "water_temp_c", targets->temp_c);
	put_text(object, "grind", targets->grind);
	put_text(object, "brew_time", targets->time);
	put_text(object, "method", targets->method);
	put_text(object, "sample_type", targets->sample_type);
	put_count(object, "readings", targets->readings);
	return object;
}

static json_t *balance_json(const struct plan_balance *balance)
{
	json_t *object = json_object();

	put_range(object, "block_size", &balance->rounds.block_size);
	put_range(object, "meetings_of_a_pair", &balance->rounds.pairs);
	put_count(object, "pairs_never_in_one_block", balance->rounds.pairs_never);
	put_range(object, "times_in_a_place", &balance->positions);
	put_range(object, "times_after_another", &balance->following);
	put_count(object, "linked_groups", balance->parts);
	put_count(object, "blocks_of_one", balance->alone);
	put_number(object, "efficiency", balance->rounds.efficiency);
	return object;
}

static json_t *run_json(const struct run_plan *plan, const struct plan_targets *targets)
{
	json_t *object = json_object(), *treatments = json_array();

	for (size_t i = 0; i < plan->treatment_count; i++)
		json_array_append_new(treatments, json_stringn(plan->treatments[i].text, plan->treatments[i].len));
	json_object_set_new(object, "treatments", treatments);
	put_text(object, "control", plan->control == SIZE_MAX ? NULL : plan->treatments[plan->control].text);
	put_count(object, "brews_of_each", plan->brews_each);
	put_count(object, "at_once", plan->at_once);
	put_count(object, "seed", (size_t)plan->seed);
	put_text(object, "design", design_name(plan->design));
	put_count(object, "blocks", plan->rounds);
	json_object_set_new(object, "targets", targets_json(targets));
	json_object_set_new(object, "balance", balance_json(&plan->balance));
	json_object_set_new(object, "notes", notes_json(plan));
	json_object_set_new(object, "brews", brews_json(plan));
	return object;
}

/* -- how many ---------------------------------------------------------------------------- */

static json_t *effort_json(const struct effort *effort)
{
	json_t *object;

	if (effort->brews == 0)
		return json_null();
	object = json_object();
	put_count(object, "brews_of_each", effort->brews);
	put_count(object, "readings_of_each", effort->readings);
	put_number(object, "difference", effort->difference);
	put_number(object, "power", effort->power);
	put_number(object, "cost", effort->cost);
	return object;
}

static json_t *families_json(const struct effort efforts[EFFORT_FAMILIES])
{
	json_t *object = json_object();

	json_object_set_new(object, "one_pair", effort_json(&efforts[EFFORT_ONE_PAIR]));
	json_object_set_new(object, "control", effort_json(&efforts[EFFORT_CONTROL]));
	json_object_set_new(object, "all_pairs", effort_json(&efforts[EFFORT_ALL_PAIRS]));
	return object;
}

static json_t *line_json(const struct effort_line *line)
{
	json_t *object = json_object();

	put_number(object, "brew_sd", line->spread.brew_sd);
	put_number(object, "reading_sd", line->spread.reading_sd);
	json_object_set_new(object, "asked", families_json(line->asked));
	json_object_set_new(object, "cheapest", families_json(line->cheapest));
	return object;
}

static json_t *table_json(const struct effort_table *table)
{
	const struct effort_query *query = &table->question.query;
	json_t *object = json_object(), *lines = json_array(), *splits = json_array();

	put_count(object, "treatments", query->treatments);
	put_text(object, "family", effort_family_name(query->family));
	put_number(object, "power", query->power);
	put_number(object, "alpha", query->alpha);
	put_number(object, "difference", table->question.difference);
	put_count(object, "readings_of_each", table->question.readings);
	json_object_set_new(object, "spreads_known", json_boolean(table->known));
	put_text(object, "source", query->spread.source);
	put_number(object, "best_readings", table->readings_real);
	for (size_t i = 0; i < table->line_count; i++)
		json_array_append_new(lines, line_json(&table->lines[i]));
	json_object_set_new(object, "lines", lines);
	json_object_set_new(object, "cautious", table->has_cautious ? line_json(&table->cautious) : json_null());
	for (size_t i = 0; i < table->split_count; i++)
		json_array_append_new(splits, effort_json(&table->splits[i]));
	json_object_set_new(object, "by_readings", splits);
	return object;
}

/* -- the check standard -------------------------------------------------------------------- */

static json_t *standard_json(const struct check_standard *standard)
{
	json_t *object = json_object();

	put_number(object, "sucrose_g", standard->sucrose_g);
	put_number(object, "water_g", standard->water_g);
	put_number(object, "mass_u_g", standard->mass_u_g);
	put_number(object, "brix", standard->strength_percent);
	put_number(object, "brix_u", standard->strength_u);
	put_number(object, "brix_expanded", standard->strength_expanded);
	put_number(object, "index_20", standard->index_20);
	put_number(object, "temp_c", standard->query.temp_c);
	put_number(object, "index", standard->index);
	put_number(object, "index_expanded", standard->index_expanded);
	return object;
}

char *plan_json(const struct plan_answers *answers, const char *version)
{
	json_t *object = json_object();
	char *text;

	put_text(object, "version", version);
	if (answers->plan)
		json_object_set_new(object, "plan", run_json(answers->plan, answers->targets));
	if (answers->effort)
		json_object_set_new(object, "effort", table_json(answers->effort));
	if (answers->standard)
		json_object_set_new(object, "standard", standard_json(answers->standard));
	text = json_lined(object, JSON_INDENT(1) | JSON_REAL_PRECISION(17), "\n");
	json_decref(object);
	return text;
}
