/* SPDX-License-Identifier: GPL-3.0-or-later */
/* stream.h: bytes from an opened source of any kind, behind one descriptor. For source.c. */
#ifndef BREWSPREAD_STREAM_H
#define BREWSPREAD_STREAM_H

#include <stdbool.h>
#include <sys/types.h>

#include "address.h"
#include "port.h"
#include "source.h"

struct stream {
	enum source_kind kind;
	int fd; /* -1: not open */
	struct port *port;
	bool connecting; /* a connection that is not there yet: wait for POLLOUT, then stream_connected() */
	char path[PORT_PATH];
	int failed; /* errno of the read that failed last; 0: none did */

	/* Of a file: so much of it was read, and stays read when it is opened once more. */
	dev_t device;
	ino_t inode;
	off_t read_to;
	bool resumed; /* it goes on there */
};

#define STREAM_INIT      \
	{                \
		.fd = -1 \
	}

/*
 * Opens what address leads to now; host counts the attempts, for hosts with several numbers. SOURCE_CAUSE_NONE, or why
 * not, with error's text; the stream is then not open, but its kind is known where something was there.
 */
enum source_cause stream_open(struct stream *stream, const struct address *address, size_t host,
                              const struct profile *profile, struct port_error *error) MUST_USE;

/* After POLLOUT, or too long a wait: did the connection come about? If not, it is closed. */
enum source_cause stream_connected(struct stream *stream, struct port_error *error) MUST_USE;

enum {
	STREAM_NOTHING = 0,
	STREAM_GONE = -1, /* vanished, or closed by the other end */
	STREAM_END = -2,  /* of a file: nothing will ever come */
	STREAM_TURN = -3, /* a FIFO's writer has closed it; it is open for the next one */
};

ssize_t stream_read(struct stream *stream, char *bytes, size_t size);

/* How many bytes of bytes were sent; STREAM_NOTHING; STREAM_GONE. For what stream_writable() holds of. */
ssize_t stream_write(struct stream *stream, const char *bytes, size_t len);

bool stream_writable(const struct stream *stream);

/* Is it a terminal, with buffers, settings and a plug? */
bool stream_is_terminal(const struct stream *stream);

/* Takes one that is not open, too. */
void stream_close(struct stream *stream);

#endif
