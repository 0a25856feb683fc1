/* SPDX-License-Identifier: GPL-3.0-or-later */
/* control_client.h: asking the daemon, over its socket. docs/control.md tells what can be asked. */
#ifndef BREWSPREAD_CONTROL_CLIENT_H
#define BREWSPREAD_CONTROL_CLIENT_H

#include "status.h"

struct control_client;

/*
 * Connects to the socket at path. *out is NULL on every failure, else the caller's: control_client_free().
 * STATUS_BUSY: no daemon runs there. STATUS_NEWER: it speaks a later protocol. STATUS_IO, STATUS_MEMORY: error.
 */
enum status control_client_open(struct control_client **out, const char *path, struct error *error) MUST_USE;

/* Takes NULL. */
void control_client_free(struct control_client *client);

/*
 * Sends request, one line without its end, and waits for the answer, one line of JSON without its end, up to 10 s.
 * *answer shows client's memory and holds until the next call with it. STATUS_INVALID: request has a line end in it.
 */
enum status control_client_ask(struct control_client *client, const char *request, const char **answer,
                               struct error *error) MUST_USE;

#endif
