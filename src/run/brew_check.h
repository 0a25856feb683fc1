/* SPDX-License-Identifier: GPL-3.0-or-later */
/* brew_check.h: what cannot be, or hardly, about the numbers of one brew. */
#ifndef BREWSPREAD_BREW_CHECK_H
#define BREWSPREAD_BREW_CHECK_H

#include "brew.h"
#include "faults.h"

/* Where the cell of a number is: asked only for what is told. */
struct number_places {
	struct place (*of)(const void *user, enum brew_number which);
	const void *user;
};

/*
 * Warns of numbers of brew that are possible but not likely, by themselves or together: a dose of 600 g, more beverage
 * than water, less water than coffee. Nothing in brew is changed. Limits are wide of anything brewed by hand or
 * machine; common practice, no source.
 */
void brew_check(const struct brew *brew, struct number_places places, struct faults *faults);

#endif
