/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench_command.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "control_client.h"
#include "control_path.h"

const char *invocation_bench(const struct invocation *invocation)
{
	const char *bench = invocation_value(invocation, "bench");

	if (bench)
		return bench;
	return access("bench.ini", F_OK) == 0 ? "." : NULL;
}

enum status invocation_bench_open(struct bench **out, struct invocation *invocation)
{
	const char *folder = invocation_bench(invocation);

	*out = NULL;
	if (!folder)
		return error_set(
			&invocation->error, STATUS_INVALID,
			"no bench folder is named; expected --bench DIR, or a bench.ini in the current folder");
	return bench_open(out, folder, &invocation->faults, &invocation->error);
}

enum status invocation_ledger_open(struct ledger **out, const struct bench *bench, enum ledger_mode mode,
                                   struct invocation *invocation)
{
	return ledger_open(out, bench->ledger, mode, &invocation->error);
}

enum status invocation_history(struct history *out, const struct bench *bench, const struct history_query *query,
                               struct invocation *invocation)
{
	struct ledger *ledger;
	enum status status = invocation_ledger_open(&ledger, bench, LEDGER_READ, invocation);

	if (status == STATUS_OK)
		status = audit_history(out, ledger, query, &invocation->settings, &invocation->error);
	if (status == STATUS_OK)
		history_tell_unread(out, &invocation->faults);
	ledger_free(ledger);
	return status;
}

/* One request, its answer read. */
static enum status ask_once(json_t **answer, struct control_client *client, const char *request, struct error *error)
{
	const char *line;
	enum status status = control_client_ask(client, request, &line, error);
	json_t *json;

	if (status != STATUS_OK)
		return status;
	json = json_loads(line, 0, NULL);
	if (!json)
		return error_set(error, STATUS_IO, "the daemon's answer is no JSON");
	if (!json_is_true(json_object_get(json, "ok"))) {
		const char *why = json_string_value(json_object_get(json, "error"));

		status = error_set(error, STATUS_INVALID, "%s", why ? why : "the daemon refuses");
	}
	if (status == STATUS_OK)
		*answer = json;
	else
		json_decref(json);
	return status;
}

static enum status meter_say(struct control_client *client, const char *meter, struct error *error)
{
	char request[200];
	json_t *answer = NULL;
	enum status status;

	if (strlen(meter) > 127)
		return error_set(error, STATUS_INVALID, "no meter is called \"%.40s…\"", meter);
	snprintf(request, sizeof(request), "for %s", meter);
	status = ask_once(&answer, client, request, error);
	json_decref(answer);
	return status;
}

enum status daemon_ask(json_t **answer, const char *bench, const char *meter, const char *request, struct error *error)
{
	struct arena memory = ARENA_INIT;
	struct control_client *client = NULL;
	const char *path = control_path(bench, &memory);
	enum status status = STATUS_OK;

	*answer = NULL;
	if (!path)
		status = error_set(error, STATUS_BUSY, "no bench folder is named; expected --bench DIR");
	if (status == STATUS_OK)
		status = control_client_open(&client, path, error);
	if (status == STATUS_OK && meter)
		status = meter_say(client, meter, error);
	if (status == STATUS_OK)
		status = ask_once(answer, client, request, error);
	control_client_free(client);
	arena_release(&memory);
	return status;
}

void daemon_tell_change(const char *bench)
{
	struct error error = ERROR_INIT;
	json_t *answer = NULL;

	/* without a daemon there is nobody to tell */
	if (daemon_ask(&answer, bench, NULL, "look", &error) == STATUS_OK)
		json_decref(answer);
}

char *operand_words(const struct invocation *invocation)
{
	size_t size = 1;
	char *words;

	for (size_t i = 0; i < invocation->operand_count; i++)
		size += strlen(invocation->operands[i]) + 1;
	words = calloc(1, size);
	for (size_t i = 0, used = 0; words && i < invocation->operand_count; i++) {
		size_t len = strlen(invocation->operands[i]);

		if (i > 0)
			words[used++] = ' ';
		memcpy(words + used, invocation->operands[i], len);
		used += len;
	}
	return words;
}
