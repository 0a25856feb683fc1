/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A ledger whose disk fails: full, unreadable, files removed while it is open, memory used up. A layer of our own between
 * SQLite and the system makes the n-th write, wait or allocation fail, for every n until none does.
 */
#include <sched.h>
#include <sqlite3.h>
#include <sys/mount.h>

#include "ledger_scene.h"

#include "ledger_amend.h"

/* -- the layer ------------------------------------------------------------------- */

static struct {
	sqlite3_vfs vfs;
	sqlite3_vfs *real;
	long to_go;    /* operations until one fails; 0: none does */
	bool for_good; /* that one and all after it */
	int code;      /* what it fails with; 0: what suits the operation */
	bool failed;   /* one did */
	long unsaved;  /* writes to the -wal file since the last wait for it */
	long waits;    /* for the -wal file */
} layer;

struct layer_file {
	sqlite3_file base;
	bool wal;
	/* the real file stands behind it */
};

static sqlite3_file *real_of(sqlite3_file *file)
{
	return (sqlite3_file *)(void *)((struct layer_file *)(void *)file + 1);
}

static int fault(int code)
{
	if (layer.to_go == 0 || --layer.to_go > 0)
		return SQLITE_OK;
	if (layer.for_good)
		layer.to_go = 1;
	layer.failed = true;
	return layer.code ? layer.code : code;
}

static int layer_close(sqlite3_file *file)
{
	return real_of(file)->pMethods->xClose(real_of(file));
}

static int layer_read(sqlite3_file *file, void *bytes, int len, sqlite3_int64 at)
{
	return real_of(file)->pMethods->xRead(real_of(file), bytes, len, at);
}

static int layer_write(sqlite3_file *file, const void *bytes, int len, sqlite3_int64 at)
{
	int rc = fault(SQLITE_IOERR_WRITE);

	if (rc != SQLITE_OK && len > 1) /* a part of it gets there */
		real_of(file)->pMethods->xWrite(real_of(file), bytes, len / 2, at);
	if (rc != SQLITE_OK)
		return rc;
	layer.unsaved += ((struct layer_file *)(void *)file)->wal;
	return real_of(file)->pMethods->xWrite(real_of(file), bytes, len, at);
}

static int layer_truncate(sqlite3_file *file, sqlite3_int64 size)
{
	int rc = fault(SQLITE_IOERR_TRUNCATE);

	return rc != SQLITE_OK ? rc : real_of(file)->pMethods->xTruncate(real_of(file), size);
}

static int layer_sync(sqlite3_file *file, int flags)
{
	int rc = fault(SQLITE_IOERR_FSYNC);

	if (rc != SQLITE_OK)
		return rc;
	if (((struct layer_file *)(void *)file)->wal) {
		layer.unsaved = 0;
		layer.waits++;
	}
	return real_of(file)->pMethods->xSync(real_of(file), flags);
}

static int layer_size(sqlite3_file *file, sqlite3_int64 *size)
{
	return real_of(file)->pMethods->xFileSize(real_of(file), size);
}

static int layer_lock(sqlite3_file *file, int level)
{
	return real_of(file)->pMethods->xLock(real_of(file), level);
}

static int layer_unlock(sqlite3_file *file, int level)
{
	return real_of(file)->pMethods->xUnlock(real_of(file), level);
}

static int layer_reserved(sqlite3_file *file, int *out)
{
	return real_of(file)->pMethods->xCheckReservedLock(real_of(file), out);
}

static int layer_control(sqlite3_file *file, int op, void *arg)
{
	return real_of(file)->pMethods->xFileControl(real_of(file), op, arg);
}

static int layer_sector(sqlite3_file *file)
{
	return real_of(file)->pMethods->xSectorSize(real_of(file));
}

static int layer_traits(sqlite3_file *file)
{
	return real_of(file)->pMethods->xDeviceCharacteristics(real_of(file));
}

static int layer_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **out)
{
	int rc = fault(SQLITE_IOERR_SHMMAP);

	return rc != SQLITE_OK ? rc : real_of(file)->pMethods->xShmMap(real_of(file), page, size, extend, out);
}

static int layer_shm_lock(sqlite3_file *file, int offset, int n, int flags)
{
	return real_of(file)->pMethods->xShmLock(real_of(file), offset, n, flags);
}

static void layer_shm_barrier(sqlite3_file *file)
{
	real_of(file)->pMethods->xShmBarrier(real_of(file));
}

