/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdlib.h>

#include "ledger_private.h"

enum {
	PAGES_TAKEN = 1000,  /* so many pages in the -wal file are taken into the ledger */
	PAGES_CUT = 2000,    /* so many are, as soon as nobody reads, cut off */
	GROUPS_OF_A_FEW = 16 /* a command that adds a group or two has no use for a longer file */
};

/* Not in SQLite's own hook, which never cuts the file while commits follow each other closely. */
void ledger_wal_take(struct ledger *ledger)
{
	if (ledger->wal_pages < PAGES_TAKEN)
		return;
	if (ledger->wal_pages < PAGES_CUT) {
		sqlite3_wal_checkpoint_v2(ledger->db, NULL, SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
		return;
	}
	sqlite3_busy_timeout(ledger->db, 0);
	sqlite3_wal_checkpoint_v2(ledger->db, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
	sqlite3_busy_timeout(ledger->db, ledger->wait_ms);
}

/*
 * SQLite takes the zeros for what they are, the end of the file: a frame counts only with the header's salt and its
 * checksum. While this handle has the write lock, nobody else writes to the file. Its locks stand on other files, so that a
 * descriptor of our own does no harm to them.
 */
void ledger_wal_lengthen(struct ledger *ledger)
{
	char *name;

	if (ledger->mode == LEDGER_MEMORY || ++ledger->groups <= GROUPS_OF_A_FEW)
		return;
	if (ledger->marks.wal.size >= LEDGER_WAL_BYTES)
		return;
	ledger->groups = 0;
	name = side_file(sqlite3_db_filename(ledger->db, "main"), "-wal");
	if (name)
		file_lengthen(name, LEDGER_WAL_BYTES);
	free(name);
}
