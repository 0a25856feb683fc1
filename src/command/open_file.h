/* SPDX-License-Identifier: GPL-3.0-or-later */
/* open_file.h: shows a file with whatever program the desktop has for it. */
#ifndef BREWSPREAD_OPEN_FILE_H
#define BREWSPREAD_OPEN_FILE_H

#include "status.h"

/* Starts xdg-open on path, without a shell, and does not wait for it. STATUS_IO: it can't be started; error says why. */
enum status open_file(const char *path, struct error *error) MUST_USE;

#endif
