/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Several processes at one ledger, and processes that end at the worst of moments. BREWSPREAD_KILLS is how many times
 * one is killed (100; stopped after half a minute if that is not reached).
 */
#include <poll.h>
#include <signal.h>
#include <sys/wait.h>
#include <time.h>

#include "ledger_scene.h"
#include "number.h"
#include "random.h"

/* What a child tells its parent: a group is on the disk. */
struct told {
	int64_t id;     /* of its first line */
	int64_t number; /* the child's own, stored as the value of that line */
	int64_t count;
};

static int64_t now_ms(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* Ends the process on any failure: an assertion would jump into the parent's test. */
static void child_must(enum status status)
{
	if (status != STATUS_OK)
		_exit(9);
}

static void child_group(struct ledger *ledger, int64_t meter, struct told *told)
{
	child_must(ledger_begin(ledger, NULL));
	for (int64_t i = 0; i < told->count; i++) {
		struct ledger_entry entry = scene_entry(meter, "A1", (double)(told->number + i));

		child_must(ledger_append(ledger, &entry, NULL));
		if (i == 0)
			told->id = entry.id;
	}
	child_must(ledger_commit(ledger, NULL));
}

/* Adds groups of 1 to 4 lines with the values from first on, and tells each that is stored; for ever if groups is 0. */
static void child_writes(const char *path, int64_t meter, int64_t first, int groups, int tell)
{
	struct told told = { .number = first };
	struct ledger *ledger;

	child_must(ledger_open(&ledger, path, LEDGER_WRITE, NULL));
	for (int i = 0; groups == 0 || i < groups; i++) {
		told.count = i % 4 + 1;
		child_group(ledger, meter, &told);
		if (write(tell, &told, sizeof(told)) != sizeof(told))
			_exit(8);
		told.number += told.count;
	}
	ledger_free(ledger);
	_exit(0);
}

struct child {
	pid_t pid;
	int told; /* descriptor to read from */
};

static struct child child_start(const struct scene *scene, int64_t first, int groups)
{
	struct child child;
	int ends[2];

	assert_int_equal(pipe(ends), 0);
	child.pid = fork();
	assert_true(child.pid >= 0);
	if (child.pid == 0) {
		close(ends[0]);
		child_writes(scene->path, scene->meter, first, groups, ends[1]);
	}
	close(ends[1]);
	child.told = ends[0];
	return child;
}

static int child_end(struct child *child)
{
	int status;

	assert_int_equal(waitpid(child->pid, &status, 0), child->pid);
	close(child->told);
	return status;
}

/* What stands in the ledger, by id from 1. */
struct stored {
	double *values;
	size_t count, room;
};

static enum status store(void *context, const struct ledger_row *row, struct error *error)
{
	struct stored *stored = context;

	(void)error;
	if (stored->count == stored->room) {
		stored->room = stored->room * 2 + 64;
		stored->values = realloc(stored->values, stored->room * sizeof(*stored->values));
	}
	stored->values[stored->count++] = row->entry.shown.value;
	assert_int_equal(row->entry.id, stored->count); /* no id left out */
	return STATUS_OK;
}

static struct stored stored_read(const char *path)
{
	struct stored stored = { .values = NULL };
	struct ledger *ledger;

	assert_done(ledger_open(&ledger, path, LEDGER_WRITE, &error)); /* which checks all of a file of this size */
	assert_done(ledger_each(ledger, &(struct ledger_query){ 0 }, store, &stored, &error));
	ledger_free(ledger);
	return stored;
}

/* Everything that the child told of is there, and at most one group that it had no time to tell of. */
static void assert_kept(const struct stored *stored, int told_by, size_t before)
{
	struct told told;
	size_t last = before;

	while (read(told_by, &told, sizeof(told)) == sizeof(told)) {
		last = (size_t)(told.id + told.count - 1);
		assert_true(last <= stored->count);
		for (int64_t i = 0; i < told.count; i++)
			assert_near(stored->values[told.id + i - 1], (double)(told.number + i), 0.0);
	}
	assert_in_range(stored->count - last, 0, 4);
	for (size_t i = before + 1; i < stored->count; i++) /* each once: the child counts up */
		assert_true(stored->values[i] > stored->values[i - 1]);
}

static long long kills_wanted(void)
{
	const char *text = getenv("BREWSPREAD_KILLS");
	long long kills;

	return text && number_parse_count(&kills, slice_from(text)) ? kills : 100;
}

/* D03's half that a test can show; the other half, a power cut, is test_ledger_faults.c's order of writes and waits. */
static void killed_at_any_moment_nothing_acknowledged_is_lost(void **state)
{
	struct scene *scene = *state;
	long long kills = kills_wanted(), done;
	int64_t limit_ms = now_ms() + (kills > 100 ? 3600000 : 30000);
	struct random random;
	size_t before = 0;

	ledger_free(scene->ledger);
	scene->ledger = NULL;
	random_seed(&random, 1);
	for (done = 0; done < kills && now_ms() < limit_ms; done++) {
		struct child child = child_start(scene, done * 1000000, 0);
		struct stored stored;
		int status;

		if (done % 2) /* in its work; else wherever it is, perhaps still opening */
			assert_int_equal(poll(&(struct pollfd){ .fd = child.told, .events = POLLIN }, 1, 60000), 1);
		usleep((useconds_t)random_below(&random, 30000));
		assert_int_equal(kill(child.pid, SIGKILL), 0);
		assert_int_equal(waitpid(child.pid, &status, 0), child.pid);
		assert_true(WIFSIGNALED(status)); /* it did not end by itself, on a failure */
		stored = stored_read(scene->path);
		assert_kept(&stored, child.told, before);
		before = stored.count;
		free(stored.values);
		close(child.told);
	}
	print_message("# killed %lld times; %zu readings kept\n", done, before);
	assert_true(before > 0);
}

static void two_processes_writing_lose_nothing(void **state)
{
	struct scene *scene = *state;
	struct child a, b;
	struct stored stored;
	double last[2] = { -1, -1 };
	size_t count[2] = { 0, 0 };

	ledger_free(scene->ledger);
	scene->ledger = NULL;
	a = child_start(scene, 0, 80);
	b = child_start(scene, 1000000, 80);
	assert_int_equal(child_end(&a), 0);
	assert_int_equal(child_end(&b), 0);
	stored = stored_read(scene->path);
	for (size_t i = 0; i < stored.count; i++) {
		int by = stored.values[i] >= 1000000;

		assert_true(stored.values[i] > last[by]); /* in its own order */
		last[by] = stored.values[i];
		count[by]++;
	}
	assert_int_equal(count[0], 200); /* 80 groups of 1, 2, 3, 4, ... */
	assert_int_equal(count[1], 200);
	free(stored.values);
}

static void reading_while_another_process_writes(void **state)
{
	struct scene *scene = *state;
	size_t before = 0;
	struct child child;

	ledger_free(scene->ledger);
	scene->ledger = NULL;
	child = child_start(scene, 0, 0);
	for (int i = 0; i < 15; i++) {
		struct ledger *reader;
		struct stored stored = { .values = NULL };

		usleep(5000);
		assert_done(ledger_open(&reader, scene->path, LEDGER_READ, &error));
		assert_done(ledger_each(reader, &(struct ledger_query){ 0 }, store, &stored, &error));
		assert_true(stored.count >= before);
		before = stored.count;
		free(stored.values);
		ledger_free(reader);
	}
	kill(child.pid, SIGKILL);
	assert_true(WIFSIGNALED(child_end(&child)));
	assert_true(before > 0);
}

enum { ROWS_BEFORE = 200, ROWS_A_GROUP = 100, LINE_BYTES = 1000, SIDE_FILE_MOST = 8 << 20 };

static enum status write_meanwhile(void *context, const struct ledger_row *row, struct error *told)
{
	struct scene *scene = context;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);
	char line[LINE_BYTES], wal[320];
	struct stat file;

	(void)row;
	(void)told;
	memset(line, 'x', sizeof(line));
	entry.raw = (struct slice){ line, sizeof(line) };
	assert_done(ledger_begin(scene->ledger, &error));
	for (int i = 0; i < ROWS_A_GROUP; i++)
		assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_done(ledger_commit(scene->ledger, &error));
	snprintf(wal, sizeof(wal), "%s-wal", scene->path);
	assert_int_equal(stat(wal, &file), 0);
	assert_true(file.st_size < SIDE_FILE_MOST);
	return STATUS_OK;
}

