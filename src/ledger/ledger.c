/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "ledger_private.h"
#include "ledger_schema.h"

enum {
	WAIT_MS = 5000,
	HEADER_BYTES = 100,  /* of a file of SQLite: https://www.sqlite.org/fileformat.html#the_database_header */
	HEADER_VERSION = 60, /* of the tables, as PRAGMA user_version */
	HEADER_APPLICATION = 68,
};

static uint32_t header_number(const unsigned char *at)
{
	return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
}

static bool writes(const struct ledger *ledger)
{
	return ledger->mode != LEDGER_READ;
}

static bool in_file(const struct ledger *ledger)
{
	return ledger->mode != LEDGER_MEMORY;
}

static enum status newer(struct ledger *ledger, int64_t version, struct error *error)
{
	return error_set(error, STATUS_NEWER,
	                 "%s: was made by a later version of this program (tables of version %" PRId64
	                 ", this one knows up to %d); it is left untouched",
	                 ledger->path, version, schema_newest());
}

static enum status foreign(struct ledger *ledger, struct error *error)
{
	return error_set(error, STATUS_REFUSED,
	                 "%s: is not a ledger but a database of another program; it is left untouched", ledger->path);
}

/*
 * Looks at the first bytes of the file through SQLite's own descriptor, before SQLite does: a later version's file is
 * to be left without so much as a side file, and a descriptor of our own would, when closed, take the locks of every
 * other handle of this process with it.
 */
static enum status header_check(struct ledger *ledger, struct error *error)
{
	unsigned char header[HEADER_BYTES] = { 0 };
	sqlite3_file *file = NULL;
	struct stat about;
	int rc;

	if (stat(ledger->path, &about) != 0)
		return error_set_errno(error, STATUS_IO, "%s: cannot be read", ledger->path);
	if (about.st_size == 0 && ledger->mode != LEDGER_CREATE)
		return error_set(error, STATUS_REFUSED, "%s: is empty, not a ledger", ledger->path);
	if (about.st_size == 0)
		return STATUS_OK;
	rc = sqlite3_file_control(ledger->db, "main", SQLITE_FCNTL_FILE_POINTER, &file);
	if (rc == SQLITE_OK)
		rc = file->pMethods->xRead(file, header, HEADER_BYTES, 0);
	if (rc != SQLITE_OK && rc != SQLITE_IOERR_SHORT_READ)
		return error_set_errno(error, STATUS_IO, "%s: cannot be read", ledger->path);
	if (memcmp(header, "SQLite format 3", 16) != 0)
		return error_set(error, STATUS_REFUSED, "%s: is not a ledger", ledger->path);
	if (header_number(header + HEADER_APPLICATION) == LEDGER_APPLICATION_ID &&
	    header_number(header + HEADER_VERSION) > (uint32_t)schema_newest())
		return newer(ledger, header_number(header + HEADER_VERSION), error);
	return STATUS_OK;
}

/* What an -wal file without its ledger may hold is not to be lost by a new ledger beside it. */
static enum status place_check(struct ledger *ledger, struct error *error)
{
	const char *network = writes(ledger) ? network_of(ledger->path) : NULL;
	struct stat about;

	if (network)
		return error_set(error, STATUS_IO,
		                 "%s: is on a network file system (%s), where locks do not keep two writers apart; "
		                 "expected a folder on a disk of this machine; it is left untouched",
		                 ledger->path, network);
	if (stat(ledger->path, &about) == 0 && S_ISDIR(about.st_mode))
		return error_set(error, STATUS_REFUSED, "%s: is a folder, not a ledger", ledger->path);
	if ((stat(ledger->path, &about) != 0 || about.st_size == 0) && side_file_filled(ledger->path, "-wal"))
		return error_set(error, STATUS_REFUSED,
		                 "%s: is not there, but %s-wal is, which may hold its newest readings; "
		                 "put the ledger back beside it, or move it away",
		                 ledger->path, ledger->path);
	return STATUS_OK;
}

static enum status open_as(struct ledger *ledger, const char *name, int flags, struct error *error)
{
	int rc;

	sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0); /* nobody asks what it took, and every piece counted takes a lock */
	rc = sqlite3_open_v2(name, &ledger->db, flags | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE, NULL);

	if (!ledger->db)
		return error_set(error, STATUS_MEMORY, "%s: no memory left", ledger->path);
	return rc == SQLITE_OK ? STATUS_OK : sql_failed(ledger, rc, "open it", error);
}

/* "./" before it: SQLite gives "", ":memory:" and "file:..." a meaning of their own. */
static enum status open_file(struct ledger *ledger, bool create, struct error *error)
{
	int flags = writes(ledger) ? SQLITE_OPEN_READWRITE | (create ? SQLITE_OPEN_CREATE : 0) : SQLITE_OPEN_READONLY;
	char *name = side_file(ledger->path[0] == '/' ? "" : "./", ledger->path);
	enum status status;
	int why;

	if (!name)
		return error_set(error, STATUS_MEMORY, "%s: no memory left", ledger->path);
	errno = 0;
	status = open_as(ledger, name, flags, error);
	why = errno;
	free(name);
	if (status != STATUS_OK || !writes(ledger) || !sqlite3_db_readonly(ledger->db, "main"))
		return status;
	/* SQLite then opened it for reading only, and keeps to itself why */
	if (why != 0 && why != EACCES)
		return error_set(error, STATUS_IO, "%s: cannot be written to: %s", ledger->path, strerror(why));
	return error_set(error, STATUS_IO, "%s: cannot be written to by this account", ledger->path);
}

/* path as a URI that says that the file does not change; from malloc(). */
static char *immutable_name(const char *path)
{
	static const char hex[] = "0123456789ABCDEF", query[] = "?immutable=1";
	char *name = malloc(3 * strlen(path) + sizeof("file:") + sizeof(query));
	char *to = name;

	if (!name)
		return NULL;
	to = stpncpy(to, "file:", sizeof("file:"));
	for (; *path; path++) {
		if (*path != '%' && *path != '?' && *path != '#') {
			*to++ = *path;
			continue;
		}
		*to++ = '%';
		*to++ = hex[(unsigned char)*path >> 4];
		*to++ = hex[(unsigned char)*path & 0xf];
	}
	memcpy(to, query, sizeof(query));
	return name;
}

/*
 * A ledger in a folder that cannot be written to, a read-only medium say: SQLite has no place for its side files there,
 * and needs none as nothing can change.
 */
static enum status open_immutable(struct ledger *ledger, struct error *error)
{
	enum status status;
	char *name;

	if (side_file_filled(ledger->path, "-wal"))
		return error_set(
			error, STATUS_IO,
			"%s: its newest readings are in %s-wal, which cannot be read in a folder that cannot be "
			"written to; copy both into another folder",
			ledger->path, ledger->path);
	name = immutable_name(ledger->path);
	ledger_disconnect(ledger, false);
	if (!name)
		return error_set(error, STATUS_MEMORY, "%s: no memory left", ledger->path);
	status = open_as(ledger, name, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, error);
	free(name);
	return status;
}

/* Until the file has proved to be one of ours and in order, closing it must not take its -wal file in. */
static void configure(struct ledger *ledger)
{
	sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
	sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
	sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
	sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_ENABLE_FKEY, 1, NULL);
	sqlite3_busy_timeout(ledger->db, ledger->wait_ms);
}

/* Sets *version; 0: a file without any table, to be made a ledger. */
static enum status version_read(struct ledger *ledger, int64_t *version, struct error *error)
{
	int64_t application = 0, tables = 0;
	enum status status;

