/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_amend.h"

#include <inttypes.h>

#include "arena.h"
#include "ledger_private.h"
#include "ledger_read.h"

static const char *const action_names[] = {
	[AMENDMENT_EXCLUDE] = "exclude",
	[AMENDMENT_RESTORE] = "restore",
	[AMENDMENT_MOVE] = "move",
};

const char *amendment_action_name(enum amendment_action action)
{
	return action_names[action];
}

struct check {
	struct ledger *ledger;
	const struct amendment *amendment;
	bool found;
};

/* Would the amendment change anything about row, as it is now? */
static enum status change_check(void *context, const struct ledger_row *row, struct error *error)
{
	struct check *check = context;
	const struct amendment *amendment = check->amendment;
	const char *path = check->ledger->path;
	bool excluded = row->flags & READING_EXCLUDED;

	check->found = true;
	if (row->role == LEDGER_RAW)
		return error_set(error, STATUS_INVALID, "%s: line %" PRId64 " gave no reading; nothing to %s", path,
		                 amendment->reading, amendment_action_name(amendment->action));
	switch (amendment->action) {
	case AMENDMENT_EXCLUDE:
		if (excluded)
			return error_set(error, STATUS_INVALID, "%s: reading %" PRId64 " is excluded already: %.*s",
			                 path, amendment->reading, SLICE_ARG(row->note));
		break;
	case AMENDMENT_RESTORE:
		if (!excluded)
			return error_set(error, STATUS_INVALID, "%s: reading %" PRId64 " is not excluded", path,
			                 amendment->reading);
		break;
	case AMENDMENT_MOVE:
		if (slice_equal(row->label, amendment->label) && row->role == amendment->role)
			return error_set(error, STATUS_INVALID, "%s: reading %" PRId64 " is of \"%.*s\" already", path,
			                 amendment->reading, SLICE_ARG(row->label));
		break;
	}
	return STATUS_OK;
}

static enum status amendment_check(struct ledger *ledger, const struct amendment *amendment, struct error *error)
{
	struct ledger_query query = { .from_id = amendment->reading, .to_id = amendment->reading, .raw_lines = true };
	struct check check = { ledger, amendment, false };
	enum status status = STATUS_OK;

	if (amendment->reading > 0)
		status = ledger_each(ledger, &query, change_check, &check, error);
	if (status == STATUS_OK && !check.found)
		status = error_set(error, STATUS_INVALID, "%s: there is no reading %" PRId64, ledger->path,
		                   amendment->reading);
	return status;
}

static enum status amendment_insert(struct ledger *ledger, struct amendment *amendment, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	statement = sql_statement(ledger, STATEMENT_AMEND,
	                          "INSERT INTO amendments (reading, at_us, action, label, role, reason, author) "
	                          "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, amendment->reading);
	sqlite3_bind_int64(statement, 2, amendment->at_us);
	sql_bind_text(statement, 3, slice_from(amendment_action_name(amendment->action)));
	if (amendment->action == AMENDMENT_MOVE) {
		sql_bind_text(statement, 4, amendment->label);
		sqlite3_bind_int(statement, 5, amendment->role);
	}
	sql_bind_text(statement, 6, amendment->reason);
	sql_bind_text(statement, 7, amendment->author);
	return sql_insert(ledger, statement, "store the amendment", &amendment->id, error);
}

enum status ledger_amend_append(struct ledger *ledger, struct amendment *amendment, struct error *error)
{
	enum status status;
	bool own;

	if (slice_blank(amendment->reason))
		return error_set(error, STATUS_INVALID, "%s: cannot %s reading %" PRId64 " without a reason",
		                 ledger->path, amendment_action_name(amendment->action), amendment->reading);
	status = ledger_enter(ledger, &own, error);
	if (status != STATUS_OK)
		return status;
	/* within the group: nobody amends the same reading meanwhile */
	status = amendment_check(ledger, amendment, error);
	if (status == STATUS_OK)
		status = amendment_insert(ledger, amendment, error);
	return ledger_leave(ledger, own, status, error);
}

static bool amendment_copy(struct amendment *amendment, sqlite3_stmt *statement, struct arena *texts)
{
	struct slice action = sql_text(statement, 3);

	*amendment = (struct amendment){
		.id = sqlite3_column_int64(statement, 0),
		.reading = sqlite3_column_int64(statement, 1),
		.at_us = sqlite3_column_int64(statement, 2),
		.label = arena_copy(texts, sql_text(statement, 4)),
		.role = sqlite3_column_int(statement, 5),
		.reason = arena_copy(texts, sql_text(statement, 6)),
		.author = arena_copy(texts, sql_text(statement, 7)),
	};
	for (size_t i = 0; i < sizeof(action_names) / sizeof(action_names[0]); i++)
		if (slice_equal(action, slice_from(action_names[i])))
			amendment->action = (enum amendment_action)i;
	return amendment->label.text && amendment->reason.text && amendment->author.text;
}

static enum status amendment_after(struct ledger *ledger, int64_t reading, struct amendment *amendment,
                                   struct arena *texts, bool *found, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	int rc;

	statement = sql_statement(ledger, STATEMENT_AMENDMENTS,
	                          "SELECT id, reading, at_us, action, label, role, reason, author FROM amendments "
	                          "WHERE id > ?1 AND (?2 = 0 OR reading = ?2) ORDER BY id LIMIT 1",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, amendment->id);
	sqlite3_bind_int64(statement, 2, reading);
	rc = sqlite3_step(statement);
	*found = rc == SQLITE_ROW;
	if (*found && !amendment_copy(amendment, statement, texts))
		status = error_set(error, STATUS_MEMORY, "%s: no memory left", ledger->path);
	else if (!sql_ok(rc))
		status = sql_failed(ledger, rc, "read its amendments", error);
	sql_reset(statement);
	return status;
}

enum status ledger_each_amendment(struct ledger *ledger, int64_t reading,
                                  enum status (*each)(void *context, const struct amendment *amendment,
                                                      struct error *error),
                                  void *context, struct error *error)
{
	struct amendment amendment = { .id = 0 };
	struct arena texts = ARENA_INIT;
	enum status status;
	bool found = false;

	do {
		status = amendment_after(ledger, reading, &amendment, &texts, &found, error);
		if (status == STATUS_OK && found)
			status = each(context, &amendment, error);
		arena_release(&texts);
	} while (status == STATUS_OK && found);
	return status;
}
