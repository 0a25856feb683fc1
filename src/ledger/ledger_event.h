/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_event.h: what happened beside the readings: opened, unplugged, clock stepped, settings reloaded, cup changed. */
#ifndef BREWSPREAD_LEDGER_EVENT_H
#define BREWSPREAD_LEDGER_EVENT_H

#include "ledger.h"
#include "slice.h"

struct ledger_event {
	int64_t id;           /* set by ledger_event_add() */
	int64_t at_us;        /* UTC, as the clock stood */
	int64_t monotonic_us; /* by CLOCK_MONOTONIC; 0: not told */
	int64_t meter;        /* 0: of none in particular */
	int64_t run;          /* 0: of none in particular */
	struct slice kind;    /* one word or two: "opened", "unplugged", "clock step", "settings", "fault", "cup" */
	struct slice text;    /* the rest, for people */
};

/* Adds event and sets its id. STATUS_INVALID: its kind is blank, or there is no such meter or run. */
enum status ledger_event_add(struct ledger *ledger, struct ledger_event *event, struct error *error) MUST_USE;

/*
 * Calls each with context and every event with an id above after_id, by id, until it returns another status than
 * STATUS_OK, which is then returned; error is handed to it.
 */
enum status ledger_each_event(struct ledger *ledger, int64_t after_id,
                              enum status (*each)(void *context, const struct ledger_event *event, struct error *error),
                              void *context, struct error *error) MUST_USE;

#endif
