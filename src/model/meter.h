/* SPDX-License-Identifier: GPL-3.0-or-later */
/* meter.h: what one meter's numbers mean. How it talks is its profile's business: profile.h. */
#ifndef BREWSPREAD_METER_H
#define BREWSPREAD_METER_H

#include <stdbool.h>

#include "slice.h"
#include "unit.h"

struct meter {
	struct slice name;
	enum unit unit;      /* of its display, where a line does not say */
	double scale_factor; /* TDS per Brix of the meter's own TDS scale */
	double cal_temp_c;   /* temperature that its scale holds for */
	bool compensated;    /* corrects for the temperature itself */
	double step;         /* of its display, in its unit; NaN: as the readings' decimals show */
	double accuracy;     /* stated by its maker, ± in its unit; NaN: not stated */
};

/* A compensated meter that shows coffee TDS on the common scale of 0.85 Brix (common practice, no source), at 20 °C. */
struct meter meter_standard(void);

#endif
