/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * control.h: the daemon's socket (Unix domain), the server's half. docs/control.md tells the protocol; control_client.h
 * is the other half.
 *
 * A client sends requests, a line each, and gets one line of JSON for each. Whatever it does, it costs no more than
 * bounded memory and a bounded share of the loop: a line that is too long or does not end, more than CONTROL_REQUESTS
 * in a second, or answers that it does not read make it wait or lose its connection, and why is told.
 *
 * For the loop, as a source (source.h): control_poll(), poll(), control_step(), control_next() until it gives nothing,
 * each request answered by control_answer().
 */
#ifndef BREWSPREAD_CONTROL_H
#define BREWSPREAD_CONTROL_H

#include <poll.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "clock.h"
#include "slice.h"
#include "status.h"

enum {
	CONTROL_PROTOCOL = 1,
	CONTROL_CLIENTS = 16,
	CONTROL_LINE = 1024,          /* bytes of a request at most */
	CONTROL_OUTPUT = 1 << 17,     /* bytes of answers that wait for a client at most */
	CONTROL_REQUESTS = 100,       /* of a client in a second; further ones wait */
	CONTROL_HALF_LINE_MS = 10000, /* so long a request may take to end */
	CONTROL_POLLED = CONTROL_CLIENTS + 1,
	CONTROL_METER = 128, /* bytes of a meter's name */
};

struct control;

/*
 * Makes the socket at path, for its owner alone or, where group is not NULL, for that group's members too. The folder
 * is locked, so that two daemons of one bench can't be; a socket left behind by one that died is replaced.
 * STATUS_BUSY: another daemon has the folder. STATUS_IO: error; STATUS_INVALID: no such group; STATUS_MEMORY.
 */
enum status control_open(struct control **out, const char *path, const char *group, struct error *error) MUST_USE;

/* Removes the socket. Takes NULL. */
void control_free(struct control *control);

/* What poll() has to watch: fills polled[0 .. CONTROL_POLLED), -1 where there is nothing. */
void control_poll(const struct control *control, struct pollfd *polled);

/* CLOCK_NEVER: none. */
int64_t control_deadline_us(const struct control *control);

/* Accepts, reads and writes what can be without waiting. polled: as control_poll() filled and poll() answered it. */
void control_step(struct control *control, const struct pollfd *polled, const struct moment *now);

struct control_request {
	size_t client;
	struct slice word; /* the first of the line, such as "cup" */
	struct slice rest; /* what is behind it, blanks at both ends off; may be empty */
	char *meter;       /* the client's, CONTROL_METER bytes: the meter that its requests are about; "": all */
};

/* The next request; false: none for now. Its slices hold until the next call with control. */
bool control_next(struct control *control, struct control_request *out);

/* Answers the request that control_next() gave last. json: one line, without its end. */
void control_answer(struct control *control, size_t client, const char *json);

/* The client gets what control_tell() tells from now on. */
void control_follow(struct control *control, size_t client);

/* Does anybody follow? */
bool control_followed(const struct control *control);

/* Tells json, one line without its end, to all that follow. */
void control_tell(struct control *control, const char *json);

/* Why a client lost its connection or isn't let in, for people, one a call; false: none did, all are. */
bool control_dropped(struct control *control, char *out, size_t size);

#endif
