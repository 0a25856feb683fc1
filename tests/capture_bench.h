/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * capture_bench.h: a source under test, its loop, and a pseudo-terminal whose other end the test holds.
 *
 * The loop's clock can be put forward, so that no test waits for a minute.
 */
#ifndef CAPTURE_BENCH_H
#define CAPTURE_BENCH_H

#include "near.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "clock.h"
#include "profile.h"
#include "source.h"

enum { BENCH_EVENTS = 400, BENCH_TEXT = 900 };

struct bench_event {
	enum source_event_type type;
	enum source_cause cause;
	bool stale, damaged, read, again;
	int64_t monotonic_us;
	size_t len;
	char text[BENCH_TEXT]; /* raw bytes of a line, NUL behind them; else the text */
};

struct bench {
	struct profile *profile;
	struct profile_scratch *scratch;
	struct source *source;
	struct pollfd polled;
	int64_t ahead_us;  /* of the real clocks */
	int64_t asleep_us; /* the machine was, in the test's world */
	struct bench_event events[BENCH_EVENTS];
	size_t count;
	size_t seen; /* events that bench_await() has passed */
};

#define BENCH_PATTERN "[line]\npattern = R (?<seq>\\d{4}) (?<value>\\d\\.\\d\\d) % (?<temp>\\d\\d\\.\\d) C\n"

static inline struct profile *bench_profile(const char *ini)
{
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct profile *profile;

	if (profile_parse(&profile, slice_from(ini), "test.ini", &faults, &error) != STATUS_OK)
		fail_msg("profile: %s", faults.count ? faults.items[0].text : error.text);
	faults_release(&faults);
	return profile;
}

/* A source of where, read with the profile ini; NULL: the reference pattern, lines of any end. */
static inline struct bench *bench_start(const char *where, const char *ini, enum source_stale stale)
{
	struct bench *bench = calloc(1, sizeof(*bench));
	struct source_request request = { .where = where, .stale = stale };
	struct error error = ERROR_INIT;

	assert_non_null(bench);
	bench->profile = bench_profile(ini ? ini : BENCH_PATTERN);
	bench->scratch = profile_scratch_new(bench->profile);
	assert_non_null(bench->scratch);
	request.profile = bench->profile;
	if (source_new(&bench->source, &request, &error) != STATUS_OK)
		fail_msg("source: %s", error.text);
	bench->polled.fd = -1;
	return bench;
}

static inline void bench_end(struct bench *bench)
{
	source_free(bench->source);
	profile_scratch_free(bench->scratch);
	profile_free(bench->profile);
	free(bench);
}

static inline struct moment bench_now(const struct bench *bench)
{
	struct moment now = moment_now();

	now.monotonic_us += bench->ahead_us;
	now.boottime_us += bench->ahead_us + bench->asleep_us;
	now.wall_us += bench->ahead_us + bench->asleep_us;
	return now;
}

static inline void bench_keep(struct bench *bench, const struct source_event *event, bool read)
{
	struct bench_event *kept = &bench->events[bench->count];
	struct slice text = slice_from(event->text);

	if (event->type == SOURCE_LINE || event->type == SOURCE_BROKEN)
		text = event->line.raw;
	assert_true(bench->count < BENCH_EVENTS);
	kept->type = event->type;
	kept->cause = event->cause;
	kept->stale = event->stale;
	kept->damaged = event->damaged;
	kept->again = event->line.again;
	kept->read = read;
	kept->monotonic_us = event->when.monotonic_us;
	kept->len = text.len;
	if (text.len > 0)
		memcpy(kept->text, text.text, text.len < BENCH_TEXT ? text.len : BENCH_TEXT - 1);
	bench->count++;
}

static inline void bench_drain(struct bench *bench)
{
	struct source_event event;

	while (source_next(bench->source, &event)) {
		struct profile_reading reading;
		bool read = event.type == SOURCE_LINE && !event.damaged &&
		            profile_match(bench->profile, bench->scratch, event.line.text, &reading) == LINE_READING;

		bench_keep(bench, &event, read);
		if (event.type == SOURCE_LINE)
			source_judge(bench->source, read);
	}
}

/* One turn of the loop, waiting limit_ms at most. */
static inline void bench_turn(struct bench *bench, int limit_ms)
{
	struct moment now = bench_now(bench);
	int wait_ms = clock_poll_ms(source_deadline_us(bench->source), now.monotonic_us);

	source_poll(bench->source, &bench->polled);
	if (wait_ms < 0 || wait_ms > limit_ms)
		wait_ms = limit_ms;
	assert_true(poll(&bench->polled, 1, wait_ms) >= 0);
	now = bench_now(bench);
	source_step(bench->source, bench->polled.revents, &now);
	bench_drain(bench);
}

