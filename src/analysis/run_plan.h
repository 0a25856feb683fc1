/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * run_plan.h: what to brew when: the plan of a comparison run, drawn from a seed.
 *
 * Brews are made in rounds of as many as can be brewed at once, no treatment twice in a round, so that whatever
 * changes from round to round (water in the kettle, age of the coffee) falls on all of a round's treatments alike.
 *
 *   all treatments fit into a round   every round holds each once. Within a round the order follows the rows of a
 *                                     Williams design up to 12 treatments (every place equally often, every
 *                                     treatment after every other equally often, once there are enough rounds),
 *                                     above that of a Latin square
 *   one brew at a time                the same, brewed one after the other
 *   they don't fit                    a balanced incomplete block design where one is known for that many brews
 *                                     of each (all pairs for rounds of two); else rounds whose pairs are evened
 *                                     out by random exchanges, and how far that got is told
 *
 * Treatments are put into the design by lot, so each is as likely in any place as any other. Sources: designs.h.
 */
#ifndef BREWSPREAD_RUN_PLAN_H
#define BREWSPREAD_RUN_PLAN_H

#include <stdint.h>

#include "arena.h"
#include "block_checks.h"
#include "faults.h"
#include "status.h"

enum {
	PLAN_BREWS_MOST = 500, /* in all: so many three-digit codes can be told apart by anybody */
	PLAN_CODES = 585,      /* codes there are */
	PLAN_LABEL = 8,
	PLAN_CODE = 4,
};

struct run_plan_query {
	const struct slice *treatments; /* at least two, all different, letter case aside; lent */
	size_t treatment_count;
	size_t brews;   /* of each, at least 1 */
	size_t at_once; /* brews that can be made at the same time, at least 1 */
	size_t control; /* index of a treatment; SIZE_MAX: none */
	uint64_t seed;
};

enum plan_design {
	PLAN_TOGETHER, /* every treatment once a round, at the same time */
	PLAN_IN_TURN,  /* … one after the other */
	PLAN_BALANCED, /* fewer a round; every two treatments meet equally often */
	PLAN_EVENED,   /* fewer a round; as evenly as exchanges got */
};

struct planned_brew {
	char label[PLAN_LABEL]; /* "B07": the place in the order; says nothing of the treatment */
	char code[PLAN_CODE];   /* "417": for tasters */
	size_t treatment;
	size_t round;    /* from 0 */
	size_t position; /* within the round, from 0 */
};

/* How even the plan is, and where it is worst. */
struct plan_balance {
	struct design_check rounds;   /* block_checks.h */
	struct count_range positions; /* a treatment in a place of a round */
	struct count_range following; /* a treatment right after another, within rounds */
	size_t parts; /* groups of treatments linked through rounds; more than 1: some differences hang on rounds */
	size_t alone; /* rounds of a single brew */
	size_t even_brews; /* fewest brews of each with which every two treatments meet equally often; 0: not known */
};

/* What is to be known about a plan, in plain words. */
struct plan_note {
	enum severity severity;
	const char *text;
};

enum { PLAN_NOTES = 16 };

struct run_plan {
	struct slice *treatments; /* copies */
	size_t treatment_count;
	size_t brews_each;
	size_t at_once;
	size_t control; /* SIZE_MAX: none */
	uint64_t seed;
	enum plan_design design;
	struct planned_brew *brews; /* in the order of brewing */
	size_t brew_count;
	size_t *start; /* round r is brews[start[r] … start[r + 1]) */
	size_t rounds;
	size_t *pairs; /* [a * treatment_count + b]: rounds in which a and b meet */
	struct plan_balance balance;
	struct plan_note notes[PLAN_NOTES];
	size_t note_count;
	struct arena memory;
};

/*
 * Draws the plan. The same query gives the same plan on every machine.
 * STATUS_INVALID: no such plan can be; error says why. STATUS_MEMORY. *out is then NULL. The caller's: run_plan_free().
 */
enum status run_plan_make(struct run_plan **out, const struct run_plan_query *query, struct error *error) MUST_USE;

/* Takes NULL. */
void run_plan_free(struct run_plan *plan);

/*
 * The i-th of PLAN_CODES codes, 0 … PLAN_CODES - 1, ascending: three different digits, the first not 0, that do not
 * run up or down in steps of one (123, 987) and do not turn into another code when the cup is turned round (168, 891).
 * 0 beyond.
 */
unsigned plan_code(size_t i);

/* What every brew is meant to be, as the user wrote it: for the bench sheet and the manifest's comment. NULL: not told. */
struct plan_targets {
	const char *dose_g;
	const char *water_g;
	const char *temp_c;
	const char *grind;
	const char *time;
	const char *method;      /* "percolation", "immersion" */
	const char *sample_type; /* never NULL */
	size_t readings;         /* of each cup */
};

#endif
