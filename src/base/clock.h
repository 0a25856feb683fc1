/* SPDX-License-Identifier: GPL-3.0-or-later */
/* clock.h: what time it is, by three clocks, in microseconds. */
#ifndef BREWSPREAD_CLOCK_H
#define BREWSPREAD_CLOCK_H

#include <stdint.h>

/*
 * One moment by three clocks. Order and waiting go by monotonic_us, which nobody can set; people are told wall_us,
 * which may step. Where boottime_us - monotonic_us grows, the machine slept.
 */
struct moment {
	int64_t monotonic_us; /* since some start; stands still while the machine sleeps */
	int64_t boottime_us;  /* the same, but goes on while the machine sleeps */
	int64_t wall_us;      /* since 1970-01-01 00:00 UTC */
};

struct moment moment_now(void);

/* The clocks one by one. */
int64_t clock_monotonic_us(void);
int64_t clock_wall_us(void);

#define CLOCK_NEVER INT64_MAX

/*
 * The timeout of poll() for waiting until deadline_us: rounded up, so that the deadline has passed when it ends;
 * 0 where it passed already, -1 for CLOCK_NEVER.
 */
int clock_poll_ms(int64_t deadline_us, int64_t now_us);

#endif
