/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * settings.h: what a user may set, and how it is set: one row a setting, from which the settings file, the command
 * line, the help and the manual page are read.
 */
#ifndef BREWSPREAD_SETTINGS_H
#define BREWSPREAD_SETTINGS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "meter.h"
#include "slice.h"
#include "status.h"

enum { SETTINGS_NAME = 128, SETTINGS_TYPES = 32 };

struct sample_type {
	char name[48];
	double factor;      /* TDS per Brix */
	const char *source; /* "common practice, no source", "exact", "set by the user" */
};

struct settings {
	double margin; /* differences inside it count as practically the same; NaN: 0.5 for the yield, none for others */
	double confidence;              /* 0.95 */
	char control[SETTINGS_NAME];    /* treatment to compare with; "": none */
	char response[SETTINGS_NAME];   /* column that is compared; "yield" */
	double seed;                    /* of everything random; a whole number up to 2^53 */
	double temp_apart_c;            /* sample against zero check: farther apart is flagged */
	double retention_per_g;         /* water kept by a gram of coffee, where a run does not show it */
	double readings_wanted;         /* of each cup */
	double power;                   /* wanted chance of seeing a difference of the margin's size */
	double brew_cost, reading_cost; /* in any one unit, minutes say */
	double scale_step_g;            /* of the scales' display */
	double scale_accuracy_g;        /* ± stated; NaN: not stated */
	double history_sd; /* between-brew standard deviation of earlier runs, in yield points; NaN: none */
	double history_df; /* its degrees of freedom */
	double reading_sd; /* between readings of one cup in earlier runs of the ledger, % TDS; NaN: not known. No option */
	double reading_df;     /* its degrees of freedom */
	double meter_accuracy; /* ± stated, in % TDS; NaN: take the meter profile's */
	struct sample_type types[SETTINGS_TYPES];
	size_t type_count;
};

enum option_type { OPTION_NUMBER, OPTION_COUNT, OPTION_WORD };

struct option_def {
	const char *name;    /* as in --name and name = value */
	const char *section; /* of the settings file */
	enum option_type type;
	double min, max;      /* of a number or count, both included */
	const char *standard; /* the value unless set; NULL: not set */
	const char *unit;     /* NULL: none */
	const char *text;     /* one sentence */
	size_t offset;        /* in struct settings */
};

/* The rows, and how many there are. */
const struct option_def *option_defs(size_t *count);

/* The row of that name, "-" and "_" taken as the same; NULL: none. */
const struct option_def *option_find(struct slice name);

/* All settings at their standard values, with the standard sample types. */
void settings_init(struct settings *settings);

/*
 * Sets one. STATUS_INVALID: no such setting, or not such a value; error says what was expected. settings is then
 * untouched.
 */
enum status settings_set(struct settings *settings, struct slice name, struct slice value,
                         struct error *error) MUST_USE;

/* Adds or changes a sample type: name and TDS per Brix in (0, 2]. STATUS_INVALID as settings_set(). */
enum status settings_set_type(struct settings *settings, struct slice name, struct slice factor,
                              struct error *error) MUST_USE;

/* The type of that name, letter case and a trailing "ed" aside ("filtered" is "filter"); NULL: none. */
const struct sample_type *settings_type(const struct settings *settings, struct slice name);

#endif
