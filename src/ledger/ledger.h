/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * ledger.h: every reading ever captured. Only added to: a reading is never altered or taken out, and a line that could
 * not be read is kept as well as one that could. What the file holds is told in docs/ledger.md.
 *
 * Adding: ledger_append.h (groups, readings), ledger_meter.h, ledger_run.h, ledger_paste.h, ledger_event.h,
 * ledger_amend.h. Reading: ledger_read.h. Copies: ledger_backup.h.
 *
 * Rules that hold for all of them:
 * - Any number of processes may have a ledger open, for reading and for writing; each addition waits its turn.
 * - A handle belongs to one thread, and does not outlive a fork(): the child opens its own.
 * - Texts are stored as UTF-8. Bytes that are none, and NUL, are replaced by U+FFFD; the raw line alone is kept byte by
 *   byte.
 * - Slices lent to a callback last until it returns. No transaction is open meanwhile: it may take its time, and
 *   may add to the same ledger.
 * - STATUS_BUSY: another process kept writing for longer than the handle waits; error names it. Nothing was stored.
 * - STATUS_IO: the system refused (disk full, file removed, ...), error says why. Nothing of the call was stored, the
 *   handle stays usable, and the same call succeeds once the reason is gone.
 * - STATUS_REFUSED: the file is not a ledger, or is damaged.
 * - STATUS_INVALID: the arguments make no sense; error says what was expected. Nothing was stored.
 */
#ifndef BREWSPREAD_LEDGER_H
#define BREWSPREAD_LEDGER_H

#include <stdint.h>

#include "status.h"

struct ledger; /* opaque: src/ledger alone knows SQL */

enum ledger_mode {
	LEDGER_READ,  /* must be there; never changed. A ledger that is being written to can be read at the same time */
	LEDGER_WRITE, /* must be there; upgraded where an earlier version made it */
	LEDGER_CREATE, /* as LEDGER_WRITE, and made where there is none */
	LEDGER_MEMORY, /* a new one that is gone with its handle; path is only its name in messages */
};

/*
 * Opens the ledger at path. *out is NULL on every failure, else the caller's: ledger_free().
 * The file is checked as it is opened: see enum ledger_depth for how deep.
 * STATUS_NEWER: made by a later version of this program; not a byte of it was touched.
 * STATUS_REFUSED: not a ledger, damaged, or its triggers were taken out; or none is there, but a "-wal" file of one that
 * was, which may hold readings.
 * STATUS_IO: also where a folder on a network is to be written to, since the locks that keep two writers apart do not
 * work there.
 */
enum status ledger_open(struct ledger **out, const char *path, enum ledger_mode mode, struct error *error) MUST_USE;

/* Takes NULL. A group that is open is given up: nothing of it is stored. */
void ledger_free(struct ledger *ledger);

/* How long an addition waits for another process before it is STATUS_BUSY: 5,000 ms unless set. */
void ledger_set_wait(struct ledger *ledger, int wait_ms);

/* As given to ledger_open(); the ledger's. */
const char *ledger_path(const struct ledger *ledger);

/* The id of the newest line; 0: there is none. */
enum status ledger_last_id(struct ledger *ledger, int64_t *id, struct error *error) MUST_USE;

/*
 * How deep a ledger is checked. Opening chooses by the size of the file: up to LEDGER_SMALL_BYTES everything, up to
 * LEDGER_LARGE_BYTES every page, above that the newest rows; the list of tables and triggers always.
 */
enum ledger_depth {
	LEDGER_CHECK_NEWEST, /* the newest 1,000 lines, in the table and its index; any size in a few ms */
	LEDGER_CHECK_PAGES,  /* every page and row, but not that indexes and tables agree */
	LEDGER_CHECK_ALL,    /* all that SQLite can tell, and that what rows refer to is there */
};

enum { LEDGER_SMALL_BYTES = 4 << 20, LEDGER_LARGE_BYTES = 32 << 20 };

/* STATUS_REFUSED: it is damaged; error says where. */
enum status ledger_check(struct ledger *ledger, enum ledger_depth depth, struct error *error) MUST_USE;

#endif
