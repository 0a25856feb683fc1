/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * fast_workbook.h: workbooks whose packing costs less. The library packs with zlib's default level and has no setting for
 * it; that level takes twice the time of a low one for a file an eighth smaller.
 */
#ifndef BREWSPREAD_FAST_WORKBOOK_H
#define BREWSPREAD_FAST_WORKBOOK_H

#include <xlsxwriter.h>

/*
 * workbook_new_opt(), NULL as there. From then on in this process every raw deflate stream that asks for the default
 * level (only archives have such streams) gets a low one, and memory that was given back is kept for the next part.
 */
lxw_workbook *fast_workbook_new(const char *path, lxw_workbook_options *options);

#endif
