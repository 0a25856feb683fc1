/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * manifest.h: the brew records of a comparison run, as typed in a spreadsheet program.
 *
 * A file of delimited text: header.h knows the columns, table.h the rows. The separator (comma, semicolon, tab, "|")
 * comes from the header line or from a line "sep=;" before it; the decimal mark is one for the whole file, decided by
 * all its numbers. Title lines above the header and a row of units below it are found. Whatever is decided, doubted or
 * not taken is told as a fault with its place.
 *
 * A brew with a label and a treatment stays in the run though a cell of it is bad: .usable says whether it gets a
 * yield. A row without label or treatment, with more cells than the header, with a NUL, or with a label that stood
 * before is left out.
 */
#ifndef BREWSPREAD_MANIFEST_H
#define BREWSPREAD_MANIFEST_H

#include "faults.h"
#include "run.h"
#include "settings.h"
#include "status.h"
#include "text.h"

/*
 * Reads the manifest at path ("-": standard input) into run, which must be empty of brews: name, brews, treatments,
 * columns, inputs. faults, whose places show run's memory, gets all that is wrong or worth knowing.
 * STATUS_IO: the file cannot be read. STATUS_REFUSED: no brew could be read, faults say why.
 */
enum status manifest_read(struct run *run, const char *path, const struct settings *settings, struct faults *faults,
                          struct error *error) MUST_USE;

/*
 * As manifest_read(), from a text as it was loaded, not decoded yet. name is what messages call it. Its bytes go over
 * to the run: text is empty afterwards, whatever happens.
 */
enum status manifest_read_text(struct run *run, const char *name, struct text *text, const struct settings *settings,
                               struct faults *faults, struct error *error) MUST_USE;

/*
 * The treatment of that name: exactly, else letter case and blanks aside with a note. False: none or several like
 * it; faults then get an error that lists what there is.
 */
bool manifest_find_treatment(uint32_t *index, const struct run *run, struct slice name, struct faults *faults) MUST_USE;

#endif