static int layer_shm_unmap(sqlite3_file *file, int remove)
{
	return real_of(file)->pMethods->xShmUnmap(real_of(file), remove);
}

static const sqlite3_io_methods layer_methods = {
	.iVersion = 2,
	.xClose = layer_close,
	.xRead = layer_read,
	.xWrite = layer_write,
	.xTruncate = layer_truncate,
	.xSync = layer_sync,
	.xFileSize = layer_size,
	.xLock = layer_lock,
	.xUnlock = layer_unlock,
	.xCheckReservedLock = layer_reserved,
	.xFileControl = layer_control,
	.xSectorSize = layer_sector,
	.xDeviceCharacteristics = layer_traits,
	.xShmMap = layer_shm_map,
	.xShmLock = layer_shm_lock,
	.xShmBarrier = layer_shm_barrier,
	.xShmUnmap = layer_shm_unmap,
};

static int layer_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out_flags)
{
	int rc = fault(SQLITE_CANTOPEN);

	(void)vfs;
	file->pMethods = NULL;
	((struct layer_file *)(void *)file)->wal = flags & SQLITE_OPEN_WAL;
	if (rc == SQLITE_OK)
		rc = layer.real->xOpen(layer.real, name, real_of(file), flags, out_flags);
	if (rc == SQLITE_OK)
		file->pMethods = &layer_methods;
	return rc;
}

/* -- allocations ----------------------------------------------------------------- */

static sqlite3_mem_methods real_memory;
static struct {
	long to_go;
	bool failed;
} memory;

static bool memory_out(void)
{
	if (memory.to_go == 0 || --memory.to_go > 0)
		return false;
	memory.failed = true;
	return true;
}

static void *failing_malloc(int size)
{
	return memory_out() ? NULL : real_memory.xMalloc(size);
}

static void *failing_realloc(void *old, int size)
{
	return memory_out() ? NULL : real_memory.xRealloc(old, size);
}

static int layer_setup(void **state)
{
	sqlite3_mem_methods failing;

	(void)state;
	/* what it waits for is counted, and need not take the time of a real disk */
	if (access("/dev/shm", W_OK) == 0 && setenv("TMPDIR", "/dev/shm", 1) != 0)
		return -1;
	if (sqlite3_config(SQLITE_CONFIG_GETMALLOC, &real_memory) != SQLITE_OK)
		return -1;
	failing = real_memory;
	failing.xMalloc = failing_malloc;
	failing.xRealloc = failing_realloc;
	if (sqlite3_config(SQLITE_CONFIG_MALLOC, &failing) != SQLITE_OK || sqlite3_initialize() != SQLITE_OK)
		return -1;
	layer.real = sqlite3_vfs_find(NULL);
	layer.vfs = *layer.real;
	layer.vfs.zName = "failing";
	layer.vfs.szOsFile = layer.real->szOsFile + (int)sizeof(struct layer_file);
	layer.vfs.xOpen = layer_open;
	return sqlite3_vfs_register(&layer.vfs, 1) == SQLITE_OK ? 0 : -1;
}

static void faults_from(long n, bool for_good, int code)
{
	layer.to_go = n;
	layer.for_good = for_good;
	layer.code = code;
	layer.failed = false;
}

/* -- the work -------------------------------------------------------------------- */

enum { WORK_GROUPS = 5 };

/* Adds 1, 1, 3, 1, 1 readings of ascending value; each group again and again until it is stored. */
static enum status work(struct ledger *ledger, int64_t meter, struct error *error)
{
	static const int sizes[WORK_GROUPS] = { 1, 1, 3, 1, 1 };
	double value = 1;

	for (int group = 0; group < WORK_GROUPS; group++) {
		enum status status = STATUS_BUSY;

		for (int attempt = 0; attempt < 3 && status != STATUS_OK; attempt++) {
			status = ledger_begin(ledger, error);
			if (status != STATUS_OK)
				continue;
			for (int i = 0; i < sizes[group]; i++) {
				struct ledger_entry entry = scene_entry(meter, "A1", value + i);

				/* whatever it says: it is the commit that counts */
				status = ledger_append(ledger, &entry, error);
			}
			status = ledger_commit(ledger, error);
		}
		if (status != STATUS_OK)
			return status;
		value += sizes[group];
	}
	return STATUS_OK;
}

static void assert_work_is_there_once(struct ledger *ledger)
{
	struct seen seen = scene_see(ledger, (struct ledger_query){ .raw_lines = true });

	assert_int_equal(seen.count, 7);
	assert_near(seen.sum, 28.0, 0.0); /* 1 + 2 + ... + 7 */
	assert_int_equal(seen.row.entry.id, 7);
	assert_done(ledger_check(ledger, LEDGER_CHECK_ALL, &error));
}

