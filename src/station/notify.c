/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "notify.h"

#include <dlfcn.h>
#include <inttypes.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <systemd/sd-daemon.h>

#include "clock.h"

/* Room for a line of status. */
#define MESSAGE_ROOM 512

/* The service manager's own library: it stays NULL where no manager asked to be told. */
static struct {
	__typeof__(sd_notify) *tell;
	__typeof__(sd_watchdog_enabled) *watched;
} manager;

static void *named(void *library, const char *name)
{
	return library ? dlsym(library, name) : NULL;
}

static bool manager_load(void)
{
	void *library = dlopen("libsystemd.so.0", RTLD_NOW);
	void *tell = named(library, "sd_notify");
	void *watched = named(library, "sd_watchdog_enabled");

	if (!tell || !watched)
		return false;
	memcpy(&manager.tell, &tell, sizeof(tell));
	memcpy(&manager.watched, &watched, sizeof(watched));
	return true;
}

bool notify_init(struct notify *notify, const char **reason)
{
	uint64_t limit_us = 0;

	*notify = (struct notify){ .every_us = 0 };
	if (!getenv("NOTIFY_SOCKET"))
		return true;
	if (!manager_load()) {
		*reason = dlerror();
		return false;
	}
	/* twice in the time that the manager allows, as sd_watchdog_enabled(3) advises */
	if (manager.watched(0, &limit_us) > 0)
		notify->every_us = (int64_t)(limit_us / 2);
	return true;
}

static void tell(const char *message)
{
	if (manager.tell)
		manager.tell(0, message);
}

static void tell_status(const char *before, const char *status)
{
	char message[MESSAGE_ROOM];

	snprintf(message, sizeof(message), "%sSTATUS=%s", before, status);
	tell(message);
}

void notify_ready(const char *status)
{
	tell_status("READY=1\n", status);
}

void notify_reloading(void)
{
	char message[MESSAGE_ROOM];

	snprintf(message, sizeof(message), "RELOADING=1\nMONOTONIC_USEC=%" PRId64, clock_monotonic_us());
	tell(message);
}

void notify_stopping(void)
{
	tell("STOPPING=1");
}

void notify_status(const char *status)
{
	tell_status("", status);
}

void notify_alive(struct notify *notify, int64_t now_us)
{
	if (notify->every_us == 0 || now_us < notify->next_us)
		return;
	tell("WATCHDOG=1");
	notify->next_us = now_us + notify->every_us;
}

int64_t notify_deadline_us(const struct notify *notify)
{
	return notify->every_us == 0 ? CLOCK_NEVER : notify->next_us;
}
