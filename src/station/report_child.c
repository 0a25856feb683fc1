/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report_child.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

enum { REPORT_NICE = 10, EXIT_WITH_FAULTS = 1 };

void report_child_init(struct report_child *child, const char *bench)
{
	*child = (struct report_child){ .bench = bench, .said_fd = -1 };
}

/* The last line of what it said is the reason, if there is one. */
static void said_settle(struct report_child *child)
{
	char *line;

	child->said[child->said_len] = '\0';
	while (child->said_len > 0 && child->said[child->said_len - 1] == '\n')
		child->said[--child->said_len] = '\0';
	line = strrchr(child->said, '\n');
	if (line)
		memmove(child->said, line + 1, strlen(line + 1) + 1);
}

static void start_failed(struct report_child *child, int why)
{
	child->failed = true;
	snprintf(child->said, sizeof(child->said), "it can't be started: %s", strerror(why));
}

/* In the new process: no signal blocked, none ignored, nothing to read, its standard error ours to read. */
static int child_spawn(struct report_child *child, int said)
{
	char report[] = "report", option[] = "--bench", dashes[] = "--", name[] = "brewspread";
	char *words[] = { name, report, option, (char *)(uintptr_t)child->bench, dashes, child->run, NULL };
	posix_spawn_file_actions_t actions;
	posix_spawnattr_t attributes;
	sigset_t none, all;
	int failed;

	sigemptyset(&none);
	sigfillset(&all);
	posix_spawn_file_actions_init(&actions);
	posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
	posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
	posix_spawn_file_actions_adddup2(&actions, said, STDERR_FILENO);
	posix_spawnattr_init(&attributes);
	posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETPGROUP);
	posix_spawnattr_setsigmask(&attributes, &none);
	posix_spawnattr_setsigdefault(&attributes, &all);
	failed = posix_spawn(&child->pid, "/proc/self/exe", &actions, &attributes, words, environ);
	posix_spawnattr_destroy(&attributes);
	posix_spawn_file_actions_destroy(&actions);
	return failed;
}

static void child_start(struct report_child *child)
{
	int said[2];
	int failed;

	child->again = false;
	child->said_len = 0;
	if (pipe2(said, O_CLOEXEC) != 0) {
		start_failed(child, errno);
		return;
	}
	fcntl(said[0], F_SETFL, O_NONBLOCK);
	failed = child_spawn(child, said[1]);
	close(said[1]);
	if (failed) {
		child->pid = 0;
		close(said[0]);
		start_failed(child, failed);
		return;
	}
	child->said_fd = said[0];
	setpriority(PRIO_PROCESS, (id_t)child->pid, REPORT_NICE);
}

void report_child_want(struct report_child *child, const char *run)
{
	snprintf(child->run, sizeof(child->run), "%s", run);
	child->again = true;
}

int report_child_fd(const struct report_child *child)
{
	return child->said_fd;
}

bool report_child_busy(const struct report_child *child)
{
	return child->pid != 0 || child->again;
}

/* Keeps the end of what it says. False: it says no more. */
static bool said_read(struct report_child *child)
{
	char bytes[REPORT_SAID / 2];
	ssize_t got;

	while ((got = read(child->said_fd, bytes, sizeof(bytes))) > 0) {
		size_t len = (size_t)got;
		size_t room = sizeof(child->said) - 1;

		if (child->said_len + len > room) {
			size_t gone = child->said_len + len - room;

			memmove(child->said, child->said + gone, child->said_len - gone);
			child->said_len -= gone;
		}
		memcpy(child->said + child->said_len, bytes, len);
		child->said_len += len;
	}
	return got < 0 && (errno == EAGAIN || errno == EINTR);
}

static enum report_news child_ended(struct report_child *child, int status, const struct moment *now)
{
	child->pid = 0;
	if (child->said_fd >= 0) {
		said_read(child);
		close(child->said_fd);
	}
	child->said_fd = -1;
	said_settle(child);
	child->failed = !WIFEXITED(status) || WEXITSTATUS(status) > EXIT_WITH_FAULTS;
	if (WIFSIGNALED(status))
		snprintf(child->said, sizeof(child->said), "its process was ended by signal %d", WTERMSIG(status));
	if (!child->failed)
		child->written_us = now->wall_us;
	return child->failed ? REPORT_FAILED : REPORT_WRITTEN;
}

enum report_news report_child_step(struct report_child *child, const struct moment *now)
{
	enum report_news news = REPORT_NO_NEWS;
	int status;

	if (child->said_fd >= 0 && !said_read(child)) {
		close(child->said_fd);
		child->said_fd = -1;
	}
	if (child->pid != 0 && waitpid(child->pid, &status, WNOHANG) == child->pid)
		news = child_ended(child, status, now);
	if (child->again && child->pid == 0) {
		child_start(child);
		if (child->pid == 0)
			news = REPORT_FAILED;
	}
	return news;
}

void report_child_finish(struct report_child *child, int wait_ms)
{
	struct moment now = moment_now();
	int64_t until = now.monotonic_us + wait_ms * INT64_C(1000);

	while (report_child_busy(child) && now.monotonic_us < until) {
		struct pollfd polled = { .fd = child->said_fd, .events = POLLIN };

		report_child_step(child, &now);
		poll(&polled, 1, 10);
		now = moment_now();
	}
	if (child->said_fd >= 0)
		close(child->said_fd);
	child->said_fd = -1;
}
