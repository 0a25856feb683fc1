/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_private.h: what the files of src/ledger share. For them alone. */
#ifndef BREWSPREAD_LEDGER_PRIVATE_H
#define BREWSPREAD_LEDGER_PRIVATE_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stdint.h>

#include "ledger.h"
#include "ledger_files.h"
#include "slice.h"

/* The -wal file is lengthened to that, and cut to it when its content was taken over: room for 1,018 pages. */
enum { LEDGER_WAL_BYTES = 4 << 20 };

enum ledger_group {
	GROUP_NONE,
	GROUP_OPEN,
	GROUP_LOST, /* rolled back by a failure; closed by the caller's commit or rollback */
};

/* Statements that are prepared once a handle. */
enum ledger_statement {
	STATEMENT_BEGIN,
	STATEMENT_COMMIT,
	STATEMENT_ROLLBACK,
	STATEMENT_SESSION,
	STATEMENT_APPEND,
	STATEMENT_LAST_ID,
	STATEMENT_METER_FIND,
	STATEMENT_METER_ADD,
	STATEMENT_METERS,
	STATEMENT_RUN_FIND,
	STATEMENT_RUN_KNOWN,
	STATEMENT_RUN_ADD,
	STATEMENT_RUN_MARK,
	STATEMENT_RUN_LAST_MARK,
	STATEMENT_RUNS,
	STATEMENT_PASTE_FIND,
	STATEMENT_PASTE_ADD,
	STATEMENT_PASTE_NAME,
	STATEMENT_EVENT_ADD,
	STATEMENT_EVENTS,
	STATEMENT_AMEND,
	STATEMENT_AMENDMENTS,
	STATEMENT_AMENDMENTS_BETWEEN,
	STATEMENT_NEWEST,
	STATEMENT_METERS_NAMED,
	STATEMENT_TURN_AFTER,
	STATEMENT_TURN_BEFORE,
	STATEMENT_RECEIVED,
	STATEMENT_ROWS,
	STATEMENT_ROWS_OF_RUN,
	STATEMENT_ROWS_OF_METER,
	STATEMENTS /* how many there are */
};

struct ledger {
	sqlite3 *db;
	char *path;
	enum ledger_mode mode;
	int wait_ms;
	enum ledger_group group;
	int64_t session;       /* row of this handle in sessions; 0: none yet */
	bool session_in_group; /* it was added by the group that is open, and goes with it */
	enum status lost;      /* why the group is GROUP_LOST ... */
	struct error lost_to;  /* ... in words */
	int wal_pages;         /* in the -wal file after the last commit */
	int groups;            /* stored by this handle since it last saw to the length of that file */
	struct ledger_marks marks;
	sqlite3_stmt *statement[STATEMENTS];
};

/* A step of the way: SQLite's result code, as far as it is not one of success. */
static inline bool sql_ok(int rc)
{
	return rc == SQLITE_OK || rc == SQLITE_ROW || rc == SQLITE_DONE;
}

/*
 * Fills in error for result code rc: "path: cannot doing: why". Returns the status that rc amounts to. To be called
 * before anything else is done with the connection.
 */
enum status sql_failed(struct ledger *ledger, int rc, const char *doing, struct error *error);

/* errno of a read of this handle's files that failed in a way that SQLite takes for damage; 0: none did. */
int sql_read_errno(struct ledger *ledger);

/* Runs statements that give no rows. */
enum status sql_run(struct ledger *ledger, const char *sql, const char *doing, struct error *error) MUST_USE;

/* Runs a statement that gives one number, and says it; anything else is a failure: a pragma that had no effect, say. */
enum status sql_number(struct ledger *ledger, const char *sql, const char *doing, int64_t *out,
                       struct error *error) MUST_USE;

/* The statement of that number, made from sql at its first use; NULL: error says why, with *status. */
sqlite3_stmt *sql_statement(struct ledger *ledger, enum ledger_statement which, const char *sql, enum status *status,
                            struct error *error);

/* Steps once, and readies the statement for its next use. */
int sql_finish(sqlite3_stmt *statement);

/* As sql_finish(), for an INSERT: sets *id, which may be NULL, to that of the new row. */
enum status sql_insert(struct ledger *ledger, sqlite3_stmt *statement, const char *doing, int64_t *id,
                       struct error *error) MUST_USE;

/* Readies the statement for its next use. */
void sql_reset(sqlite3_stmt *statement);

/* Bind what is not plain sqlite3_bind_…(): texts as the rules of ledger.h have them, and NULL for what is not told. */
void sql_bind_text(sqlite3_stmt *statement, int at, struct slice text);
void sql_bind_text_or_null(sqlite3_stmt *statement, int at, struct slice text);
void sql_bind_blob(sqlite3_stmt *statement, int at, struct slice bytes);
void sql_bind_number_or_null(sqlite3_stmt *statement, int at, double value); /* NaN is NULL */
void sql_bind_id_or_null(sqlite3_stmt *statement, int at, int64_t id);       /* 0 is NULL */
void sql_bind_time_or_null(sqlite3_stmt *statement, int at, int64_t us);     /* READING_NO_TIME is NULL */

/* The columns again; slices last until the next step. */
struct slice sql_text(sqlite3_stmt *statement, int column);
double sql_number_or_nan(sqlite3_stmt *statement, int column);
int64_t sql_time(sqlite3_stmt *statement, int column);

/*
 * Around every addition: ledger_enter() joins the group that is open, or opens one of its own (*own). ledger_leave()
 * ends it with status, the result of what was added: commits or rolls back its own, or marks the group lost.
 * Returns the status that holds then.
 */
enum status ledger_enter(struct ledger *ledger, bool *own, struct error *error) MUST_USE;
enum status ledger_leave(struct ledger *ledger, bool own, enum status status, struct error *error) MUST_USE;

/* Makes sure that the handle has its row in sessions; within a group. */
enum status ledger_session(struct ledger *ledger, struct error *error) MUST_USE;

/*
 * The -wal file, after each commit: takes it into the ledger where it has grown, and cuts it where it has grown too much.
 * What fails costs nobody a reading, and is tried again at the next commit.
 */
void ledger_wal_take(struct ledger *ledger);

/*
 * The -wal file, within a transaction: once the handle has stored a few groups, lengthens the file to what it may grow to
 * before it is taken in. From then on a commit writes over what is there, and the wait for the disk does not include
 * one for the file's new length.
 */
void ledger_wal_lengthen(struct ledger *ledger);

/* See ledger_time.c: narrows [*first, *last], ids, to lines that were received at since_us or later, before until_us. */
enum status ledger_time_range(struct ledger *ledger, int64_t since_us, int64_t until_us, int64_t *first, int64_t *last,
                              struct error *error) MUST_USE;

/* Closes the connection and its statements; checkpoint: the -wal file may be taken into the ledger as that is done. */
void ledger_disconnect(struct ledger *ledger, bool checkpoint);

/* Opens the file anew, where it lost its side files under the hands of this process. */
enum status ledger_reconnect(struct ledger *ledger, struct error *error) MUST_USE;

#endif
