/* SPDX-License-Identifier: GPL-3.0-or-later */
/* trends.h: does the response move with the order of brewing, or with the wait from brewing to reading? */
#ifndef BREWSPREAD_TRENDS_H
#define BREWSPREAD_TRENDS_H

#include "analysis.h"

/*
 * Adds sentences on trends within treatments over the brewing order and the waiting time, and a warning where the
 * treatments were brewed one after the other instead of mixed, or waited differently long. False without memory.
 */
bool trends_say(struct analysis *analysis);

#endif
