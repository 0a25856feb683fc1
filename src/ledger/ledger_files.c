/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_files.h"

#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <sys/sysmacros.h>
#include <sys/vfs.h>
#include <unistd.h>

#include "number.h"
#include "slice.h"

char *side_file(const char *path, const char *ending)
{
	size_t size = strlen(path) + strlen(ending) + 1;
	char *name = malloc(size);

	if (name)
		snprintf(name, size, "%s%s", path, ending);
	return name;
}

bool side_file_filled(const char *path, const char *ending)
{
	char *name = side_file(path, ending);
	struct stat about;
	bool filled = name && stat(name, &about) == 0 && about.st_size > 0;

	free(name);
	return filled;
}

/* The folder that path is in, from malloc(); NULL: no memory. */
static char *folder_of(const char *path)
{
	const char *slash = strrchr(path, '/');
	char *folder = strdup(slash ? path : ".");

	if (folder && slash)
		folder[slash == path ? 1 : slash - path] = '\0';
	return folder;
}

/* Magic numbers of statfs(2), kernel headers include/uapi/linux/magic.h and the file systems' own sources. */
static const struct network {
	unsigned long magic;
	const char *name;
} networks[] = {
	{ 0x00006969, "NFS" },   { 0x0000517B, "SMB" },    { 0xFF534D42, "CIFS" }, { 0xFE534D42, "SMB2" },
	{ 0x5346414F, "AFS" },   { 0x6B414653, "AFS" },    { 0x01021997, "9P" },   { 0x00C36400, "Ceph" },
	{ 0x73757245, "Coda" },  { 0x0BD00BD0, "Lustre" }, { 0x0000564C, "NCP" },  { 0x7461636F, "OCFS2" },
	{ 0x01161970, "GFS2" },  { 0x19830326, "BeeGFS" }, { 0x47504653, "GPFS" }, { 0x20030528, "OrangeFS" },
	{ 0xAAD7AAEA, "PanFS" }, { 0x01161971, "GFS" },
};

enum { FUSE_MAGIC = 0x65735546 };

/* File systems of the FUSE kind whose files are on another machine, as /proc/self/mountinfo calls them. */
static const char *const fuse_networks[] = {
	"fuse.sshfs", "fuse.glusterfs", "fuse.s3fs",       "fuse.rclone",   "fuse.ceph",
	"fuse.davfs", "fuse.curlftpfs", "fuse.gvfsd-fuse", "fuse.smbnetfs", "fuse.gcsfuse",
};

/* The file system type in a line of mountinfo, where the line is that of device; else NULL. Cuts the line up. */
static const char *mount_type(char *line, dev_t device)
{
	char wanted[32];
	char *at = line, *type;

	snprintf(wanted, sizeof(wanted), " %u:%u ", major(device), minor(device));
	if (!strstr(at, wanted))
		return NULL;
	type = strstr(at, " - ");
	if (!type)
		return NULL;
	type += 3;
	type[strcspn(type, " \n")] = '\0';
	return type;
}

static const char *fuse_network(dev_t device)
{
	FILE *mounts = fopen("/proc/self/mountinfo", "re");
	const char *found = NULL;
	char *line = NULL;
	size_t size = 0;

	while (mounts && !found && getline(&line, &size, mounts) > 0) {
		const char *type = mount_type(line, device);

		for (size_t i = 0; type && i < sizeof(fuse_networks) / sizeof(fuse_networks[0]); i++)
			if (strcmp(type, fuse_networks[i]) == 0)
				found = fuse_networks[i] + strlen("fuse.");
	}
	free(line);
	if (mounts)
		fclose(mounts);
	return found;
}

static const char *network_name(const struct statfs *about, const char *path)
{
	unsigned long magic = (unsigned long)about->f_type & 0xFFFFFFFF;
	struct stat file;

	for (size_t i = 0; i < sizeof(networks) / sizeof(networks[0]); i++)
		if (magic == networks[i].magic)
			return networks[i].name;
	if (magic == FUSE_MAGIC && stat(path, &file) == 0)
		return fuse_network(file.st_dev);
	return NULL;
}

const char *network_of(const char *path)
{
	char *folder = folder_of(path);
	const char *name = NULL;
	struct statfs about;

	if (statfs(path, &about) == 0)
		name = network_name(&about, path);
	else if (folder && statfs(folder, &about) == 0)
		name = network_name(&about, folder);
	free(folder);
	return name;
}

static struct ledger_mark mark_of(const char *path, const char *ending)
{
	char *name = side_file(path, ending);
	struct ledger_mark mark = { 0, 0, 0 };
	struct stat about;

	if (name && stat(name, &about) == 0)
		mark = (struct ledger_mark){ about.st_dev, about.st_ino, about.st_size };
	free(name);
	return mark;
}

struct ledger_marks ledger_marks_of(const char *path)
{
	return (struct ledger_marks){
		.file = mark_of(path, ""),
		.wal = mark_of(path, "-wal"),
		.shm = mark_of(path, "-shm"),
	};
}

bool ledger_mark_same(struct ledger_mark a, struct ledger_mark b)
{
	return a.dev == b.dev && a.ino == b.ino;
}

