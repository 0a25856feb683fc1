/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "ledger_private.h"

static enum status damaged(struct ledger *ledger, struct slice where, struct error *error)
{
	int number = sql_read_errno(ledger);

	if (number != 0)
		return error_set(error, STATUS_IO, "%s: cannot check it: %s", ledger->path, strerror(number));
	return error_set(error, STATUS_REFUSED,
	                 "%s: is damaged: %.*s; it is left untouched; expected a whole file, such as its newest backup",
	                 ledger->path, SLICE_ARG(where));
}

/* The last line of text: the others say which file. */
static struct slice last_line(struct slice text)
{
	const char *end = text.len > 0 ? memrchr(text.text, '\n', text.len) : NULL;

	return end ? slice_part(text, (size_t)(end - text.text) + 1, text.len) : text;
}

/* One of SQLite's own checks, which answers with "ok" or with what is wrong. */
static enum status pages_check(struct ledger *ledger, const char *pragma, struct error *error)
{
	enum status status = STATUS_OK;
	sqlite3_stmt *statement = NULL;
	int rc = sqlite3_prepare_v2(ledger->db, pragma, -1, &statement, NULL);

	if (rc == SQLITE_OK)
		rc = sqlite3_step(statement);
	if (rc != SQLITE_ROW)
		status = sql_failed(ledger, rc, "check it", error);
	else if (!slice_equal(sql_text(statement, 0), slice_from("ok")))
		status = damaged(ledger, last_line(sql_text(statement, 0)), error);
	sqlite3_finalize(statement);
	return status;
}

/* A statement that counts what must not be. */
static enum status none_check(struct ledger *ledger, const char *sql, const char *what, struct error *error)
{
	int64_t count = 0;
	enum status status = sql_number(ledger, sql, "check it", &count, error);

	return status == STATUS_OK && count > 0 ? damaged(ledger, slice_from(what), error) : status;
}

static enum status newest_check(struct ledger *ledger, struct error *error)
{
	enum status status;

	status = none_check(ledger,
	                    "SELECT count(*) FROM (SELECT * FROM readings ORDER BY id DESC LIMIT 1000) "
	                    "WHERE typeof(raw) <> 'blob' OR length(hex(raw)) <> 2 * length(raw)",
	                    "a line is no bytes", error);
	if (status == STATUS_OK)
		status = none_check(ledger,
		                    "SELECT count(*) FROM (SELECT * FROM readings ORDER BY id DESC LIMIT 1000) r "
		                    "WHERE r.run IS NOT NULL AND NOT EXISTS (SELECT 1 FROM readings i "
		                    "INDEXED BY readings_by_run WHERE i.run = r.run AND i.id = r.id)",
		                    "a reading is not in the index of its run", error);
	return status;
}

/* Between two turns the time of arrival only grows: what reading by time relies upon. */
static enum status turns_check(struct ledger *ledger, struct error *error)
{
	return none_check(ledger,
	                  "SELECT count(*) FROM (SELECT id, received_us < lag(received_us) OVER (ORDER BY id) AS back "
	                  "FROM readings) WHERE back AND id NOT IN (SELECT id FROM turns)",
	                  "a step back of the clock is not noted", error);
}

enum status ledger_check(struct ledger *ledger, enum ledger_depth depth, struct error *error)
{
	enum status status = STATUS_OK;

	switch (depth) {
	case LEDGER_CHECK_NEWEST:
		status = newest_check(ledger, error);
		break;
	case LEDGER_CHECK_PAGES:
		status = pages_check(ledger, "PRAGMA quick_check(1)", error);
		break;
	case LEDGER_CHECK_ALL:
		status = pages_check(ledger, "PRAGMA integrity_check(1)", error);
		if (status == STATUS_OK)
			status = none_check(ledger, "SELECT count(*) FROM pragma_foreign_key_check",
			                    "a row refers to one that is not there", error);
		if (status == STATUS_OK)
			status = turns_check(ledger, error);
		break;
	}
	return status;
}
