/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * fuzz.h: what the fuzz drivers share. A driver is one function that takes any bytes and ends; sanitizers and FUZZ_HOLDS
 * tell what must not happen. libFuzzer links it with its own main(), replay.c with one that reads files.
 */
#ifndef FUZZ_H
#define FUZZ_H

#include <jansson.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "slice.h"
#include "text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* A promise of the code under test; one that is broken is a finding. */
#define FUZZ_HOLDS(what)         \
	do {                     \
		if (!(what))     \
			abort(); \
	} while (0)

/* A copy with nothing behind it, so that a byte read too many is seen; NULL only without memory. free(). */
static inline char *fuzz_copy(const uint8_t *data, size_t size)
{
	char *copy = malloc(size > 0 ? size : 1);

	if (copy && size > 0)
		memcpy(copy, data, size);
	return copy;
}

/* As text_load() would have read it. */
static inline struct text fuzz_text(const uint8_t *data, size_t size)
{
	struct text text = TEXT_INIT;

	text.bytes = malloc(size + 1);
	if (!text.bytes)
		return text;
	if (size > 0)
		memcpy(text.bytes, data, size);
	text.bytes[size] = '\0';
	text.len = size;
	return text;
}

/* Two inputs in one: what is before a line "----" goes to *first, the rest to *second. */
static inline void fuzz_split(const uint8_t *data, size_t size, struct slice *first, struct slice *second)
{
	const char *text = (const char *)data;
	const char *cut = size > 6 ? memmem(data, size, "\n----\n", 6) : NULL;

	*first = (struct slice){ text, cut ? (size_t)(cut - text) + 1 : size };
	*second = (struct slice){ cut ? cut + 6 : text + size, cut ? size - (size_t)(cut + 6 - text) : 0 };
}

/* JSON that the program made can be read, and knows no nan. Takes json. */
static inline void fuzz_json_holds(char *json)
{
	json_t *back = json ? json_loads(json, JSON_ALLOW_NUL, NULL) : NULL;

	FUZZ_HOLDS(back);
	json_decref(back);
	free(json);
}

#endif