static bool room_to_spare(int fd)
{
	enum { SPARE_MIB = 64 };
	struct statvfs about;

	return fstatvfs(fd, &about) == 0 && about.f_bavail / 1024 * about.f_frsize / 1024 >= SPARE_MIB;
}

bool file_lengthen(const char *path, off_t size)
{
	static const char zeros[64 * 1024];
	int fd = open(path, O_WRONLY | O_CLOEXEC);
	off_t at = fd >= 0 ? lseek(fd, 0, SEEK_END) : -1;
	bool good = at >= 0 && room_to_spare(fd);

	while (good && at < size) {
		size_t len = size - at < (off_t)sizeof(zeros) ? (size_t)(size - at) : sizeof(zeros);
		ssize_t written = write(fd, zeros, len);

		good = written > 0;
		at += written;
	}
	good = good && fdatasync(fd) == 0;
	if (fd >= 0)
		close(fd);
	return good;
}

/* The next word of *rest, which moves behind it. */
static struct slice word_next(struct slice *rest)
{
	struct slice word;
	size_t from = 0, to;

	while (from < rest->len && (rest->text[from] == ' ' || rest->text[from] == '\n'))
		from++;
	to = from;
	while (to < rest->len && rest->text[to] != ' ' && rest->text[to] != '\n')
		to++;
	word = slice_part(*rest, from, to);
	*rest = slice_part(*rest, to, rest->len);
	return word;
}

/* The process of a line of /proc/locks that holds inode's byte first exclusively; 0: it is not such a line. */
static long long lock_process(struct slice line, ino_t inode, const char *first)
{
	enum { LOCK_STATE, LOCK_KIND, LOCK_PID, LOCK_FILE, LOCK_FROM, LOCK_WORDS };
	struct slice word[LOCK_WORDS], file;
	char wanted[32];
	long long pid;

	word_next(&line); /* its number */
	if (!slice_equal(word_next(&line), slice_from("POSIX")))
		return 0; /* a process in a queue stands behind "->": not the holder */
	for (int i = 0; i < LOCK_WORDS; i++)
		word[i] = word_next(&line);
	snprintf(wanted, sizeof(wanted), ":%" PRIuMAX, (uintmax_t)inode);
	file = word[LOCK_FILE];
	if (file.len < strlen(wanted) ||
	    !slice_equal(slice_part(file, file.len - strlen(wanted), file.len), slice_from(wanted)))
		return 0;
	if (!slice_equal(word[LOCK_KIND], slice_from("WRITE")) || !slice_equal(word[LOCK_FROM], slice_from(first)))
		return 0;
	return number_parse_count(&pid, word[LOCK_PID]) ? pid : 0;
}

/* The byte of the -shm file that a writer locks, by SQLite's description of the format of that file. */
#define WRITE_LOCK_BYTE "120"

static long long lock_find(ino_t inode)
{
	FILE *locks = fopen("/proc/locks", "re");
	char *line = NULL;
	size_t size = 0;
	ssize_t len;
	long long pid = 0;

	while (locks && pid == 0 && (len = getline(&line, &size, locks)) > 0)
		pid = lock_process((struct slice){ line, (size_t)len }, inode, WRITE_LOCK_BYTE);
	free(line);
	if (locks)
		fclose(locks);
	return pid;
}

/* The command line of process pid as far as it fits, its program without its folder; "" where it is not to be had. */
static void process_name(char *out, size_t size, long long pid)
{
	char line[256], path[64];
	ssize_t len = 0;
	char *slash;
	int fd;

	snprintf(path, sizeof(path), "/proc/%lld/cmdline", pid);
	fd = open(path, O_RDONLY | O_CLOEXEC);
	if (fd >= 0) {
		len = read(fd, line, sizeof(line) - 1);
		close(fd);
	}
	len = len < 0 ? 0 : len;
	line[len] = '\0'; /* its first word ends in NUL already */
	slash = strrchr(line, '/');
	for (char *at = line; at < line + len; at++)
		if ((unsigned char)*at < ' ')
			*at = ' ';
	while (len > 0 && line[len - 1] == ' ')
		line[--len] = '\0';
	snprintf(out, size, "%.*s", (int)size - 1, slash ? slash + 1 : line);
}

void lock_holder(char *out, size_t size, const char *path)
{
	struct ledger_mark shm = mark_of(path, "-shm");
	long long pid = shm.ino ? lock_find(shm.ino) : 0;
	char name[64];

	if (pid == 0) {
		snprintf(out, size, "another process");
		return;
	}
	process_name(name, sizeof(name), pid);
	if (name[0])
		snprintf(out, size, "process %lld (%s)", pid, name);
	else
		snprintf(out, size, "process %lld", pid);
}

enum status folder_sync(const char *path, struct error *error)
{
	enum status status = STATUS_OK;
	char *folder = folder_of(path);
	int fd;

	if (!folder)
		return error_set(error, STATUS_MEMORY, "%s: no memory left", path);
	fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd < 0 || fsync(fd) != 0)
		status = error_set_errno(error, STATUS_IO, "%s: cannot make sure of its folder", path);
	if (fd >= 0)
		close(fd);
	free(folder);
	return status;
}