/* A reader that kept a transaction open would keep all 20 MB there. */
static void side_file_stays_small_while_a_report_reads(void **state)
{
	struct scene *scene = *state;
	struct ledger *reader;
	struct stored stored;

	for (int i = 0; i < ROWS_BEFORE; i++)
		scene_add(scene, "A1", 1.38);
	assert_done(ledger_open(&reader, scene->path, LEDGER_READ, &error));
	assert_done(ledger_each(reader, &(struct ledger_query){ 0 }, write_meanwhile, scene, &error));
	ledger_free(reader);
	stored = stored_read(scene->path);
	assert_int_equal(stored.count, ROWS_BEFORE * (ROWS_A_GROUP + 1));
	free(stored.values);
}

/* A process that has a group open until it is told to end. */
static pid_t holder_start(const struct scene *scene, int *held, int *release)
{
	int to_parent[2], to_child[2];
	char byte = 'x';
	pid_t pid;

	assert_int_equal(pipe(to_parent), 0);
	assert_int_equal(pipe(to_child), 0);
	pid = fork();
	assert_true(pid >= 0);
	if (pid == 0) {
		struct ledger *ledger;
		struct ledger_entry entry = scene_entry(scene->meter, "A1", 7);

		close(to_child[1]);
		child_must(ledger_open(&ledger, scene->path, LEDGER_WRITE, NULL));
		child_must(ledger_begin(ledger, NULL));
		child_must(ledger_append(ledger, &entry, NULL));
		if (write(to_parent[1], &byte, 1) != 1 || read(to_child[0], &byte, 1) < 0)
			_exit(8);
		child_must(ledger_commit(ledger, NULL));
		ledger_free(ledger);
		_exit(0);
	}
	close(to_parent[1]);
	close(to_child[0]);
	assert_int_equal(read(to_parent[0], &byte, 1), 1);
	*held = to_parent[0];
	*release = to_child[1];
	return pid;
}

