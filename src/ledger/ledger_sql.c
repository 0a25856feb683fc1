/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ledger_private.h"
#include "reading.h"
#include "text.h"

static enum status busy(struct ledger *ledger, const char *doing, struct error *error)
{
	const char *file = sqlite3_db_filename(ledger->db, "main");
	char holder[128];

	lock_holder(holder, sizeof(holder), file ? file : ledger->path);
	return error_set(error, STATUS_BUSY, "%s: cannot %s: %s has been writing to it for longer than %d ms",
	                 ledger->path, doing, holder, ledger->wait_ms);
}

/* What the system said, which SQLite keeps for these two; else what SQLite says. */
static const char *reason(struct ledger *ledger, int rc)
{
	int system_errno = sqlite3_system_errno(ledger->db);

	if (((rc & 0xff) == SQLITE_IOERR || (rc & 0xff) == SQLITE_CANTOPEN) && system_errno != 0)
		return strerror(system_errno);
	return sqlite3_errmsg(ledger->db);
}

static int file_errno(sqlite3_file *file)
{
	int number = 0;

	if (!file || !file->pMethods ||
	    file->pMethods->xFileControl(file, SQLITE_FCNTL_LAST_ERRNO, &number) != SQLITE_OK)
		return 0;
	return number;
}

/* These three SQLite takes for a damaged file system, and tells of as of a damaged file. */
static bool is_read_failure(int number)
{
	return number == EIO || number == ENXIO || number == ERANGE;
}

int sql_read_errno(struct ledger *ledger)
{
	sqlite3_file *file = NULL, *wal = NULL;
	int number;

	sqlite3_file_control(ledger->db, "main", SQLITE_FCNTL_FILE_POINTER, &file);
	sqlite3_file_control(ledger->db, "main", SQLITE_FCNTL_JOURNAL_POINTER, &wal);
	number = file_errno(file);
	if (!is_read_failure(number))
		number = file_errno(wal);
	return is_read_failure(number) ? number : 0;
}

static enum status corrupt(struct ledger *ledger, const char *doing, struct error *error)
{
	int number = sql_read_errno(ledger);

	if (number != 0)
		return error_set(error, STATUS_IO, "%s: cannot %s: %s", ledger->path, doing, strerror(number));
	return error_set(error, STATUS_REFUSED, "%s: cannot %s: the file is damaged", ledger->path, doing);
}

enum status sql_failed(struct ledger *ledger, int rc, const char *doing, struct error *error)
{
	switch (rc & 0xff) {
	case SQLITE_BUSY:
	case SQLITE_LOCKED:
		return busy(ledger, doing, error);
	case SQLITE_NOMEM:
		return error_set(error, STATUS_MEMORY, "%s: cannot %s: no memory left", ledger->path, doing);
	case SQLITE_CORRUPT:
		return corrupt(ledger, doing, error);
	case SQLITE_NOTADB:
		return error_set(error, STATUS_REFUSED, "%s: is not a ledger", ledger->path);
	case SQLITE_CONSTRAINT:
		return error_set(error, STATUS_INVALID, "%s: cannot %s: %s", ledger->path, doing,
		                 sqlite3_errmsg(ledger->db));
	case SQLITE_READONLY:
		return error_set(error, STATUS_IO,
		                 "%s: cannot %s: the files -wal and -shm beside it cannot be written to", ledger->path,
		                 doing);
	case SQLITE_FULL:
		return error_set(error, STATUS_IO, "%s: cannot %s: no space left on the disk", ledger->path, doing);
	default:
		return error_set(error, STATUS_IO, "%s: cannot %s: %s", ledger->path, doing, reason(ledger, rc));
	}
}

enum status sql_run(struct ledger *ledger, const char *sql, const char *doing, struct error *error)
{
	int rc = sqlite3_exec(ledger->db, sql, NULL, NULL, NULL);

	return rc == SQLITE_OK ? STATUS_OK : sql_failed(ledger, rc, doing, error);
}

enum status sql_number(struct ledger *ledger, const char *sql, const char *doing, int64_t *out, struct error *error)
{
	enum status status = STATUS_OK;
	sqlite3_stmt *statement = NULL;
	int rc = sqlite3_prepare_v2(ledger->db, sql, -1, &statement, NULL);

	if (rc == SQLITE_OK)
		rc = sqlite3_step(statement);
	if (rc == SQLITE_ROW)
		*out = sqlite3_column_int64(statement, 0);
	else if (rc == SQLITE_DONE)
		status = error_set(error, STATUS_IO, "%s: cannot %s: no answer to \"%s\"", ledger->path, doing, sql);
	else
		status = sql_failed(ledger, rc, doing, error);
	sqlite3_finalize(statement);
	return status;
}

sqlite3_stmt *sql_statement(struct ledger *ledger, enum ledger_statement which, const char *sql, enum status *status,
                            struct error *error)
{
	sqlite3_stmt **statement = &ledger->statement[which];
	int rc = SQLITE_OK;

