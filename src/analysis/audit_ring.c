/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_ring.h"

#include <stdlib.h>
#include <string.h>

void *ring_put(void *items, size_t size, uint64_t seen, size_t kept, const void *item)
{
	char *bytes = items;

	/* full whenever the count is a power of two */
	if (seen < kept && (seen & (seen - 1)) == 0)
		bytes = realloc(items, (seen > 0 ? 2 * (size_t)seen : 1) * size);
	if (bytes)
		memcpy(bytes + (size_t)(seen % kept) * size, item, size);
	return bytes;
}

size_t ring_count(uint64_t seen, size_t kept)
{
	return seen < kept ? (size_t)seen : kept;
}
