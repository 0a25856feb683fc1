/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_files.h: what src/ledger has to know of the file system: networks, side files, locks. */
#ifndef BREWSPREAD_LEDGER_FILES_H
#define BREWSPREAD_LEDGER_FILES_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "status.h"

/* The identity of a ledger's files: the ledger itself, "-wal", "-shm". ino is 0 where there is none. */
struct ledger_marks {
	struct ledger_mark {
		dev_t dev;
		ino_t ino;
		off_t size; /* plays no part in the identity */
	} file, wal, shm;
};

/* path with ending behind it, from malloc(); NULL: no memory. */
char *side_file(const char *path, const char *ending);

/* Does a file with that ending stand beside path, and is it not empty? */
bool side_file_filled(const char *path, const char *ending);

/* The name of the network file system that path (or its folder, where it is not there) is on; NULL: none. */
const char *network_of(const char *path);

/* The identities of the files at path now. */
struct ledger_marks ledger_marks_of(const char *path);

bool ledger_mark_same(struct ledger_mark a, struct ledger_mark b);

/*
 * Makes the file at path size bytes long by zeros that are on the disk then. False where that fails, or would leave less
 * than 64 MiB of the disk to others: whatever was added does no harm.
 */
bool file_lengthen(const char *path, off_t size);

/*
 * Who holds the write lock of the ledger at path: "process 1234 (brewspread listen)" into out[0..size), or "another
 * process" where the kernel does not tell.
 */
void lock_holder(char *out, size_t size, const char *path);

/* Waits until the folder of path, in which a file was made or renamed, is on the disk. */
enum status folder_sync(const char *path, struct error *error) MUST_USE;

#endif
