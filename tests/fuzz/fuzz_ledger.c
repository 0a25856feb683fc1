/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a ledger's file. */
#include <fcntl.h>
#include <stdio.h>
#include <unistd.h>

#include "fuzz.h"
#include "ledger.h"
#include "ledger_event.h"
#include "ledger_meter.h"
#include "ledger_read.h"
#include "ledger_run.h"

static enum status row(void *context, const struct ledger_row *at, struct error *error)
{
	size_t *count = context;

	(void)error;
	FUZZ_HOLDS(at->entry.raw.len == 0 || at->entry.raw.text);
	(*count)++;
	return STATUS_OK;
}

static enum status meter(void *context, const struct ledger_meter *at, struct error *error)
{
	(void)context;
	(void)error;
	FUZZ_HOLDS(at->meter.name.len == 0 || at->meter.name.text);
	return STATUS_OK;
}

static enum status run(void *context, const struct ledger_run *at, struct error *error)
{
	(void)context;
	(void)error;
	FUZZ_HOLDS(at->name.len == 0 || at->name.text);
	return STATUS_OK;
}

static enum status event(void *context, const struct ledger_event *at, struct error *error)
{
	(void)context;
	(void)error;
	FUZZ_HOLDS(at->text.len == 0 || at->text.text);
	return STATUS_OK;
}

static void read_all(const char *path, enum ledger_mode mode)
{
	struct error error = ERROR_INIT;
	struct ledger *ledger = NULL;
	struct ledger_query query = { .raw_lines = true };
	size_t rows = 0;

	if (ledger_open(&ledger, path, mode, &error) != STATUS_OK) {
		FUZZ_HOLDS(!ledger && error.text[0] != '\0');
		return;
	}
	if (ledger_each(ledger, &query, row, &rows, &error) == STATUS_OK &&
	    ledger_each_meter(ledger, meter, NULL, &error) == STATUS_OK &&
	    ledger_each_run(ledger, run, NULL, &error) == STATUS_OK)
		FUZZ_HOLDS(ledger_each_event(ledger, 0, event, NULL, &error) == STATUS_OK || error.text[0] != '\0');
	ledger_free(ledger);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static char folder[] = "/dev/shm/fuzz-XXXXXX";
	static bool made;
	char path[64], beside[72];
	int fd;

	if (!made && !mkdtemp(folder))
		abort();
	made = true;
	snprintf(path, sizeof(path), "%s/ledger", folder);
	fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
	if (fd < 0 || write(fd, data, size) != (ssize_t)size)
		abort();
	close(fd);
	read_all(path, LEDGER_READ);
	read_all(path, LEDGER_WRITE);
	unlink(path);
	snprintf(beside, sizeof(beside), "%s-wal", path);
	unlink(beside);
	snprintf(beside, sizeof(beside), "%s-shm", path);
	unlink(beside);
	return 0;
}
