/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Opening a ledger: what is one, what is none, and what is left untouched. */
#include <sqlite3.h>
#include <sys/syscall.h>
#include <sys/vfs.h>

#include "ledger_scene.h"

#include "ledger_run.h"

/* Stands before the C library's: the file system of these tests can be one on a network. */
static long pretended_type;

int statfs(const char *path, struct statfs *about)
{
	long rc = syscall(SYS_statfs, path, about);

	if (rc == 0 && pretended_type)
		about->f_type = pretended_type;
	return (int)rc;
}

static void raw_sql(const char *path, const char *sql)
{
	sqlite3 *db;
	char *why = NULL;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	if (sqlite3_exec(db, sql, NULL, NULL, &why) != SQLITE_OK)
		fail_msg("%s: %s", sql, why);
	assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

static int64_t raw_number(const char *path, const char *sql)
{
	sqlite3 *db;
	sqlite3_stmt *statement;
	int64_t number;

	assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
	number = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	sqlite3_close(db);
	return number;
}

static void new_ledger_is_empty_and_says_what_it_is(void **state)
{
	struct scene *scene = *state;
	int64_t id = -1;
	size_t len;
	char *bytes;

	assert_done(ledger_last_id(scene->ledger, &id, &error));
	assert_int_equal(id, 0);
	assert_string_equal(ledger_path(scene->ledger), scene->path);
	bytes = file_bytes(scene->path, &len);
	assert_memory_equal(bytes, "SQLite format 3", 16);
	assert_memory_equal(bytes + 68, "brws", 4); /* docs/ledger.md; while it is open already */
	free(bytes);
	assert_int_equal(raw_number(scene->path, "SELECT integrity_check = 'ok' FROM pragma_integrity_check"), 1);
}

static void readings_are_there_when_it_is_opened_again(void **state)
{
	struct scene *scene = *state;

	assert_int_equal(scene_add(scene, "A1", 1.38), 1);
	ledger_free(scene->ledger);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error));
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 1);
	assert_int_equal(scene_add(scene, "A1", 1.39), 2);
}

static void closing_takes_the_side_files_in(void **state)
{
	struct scene *scene = *state;
	char wal[320];

	snprintf(wal, sizeof(wal), "%s-wal", scene->path);
	scene_add(scene, "A1", 1.38);
	assert_true(file_size(wal) > 0);
	ledger_free(scene->ledger);
	scene->ledger = NULL;
	assert_int_equal(file_size(wal), -1);
}

static void ledger_that_is_not_there(void **state)
{
	struct scene *scene = *state;
	struct ledger *ledger = scene->ledger;
	char path[320];

	snprintf(path, sizeof(path), "%s/none.ledger", scene->folder);
	assert_told(ledger_open(&ledger, path, LEDGER_READ, &error), STATUS_IO, "No such file");
	assert_null(ledger);
	assert_told(ledger_open(&ledger, path, LEDGER_WRITE, &error), STATUS_IO, "No such file");
	assert_int_equal(file_size(path), -1);
	snprintf(path, sizeof(path), "%s/none/bench.ledger", scene->folder);
	assert_told(ledger_open(&ledger, path, LEDGER_CREATE, &error), STATUS_IO, "No such file");
	assert_told(ledger_open(&ledger, "", LEDGER_CREATE, &error), STATUS_INVALID, "path");
	assert_told(ledger_open(&ledger, scene->folder, LEDGER_WRITE, &error), STATUS_REFUSED, "folder");
	ledger_free(NULL);
}

/* SQLite itself would make a temporary database of them, in memory or as an address. */
static void odd_names_are_names_of_files(void **state)
{
	static const char *const names[] = { ":memory:", "file:x?mode=memory", "a b%20.ledger", "-" };
	struct scene *scene = *state;
	char here[512];

	assert_non_null(getcwd(here, sizeof(here)));
	assert_int_equal(chdir(scene->folder), 0);
	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++) {
		struct ledger *ledger;

		assert_done(ledger_open(&ledger, names[i], LEDGER_CREATE, &error));
		scene_meter(ledger, "m");
		ledger_free(ledger);
		assert_true(file_size(names[i]) > 0);
	}
	assert_int_equal(chdir(here), 0);
}

