/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "lookup.h"

#include <stdlib.h>

enum { FIRST_SLOTS = 64 };

struct lookup_slot {
	uint32_t hash; /* the lower half: enough to tell most others apart */
	uint32_t value;
};

/* In a table that is at most half full, runs of used slots stay short. */
static void slot_fill(struct lookup_slot *slots, size_t size, struct lookup_slot slot)
{
	size_t at = slot.hash & (size - 1);

	while (slots[at].value != LOOKUP_NONE)
		at = (at + 1) & (size - 1);
	slots[at] = slot;
}

/* Slots move in the order of their run, so that equal hashes keep theirs. */
static void slots_move(const struct lookup *from, struct lookup_slot *to, size_t size)
{
	size_t start = 0;

	while (from->slots[start].value != LOOKUP_NONE)
		start++; /* the free slot before a run, since a run may go round the end */
	for (size_t i = 0; i < from->size; i++) {
		struct lookup_slot slot = from->slots[(start + i) & (from->size - 1)];

		if (slot.value != LOOKUP_NONE)
			slot_fill(to, size, slot);
	}
}

static bool lookup_grow(struct lookup *lookup)
{
	size_t size = lookup->size ? lookup->size * 2 : FIRST_SLOTS;
	struct lookup_slot *slots;

	if (size > SIZE_MAX / sizeof(*slots))
		return false;
	slots = malloc(size * sizeof(*slots));
	if (!slots)
		return false;
	for (size_t i = 0; i < size; i++)
		slots[i] = (struct lookup_slot){ 0, LOOKUP_NONE };
	if (lookup->slots)
		slots_move(lookup, slots, size);
	free(lookup->slots);
	lookup->slots = slots;
	lookup->size = size;
	return true;
}

bool lookup_put(struct lookup *lookup, uint64_t hash, uint32_t value)
{
	if (lookup->count >= lookup->size / 2 && !lookup_grow(lookup))
		return false;
	slot_fill(lookup->slots, lookup->size, (struct lookup_slot){ (uint32_t)hash, value });
	lookup->count++;
	return true;
}

uint32_t lookup_next(const struct lookup *lookup, uint64_t hash, size_t *from)
{
	for (; lookup->size > 0; (*from)++) {
		const struct lookup_slot *slot = &lookup->slots[((uint32_t)hash + *from) & (lookup->size - 1)];

		if (slot->value == LOOKUP_NONE)
			break;
		if (slot->hash == (uint32_t)hash) {
			(*from)++;
			return slot->value;
		}
	}
	return LOOKUP_NONE;
}

void lookup_release(struct lookup *lookup)
{
	free(lookup->slots);
	*lookup = (struct lookup)LOOKUP_INIT;
}
