/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * cup_turn.h: which cup is on a meter's prism, and which is next. Pure: no clock, no input or output.
 *
 * With a reading order (the brews of an open run) the turn moves on by itself once a cup has the readings that are
 * wanted, to the next in the order that has not; after a zero check or a standard it goes back to the cup before.
 * Without one a cup stays until another is named.
 */
#ifndef BREWSPREAD_CUP_TURN_H
#define BREWSPREAD_CUP_TURN_H

#include <stdbool.h>
#include <stddef.h>

#include "reading.h"
#include "slice.h"

/* The cups of a run, in the order in which they are to be read. */
struct cup_order {
	const struct slice *labels; /* as written in the manifest */
	size_t count;
};

enum { CUP_LABEL = 256 };

#define CUP_NONE SIZE_MAX

struct cup_turn {
	const struct cup_order *order; /* lent */
	unsigned *taken; /* readings that each cup of the order has; lent, may be shared with other turns */
	unsigned wanted; /* of each cup; at least 1 */
	enum reading_role role;
	size_t cup;              /* index into order; CUP_NONE: none, or one that is not in it */
	char other[CUP_LABEL];   /* label of a cup that is not in the order; "": none */
	unsigned other_taken;    /* its readings, since it was named */
	unsigned goal;           /* readings at which the turn leaves the cup, or the check */
	unsigned checks;         /* readings of the check so far */
	double standard_percent; /* READING_STANDARD */
	size_t before;           /* a check: the cup to go back to */
};

/* Ready for the first cup of order that has too few readings; none where by_hand is set, or all have enough. */
void cup_turn_start(struct cup_turn *turn, const struct cup_order *order, unsigned *taken, unsigned wanted,
                    bool by_hand);

/*
 * Puts that cup on the prism. One that has all its readings gets as many again. A label that is not in the order is
 * taken as it is, as long as it is shorter than CUP_LABEL bytes: else false.
 */
bool cup_turn_set(struct cup_turn *turn, struct slice label);

/* A zero check; or, with percent above 0, a solution of that strength. */
void cup_turn_check(struct cup_turn *turn, double standard_percent);

/* The cup behind (step 1) or before (-1) in the order, whatever they have. False: there is none. */
bool cup_turn_step(struct cup_turn *turn, int step);

/* The cup on the prism, or the one before it where that has no reading yet, gets as many readings again. False: none. */
bool cup_turn_again(struct cup_turn *turn);

/* No cup: readings are kept without a label. */
void cup_turn_none(struct cup_turn *turn);

struct cup_taken {
	enum reading_role role;
	struct slice label; /* shows the order, the turn or own; empty: none */
	unsigned count;     /* which reading of this cup it is, from 1; 0: of no cup */
	unsigned goal;      /* of how many */
	bool finished;      /* it was the last one wanted of a cup of the order */
	bool moved;         /* the turn went on: see cup_turn_label() */
	bool all_done;      /* no cup of the order wants readings any more */
	double standard_percent;
};

/*
 * A reading that counts: notes it, and moves on where it is due. own: the label that the meter's line says, which goes
 * before the turn; empty: none. What taken->label shows holds until the next call with turn.
 */
struct cup_taken cup_turn_take(struct cup_turn *turn, struct slice own);

/* As cup_turn_take(), of a reading that does not count (sent twice, stale): nothing is noted. */
struct cup_taken cup_turn_pass(const struct cup_turn *turn, struct slice own);

/* What is on the prism: the cup's label; "zero", "standard 5.00" of a check; empty: no cup. Shown by out[0..size). */
const char *cup_turn_label(char *out, size_t size, const struct cup_turn *turn);

/* Readings that the cup on the prism has. */
unsigned cup_turn_count(const struct cup_turn *turn);

/* Index of the cup that would be next; CUP_NONE: none. */
size_t cup_turn_next(const struct cup_turn *turn);

/* Cups of the order that have all the readings that are wanted. */
size_t cup_turn_done(const struct cup_turn *turn);

/* Index of the cup with that label, byte for byte; CUP_NONE: none. */
size_t cup_order_find(const struct cup_order *order, struct slice label);

/* Room for what cup_turn_label() says. */
#define CUP_TURN_TEXT (CUP_LABEL + 8)

#endif
