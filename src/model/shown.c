/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shown.h"

#include <math.h>

double shown_step(struct shown shown)
{
	return pow(10.0, -shown.decimals);
}
