/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * pty_modem_shim.c: preloaded, gives pseudo-terminals the modem lines that they lack, so that libserialport opens them.
 * Nothing else is invented: speed, frame, reading and hanging up are the kernel's.
 *
 * The lines are remembered for the process as a whole; SHIM_MODEM=none takes them away again, for a driver that has
 * none, and SHIM_MODEM=log writes every change of them to standard error.
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

typedef int ioctl_call(int fd, unsigned long request, ...);

static int lines = TIOCM_DTR | TIOCM_RTS | TIOCM_CTS | TIOCM_DSR | TIOCM_CAR;

static bool has_word(const char *word)
{
	const char *mode = getenv("SHIM_MODEM");

	return mode && strcmp(mode, word) == 0;
}

static bool is_pseudo_terminal(int fd)
{
	struct stat file;

	return fstat(fd, &file) == 0 && S_ISCHR(file.st_mode) && major(file.st_rdev) >= 136 &&
	       major(file.st_rdev) <= 143;
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
	if (!is_pseudo_terminal(fd)) {
		errno = ENOTTY;
		return -1;
	}
	errno = 0;
	return lines_answer(request, argument);
}