struct file_case {
	const char *name;
	const char *bytes; /* of the file */
	size_t len;
	enum status status;
	const char *words;
};

static void file_is_refused(void **state)
{
	static const enum ledger_mode modes[] = { LEDGER_READ, LEDGER_WRITE, LEDGER_CREATE };
	const struct file_case *c = *state;
	struct scene scene;
	size_t len;
	char *bytes;

	scene_folder(&scene);
	for (size_t i = 0; i < sizeof(modes) / sizeof(modes[0]); i++) {
		if (c->len == 0 && modes[i] == LEDGER_CREATE)
			continue; /* an empty file is as good as none */
		file_write(scene.path, c->bytes, c->len);
		assert_told(ledger_open(&scene.ledger, scene.path, modes[i], &error), c->status, c->words);
		bytes = file_bytes(scene.path, &len);
		assert_int_equal(len, c->len);
		assert_memory_equal(bytes, c->bytes, len);
		free(bytes);
	}
	scene_close(&scene);
}

static void database_of_another_program(void **state)
{
	struct scene scene;

	(void)state;
	scene_folder(&scene);
	raw_sql(scene.path, "CREATE TABLE music (song TEXT)");
	assert_told(ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error), STATUS_REFUSED, "another program");
	raw_sql(scene.path, "PRAGMA application_id = 7; PRAGMA user_version = 99");
	assert_told(ledger_open(&scene.ledger, scene.path, LEDGER_READ, &error), STATUS_REFUSED, "another program");
	assert_int_equal(raw_number(scene.path, "SELECT count(*) FROM sqlite_schema"), 1);
	scene_close(&scene);
}

static void assert_untouched(const char *path, enum ledger_mode mode)
{
	size_t before, after;
	char *bytes = file_bytes(path, &before), *again;
	char wal[320];
	struct ledger *ledger;

	snprintf(wal, sizeof(wal), "%s-wal", path);
	assert_told(ledger_open(&ledger, path, mode, &error), STATUS_NEWER, "later version");
	assert_null(ledger);
	again = file_bytes(path, &after);
	assert_int_equal(before, after);
	assert_memory_equal(bytes, again, before);
	free(bytes);
	free(again);
}

static void newer_ledger_is_left_untouched(void **state)
{
	struct scene *scene = *state;
	char wal[320];

	scene_add(scene, "A1", 1.38);
	ledger_free(scene->ledger);
	scene->ledger = NULL;
	raw_sql(scene->path, "PRAGMA user_version = 1000");
	snprintf(wal, sizeof(wal), "%s-wal", scene->path);
	assert_untouched(scene->path, LEDGER_READ);
	assert_untouched(scene->path, LEDGER_WRITE);
	assert_untouched(scene->path, LEDGER_CREATE);
	assert_int_equal(file_size(wal), -1); /* not so much as a side file */
}

/* The version stands only in the -wal file, since its program was killed. */
static void newer_ledger_with_a_side_file_is_left_untouched(void **state)
{
	struct scene *scene = *state;
	char copy[320], wal[320], copy_wal[330];
	size_t before, after;
	char *bytes, *again;
	sqlite3 *db;

	scene_add(scene, "A1", 1.38);
	ledger_free(scene->ledger);
	scene->ledger = NULL;
	snprintf(copy, sizeof(copy), "%s/copy.ledger", scene->folder);
	snprintf(wal, sizeof(wal), "%s-wal", scene->path);
	snprintf(copy_wal, sizeof(copy_wal), "%s-wal", copy);
	assert_int_equal(sqlite3_open(scene->path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, "PRAGMA user_version = 1000", NULL, NULL, NULL), SQLITE_OK);
	file_copy(scene->path, copy);
	file_copy(wal, copy_wal);
	sqlite3_close(db);
	bytes = file_bytes(copy_wal, &before);
	assert_untouched(copy, LEDGER_WRITE);
	again = file_bytes(copy_wal, &after);
	assert_int_equal(before, after);
	assert_memory_equal(bytes, again, before);
	free(bytes);
	free(again);
}

