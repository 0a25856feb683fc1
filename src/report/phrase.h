/* SPDX-License-Identifier: GPL-3.0-or-later */
/* phrase.h: a text put together piece by piece. */
#ifndef BREWSPREAD_PHRASE_H
#define BREWSPREAD_PHRASE_H

#include <stdbool.h>

#include "labels.h"
#include "slice.h"

struct phrase {
	char *text; /* not ended by NUL */
	size_t len;
	size_t room;
	bool failed;                 /* a piece is missing: there was no memory for it */
	const struct labels *labels; /* lent: of phrase_label() and phrase_fill(); NULL: English */
};

#define PHRASE_INIT          \
	{                    \
		.text = NULL \
	}

/* Makes it empty again; the room is kept. */
void phrase_clear(struct phrase *phrase);

void phrase_add(struct phrase *phrase, struct slice piece);

/* The same for a text that ends in NUL. */
void phrase_words(struct phrase *phrase, const char *words);

/* The label that is english, in the language of phrase->labels. */
void phrase_label(struct phrase *phrase, const char *english);

/* What stands in the gap "{name}" of a label. */
struct phrase_part {
	const char *name;
	struct slice text;
};

/* As phrase_label(), with count gaps filled; one that no part is for stays as it is. */
void phrase_fill(struct phrase *phrase, const char *english, const struct phrase_part *parts, size_t count);

/* The same for a label that was found already. */
void phrase_fill_in(struct phrase *phrase, struct slice label, const struct phrase_part *parts, size_t count);

/* A short piece made from format; one above 255 bytes is cut. */
void phrase_print(struct phrase *phrase, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Adds words unless the phrase is still empty: what stands between two pieces. */
void phrase_between(struct phrase *phrase, const char *words);

/* What it says so far; until the next call that changes it. */
struct slice phrase_slice(const struct phrase *phrase);

void phrase_release(struct phrase *phrase);

#endif
