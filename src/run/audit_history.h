/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_history.h: what earlier runs in a ledger say about the spread between brews and the meter, for a run that can't
 * say it itself, or for planning.
 */
#ifndef BREWSPREAD_AUDIT_HISTORY_H
#define BREWSPREAD_AUDIT_HISTORY_H

#include "brew.h"
#include "describe.h"
#include "ledger.h"
#include "settings.h"
#include "slice.h"

enum { HISTORY_RUNS = 100 }; /* the newest that are looked at */

struct history_query {
	enum brew_method method; /* runs whose brews were all made so */
	struct slice meter;      /* readings of this meter only; empty: of all */
	const char *except;      /* manifest of a run to leave out: the one at hand; NULL: none */
};

struct history {
	size_t runs;       /* that had treatments with two brews or more */
	size_t brews;      /* in them */
	double s_brew, df; /* between brews of one treatment, yield points, pooled; NaN: no such run */
	struct interval s_brew_interval;
	double ratio;       /* largest run's spread over the smallest's; NaN below two runs */
	double s_r, s_r_df; /* between readings of one cup, % TDS, pooled over all runs looked at */
	struct interval s_r_interval;
	size_t looked_at;    /* runs of that method whose manifest could be read */
	size_t unreadable;   /* runs whose manifest could not */
	struct error unread; /* why, of the first whose manifest is there all the same */
};

/*
 * Reads the manifests of the ledger's runs again, where they stand or beside the ledger, joins what was captured for
 * each and pools over runs: as in each run's own report, within its treatments (and rounds). settings serve as in a
 * report; what they say of a response, a control or a history is left aside. A run whose manifest is gone is counted
 * and left out. STATUS_MEMORY, and what the ledger fails with; *out is set in any case.
 */
enum status audit_history(struct history *out, struct ledger *ledger, const struct history_query *query,
                          const struct settings *settings, struct error *error) MUST_USE;

/* Adds a warning to faults where a manifest is there and could not be read: its run would be missed without a word. */
void history_tell_unread(const struct history *history, struct faults *faults);

/*
 * Sets history_sd and history_df of settings from history, where it has them and settings have not. Returns whether it
 * did.
 */
bool history_apply(struct settings *settings, const struct history *history);

/* "from 3 earlier runs with 24 brews in bench.ledger": into out, for the end of a sentence. */
const char *history_words(char *out, size_t size, const struct history *history, const char *ledger_path);

#endif
