/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * source.h: where a meter's bytes come from, and the lines in them.
 *
 * A source is named by a text:
 *
 *   /dev/ttyUSB0, /dev/serial/by-id/…   a serial port, opened through libserialport with the profile's settings
 *   /dev/pts/3, or a link to one        a pseudo-terminal, opened as it is and set to pass every byte
 *   a FIFO                              stays open for the next writer when one closes it
 *   a file                              read to its end
 *   -                                   standard input
 *   tcp:HOST:PORT, tcp:[::1]:4001       a serial port server or anything else that sends lines
 *
 * A path is looked at anew at each opening: a link leads to wherever it leads then, and remains the source's identity.
 *
 * Nothing here blocks, but source_new() for a host that is given by name: the name is looked up once, there. One loop
 * serves any number of sources:
 *
 *   for (;;) {
 *           source_poll(source, &polled[i]);                  for each, then poll() until the earliest
 *           poll(polled, n, clock_poll_ms(deadline, now));    source_deadline_us()
 *           now = moment_now();
 *           source_step(source, polled[i].revents, &now);     for each, whether poll() said something or not
 *           while (source_next(source, &event))
 *                   ...
 *   }
 *
 * A source that is away (unplugged, refused, busy) is no failure: it is a source with a timer that tries again, after
 * 0.25 s at first and 5 s at most. Nothing is allocated while reading.
 */
#ifndef BREWSPREAD_SOURCE_H
#define BREWSPREAD_SOURCE_H

#include <poll.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "clock.h"
#include "lines.h"
#include "profile.h"
#include "slice.h"
#include "status.h"

enum source_kind {
	SOURCE_KIND_UNKNOWN, /* a path that was never there to be looked at */
	SOURCE_KIND_PORT,
	SOURCE_KIND_PSEUDO,
	SOURCE_KIND_FIFO,
	SOURCE_KIND_FILE,
	SOURCE_KIND_INPUT,
	SOURCE_KIND_TCP,
};

/* "serial port", "pseudo-terminal", … */
const char *source_kind_name(enum source_kind kind);

/* What becomes of bytes that stood in the port's buffers before it was opened. */
enum source_stale {
	SOURCE_STALE_MARK, /* their lines are given out, with event.stale */
	SOURCE_STALE_DROP, /* their lines are not given out; SOURCE_OPENED says how many bytes they were */
};

struct source_request {
	const char *where;             /* as above */
	const struct profile *profile; /* kept, not copied: has to live as long as the source */
	struct slice name;             /* of the meter, for messages; empty: where */
	enum source_stale stale;
};

enum source_event_type {
	SOURCE_OPENED,    /* bytes can come from now on */
	SOURCE_LINE,      /* a line, to be matched: then tell source_judge() */
	SOURCE_BROKEN,    /* bytes to be kept, not to be read: cause says why */
	SOURCE_GONE,      /* was open, is not any more; will be tried again */
	SOURCE_WAITING,   /* cannot be opened; told once for each reason, tried again all the same */
	SOURCE_DIAGNOSIS, /* lines come but are not understood, and why that may be; at most one a minute */
	SOURCE_NOTE,      /* worth a line in the log: settings restored, a writer gone */
	SOURCE_END,       /* of a file or of standard input: nothing will ever come again */
};

enum source_cause {
	SOURCE_CAUSE_NONE,
	/* SOURCE_WAITING */
	SOURCE_ABSENT,      /* no such path, or a link to nothing */
	SOURCE_DENIED,      /* no permission */
	SOURCE_BUSY,        /* another program has it */
	SOURCE_TWICE,       /* this program has the same device open already, perhaps by another path */
	SOURCE_AMBIGUOUS,   /* a by-id link that fits more than one adapter */
	SOURCE_CONSOLE,     /* the system's own console */
	SOURCE_NO_SOURCE,   /* a folder, a disk, …: nothing that lines come from */
	SOURCE_NO_MODEM,    /* the driver knows no modem lines, which the library needs */
	SOURCE_SETTINGS,    /* the port does not take the profile's settings */
	SOURCE_UNREACHABLE, /* no connection to the host */
	/* SOURCE_WAITING and SOURCE_GONE */
	SOURCE_FAILED,    /* anything else that the system says */
	SOURCE_UNPLUGGED, /* hung up: cable pulled, other end of a pseudo-terminal closed */
	/* SOURCE_GONE */
	SOURCE_PEER_CLOSED, /* the other end of a connection closed it */
	SOURCE_SLEPT,       /* the machine slept: the port is opened anew */
	/* SOURCE_BROKEN */
	SOURCE_TOO_LONG,   /* a piece of a line that is longer than LINES_CAP; told by text for the first piece only */
	SOURCE_UNFINISHED, /* the line never ended: the source went, ended, or was silent for SOURCE_IDLE_MS */
};