/* Fills some pages, so that there is something to damage. */
static void fill(struct scene *scene)
{
	assert_done(ledger_begin(scene->ledger, &error));
	for (int i = 0; i < 2000; i++)
		scene_add(scene, "A1", 1.38);
	assert_done(ledger_commit(scene->ledger, &error));
	ledger_free(scene->ledger);
	scene->ledger = NULL;
}

static void truncated_ledger_is_refused(void **state)
{
	struct scene *scene = *state;
	long long size;

	fill(scene);
	size = file_size(scene->path);
	assert_int_equal(truncate(scene->path, size / 2 / 4096 * 4096), 0);
	assert_told(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error), STATUS_REFUSED, "damaged");
	assert_int_equal(file_size(scene->path), size / 2 / 4096 * 4096);
	assert_told(ledger_open(&scene->ledger, scene->path, LEDGER_READ, &error), STATUS_REFUSED, "damaged");
	assert_int_equal(truncate(scene->path, 10), 0);
	assert_told(ledger_open(&scene->ledger, scene->path, LEDGER_READ, &error), STATUS_REFUSED, "not a ledger");
}

/* Every page but the first with its beginning overwritten, in turn. */
static void damaged_page_is_found(void **state)
{
	struct scene *scene = *state;
	size_t len;
	char *bytes;

	fill(scene);
	bytes = file_bytes(scene->path, &len);
	assert_true(len > 20 * 4096);
	for (size_t page = 1; page < len / 4096; page += 3) {
		char kept[64];
		struct error error = ERROR_INIT;

		memcpy(kept, bytes + page * 4096, sizeof(kept));
		memset(bytes + page * 4096, 0x5a, sizeof(kept));
		file_write(scene->path, bytes, len);
		assert_int_equal(ledger_open(&scene->ledger, scene->path, LEDGER_READ, &error), STATUS_REFUSED);
		assert_non_null(strstr(error.text, "damaged"));
		assert_null(strchr(error.text, '\n'));
		memcpy(bytes + page * 4096, kept, sizeof(kept));
	}
	file_write(scene->path, bytes, len);
	free(bytes);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_READ, &error));
}

/* Large files are not read whole at opening: the newest rows are looked at, and all where it is asked for. */
static void depths_of_checking(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);
	char back[400];

	assert_done(ledger_run_open(scene->ledger, slice_from("march"), slice_from(""), 1, &entry.run, &error));
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_done(ledger_check(scene->ledger, LEDGER_CHECK_NEWEST, &error));
	assert_done(ledger_check(scene->ledger, LEDGER_CHECK_PAGES, &error));
	assert_done(ledger_check(scene->ledger, LEDGER_CHECK_ALL, &error));
	/* an index that lacks the newest reading: taken out of the list of tables, and put back after it */
	snprintf(
		back, sizeof(back),
		"PRAGMA writable_schema = ON; INSERT INTO sqlite_schema (type, name, tbl_name, rootpage, sql) VALUES ('index', "
		"'readings_by_run', 'readings', %d, 'CREATE INDEX readings_by_run ON readings (run) WHERE run IS NOT NULL'); "
		"PRAGMA schema_version = 1002",
		(int)raw_number(scene->path, "SELECT rootpage FROM sqlite_schema WHERE name = 'readings_by_run'"));
	raw_sql(scene->path, "PRAGMA writable_schema = ON; DELETE FROM sqlite_schema WHERE name = 'readings_by_run'; "
	                     "PRAGMA schema_version = 1001");
	assert_done(ledger_append(scene->ledger, &entry, &error));
	raw_sql(scene->path, back);
	assert_told(ledger_check(scene->ledger, LEDGER_CHECK_NEWEST, &error), STATUS_REFUSED, "damaged");
	assert_told(ledger_check(scene->ledger, LEDGER_CHECK_ALL, &error), STATUS_REFUSED, "damaged");
}

