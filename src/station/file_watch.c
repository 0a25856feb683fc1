/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "file_watch.h"

#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>

#include "arena.h"

static void look(const char *path, struct stat *out)
{
	if (stat(path, out) != 0)
		*out = (struct stat){ .st_size = -1 };
}

/* Not the inode's own times: a backup that reads the file must not count. */
static bool same(const struct stat *a, const struct stat *b)
{
	return a->st_size == b->st_size && a->st_ino == b->st_ino && a->st_mtim.tv_sec == b->st_mtim.tv_sec &&
	       a->st_mtim.tv_nsec == b->st_mtim.tv_nsec;
}

enum status file_watch_start(struct file_watch *watch, const char *path, struct error *error)
{
	struct arena memory = ARENA_INIT;
	const char *slash = strrchr(path, '/');
	const char *folder = slash ? arena_print(&memory, "%.*s", (int)(slash - path), path) : ".";
	int fd = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
	int mark = fd >= 0 && folder ? inotify_add_watch(fd, folder,
	                                                 IN_CLOSE_WRITE | IN_MODIFY | IN_CREATE | IN_MOVED_TO |
	                                                         IN_MOVED_FROM | IN_DELETE) :
	                               -1;

	*watch = (struct file_watch)FILE_WATCH_INIT;
	if (mark < 0) {
		error_set_errno(error, STATUS_IO, "%s can't be watched", path);
		if (fd >= 0)
			close(fd);
		arena_release(&memory);
		return STATUS_IO;
	}
	arena_release(&memory);
	watch->fd = fd;
	watch->path = path;
	watch->name = slash ? slash + 1 : path;
	look(path, &watch->told);
	watch->seen = watch->told;
	return STATUS_OK;
}

void file_watch_stop(struct file_watch *watch)
{
	if (watch->fd >= 0)
		close(watch->fd);
	*watch = (struct file_watch)FILE_WATCH_INIT;
}

void file_watch_again(struct file_watch *watch, int64_t when_us)
{
	watch->told = (struct stat){ .st_size = -1 };
	watch->look_us = when_us;
}

/* Is one of what happened in the folder about the file? */
static bool stirred(const struct file_watch *watch)
{
	_Alignas(struct inotify_event) char bytes[4096];
	bool about = false;
	ssize_t got;

	while ((got = read(watch->fd, bytes, sizeof(bytes))) > 0)
		for (ssize_t at = 0; at < got;) {
			const struct inotify_event *event = (const void *)(bytes + at);

			if (event->mask & IN_Q_OVERFLOW || (event->len > 0 && strcmp(event->name, watch->name) == 0))
				about = true;
			at += (ssize_t)(sizeof(*event) + event->len);
		}
	return about;
}

bool file_watch_step(struct file_watch *watch, const struct moment *now)
{
	struct stat file;

	if (watch->fd < 0)
		return false;
	if (stirred(watch)) {
		watch->look_us = now->monotonic_us + FILE_WATCH_STILL_MS * INT64_C(1000);
		look(watch->path, &watch->seen);
	}
	if (now->monotonic_us < watch->look_us)
		return false;
	look(watch->path, &file);
	if (!same(&file, &watch->seen)) {
		watch->seen = file;
		watch->look_us = now->monotonic_us + FILE_WATCH_STILL_MS * INT64_C(1000);
		return false;
	}
	watch->look_us = CLOCK_NEVER;
	if (same(&file, &watch->told))
		return false;
	watch->told = file;
	return true;
}
