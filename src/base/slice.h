/* SPDX-License-Identifier: GPL-3.0-or-later */
/* slice.h: a piece of text that somebody else keeps. Not ended by NUL; may hold any byte. */
#ifndef BREWSPREAD_SLICE_H
#define BREWSPREAD_SLICE_H

#include <stdbool.h>
#include <stddef.h>

struct slice {
	const char *text; /* NULL only where len is 0 */
	size_t len;
};

#define SLICE_OF(literal) ((struct slice){ (literal), sizeof(literal) - 1 })

/* For printf's "%.*s": a slice longer than INT_MAX is cut. */
#define SLICE_ARG(slice) slice_print_len(slice), ((slice).text ? (slice).text : "")

/* len as printf wants it. */
int slice_print_len(struct slice slice);

/* The slice over all of a C string; NULL gives the empty slice. */
struct slice slice_from(const char *text);

/* The piece [from, to) of slice; both are cut to its length. */
struct slice slice_part(struct slice slice, size_t from, size_t to);

/* Same bytes, same length. */
bool slice_equal(struct slice a, struct slice b);

/* As slice_equal(), with A-Z and a-z taken as the same. */
bool slice_equal_nocase(struct slice a, struct slice b);

/* Byte order, the shorter of two with one beginning first: <0, 0, >0. */
int slice_compare(struct slice a, struct slice b);

/*
 * Without white space at both ends: ASCII blanks and control characters, and the
 * no-break spaces U+00A0, U+2007, U+202F, as well as U+3000 and U+FEFF, in UTF-8.
 */
struct slice slice_trim(struct slice slice);

/* A C string of its own with the same bytes; NULL when there is no memory. The caller's: free(). */
char *slice_string(struct slice slice);

/* Is there nothing but what slice_trim() takes off? */
bool slice_blank(struct slice slice);

#endif
