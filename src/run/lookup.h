/* SPDX-License-Identifier: GPL-3.0-or-later */
/* lookup.h: from a hash to the numbers that were put in under it. Whether one is meant is for the caller to compare. */
#ifndef BREWSPREAD_LOOKUP_H
#define BREWSPREAD_LOOKUP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct lookup {
	struct lookup_slot *slots; /* NULL while empty */
	size_t size;               /* a power of two */
	size_t count;
};

#define LOOKUP_INIT           \
	{                     \
		.slots = NULL \
	}

#define LOOKUP_NONE UINT32_MAX

/* Puts value, below LOOKUP_NONE, in under hash; the same hash may come again. False when there is no memory. */
bool lookup_put(struct lookup *lookup, uint64_t hash, uint32_t value) __attribute__((warn_unused_result));

/*
 * The values under hash, one a call, in the order in which they were put in; LOOKUP_NONE behind the last. *from is 0
 * before the first call and the function's own after that. Values whose hash differs in its upper half only come too.
 */
uint32_t lookup_next(const struct lookup *lookup, uint64_t hash, size_t *from);

void lookup_release(struct lookup *lookup);

#endif
