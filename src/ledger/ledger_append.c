/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_append.h"

#include <assert.h>
#include <math.h>
#include <string.h>
#include <fcntl.h>
#include <time.h>
#include <unistd.h>

#include "ledger_private.h"

/* The numbers of these stand in files: docs/ledger.md. */
static_assert(READING_SAMPLE == 0 && READING_ZERO == 1 && READING_STANDARD == 2 && LEDGER_RAW == 3, "roles in files");
static_assert(UNIT_NONE == 0 && UNIT_TDS_PERCENT == 1 && UNIT_BRIX == 2 && UNIT_INDEX == 3, "units in files");
static_assert(READING_OUT_OF_RANGE == 1 && READING_REPEAT == 8 && READING_QUESTIONED == 16 &&
                      READING_TEMP_APART == 32 && READING_TEMP_UNKNOWN == 64 && READING_STALE == 128,
              "flags in files");

static int statement_do(struct ledger *ledger, enum ledger_statement which, const char *sql, enum status *status,
                        struct error *error)
{
	sqlite3_stmt *statement = sql_statement(ledger, which, sql, status, error);

	return statement ? sql_finish(statement) : SQLITE_ERROR;
}

/*
 * Side files removed or replaced under our hands (by a tool for backups, say) would make two writers blind to each other.
 * While the -wal file is the same, opening anew finds everything in it.
 */
static enum status files_check(struct ledger *ledger, struct error *error)
{
	struct ledger_marks now;
	const char *name;

	if (ledger->mode == LEDGER_MEMORY)
		return STATUS_OK;
	name = ledger->db ? sqlite3_db_filename(ledger->db, "main") : ledger->path;
	now = ledger_marks_of(name);
	ledger->marks.wal.size = now.wal.size;
	if (ledger->db && ledger_mark_same(now.file, ledger->marks.file) &&
	    ledger_mark_same(now.wal, ledger->marks.wal) && ledger_mark_same(now.shm, ledger->marks.shm))
		return STATUS_OK;
	if (!ledger_mark_same(now.file, ledger->marks.file))
		return error_set(error, STATUS_IO, "%s: was moved away, removed or replaced while it was open",
		                 ledger->path);
	if (ledger->db && !ledger_mark_same(now.wal, ledger->marks.wal))
		sqlite3_wal_checkpoint_v2(ledger->db, NULL, SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
	return ledger_reconnect(ledger, error);
}

enum status ledger_begin(struct ledger *ledger, struct error *error)
{
	enum status status;
	int rc;

	if (ledger->mode == LEDGER_READ)
		return error_set(error, STATUS_INVALID, "%s: is open for reading only", ledger->path);
	if (ledger->group != GROUP_NONE)
		return error_set(error, STATUS_INVALID, "%s: a group is open already", ledger->path);
	status = files_check(ledger, error);
	if (status != STATUS_OK)
		return status;
	rc = statement_do(ledger, STATEMENT_BEGIN, "BEGIN IMMEDIATE", &status, error);
	if (status == STATUS_OK && rc != SQLITE_DONE)
		status = sql_failed(ledger, rc, "store", error);
	if (status != STATUS_OK)
		return status;
	ledger->group = GROUP_OPEN;
	ledger_wal_lengthen(ledger);
	return STATUS_OK;
}

/* Leaves nothing of the transaction, whoever rolled it back. */
static void transaction_end(struct ledger *ledger)
{
	if (ledger->db && !sqlite3_get_autocommit(ledger->db))
		sqlite3_exec(ledger->db, "ROLLBACK", NULL, NULL, NULL);
	if (ledger->session_in_group)
		ledger->session = 0;
	ledger->session_in_group = false;
}

void ledger_rollback(struct ledger *ledger)
{
	if (ledger->group == GROUP_OPEN)
		transaction_end(ledger);
	ledger->group = GROUP_NONE;
}

enum status ledger_commit(struct ledger *ledger, struct error *error)
{
	enum status status;
	int rc;

