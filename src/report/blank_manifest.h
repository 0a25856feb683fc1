/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * blank_manifest.h: the manifest of a planned run, ready to be filled in: CSV with the columns that the program knows,
 * brews in the order of brewing, masses and the like empty. What was meant stands in comments, for only what was
 * weighed and done belongs into the cells. UTF-8, with a byte order mark where it is not plain ASCII.
 */
#ifndef BREWSPREAD_BLANK_MANIFEST_H
#define BREWSPREAD_BLANK_MANIFEST_H

#include "run_plan.h"
#include "status.h"

struct manifest_request {
	const struct plan_targets *targets;
	const char *more; /* names of further columns, separated by commas; NULL: none */
};

/* The text of the manifest, ended by NUL. The same arguments give the same bytes. NULL when there is no memory. The caller's: free(). */
char *blank_manifest_text(const struct run_plan *plan, const struct manifest_request *request);

/* STATUS_INVALID: more names a column that the manifest has anyway, or one twice; error says which. */
enum status blank_manifest_check(const char *more, struct error *error) MUST_USE;

/*
 * Is there room for that text at path? STATUS_OK: nothing is there, or just this text, and *same says which.
 * STATUS_REFUSED: something else is, a manifest that was filled in perhaps; error says so. STATUS_IO, STATUS_MEMORY.
 */
enum status blank_manifest_room(const char *path, const char *text, bool *same, struct error *error) MUST_USE;

/* Writes text to path; never over what stands there: STATUS_REFUSED. STATUS_IO, STATUS_MEMORY: error says why. */
enum status blank_manifest_write(const char *path, const char *text, struct error *error) MUST_USE;

#endif
