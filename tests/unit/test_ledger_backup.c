/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole copies of a ledger, and putting one into its place. */
#include <signal.h>
#include <sys/wait.h>

#include "ledger_scene.h"

#include "ledger_amend.h"
#include "ledger_backup.h"

/* A path in the scene's folder. */
struct path {
	char text[340];
};

static struct path in_folder(const struct scene *scene, const char *name)
{
	struct path path;

	snprintf(path.text, sizeof(path.text), "%s/%s", scene->folder, name);
	return path;
}

static size_t count_at(const char *path)
{
	struct ledger *ledger;
	size_t count;

	assert_done(ledger_open(&ledger, path, LEDGER_READ, &error));
	count = scene_see(ledger, (struct ledger_query){ .raw_lines = true }).count;
	ledger_free(ledger);
	return count;
}

/* D06: what was stored last stands in the -wal file, which a copying program leaves behind. */
static void copy_holds_what_the_side_file_holds(void **state)
{
	struct scene *scene = *state;
	struct path plain = in_folder(scene, "plain.ledger"), copy = in_folder(scene, "copy.ledger");
	struct path part = in_folder(scene, "copy.ledger.part");

	for (int i = 0; i < 52; i++)
		scene_add(scene, "A1", 1.38);
	file_copy(scene->path, plain.text);
	assert_int_equal(count_at(plain.text), 0); /* the trap */
	assert_done(ledger_backup(scene->ledger, copy.text, &error));
	assert_int_equal(count_at(copy.text), 52);
	assert_int_equal(file_size(part.text), -1);
	assert_int_equal(scene_add(scene, "A1", 1.38), 53); /* goes on */
}

static void copy_can_be_gone_on_with(void **state)
{
	struct scene *scene = *state;
	struct path copy = in_folder(scene, "copy.ledger"), moved = in_folder(scene, "restored.ledger");
	struct amendment amendment = { .reading = 1, .action = AMENDMENT_EXCLUDE, .reason = slice_from("spilt") };

	scene_add(scene, "A1", 1.38);
	scene_add(scene, "A2", 1.41);
	assert_done(ledger_amend_append(scene->ledger, &amendment, &error));
	assert_done(ledger_backup(scene->ledger, copy.text, &error));
	assert_done(ledger_restore(copy.text, moved.text, &error));
	ledger_free(scene->ledger);
	assert_done(ledger_open(&scene->ledger, moved.text, LEDGER_WRITE, &error));
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ .to_id = 1 }).row.flags, READING_EXCLUDED);
	assert_int_equal(scene_meter(scene->ledger, "bench meter"), scene->meter); /* known */
	assert_int_equal(scene_add(scene, "A3", 1.42), 3);
	assert_int_equal(count_at(copy.text), 2); /* left as it is */
}

static void nothing_is_overwritten(void **state)
{
	static const char *const endings[] = { "", "-wal", "-shm", "-journal", ".part" };
	struct scene *scene = *state;
	struct path copy = in_folder(scene, "copy.ledger");

	scene_add(scene, "A1", 1.38);
	for (size_t i = 0; i < sizeof(endings) / sizeof(endings[0]); i++) {
		char name[64];
		struct path taken;

		snprintf(name, sizeof(name), "copy.ledger%s", endings[i]);
		taken = in_folder(scene, name);
		file_write(taken.text, "mine", 4);
		assert_told(ledger_backup(scene->ledger, copy.text, &error), STATUS_REFUSED, "is there already");
		assert_int_equal(file_size(taken.text), 4);
		unlink(taken.text);
	}
	assert_done(ledger_backup(scene->ledger, copy.text, &error));
	assert_told(ledger_backup(scene->ledger, copy.text, &error), STATUS_REFUSED, "is there already");
}

