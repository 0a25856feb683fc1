/* SPDX-License-Identifier: GPL-3.0-or-later */
/* part_file.h: a file on its way: made beside its place under another name, and put there once it is whole. */
#ifndef BREWSPREAD_PART_FILE_H
#define BREWSPREAD_PART_FILE_H

#include <stdbool.h>

#include "slice.h"
#include "status.h"

struct part_file {
	char *path;   /* its place, symbolic links followed */
	char *folder; /* of that place */
	char *part;   /* the name that it has meanwhile; NULL while there is no such file */
};

#define PART_FILE_INIT       \
	{                    \
		.path = NULL \
	}

/*
 * Makes a new, empty file in the folder of path, with the rights of what stands at path, if anything does.
 * STATUS_IO: error names path and the reason. STATUS_MEMORY. The caller's, whatever the status: part_file_release().
 */
enum status part_file_open(struct part_file *part, const char *path, struct error *error) MUST_USE;

/*
 * Puts it on the disk and then at its place. replace: over what stands there; else STATUS_REFUSED where anything does.
 * STATUS_IO: error names path, as it was given, and the reason; the place is then as it was.
 */
enum status part_file_finish(struct part_file *part, const char *path, bool replace, struct error *error) MUST_USE;

/* Opens, writes text and finishes. */
enum status part_file_write(const char *path, struct slice text, bool replace, struct error *error) MUST_USE;

/*
 * part_file_write() over what stands there, but for the last step: the file is on the disk and at its place, and only its folder may still
 * be as it was if the machine stops now, so that many files of one folder need but one part_file_folder_sync(*folder). *folder is
 * the caller's, free(); NULL where the file was not written.
 */
enum status part_file_place(const char *path, struct slice text, char **folder, struct error *error) MUST_USE;

/* Puts on the disk which files a folder has. Where a folder can't be synced they are there all the same. */
void part_file_folder_sync(const char *folder);

/* Removes the file unless it was finished. */
void part_file_release(struct part_file *part);

#endif
