/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "part_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { NAME_ATTEMPTS = 100, NAME_ROOM = 64 };

static char *folder_of(const char *path)
{
	const char *slash = strrchr(path, '/');

	if (!slash)
		return strdup(".");
	return slash == path ? strdup("/") : strndup(path, (size_t)(slash - path));
}

static enum status make_part(struct part_file *part, const char *path, struct error *error)
{
	size_t room = strlen(part->folder) + NAME_ROOM;
	char *name = malloc(room);
	struct stat old;
	mode_t mode = stat(part->path, &old) == 0 ? old.st_mode & 0777 : 0666;
	int fd = -1;

	if (!name)
		return error_set(error, STATUS_MEMORY, "no memory to write %s", path);
	for (int i = 0; i < NAME_ATTEMPTS && fd < 0; i++) {
		snprintf(name, room, "%s/.brewspread-%ld-%d.part", part->folder, (long)getpid(), i);
		fd = open(name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
		if (fd < 0 && errno != EEXIST)
			break;
	}
	if (fd < 0) {
		enum status status = error_set_errno(error, STATUS_IO, "%s: not written", path);

		free(name);
		return status;
	}
	close(fd);
	part->part = name;
	return STATUS_OK;
}

enum status part_file_open(struct part_file *part, const char *path, struct error *error)
{
	struct stat stat_of;

	*part = (struct part_file)PART_FILE_INIT;
	if (stat(path, &stat_of) == 0 && S_ISDIR(stat_of.st_mode))
		return error_set(error, STATUS_IO, "%s: not written; it is a folder", path);
	part->path = realpath(path, NULL);
	if (!part->path)
		part->path = strdup(path);
	part->folder = part->path ? folder_of(part->path) : NULL;
	if (!part->folder)
		return error_set(error, STATUS_MEMORY, "no memory to write %s", path);
	return make_part(part, path, error);
}

/* Where the file system can't refuse to replace in one step, looking first has to do. */
static int rename_new(const char *from, const char *to)
{
	struct stat stat_of;

	if (renameat2(AT_FDCWD, from, AT_FDCWD, to, RENAME_NOREPLACE) == 0)
		return 0;
	if (errno != EINVAL && errno != ENOSYS)
		return -1;
	if (lstat(to, &stat_of) == 0) {
		errno = EEXIST;
		return -1;
	}
	return rename(from, to);
}

void part_file_folder_sync(const char *folder)
{
	int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

	if (fd < 0)
		return;
	fsync(fd);
	close(fd);
}

static enum status place(struct part_file *part, const char *path, bool replace, struct error *error)
{
	int fd = part->part ? open(part->part, O_RDONLY | O_CLOEXEC) : -1;
	enum status status = STATUS_OK;

	if (fd < 0 || fsync(fd) != 0)
		status = error_set_errno(error, STATUS_IO, "%s: not written", path);
	else if ((replace ? rename(part->part, part->path) : rename_new(part->part, part->path)) != 0)
		status = error_set_errno(error, errno == EEXIST ? STATUS_REFUSED : STATUS_IO, "%s: not written", path);
	if (fd >= 0)
		close(fd);
	if (status != STATUS_OK)
		return status;
	free(part->part);
	part->part = NULL;
	return STATUS_OK;
}

enum status part_file_finish(struct part_file *part, const char *path, bool replace, struct error *error)
{
	enum status status = place(part, path, replace, error);

	if (status == STATUS_OK)
		part_file_folder_sync(part->folder);
	return status;
}

static enum status write_all(const struct part_file *part, struct slice text)
{
	FILE *file = part->part ? fopen(part->part, "we") : NULL;
	bool good = file && fwrite(text.text, 1, text.len, file) == text.len;

	if (file && fclose(file) != 0)
		good = false;
	return good ? STATUS_OK : STATUS_IO;
}

/* *folder: as part_file_place() has it. */
static enum status write_and_place(const char *path, struct slice text, bool replace, char **folder,
                                   struct error *error)
{
	struct part_file part = PART_FILE_INIT;
	enum status status = part_file_open(&part, path, error);

	*folder = NULL;
	if (status == STATUS_OK) {
		status = write_all(&part, text);
		if (status != STATUS_OK)
			error_set_errno(error, status, "%s: not written", path);
	}
	if (status == STATUS_OK)
		status = place(&part, path, replace, error);
	if (status == STATUS_OK) {
		*folder = part.folder;
		part.folder = NULL;
	}
	part_file_release(&part);
	return status;
}

enum status part_file_write(const char *path, struct slice text, bool replace, struct error *error)
{
	char *folder;
	enum status status = write_and_place(path, text, replace, &folder, error);

	if (folder)
		part_file_folder_sync(folder);
	free(folder);
	return status;
}

enum status part_file_place(const char *path, struct slice text, char **folder, struct error *error)
{
	return write_and_place(path, text, true, folder, error);
}

void part_file_release(struct part_file *part)
{
	if (part->part)
		unlink(part->part);
	free(part->path);
	free(part->folder);
	free(part->part);
	*part = (struct part_file)PART_FILE_INIT;
}
