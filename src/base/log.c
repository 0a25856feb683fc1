/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "log.h"

#include <errno.h>
#include <poll.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { LINE_ROOM = 2048 }; /* below PIPE_BUF: a pipe that poll() calls writable takes it whole */

/* JOURNAL_STREAM is "DEVICE:INODE" of the stream that standard error was at the start of the service. */
static bool leads_to_journal(int fd)
{
	const char *stream = getenv("JOURNAL_STREAM");
	char own[64];
	struct stat file;

	if (!stream || fstat(fd, &file) != 0)
		return false;
	snprintf(own, sizeof(own), "%ju:%ju", (uintmax_t)file.st_dev, (uintmax_t)file.st_ino);
	return strcmp(own, stream) == 0;
}

void log_init(struct log *log, int fd)
{
	*log = (struct log){ .fd = fd };
	log->journal = fd >= 0 && leads_to_journal(fd);
}

const char *log_level_name(enum log_level level)
{
	switch (level) {
	case LOG_LEVEL_FAILURE:
		return "failure";
	case LOG_LEVEL_DOUBT:
		return "doubt";
	case LOG_LEVEL_NOTICE:
		return "notice";
	case LOG_LEVEL_NEWS:
		return "news";
	}
	return "";
}

/* Waits for nothing, and for that a signal is no reason to give up. */
static int writable(const struct log *log, struct pollfd *polled)
{
	int ready;

	*polled = (struct pollfd){ .fd = log->fd, .events = POLLOUT };
	do
		ready = poll(polled, 1, 0);
	while (ready < 0 && errno == EINTR);
	return ready;
}

static bool line_write(struct log *log, enum log_level level, const char *text)
{
	struct pollfd polled;
	char line[LINE_ROOM];
	char priority[8] = "";
	ssize_t written;
	int ready = writable(log, &polled);
	int len;

	log->why = ready < 0 ? errno : 0;
	if (ready != 1 || !(polled.revents & POLLOUT))
		return false;
	if (log->journal)
		snprintf(priority, sizeof(priority), "<%d>", level);
	len = snprintf(line, sizeof(line), "%s%s%.1900s\n", priority, log->journal ? "" : "brewspread: ", text);
	do
		written = write(log->fd, line, (size_t)len);
	while (written < 0 && errno == EINTR);
	if (written < 0 && errno != EAGAIN)
		log->why = errno;
	return written == len;
}

void log_line(struct log *log, enum log_level level, const char *text)
{
	char told[160];

	if (log->fd < 0)
		return;
	if (log->lost > 0) {
		snprintf(told, sizeof(told), "%zu messages were lost: %s", log->lost,
		         log->why ? strerror(log->why) : "they came faster than they were read");
		if (line_write(log, LOG_LEVEL_DOUBT, told))
			log->lost = 0;
	}
	if (!line_write(log, level, text))
		log->lost++;
}
