/* SPDX-License-Identifier: GPL-3.0-or-later */
/* port_name.c: what a path leads to now, and why it leads nowhere. */
#include "port.h"

#include <errno.h>
#include <grp.h>
#include <limits.h>
#include <pwd.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include "port_failure.h"
#include "port_list.h"

enum { LINKS = 16, LISTED = 512 };

/* Majors of devices(7), from the kernel's list of assigned numbers. */
enum { MAJOR_CONSOLES = 4, MAJOR_TERMINAL = 5, MAJOR_PSEUDO_FIRST = 136, MAJOR_PSEUDO_LAST = 143 };

enum port_failure port_fail(struct port_error *error, enum port_failure failure, const char *format, ...)
{
	va_list args;

	va_start(args, format);
	vsnprintf(error->text, sizeof(error->text), format, args);
	va_end(args);
	return failure;
}

bool port_is_pseudo(dev_t device)
{
	return major(device) >= MAJOR_PSEUDO_FIRST && major(device) <= MAJOR_PSEUDO_LAST;
}

/* Has the kernel a terminal of that name? That is what the library asks, too. */
static bool kernel_knows(const char *path)
{
	char entry[PORT_PATH + 32];
	struct stat node;

	if (strncmp(path, "/dev/", 5) != 0)
		return false;
	snprintf(entry, sizeof(entry), "/sys/class/tty/%s", path + 5);
	return lstat(entry, &node) == 0;
}

/* path with the links in its folders followed, but not that of its last part. */
static bool folder_resolve(char out[PORT_PATH], const char *path)
{
	char folder[PATH_MAX];
	char real[PATH_MAX];
	const char *slash = strrchr(path, '/');
	size_t len = slash ? (size_t)(slash - path) : 0;

	if (len >= sizeof(folder))
		return false;
	if (!slash) {
		snprintf(folder, sizeof(folder), ".");
	} else {
		memcpy(folder, path, len);
		snprintf(folder + len, sizeof(folder) - len, "%s", len == 0 ? "/" : "");
	}
	if (!realpath(folder, real))
		return false;
	return (size_t)snprintf(out, PORT_PATH, "%s/%s", strcmp(real, "/") == 0 ? "" : real, slash ? slash + 1 : path) <
	       PORT_PATH;
}

/* Follows the link at path by one step. */
static bool link_follow(char path[PORT_PATH])
{
	char target[PORT_PATH];
	char joined[PATH_MAX];
	ssize_t len = readlink(path, target, sizeof(target) - 1);
	char *slash = strrchr(path, '/');

	if (len <= 0 || !slash)
		return false;
	target[len] = '\0';
	if (target[0] == '/')
		snprintf(joined, sizeof(joined), "%s", target);
	else
		snprintf(joined, sizeof(joined), "%.*s/%s", (int)(slash - path), path, target);
	return folder_resolve(path, joined);
}

static bool is_by_id(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash && slash - path >= 6 && strncmp(slash - 6, "/by-id", 6) == 0;
}

/* Follows links until the kernel knows the name, or there are no more. *by_id: one of them was in a folder by-id. */
static void name_resolve(struct port_name *name, const char *path, bool *by_id)
{
	snprintf(name->path, sizeof(name->path), "%s", path);
	*by_id = is_by_id(path);
	if (kernel_knows(name->path) || !folder_resolve(name->path, path))
		return;
	for (int links = 0; links < LINKS && !kernel_knows(name->path); links++) {
		*by_id = *by_id || is_by_id(name->path);
		if (!link_follow(name->path))
			return;
	}
}

static const char *account_name(char *out, size_t size)
{
	char buffer[1024];
	struct passwd entry;
	struct passwd *found = NULL;

	if (getpwuid_r(geteuid(), &entry, buffer, sizeof(buffer), &found) == 0 && found)
		snprintf(out, size, "%s", found->pw_name);
	else
		snprintf(out, size, "number %ld", (long)geteuid());
	return out;
}

/* Does the list of groups have account in group, whether or not this session knows of it? */
static bool group_lists(const struct group *group, const char *account)
{
	for (char **member = group->gr_mem; member && *member; member++)
		if (strcmp(*member, account) == 0)
			return true;
	return false;
}

enum port_failure port_denied(struct port_error *error, const char *path)
{
	char account[64];
	char buffer[4096];
	struct group entry;
	struct group *group = NULL;
	struct stat node;

