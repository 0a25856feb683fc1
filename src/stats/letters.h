/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BREWSPREAD_LETTERS_H
#define BREWSPREAD_LETTERS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/*
 * Letters beside treatment means: two treatments share a letter exactly
 * where they were not found to differ, and no letter says less than another
 * does (its treatments are not all among another's). The letters are thus the
 * maximal cliques of "not found to differ" (H.-P. Piepho, J. Comput. Graph.
 * Statist. 13 (2004) 456-466). They run from the largest mean; of two that
 * start with the same treatment, the one whose next treatment is larger comes first.
 *
 * The number of letters may grow exponentially in contrived cases, but never
 * while treatments are added within a given number: the work is bounded by
 * the number the caller has room for.
 */
struct letters {
	size_t treatments;
	size_t count;         /* letters in use */
	bool complete;        /* false: there are more than the room lent; count is then 0 and no treatment has any */
	const size_t *order;  /* treatments from the largest mean down */
	const uint64_t *sets; /* one row of bits a letter, by place in order */
};

/* Words of scratch for k treatments and room for that many letters. */
size_t letters_words(size_t k, size_t room);

/*
 * differ[a * k + b] says whether a and b were found to differ (a NaN mean
 * or a pair not tested: false); read for a < b only. order holds k, words
 * letters_words(k, room). Both stay the caller's and must outlive the result.
 * room of k + 1 is enough wherever all treatments have equal n; 4 k is ample.
 */
struct letters letters_find(const double *means, const bool *differ, size_t k, size_t *order, uint64_t *words,
                            size_t room);

/* Whether treatment carries letter (0 is a). */
bool letters_has(const struct letters *letters, size_t treatment, size_t letter);

/*
 * Writes the letters of one treatment: "a", "bc"; with more than 26 letters
 * in all they go on aa, ab, ... and are set apart by blanks. Cut off to fit
 * size with its final 0; returns the length that was needed, as snprintf does.
 */
size_t letters_text(const struct letters *letters, size_t treatment, char *text, size_t size);

#endif
