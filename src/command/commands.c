/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command.h"

static const struct command *const list[] = {
	&command_plan,
	&command_report,
	&command_check,
	&command_convert,
};

const struct command *const *commands(size_t *count)
{
	*count = sizeof(list) / sizeof(list[0]);
	return list;
}