	account_name(account, sizeof(account));
	if (stat(path, &node) != 0)
		return port_fail(error, PORT_DENIED, "account %s has no permission to look at %s", account, path);
	if (getgrgid_r(node.st_gid, &entry, buffer, sizeof(buffer), &group) != 0 || !group)
		return port_fail(error, PORT_DENIED,
		                 "account %s has no permission to open %s, which belongs to group %ld", account, path,
		                 (long)node.st_gid);
	if (!(node.st_mode & S_IRGRP))
		return port_fail(error, PORT_DENIED,
		                 "account %s has no permission to open %s; nor has its group, %s: its mode is %04o",
		                 account, path, group->gr_name, (unsigned)(node.st_mode & 07777));
	if (group_lists(group, account))
		return port_fail(error, PORT_DENIED,
		                 "account %s has no permission to open %s yet: it is in group %s, but was added after "
		                 "this session began; log out and in again",
		                 account, path, group->gr_name);
	return port_fail(error, PORT_DENIED,
	                 "account %s has no permission to open %s, which belongs to group %s; let an administrator do "
	                 "\"adduser %s %s\", then log out and in again",
	                 account, path, group->gr_name, account, group->gr_name);
}

enum port_failure port_absent(struct port_error *error, const char *path)
{
	struct port_list list;
	char ports[LISTED];
	char target[PORT_PATH];
	ssize_t len = readlink(path, target, sizeof(target) - 1);

	if (strncmp(path, "/dev/", 5) != 0 && len < 0)
		return port_fail(error, PORT_ABSENT, "there is no %s", path);
	snprintf(ports, sizeof(ports), "not known");
	if (port_list_read(&list, NULL) == STATUS_OK) {
		port_list_print(ports, sizeof(ports), &list);
		port_list_release(&list);
	}
	if (len >= 0) {
		target[len] = '\0';
		return port_fail(error, PORT_ABSENT, "%s leads to %s, which is not there; ports that are: %s", path,
		                 target, ports);
	}
	if (strncmp(path, "/dev/serial/", 12) == 0 && access("/dev/serial", F_OK) != 0)
		return port_fail(
			error, PORT_ABSENT,
			"there is no %s, nor any link of that kind: either nothing is plugged in, or udev does not "
			"make them here; ports that are: %s",
			path, ports);
	return port_fail(error, PORT_ABSENT, "there is no %s; ports that are: %s", path, ports);
}

static enum port_failure twins_refuse(struct port_error *error, const char *path, const struct port_list *list,
                                      const struct port_info *port)
{
	const struct port_info *twin = port_list_twin(list, port, NULL);

	if (!twin)
		return PORT_OK;
	return port_fail(error, PORT_AMBIGUOUS,
	                 "%s fits %s and %s alike, since both adapters say the same of themselves; name the socket "
	                 "instead: %s or %s",
	                 path, port->path, twin->path, port->by_path[0] ? port->by_path : port->path,
	                 twin->by_path[0] ? twin->by_path : twin->path);
}

/* What the list of ports has against it; also finds the name of a device file that stands somewhere else. */
static enum port_failure name_check(struct port_name *name, const char *path, bool by_id, struct port_error *error)
{
	enum port_failure failure = PORT_OK;
	const struct port_info *port;
	struct port_list list;

	if (port_list_read(&list, NULL) != STATUS_OK)
		return PORT_OK;
	port = port_list_find(&list, name->device);
	if (port && port->console)
		failure = port_fail(error, PORT_CONSOLE, "%s is the system's console, not a meter's port", path);
	else if (port && by_id)
		failure = twins_refuse(error, path, &list, port);
	if (failure == PORT_OK && !kernel_knows(name->path)) {
		if (port)
			snprintf(name->path, sizeof(name->path), "%s", port->path);
		else
			name->pseudo = port_is_pseudo(name->device);
		if (!port && !name->pseudo)
			failure = port_fail(error, PORT_NOT_ONE, "%s is a device, but no serial port", path);
	}
	port_list_release(&list);
	return failure;
}

enum port_failure port_find(struct port_name *out, const char *path, struct port_error *error)
{
	struct stat node;
	bool by_id;

	*out = (struct port_name){ .pseudo = false };
	error->text[0] = '\0';
	if (strlen(path) >= PORT_PATH)
		return port_fail(error, PORT_NOT_ONE, "the path is too long: %.60s...", path);
	if (stat(path, &node) != 0) {
		if (errno == EACCES)
			return port_denied(error, path);
		if (errno == ENOENT || errno == ENOTDIR || errno == ENXIO || errno == ENODEV)
			return port_absent(error, path);
		return port_fail(error, PORT_FAILED, "%s: %s", path, strerror(errno));
	}
	if (!S_ISCHR(node.st_mode))
		return port_fail(error, PORT_NOT_ONE, "%s is no serial port", path);
	out->device = node.st_rdev;
	if (major(node.st_rdev) == MAJOR_TERMINAL ||
	    (major(node.st_rdev) == MAJOR_CONSOLES && minor(node.st_rdev) < 64))
		return port_fail(error, PORT_CONSOLE, "%s is a console, not a meter's port", path);
	name_resolve(out, path, &by_id);
	return name_check(out, path, by_id, error);
}
