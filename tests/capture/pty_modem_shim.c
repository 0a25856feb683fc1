/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * pty_modem_shim.c: preloaded, gives pseudo-terminals the modem lines that they lack, so that libserialport opens them.
 * Nothing else is invented: speed, frame, reading and hanging up are the kernel's.
 *
 * The lines are remembered for the process as a whole; SHIM_MODEM=none takes them away again, for a driver that has
 * none, and SHIM_MODEM=log writes every change of them to standard error. With SHIM_MODEM=stuck no device takes a byte:
 * what is written stays in the driver, and close() waits for it for half a minute or until a signal comes, as drivers
 * of USB adapters do, whose bytes can't be thrown away once the adapter was given them.
 */
#include <dlfcn.h>
#include <errno.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <sys/types.h>
#include <time.h>

typedef int ioctl_call(int fd, unsigned long request, ...);
typedef ssize_t write_call(int fd, const void *bytes, size_t len);
typedef int close_call(int fd);

enum { DRIVER_ROOM = 4096 };

static dev_t stuck; /* the device that was written to; one is enough for a test */
static size_t unsent;

static int lines = TIOCM_DTR | TIOCM_RTS | TIOCM_CTS | TIOCM_DSR | TIOCM_CAR;

static bool has_word(const char *word)
{
	const char *mode = getenv("SHIM_MODEM");

	return mode && strcmp(mode, word) == 0;
}

/* 0: it is none. */
static dev_t pseudo_terminal(int fd)
{
	struct stat file;

	if (fstat(fd, &file) != 0 || !S_ISCHR(file.st_mode) || major(file.st_rdev) < 136 || major(file.st_rdev) > 143)
		return 0;
	return file.st_rdev;
}

static int lines_change(int now)
{
	if (has_word("log") && now != lines)
		fprintf(stderr, "shim: DTR %s, RTS %s\n", now & TIOCM_DTR ? "on" : "off",
		        now & TIOCM_RTS ? "on" : "off");
	lines = now;
	return 0;
}

static int lines_answer(unsigned long request, int *value)
{
	switch (request) {
	case TIOCMGET:
		*value = lines;
		return 0;
	case TIOCMSET:
		return lines_change(*value);
	case TIOCMBIS:
		return lines_change(lines | *value);
	default:
		return lines_change(lines & ~*value);
	}
}

int ioctl(int fd, unsigned long request, ...)
{
	static ioctl_call *next;
	void *argument;
	va_list args;
	int result;

	va_start(args, request);
	argument = va_arg(args, void *);
	va_end(args);
	if (!next)
		*(void **)&next = dlsym(RTLD_NEXT, "ioctl");
	result = next(fd, request, argument);
	/* "not for this kind of terminal": EIO, of one that was hung up, has to stay */
	if (result == 0 || (errno != ENOTTY && errno != EINVAL) || has_word("none"))
		return result;
	if (request != TIOCMGET && request != TIOCMSET && request != TIOCMBIS && request != TIOCMBIC)
		return result;
	if (pseudo_terminal(fd) == 0) {
		errno = ENOTTY;
		return -1;
	}
	errno = 0;
	return lines_answer(request, argument);
}

ssize_t write(int fd, const void *bytes, size_t len)
{
	static write_call *next;

	if (!next)
		*(void **)&next = dlsym(RTLD_NEXT, "write");
	if (!has_word("stuck") || pseudo_terminal(fd) == 0)
		return next(fd, bytes, len);
	stuck = pseudo_terminal(fd);
	if (unsent == DRIVER_ROOM) {
		errno = EAGAIN;
		return -1;
	}
	if (len > DRIVER_ROOM - unsent)
		len = DRIVER_ROOM - unsent;
	unsent += len;
	return (ssize_t)len;
}

int close(int fd)
{
	static close_call *next;
	const struct timespec wait = { .tv_sec = 30 };

	if (!next)
		*(void **)&next = dlsym(RTLD_NEXT, "close");
	if (unsent > 0 && has_word("stuck") && pseudo_terminal(fd) == stuck) {
		nanosleep(&wait, NULL);
		unsent = 0;
	}
	return next(fd);
}
