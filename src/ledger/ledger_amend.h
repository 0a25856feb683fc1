/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_amend.h: excluding, restoring and moving a reading, always with a reason. The reading itself stays as it is. */
#ifndef BREWSPREAD_LEDGER_AMEND_H
#define BREWSPREAD_LEDGER_AMEND_H

#include "ledger.h"
#include "slice.h"

enum amendment_action {
	AMENDMENT_EXCLUDE, /* out of the statistics */
	AMENDMENT_RESTORE, /* in again */
	AMENDMENT_MOVE,    /* to another cup, or to another role */
};

struct amendment {
	int64_t id;      /* set by ledger_amend_append() */
	int64_t reading; /* id of the reading */
	int64_t at_us;   /* when, UTC */
	enum amendment_action action;
	struct slice label;  /* AMENDMENT_MOVE: the cup that it is of; empty for a zero check or standard */
	int role;            /* AMENDMENT_MOVE: enum reading_role that it has from then on */
	struct slice reason; /* must say something */
	struct slice author; /* may be empty */
};

/* "exclude", "restore", "move" */
const char *amendment_action_name(enum amendment_action action);

/*
 * Adds amendment and sets its id. Of several of one reading the newest in force counts: exclude against restore, move
 * against move.
 * STATUS_INVALID: no reason; no such reading, or a line that gave none; excluded already, or not excluded; moved to
 * where it is; no such role.
 */
enum status ledger_amend_append(struct ledger *ledger, struct amendment *amendment, struct error *error) MUST_USE;

/*
 * Calls each with context and every amendment of that reading (0: of all), by id, until it returns another status than
 * STATUS_OK, which is then returned; error is handed to it.
 */
enum status ledger_each_amendment(struct ledger *ledger, int64_t reading,
                                  enum status (*each)(void *context, const struct amendment *amendment,
                                                      struct error *error),
                                  void *context, struct error *error) MUST_USE;

#endif
