/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ledger_scene.h: what the tests of the ledger share: a folder of their own, a ledger in it, lines to add. */
#ifndef LEDGER_SCENE_H
#define LEDGER_SCENE_H

#include <dirent.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "near.h"

#include "ledger.h"
#include "ledger_append.h"
#include "ledger_meter.h"
#include "ledger_read.h"

/* 2026-03-01 10:15:00 UTC; invented, as all readings here are. */
#define SCENE_TIME_US INT64_C(1772360100000000)

struct scene {
	char folder[256];
	char path[300]; /* of the ledger */
	struct ledger *ledger;
	int64_t meter;
};

/* Fails the test that it stands in, and says what the ledger said. */
#define assert_status(call, want)                                                                 \
	do {                                                                                      \
		struct error error = ERROR_INIT;                                                  \
		enum status got_ = (call);                                                        \
		if (got_ != (want)) {                                                             \
			print_message("# %s is %d, not %d: %s\n", #call, got_, want, error.text); \
			_fail(__FILE__, __LINE__);                                                \
		}                                                                                 \
	} while (0)

#define assert_done(call) assert_status(call, STATUS_OK)

/* The call fails so, and its message holds words. */
#define assert_told(call, want, words)                                                            \
	do {                                                                                      \
		struct error error = ERROR_INIT;                                                  \
		enum status got_ = (call);                                                        \
		if (got_ != (want) || !strstr(error.text, words)) {                               \
			print_message("# %s is %d, not %d: %s\n", #call, got_, want, error.text); \
			_fail(__FILE__, __LINE__);                                                \
		}                                                                                 \
	} while (0)

static inline void scene_folder(struct scene *scene)
{
	const char *tmp = getenv("TMPDIR");

	*scene = (struct scene){ .meter = 0 };
	snprintf(scene->folder, sizeof(scene->folder), "%s/ledger-XXXXXX", tmp ? tmp : "/tmp");
	assert_non_null(mkdtemp(scene->folder));
	snprintf(scene->path, sizeof(scene->path), "%s/bench.ledger", scene->folder);
}

static inline int64_t scene_meter(struct ledger *ledger, const char *name)
{
	struct ledger_meter meter = { .seen_us = SCENE_TIME_US, .meter = meter_standard() };

	meter.meter.name = slice_from(name);
	meter.port = slice_from("/dev/serial/by-id/invented-0001");
	assert_done(ledger_meter_add(ledger, &meter, &error));
	return meter.id;
}

static inline void scene_open(struct scene *scene)
{
	scene_folder(scene);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_CREATE, &error));
	scene->meter = scene_meter(scene->ledger, "bench meter");
}

static inline void folder_remove(const char *folder)
{
	DIR *dir = opendir(folder);
	struct dirent *entry;

	while (dir && (entry = readdir(dir)))
		if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0 &&
		    unlinkat(dirfd(dir), entry->d_name, 0) != 0)
			unlinkat(dirfd(dir), entry->d_name, AT_REMOVEDIR);
	if (dir)
		closedir(dir);
	rmdir(folder);
}

static inline void scene_close(struct scene *scene)
{
	ledger_free(scene->ledger);
	folder_remove(scene->folder);
}

/* Setup and teardown of one test. */
static inline int scene_setup(void **state)
{
	struct scene *scene = calloc(1, sizeof(*scene));

	scene_open(scene);
	*state = scene;
	return 0;
}

static inline int scene_teardown(void **state)
{
	scene_close(*state);
	free(*state);
	return 0;
}

static inline struct ledger_entry scene_entry(int64_t meter, const char *label, double value)
{
	struct ledger_entry entry = LEDGER_ENTRY_INIT;

	entry.received_us = SCENE_TIME_US;
	entry.monotonic_us = 5000000;
	entry.meter = meter;
	entry.role = READING_SAMPLE;
	entry.label = slice_from(label);
	entry.raw = slice_from("TDS 1.38 %");
	entry.shown = (struct shown){ value, 2, UNIT_TDS_PERCENT };
	return entry;
}

/* Adds a reading of that cup; its id. */
static inline int64_t scene_add(struct scene *scene, const char *label, double value)
{
	struct ledger_entry entry = scene_entry(scene->meter, label, value);

	assert_done(ledger_append(scene->ledger, &entry, &error));
	return entry.id;
}

/* Lines of a query, counted, with the last of them. Its slices are copied into text. */
struct seen {
	size_t count;
	int64_t first_id;
	struct ledger_row row;
	char label[64], note[128], raw[64], sequence[64], status[64];
	double sum;
};

static inline void seen_copy(char *out, size_t size, struct slice *slice)
{
	assert_true(slice->len < size);
	if (slice->len > 0)
		memcpy(out, slice->text, slice->len);
	out[slice->len] = '\0';
	slice->text = out;
}

static inline enum status see(void *context, const struct ledger_row *row, struct error *error)
{
	struct seen *seen = context;

	(void)error;
	if (seen->count++ == 0)
		seen->first_id = row->entry.id;
	else
		assert_true(row->entry.id > seen->row.entry.id);
	seen->row = *row;
	seen->sum += row->entry.shown.value;
	seen_copy(seen->label, sizeof(seen->label), &seen->row.label);
	seen_copy(seen->note, sizeof(seen->note), &seen->row.note);
	seen_copy(seen->raw, sizeof(seen->raw), &seen->row.entry.raw);
	seen_copy(seen->sequence, sizeof(seen->sequence), &seen->row.entry.sequence);
	seen_copy(seen->status, sizeof(seen->status), &seen->row.entry.status);
	return STATUS_OK;
}

static inline struct seen scene_see(struct ledger *ledger, struct ledger_query query)
{
	struct seen seen = { .count = 0 };

	assert_done(ledger_each(ledger, &query, see, &seen, &error));
	return seen;
}

/* The whole file, from malloc(). */
static inline char *file_bytes(const char *path, size_t *len)
{
	struct stat about;
	int fd = open(path, O_RDONLY | O_CLOEXEC);
	char *bytes;

	assert_true(fd >= 0);
	assert_int_equal(fstat(fd, &about), 0);
	*len = (size_t)about.st_size;
	bytes = malloc(*len + 1);
	assert_int_equal(read(fd, bytes, *len), *len);
	close(fd);
	return bytes;
}

static inline void file_write(const char *path, const char *bytes, size_t len)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);

	assert_true(fd >= 0);
	assert_int_equal(write(fd, bytes, len), len);
	close(fd);
}

static inline void file_copy(const char *from, const char *to)
{
	size_t len;
	char *bytes = file_bytes(from, &len);

	file_write(to, bytes, len);
	free(bytes);
}

static inline long long file_size(const char *path)
{
	struct stat about;

	return stat(path, &about) == 0 ? (long long)about.st_size : -1;
}

#endif
