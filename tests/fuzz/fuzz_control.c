/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a client sends to the daemon's socket, in pieces: a byte 0 ends a piece. */
#include <stdio.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "clock.h"
#include "control.h"
#include "fuzz.h"

static struct control *server;
static struct sockaddr_un address = { .sun_family = AF_UNIX };

static void serve(int64_t us)
{
	struct pollfd polled[CONTROL_POLLED];
	struct moment now = { .wall_us = us, .monotonic_us = us };
	struct control_request request;
	char why[160];

	control_poll(server, polled);
	poll(polled, CONTROL_POLLED, 0);
	control_step(server, polled, &now);
	while (control_next(server, &request)) {
		FUZZ_HOLDS(request.word.len + request.rest.len <= CONTROL_LINE);
		control_answer(server, request.client, "{\"ok\":true}");
	}
	while (control_dropped(server, why, sizeof(why)))
		FUZZ_HOLDS(why[0] != '\0');
}

static void start(void)
{
	struct error error = ERROR_INIT;
	char folder[] = "/tmp/fuzz-XXXXXX";

	if (!mkdtemp(folder))
		abort();
	snprintf(address.sun_path, sizeof(address.sun_path), "%s/control", folder);
	if (control_open(&server, address.sun_path, NULL, &error) != STATUS_OK)
		abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static int64_t now_us = 1000000;
	int client;

	if (!server)
		start();
	client = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
	if (client < 0 || connect(client, (struct sockaddr *)&address, sizeof(address)) != 0)
		abort();
	for (size_t from = 0; from < size;) {
		const uint8_t *end = memchr(data + from, 0, size - from);
		size_t len = end ? (size_t)(end - data) - from : size - from;

		if (len > 0 && write(client, data + from, len) < 0)
			break;
		now_us += 1000;
		serve(now_us);
		from += len + 1;
	}
	close(client);
	now_us += 20000000; /* whatever a half request may still be waited for */
	serve(now_us);
	serve(now_us);
	return 0;
}
