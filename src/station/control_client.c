/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "control_client.h"

#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "clock.h"
#include "control.h"
#include "control_path.h"

enum { ANSWER_WAIT_MS = 10000, ANSWER_ROOM = CONTROL_OUTPUT + CONTROL_LINE };

struct control_client {
	int fd;
	char *path;
	size_t used, len; /* the line given out last, and all that was read */
	char bytes[ANSWER_ROOM];
};

void control_client_free(struct control_client *client)
{
	if (!client)
		return;
	if (client->fd >= 0)
		close(client->fd);
	free(client->path);
	free(client);
}

static enum status connect_to(struct control_client *client, struct error *error)
{
	struct sockaddr_un address;
	char *name;
	int folder = control_folder_open(client->path, &name);
	int failed = 0;

	if (folder < 0)
		return error_set_errno(error, STATUS_BUSY, "no brewspread listens at %s", client->path);
	control_address(&address, folder, name);
	client->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (client->fd < 0 || connect(client->fd, (const struct sockaddr *)&address, sizeof(address)) != 0) {
		failed = errno;
		error_set_errno(error, STATUS_IO, "no brewspread listens at %s", client->path);
	}
	close(folder);
	if (failed == ENOENT || failed == ECONNREFUSED)
		return STATUS_BUSY;
	return failed ? STATUS_IO : STATUS_OK;
}

/* The next line of what the daemon says. */
static enum status line_wait(struct control_client *client, const char **line, struct error *error)
{
	int64_t until = clock_monotonic_us() + ANSWER_WAIT_MS * INT64_C(1000);

	memmove(client->bytes, client->bytes + client->used, client->len - client->used);
	client->len -= client->used;
	client->used = 0;
	for (;;) {
		char *end = memchr(client->bytes, '\n', client->len);
		struct pollfd polled = { .fd = client->fd, .events = POLLIN };
		ssize_t got;

		if (end) {
			*end = '\0';
			*line = client->bytes;
			client->used = (size_t)(end - client->bytes) + 1;
			return STATUS_OK;
		}
		if (poll(&polled, 1, clock_poll_ms(until, clock_monotonic_us())) == 0)
			return error_set(error, STATUS_IO, "%s: no answer within 10 s", client->path);
		got = read(client->fd, client->bytes + client->len, sizeof(client->bytes) - client->len);
		if (got == 0 || client->len == sizeof(client->bytes))
			return error_set(error, STATUS_IO, "%s: the connection ended without an answer", client->path);
		if (got < 0 && errno != EINTR)
			return error_set_errno(error, STATUS_IO, "%s", client->path);
		client->len += got > 0 ? (size_t)got : 0;
	}
}

static enum status greeting_check(struct control_client *client, struct error *error)
{
	const char *line;
	json_t *greeting;
	json_int_t protocol;
	enum status status = line_wait(client, &line, error);

	if (status != STATUS_OK)
		return status;
	greeting = json_loads(line, 0, NULL);
	protocol = json_integer_value(json_object_get(greeting, "protocol"));
	json_decref(greeting);
	if (protocol > CONTROL_PROTOCOL)
		return error_set(error, STATUS_NEWER, "%s: the daemon speaks protocol %lld, this program %d",
		                 client->path, (long long)protocol, CONTROL_PROTOCOL);
	if (protocol < 1)
		return error_set(error, STATUS_IO, "%s: what answers is no brewspread", client->path);
	return STATUS_OK;
}

enum status control_client_open(struct control_client **out, const char *path, struct error *error)
{
	struct control_client *client = malloc(sizeof(*client));
	enum status status = STATUS_OK;

	*out = NULL;
	if (!client)
		return error_set(error, STATUS_MEMORY, "%s: no memory", path);
	client->fd = -1;
	client->used = client->len = 0;
	client->path = strdup(path);
	if (!client->path)
		status = error_set(error, STATUS_MEMORY, "%s: no memory", path);
	if (status == STATUS_OK)
		status = connect_to(client, error);
	if (status == STATUS_OK)
		status = greeting_check(client, error);
	if (status == STATUS_OK)
		*out = client;
	else
		control_client_free(client);
	return status;
}

static enum status request_send(struct control_client *client, const char *request, struct error *error)
{
	char line[CONTROL_LINE + 1];
	size_t len = strlen(request);

	if (len >= CONTROL_LINE || strchr(request, '\n'))
		return error_set(error, STATUS_INVALID, "a request has one line of up to %d bytes", CONTROL_LINE - 1);
	memcpy(line, request, len); /* NOLINT(bugprone-not-null-terminated-result): a line, not a string */
	line[len] = '\n';
	if (send(client->fd, line, len + 1, MSG_NOSIGNAL) != (ssize_t)len + 1)
		return error_set_errno(error, STATUS_IO, "%s", client->path);
	return STATUS_OK;
}

enum status control_client_ask(struct control_client *client, const char *request, const char **answer,
                               struct error *error)
{
	enum status status = request_send(client, request, error);

	return status == STATUS_OK ? line_wait(client, answer, error) : status;
}
