/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "output.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include "clock.h"

enum { PIECE = 4096 }; /* PIPE_BUF: a pipe that poll() calls writable takes so much without waiting */

void output_init(struct output *output, int fd, size_t most)
{
	char path[40];

	*output = (struct output){ .fd = fd, .most = most };
	if (fd < 0 || !isatty(fd))
		return;
	snprintf(path, sizeof(path), "/proc/self/fd/%d", fd);
	fd = open(path, O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
	if (fd < 0)
		return;
	output->fd = fd;
	output->own = true;
}

void output_init_socket(struct output *output, int fd, size_t most)
{
	*output = (struct output){ .fd = fd, .most = most, .socket = true };
}

/* Room for len bytes more behind those that are kept; NULL: there is none. */
static char *room_make(struct output *output, size_t len)
{
	char *room;

	if (!output->bytes)
		output->bytes = malloc(output->most);
	output->no_memory = !output->bytes;
	if (output->bytes && output->at > 0 && output->len + len > output->most) {
		memmove(output->bytes, output->bytes + output->at, output->len - output->at);
		output->len -= output->at;
		output->at = 0;
	}
	if (!output->bytes || output->len + len > output->most) {
		output->refused++;
		return NULL;
	}
	room = output->bytes + output->len;
	output->len += len;
	return room;
}

bool output_add(struct output *output, const char *line, size_t len)
{
	char *room;

	if (output->fd < 0 || output->broken)
		return true;
	room = room_make(output, len);
	if (room)
		memcpy(room, line, len); /* NOLINT(bugprone-not-null-terminated-result): a line, not a string */
	return room != NULL;
}

bool output_add_line(struct output *output, const char *line)
{
	size_t len = strlen(line);
	char *room;

	if (output->fd < 0 || output->broken)
		return true;
	room = room_make(output, len + 1);
	if (!room)
		return false;
	memcpy(room, line, len); /* NOLINT(bugprone-not-null-terminated-result): a line, not a string */
	room[len] = '\n';
	return true;
}

static bool writable_now(const struct output *output)
{
	struct pollfd polled = { .fd = output->fd, .events = POLLOUT };

	return poll(&polled, 1, 0) == 1;
}

static ssize_t piece_write(const struct output *output)
{
	size_t len = output->len - output->at;

	if (output->socket)
		return send(output->fd, output->bytes + output->at, len, MSG_NOSIGNAL | MSG_DONTWAIT);
	return write(output->fd, output->bytes + output->at, len < PIECE ? len : PIECE);
}

bool output_flush(struct output *output)
{
	while (output->at < output->len && !output->broken && writable_now(output)) {
		ssize_t written = piece_write(output);

		if (written > 0)
			output->at += (size_t)written;
		else if (written < 0 && errno == EAGAIN)
			break;
		else if (written < 0 && errno != EINTR) {
			output->broken = true;
			output->why = errno;
		}
	}
	if (output->at == output->len || output->broken)
		output->at = output->len = 0;
	return !output->broken;
}

bool output_waits(const struct output *output)
{
	return output->at < output->len;
}

void output_finish(struct output *output, int wait_ms)
{
	int64_t until = clock_monotonic_us() + (int64_t)wait_ms * 1000;

	while (output_flush(output) && output_waits(output)) {
		struct pollfd polled = { .fd = output->fd, .events = POLLOUT };
		int64_t now = clock_monotonic_us();

		if (now >= until || poll(&polled, 1, clock_poll_ms(until, now)) == 0)
			break;
	}
	output->at = output->len = 0;
}

void output_release(struct output *output)
{
	if (output->own)
		close(output->fd);
	free(output->bytes);
	*output = (struct output){ .fd = -1 };
}
