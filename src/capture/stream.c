/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "stream.h"

#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include "port_failure.h"

static enum source_cause cause_of(enum port_failure failure)
{
	switch (failure) {
	case PORT_OK:
		return SOURCE_CAUSE_NONE;
	case PORT_ABSENT:
		return SOURCE_ABSENT;
	case PORT_DENIED:
		return SOURCE_DENIED;
	case PORT_BUSY:
		return SOURCE_BUSY;
	case PORT_TWICE:
		return SOURCE_TWICE;
	case PORT_AMBIGUOUS:
		return SOURCE_AMBIGUOUS;
	case PORT_CONSOLE:
		return SOURCE_CONSOLE;
	case PORT_NOT_ONE:
		return SOURCE_NO_SOURCE;
	case PORT_NO_MODEM:
		return SOURCE_NO_MODEM;
	case PORT_SETTINGS:
		return SOURCE_SETTINGS;
	case PORT_FAILED:
		return SOURCE_FAILED;
	}
	return SOURCE_FAILED;
}

static enum port_failure terminal_open(struct stream *stream, const char *path, const struct profile *profile,
                                       struct port_error *error)
{
	struct port_name name;
	enum port_failure failure = port_find(&name, path, error);

	stream->kind = SOURCE_KIND_PORT;
	if (failure != PORT_OK)
		return failure;
	if (name.pseudo)
		stream->kind = SOURCE_KIND_PSEUDO;
	memcpy(stream->path, name.path, sizeof(stream->path));
	failure = port_open(&stream->port, &name, &profile->port, profile->ask.len > 0, error);
	if (failure == PORT_OK)
		stream->fd = port_fd(stream->port);
	return failure;
}