/* Added by a program that took the trigger out for the time being. */
static void step_of_the_clock_that_is_not_noted_is_found(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);
	char sql[400];

	assert_done(ledger_append(scene->ledger, &entry, &error));
	snprintf(
		sql, sizeof(sql),
		"DROP TRIGGER readings_turn; INSERT INTO readings (received_us, session, meter, role, flags, unit, decimals, "
		"label, raw) VALUES (1, 1, %d, 3, 0, 0, 0, '', x'')",
		(int)scene->meter);
	raw_sql(scene->path, sql);
	assert_done(ledger_check(scene->ledger, LEDGER_CHECK_PAGES, &error));
	assert_told(ledger_check(scene->ledger, LEDGER_CHECK_ALL, &error), STATUS_REFUSED, "clock");
}

static void row_that_refers_to_nothing_is_found(void **state)
{
	struct scene *scene = *state;

	scene_add(scene, "A1", 1.38);
	raw_sql(scene->path,
	        "PRAGMA foreign_keys = OFF; INSERT INTO amendments (reading, at_us, action, reason, author) "
	        "VALUES (99, 1, 'exclude', 'spilt', '')");
	assert_done(ledger_check(scene->ledger, LEDGER_CHECK_PAGES, &error));
	assert_told(ledger_check(scene->ledger, LEDGER_CHECK_ALL, &error), STATUS_REFUSED, "not there");
}

/* A new ledger beside the -wal file of one that is gone would make SQLite drop that file. */
static void stale_side_file_keeps_a_new_ledger_away(void **state)
{
	struct scene scene;
	char wal[320];

	(void)state;
	scene_folder(&scene);
	snprintf(wal, sizeof(wal), "%s-wal", scene.path);
	file_write(wal, "newest readings", 15);
	assert_told(ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error), STATUS_REFUSED, "-wal");
	assert_int_equal(file_size(wal), 15);
	assert_int_equal(file_size(scene.path), -1);
	scene_close(&scene);
}

struct network_case {
	const char *name;
	long type; /* statfs(2) */
	const char *words;
};

/* D02: write-ahead logging needs memory shared on one machine. */
static void network_folder_is_read_but_not_written(void **state)
{
	const struct network_case *c = *state;
	struct scene scene;

	scene_open(&scene);
	ledger_free(scene.ledger);
	pretended_type = c->type;
	assert_told(ledger_open(&scene.ledger, scene.path, LEDGER_WRITE, &error), STATUS_IO, c->words);
	unlink(scene.path);
	assert_told(ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error), STATUS_IO, c->words);
	assert_int_equal(file_size(scene.path), -1);
	pretended_type = 0;
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error));
	ledger_free(scene.ledger);
	pretended_type = c->type;
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_READ, &error));
	pretended_type = 0;
	scene_close(&scene);
}

/* A file system of the FUSE kind that is not on a network by the name it is mounted under: a disk of another system. */
static void local_fuse_folder_is_written(void **state)
{
	struct scene scene;

	(void)state;
	pretended_type = 0x65735546;
	scene_open(&scene);
	scene_add(&scene, "A1", 1.38);
	pretended_type = 0;
	scene_close(&scene);
}

static void memory_ledger_works_and_leaves_nothing(void **state)
{
	struct scene scene;

	(void)state;
	scene_folder(&scene);
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_MEMORY, &error));
	scene.meter = scene_meter(scene.ledger, "pasted");
	assert_int_equal(scene_add(&scene, "A1", 1.38), 1);
	assert_int_equal(scene_see(scene.ledger, (struct ledger_query){ 0 }).count, 1);
	assert_int_equal(file_size(scene.path), -1);
	scene_close(&scene);
}

