/* SPDX-License-Identifier: GPL-3.0-or-later */
/* shown.h: what a meter's display said, nothing done to it yet. */
#ifndef BREWSPREAD_SHOWN_H
#define BREWSPREAD_SHOWN_H

#include "unit.h"

struct shown {
	double value;
	int decimals; /* 1.40 has two: without it the display step is lost */
	enum unit unit;
};

/* The step of the display: 0.01 for two decimals. */
double shown_step(struct shown shown);

#endif
