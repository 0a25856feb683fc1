/* SPDX-License-Identifier: GPL-3.0-or-later */
/* plain_line.h: a short way through lines of the plainest form, which most lines of a long text have. */
#ifndef BREWSPREAD_PLAIN_LINE_H
#define BREWSPREAD_PLAIN_LINE_H

#include "reading_text.h"

/* Is label nothing but ASCII letters, digits, "-" and "_"? */
bool plain_label(struct slice label);

/*
 * Reads "A1 1.38 1.39 @22.4": the label of a brew, numbers with decimals, perhaps a temperature at the end, blanks
 * between; one decimal sign, point or comma, throughout. The labels must all be plain (label_list). Where it says true,
 * out is to the byte what text_line_read() makes of line; anything else, and all that calls for a question, is false,
 * and out is then undefined.
 */
bool plain_line_read(struct text_line *out, struct slice line, const struct label_list *labels);

#endif