struct fault_case {
	const char *name;
	int code; /* of SQLite; 0: what suits the operation */
	const char *words;
};

/* One operation of the disk fails: what was tried again is stored once, and nothing twice. */
static void one_operation_fails(void **state)
{
	const struct fault_case *c = *state;
	bool failed = true;
	long n;

	for (n = 1; failed; n++) {
		struct scene scene;

		scene_open(&scene);
		faults_from(n, false, c->code);
		assert_done(work(scene.ledger, scene.meter, &error));
		failed = layer.failed;
		layer.to_go = 0;
		assert_work_is_there_once(scene.ledger);
		ledger_free(scene.ledger);
		assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_WRITE, &error));
		assert_work_is_there_once(scene.ledger);
		scene_close(&scene);
	}
	assert_true(n > 5 * 2); /* each group wrote and waited at least */
}

/* D04: all fail from one on: it says so and why, keeps what was stored, and goes on when the disk does. */
static void all_operations_fail_until_they_do_not(void **state)
{
	const struct fault_case *c = *state;
	bool failed = true;

	for (long n = 1; failed; n++) {
		struct error error = ERROR_INIT;
		struct ledger_entry entry;
		struct scene scene;
		enum status status;
		struct seen seen;
		size_t kept;

		scene_open(&scene);
		faults_from(n, true, c->code);
		status = work(scene.ledger, scene.meter, &error);
		failed = layer.failed;
		if (failed && (status != STATUS_IO || !strstr(error.text, c->words)))
			fail_msg("operation %ld: %d %s", n, status, error.text);
		layer.to_go = 0;
		kept = scene_see(scene.ledger, (struct ledger_query){ 0 }).count;
		entry = scene_entry(scene.meter, "A1", 100);
		if (ledger_append(scene.ledger, &entry, &error) != STATUS_OK)
			fail_msg("operation %ld, afterwards: %s", n, error.text);
		assert_int_equal(entry.id, kept + 1);
		ledger_free(scene.ledger);
		if (ledger_open(&scene.ledger, scene.path, LEDGER_WRITE, &error) != STATUS_OK)
			fail_msg("operation %ld, reopened: %s", n, error.text);
		seen = scene_see(scene.ledger, (struct ledger_query){ 0 });
		assert_int_equal(seen.count, kept + 1);
		assert_near(seen.row.entry.shown.value, 100, 0.0);
		scene_close(&scene);
	}
}

/* Making a ledger on a disk that fails makes none, or one that the next attempt completes. */
static void making_a_ledger_fails(void **state)
{
	bool failed = true;

	(void)state;
	for (long n = 1; failed; n++) {
		struct error error = ERROR_INIT;
		struct scene scene;
		enum status status;

		scene_folder(&scene);
		faults_from(n, true, 0);
		status = ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error);
		failed = layer.failed;
		layer.to_go = 0;
		assert_int_equal(status == STATUS_OK, scene.ledger != NULL);
		if (status == STATUS_OK) {
			ledger_free(scene.ledger);
		} else if (status != STATUS_IO) {
			fail_msg("operation %ld: %d %s", n, status, error.text);
		}
		if (ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error) != STATUS_OK)
			fail_msg("operation %ld, once more: %s", n, error.text);
		scene.meter = scene_meter(scene.ledger, "m");
		assert_int_equal(scene_add(&scene, "A1", 1), 1);
		scene_close(&scene);
	}
}

/* Opens, adds, amends and reads. */
static enum status all_kinds_of_work(const struct scene *scene)
{
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 2);
	struct amendment amendment = { .action = AMENDMENT_EXCLUDE, .reason = slice_from("spilt") };
	struct seen seen = { .count = 0 };
	struct ledger *ledger;
	enum status status;

	status = ledger_open(&ledger, scene->path, LEDGER_WRITE, NULL);
	if (status == STATUS_OK)
		status = ledger_append(ledger, &entry, NULL);
	amendment.reading = entry.id;
	if (status == STATUS_OK)
		status = ledger_amend_append(ledger, &amendment, NULL);
	if (status == STATUS_OK)
		status = ledger_each(ledger, &(struct ledger_query){ 0 }, see, &seen, NULL);
	ledger_free(ledger);
	return status;
}

