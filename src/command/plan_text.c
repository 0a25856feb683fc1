/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text.h"

enum { NAME_WIDE = 30 };

/* -- the plan -------------------------------------------------------------------------- */

void plan_text_brews(const struct run_plan *plan)
{
	printf("round  brew  code  treatment\n");
	for (size_t i = 0; i < plan->brew_count; i++) {
		const struct planned_brew *brew = &plan->brews[i];

		printf("%5zu  %-4s  %4s  %.*s%s\n", brew->round + 1, brew->label, brew->code,
		       SLICE_ARG(plan->treatments[brew->treatment]),
		       brew->treatment == plan->control ? " (control)" : "");
	}
}

void plan_text_notes(const struct run_plan *plan)
{
	for (size_t i = 0; i < plan->note_count; i++)
		printf("%s: %s\n", severity_name(plan->notes[i].severity), plan->notes[i].text);
}

/* -- how many ---------------------------------------------------------------------------- */

static bool asks_for_brews(const struct effort_table *table)
{
	return !isnan(table->question.difference);
}

static void print_question(const struct effort_table *table)
{
	const struct effort_question *question = &table->question;
	const struct effort_query *query = &question->query;

	if (asks_for_brews(table))
		printf("How many brews find a difference of %g yield points between two of %zu treatments?\n",
		       question->difference, query->treatments);
	else
		printf("Which difference do %zu brews of each of %zu treatments find, %zu reading%s of each?\n",
		       question->brews, query->treatments, question->readings, question->readings == 1 ? "" : "s");
	printf("Chance %g that the pair in question is found to differ; %g that any equal pair is. A brew costs %g, a "
	       "reading %g.\n",
	       query->power, query->alpha, query->brew_cost, query->reading_cost);
}

static void print_spreads(const struct effort_table *table)
{
	const struct effort_spread *spread = &table->question.query.spread;

	if (table->known) {
		printf("Spread between brews %.3g, between readings of one cup %.3g yield points (%s).\n",
		       spread->brew_sd, spread->reading_sd, spread->source);
		return;
	}
	printf("NOT MEASURED: %s.\n"
	       "The lines below are examples, no more; a run with two brews or more of each treatment shows your own.\n"
	       "(A scatter of 0.01 %% TDS is 0.15 yield points where the beverage weighs 15 times the dose.)\n",
	       spread->brew_sd >= 0    ? "the spread between readings is not known" :
	       spread->reading_sd >= 0 ? "the spread between brews is not known" :
	                                 "neither the spread between brews nor that between readings is known");
	if (strcmp(spread->source, "given") != 0)
		printf("(Looked at: %s.)\n", spread->source);
}

/* A number of brews, or what stands for none. */
static void print_brews(const struct effort *effort)
{
	if (effort->brews > 0)
		printf("%7zu", effort->brews);
	else
		printf("%7s", ">10000");
}

/* Brews, readings and cost. */
static void print_effort(const struct effort *effort)
{
	print_brews(effort);
	if (effort->brews > 0)
		printf(" %8zu %8.7g", effort->readings, effort->cost);
	else
		printf(" %8s %8s", "-", "-");
}

static void print_answer(const struct effort_table *table, const struct effort *effort)
{
	if (asks_for_brews(table))
		print_brews(effort);
	else
		printf("%7.2f", effort->difference);
}

static bool shows(const struct effort_table *table, enum effort_family family)
{
	return table->more_families || family == EFFORT_ONE_PAIR;
}

static void print_families(const struct effort_table *table)
{
	const struct effort_line *line = &table->lines[0];

	if (asks_for_brews(table))
		printf("\n%-28s %25s   %25s\n%-28s %7s %8s %8s   %7s %8s %8s\n", "", "cheapest", "readings as set",
		       "compared", "brews", "readings", "cost", "brews", "readings", "cost");
	else
		printf("\n%-28s %8s %8s\n", "compared", "points", "cost");
	for (int i = 0; i < EFFORT_FAMILIES; i++) {
		enum effort_family family = (enum effort_family)i;
		const struct effort *asked = &line->asked[i], *cheapest = &line->cheapest[i];

		if (!shows(table, family))
			continue;
		printf("%-28s ", effort_family_name(family));
		if (asks_for_brews(table)) {
			print_effort(cheapest);
			printf("   ");
			print_effort(asked);
		} else {
			printf("%8.2f %8.7g", asked->difference, asked->cost);
		}
		printf("%s\n",
		       table->more_families && family == table->question.query.family ? "  < the report's" : "");
	}
}

