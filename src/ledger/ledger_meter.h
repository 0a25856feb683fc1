/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_meter.h: the meters that lines came from, each with its port and profile as they were at the time. */
#ifndef BREWSPREAD_LEDGER_METER_H
#define BREWSPREAD_LEDGER_METER_H

#include "ledger.h"
#include "meter.h"
#include "slice.h"

struct ledger_meter {
	int64_t id;           /* set by ledger_meter_add() */
	int64_t seen_us;      /* when it was first added, UTC */
	struct meter meter;   /* what its numbers mean */
	struct slice port;    /* what tells its port from others, such as the by-id link; empty: pasted text */
	struct slice profile; /* the text of its profile; empty: none */
};

/*
 * Sets meter->id to that of the meter with the same name, port, profile and meaning, which is added where there is none
 * yet: a changed profile or port makes a new meter of the same name. seen_us is used for a new one only.
 * STATUS_INVALID: the name is blank, or scale_factor or cal_temp_c is not a finite number.
 */
enum status ledger_meter_add(struct ledger *ledger, struct ledger_meter *meter, struct error *error) MUST_USE;

/*
 * Calls each with context and every meter, by id, until it returns another status than STATUS_OK, which is then
 * returned; error is handed to it.
 */
enum status ledger_each_meter(struct ledger *ledger,
                              enum status (*each)(void *context, const struct ledger_meter *meter, struct error *error),
                              void *context, struct error *error) MUST_USE;

#endif
