/* SPDX-License-Identifier: GPL-3.0-or-later */
/* profile_file.h: the keys of a meter profile's INI file, read into a struct profile. profile.h lists them. */
#ifndef BREWSPREAD_PROFILE_FILE_H
#define BREWSPREAD_PROFILE_FILE_H

#include "faults.h"
#include "profile.h"
#include "slice.h"

/*
 * Reads ini into profile, whose fields hold their standard values. All that is wrong goes into faults, with its
 * line; the pattern is taken as it stands: *pattern_line is the line it begins in, 0 if it is missing.
 */
void profile_file_read(struct profile *profile, struct slice ini, const char *file, struct faults *faults,
                       uint32_t *pattern_line);

#endif
