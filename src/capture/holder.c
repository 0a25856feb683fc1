/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "holder.h"

#include <dirent.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "number.h"

static bool same_file(const struct stat *a, const struct stat *b)
{
	if (S_ISCHR(a->st_mode) && S_ISCHR(b->st_mode))
		return a->st_rdev == b->st_rdev;
	return a->st_dev == b->st_dev && a->st_ino == b->st_ino;
}

static size_t content_read(char *out, size_t size, const char *path)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC);
	ssize_t len = -1;

	if (fd >= 0) {
		len = read(fd, out, size - 1);
		close(fd);
	}
	out[len > 0 ? len : 0] = '\0';
	return len > 0 ? (size_t)len : 0;
}

static bool is_locked(pid_t pid, const char *number)
{
	char path[64];
	char text[1024];

	snprintf(path, sizeof(path), "/proc/%ld/fdinfo/%.20s", (long)pid, number);
	content_read(text, sizeof(text), path);
	return strstr(text, "FLOCK") != NULL;
}

static bool holder_look(struct holder *out, pid_t pid, const struct stat *file, bool locked)
{
	char folder[64];
	struct dirent *entry;
	bool found = false;
	DIR *dir;

	snprintf(folder, sizeof(folder), "/proc/%ld/fd", (long)pid);
	dir = opendir(folder);
	while (dir && !found && (entry = readdir(dir)) != NULL) {
		struct stat other;
		ssize_t len;

		if (fstatat(dirfd(dir), entry->d_name, &other, 0) != 0 || !same_file(file, &other))
			continue;
		if (locked && !is_locked(pid, entry->d_name))
			continue;
		len = readlinkat(dirfd(dir), entry->d_name, out->path, sizeof(out->path) - 1);
		out->path[len > 0 ? len : 0] = '\0';
		found = true;
	}
	if (dir)
		closedir(dir);
	if (found) {
		out->pid = pid;
		snprintf(folder, sizeof(folder), "/proc/%ld/comm", (long)pid);
		content_read(out->command, sizeof(out->command), folder);
		out->command[strcspn(out->command, "\n")] = '\0';
	}
	return found;
}

bool holder_is_self(struct holder *out, const struct stat *file)
{
	return holder_look(out, getpid(), file, true);
}

bool holder_find(struct holder *out, const struct stat *file)
{
	DIR *dir = opendir("/proc");
	struct dirent *entry;
	bool found = false;

	while (dir && !found && (entry = readdir(dir)) != NULL) {
		long long pid;

		if (number_parse_count(&pid, slice_from(entry->d_name)) && pid != getpid())
			found = holder_look(out, (pid_t)pid, file, false);
	}
	if (dir)
		closedir(dir);
	return found;
}
