/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * output.h: what is told to somebody who may read slowly, or not at all: kept up to a bound, written when it can be
 * without waiting. For the loop: poll output_fd() for POLLOUT while output_waits().
 */
#ifndef BREWSPREAD_OUTPUT_H
#define BREWSPREAD_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>

struct output {
	int fd;      /* -1: nothing is written, nothing is kept */
	bool own;    /* fd was opened here, and is closed here */
	bool socket; /* written with send(), so that a peer that went makes no signal */
	bool broken; /* nobody reads any more, or writing failed */
	int why;     /* errno of that */
	char *bytes; /* from malloc(), most bytes; NULL while nothing was ever kept */
	size_t most; /* bytes that are kept at most */
	size_t at;   /* bytes[at .. len) are still to be written */
	size_t len;
	size_t refused; /* lines that found no room */
	bool no_memory; /* for the room */
};

/*
 * Writes to fd, which stays the caller's; keeps up to most bytes. A terminal is opened once more so that writing can
 * be made not to wait without changing that for other programs that share it.
 */
void output_init(struct output *output, int fd, size_t most);

/* As output_init(), for a socket that does not wait. */
void output_init_socket(struct output *output, int fd, size_t most);

/* Takes all of line, or nothing: false, and counted, where there is no room for it. */
bool output_add(struct output *output, const char *line, size_t len);

/* As output_add(), with a line end behind line. */
bool output_add_line(struct output *output, const char *line);

/* Writes what can be written now. False: nobody reads any more, or writing failed, as why tells. */
bool output_flush(struct output *output);

bool output_waits(const struct output *output);

/* Writes what is left for up to wait_ms; then forgets the rest. */
void output_finish(struct output *output, int wait_ms);

void output_release(struct output *output);

#endif
