/* SPDX-License-Identifier: GPL-3.0-or-later */
/* log.h: messages for people, a line each, on a descriptor that may be a terminal, a file, a pipe or the journal. */
#ifndef BREWSPREAD_LOG_H
#define BREWSPREAD_LOG_H

#include <stdbool.h>
#include <stddef.h>

/* Numbers as in RFC 5424, for the journal. */
enum log_level {
	LOG_LEVEL_FAILURE = 3, /* something does not work any more */
	LOG_LEVEL_DOUBT = 4,   /* taken, but doubtful; or lost */
	LOG_LEVEL_NOTICE = 5,  /* worth a look */
	LOG_LEVEL_NEWS = 6,    /* the usual course of things */
};

struct log {
	int fd;       /* -1: messages go nowhere */
	bool journal; /* each line begins with its level, "<4>", for the journal */
	size_t lost;  /* messages that could not be written, not told yet */
	int why;      /* errno of the last of them; 0: the reader was too slow for it */
};

/* Finds out whether fd leads to the journal (JOURNAL_STREAM, see systemd.exec(5)). fd stays the caller's. */
void log_init(struct log *log, int fd);

/*
 * Writes text as one line. Never waits: where the reader does not keep up, or writing fails, the message is lost,
 * counted, and the loss told with the next one. text is taken as it is: whatever came from outside was made printable before.
 */
void log_line(struct log *log, enum log_level level, const char *text);

/* "failure", "doubt", "notice", "news" */
const char *log_level_name(enum log_level level);

#endif
