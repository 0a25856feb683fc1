/* SPDX-License-Identifier: GPL-3.0-or-later */
/* run.h: a comparison run as it was read: brews, treatments, columns, readings. Nothing in it is computed. */
#ifndef BREWSPREAD_RUN_H
#define BREWSPREAD_RUN_H

#include "arena.h"
#include "brew.h"
#include "meter.h"
#include "reading.h"

struct treatment {
	struct slice name;
	size_t brews; /* rows of the manifest that have it */
};

/*
 * A column of the manifest, known or not. number[] and text[] have a cell a brew.
 * Numeric where every cell that is filled in holds a number.
 */
struct column {
	struct slice header; /* as written */
	struct slice name;   /* folded: what messages and sheets say, such as "filter thickness" */
	struct slice unit;   /* as written in the header; empty */
	int known;           /* COLUMN_…, below, or -1 */
	bool numeric;
	bool empty;     /* no cell filled in */
	double *number; /* NaN where not a number or empty; NULL unless numeric */
	struct slice *text;
	int decimals; /* the most that a cell of a numeric column shows */
};

/* What column->known holds for a column that fills brew->number[n], brew->word[n], or one of the rest. */
enum { COLUMN_NUMBER = 0, COLUMN_WORD = 100, COLUMN_BREW = 200, COLUMN_TREATMENT, COLUMN_METHOD, COLUMN_TIME };

struct input { /* a file that was read, for the Method sheet */
	const char *name;
	size_t bytes;
	char digest[65]; /* SHA-256 in hex */
};

struct run {
	struct slice name;  /* of the manifest's file, without folder and ending */
	struct brew *brews; /* as in the manifest */
	size_t brew_count;
	struct slice *lost_labels; /* of the manifest's rows that were refused */
	size_t lost_count;
	struct treatment *treatments; /* in the order of first mention */
	size_t treatment_count;
	struct column *columns; /* as in the manifest */
	size_t column_count;
	struct reading *readings; /* as read; ids ascending */
	size_t reading_count;
	size_t reading_capacity;
	struct meter *meters; /* at least one */
	size_t meter_count;
	struct input *inputs;
	size_t input_count;
	char **kept; /* contents of files, which the slices above show */
	size_t kept_count;
	struct arena memory; /* of the rest of what is above, but the readings */
};

/* An empty run. The caller's: run_free(). NULL when there is no memory. */
struct run *run_new(void);

/* Adds a copy of reading; false when there is no memory, and with 2³² - 1 of them. Its line is not copied. */
bool run_add_reading(struct run *run, const struct reading *reading);

/*
 * A copy of line in the run's memory, for its readings to share; NULL when there is no memory. The texts that its slices show
 * stay where they are.
 */
struct reading_line *run_add_line(struct run *run, const struct reading_line *line);

/* Adds an input of that name and content, with its digest; false when there is no memory. */
bool run_add_input(struct run *run, const char *name, const char *bytes, size_t len);

/*
 * Hands bytes, from malloc(), over to the run: freed with it, so that slices may show them. Frees them at once
 * and returns false when there is no memory.
 */
bool run_keep(struct run *run, char *bytes);

/* A cell of a numeric column in the unit of column_unit(); NaN: empty, or the column is none of numbers. */
double column_value(const struct run *run, const struct column *column, size_t brew);

/* The unit of such a cell: the program's own for a column that it knows, such as seconds, else as in the header. */
struct slice column_unit(const struct column *column);

/* The unit that reading is in: that of its line, or else its meter's. */
static inline enum unit run_unit(const struct run *run, const struct reading *reading)
{
	return reading->unit != UNIT_NONE ? (enum unit)reading->unit : run->meters[reading->meter].unit;
}

/* Takes NULL. */
void run_free(struct run *run);

#endif
