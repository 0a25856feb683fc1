/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_append.h: adding what came in, line by line, one by one or in groups. */
#ifndef BREWSPREAD_LEDGER_APPEND_H
#define BREWSPREAD_LEDGER_APPEND_H

#include <stdint.h>

#include "ledger.h"
#include "reading.h"
#include "shown.h"
#include "slice.h"

/* The role of a line that gave no reading: broken, not understood, a banner. Beside enum reading_role. */
enum { LEDGER_RAW = READING_STANDARD + 1 };

/* One line that came in, and what it was read as. Zeroed, it is an empty line of no meter: LEDGER_ENTRY_INIT. */
struct ledger_entry {
	int64_t id;              /* set by ledger_append(): 1, 2, ... in the order of the calls */
	int64_t received_us;     /* when its end arrived, µs since 1970-01-01 UTC, as the clock stood */
	int64_t monotonic_us;    /* the same by a clock that no one sets (CLOCK_MONOTONIC); 0: pasted */
	int64_t taken_us;        /* when the line itself says it was taken; READING_NO_TIME: it does not */
	int64_t meter;           /* from ledger_meter_add() */
	int64_t run;             /* from ledger_run_open(); 0: none */
	int64_t paste;           /* from ledger_paste_add(); 0: came from a port */
	uint32_t line;           /* of the pasted text, from 1; else 0 */
	uint32_t column;         /* of the value in it, from 1; else 0 */
	uint8_t role;            /* enum reading_role, or LEDGER_RAW */
	uint8_t flags;           /* enum reading_flag; READING_UNJOINED and READING_EXCLUDED are not stored */
	struct slice label;      /* of the cup; empty: none */
	struct slice raw;        /* the line, any bytes, without its end */
	struct slice sequence;   /* the meter's own number of the reading; empty: none */
	struct slice status;     /* what the meter said beside the number; empty: nothing */
	struct shown shown;      /* LEDGER_RAW: not stored, reads back as 0 */
	double temp_c;           /* of the sample; NaN: not told */
	double standard_percent; /* READING_STANDARD: its strength; NaN: not told */
};

#define LEDGER_ENTRY_INIT                                                                               \
	{                                                                                               \
		.taken_us = READING_NO_TIME, .role = LEDGER_RAW, .temp_c = NAN, .standard_percent = NAN \
	}

/*
 * Opens a group: what is added from here on, by any function of the ledger, is stored all together by
 * ledger_commit(), at the price of one wait for the disk; until then no other process sees it or can write.
 * STATUS_INVALID: a group is open already, or the ledger is open for reading.
 */
enum status ledger_begin(struct ledger *ledger, struct error *error) MUST_USE;

/*
 * Stores the group. After STATUS_OK all of it is on the disk: only then may anybody be told so.
 * After any other status nothing of it is stored, the group is closed, and the ids that it gave are void: add everything
 * again in a new group. STATUS_OK without effect where no group is open.
 */
enum status ledger_commit(struct ledger *ledger, struct error *error) MUST_USE;

/* Gives the group up: nothing of it is stored. No effect where none is open. */
void ledger_rollback(struct ledger *ledger);

/*
 * Adds entry and sets its id. In a group it is stored by ledger_commit(); outside of one, after STATUS_OK it is on the
 * disk. entry stays the caller's.
 * STATUS_INVALID: shown.value, temp_c or standard_percent is infinite, shown.value is no number, shown.decimals is not
 * in 0 ... 17, or there is no such role, meter, run or paste. That entry is left out; the group goes on.
 * STATUS_IO, STATUS_BUSY, STATUS_MEMORY in a group: the group is lost, and so is everything that is added to it from
 * there on: ledger_commit() says so once more.
 */
enum status ledger_append(struct ledger *ledger, struct ledger_entry *entry, struct error *error) MUST_USE;

#endif