	status = sql_number(ledger, "SELECT count(*) FROM sqlite_schema", "read it", &tables, error);
	if (status == STATUS_IO && !writes(ledger)) {
		status = open_immutable(ledger, error);
		if (status == STATUS_OK)
			status = sql_number(ledger, "SELECT count(*) FROM sqlite_schema", "read it", &tables, error);
	}
	if (status == STATUS_OK)
		status = sql_number(ledger, "PRAGMA application_id", "read it", &application, error);
	if (status == STATUS_OK)
		status = sql_number(ledger, "PRAGMA user_version", "read it", version, error);
	if (status != STATUS_OK)
		return status;
	if (application == LEDGER_APPLICATION_ID && *version > schema_newest())
		return newer(ledger, *version, error);
	if (application == LEDGER_APPLICATION_ID && *version > 0)
		return STATUS_OK;
	/* a file that was made but not filled: its maker was stopped in between */
	if (application == 0 && *version == 0 && tables == 0 && ledger->mode != LEDGER_READ)
		return STATUS_OK;
	return foreign(ledger, error);
}

/* A pragma that answers with what holds then. */
static enum status setting_make(struct ledger *ledger, const char *pragma, int64_t wanted, struct error *error)
{
	int64_t got = 0;
	enum status status = sql_number(ledger, pragma, "set it up", &got, error);

	if (status == STATUS_OK && got != wanted)
		status = error_set(error, STATUS_IO, "%s: cannot set it up: \"%s\" came out as %" PRId64, ledger->path,
		                   pragma, got);
	return status;
}

static enum status wal_make(struct ledger *ledger, struct error *error)
{
	enum status status = STATUS_OK;
	sqlite3_stmt *statement = NULL;
	int rc = sqlite3_prepare_v2(ledger->db, "PRAGMA journal_mode = WAL", -1, &statement, NULL);

	if (rc == SQLITE_OK)
		rc = sqlite3_step(statement);
	if (rc != SQLITE_ROW)
		status = sql_failed(ledger, rc, "set it up", error);
	else if (!slice_equal(sql_text(statement, 0), slice_from("wal")))
		status = error_set(error, STATUS_IO, "%s: cannot set it up: no shared memory for its -wal file",
		                   ledger->path);
	sqlite3_finalize(statement);
	return status;
}

static int keep_wal_pages(void *context, sqlite3 *db, const char *name, int pages)
{
	struct ledger *ledger = context;

	(void)db;
	(void)name;
	ledger->wal_pages = pages;
	return SQLITE_OK;
}

/* FULL: without it a commit would be back before it is on the disk. Set, and asked for again. */
static enum status writer_setup(struct ledger *ledger, struct error *error)
{
	enum status status = wal_make(ledger, error);

	if (status == STATUS_OK)
		status = sql_run(ledger, "PRAGMA synchronous = FULL", "set it up", error);
	if (status == STATUS_OK)
		status = setting_make(ledger, "PRAGMA synchronous", 2, error);
	if (status == STATUS_OK)
		status = setting_make(ledger, "PRAGMA journal_size_limit = 4194304", LEDGER_WAL_BYTES, error);
	if (status == STATUS_OK)
		sqlite3_wal_hook(ledger->db, keep_wal_pages, ledger);
	return status;
}

static enum status size_check(struct ledger *ledger, struct error *error)
{
	enum ledger_depth depth = LEDGER_CHECK_ALL;
	int64_t pages = 0, page_bytes = 0;
	enum status status = sql_number(ledger, "PRAGMA page_count", "check it", &pages, error);

	if (status == STATUS_OK)
		status = sql_number(ledger, "PRAGMA page_size", "check it", &page_bytes, error);
	if (status != STATUS_OK)
		return status;
	if (pages > LEDGER_LARGE_BYTES / page_bytes)
		depth = LEDGER_CHECK_NEWEST;
	else if (pages > LEDGER_SMALL_BYTES / page_bytes)
		depth = LEDGER_CHECK_PAGES;
	return ledger_check(ledger, depth, error);
}

static enum status verify(struct ledger *ledger, int64_t version, struct error *error)
{
	enum status status = schema_verify(ledger, (int)version, error);

	return status == STATUS_OK ? size_check(ledger, error) : status;
}

static enum status make_ready(struct ledger *ledger, struct error *error)
{
	enum status status = STATUS_OK;
	int64_t version = 0;