static void print_examples(const struct effort_table *table)
{
	printf("\n%s, with %zu reading%s of each cup:\n", asks_for_brews(table) ? "Brews of each" : "Points",
	       table->question.readings, table->question.readings == 1 ? "" : "s");
	printf("%7s %9s  %9s", "brew sd", "reading sd", "one pair");
	printf(table->more_families ? " %9s %9s\n" : "\n", "control", "all pairs");
	for (size_t i = 0; i < table->line_count; i++) {
		const struct effort_line *line = &table->lines[i];

		printf("%7g %10g ", line->spread.brew_sd, line->spread.reading_sd);
		for (int family = 0; family < EFFORT_FAMILIES; family++)
			if (shows(table, (enum effort_family)family)) {
				printf("   ");
				print_answer(table, &line->asked[family]);
			}
		printf("\n");
	}
}

static void print_splits(const struct effort_table *table)
{
	const struct effort *cheapest = &table->lines[0].cheapest[table->question.query.family];

	if (table->split_count == 0 || cheapest->brews == 0)
		return;
	printf("\n%s, by readings of each cup; for these costs %.2f would be best:\n%7s %8s %8s %8s\n",
	       effort_family_name(table->question.query.family), table->readings_real, "brews", "readings", "cost",
	       "power");
	for (size_t i = 0; i < table->split_count; i++) {
		if (table->splits[i].brews == 0)
			continue;
		print_effort(&table->splits[i]);
		printf(" %8.3f\n", table->splits[i].power);
	}
	if (cheapest->readings == 1)
		printf("One reading of each cup leaves the spread between readings unknown: take two of some.\n");
}

static void print_cautious(const struct effort_table *table)
{
	const struct effort *effort = &table->cautious.asked[table->question.query.family];

	if (!table->has_cautious)
		return;
	printf("Known from few brews, the spreads may be larger. At their one-sided %g %% limits, %.2g and %.2g, it is ",
	       100 * EFFORT_CAUTION, table->cautious.spread.brew_sd, table->cautious.spread.reading_sd);
	if (asks_for_brews(table))
		printf("%zu brews of each.\n", effort->brews);
	else
		printf("%.2f points.\n", effort->difference);
}

void plan_text_effort(const struct effort_table *table)
{
	print_question(table);
	print_spreads(table);
	if (!table->known) {
		print_examples(table);
		return;
	}
	print_families(table);
	print_splits(table);
	print_cautious(table);
}

/* -- the check standard -------------------------------------------------------------------- */

static int decimals_of_step(double step_g)
{
	return step_g >= 1 ? 0 : (int)ceil(-log10(step_g) - 1e-9);
}

/* "  name      value": printf() would count bytes, and a degree sign has two. */
static void print_name(const char *name)
{
	int wide = (int)utf8_count(slice_from(name));

	printf("  %s%*s ", name, wide < NAME_WIDE ? NAME_WIDE - wide : 0, "");
}

void plan_text_standard(const struct check_standard *standard)
{
	const struct check_standard_query *query = &standard->query;
	int decimals = decimals_of_step(query->scale_step_g);
	char name[64];

	printf("To make %g g of check standard, dissolve\n", query->total_g);
	print_name("sucrose");
	printf("%.*f g\n", decimals, standard->sucrose_g);
	print_name("distilled water");
	printf("%.*f g\n", decimals, standard->water_g);
	printf("It then has\n");
	print_name("strength");
	printf("%.3f %% sucrose (Brix)\n", standard->strength_percent);
	print_name("known to");
	printf("± %.3f %% (95 %%), %.0f %% of the variance from weighing the sugar\n", standard->strength_expanded,
	       standard->sucrose_share);
	print_name("refractive index at 20 °C");
	printf("%.6f ± %.6f\n", standard->index_20, standard->index_expanded);
	if (query->temp_c != 20) {
		snprintf(name, sizeof(name), "refractive index at %.6g °C", query->temp_c);
		print_name(name);
		printf("%.6f ± %.6f\n", standard->index, standard->index_expanded);
	}
	print_name("on a meter's coffee scale");
	printf("%.2f %% TDS\n", standard->tds_percent);
	printf("Each mass is taken as known to a standard uncertainty of %.2g g%s.\n", standard->mass_u_g,
	       isnan(query->scale_accuracy_g) ? " (the display's step alone: --scale-step, --scale-accuracy)" : "");
	if (standard->strength_expanded > CHECK_STANDARD_AIM)
		printf("To know it to %g %%, make %.0f g, or use scales with a finer step.\n", CHECK_STANDARD_AIM,
		       ceil(standard->total_for_aim_g));
	printf("\nPlain white sugar will do if it is dry; weigh it first, add the water by weight, stir until clear.\n"
	       "How long it keeps (common practice, no source): make it fresh, at best the same day; keep it covered, for\n"
	       "it dries up and reads high, and cold; let it come back to the meter's temperature, covered, before use.\n"
	       "Discard it when it is cloudy, mouldy, smells, or reads otherwise than it did when new. Label it with the\n"
	       "date and \"not for drinking\"; wipe up spills, sugar glues prisms and lids.\n");
}
