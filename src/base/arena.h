/* SPDX-License-Identifier: GPL-3.0-or-later */
/* arena.h: memory that is given back all at once, for texts and records that live as long as their run. */
#ifndef BREWSPREAD_ARENA_H
#define BREWSPREAD_ARENA_H

#include "slice.h"

struct arena {
	struct arena_block *last; /* NULL while empty */
};

#define ARENA_INIT           \
	{                    \
		.last = NULL \
	}

/* size bytes, zeroed, aligned for any type; NULL when there is no memory. */
void *arena_take(struct arena *arena, size_t size);

/* A copy of slice, ended by a NUL that len does not count; .text is NULL when there is no memory. */
struct slice arena_copy(struct arena *arena, struct slice slice);

/* A text made by format, ended by NUL; NULL when there is no memory. */
char *arena_print(struct arena *arena, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Gives everything back; the arena is empty and can be used again. */
void arena_release(struct arena *arena);

#endif
