/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "control.h"

#include <errno.h>
#include <fcntl.h>
#include <grp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "control_path.h"
#include "output.h"

#define SECOND_US INT64_C(1000000)

enum { REASONS = 8 };

struct client {
	int fd; /* -1: free */
	char in[CONTROL_LINE + 1];
	size_t len;      /* of what was read */
	size_t used;     /* of it: the requests that were given out */
	int64_t half_us; /* since when a request is unfinished; 0: none is */
	int64_t heard_us;
	int64_t second_us; /* when the second of requests began */
	unsigned requests; /* in it */
	bool follows;
	char meter[CONTROL_METER];
	struct output output;
};

struct control {
	int fd;
	int folder; /* locked */
	char *path;
	char *name; /* of the socket in its folder; shows path */
	int64_t now_us;
	size_t turn; /* the client that is served first */
	struct client clients[CONTROL_CLIENTS];
	int64_t closed_until_us; /* nobody is let in until then; 0: who comes is */
	bool closed;             /* nobody could be let in, the last time */
	char reasons[REASONS][160];
	size_t reason_count;
};

static void reason_note(struct control *control, const char *what, const char *reason)
{
	if (control->reason_count < REASONS)
		snprintf(control->reasons[control->reason_count++], sizeof(control->reasons[0]), "%s: %s", what,
		         reason);
}

bool control_dropped(struct control *control, char *out, size_t size)
{
	if (control->reason_count == 0)
		return false;
	snprintf(out, size, "%s", control->reasons[--control->reason_count]);
	return true;
}

/* The socket is made for its owner alone; who else may use it comes after that. */
static enum status socket_share(struct control *control, const char *group, struct error *error)
{
	struct group *found;

	if (!group)
		return STATUS_OK;
	errno = 0;
	found = getgrnam(group);
	if (!found)
		return error_set(error, STATUS_INVALID, "no group is called \"%s\"; expected one of this machine",
		                 group);
	if (fchownat(control->folder, control->name, (uid_t)-1, found->gr_gid, AT_SYMLINK_NOFOLLOW) != 0 ||
	    fchmodat(control->folder, control->name, 0660, 0) != 0)
		return error_set_errno(error, STATUS_IO, "%s for group %s", control->path, group);
	return STATUS_OK;
}

static enum status socket_make(struct control *control, const char *group, struct error *error)
{
	struct sockaddr_un address;
	mode_t mask;
	int failed;

	control->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
	if (control->fd < 0)
		return error_set_errno(error, STATUS_IO, "%s", control->path);
	control_address(&address, control->folder, control->name);
	/* the lock tells that whoever made it is gone */
	if (unlinkat(control->folder, control->name, 0) != 0 && errno != ENOENT)
		return error_set_errno(error, STATUS_IO, "%s", control->path);
	mask = umask(0177);
	failed = bind(control->fd, (const struct sockaddr *)&address, sizeof(address));
	umask(mask);
	if (failed || listen(control->fd, CONTROL_CLIENTS) != 0)
		return error_set_errno(error, STATUS_IO, "%s", control->path);
	return socket_share(control, group, error);
}

static enum status folder_lock(struct control *control, struct error *error)
{
	control->folder = control_folder_open(control->path, &control->name);
	if (control->folder < 0)
		return error_set_errno(error, STATUS_IO, "%s", control->path);
	if (flock(control->folder, LOCK_EX | LOCK_NB) != 0)
		return error_set(error, STATUS_BUSY, "%s: another brewspread listens here already", control->path);
	return STATUS_OK;
}

enum status control_open(struct control **out, const char *path, const char *group, struct error *error)
{
	struct control *control = calloc(1, sizeof(*control));
	enum status status;

	*out = NULL;
	if (!control)
		return error_set(error, STATUS_MEMORY, "%s: no memory", path);
	control->fd = control->folder = -1;
	for (size_t i = 0; i < CONTROL_CLIENTS; i++)
		control->clients[i].fd = -1;
	control->path = strdup(path);
	status = control->path ? folder_lock(control, error) : error_set(error, STATUS_MEMORY, "%s: no memory", path);
	if (status == STATUS_OK)
		status = socket_make(control, group, error);
	if (status == STATUS_OK)
		*out = control;
	else
		control_free(control);
	return status;
}

static void client_close(struct client *client)
{
	if (client->fd < 0)
		return;
	output_flush(&client->output);
	output_release(&client->output);
	close(client->fd);
	client->fd = -1;
}

