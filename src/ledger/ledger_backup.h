/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * ledger_backup.h: whole copies. Copying the file of a ledger in use with a copying program loses what still stands in
 * its "-wal" file.
 */
#ifndef BREWSPREAD_LEDGER_BACKUP_H
#define BREWSPREAD_LEDGER_BACKUP_H

#include "ledger.h"

/*
 * Writes a copy of ledger to path, checks all of it, and only then gives it that name. Others may write to the ledger
 * meanwhile; the copy holds what was stored when the call began.
 * STATUS_REFUSED: something stands at path, or one of the files "-wal", "-shm", "-journal" that belong to a ledger of
 * that name: SQLite would take it for this one's. Nothing is overwritten.
 */
enum status ledger_backup(struct ledger *ledger, const char *path, struct error *error) MUST_USE;

/*
 * Puts the copy at from into the place path, checked as ledger_backup() does; from is left as it is. To take an old
 * ledger's place, that one has to be moved away first, together with its "-wal" file.
 */
enum status ledger_restore(const char *from, const char *path, struct error *error) MUST_USE;

#endif