/* The n-th allocation of SQLite fails, for every n up to 10 and fewer of the thousands behind them. */
static void memory_runs_out(void **state)
{
	struct scene *scene = *state;
	int failures = 0;

	scene_add(scene, "A1", 1);
	ledger_free(scene->ledger);
	scene->ledger = NULL;
	memory.failed = true;
	for (long n = 1; memory.failed; n += 1 + n / 10) {
		enum status status;

		memory.failed = false;
		memory.to_go = n;
		status = all_kinds_of_work(scene);
		memory.to_go = 0;
		if (status != STATUS_OK && status != STATUS_MEMORY)
			fail_msg("allocation %ld: status %d", n, status);
		failures += status == STATUS_MEMORY;
	}
	assert_in_range(failures, 30, 1000);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error)); /* which checks all of it */
	assert_near(scene_see(scene->ledger, (struct ledger_query){ .to_id = 1 }).sum, 1.0, 0.0);
}

/* D03: a commit is back only after the last that it wrote is on the disk; one wait a group. */
static void commit_waits_for_the_disk(void **state)
{
	struct scene *scene = *state;

	for (int i = 0; i < 20; i++) {
		layer.unsaved = layer.waits = 0;
		scene_add(scene, "A1", 1);
		assert_int_equal(layer.unsaved, 0);
		assert_int_equal(layer.waits, i == 0 ? layer.waits : 1);
		assert_true(layer.waits >= 1);
	}
	layer.waits = 0;
	assert_done(ledger_begin(scene->ledger, &error));
	for (int i = 0; i < 50; i++)
		scene_add(scene, "A1", 1);
	assert_int_equal(layer.waits, 0);
	assert_done(ledger_commit(scene->ledger, &error));
	assert_int_equal(layer.waits, 1);
	assert_int_equal(layer.unsaved, 0);
}

/* A group that failed in its middle says so at every later call, and leaves nothing. */
static void lost_group_stays_lost_until_its_commit(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1);
	static char line[4 << 20];
	struct ledger_entry large = entry;

	large.raw = (struct slice){ line, sizeof(line) }; /* more than SQLite keeps before it writes */
	assert_done(ledger_begin(scene->ledger, &error));
	assert_done(ledger_append(scene->ledger, &entry, &error));
	faults_from(1, true, SQLITE_FULL);
	assert_told(ledger_append(scene->ledger, &large, &error), STATUS_IO, "no space left");
	layer.to_go = 0;
	assert_told(ledger_append(scene->ledger, &entry, &error), STATUS_IO, "no space left");
	assert_told(ledger_begin(scene->ledger, &error), STATUS_INVALID, "already");
	assert_told(ledger_commit(scene->ledger, &error), STATUS_IO, "no space left");
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).count, 0);
	assert_int_equal(scene_add(scene, "A1", 1), 1);
}

/* -- files removed under an open ledger ------------------------------------------ */

static void side(const struct scene *scene, const char *ending, char *out, size_t size)
{
	snprintf(out, size, "%s%s", scene->path, ending);
}

/* D11: a tool for backups removed it. Going on with the old one, this process and others would not see each other. */
static void removed_shared_memory_file_is_made_again(void **state)
{
	struct scene *scene = *state;
	struct ledger *other;
	char shm[340];

	side(scene, "-shm", shm, sizeof(shm));
	scene_add(scene, "A1", 1);
	scene_add(scene, "A1", 2);
	assert_int_equal(unlink(shm), 0);
	assert_int_equal(scene_add(scene, "A1", 3), 3);
	assert_true(file_size(shm) > 0);
	assert_done(ledger_open(&other, scene->path, LEDGER_READ, &error));
	assert_int_equal(scene_see(other, (struct ledger_query){ 0 }).count, 3);
	ledger_free(other);
	assert_done(ledger_check(scene->ledger, LEDGER_CHECK_ALL, &error));
}

static void removed_side_file_loses_nothing(void **state)
{
	struct scene *scene = *state;
	char wal[340];

	side(scene, "-wal", wal, sizeof(wal));
	scene_add(scene, "A1", 1);
	scene_add(scene, "A1", 2);
	assert_int_equal(unlink(wal), 0);
	assert_int_equal(scene_add(scene, "A1", 3), 3);
	ledger_free(scene->ledger);
	assert_done(ledger_open(&scene->ledger, scene->path, LEDGER_WRITE, &error));
	assert_near(scene_see(scene->ledger, (struct ledger_query){ 0 }).sum, 6.0, 0.0);
}

