/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "open_file.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <spawn.h>
#include <stdlib.h>
#include <unistd.h>

#define OPENER "xdg-open"

enum status open_file(const char *path, struct error *error)
{
	char whole[PATH_MAX]; /* so that a name that begins with "-" is none of its options */
	char opener[] = OPENER;
	char *words[] = { opener, whole, NULL };
	posix_spawn_file_actions_t actions;
	pid_t child;
	int failed;

	if (!realpath(path, whole))
		return error_set_errno(error, STATUS_IO, "%s: not opened", path);
	failed = posix_spawn_file_actions_init(&actions);
	if (failed == 0) {
		failed = posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
		if (failed == 0)
			failed = posix_spawnp(&child, OPENER, &actions, NULL, words, environ);
		posix_spawn_file_actions_destroy(&actions);
	}
	if (failed == 0)
		return STATUS_OK;
	errno = failed;
	return error_set_errno(error, STATUS_IO, "%s: not opened, since %s can't be started", path, OPENER);
}
