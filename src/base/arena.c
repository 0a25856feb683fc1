/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "arena.h"

#include <stdalign.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ARENA_BLOCK = 64 * 1024 };

struct arena_block {
	struct arena_block *before;
	size_t used;
	size_t size;
	alignas(max_align_t) char bytes[];
};

static struct arena_block *block_new(struct arena *arena, size_t size)
{
	struct arena_block *block;

	if (size < ARENA_BLOCK)
		size = ARENA_BLOCK;
	if (size > SIZE_MAX - sizeof(*block))
		return NULL;
	block = malloc(sizeof(*block) + size);
	if (!block)
		return NULL;
	*block = (struct arena_block){ .before = arena->last, .size = size };
	arena->last = block;
	return block;
}

void *arena_take(struct arena *arena, size_t size)
{
	struct arena_block *block = arena->last;
	size_t step = alignof(max_align_t);
	void *taken;

	if (size > SIZE_MAX - step)
		return NULL;
	size = (size + step - 1) / step * step;
	if (!block || block->size - block->used < size)
		block = block_new(arena, size);
	if (!block)
		return NULL;
	taken = block->bytes + block->used;
	block->used += size;
	memset(taken, 0, size);
	return taken;
}

struct slice arena_copy(struct arena *arena, struct slice slice)
{
	char *copy = slice.len < SIZE_MAX ? arena_take(arena, slice.len + 1) : NULL;

	if (!copy)
		return (struct slice){ NULL, 0 };
	if (slice.len > 0)
		memcpy(copy, slice.text, slice.len);
	return (struct slice){ copy, slice.len };
}

char *arena_print(struct arena *arena, const char *format, ...)
{
	va_list args;
	char *text;
	int len;

	va_start(args, format);
	len = vsnprintf(NULL, 0, format, args);
	va_end(args);
	if (len < 0)
		return NULL;
	text = arena_take(arena, (size_t)len + 1);
	if (!text)
		return NULL;
	va_start(args, format);
	vsnprintf(text, (size_t)len + 1, format, args);
	va_end(args);
	return text;
}

void arena_release(struct arena *arena)
{
	while (arena->last) {
		struct arena_block *block = arena->last;

		arena->last = block->before;
		free(block);
	}
}
