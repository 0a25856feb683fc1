/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * report_child.h: the report of a run, written by a process of its own, so that capture never waits for it. It is this
 * same program, called "report", which opens the ledger for itself. One at a time: what is asked for meanwhile is done
 * in one more go after it.
 */
#ifndef BREWSPREAD_REPORT_CHILD_H
#define BREWSPREAD_REPORT_CHILD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

#include "clock.h"

enum { REPORT_SAID = 512 };

struct report_child {
	const char *bench;  /* folder; lent */
	char run[128];      /* "": none was asked for yet */
	pid_t pid;          /* 0: none runs */
	int said_fd;        /* what it says on its standard error; -1 */
	bool again;         /* asked for while it was being written */
	bool failed;        /* the last one was not written: said tells why */
	int64_t written_us; /* wall clock; 0: not yet */
	char said[REPORT_SAID];
	size_t said_len;
};

void report_child_init(struct report_child *child, const char *bench);

/* Asks for the report of that run, or for one more. */
void report_child_want(struct report_child *child, const char *run);

/* For poll(): what it says, so that it never waits for us; -1: nothing. */
int report_child_fd(const struct report_child *child);

enum report_news { REPORT_NO_NEWS, REPORT_WRITTEN, REPORT_FAILED };

/* Reads what it says, sees whether it has ended, starts the next. Call after poll(), and when a child process ended. */
enum report_news report_child_step(struct report_child *child, const struct moment *now);

bool report_child_busy(const struct report_child *child);

/* Waits up to wait_ms for it to end; one that takes longer goes on by itself. */
void report_child_finish(struct report_child *child, int wait_ms);

#endif
