/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * port.h: one open serial port (libserialport), or pseudo-terminal (opened as it is).
 *
 * Opening takes the port for this program alone (a lock on the device, and no further opening by others), sets every
 * setting and reads it back. Nothing that was set before survives, and nothing blocks.
 */
#ifndef BREWSPREAD_PORT_H
#define BREWSPREAD_PORT_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "profile.h"

enum port_failure {
	PORT_OK,
	PORT_ABSENT,
	PORT_DENIED,
	PORT_BUSY,
	PORT_TWICE,
	PORT_AMBIGUOUS,
	PORT_CONSOLE,
	PORT_NOT_ONE, /* no terminal device at all */
	PORT_NO_MODEM,
	PORT_SETTINGS,
	PORT_FAILED,
};

enum { PORT_PATH = 512 };

struct port_name {
	char path[PORT_PATH]; /* as it is opened: links followed as far as needed */
	dev_t device;
	bool pseudo; /* a pseudo-terminal that the library does not know */
};

/* The text of a failure: names the port, says why, and what helps. */
struct port_error {
	char text[1024];
};

/*
 * Finds out what path leads to now. Links are followed until there is a name that the kernel knows as a terminal's;
 * a by-id link that more than one adapter answers to is PORT_AMBIGUOUS. Opens nothing.
 */
enum port_failure port_find(struct port_name *out, const char *path, struct port_error *error) MUST_USE;

struct port;

/*
 * Opens it with settings; writable: for a meter that has to be asked. *out is NULL on every failure, else the caller's:
 * port_close(). On a pseudo-terminal, which has neither speed nor frame nor lines, every byte is let through and the
 * rest of settings plays no part.
 */
enum port_failure port_open(struct port **out, const struct port_name *name, const struct port_settings *settings,
                            bool writable, struct port_error *error) MUST_USE;

/*
 * Gives the port back, unsent bytes thrown away, within a fraction of a second whatever the device does. Takes NULL.
 * Where something was written it uses the real-time timer of the process, and SIGALRM.
 */
void port_close(struct port *port);

/* For poll(). */
int port_fd(const struct port *port);

/*
 * Errors of parity and frame, and 0xff, come marked in what port_read() gives: marks.h. False for pseudo-terminals.
 */
bool port_marks(const struct port *port);

enum { PORT_NOTHING = 0, PORT_GONE = -1 };

/*
 * What is there, up to size bytes: how many; PORT_NOTHING; PORT_GONE: the device vanished, close it at once. After
 * poll() said POLLHUP or POLLERR it has vanished too, once this has been called.
 */
ssize_t port_read(struct port *port, char *bytes, size_t size);

/* Sends what goes at once: how many bytes; PORT_NOTHING; PORT_GONE. */
ssize_t port_write(struct port *port, const char *bytes, size_t len);

/* Bytes that wait to be read, or PORT_GONE. */
ssize_t port_waiting(struct port *port);

enum port_drift {
	PORT_AS_SET,
	PORT_RESTORED, /* somebody had changed settings; they are as asked again, error says which they were */
	PORT_STUBBORN, /* the same, but they could not be set again */
	PORT_VANISHED,
};

/* Have the settings been changed by another program since they were set? Sets them again. */
enum port_drift port_recheck(struct port *port, struct port_error *error) MUST_USE;

/* "9600 8N1", with flow control behind it where there is any. */
const char *port_settings_print(char *out, size_t size, const struct port_settings *settings);

#define PORT_SETTINGS_TEXT 48

#endif