static void client_drop(struct control *control, struct client *client, const char *reason)
{
	char told[160];
	int len = snprintf(told, sizeof(told), "{\"ok\":false,\"error\":\"%s\"}\n", reason);

	output_add(&client->output, told, (size_t)len);
	reason_note(control, "a client of the control socket lost its connection", reason);
	client_close(client);
}

void control_free(struct control *control)
{
	if (!control)
		return;
	for (size_t i = 0; i < CONTROL_CLIENTS; i++)
		client_close(&control->clients[i]);
	if (control->fd >= 0) {
		close(control->fd);
		unlinkat(control->folder, control->name, 0);
	}
	if (control->folder >= 0)
		close(control->folder);
	free(control->path);
	free(control);
}

/* Is it kept waiting, since it asked for too much in this second? */
static bool throttled(const struct client *client, int64_t now_us)
{
	return client->requests >= CONTROL_REQUESTS && now_us < client->second_us + SECOND_US;
}

static bool has_request(const struct client *client)
{
	return memchr(client->in + client->used, '\n', client->len - client->used) != NULL;
}

void control_poll(const struct control *control, struct pollfd *polled)
{
	polled[0] = (struct pollfd){ .fd = control->closed_until_us == 0 ? control->fd : -1, .events = POLLIN };
	for (size_t i = 0; i < CONTROL_CLIENTS; i++) {
		const struct client *client = &control->clients[i];
		short events = 0;

		if (!throttled(client, control->now_us) && client->len < CONTROL_LINE + 1)
			events = POLLIN;
		if (client->fd >= 0 && output_waits(&client->output))
			events |= POLLOUT;
		/* a hang-up is told without being asked for: a client that is kept waiting must not spin the loop */
		polled[i + 1] = (struct pollfd){ .fd = events ? client->fd : -1, .events = events };
	}
}

int64_t control_deadline_us(const struct control *control)
{
	int64_t deadline = control->closed_until_us != 0 ? control->closed_until_us : CLOCK_NEVER;

	for (size_t i = 0; i < CONTROL_CLIENTS; i++) {
		const struct client *client = &control->clients[i];
		int64_t due = CLOCK_NEVER;

		if (client->fd < 0)
			continue;
		if (has_request(client))
			due = throttled(client, control->now_us) ? client->second_us + SECOND_US : 0;
		else if (throttled(client, control->now_us))
			due = client->second_us + SECOND_US;
		else if (client->half_us != 0)
			due = client->half_us + CONTROL_HALF_LINE_MS * INT64_C(1000);
		deadline = due < deadline ? due : deadline;
	}
	return deadline;
}

/* A place for one more client: a free one, else that of the one that was silent for longest. */
static struct client *place_find(struct control *control)
{
	struct client *silent = NULL;

	for (size_t i = 0; i < CONTROL_CLIENTS; i++) {
		struct client *client = &control->clients[i];

		if (client->fd < 0)
			return client;
		if (!client->follows && (!silent || client->heard_us < silent->heard_us))
			silent = client;
	}
	if (silent)
		client_drop(control, silent, "it was silent for longest, and others wanted in");
	return silent;
}

/* A client that can't be let in stays at the door, which poll() would tell of without end. */
static void accept_failed(struct control *control, int number)
{
	if (number != EMFILE && number != ENFILE && number != ENOBUFS && number != ENOMEM)
		return;
	control->closed_until_us = control->now_us + SECOND_US;
	if (!control->closed)
		reason_note(control, "a client of the control socket has to wait", strerror(number));
	control->closed = true;
}

static void client_accept(struct control *control)
{
	int fd = accept4(control->fd, NULL, NULL, SOCK_NONBLOCK | SOCK_CLOEXEC);
	struct client *client;
	char greeting[64];
	int len;

	if (fd < 0) {
		accept_failed(control, errno);
		return;
	}
	control->closed = false;
	client = place_find(control);
	if (!client) {
		close(fd);
		return;
	}
	*client = (struct client){ .fd = fd, .heard_us = control->now_us };
	output_init_socket(&client->output, fd, CONTROL_OUTPUT);
	len = snprintf(greeting, sizeof(greeting), "{\"brewspread\":\"control\",\"protocol\":%d}\n", CONTROL_PROTOCOL);
	output_add(&client->output, greeting, (size_t)len);
}