static void busy_ledger_names_who_holds_it(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 8);
	struct error busy = ERROR_INIT;
	int held, release, status;
	int64_t start;
	char name[64];
	pid_t pid;

	ledger_free(scene->ledger); /* not open across the fork */
	pid = holder_start(scene, &held, &release);
	snprintf(name, sizeof(name), "process %d (", (int)pid);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error));
	ledger_set_wait(scene->ledger, 150);
	start = now_ms();
	assert_int_equal(ledger_append(scene->ledger, &entry, &busy), STATUS_BUSY);
	assert_in_range(now_ms() - start, 140, 5000); /* D01: it did wait */
	if (!strstr(busy.text, name))
		fail_msg("not named: %s", busy.text);
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 0); /* reading is free */
	close(release);
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_int_equal(status, 0);
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_int_equal(entry.id, 2);
	close(held);
}

/* D01: a transaction that began as a reader's would fail at once, whatever the wait. */
static void another_process_writing_for_a_second_is_waited_for(void **state)
{
	struct scene *scene = *state;
	int held, release, status;
	pid_t pid, closer;
	int64_t start;

	ledger_free(scene->ledger);
	pid = holder_start(scene, &held, &release);
	closer = fork();
	assert_true(closer >= 0);
	if (closer == 0) {
		usleep(1000000);
		_exit(0); /* and the last descriptor to release closes */
	}
	close(release);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error));
	start = now_ms();
	assert_int_equal(scene_add(scene, "A1", 8), 2);
	assert_in_range(now_ms() - start, 300, 4900);
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_int_equal(status, 0);
	assert_int_equal(waitpid(closer, &status, 0), closer);
	close(held);
}

static void busy_by_another_handle_of_this_process(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 8);
	struct ledger *other;

	assert_done(ledger_open(&other, scene->path, LEDGER_WRITE, &error));
	ledger_set_wait(other, 0);
	assert_done(ledger_begin(scene->ledger, &error));
	assert_told(ledger_append(other, &entry, &error), STATUS_BUSY, "process");
	assert_told(ledger_begin(other, &error), STATUS_BUSY, "process");
	ledger_rollback(scene->ledger);
	assert_done(ledger_append(other, &entry, &error));
	ledger_free(other);
}

/* Opening a handle more and closing it must not open the locks of the first, as closing a descriptor would. */
static void closing_a_second_handle_keeps_the_locks_of_the_first(void **state)
{
	struct scene *scene = *state;
	struct ledger *reader;
	struct ledger_entry entry;
	int status;
	pid_t pid;

	entry = scene_entry(scene->meter, "A1", 1.38);
	assert_done(ledger_begin(scene->ledger, &error));
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_done(ledger_open(&reader, scene->path, LEDGER_READ, &error));
	ledger_free(reader);
	pid = fork();
	assert_true(pid >= 0);
	if (pid == 0) {
		struct ledger *other;

		/* on its own connection; the one that it has from its parent is not touched */
		child_must(ledger_open(&other, scene->path, LEDGER_WRITE, NULL));
		ledger_set_wait(other, 50);
		_exit(ledger_append(other, &entry, NULL) == STATUS_BUSY ? 0 : 1);
	}
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_int_equal(status, 0);
	assert_done(ledger_commit(scene->ledger, &error));
}

#define SCENE_TEST(function) cmocka_unit_test_setup_teardown(function, scene_setup, scene_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		SCENE_TEST(killed_at_any_moment_nothing_acknowledged_is_lost),
		SCENE_TEST(two_processes_writing_lose_nothing),
		SCENE_TEST(reading_while_another_process_writes),
		SCENE_TEST(side_file_stays_small_while_a_report_reads),
		SCENE_TEST(busy_ledger_names_who_holds_it),
		SCENE_TEST(another_process_writing_for_a_second_is_waited_for),
		SCENE_TEST(busy_by_another_handle_of_this_process),
		SCENE_TEST(closing_a_second_handle_keeps_the_locks_of_the_first),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
