/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "status.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum status error_set(struct error *error, enum status status, const char *format, ...)
{
	va_list args;

	if (!error)
		return status;
	va_start(args, format);
	vsnprintf(error->text, sizeof(error->text), format, args);
	va_end(args);
	return status;
}

enum status error_set_errno(struct error *error, enum status status, const char *format, ...)
{
	const char *reason = strerror(errno);
	va_list args;
	size_t used;

	if (!error)
		return status;
	va_start(args, format);
	vsnprintf(error->text, sizeof(error->text), format, args);
	va_end(args);
	used = strlen(error->text);
	snprintf(error->text + used, sizeof(error->text) - used, ": %s", reason);
	return status;
}
