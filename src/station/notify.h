/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * notify.h: telling the service manager how the daemon is doing: sd_notify(3). Nothing happens where there is none, and
 * its library is loaded only where there is one: with what that needs in turn it would slow the start of every command.
 */
#ifndef BREWSPREAD_NOTIFY_H
#define BREWSPREAD_NOTIFY_H

#include <stdbool.h>
#include <stdint.h>

struct notify {
	int64_t every_us; /* how often the watchdog wants to hear; 0: there is none */
	int64_t next_us;
};

/* False where a manager wants to hear and its library can't be loaded: *reason (static) says why, and nothing is told. */
bool notify_init(struct notify *notify, const char **reason);

/* It works now; status is one line for people. */
void notify_ready(const char *status);

/* Settings are being read again: notify_ready() follows. */
void notify_reloading(void);

void notify_stopping(void);

void notify_status(const char *status);

/* Tells the watchdog where it is time to. */
void notify_alive(struct notify *notify, int64_t now_us);

/* When notify_alive() is due; CLOCK_NEVER. */
int64_t notify_deadline_us(const struct notify *notify);

#endif
