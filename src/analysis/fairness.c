/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "fairness.h"

bool fairness_say(struct analysis *analysis)
{
	(void)analysis;
	return true;
}
