/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * diagnosis.h: why lines come but are not understood. Counts over lines that no pattern matched, and what their bytes
 * suggest: the wrong speed, the wrong frame, noise, or simply another meter's profile.
 */
#ifndef BREWSPREAD_DIAGNOSIS_H
#define BREWSPREAD_DIAGNOSIS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lines.h"
#include "profile.h"
#include "slice.h"

enum diagnosis_cause {
	DIAGNOSIS_NONE,        /* nothing to tell (yet) */
	DIAGNOSIS_EVEN_PARITY, /* 7 data bits and even parity, read as 8 without */
	DIAGNOSIS_ODD_PARITY,
	DIAGNOSIS_TOP_BIT, /* the top bit is always set, and the rest reads as text: 7 data bits, no or mark parity */
	DIAGNOSIS_SLOWER,  /* the meter sends at a fraction of the port's speed: diagnosis_speed() */
	DIAGNOSIS_NOISE,   /* the speed or the frame is wrong, or the cable bad: more cannot be told */
	DIAGNOSIS_PATTERN, /* text, but not in the form that the profile expects */
};

enum {
	DIAGNOSIS_LINES = 4,        /* lines that a diagnosis from their bytes takes, */
	DIAGNOSIS_BYTES = 400,      /* or so many bytes */
	DIAGNOSIS_TEXT_LINES = 8,   /* lines of plain text that it takes for DIAGNOSIS_PATTERN */
	DIAGNOSIS_EVERY_MS = 60000, /* told no more often than that */
	DIAGNOSIS_SAMPLE = 24,      /* bytes shown */
	DIAGNOSIS_RATIOS = 5,
};

struct diagnosis {
	struct line_doubt doubt;
	size_t top_text; /* bytes that have the top bit and are text without it */
	size_t not_nul;
	size_t damaged;                  /* lines that are */
	size_t strict[DIAGNOSIS_RATIOS]; /* bytes that a slower sender can give rise to, a factor each */
	size_t loose[DIAGNOSIS_RATIOS];  /* the same, where the receiver may have started in the middle of a bit */
	unsigned char sample[DIAGNOSIS_SAMPLE];
	size_t sampled;
	int64_t told_us; /* 0: not yet */
};

/* Ready for the first line. */
void diagnosis_init(struct diagnosis *diagnosis);

/*
 * Adds a line that was not understood; damaged: the port told of parity or framing errors in it. Blank ones, which meters
 * send for looks, count nothing.
 */
void diagnosis_add(struct diagnosis *diagnosis, struct slice line, bool damaged);

/* A line was understood: what came before it is forgotten, but not when a diagnosis was last told. */
void diagnosis_clear(struct diagnosis *diagnosis);

/* Is there nothing in line but printable ASCII and tabs? */
bool diagnosis_is_text(struct slice line);

/* What the lines added so far suggest, where the port is set to baud. */
enum diagnosis_cause diagnosis_cause(const struct diagnosis *diagnosis, int baud);

/*
 * DIAGNOSIS_SLOWER: the speed that the meter seems to send at, when the port is set to baud; else 0.
 *
 * How it can be told: a bit of a sender slower by a whole factor k fills k bits of the receiver, whose start bit begins
 * with one of them. So the first k-1 bits of every byte are 0, and the rest come in groups of k equal ones.
 */
int diagnosis_speed(const struct diagnosis *diagnosis, int baud);

/*
 * Is it time to tell? If so *out has the sentence, with the settings in force and a sample of the bytes, and the
 * counting starts anew. now_us: monotonic.
 */
bool diagnosis_tell(struct diagnosis *diagnosis, const struct profile *profile, int64_t now_us, char *out, size_t size);

#define DIAGNOSIS_TEXT 400

#endif
