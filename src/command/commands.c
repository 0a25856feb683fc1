/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command.h"

static const struct command *const list[] = {
	&command_plan,   &command_report, &command_check, &command_audit, &command_convert, &command_listen,
	&command_cup,    &command_status, &command_open,  &command_close, &command_paste,   &command_amend,
	&command_export, &command_backup, &command_ports, &command_learn,
};

const struct command *const *commands(size_t *count)
{
	*count = sizeof(list) / sizeof(list[0]);
	return list;
}