	if (ledger->group == GROUP_NONE)
		return STATUS_OK;
	if (ledger->group == GROUP_LOST) {
		ledger->group = GROUP_NONE;
		return error_set(error, ledger->lost, "%s", ledger->lost_to.text);
	}
	ledger->group = GROUP_NONE;
	rc = statement_do(ledger, STATEMENT_COMMIT, "COMMIT", &status, error);
	if (status == STATUS_OK && rc != SQLITE_DONE)
		status = sql_failed(ledger, rc, "store", error);
	if (status != STATUS_OK) {
		transaction_end(ledger);
		return status;
	}
	ledger->session_in_group = false;
	ledger_wal_take(ledger);
	return STATUS_OK;
}

enum status ledger_enter(struct ledger *ledger, bool *own, struct error *error)
{
	*own = false;
	if (ledger->group == GROUP_OPEN)
		return STATUS_OK;
	if (ledger->group == GROUP_LOST)
		return error_set(error, ledger->lost, "%s", ledger->lost_to.text);
	*own = true;
	return ledger_begin(ledger, error);
}

enum status ledger_leave(struct ledger *ledger, bool own, enum status status, struct error *error)
{
	if (own && status == STATUS_OK)
		return ledger_commit(ledger, error);
	if (own) {
		ledger_rollback(ledger);
		return status;
	}
	if (status == STATUS_OK || status == STATUS_INVALID)
		return status;
	transaction_end(ledger);
	ledger->group = GROUP_LOST;
	ledger->lost = status;
	error_set(&ledger->lost_to, status, "%s", error ? error->text : ledger->path);
	return status;
}

static int64_t now_us(void)
{
	struct timespec now;

	clock_gettime(CLOCK_REALTIME, &now);
	return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

/* What tells one start of the machine from another: without it monotonic times cannot be compared. */
static struct slice boot_id(char out[64])
{
	ssize_t len = 0;
	int fd = open("/proc/sys/kernel/random/boot_id", O_RDONLY | O_CLOEXEC);

	if (fd >= 0) {
		len = read(fd, out, 63);
		close(fd);
	}
	return slice_trim((struct slice){ out, len > 0 ? (size_t)len : 0 });
}

enum status ledger_session(struct ledger *ledger, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	char boot[64];

	if (ledger->session != 0)
		return STATUS_OK;
	statement = sql_statement(ledger, STATEMENT_SESSION,
	                          "INSERT INTO sessions (started_us, boot, process) VALUES (?1, ?2, ?3)", &status,
	                          error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, now_us());
	sql_bind_text(statement, 2, boot_id(boot));
	sqlite3_bind_int64(statement, 3, getpid());
	status = sql_insert(ledger, statement, "store", &ledger->session, error);
	ledger->session_in_group = status == STATUS_OK;
	return status;
}

/* Not a number, where nothing was told, is told by NULL; an infinity by nothing. */
static enum status entry_check(struct ledger *ledger, const struct ledger_entry *entry, struct error *error)
{
	if (entry->role > LEDGER_RAW)
		return error_set(error, STATUS_INVALID, "%s: cannot store a line of role %d", ledger->path,
		                 entry->role);
	if (isinf(entry->temp_c) || isinf(entry->standard_percent))
		return error_set(error, STATUS_INVALID,
		                 "%s: cannot store a line with an infinite temperature or strength", ledger->path);
	if (entry->role == LEDGER_RAW)
		return STATUS_OK;
	if (!isfinite(entry->shown.value))
		return error_set(error, STATUS_INVALID, "%s: cannot store a reading whose value is no finite number",
		                 ledger->path);
	if (entry->shown.decimals < 0 || entry->shown.decimals > 17)
		return error_set(error, STATUS_INVALID, "%s: cannot store a reading with %d decimals; expected 0 to 17",
		                 ledger->path, entry->shown.decimals);
	return STATUS_OK;
}

static void entry_bind(struct ledger *ledger, sqlite3_stmt *statement, const struct ledger_entry *entry)
{
	bool read = entry->role != LEDGER_RAW;

	sqlite3_bind_int64(statement, 1, entry->received_us);
	sql_bind_id_or_null(statement, 2, entry->monotonic_us);
	sqlite3_bind_int64(statement, 3, ledger->session);
	sqlite3_bind_int64(statement, 4, entry->meter);
	sql_bind_id_or_null(statement, 5, entry->run);
	sql_bind_id_or_null(statement, 6, entry->paste);
	sql_bind_id_or_null(statement, 7, entry->line);
	sql_bind_id_or_null(statement, 8, entry->column);
	sqlite3_bind_int(statement, 9, entry->role);
	sqlite3_bind_int(statement, 10, entry->flags & ~(READING_UNJOINED | READING_EXCLUDED));
	sqlite3_bind_int(statement, 11, read ? (int)entry->shown.unit : 0);
	sqlite3_bind_int(statement, 12, read ? entry->shown.decimals : 0);
	sql_bind_number_or_null(statement, 13, read ? entry->shown.value : NAN);
	sql_bind_number_or_null(statement, 14, entry->temp_c);
	sql_bind_number_or_null(statement, 15, entry->standard_percent);
	sql_bind_time_or_null(statement, 16, entry->taken_us);
	sql_bind_text(statement, 17, entry->label);
	sql_bind_text_or_null(statement, 18, entry->sequence);
	sql_bind_text_or_null(statement, 19, entry->status);
	sql_bind_blob(statement, 20, entry->raw);
}

static enum status entry_add(struct ledger *ledger, struct ledger_entry *entry, struct error *error)
{
	enum status status = ledger_session(ledger, error);
	sqlite3_stmt *statement;

	if (status != STATUS_OK)
		return status;
	statement = sql_statement(
		ledger, STATEMENT_APPEND,
		"INSERT INTO readings (received_us, monotonic_us, session, meter, run, paste, line, col, role, flags, unit, "
		"decimals, value, temp_c, standard_percent, taken_us, label, sequence, status, raw) "
		"VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20)",
		&status, error);
	if (status != STATUS_OK)
		return status;
	entry_bind(ledger, statement, entry);
	return sql_insert(ledger, statement, "store", &entry->id, error);
}

enum status ledger_append(struct ledger *ledger, struct ledger_entry *entry, struct error *error)
{
	enum status status = entry_check(ledger, entry, error);
	bool own;

	if (status == STATUS_OK)
		status = ledger_enter(ledger, &own, error);
	if (status != STATUS_OK)
		return status;
	status = entry_add(ledger, entry, error);
	return ledger_leave(ledger, own, status, error);
}
