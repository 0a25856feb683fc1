/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shown.h"

#include <math.h>
#include <stddef.h>

double shown_step(struct shown shown)
{
	/* asked for every reading; the same doubles as pow() gives */
	static const double steps[] = { 1, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6 };

	if (shown.decimals >= 0 && (size_t)shown.decimals < sizeof(steps) / sizeof(steps[0]))
		return steps[shown.decimals];
	return pow(10.0, -shown.decimals);
}
