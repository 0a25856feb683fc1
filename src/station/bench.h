/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * bench.h: a bench folder: settings, ledger and runs of one bench.
 *
 *   DIR/bench.ini             settings (settings_file.h), and the sections below; may be missing
 *   DIR/ledger.brewspread     every reading (ledger.h)
 *   DIR/control               socket of the daemon, while it runs (control.h)
 *   DIR/runs/NAME/            a run: manifest.csv, and its report
 *
 * In bench.ini, besides the settings:
 *
 *   [meter NAME]   port = what listens to it (source.h); profile = a built-in one, or a file
 *                  waiting = keep, or drop: what stood in the port's buffers before it was opened; keep unless set
 *   [control]      group = name of a group whose members may use the socket too
 *   [cups]         split = yes: several meters share the work, each cup is read on one of them; no unless set
 *
 * Paths that do not begin with "/" start from the bench folder.
 */
#ifndef BREWSPREAD_BENCH_H
#define BREWSPREAD_BENCH_H

#include <stdbool.h>

#include "arena.h"
#include "faults.h"
#include "settings.h"
#include "slice.h"
#include "status.h"

struct bench_meter {
	const char *name;
	const char *port;
	const char *profile;
	bool drop_waiting;
};

struct bench {
	const char *folder;
	const char *ini;
	const char *ledger;
	const char *control; /* NULL: no socket */
	const char *group;   /* of the socket; NULL: its owner alone */
	bool split;
	struct settings settings;
	struct bench_meter *meters;
	size_t meter_count;
	struct arena memory; /* of all texts */
};

enum { BENCH_METERS = 64 };

/*
 * Reads the bench folder at path. *out is NULL on every failure, else the caller's: bench_free(). The files of faults'
 * places live as long as faults.
 * STATUS_IO: no such folder, or a bench.ini that can't be read. STATUS_REFUSED: bench.ini has errors, all of them in
 * faults.
 */
enum status bench_open(struct bench **out, const char *path, struct faults *faults, struct error *error) MUST_USE;

/* A bench without a folder: that ledger, no meters, no socket. NULL: no memory. The caller's: bench_free(). */
struct bench *bench_new(const char *ledger);

/* Adds a meter, texts copied. STATUS_INVALID: it would be more than BENCH_METERS. */
enum status bench_add_meter(struct bench *bench, const struct bench_meter *meter, struct error *error) MUST_USE;

/* Takes NULL. */
void bench_free(struct bench *bench);

/* As settings_file_read() with a bench folder's bench.ini, whose other sections are passed over; one that is missing sets nothing. */
enum status bench_settings_read(struct settings *settings, const char *path, struct faults *faults,
                                struct error *error) MUST_USE;

/*
 * Can a run be called so? It is a folder's name: not empty, at most 100 bytes of UTF-8, no "/", control character or
 * "." at its beginning.
 */
bool bench_run_name_fits(struct slice name);

/* Paths of a run's folder, manifest and report, in memory; NULL: no memory. */
const char *bench_run_folder(const struct bench *bench, struct slice run, struct arena *memory);
const char *bench_run_manifest(const struct bench *bench, struct slice run, struct arena *memory);
const char *bench_run_report(const struct bench *bench, struct slice run, struct arena *memory);

#endif