	*status = STATUS_OK;
	if (!ledger->db) {
		*status = error_set(error, STATUS_IO, "%s: its side files were removed while it was open",
		                    ledger->path);
		return NULL;
	}
	if (!*statement)
		rc = sqlite3_prepare_v3(ledger->db, sql, -1, SQLITE_PREPARE_PERSISTENT, statement, NULL);
	if (rc != SQLITE_OK)
		*status = sql_failed(ledger, rc, "prepare a statement", error);
	return *statement;
}

void sql_reset(sqlite3_stmt *statement)
{
	sqlite3_reset(statement);
	sqlite3_clear_bindings(statement);
}

int sql_finish(sqlite3_stmt *statement)
{
	int rc = sqlite3_step(statement);

	sql_reset(statement);
	return rc;
}

enum status sql_insert(struct ledger *ledger, sqlite3_stmt *statement, const char *doing, int64_t *id,
                       struct error *error)
{
	enum status status = STATUS_OK;
	int rc = sqlite3_step(statement);

	if (rc != SQLITE_DONE)
		status = sql_failed(ledger, rc, doing, error);
	else if (id)
		*id = sqlite3_last_insert_rowid(ledger->db);
	sql_reset(statement);
	return status;
}

static bool text_clean(struct slice text)
{
	return (text.len == 0 || !memchr(text.text, '\0', text.len)) && utf8_valid_part(text) == text.len;
}

/* The length of what can be kept at the start of text. */
static size_t clean_part(struct slice text)
{
	size_t len = utf8_valid_part(text);
	const char *nul = len > 0 ? memchr(text.text, '\0', len) : NULL;

	return nul ? (size_t)(nul - text.text) : len;
}

static void bind_cleaned(sqlite3_stmt *statement, int at, struct slice text)
{
	static const char replacement[] = { '\xef', '\xbf', '\xbd' }; /* U+FFFD */
	char *out = malloc(sizeof(replacement) * text.len);
	size_t len = 0;

	while (out && text.len > 0) {
		size_t part = clean_part(text);

		memcpy(out + len, text.text, part);
		len += part;
		text = slice_part(text, part, text.len);
		if (text.len == 0)
			break;
		memcpy(out + len, replacement, sizeof(replacement));
		len += sizeof(replacement);
		text = slice_part(text, 1, text.len);
	}
	if (out)
		sqlite3_bind_text64(statement, at, out, len, free, SQLITE_UTF8);
	else
		sqlite3_bind_text64(statement, at, replacement, sizeof(replacement), SQLITE_STATIC, SQLITE_UTF8);
}

void sql_bind_text(sqlite3_stmt *statement, int at, struct slice text)
{
	if (text_clean(text))
		sqlite3_bind_text64(statement, at, text.len ? text.text : "", text.len, SQLITE_STATIC, SQLITE_UTF8);
	else
		bind_cleaned(statement, at, text);
}

void sql_bind_text_or_null(sqlite3_stmt *statement, int at, struct slice text)
{
	if (text.len > 0)
		sql_bind_text(statement, at, text);
	else
		sqlite3_bind_null(statement, at);
}

void sql_bind_blob(sqlite3_stmt *statement, int at, struct slice bytes)
{
	sqlite3_bind_blob64(statement, at, bytes.len ? bytes.text : "", bytes.len, SQLITE_STATIC);
}

void sql_bind_number_or_null(sqlite3_stmt *statement, int at, double value)
{
	if (isnan(value))
		sqlite3_bind_null(statement, at);
	else
		sqlite3_bind_double(statement, at, value);
}

void sql_bind_id_or_null(sqlite3_stmt *statement, int at, int64_t id)
{
	if (id != 0)
		sqlite3_bind_int64(statement, at, id);
	else
		sqlite3_bind_null(statement, at);
}

void sql_bind_time_or_null(sqlite3_stmt *statement, int at, int64_t us)
{
	if (us != READING_NO_TIME)
		sqlite3_bind_int64(statement, at, us);
	else
		sqlite3_bind_null(statement, at);
}

struct slice sql_text(sqlite3_stmt *statement, int column)
{
	/* the blob first: it is the bytes as stored, whatever the type, without a conversion */
	const char *text = sqlite3_column_blob(statement, column);

	return (struct slice){ text, text ? (size_t)sqlite3_column_bytes(statement, column) : 0 };
}

double sql_number_or_nan(sqlite3_stmt *statement, int column)
{
	if (sqlite3_column_type(statement, column) == SQLITE_NULL)
		return NAN;
	return sqlite3_column_double(statement, column);
}

int64_t sql_time(sqlite3_stmt *statement, int column)
{
	if (sqlite3_column_type(statement, column) == SQLITE_NULL)
		return READING_NO_TIME;
	return sqlite3_column_int64(statement, column);
}
