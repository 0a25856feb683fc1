/* SPDX-License-Identifier: GPL-3.0-or-later */
/* audit_load.h: what an audit works on: from options and files to a computed audit or instrument study. */
#ifndef BREWSPREAD_AUDIT_LOAD_H
#define BREWSPREAD_AUDIT_LOAD_H

#include "audit.h"
#include "audit_gauge.h"
#include "command.h"
#include "profile.h"
#include "run.h"

struct audited {
	struct audit_query query;
	struct audit *audit;       /* NULL: an instrument study */
	struct audit_gauge *gauge; /* NULL: none */
	struct gauge_design design;
	struct run *run;         /* readings from text, and the study's loads */
	struct profile *profile; /* NULL: none was asked for */
};

/* The ledger of a bench folder, which is taken where no file is named. */
#define AUDIT_LEDGER "ledger.brewspread"

/*
 * Reads what the invocation names and computes. Faults go into the invocation. STATUS_REFUSED: nothing to go on with,
 * faults or error (if not "") say why. The caller's, whatever the status: audited_release().
 */
enum status audit_load(struct audited *audited, struct invocation *invocation) MUST_USE;

void audited_release(struct audited *audited);

#endif