static void reading_handle_adds_nothing(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1.38);
	struct ledger *reader;

	assert_done(ledger_open(&reader, scene->path, LEDGER_READ, &error));
	assert_told(ledger_append(reader, &entry, &error), STATUS_INVALID, "reading only");
	assert_told(ledger_begin(reader, &error), STATUS_INVALID, "reading only");
	ledger_free(reader);
}

/* Its maker was stopped between making the file and filling it. */
static void half_made_ledger_is_completed(void **state)
{
	struct scene scene;

	(void)state;
	scene_folder(&scene);
	raw_sql(scene.path, "PRAGMA journal_mode = WAL; VACUUM");
	assert_told(ledger_open(&scene.ledger, scene.path, LEDGER_READ, &error), STATUS_REFUSED, "ledger");
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error));
	scene.meter = scene_meter(scene.ledger, "m");
	assert_int_equal(scene_add(&scene, "A1", 1.38), 1);
	scene_close(&scene);
}

static void folder_that_takes_no_files(void **state)
{
	struct ledger *ledger;

	(void)state;
	assert_told(ledger_open(&ledger, "/proc/self/bench.ledger", LEDGER_CREATE, &error), STATUS_IO, "cannot open");
	assert_null(ledger);
}

static void errors_are_optional(void **state)
{
	struct ledger *ledger;

	(void)state;
	assert_int_equal(ledger_open(&ledger, "/nowhere/at/all", LEDGER_READ, NULL), STATUS_IO);
}

#define TEST(function)       cmocka_unit_test(function)
#define SCENE_TEST(function) cmocka_unit_test_setup_teardown(function, scene_setup, scene_teardown)

int main(void)
{
	static struct file_case files[] = {
		{ "text file is refused", "brew,dose\nA1,15\n", 16, STATUS_REFUSED, "is not a ledger" },
		{ "empty file is refused", "", 0, STATUS_REFUSED, "empty" },
		{ "one byte is refused", "S", 1, STATUS_REFUSED, "is not a ledger" },
	};
	static struct network_case networks[] = {
		{ "D02 NFS", 0x6969, "NFS" },
		{ "D02 SMB", (long)0xFF534D42, "CIFS" },
		{ "D02 9P", 0x01021997, "9P" },
	};
	const struct CMUnitTest tests[] = {
		SCENE_TEST(new_ledger_is_empty_and_says_what_it_is),
		SCENE_TEST(readings_are_there_when_it_is_opened_again),
		SCENE_TEST(closing_takes_the_side_files_in),
		SCENE_TEST(ledger_that_is_not_there),
		SCENE_TEST(odd_names_are_names_of_files),
		{ files[0].name, file_is_refused, NULL, NULL, &files[0] },
		{ files[1].name, file_is_refused, NULL, NULL, &files[1] },
		{ files[2].name, file_is_refused, NULL, NULL, &files[2] },
		TEST(database_of_another_program),
		SCENE_TEST(newer_ledger_is_left_untouched),
		SCENE_TEST(newer_ledger_with_a_side_file_is_left_untouched),
		SCENE_TEST(truncated_ledger_is_refused),
		SCENE_TEST(damaged_page_is_found),
		SCENE_TEST(depths_of_checking),
		SCENE_TEST(step_of_the_clock_that_is_not_noted_is_found),
		SCENE_TEST(row_that_refers_to_nothing_is_found),
		TEST(stale_side_file_keeps_a_new_ledger_away),
		{ networks[0].name, network_folder_is_read_but_not_written, NULL, NULL, &networks[0] },
		{ networks[1].name, network_folder_is_read_but_not_written, NULL, NULL, &networks[1] },
		{ networks[2].name, network_folder_is_read_but_not_written, NULL, NULL, &networks[2] },
		TEST(local_fuse_folder_is_written),
		TEST(memory_ledger_works_and_leaves_nothing),
		SCENE_TEST(reading_handle_adds_nothing),
		TEST(half_made_ledger_is_completed),
		TEST(folder_that_takes_no_files),
		TEST(errors_are_optional),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
