/* SPDX-License-Identifier: GPL-3.0-or-later */
/* port_failure.h: how a port's failures get their texts; for the files of port.h and stream.h alone. */
#ifndef BREWSPREAD_PORT_FAILURE_H
#define BREWSPREAD_PORT_FAILURE_H

#include <stdbool.h>
#include <sys/stat.h>

#include "port.h"

/* Fills error from format and returns failure. */
enum port_failure port_fail(struct port_error *error, enum port_failure failure, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

/* No permission: names the account, the path and its group, and what helps. */
enum port_failure port_denied(struct port_error *error, const char *path);

/* Nothing there: says so, and names the ports that are. */
enum port_failure port_absent(struct port_error *error, const char *path);

/* Somebody has it: names who, as far as can be seen. */
enum port_failure port_busy(struct port_error *error, const char *path, const struct stat *file);

/* PORT_TWICE if this process has it open already, by whatever path. */
enum port_failure port_refuse_twice(struct port_error *error, const char *path, const struct stat *file);

/* Is it the terminal side of a pseudo-terminal? */
bool port_is_pseudo(dev_t device);

#endif