/* Loudly, each time, and without making another in its place. */
static void removed_or_replaced_ledger_is_said(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1);
	char moved[340];

	side(scene, ".moved", moved, sizeof(moved));
	assert_int_equal(rename(scene->path, moved), 0);
	assert_told(ledger_append(scene->ledger, &entry, &error), STATUS_IO, "moved away, removed or replaced");
	assert_told(ledger_append(scene->ledger, &entry, &error), STATUS_IO, "moved away, removed or replaced");
	assert_int_equal(file_size(scene->path), -1);
	file_copy(moved, scene->path);
	assert_told(ledger_append(scene->ledger, &entry, &error), STATUS_IO, "moved away, removed or replaced");
	unlink(scene->path);
	assert_int_equal(rename(moved, scene->path), 0); /* back again */
	assert_done(ledger_append(scene->ledger, &entry, &error));
}

/* Nothing in the folder but what it should not be: no handle is left, and no crash. */
static void handle_that_cannot_be_opened_again_says_so(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry entry = scene_entry(scene->meter, "A1", 1);
	char shm[340];
	int64_t id;

	side(scene, "-shm", shm, sizeof(shm));
	assert_int_equal(unlink(shm), 0);
	faults_from(1, true, 0);
	assert_status(ledger_append(scene->ledger, &entry, &error), STATUS_IO);
	assert_status(ledger_append(scene->ledger, &entry, &error), STATUS_IO);
	assert_told(ledger_last_id(scene->ledger, &id, &error), STATUS_IO, "side files");
	ledger_set_wait(scene->ledger, 100);
	ledger_rollback(scene->ledger);
	layer.to_go = 0;
	assert_done(ledger_append(scene->ledger, &entry, &error));
	assert_int_equal(entry.id, 1);
}

/* -- small and read-only disks --------------------------------------------------- */

/* Mounts a memory file system of size over the scene's folder, seen by this process alone; false: not allowed to. */
static bool mount_small(struct scene *scene, const char *size)
{
	static bool apart;

	scene_folder(scene);
	if (!apart && (unshare(CLONE_NEWNS) != 0 || mount("none", "/", "none", MS_REC | MS_PRIVATE, NULL) != 0))
		return false;
	apart = true;
	return mount("small", scene->folder, "tmpfs", 0, size) == 0;
}

static void scene_unmount(struct scene *scene)
{
	ledger_free(scene->ledger);
	assert_int_equal(umount2(scene->folder, MNT_DETACH), 0);
	rmdir(scene->folder);
}

/* D04: the disk is full for a while. */
static void full_disk_is_said_and_got_over(void **state)
{
	struct ledger_entry entry;
	struct scene scene;
	char ballast[340];
	int64_t stored = 0;
	static char zeros[64 * 1024];

	(void)state;
	if (!mount_small(&scene, "size=512k")) {
		rmdir(scene.folder);
		skip();
	}
	side(&scene, ".ballast", ballast, sizeof(ballast));
	file_write(ballast, zeros, sizeof(zeros));
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error));
	scene.meter = scene_meter(scene.ledger, "m");
	for (;;) {
		struct error error = ERROR_INIT;
		enum status status;

		entry = scene_entry(scene.meter, "A1", (double)stored + 1);
		status = ledger_append(scene.ledger, &entry, &error);
		if (status != STATUS_OK) {
			assert_int_equal(status, STATUS_IO);
			assert_non_null(strstr(error.text, "no space left on the disk"));
			break;
		}
		assert_int_equal(entry.id, ++stored);
	}
	assert_true(stored >= 10);
	assert_status(ledger_append(scene.ledger, &entry, &error), STATUS_IO);
	assert_int_equal(scene_see(scene.ledger, (struct ledger_query){ 0 }).count, stored); /* can be read meanwhile */
	unlink(ballast);
	assert_done(ledger_append(scene.ledger, &entry, &error));
	assert_int_equal(entry.id, stored + 1);
	assert_done(ledger_check(scene.ledger, LEDGER_CHECK_ALL, &error));
	ledger_free(scene.ledger);
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_WRITE, &error));
	assert_int_equal(scene_see(scene.ledger, (struct ledger_query){ 0 }).count, stored + 1);
	scene_unmount(&scene);
}

static void no_room_for_a_new_ledger(void **state)
{
	struct scene scene;

	(void)state;
	if (!mount_small(&scene, "size=24k")) {
		rmdir(scene.folder);
		skip();
	}
	assert_status(ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error), STATUS_IO);
	assert_null(scene.ledger);
	scene_unmount(&scene);
}

