/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * json_put.h: members of a JSON object, as all of the program's JSON has them, and its text. A failed set shows in the end:
 * jansson hands NULL through, and json_lined() refuses an object that lacks memory.
 */
#ifndef BREWSPREAD_JSON_PUT_H
#define BREWSPREAD_JSON_PUT_H

#include <jansson.h>
#include <stdint.h>

#include "slice.h"

/* null where value is not finite: JSON has no word for that. */
void put_number(json_t *object, const char *name, double value);

void put_count(json_t *object, const char *name, uint64_t count);

/* Valid UTF-8; NULL is null. */
void put_text(json_t *object, const char *name, const char *text);

/* Any bytes: each that is not UTF-8 as U+FFFD. */
void put_slice(json_t *object, const char *name, struct slice slice);

/* The text of put_slice() alone. NULL: no memory. */
json_t *json_slice(struct slice slice);

/*
 * The text of json, as json_dumps() with flags makes it, and end behind it; from malloc(). NULL: no memory. json_dumps()
 * itself gives a text with a hole in it where memory ends within a member's name.
 */
char *json_lined(const json_t *json, size_t flags, const char *end);

/* [lower, upper], each as put_number() has it. */
void put_interval(json_t *object, const char *name, double lower, double upper);

#endif