struct source_event {
	enum source_event_type type;
	enum source_cause cause;
	struct line line;   /* SOURCE_LINE, SOURCE_BROKEN: shows the source's buffer */
	struct moment when; /* of a line: when its last byte came; else when it happened */
	bool stale;         /* of a line: began in bytes that stood in the port's buffers before it was opened */
	bool damaged;       /* of a line: the port told of a parity or framing error in it: no reading */
	const char *text;   /* for people: what happened, and what can be done; "" for a line. The source's */
};

enum {
	SOURCE_IDLE_MS = 10000,   /* a line that has not ended after so long a silence is given up */
	SOURCE_SETTLE_MS = 20,    /* after opening a port: what comes until then stood in its chip or the driver */
	SOURCE_RECHECK_MS = 3000, /* how often an open port's settings are looked at */
};

struct source;

/*
 * A source that is not open yet: its first source_step() opens it.
 * *out is NULL on every failure, else the caller's: source_free().
 * STATUS_INVALID: where makes no sense. STATUS_IO: the host's name is not known. STATUS_MEMORY.
 */
enum status source_new(struct source **out, const struct source_request *request, struct error *error) MUST_USE;

/* Closes it, within milliseconds in every state. Takes NULL. */
void source_free(struct source *source);

/* What poll() has to watch; fd is -1, which poll() passes over, while there is nothing to watch. */
void source_poll(const struct source *source, struct pollfd *out);

/* When source_step() wants to be called, whatever poll() says; CLOCK_NEVER. */
int64_t source_deadline_us(const struct source *source);

/*
 * Does what is due: opens, reads once (at most 4096 bytes), asks, looks after the settings. revents: what poll() said;
 * 0 where it said nothing. Reads nothing while source_next() still has something to give.
 */
void source_step(struct source *source, short revents, const struct moment *now);

/* What came of it, one by one; false: no more. What *out shows holds until the next call with source. */
bool source_next(struct source *source, struct source_event *out);

/* Tells whether the line that source_next() gave last was understood. Without it there is no SOURCE_DIAGNOSIS. */
void source_judge(struct source *source, bool understood);

/*
 * Sends the profile's ask now, without regard to its timer. STATUS_INVALID: the profile has none, or the source cannot
 * be written to. STATUS_BUSY: it is not open, or the last one is not sent yet.
 */
enum status source_ask(struct source *source, const struct moment *now, struct error *error) MUST_USE;

/* The name of the request. */
const char *source_name(const struct source *source);

/* As the user wrote it: the identity, which a reading is stored with. */
const char *source_where(const struct source *source);

/* What is open behind it, links followed ("/dev/ttyUSB1"), or was last; "" if nothing ever was. */
const char *source_path(const struct source *source);

enum source_kind source_kind(const struct source *source);

enum source_state {
	SOURCE_STATE_WAITING, /* not open; tried again */
	SOURCE_STATE_OPEN,
	SOURCE_STATE_ENDED,
};

struct source_info {
	enum source_state state;
	enum source_cause cause; /* why it is not open */
	const char *text;        /* of the last SOURCE_WAITING or SOURCE_GONE while not open; else "" */
	int64_t opened_us;       /* monotonic; of the last opening; 0: never */
	int64_t heard_us;        /* monotonic; of the last byte; 0: never */
	size_t openings;         /* so far */
	size_t bytes;            /* so far, as all that follow */
	size_t lines;
	size_t broken;
	size_t nuls;
	size_t damaged;       /* bytes with parity or framing errors */
	struct slice pending; /* a line that has no end yet; shows the source's buffer */
};

/* How it is doing, for a status display. Holds until the next call with source. */
struct source_info source_info(const struct source *source);

#endif
