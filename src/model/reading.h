/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * reading.h: one displayed value of a meter, from the wire or the pasted line to the cell of the workbook.
 * Every stage adds to it and none takes away: the raw line travels with it to the last sheet.
 */
#ifndef BREWSPREAD_READING_H
#define BREWSPREAD_READING_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

#include "faults.h"
#include "shown.h"
#include "slice.h"

enum reading_role {
	READING_SAMPLE,   /* a cup */
	READING_ZERO,     /* distilled water */
	READING_STANDARD, /* a solution of known strength */
};

/* Why a reading does not count in the statistics, or deserves a look. */
enum reading_flag {
	READING_OUT_OF_RANGE = 1 << 0, /* physically impossible: kept, listed, not used */
	READING_UNJOINED = 1 << 1,     /* no brew has its label */
	READING_EXCLUDED = 1 << 2,     /* the user took it out, with a reason */
	READING_REPEAT = 1 << 3,       /* the meter sent the same reading again */
	READING_QUESTIONED = 1 << 4,   /* unusual, used all the same */
	READING_TEMP_APART = 1 << 5,   /* sample and zero check too far apart in temperature */
	READING_TEMP_UNKNOWN = 1 << 6, /* uncompensated meter and no temperature */
	READING_STALE = 1 << 7,        /* stood in the port's buffer before it was opened */
};

/* Any of these keeps a reading out of the statistics. */
#define READING_NOT_USED (READING_OUT_OF_RANGE | READING_UNJOINED | READING_EXCLUDED | READING_REPEAT | READING_STALE)

#define READING_NO_BREW  UINT32_MAX
#define READING_NO_TIME  INT64_MIN

/* What readings side by side on a line share: kept once for all of them, since a line may hold a hundred. */
struct reading_line {
	int64_t id;              /* of the first of them: the ledger's, or its number in the text, from 1 */
	int64_t taken_us;        /* when, µs since 1970-01-01 UTC; READING_NO_TIME: not told */
	struct slice label;      /* of the cup, as written; empty where the line names none */
	struct slice raw;        /* the line, without its end */
	struct slice note;       /* why the reading was excluded or moved; else empty */
	double temp_c;           /* of the sample; NaN: not told */
	double standard_percent; /* READING_STANDARD: strength made up, mass % sucrose; else NaN */
	const char *file;        /* as in struct place */
	uint32_t number;         /* of the line in the file */
};

/* Of these a run may have millions: 32 bytes, half of what a processor fetches at a time. */
struct reading {
	struct reading_line *line; /* in the run's memory; another one where the temperature changes along a line */
	double value;              /* what the display said, as reading_shown() has it */
	uint32_t brew;             /* index into run->brews; READING_NO_BREW */
	uint32_t column;           /* of the value, as in struct place */
	uint16_t decimals;         /* of value */
	uint16_t meter;            /* index into run->meters */
	uint8_t unit;              /* enum unit, of value */
	uint8_t nth;               /* of those that share line, from 0 */
	uint8_t role;              /* enum reading_role */
	uint8_t flags;             /* enum reading_flag, or-ed */
};

/* What the display said. */
static inline struct shown reading_shown(const struct reading *reading)
{
	return (struct shown){ reading->value, reading->decimals, (enum unit)reading->unit };
}

/* The ledger's, or its number in the text, from 1. */
static inline int64_t reading_id(const struct reading *reading)
{
	return reading->line->id + reading->nth;
}

/* File, line, column of the value. */
static inline struct place reading_place(const struct reading *reading)
{
	return (struct place){ reading->line->file, reading->line->number, reading->column };
}

/* A sample that was read once and not taken out, out of range or not: what is joined without a label goes by these. */
static inline bool reading_of_a_cup(const struct reading *reading)
{
	return reading->role == READING_SAMPLE &&
	       (reading->flags & (READING_EXCLUDED | READING_REPEAT | READING_STALE)) == 0;
}

/* Does it count in the statistics? */
static inline bool reading_used(const struct reading *reading)
{
	return (reading->flags & READING_NOT_USED) == 0;
}

#endif
