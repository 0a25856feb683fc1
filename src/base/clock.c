/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "clock.h"

#include <limits.h>
#include <time.h>

static int64_t clock_us(clockid_t clock)
{
	struct timespec now;

	/* fails only for a clock that the kernel does not have: these are in every one since 2.6.39 */
	if (clock_gettime(clock, &now) != 0)
		return 0;
	return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

struct moment moment_now(void)
{
	return (struct moment){
		.monotonic_us = clock_us(CLOCK_MONOTONIC),
		.boottime_us = clock_us(CLOCK_BOOTTIME),
		.wall_us = clock_us(CLOCK_REALTIME),
	};
}

int64_t clock_monotonic_us(void)
{
	return clock_us(CLOCK_MONOTONIC);
}

int64_t clock_wall_us(void)
{
	return clock_us(CLOCK_REALTIME);
}

int clock_poll_ms(int64_t deadline_us, int64_t now_us)
{
	int64_t ms;

	if (deadline_us == CLOCK_NEVER)
		return -1;
	if (deadline_us <= now_us)
		return 0;
	ms = (deadline_us - now_us - 1) / 1000 + 1;
	return ms < INT_MAX ? (int)ms : INT_MAX;
}
