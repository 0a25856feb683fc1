/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_paste.h"

#include <nettle/sha2.h>
#include <stdio.h>

#include "ledger_private.h"

/* The length of text's first line, up to its LF, CR or end. */
static size_t line_len(struct slice text)
{
	size_t len = 0;

	while (len < text.len && text.text[len] != '\n' && text.text[len] != '\r')
		len++;
	return len;
}

void ledger_paste_digest(char digest[65], struct slice text)
{
	uint8_t bytes[SHA256_DIGEST_SIZE];
	struct sha256_ctx context;

	sha256_init(&context);
	while (text.len > 0) {
		size_t len = line_len(text);
		struct slice line = slice_trim(slice_part(text, 0, len));

		if (line.len > 0) {
			sha256_update(&context, line.len, (const uint8_t *)line.text);
			sha256_update(&context, 1, (const uint8_t *)"\n");
		}
		text = slice_part(text, len + 1, text.len);
	}
	sha256_digest(&context, sizeof(bytes), bytes);
	for (size_t i = 0; i < sizeof(bytes); i++)
		snprintf(digest + 2 * i, 3, "%02x", bytes[i]);
}

enum status ledger_paste_find(struct ledger *ledger, struct slice text, int64_t *id, int64_t *at_us,
                              struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	char digest[65];
	int rc;

	statement = sql_statement(ledger, STATEMENT_PASTE_FIND,
	                          "SELECT id, at_us FROM pastes WHERE digest = ?1 ORDER BY id LIMIT 1", &status, error);
	if (status != STATUS_OK)
		return status;
	ledger_paste_digest(digest, text);
	sql_bind_text(statement, 1, slice_from(digest));
	rc = sqlite3_step(statement);
	*id = 0;
	if (rc == SQLITE_ROW) {
		*id = sqlite3_column_int64(statement, 0);
		*at_us = sqlite3_column_int64(statement, 1);
	} else if (rc != SQLITE_DONE) {
		status = sql_failed(ledger, rc, "look for the text", error);
	}
	sql_reset(statement);
	return status;
}

static enum status paste_insert(struct ledger *ledger, struct slice name, struct slice text, int64_t at_us, int64_t *id,
                                struct error *error)
{
	enum status status;
	sqlite3_stmt *statement;
	char digest[65];

	statement = sql_statement(ledger, STATEMENT_PASTE_ADD,
	                          "INSERT INTO pastes (at_us, name, digest) VALUES (?1, ?2, ?3)", &status, error);
	if (status != STATUS_OK)
		return status;
	ledger_paste_digest(digest, text);
	sqlite3_bind_int64(statement, 1, at_us);
	sql_bind_text(statement, 2, name);
	sql_bind_text(statement, 3, slice_from(digest));
	return sql_insert(ledger, statement, "store", id, error);
}

enum status ledger_paste_add(struct ledger *ledger, struct slice name, struct slice text, int64_t at_us, int64_t *id,
                             struct error *error)
{
	bool own;
	enum status status = ledger_enter(ledger, &own, error);

	if (status != STATUS_OK)
		return status;
	status = paste_insert(ledger, name, text, at_us, id, error);
	return ledger_leave(ledger, own, status, error);
}
