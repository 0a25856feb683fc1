/* SPDX-License-Identifier: GPL-3.0-or-later */
/* learn.h: a meter profile proposed from lines that the meter sent. */
#ifndef BREWSPREAD_LEARN_H
#define BREWSPREAD_LEARN_H

#include <stdbool.h>
#include <stddef.h>

#include "arena.h"
#include "profile.h"
#include "slice.h"
#include "status.h"

struct learned_line {
	struct slice text;              /* the captured bytes, end taken off; the caller's */
	enum line_kind kind;            /* as the proposed profile takes it; LINE_UNMATCHED where there is none */
	struct profile_reading reading; /* for LINE_READING; label, status and seq show text */
};

struct learned {
	const char *ini; /* a profile's file, to be looked over and saved; NULL: none can be proposed, see doubts */
	struct learned_line *lines; /* each line that is not empty, as the profile in ini reads it */
	size_t line_count;
	size_t reading_count; /* of the lines: how many give a reading */
	const char **doubts;  /* what could not be told for sure, one sentence each without a full stop */
	size_t doubt_count;
	struct arena memory; /* of all of this */
};

enum { LEARN_LINES = 1000 }; /* lines that are looked at; more are not needed */

/*
 * Proposes a profile for captured, raw bytes from a meter with readings in them: most of its lines have one shape, of
 * which one number is the reading. What a line says of itself decides (a unit beside a number, a degree sign, a number
 * that counts up); where nothing does, the doubt is told. Of readings in several units the one in % TDS is taken; with
 * several numbers that all could be the reading no profile is proposed. The text proposed is read back and tried on
 * every line: lines tells what that gave, not what was hoped. Where the bytes show 7 data bits with parity, read as 8
 * without, the profile says so and strips them.
 * *out is the caller's, in any case: learned_release(). STATUS_MEMORY.
 */
enum status learn_profile(struct learned *out, struct slice captured, struct error *error) MUST_USE;

void learned_release(struct learned *learned);

#endif