static void client_read(struct control *control, struct client *client)
{
	ssize_t got;

	memmove(client->in, client->in + client->used, client->len - client->used);
	client->len -= client->used;
	client->used = 0;
	got = recv(client->fd, client->in + client->len, sizeof(client->in) - client->len, MSG_DONTWAIT);
	if (got == 0 || (got < 0 && errno != EAGAIN && errno != EINTR)) {
		client_close(client);
		return;
	}
	if (got < 0)
		return;
	client->len += (size_t)got;
	client->heard_us = control->now_us;
	if (has_request(client))
		client->half_us = 0;
	else if (client->len > CONTROL_LINE)
		client_drop(control, client, "a request is longer than 1024 bytes");
	else if (client->half_us == 0)
		client->half_us = control->now_us;
}

static void client_step(struct control *control, struct client *client, short revents)
{
	if (!output_flush(&client->output)) {
		client_close(client);
		return;
	}
	if (revents & (POLLIN | POLLHUP | POLLERR))
		client_read(control, client);
	else if (client->half_us != 0 && control->now_us >= client->half_us + CONTROL_HALF_LINE_MS * INT64_C(1000) &&
	         !has_request(client))
		client_drop(control, client, "a request did not end within 10 s");
}

void control_step(struct control *control, const struct pollfd *polled, const struct moment *now)
{
	control->now_us = now->monotonic_us;
	for (size_t i = 0; i < CONTROL_CLIENTS; i++)
		if (control->clients[i].fd >= 0)
			client_step(control, &control->clients[i], polled[i + 1].revents);
	if (control->closed_until_us != 0 && control->now_us >= control->closed_until_us)
		control->closed_until_us = 0;
	if (polled[0].revents)
		client_accept(control);
}

/* Takes the next line out of what the client sent. False: there is none, or it is not its turn. */
static bool line_take(struct control *control, struct client *client, struct slice *line)
{
	char *from = client->in + client->used;
	char *end;

	if (client->fd < 0 || throttled(client, control->now_us))
		return false;
	end = memchr(from, '\n', client->len - client->used);
	if (!end)
		return false;
	if (control->now_us >= client->second_us + SECOND_US) {
		client->second_us = control->now_us;
		client->requests = 0;
	}
	client->requests++;
	*line = slice_trim((struct slice){ from, (size_t)(end - from) });
	client->used += (size_t)(end - from) + 1;
	client->half_us = client->used < client->len ? control->now_us : 0;
	return true;
}

static void words_split(struct control_request *out, struct slice line)
{
	size_t len = 0;

	while (len < line.len && line.text[len] != ' ' && line.text[len] != '\t')
		len++;
	out->word = slice_part(line, 0, len);
	out->rest = slice_trim(slice_part(line, len, line.len));
}

bool control_next(struct control *control, struct control_request *out)
{
	for (size_t i = 0; i < CONTROL_CLIENTS; i++) {
		size_t number = (control->turn + i) % CONTROL_CLIENTS;
		struct client *client = &control->clients[number];
		struct slice line;

		if (!line_take(control, client, &line))
			continue;
		*out = (struct control_request){ .client = number, .meter = client->meter };
		words_split(out, line);
		control->turn = number + 1; /* the others come first then */
		return true;
	}
	return false;
}

static void client_send(struct control *control, struct client *client, const char *json)
{
	size_t len = strlen(json);

	if (client->fd < 0)
		return;
	if (client->output.len - client->output.at + len + 1 > CONTROL_OUTPUT) {
		client_drop(control, client, "it does not read what it is told");
		return;
	}
	output_add(&client->output, json, len);
	output_add(&client->output, "\n", 1);
	if (!output_flush(&client->output))
		client_close(client);
}

void control_answer(struct control *control, size_t client, const char *json)
{
	client_send(control, &control->clients[client], json);
}

void control_follow(struct control *control, size_t client)
{
	control->clients[client].follows = true;
}

bool control_followed(const struct control *control)
{
	for (size_t i = 0; i < CONTROL_CLIENTS; i++)
		if (control->clients[i].fd >= 0 && control->clients[i].follows)
			return true;
	return false;
}

void control_tell(struct control *control, const char *json)
{
	for (size_t i = 0; i < CONTROL_CLIENTS; i++)
		if (control->clients[i].follows)
			client_send(control, &control->clients[i], json);
}
