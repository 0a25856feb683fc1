/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * settings_file.h: settings from a file of sections and "name = value" lines, such as bench.ini.
 *
 * The settings are those of settings.h, each in its section; section [types] holds sample types, name = TDS per Brix.
 * Lines that begin with "#" or ";" are comments, " ;" begins one behind a value.
 */
#ifndef BREWSPREAD_SETTINGS_FILE_H
#define BREWSPREAD_SETTINGS_FILE_H

#include "faults.h"
#include "settings.h"
#include "status.h"
#include "text.h"

/*
 * Sets in settings what the file at path says; the rest stays. What is wrong goes into faults with file and line, all
 * of it; such a line is not taken. STATUS_IO: the file cannot be read. STATUS_REFUSED: there were errors; error says
 * how many.
 */
enum status settings_file_read(struct settings *settings, const char *path, struct faults *faults,
                               struct error *error) MUST_USE;

/* As settings_file_read(), from a text as it was loaded, which stays the caller's. name is what messages call it. */
enum status settings_file_read_text(struct settings *settings, const char *name, struct text *text,
                                    struct faults *faults, struct error *error) MUST_USE;

#endif
