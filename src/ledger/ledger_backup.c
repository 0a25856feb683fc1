/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_backup.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "ledger_private.h"

/* Nothing may stand where the copy is to be, nor what SQLite would take for a part of it. */
static enum status place_free(const char *path, struct error *error)
{
	static const char *const endings[] = { "", "-wal", "-shm", "-journal" };
	struct stat about;

	for (size_t i = 0; i < sizeof(endings) / sizeof(endings[0]); i++) {
		char *name = side_file(path, endings[i]);
		bool there = name && lstat(name, &about) == 0;

		free(name);
		if (!name)
			return error_set(error, STATUS_MEMORY, "%s: no memory left", path);
		if (there)
			return error_set(
				error, STATUS_REFUSED,
				"%s%s: is there already; expected a name that is free, or that it is moved away "
				"first with the files that belong to it",
				path, endings[i]);
	}
	return STATUS_OK;
}

/* SQLite writes the copy in one read transaction: what is stored meanwhile is not in it. */
static enum status copy_write(struct ledger *ledger, const char *path, struct error *error)
{
	char *name = side_file(path[0] == '/' ? "" : "./", path);
	enum status status = STATUS_OK;
	sqlite3_stmt *statement = NULL;
	int rc = SQLITE_NOMEM;

	if (name)
		rc = sqlite3_prepare_v2(ledger->db, "VACUUM INTO ?1", -1, &statement, NULL);
	if (rc == SQLITE_OK) {
		sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
		rc = sqlite3_step(statement);
	}
	if (!sql_ok(rc))
		status = sql_failed(ledger, rc, "copy it", error);
	sqlite3_finalize(statement);
	free(name);
	return status;
}

static enum status copy_sync(const char *path, struct error *error)
{
	enum status status = STATUS_OK;
	int fd = open(path, O_RDWR | O_CLOEXEC);

	if (fd < 0 || fsync(fd) != 0)
		status = error_set_errno(error, STATUS_IO, "%s: cannot be written", path);
	if (fd >= 0 && close(fd) != 0 && status == STATUS_OK)
		status = error_set_errno(error, STATUS_IO, "%s: cannot be written", path);
	return status;
}

/* Reads the copy as anybody would, and all of it. */
static enum status copy_check(const char *path, int64_t last_id, struct error *error)
{
	struct ledger *copy;
	int64_t copied = 0;
	enum status status = ledger_open(&copy, path, LEDGER_READ, error);

	if (status == STATUS_OK)
		status = ledger_check(copy, LEDGER_CHECK_ALL, error);
	if (status == STATUS_OK)
		status = ledger_last_id(copy, &copied, error);
	if (status == STATUS_OK && copied < last_id)
		status = error_set(error, STATUS_IO, "%s: lacks the newest readings", path);
	ledger_free(copy);
	return status;
}

/* Gives the file at part the name path, unless that was taken meanwhile. */
static enum status copy_name(const char *part, const char *path, struct error *error)
{
	if (link(part, path) == 0) {
		unlink(part);
		return folder_sync(path, error);
	}
	if (errno == EEXIST)
		return error_set(error, STATUS_REFUSED, "%s: is there already; expected a name that is free", path);
	if (place_free(path, error) == STATUS_OK && rename(part, path) == 0) /* a file system without links */
		return folder_sync(path, error);
	return error_set_errno(error, STATUS_IO, "%s: cannot be written", path);
}

enum status ledger_backup(struct ledger *ledger, const char *path, struct error *error)
{
	char *part = NULL;
	int64_t last_id = 0;
	enum status status = place_free(path, error);

	if (status == STATUS_OK && ledger->group != GROUP_NONE)
		status = error_set(error, STATUS_INVALID, "%s: cannot copy it while a group is open", ledger->path);
	if (status == STATUS_OK)
		status = ledger_last_id(ledger, &last_id, error);
	if (status != STATUS_OK)
		return status;
	part = side_file(path, ".part");
	if (!part)
		return error_set(error, STATUS_MEMORY, "%s: no memory left", path);
	status = place_free(part, error);
	if (status == STATUS_OK) {
		status = copy_write(ledger, part, error);
		if (status == STATUS_OK)
			status = copy_check(part, last_id, error);
		if (status == STATUS_OK)
			status = copy_sync(part, error);
		if (status == STATUS_OK)
			status = copy_name(part, path, error);
		if (status != STATUS_OK)
			unlink(part);
	}
	free(part);
	return status;
}

enum status ledger_restore(const char *from, const char *path, struct error *error)
{
	struct ledger *ledger;
	enum status status = ledger_open(&ledger, from, LEDGER_READ, error);

	if (status == STATUS_OK)
		status = ledger_check(ledger, LEDGER_CHECK_ALL, error);
	if (status == STATUS_OK)
		status = ledger_backup(ledger, path, error);
	ledger_free(ledger);
	return status;
}
