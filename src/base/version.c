/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "version.h"

const char *program_version(void)
{
	return BREWSPREAD_VERSION;
}

const char *program_datadir(void)
{
	return BREWSPREAD_DATADIR;
}
