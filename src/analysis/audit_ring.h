/* SPDX-License-Identifier: GPL-3.0-or-later */
/* audit_ring.h: the newest of many records, in an array that grows as far as it must. */
#ifndef BREWSPREAD_AUDIT_RING_H
#define BREWSPREAD_AUDIT_RING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/*
 * Puts a copy of item, of size bytes, where the oldest of items stood once there are kept of them, a power of two; seen
 * have been put before. items is NULL before the first and from malloc() after it. Returns items, moved perhaps; NULL:
 * no memory, items is as it was.
 */
void *ring_put(void *items, size_t size, uint64_t seen, size_t kept, const void *item)
	__attribute__((warn_unused_result));

/* How many there are once seen have been put. */
size_t ring_count(uint64_t seen, size_t kept);

#endif