	configure(ledger);
	if (in_file(ledger)) {
		status = header_check(ledger, error);
		if (status == STATUS_OK)
			status = version_read(ledger, &version, error);
	}
	if (status == STATUS_OK && version > 0)
		status = verify(ledger, version, error);
	if (status != STATUS_OK || !writes(ledger))
		return status;
	if (in_file(ledger))
		status = writer_setup(ledger, error);
	if (status == STATUS_OK && version < schema_newest())
		status = schema_upgrade(ledger, error);
	if (status == STATUS_OK && version < schema_newest())
		status = schema_verify(ledger, schema_newest(), error);
	if (status != STATUS_OK || !in_file(ledger))
		return status;
	if (version == 0) {
		/* so that the file itself says what it is, and its name lasts */
		sqlite3_wal_checkpoint_v2(ledger->db, NULL, SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
		status = folder_sync(ledger->path, error);
	}
	sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 0, NULL);
	if (status == STATUS_OK)
		status = ledger_last_id(ledger, &version, error); /* whose reading makes the side files */
	ledger->marks = ledger_marks_of(sqlite3_db_filename(ledger->db, "main"));
	return status;
}

static enum status ledger_connect(struct ledger *ledger, bool create, struct error *error)
{
	enum status status;

	if (in_file(ledger)) {
		status = place_check(ledger, error);
		if (status == STATUS_OK)
			status = open_file(ledger, create, error);
	} else {
		status = open_as(ledger, ":memory:", SQLITE_OPEN_READWRITE, error);
	}
	return status == STATUS_OK ? make_ready(ledger, error) : status;
}

void ledger_disconnect(struct ledger *ledger, bool checkpoint)
{
	for (int i = 0; i < STATEMENTS; i++) {
		sqlite3_finalize(ledger->statement[i]);
		ledger->statement[i] = NULL;
	}
	if (ledger->db && !checkpoint)
		sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
	sqlite3_close(ledger->db);
	ledger->db = NULL;
}

enum status ledger_reconnect(struct ledger *ledger, struct error *error)
{
	enum status status;

	ledger_disconnect(ledger, false);
	status = ledger_connect(ledger, false, error);
	if (status != STATUS_OK)
		ledger_disconnect(ledger, false);
	return status;
}

enum status ledger_open(struct ledger **out, const char *path, enum ledger_mode mode, struct error *error)
{
	struct ledger *ledger = calloc(1, sizeof(*ledger));
	enum status status = STATUS_MEMORY;

	*out = NULL;
	if (ledger)
		ledger->path = strdup(path);
	if (!ledger || !ledger->path) {
		free(ledger);
		return error_set(error, STATUS_MEMORY, "%s: no memory left", path);
	}
	ledger->mode = mode;
	ledger->wait_ms = WAIT_MS;
	if (mode != LEDGER_MEMORY && path[0] == '\0')
		status = error_set(error, STATUS_INVALID, "a ledger without a name; expected the path of its file");
	else
		status = ledger_connect(ledger, mode == LEDGER_CREATE, error);
	if (status == STATUS_OK) {
		*out = ledger;
		return STATUS_OK;
	}
	ledger_disconnect(ledger, false);
	free(ledger->path);
	free(ledger);
	return status;
}

void ledger_free(struct ledger *ledger)
{
	if (!ledger)
		return;
	ledger_disconnect(ledger, true);
	free(ledger->path);
	free(ledger);
}

void ledger_set_wait(struct ledger *ledger, int wait_ms)
{
	ledger->wait_ms = wait_ms;
	if (ledger->db)
		sqlite3_busy_timeout(ledger->db, wait_ms);
}

const char *ledger_path(const struct ledger *ledger)
{
	return ledger->path;
}

enum status ledger_last_id(struct ledger *ledger, int64_t *id, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	int rc;

	statement = sql_statement(ledger, STATEMENT_LAST_ID, "SELECT coalesce(max(id), 0) FROM readings", &status,
	                          error);
	if (status != STATUS_OK)
		return status;
	rc = sqlite3_step(statement);
	if (rc == SQLITE_ROW)
		*id = sqlite3_column_int64(statement, 0);
	else
		status = sql_failed(ledger, rc, "read it", error);
	sql_reset(statement);
	return status;
}
