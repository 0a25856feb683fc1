/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench_run.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "clock.h"
#include "ledger_run.h"
#include "reading.h"
#include "text.h"

static enum status folder_make(const char *path, struct error *error)
{
	if (mkdir(path, 0777) == 0 || errno == EEXIST)
		return STATUS_OK;
	return error_set_errno(error, STATUS_IO, "%s", path);
}

static bool all_written(int fd, const char *bytes, size_t len)
{
	while (len > 0) {
		ssize_t written = write(fd, bytes, len);

		if (written < 0 && errno != EINTR)
			return false;
		if (written > 0) {
			bytes += written;
			len -= (size_t)written;
		}
	}
	return fsync(fd) == 0;
}

/* Written beside it, then renamed: it is there as a whole or not at all. */
static enum status file_make(const char *path, const struct text *text, struct arena *memory, struct error *error)
{
	const char *next = arena_print(memory, "%s.new", path);
	enum status status = STATUS_OK;
	int fd;

	if (!next)
		return error_set(error, STATUS_MEMORY, "%s: no memory", path);
	fd = open(next, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
	if (fd < 0)
		return error_set_errno(error, STATUS_IO, "%s", next);
	if (!all_written(fd, text->bytes, text->len))
		status = error_set_errno(error, STATUS_IO, "%s", next);
	close(fd);
	if (status == STATUS_OK && rename(next, path) != 0)
		status = error_set_errno(error, STATUS_IO, "%s", path);
	if (status != STATUS_OK)
		unlink(next);
	return status;
}

/* Is there a manifest with that content, or with another one? */
static enum status manifest_compare(const char *path, const struct text *text, bool *same, struct error *error)
{
	struct text old = TEXT_INIT;
	enum status status = text_load(&old, path, error);

	*same = status == STATUS_OK && old.len == text->len && memcmp(old.bytes, text->bytes, old.len) == 0;
	text_release(&old);
	if (status == STATUS_OK && !*same)
		status = error_set(error, STATUS_INVALID,
		                   "%s is there already and says something else; expected it to be moved away, or no "
		                   "manifest to be named",
		                   path);
	return status;
}

static enum status manifest_copy(const char *path, const char *from, struct arena *memory, struct error *error)
{
	struct text text = TEXT_INIT;
	enum status status = text_load(&text, from, error);
	bool same = false;

	if (status == STATUS_OK && access(path, F_OK) == 0)
		status = manifest_compare(path, &text, &same, error);
	if (status == STATUS_OK && !same)
		status = file_make(path, &text, memory, error);
	text_release(&text);
	return status;
}

static enum status run_place(const struct bench *bench, struct slice name, const char *path, struct arena *memory,
                             struct error *error)
{
	const char *runs = arena_print(memory, "%s/runs", bench->folder);
	const char *folder = bench_run_folder(bench, name, memory);
	const char *manifest = bench_run_manifest(bench, name, memory);
	enum status status;

	if (!runs || !folder || !manifest)
		return error_set(error, STATUS_MEMORY, "run %.*s: no memory", SLICE_ARG(name));
	if (!path && access(manifest, F_OK) != 0)
		return error_set(error, STATUS_INVALID,
		                 "run %.*s has no manifest yet; expected its name, or a file at %s", SLICE_ARG(name),
		                 manifest);
	if (!path)
		return STATUS_OK;
	status = folder_make(runs, error);
	if (status == STATUS_OK)
		status = folder_make(folder, error);
	return status == STATUS_OK ? manifest_copy(manifest, path, memory, error) : status;
}

enum status bench_run_place(const struct bench *bench, struct slice name, const char *path, struct error *error)
{
	struct arena memory = ARENA_INIT;
	enum status status;

	if (!bench_run_name_fits(name))
		return error_set(error, STATUS_INVALID,
		                 "\"%.*s\" is no name for a run; expected one that a folder can have, up to 100 bytes",
		                 SLICE_ARG(name));
	status = run_place(bench, name, path, &memory, error);
	arena_release(&memory);
	return status;
}

enum status bench_run_mark_open(struct ledger *ledger, struct slice name, int64_t *id, struct error *error)
{
	struct arena memory = ARENA_INIT;
	/* from the bench folder on, so that it can be moved */
	const char *manifest = arena_print(&memory, "runs/%.*s/manifest.csv", SLICE_ARG(name));
	enum status status = STATUS_MEMORY;

	if (manifest)
		status = ledger_run_open(ledger, name, slice_from(manifest), clock_wall_us(), id, error);
	else
		error_set(error, STATUS_MEMORY, "no memory");
	arena_release(&memory);
	return status;
}

struct search {
	struct slice name; /* empty: the newest that is open */
	int64_t *id;
	char *out;
	size_t size;
};

static enum status run_look(void *context, const struct ledger_run *run, struct error *error)
{
	struct search *search = context;

	(void)error;
	if (search->name.len > 0 ? !slice_equal(search->name, run->name) : run->closed_us != READING_NO_TIME)
		return STATUS_OK;
	*search->id = run->id;
	if (search->out)
		snprintf(search->out, search->size, "%.*s", SLICE_ARG(run->name));
	return STATUS_OK;
}

enum status bench_run_find(struct ledger *ledger, struct slice name, int64_t *id, char *out, size_t size,
                           struct error *error)
{
	struct search search = { .name = name, .id = id, .out = out, .size = size };

	*id = 0;
	if (out)
		out[0] = '\0';
	return ledger_each_run(ledger, run_look, &search, error);
}
