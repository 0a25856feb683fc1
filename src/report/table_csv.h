/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * table_csv.h: tables for other programs: comma, decimal point, UTF-8, CRLF (RFC 4180), a line of heads with units. Numbers have
 * the digits of digits.h; what can't be had is an empty cell. JSON has them in full.
 *
 * A text that a spreadsheet program would take for a formula (it begins with =, +, - or @, or a control character) gets an
 * apostrophe in front.
 */
#ifndef BREWSPREAD_TABLE_CSV_H
#define BREWSPREAD_TABLE_CSV_H

#include "analysis.h"
#include "phrase.h"

/* Each adds a whole table; phrase->failed tells of a lack of memory. */
void table_csv_treatments(struct phrase *out, const struct analysis *analysis);
void table_csv_brews(struct phrase *out, const struct analysis *analysis);
void table_csv_readings(struct phrase *out, const struct analysis *analysis);
void table_csv_comparisons(struct phrase *out, const struct analysis *analysis); /* with the control, then all pairs */

#endif
