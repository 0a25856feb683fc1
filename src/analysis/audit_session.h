/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_session.h: the session that a meter is in: its cups, and its checks of zero and standards. For audit.c alone.
 */
#ifndef BREWSPREAD_AUDIT_SESSION_H
#define BREWSPREAD_AUDIT_SESSION_H

#include "audit.h"
#include "audit_fit.h"
#include "audit_pair.h"
#include "correction.h"

enum {
	LIVE_CUPS = 1024, /* in hand at a time; one more closes them all */
	LIVE_SLOTS = 2 * LIVE_CUPS,
	LIVE_CHECKS = 256, /* zero checks, and standards waiting for the next zero */
};

/* A cup in hand. */
struct live_cup {
	uint64_t hash;
	struct slice label;
	struct moments strength; /* % TDS */
	int64_t id, at_us;       /* of its last reading */
};

/* A check that may go on. */
struct live_check {
	uint8_t role; /* READING_SAMPLE: none */
	double strength;
	int64_t first_id, first_us, last_us;
	struct moments value; /* zero: % TDS; standard: % sucrose without the zero's part */
	struct moments shown, temp;
	struct meter_scale scale;
};

/* A standard that waits until the zero after it is known. */
struct live_standard {
	struct audit_check check;
	struct meter_scale scale;
	double shown, temp_c, seconds;
};

struct audit_live {
	bool open;
	struct audit_session session;
	int64_t source;
	int64_t month_from;    /* of the session */
	struct live_cup *cups; /* LIVE_CUPS, from malloc() at the first; NULL */
	uint16_t *slots;       /* LIVE_SLOTS: index into cups + 1; 0: none */
	size_t cup_count;
	struct live_cup *last_cup; /* NULL: none */
	struct arena labels;
	struct live_check check;
	struct zero_offset zeros[LIVE_CHECKS];
	size_t zero_count;
	struct live_standard standards[LIVE_CHECKS];
	size_t standard_count;
	struct fit_sums zero_line; /* offset over hours since the session's first reading */

	double factor[UNIT_INDEX + 1]; /* % TDS per unit of display; of an index: of a difference */
	bool plain;                    /* a compensated meter: value times factor is the strength, but for an index */

	/* over all sessions: */
	struct fit_sums hourly; /* pooled within sessions */
	size_t hourly_sessions;
	uint64_t standards_seen;
};

/* What the session code works on: one meter's results so far and what is open of it. */
struct audit_desk {
	struct audit *audit;
	struct audit_meter *meter;
	struct audit_live *live;
	size_t index; /* of the meter */
};

/* Sets the factors of live from its meter. */
void live_prepare(struct audit_live *live, const struct audit_meter *meter, double filter_factor);

/* Takes a reading, closing the session and opening another where it is due. False: no memory. */
bool session_take(const struct audit_desk *desk, const struct audit_reading *reading);

/* Closes the session that is open, if one is. False: no memory. */
bool session_close(const struct audit_desk *desk);

void live_release(struct audit_live *live);

#endif
