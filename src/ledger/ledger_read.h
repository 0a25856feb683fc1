/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_read.h: the lines of a ledger, in the order in which they came, with the amendments applied. */
#ifndef BREWSPREAD_LEDGER_READ_H
#define BREWSPREAD_LEDGER_READ_H

#include <stdbool.h>

#include "ledger.h"
#include "ledger_append.h"
#include "run.h"

/* Which lines; zeroed: every reading. All that is told must hold. */
struct ledger_query {
	int64_t run;        /* id of a run; 0: any, and none */
	struct slice meter; /* name of a meter, with whatever port and profile; empty: any */
	int64_t since_us;   /* received then or later; 0: no limit */
	int64_t until_us;   /* received before then; 0: no limit */
	int64_t from_id;    /* this line or later; 0: no limit */
	int64_t to_id;      /* this line or earlier; 0: no limit */
	bool raw_lines;     /* lines that gave no reading too */
};

struct ledger_row {
	struct ledger_entry entry; /* as it came in */

	/* with its amendments: */
	struct slice label; /* of the cup */
	struct slice note;  /* why it was excluded, moved, or both, the two joined by "; " */
	uint8_t role;       /* enum reading_role, or LEDGER_RAW */
	uint8_t flags;      /* those of entry, and READING_EXCLUDED */
	bool moved;
};

/*
 * When it was taken, as far as can be told: when the line says; else, of one that came from a port, when it was received
 * - unless it stood in the port's buffer already (READING_STALE); else READING_NO_TIME.
 */
int64_t ledger_row_taken_us(const struct ledger_row *row);

/*
 * Calls each with context and every line of the query, by id (not by a clock, which may have been set back), until it
 * returns another status than STATUS_OK, which is then returned; error is handed to it. What is added after the call has
 * begun is not seen. Takes a few hundred KiB, however many lines there are, and never keeps a transaction open.
 */
enum status ledger_each(struct ledger *ledger, const struct ledger_query *query,
                        enum status (*each)(void *context, const struct ledger_row *row, struct error *error),
                        void *context, struct error *error) MUST_USE;

/*
 * Adds the readings of the query to run->readings, the texts to run->memory, and the meters that they came from to
 * run->meters, behind those that are there. Lines that gave no reading are left out. The place of a pasted reading is
 * that in its text; that of one from a port names the ledger, and its id as the line.
 * STATUS_INVALID: more than 65,535 meters.
 */
enum status ledger_load_run(struct ledger *ledger, const struct ledger_query *query, struct run *run,
                            struct error *error) MUST_USE;

#endif
