/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * file_watch.h: tells when a file was saved. Its folder is watched (inotify), since editors put a new file in the old
 * one's place; and it is told only once the file has been still for FILE_WATCH_STILL_MS, not in the middle of a save.
 */
#ifndef BREWSPREAD_FILE_WATCH_H
#define BREWSPREAD_FILE_WATCH_H

#include <stdbool.h>
#include <stdint.h>
#include <sys/stat.h>

#include "clock.h"
#include "status.h"

enum { FILE_WATCH_STILL_MS = 1000 };

struct file_watch {
	int fd;           /* for poll(); -1: nothing is watched */
	const char *path; /* lent */
	const char *name; /* shows path */
	int64_t look_us;  /* when it is looked at next; CLOCK_NEVER */
	struct stat told; /* as it was when it was told last */
	struct stat seen; /* as it was when it was looked at last */
};

#define FILE_WATCH_INIT                          \
	{                                        \
		.fd = -1, .look_us = CLOCK_NEVER \
	}

/* Watches path, whose folder must be there; what it holds now counts as told. STATUS_IO: error. */
enum status file_watch_start(struct file_watch *watch, const char *path, struct error *error) MUST_USE;

void file_watch_stop(struct file_watch *watch);

/* Tells it once more at when_us, saved or not, where it is there then. */
void file_watch_again(struct file_watch *watch, int64_t when_us);

/* After poll(), and when it is due: was the file saved, and is it still now? */
bool file_watch_step(struct file_watch *watch, const struct moment *now);

#endif
