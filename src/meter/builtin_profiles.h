/* SPDX-License-Identifier: GPL-3.0-or-later */
/* builtin_profiles.h: profiles for the usual shapes of a line, each with the proof of what it reads. */
#ifndef BREWSPREAD_BUILTIN_PROFILES_H
#define BREWSPREAD_BUILTIN_PROFILES_H

#include <stddef.h>

#include "slice.h"

enum { PROOF_LINES = 8 };

struct profile_proof {
	const char *line; /* NULL: the row ends */
	double value;     /* NO_READING: the line gives none */
	int decimals;
	double temp_c;     /* 0: the line tells none */
	const char *label; /* NULL: likewise */
};

#define NO_READING (-1e9)

struct profile_def {
	const char *name;
	const char *about; /* one line, for the manual and for lists */
	const char *ini;   /* as a profile file has it, name and about aside */
	struct profile_proof proof[PROOF_LINES];
};

/* The rows, and how many there are. */
const struct profile_def *builtin_profiles(size_t *count);

/* The row of that name; NULL: none. */
const struct profile_def *builtin_profile_find(struct slice name);

#endif
