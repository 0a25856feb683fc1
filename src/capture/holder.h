/* SPDX-License-Identifier: GPL-3.0-or-later */
/* holder.h: which program has a device or a FIFO open, as far as the kernel tells this account. */
#ifndef BREWSPREAD_HOLDER_H
#define BREWSPREAD_HOLDER_H

#include <stdbool.h>
#include <sys/stat.h>
#include <sys/types.h>

struct holder {
	pid_t pid;
	char command[32];
	char path[256]; /* by which it was opened */
};

/* The first other process found that has file open. Without the right to look, or without /proc: false. */
bool holder_find(struct holder *out, const struct stat *file);

/*
 * Has this process itself file open and locked, by whatever path? Devices are compared by their number. Descriptors
 * that were inherited are not locked, and do not count.
 */
bool holder_is_self(struct holder *out, const struct stat *file);

#endif
