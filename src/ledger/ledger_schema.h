/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * ledger_schema.h: the tables of a ledger, as the list of steps that made them. A step that was released is never
 * edited: what is to be different is a new step. fixtures/ledgers has a file of each version. For src/ledger and its
 * tests alone.
 */
#ifndef BREWSPREAD_LEDGER_SCHEMA_H
#define BREWSPREAD_LEDGER_SCHEMA_H

#include <stdbool.h>
#include <stddef.h>

#include "ledger.h"

/* "brws": what tells a ledger from other SQLite files, at byte 68 of the file. */
enum { LEDGER_APPLICATION_ID = 0x62727773 };

struct sqlite3;

struct schema_step {
	int version; /* user_version once the step is done */
	const char *about;
	const char *const *sql;    /* its statements, NULL at the end */
	const char *const *tables; /* those of its tables that are only added to, all of them, NULL at the end */
};

/* The steps, by version from 1. */
const struct schema_step *schema_steps(size_t *count);

/* The version after the last step. */
int schema_newest(void);

/* Does one step, with its triggers, in any connection; false: SQLite says why. */
bool schema_step_do(struct sqlite3 *db, const struct schema_step *step);

/* Takes an empty file, or one of an earlier version, through the steps that it lacks; all of them or none. */
enum status schema_upgrade(struct ledger *ledger, struct error *error) MUST_USE;

/*
 * Makes sure that every table, index, trigger and view of that version is there as its step made it: without its
 * triggers a ledger could be altered. STATUS_REFUSED: something is missing or changed; error names it.
 */
enum status schema_verify(struct ledger *ledger, int version, struct error *error) MUST_USE;

#endif
