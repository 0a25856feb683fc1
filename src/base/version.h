/* SPDX-License-Identifier: GPL-3.0-or-later */
/* version.h: what the build was told. */
#ifndef BREWSPREAD_VERSION_H
#define BREWSPREAD_VERSION_H

/* "0.1.0" */
const char *program_version(void);

/* Where templates are installed. */
const char *program_datadir(void);

#endif
