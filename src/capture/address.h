/* SPDX-License-Identifier: GPL-3.0-or-later */
/* address.h: the text that names a source, taken apart; source.h says what may stand in it. */
#ifndef BREWSPREAD_ADDRESS_H
#define BREWSPREAD_ADDRESS_H

#include <stddef.h>
#include <sys/socket.h>

#include "status.h"

enum address_kind { ADDRESS_PATH, ADDRESS_INPUT, ADDRESS_TCP };

enum { ADDRESS_HOSTS = 4 };

struct address_host {
	struct sockaddr_storage name;
	socklen_t len;
};

struct address {
	enum address_kind kind;
	const char *path;                         /* ADDRESS_PATH: shows the text that was parsed */
	struct address_host hosts[ADDRESS_HOSTS]; /* ADDRESS_TCP: what the host's name stands for */
	size_t host_count;
};

/*
 * where is kept, not copied. Looks a host's name up, which may take as long as the name service takes; the host may
 * also be a number. STATUS_INVALID: where makes no sense; STATUS_IO: the name is not known.
 */
enum status address_parse(struct address *out, const char *where, struct error *error) MUST_USE;

#endif
