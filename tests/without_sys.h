/* SPDX-License-Identifier: GPL-3.0-or-later */
/* without_sys.h: containers without /sys, where the system tells nothing of its ports and the port library opens none. */
#ifndef WITHOUT_SYS_H
#define WITHOUT_SYS_H

#include <stdbool.h>
#include <stdio.h>
#include <unistd.h>

/* Is there no /sys? Then says, as a test program's whole output, that what is skipped. */
static inline bool without_sys(const char *what)
{
	if (access("/sys/class/tty", F_OK) == 0)
		return false;
	printf("1..1\nok 1 - %s # SKIP /sys is not mounted here\n", what);
	return true;
}

#endif