/* D07: SQLite would play an old -wal file into the ledger that was put beside it. */
static void restoring_beside_a_stale_side_file_is_refused(void **state)
{
	struct scene *scene = *state;
	struct path copy = in_folder(scene, "copy.ledger"), wal = in_folder(scene, "bench.ledger-wal");

	scene_add(scene, "A1", 1.38);
	assert_done(ledger_backup(scene->ledger, copy.text, &error));
	scene_add(scene, "A1", 1.39);
	assert_told(ledger_restore(copy.text, scene->path, &error), STATUS_REFUSED, "moved away");
	unlink(scene->path); /* the ledger alone, as one would */
	assert_told(ledger_restore(copy.text, scene->path, &error), STATUS_REFUSED, "bench.ledger-wal");
	assert_true(file_size(wal.text) > 0);
	assert_int_equal(file_size(scene->path), -1);
	ledger_free(scene->ledger);
	scene->ledger = NULL;
	unlink(wal.text);
	unlink(in_folder(scene, "bench.ledger-shm").text);
	assert_done(ledger_restore(copy.text, scene->path, &error));
	assert_int_equal(count_at(scene->path), 1);
}

static void copies_that_cannot_be(void **state)
{
	struct scene *scene = *state;
	struct path copy = in_folder(scene, "copy.ledger"), none = in_folder(scene, "none/copy.ledger");

	assert_told(ledger_backup(scene->ledger, none.text, &error), STATUS_IO, "cannot copy it");
	assert_told(ledger_restore(none.text, copy.text, &error), STATUS_IO, "No such file");
	assert_int_equal(file_size(copy.text), -1);
	assert_done(ledger_begin(scene->ledger, &error));
	assert_told(ledger_backup(scene->ledger, copy.text, &error), STATUS_INVALID, "group");
	ledger_rollback(scene->ledger);
	file_write(copy.text, "no ledger", 9);
	assert_told(ledger_restore(copy.text, none.text, &error), STATUS_REFUSED, "not a ledger");
}

static void relative_and_odd_names(void **state)
{
	struct scene *scene = *state;
	char here[512];

	scene_add(scene, "A1", 1.38);
	assert_non_null(getcwd(here, sizeof(here)));
	assert_int_equal(chdir(scene->folder), 0);
	assert_done(ledger_backup(scene->ledger, "file:copy?mode=memory", &error));
	assert_int_equal(count_at("file:copy?mode=memory"), 1);
	assert_int_equal(chdir(here), 0);
}

static void memory_ledger_can_be_kept(void **state)
{
	struct scene *scene = *state;
	struct path copy = in_folder(scene, "kept.ledger");
	struct ledger *memory;
	struct ledger_entry entry;

	assert_done(ledger_open(&memory, "pasted text", LEDGER_MEMORY, &error));
	entry = scene_entry(scene_meter(memory, "m"), "A1", 1.38);
	assert_done(ledger_append(memory, &entry, &error));
	assert_done(ledger_backup(memory, copy.text, &error));
	ledger_free(memory);
	assert_int_equal(count_at(copy.text), 1);
}

static void write_until_killed(const char *path)
{
	struct ledger *ledger;
	struct ledger_entry entry;

	if (ledger_open(&ledger, path, LEDGER_WRITE, NULL) != STATUS_OK)
		_exit(1);
	entry = scene_entry(1, "A1", 1.38);
	while (ledger_append(ledger, &entry, NULL) == STATUS_OK)
		continue;
	_exit(2);
}

/* D06: the copy is whole at some moment, though another process goes on writing. */
static void copying_while_another_process_writes(void **state)
{
	struct scene *scene = *state;
	size_t before = 0;
	int status;
	pid_t pid = fork();

	assert_true(pid >= 0);
	if (pid == 0)
		write_until_killed(scene->path);
	for (int i = 0; i < 5; i++) {
		char name[32];
		size_t count;

		snprintf(name, sizeof(name), "copy-%d.ledger", i);
		usleep(20000);
		assert_done(ledger_backup(scene->ledger, in_folder(scene, name).text, &error));
		count = count_at(in_folder(scene, name).text);
		assert_true(count >= before);
		before = count;
	}
	assert_int_equal(kill(pid, SIGKILL), 0);
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_true(WIFSIGNALED(status));
}

#define SCENE_TEST(function) cmocka_unit_test_setup_teardown(function, scene_setup, scene_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		SCENE_TEST(copy_holds_what_the_side_file_holds),
		SCENE_TEST(copy_can_be_gone_on_with),
		SCENE_TEST(nothing_is_overwritten),
		SCENE_TEST(restoring_beside_a_stale_side_file_is_refused),
		SCENE_TEST(copies_that_cannot_be),
		SCENE_TEST(relative_and_odd_names),
		SCENE_TEST(memory_ledger_can_be_kept),
		SCENE_TEST(copying_while_another_process_writes),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