static void remount(const struct scene *scene, bool read_only)
{
	assert_int_equal(mount("small", scene->folder, "tmpfs", MS_REMOUNT | (read_only ? MS_RDONLY : 0), ""), 0);
}

/* A stick that is write-protected, a mounted image. */
static void ledger_on_a_read_only_disk_is_read(void **state)
{
	struct scene scene;
	struct ledger *reader;

	(void)state;
	if (!mount_small(&scene, "size=4m")) {
		rmdir(scene.folder);
		skip();
	}
	snprintf(scene.path, sizeof(scene.path), "%s/50%% #1?.ledger",
	         scene.folder); /* SQLite is told of it by an address */
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error));
	scene.meter = scene_meter(scene.ledger, "m");
	scene_add(&scene, "A1", 1);
	ledger_free(scene.ledger);
	scene.ledger = NULL;
	remount(&scene, true);
	assert_done(ledger_open(&reader, scene.path, LEDGER_READ, &error));
	assert_int_equal(scene_see(reader, (struct ledger_query){ 0 }).count, 1);
	ledger_free(reader);
	assert_told(ledger_open(&reader, scene.path, LEDGER_WRITE, &error), STATUS_IO, "cannot be written to");
	remount(&scene, false);
	scene_unmount(&scene);
}

/* Without its -wal file the newest readings would be missing, and nobody told. */
static void read_only_disk_with_a_side_file_is_said(void **state)
{
	struct scene scene;
	struct ledger *reader;
	char copy[340], wal[340], copy_wal[350];

	(void)state;
	if (!mount_small(&scene, "size=4m")) {
		rmdir(scene.folder);
		skip();
	}
	assert_done(ledger_open(&scene.ledger, scene.path, LEDGER_CREATE, &error));
	scene.meter = scene_meter(scene.ledger, "m");
	scene_add(&scene, "A1", 1);
	side(&scene, ".copy", copy, sizeof(copy));
	side(&scene, "-wal", wal, sizeof(wal));
	snprintf(copy_wal, sizeof(copy_wal), "%s-wal", copy);
	file_copy(scene.path, copy); /* as a program that was killed leaves it */
	file_copy(wal, copy_wal);
	ledger_free(scene.ledger);
	scene.ledger = NULL;
	remount(&scene, true);
	assert_told(ledger_open(&reader, copy, LEDGER_READ, &error), STATUS_IO, "newest readings");
	remount(&scene, false);
	assert_done(ledger_open(&reader, copy, LEDGER_READ, &error));
	assert_int_equal(scene_see(reader, (struct ledger_query){ 0 }).count, 1);
	ledger_free(reader);
	scene_unmount(&scene);
}

#define SCENE_TEST(function) cmocka_unit_test_setup_teardown(function, scene_setup, scene_teardown)

int main(void)
{
	static struct fault_case once[] = {
		{ "one operation of the disk fails", 0, "" },
		{ "one operation finds the disk full", SQLITE_FULL, "" },
	};
	static struct fault_case for_good[] = {
		{ "D04 all operations fail until they do not", 0, "cannot store" },
		{ "D04 the disk is full until it is not", SQLITE_FULL, "no space left on the disk" },
	};
	const struct CMUnitTest tests[] = {
		{ once[0].name, one_operation_fails, NULL, NULL, &once[0] },
		{ once[1].name, one_operation_fails, NULL, NULL, &once[1] },
		{ for_good[0].name, all_operations_fail_until_they_do_not, NULL, NULL, &for_good[0] },
		{ for_good[1].name, all_operations_fail_until_they_do_not, NULL, NULL, &for_good[1] },
		cmocka_unit_test(making_a_ledger_fails),
		SCENE_TEST(memory_runs_out),
		SCENE_TEST(commit_waits_for_the_disk),
		SCENE_TEST(lost_group_stays_lost_until_its_commit),
		SCENE_TEST(removed_shared_memory_file_is_made_again),
		SCENE_TEST(removed_side_file_loses_nothing),
		SCENE_TEST(removed_or_replaced_ledger_is_said),
		SCENE_TEST(handle_that_cannot_be_opened_again_says_so),
		cmocka_unit_test(full_disk_is_said_and_got_over),
		cmocka_unit_test(no_room_for_a_new_ledger),
		cmocka_unit_test(ledger_on_a_read_only_disk_is_read),
		cmocka_unit_test(read_only_disk_with_a_side_file_is_said),
	};

	return cmocka_run_group_tests(tests, layer_setup, NULL);
}
