/* SPDX-License-Identifier: GPL-3.0-or-later */
/* effort_table.h: the whole answer to "how many?": what sheets, texts and --json show of effort.h. */
#ifndef BREWSPREAD_EFFORT_TABLE_H
#define BREWSPREAD_EFFORT_TABLE_H

#include "effort.h"

enum { EFFORT_SPLITS = 8 };

/* For one pair of spreads. */
struct effort_line {
	struct effort_spread spread;
	struct effort asked[EFFORT_FAMILIES]; /* with the readings asked for: fewest brews, or the difference shown */
	struct effort cheapest
		[EFFORT_FAMILIES]; /* brews and readings for the least cost; none where a difference is asked, or the spread is an example */
};

struct effort_question {
	struct effort_query query; /* family: the one that the report goes by */
	double difference;         /* to be found; NaN: the difference is the question */
	size_t brews;              /* of each, where the difference is the question */
	size_t readings;           /* of each brew */
};

struct effort_table {
	struct effort_question question;
	bool known; /* both spreads are; else the lines are examples, not measured */
	struct effort_line lines[EFFORT_SPREADS];
	size_t line_count;
	bool has_cautious;           /* … because the spreads' degrees of freedom are known: */
	struct effort_line cautious; /* with spreads that they don't rule out, EFFORT_CAUTION one-sided */
	double readings_real; /* cheapest number of readings before rounding: power.h, readings_best(); NaN: not known */
	struct effort
		splits[EFFORT_SPLITS]; /* query.family with 1, 2, … readings; where known and brews are the question */
	size_t split_count;
	bool more_families; /* more than two treatments: the families differ */
};

#define EFFORT_CAUTION 0.8

/* The family that the report goes by: Dunnett's with a control, else all pairs; two treatments are one pair. */
enum effort_family effort_family_of(size_t treatments, bool control);

void effort_table_make(struct effort_table *out, const struct effort_question *question);

#endif
