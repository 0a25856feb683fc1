/* SPDX-License-Identifier: GPL-3.0-or-later */
/* pattern.h: a regular expression for the lines of a meter, made so that no pattern can hold up the reader. */
#ifndef BREWSPREAD_PATTERN_H
#define BREWSPREAD_PATTERN_H

#include <stdbool.h>
#include <stddef.h>

#include "slice.h"

struct pcre2_real_code_8;

enum { PATTERN_NO_MATCH = -1, PATTERN_REASON = 200 };

/*
 * Compiles text for matching bytes: no UTF, no \C, $ only at the very end; anchored: at both ends of the line.
 * NULL: out of place at byte *at of text, for the reason in reason; the caller's: pattern_free().
 */
struct pcre2_real_code_8 *pattern_compile(const char *text, bool anchored, char reason[PATTERN_REASON], size_t *at);

/*
 * Tries code on lines of 40 to 256 bytes made to be hard: the same few characters again and again behind the
 * characters that text begins with, then one that fits nothing; with and without compiled machine code. False:
 * reason says what happened on which line.
 */
bool pattern_probe(const struct pcre2_real_code_8 *code, const char *text, size_t steps, char reason[PATTERN_REASON]);

/* A runner: what a match needs to write to. NULL when there is no memory. pattern_runner_free() takes NULL. */
struct pattern_runner;
struct pattern_runner *pattern_runner_new(const struct pcre2_real_code_8 *code, size_t steps);
void pattern_runner_free(struct pattern_runner *runner);

/*
 * Matches line, at most steps steps. >= 1: it matches, pattern_group() has the parts. PATTERN_NO_MATCH: it does
 * not. Below that: the matching failed, pattern_failure() names how. Where the machine code runs out of its stack,
 * the line is matched again without it.
 */
int pattern_run(const struct pcre2_real_code_8 *code, struct pattern_runner *runner, struct slice line);

/* Part number group of the line last matched; false: it took no part. */
bool pattern_group(const struct pattern_runner *runner, int group, struct slice line, struct slice *out);

/* The name of the failure that pattern_run() returned. */
const char *pattern_failure(int result, char reason[PATTERN_REASON]);

/* The number of the group called name: 0: there is none, -1: there are several. */
int pattern_group_number(const struct pcre2_real_code_8 *code, const char *name);

/* The name of the index-th named group, in the order of names; NULL: no more. */
const char *pattern_group_name(const struct pcre2_real_code_8 *code, size_t index);

void pattern_free(struct pcre2_real_code_8 *code);

#endif
