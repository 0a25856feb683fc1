/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * xlsx_check.h: reads a finished workbook back, as a file, before anybody is told that it is there. The library does
 * not notice when its scratch files cannot be written, and then reports success over an empty sheet.
 */
#ifndef BREWSPREAD_XLSX_CHECK_H
#define BREWSPREAD_XLSX_CHECK_H

#include <stddef.h>
#include <stdint.h>

#include "status.h"

struct sheet_size {
	uint64_t rows;
	uint64_t cells;
};

/*
 * Every part of the workbook at path unpacks to the size and checksum that its directory states, its tags fit each other
 * and it ends with the one that closes it, and sheet i of count (xl/worksheets/sheet1.xml, …) has just the rows and cells that were written.
 * STATUS_IO: it is not so, error says what is wrong, without the path; or it can't be read. STATUS_MEMORY.
 */
enum status xlsx_check(const char *path, const struct sheet_size *sheets, size_t count, struct error *error) MUST_USE;

#endif