static int readable_open(const char *path)
{
	return open(path, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
}

/* A FIFO is taken for this program alone: two readers would each get part of the bytes. */
static enum port_failure fifo_lock(struct stream *stream, const struct stat *file, struct port_error *error)
{
	if (flock(stream->fd, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK)
		return PORT_OK;
	return port_busy(error, stream->path, file);
}

/* What was read of a file before reading it failed was taken: from its beginning it would be taken twice. */
static void file_resume(struct stream *stream, const struct stat *file)
{
	stream->resumed = stream->read_to > 0 && file->st_dev == stream->device && file->st_ino == stream->inode &&
	                  file->st_size >= stream->read_to &&
	                  lseek(stream->fd, stream->read_to, SEEK_SET) == stream->read_to;
	if (!stream->resumed)
		stream->read_to = 0;
	stream->device = file->st_dev;
	stream->inode = file->st_ino;
}

static enum port_failure file_open(struct stream *stream, const char *path, const struct stat *file,
                                   struct port_error *error)
{
	enum port_failure failure = PORT_OK;

	stream->kind = S_ISFIFO(file->st_mode) ? SOURCE_KIND_FIFO : SOURCE_KIND_FILE;
	snprintf(stream->path, sizeof(stream->path), "%s", path);
	if (stream->kind == SOURCE_KIND_FIFO)
		failure = port_refuse_twice(error, path, file);
	if (failure != PORT_OK)
		return failure;
	stream->fd = readable_open(path);
	if (stream->fd < 0)
		return errno == EACCES ? port_denied(error, path) :
		                         port_fail(error, PORT_FAILED, "%s: %s", path, strerror(errno));
	if (stream->kind == SOURCE_KIND_FIFO)
		failure = fifo_lock(stream, file, error);
	else
		file_resume(stream, file);
	return failure;
}

static enum port_failure path_open(struct stream *stream, const char *path, const struct profile *profile,
                                   struct port_error *error)
{
	struct stat file;

	if (stat(path, &file) != 0 || S_ISCHR(file.st_mode))
		return terminal_open(stream, path, profile, error);
	if (S_ISFIFO(file.st_mode) || S_ISREG(file.st_mode))
		return file_open(stream, path, &file, error);
	return port_fail(error, PORT_NOT_ONE, "%s is %s: nothing that a meter's lines come from", path,
	                 S_ISDIR(file.st_mode)  ? "a folder" :
	                 S_ISSOCK(file.st_mode) ? "a socket" :
	                                          "a disk");
}

/* Another descriptor of standard input: its flags are shared with other programs, and left alone. */
static enum port_failure input_open(struct stream *stream, struct port_error *error)
{
	stream->kind = SOURCE_KIND_INPUT;
	snprintf(stream->path, sizeof(stream->path), "standard input");
	stream->fd = fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 3);
	if (stream->fd < 0)
		return port_fail(error, PORT_FAILED, "standard input: %s", strerror(errno));
	return PORT_OK;
}

/* A host that vanishes without a word is noticed after about a minute of silence. */
static void keep_alive(int fd)
{
	int on = 1;
	int idle_s = 30;
	int every_s = 10;
	int tries = 3;

	setsockopt(fd, SOL_SOCKET, SO_KEEPALIVE, &on, sizeof(on));
	setsockopt(fd, IPPROTO_TCP, TCP_KEEPIDLE, &idle_s, sizeof(idle_s));
	setsockopt(fd, IPPROTO_TCP, TCP_KEEPINTVL, &every_s, sizeof(every_s));
	setsockopt(fd, IPPROTO_TCP, TCP_KEEPCNT, &tries, sizeof(tries));
}

static enum source_cause unreachable(struct stream *stream, struct port_error *error, int number)
{
	port_fail(error, PORT_FAILED, "%s: no connection: %s", stream->path, strerror(number));
	stream_close(stream);
	return SOURCE_UNREACHABLE;
}

static enum source_cause tcp_open(struct stream *stream, const struct address *address, size_t attempt,
                                  struct port_error *error)
{
	const struct address_host *host = &address->hosts[attempt % address->host_count];

	stream->kind = SOURCE_KIND_TCP;
	snprintf(stream->path, sizeof(stream->path), "%s", address->path);
	stream->fd = socket(host->name.ss_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
	if (stream->fd < 0)
		return unreachable(stream, error, errno);
	keep_alive(stream->fd);
	if (connect(stream->fd, (const struct sockaddr *)&host->name, host->len) == 0)
		return SOURCE_CAUSE_NONE;
	if (errno != EINPROGRESS)
		return unreachable(stream, error, errno);
	stream->connecting = true;
	return SOURCE_CAUSE_NONE;
}

enum source_cause stream_connected(struct stream *stream, struct port_error *error)
{
	struct pollfd polled = { .fd = stream->fd, .events = POLLOUT };
	int number = ETIMEDOUT;
	socklen_t len = sizeof(number);

	if (poll(&polled, 1, 0) == 1 && getsockopt(stream->fd, SOL_SOCKET, SO_ERROR, &number, &len) != 0)
		number = errno;
	if (number != 0)
		return unreachable(stream, error, number);
	stream->connecting = false;
	return SOURCE_CAUSE_NONE;
}

enum source_cause stream_open(struct stream *stream, const struct address *address, size_t host,
                              const struct profile *profile, struct port_error *error)
{
	enum port_failure failure = PORT_FAILED;

	error->text[0] = '\0';
	stream->resumed = false;
	stream->failed = 0;
	switch (address->kind) {
	case ADDRESS_TCP:
		return tcp_open(stream, address, host, error);
	case ADDRESS_INPUT:
		failure = input_open(stream, error);
		break;
	case ADDRESS_PATH:
		failure = path_open(stream, address->path, profile, error);
		break;
	}
	if (failure != PORT_OK)
		stream_close(stream);
	return cause_of(failure);
}

/* Opens the FIFO anew, without a moment in which nobody has it: its writer's end is no longer seen then. */
static ssize_t fifo_turn(struct stream *stream)
{
	int fd = readable_open(stream->path);
	struct stat old;
	struct stat new;

	if (fd < 0) {
		stream->failed = errno;
		return STREAM_GONE;
	}
	if (fstat(fd, &new) != 0 || fstat(stream->fd, &old) != 0 || new.st_ino != old.st_ino ||
	    new.st_dev != old.st_dev) {
		close(fd);
		return STREAM_GONE;
	}
	close(stream->fd);
	stream->fd = fd;
	if (flock(fd, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK)
		return STREAM_GONE;
	return STREAM_TURN;
}

static ssize_t at_end(struct stream *stream)
{
	switch (stream->kind) {
	case SOURCE_KIND_FIFO:
		return fifo_turn(stream);
	case SOURCE_KIND_FILE:
	case SOURCE_KIND_INPUT:
		return STREAM_END;
	case SOURCE_KIND_UNKNOWN:
	case SOURCE_KIND_PORT:
	case SOURCE_KIND_PSEUDO:
	case SOURCE_KIND_TCP:
		break;
	}
	return STREAM_GONE;
}

/* Standard input may be a descriptor that blocks. */
static bool can_read(const struct stream *stream)
{
	struct pollfd polled = { .fd = stream->fd, .events = POLLIN };

	return stream->kind != SOURCE_KIND_INPUT || poll(&polled, 1, 0) > 0;
}

ssize_t stream_read(struct stream *stream, char *bytes, size_t size)
{
	ssize_t len;

	if (stream->port)
		return port_read(stream->port, bytes, size);
	if (!can_read(stream))
		return STREAM_NOTHING;
	len = read(stream->fd, bytes, size);
	stream->failed = 0;
	if (len > 0) {
		stream->read_to += len;
		return len;
	}
	if (len == 0)
		return at_end(stream);
	if (errno == EAGAIN || errno == EINTR)
		return STREAM_NOTHING;
	stream->failed = errno;
	return stream->kind == SOURCE_KIND_INPUT ? STREAM_END : STREAM_GONE;
}

ssize_t stream_write(struct stream *stream, const char *bytes, size_t len)
{
	ssize_t sent;

	if (stream->port)
		return port_write(stream->port, bytes, len);
	sent = send(stream->fd, bytes, len, MSG_NOSIGNAL | MSG_DONTWAIT);
	if (sent >= 0)
		return sent;
	return errno == EAGAIN || errno == EINTR ? STREAM_NOTHING : STREAM_GONE;
}

bool stream_writable(const struct stream *stream)
{
	return stream->port || stream->kind == SOURCE_KIND_TCP;
}

bool stream_is_terminal(const struct stream *stream)
{
	return stream->port != NULL;
}

void stream_close(struct stream *stream)
{
	if (stream->port)
		port_close(stream->port);
	else if (stream->fd >= 0)
		close(stream->fd);
	stream->port = NULL;
	stream->fd = -1;
	stream->connecting = false;
}
