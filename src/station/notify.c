/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "notify.h"

#include <inttypes.h>
#include <systemd/sd-daemon.h>

#include "clock.h"

void notify_init(struct notify *notify)
{
	uint64_t limit_us = 0;

	*notify = (struct notify){ .every_us = 0 };
	/* twice in the time that the manager allows, as sd_watchdog_enabled(3) advises */
	if (sd_watchdog_enabled(0, &limit_us) > 0)
		notify->every_us = (int64_t)(limit_us / 2);
}

void notify_ready(const char *status)
{
	sd_notifyf(0, "READY=1\nSTATUS=%s", status);
}

void notify_reloading(void)
{
	sd_notifyf(0, "RELOADING=1\nMONOTONIC_USEC=%" PRId64, clock_monotonic_us());
}

void notify_stopping(void)
{
	sd_notify(0, "STOPPING=1");
}

void notify_status(const char *status)
{
	sd_notifyf(0, "STATUS=%s", status);
}

void notify_alive(struct notify *notify, int64_t now_us)
{
	if (notify->every_us == 0 || now_us < notify->next_us)
		return;
	sd_notify(0, "WATCHDOG=1");
	notify->next_us = now_us + notify->every_us;
}

int64_t notify_deadline_us(const struct notify *notify)
{
	return notify->every_us == 0 ? CLOCK_NEVER : notify->next_us;
}
