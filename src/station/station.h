/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * station.h: the daemon: meters → ledger, the cups' turn, an open run's report kept current.
 *
 * One loop serves everything and never waits for any one thing. What one turn of it read from all meters goes into the
 * ledger as one group; only when that is on the disk is it told, on the terminal, to followers of the socket, and as
 * JSON. Nothing that comes from a meter, a client, a manifest or the disk ends the loop.
 */
#ifndef BREWSPREAD_STATION_H
#define BREWSPREAD_STATION_H

#include <stdbool.h>

#include "bench.h"
#include "faults.h"
#include "status.h"

struct station_request {
	struct bench *bench;   /* with at least one meter; the station's from then on, whatever happens */
	bool is_folder;        /* a bench folder: runs, socket, settings read again at SIGHUP */
	int out_fd;            /* where readings are told */
	int message_fd;        /* where everything else is told */
	int key_fd;            /* a terminal to read keys from; -1: none */
	bool json;             /* readings as JSON, a line each */
	bool view;             /* out_fd is a terminal: the live view is shown on it */
	bool color;            /* the view may use colours */
	bool ends_with_meters; /* end when nothing can come from any of them any more */
};

struct station;

/*
 * Opens the ledger, the socket, profiles and signals; the meters themselves are opened by station_run(), and are
 * waited for where they are not there. Signals SIGTERM, SIGINT, SIGHUP, SIGCHLD and SIGWINCH are blocked from then on.
 * *out is NULL on every failure, else the caller's: station_free().
 * STATUS_BUSY: another daemon has the bench. STATUS_REFUSED: faults has what is wrong with profiles. Else: error.
 */
enum status station_new(struct station **out, const struct station_request *request, struct faults *faults,
                        struct error *error) MUST_USE;

/*
 * Serves until SIGTERM, SIGINT, or the key for it. STATUS_IO: lines that came were not stored, since the ledger refused
 * to the end; error says how many.
 */
enum status station_run(struct station *station, struct error *error) MUST_USE;

/* Takes NULL. */
void station_free(struct station *station);

#endif
