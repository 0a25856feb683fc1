/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_meter.h"

#include <math.h>

#include "arena.h"
#include "ledger_private.h"

static void meter_bind(sqlite3_stmt *statement, const struct ledger_meter *meter)
{
	sql_bind_text(statement, 1, meter->meter.name);
	sql_bind_text(statement, 2, meter->port);
	sql_bind_text(statement, 3, meter->profile);
	sqlite3_bind_int(statement, 4, (int)meter->meter.unit);
	sqlite3_bind_int(statement, 5, meter->meter.compensated);
	sqlite3_bind_double(statement, 6, meter->meter.scale_factor);
	sqlite3_bind_double(statement, 7, meter->meter.cal_temp_c);
	sql_bind_number_or_null(statement, 8, meter->meter.step);
	sql_bind_number_or_null(statement, 9, meter->meter.accuracy);
}

static enum status meter_find(struct ledger *ledger, struct ledger_meter *meter, bool *found, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	int rc;

	statement = sql_statement(ledger, STATEMENT_METER_FIND,
	                          "SELECT id FROM meters WHERE name = ?1 AND port = ?2 AND profile = ?3 AND unit = ?4 "
	                          "AND compensated = ?5 AND scale_factor = ?6 AND cal_temp_c = ?7 AND step IS ?8 "
	                          "AND accuracy IS ?9 ORDER BY id DESC LIMIT 1",
	                          &status, error);
	if (status != STATUS_OK)
		return status;
	meter_bind(statement, meter);
	rc = sqlite3_step(statement);
	*found = rc == SQLITE_ROW;
	if (*found)
		meter->id = sqlite3_column_int64(statement, 0);
	else if (rc != SQLITE_DONE)
		status = sql_failed(ledger, rc, "look for the meter", error);
	sql_reset(statement);
	return status;
}

static enum status meter_insert(struct ledger *ledger, struct ledger_meter *meter, struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;

	statement =
		sql_statement(ledger, STATEMENT_METER_ADD,
	                      "INSERT INTO meters (name, port, profile, unit, compensated, scale_factor, cal_temp_c, "
	                      "step, accuracy, seen_us) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
	                      &status, error);
	if (status != STATUS_OK)
		return status;
	meter_bind(statement, meter);
	sqlite3_bind_int64(statement, 10, meter->seen_us);
	return sql_insert(ledger, statement, "store the meter", &meter->id, error);
}

enum status ledger_meter_add(struct ledger *ledger, struct ledger_meter *meter, struct error *error)
{
	bool own, found = false;
	enum status status;

	if (slice_blank(meter->meter.name))
		return error_set(error, STATUS_INVALID, "%s: cannot store a meter without a name", ledger->path);
	if (!isfinite(meter->meter.scale_factor) || !isfinite(meter->meter.cal_temp_c))
		return error_set(error, STATUS_INVALID,
		                 "%s: cannot store meter \"%.*s\": its scale is not told in finite numbers",
		                 ledger->path, SLICE_ARG(meter->meter.name));
	status = ledger_enter(ledger, &own, error);
	if (status != STATUS_OK)
		return status;
	status = meter_find(ledger, meter, &found, error);
	if (status == STATUS_OK && !found)
		status = meter_insert(ledger, meter, error);
	return ledger_leave(ledger, own, status, error);
}

static bool meter_copy(struct ledger_meter *meter, sqlite3_stmt *statement, struct arena *texts)
{
	*meter = (struct ledger_meter){
		.id = sqlite3_column_int64(statement, 0),
		.seen_us = sqlite3_column_int64(statement, 1),
		.meter = {
			.name = arena_copy(texts, sql_text(statement, 2)),
			.unit = (enum unit)sqlite3_column_int(statement, 5),
			.compensated = sqlite3_column_int(statement, 6) != 0,
			.scale_factor = sqlite3_column_double(statement, 7),
			.cal_temp_c = sqlite3_column_double(statement, 8),
			.step = sql_number_or_nan(statement, 9),
			.accuracy = sql_number_or_nan(statement, 10),
		},
		.port = arena_copy(texts, sql_text(statement, 3)),
		.profile = arena_copy(texts, sql_text(statement, 4)),
	};
	return meter->meter.name.text && meter->port.text && meter->profile.text;
}

/* The meter after id, copied, so that no statement is open while it is looked at. */
static enum status meter_after(struct ledger *ledger, struct ledger_meter *meter, struct arena *texts, bool *found,
                               struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	int rc;

	statement =
		sql_statement(ledger, STATEMENT_METERS,
	                      "SELECT id, seen_us, name, port, profile, unit, compensated, scale_factor, cal_temp_c, "
	                      "step, accuracy FROM meters WHERE id > ?1 ORDER BY id LIMIT 1",
	                      &status, error);
	if (status != STATUS_OK)
		return status;
	sqlite3_bind_int64(statement, 1, meter->id);
	rc = sqlite3_step(statement);
	*found = rc == SQLITE_ROW;
	if (*found && !meter_copy(meter, statement, texts))
		status = error_set(error, STATUS_MEMORY, "%s: no memory left", ledger->path);
	else if (!sql_ok(rc))
		status = sql_failed(ledger, rc, "read its meters", error);
	sql_reset(statement);
	return status;
}

enum status ledger_each_meter(struct ledger *ledger,
                              enum status (*each)(void *context, const struct ledger_meter *meter, struct error *error),
                              void *context, struct error *error)
{
	struct ledger_meter meter = { .id = 0 };
	struct arena texts = ARENA_INIT;
	enum status status;
	bool found = false;

	do {
		status = meter_after(ledger, &meter, &texts, &found, error);
		if (status == STATUS_OK && found)
			status = each(context, &meter, error);
		arena_release(&texts);
	} while (status == STATUS_OK && found);
	return status;
}
