/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "data_file.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

const char *data_file(char *room, size_t size, const char *folder, const char *given)
{
	int used;

	if (given[0] == '\0' || strchr(given, '/') || access(given, F_OK) == 0)
		return given;
	used = snprintf(room, size, "%s/%s", folder, given);
	if (used > 0 && (size_t)used < size && access(room, F_OK) == 0)
		return room;
	used = snprintf(room, size, "%s/labels-%s.csv", folder, given);
	return used > 0 && (size_t)used < size && access(room, F_OK) == 0 ? room : given;
}
