/* SPDX-License-Identifier: GPL-3.0-or-later */
/* labels.h: the words that a report is labelled with, in another language than English. */
#ifndef BREWSPREAD_LABELS_H
#define BREWSPREAD_LABELS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "arena.h"
#include "slice.h"

struct label {
	struct slice english; /* as the program has it, which is how it is found */
	struct slice own;     /* in the other language; never empty */
	uint32_t line;        /* of the file it came from */
};

/* An empty one leaves all in English. */
struct labels {
	struct label *items; /* sorted by .english once labels_sort() was called */
	size_t count;
	size_t capacity;
	struct arena memory; /* of the texts */
};

#define LABELS_INIT           \
	{                     \
		.items = NULL \
	}

/* Adds label with a copy of both texts. false: no memory. */
bool labels_add(struct labels *labels, struct label label);

/* To be called after the last labels_add(). Of those with equal .english the one of the first line is kept. */
void labels_sort(struct labels *labels);

/* english in the other language; english itself where there is none, or labels is NULL. Stays labels' or the caller's. */
struct slice labels_find(const struct labels *labels, struct slice english);

/*
 * The next "{name}" in text at or after *at, with its braces; *at is then behind it. Empty: no more. A name is of small
 * letters and "_".
 */
struct slice label_gap(struct slice text, size_t *at);

/* Have both the same "{name}" gaps, in any order? What one of them lacks or has too much goes to *odd. */
bool labels_same_gaps(struct slice english, struct slice own, struct slice *odd);

void labels_release(struct labels *labels);

#endif