static inline void bench_run(struct bench *bench, int ms)
{
	int64_t until_us = clock_monotonic_us() + ms * 1000;

	while (clock_monotonic_us() < until_us)
		bench_turn(bench, clock_poll_ms(until_us, clock_monotonic_us()));
}

/* Puts the clock of the loop forward and lets it do what is due then. */
static inline void bench_skip(struct bench *bench, int ms)
{
	bench->ahead_us += (int64_t)ms * 1000;
	bench_turn(bench, 0);
	bench_turn(bench, 0);
}

/* The next event of that type after those that were awaited before, at most 5 s from now. */
static inline struct bench_event *bench_await(struct bench *bench, enum source_event_type type)
{
	int64_t until_us = clock_monotonic_us() + 5000000;

	for (;;) {
		while (bench->seen < bench->count)
			if (bench->events[bench->seen++].type == type)
				return &bench->events[bench->seen - 1];
		if (clock_monotonic_us() >= until_us)
			break;
		bench_turn(bench, 20);
	}
	for (size_t i = 0; i < bench->count; i++)
		print_message("# event %d: %s\n", bench->events[i].type, bench->events[i].text);
	fail_msg("no event of type %d came", type);
	return NULL;
}

static inline size_t bench_count(const struct bench *bench, enum source_event_type type)
{
	size_t count = 0;

	for (size_t i = 0; i < bench->count; i++)
		count += bench->events[i].type == type;
	return count;
}

static inline size_t bench_readings(const struct bench *bench)
{
	size_t count = 0;

	for (size_t i = 0; i < bench->count; i++)
		count += bench->events[i].read && !bench->events[i].stale;
	return count;
}

/* Does a checker run the program, which takes many times as long then? */
static inline bool bench_is_slow(void)
{
	const char *wrapper = getenv("TEST_WRAPPER");
	const char *sanitized = getenv("SANITIZED");

	return (wrapper && wrapper[0]) || (sanitized && sanitized[0]);
}

static inline void assert_says(const char *text, const char *word)
{
	if (!strstr(text, word))
		fail_msg("\"%s\" does not say \"%s\"", text, word);
}

/* The meter's end of a pseudo-terminal, and a link to the other. */
struct bench_pty {
	int master; /* -1: pulled */
	char name[64];
	char link[256];
};

static inline const char *bench_folder(void)
{
	const char *folder = getenv("TMPDIR");

	return folder ? folder : "/tmp";
}

/* Makes one and, under link, which may be NULL, a link to it. */
static inline struct bench_pty pty_plug(const char *link)
{
	struct bench_pty pty = { .master = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC) };
	struct termios terminal;

	assert_true(pty.master >= 0);
	assert_int_equal(grantpt(pty.master), 0);
	assert_int_equal(unlockpt(pty.master), 0);
	assert_int_equal(tcgetattr(pty.master, &terminal), 0);
	cfmakeraw(&terminal);
	assert_int_equal(tcsetattr(pty.master, TCSANOW, &terminal), 0);
	assert_int_equal(ptsname_r(pty.master, pty.name, sizeof(pty.name)), 0);
	if (link) {
		snprintf(pty.link, sizeof(pty.link), "%s/%s-%ld", bench_folder(), link, (long)getpid());
		unlink(pty.link);
		assert_int_equal(symlink(pty.name, pty.link), 0);
	}
	return pty;
}

static inline void pty_pull(struct bench_pty *pty)
{
	if (pty->master >= 0)
		close(pty->master);
	pty->master = -1;
	if (pty->link[0])
		unlink(pty->link);
}

/* Sends all of it, letting the loop of bench read meanwhile. */
static inline void pty_send(const struct bench_pty *pty, struct bench *bench, const char *bytes, size_t len)
{
	for (size_t at = 0; at < len;) {
		ssize_t sent = write(pty->master, bytes + at, len - at);

		if (sent > 0) {
			at += (size_t)sent;
			continue;
		}
		assert_int_equal(errno, EAGAIN);
		bench_turn(bench, 1);
	}
}

/* A text that fits the terminal's buffers. */
static inline void pty_say(const struct bench_pty *pty, const char *text)
{
	assert_int_equal(write(pty->master, text, strlen(text)), strlen(text));
}

/* All bytes of fixtures/captures/name, from malloc(). */
static inline char *capture_load(const char *name, size_t *len)
{
	char path[256];
	FILE *file;
	char *bytes = malloc(1 << 17);

	snprintf(path, sizeof(path), "fixtures/captures/%s", name);
	file = fopen(path, "rb");
	assert_non_null(file);
	assert_non_null(bytes);
	*len = fread(bytes, 1, 1 << 17, file);
	assert_true(*len > 0);
	fclose(file);
	return bytes;
}

#endif
