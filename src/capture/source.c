/* SPDX-License-Identifier: GPL-3.0-or-later */
/* source.c: opening, reading, waiting: a state with a timer. */
#include "source.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "source_private.h"

#define SECOND_US 1000000

/* All in µs. */
enum {
	BACKOFF_FIRST = SECOND_US / 4,
	BACKOFF_ABSENT = SECOND_US, /* to look whether a path is there costs next to nothing */
	BACKOFF_MOST = 5 * SECOND_US,
	CONNECT_LIMIT = 5 * SECOND_US,
	STAYED = 5 * SECOND_US,        /* a port that was open for so long did not just flicker */
	VANISHED_SOON = 5 * SECOND_US, /* after it appeared */
	BUSY_SOON = 30 * SECOND_US,    /* after it appeared */
	SLEPT_AT_LEAST = SECOND_US,
	DRAIN_PAUSE = SECOND_US / 10, /* between what stood in full buffers and what is fresh */
	DRAINED = SECOND_US / 2,      /* after an opening, however much stood in the buffers */
	NOTE_EVERY = 60 * SECOND_US,
};

enum { BUFFERS_FULL = 4000 }; /* the kernel's buffer of a terminal has 4096 bytes, and more behind it */

const char *source_kind_name(enum source_kind kind)
{
	switch (kind) {
	case SOURCE_KIND_UNKNOWN:
		return "unknown";
	case SOURCE_KIND_PORT:
		return "serial port";
	case SOURCE_KIND_PSEUDO:
		return "pseudo-terminal";
	case SOURCE_KIND_FIFO:
		return "FIFO";
	case SOURCE_KIND_FILE:
		return "file";
	case SOURCE_KIND_INPUT:
		return "standard input";
	case SOURCE_KIND_TCP:
		return "network";
	}
	return "";
}

enum status source_new(struct source **out, const struct source_request *request, struct error *error)
{
	struct source *source = calloc(1, sizeof(*source));
	struct slice name = request->name.len > 0 ? request->name : slice_from(request->where);
	enum status status;

	*out = NULL;
	if (source) {
		source->stream = (struct stream)STREAM_INIT;
		source->where = strdup(request->where);
		source->name = slice_string(name);
	}
	if (!source || !source->where || !source->name) {
		source_free(source);
		return error_set(error, STATUS_MEMORY, "no memory for source %s", request->where);
	}
	source->profile = request->profile;
	source->policy = request->stale;
	source->backoff_us = BACKOFF_FIRST;
	lines_init(&source->lines, request->profile->line_end, request->profile->gap_ms);
	diagnosis_init(&source->diagnosis);
	status = address_parse(&source->address, source->where, error);
	if (status != STATUS_OK)
		source_free(source);
	else
		*out = source;
	return status;
}

void source_free(struct source *source)
{
	if (!source)
		return;
	stream_close(&source->stream);
	free(source->where);
	free(source->name);
	free(source);
}

static void backoff(struct source *source, int64_t most, const struct moment *now)
{
	if (source->backoff_us > most)
		source->backoff_us = most;
	source->phase_us = now->monotonic_us + source->backoff_us;
	source->backoff_us = source->backoff_us * 2 < BACKOFF_MOST ? source->backoff_us * 2 : BACKOFF_MOST;
}

/* How long ago what the path names appeared; -1: not known. */
static int64_t age_us(const struct source *source, const struct moment *now)
{
	return source->appeared_us > 0 ? now->monotonic_us - source->appeared_us : -1;
}

static const char *vanish_hint(char *out, size_t size, const struct source *source, const struct moment *now)
{
	int64_t age = age_us(source, now);

	out[0] = '\0';
	if (age >= 0 && age < VANISHED_SOON)
		snprintf(
			out, size,
			"; it vanished %.1f s after it had appeared: where brltty is installed, it takes adapters with "
			"a CH340 chip for Braille displays, and has to be removed or told not to",
			(double)age / SECOND_US);
	return out;
}

static const char *busy_hint(char *out, size_t size, const struct source *source, const struct moment *now)
{
	int64_t age = age_us(source, now);

	out[0] = '\0';
	if (age >= 0 && age < BUSY_SOON)
		snprintf(
			out, size, "%s",
			"; it has only just appeared: where ModemManager is installed, it holds every new port for some "
			"seconds, unless a udev rule (ID_MM_DEVICE_IGNORE) keeps it off");
	return out;
}

/* When the file at path was made, by its change time; 0: not within the last half minute. */
static int64_t made_us(const char *path, const struct moment *now)
{
	struct stat file;
	int64_t age;

	if (stat(path, &file) != 0)
		return 0;
	age = now->wall_us - ((int64_t)file.st_ctim.tv_sec * SECOND_US + file.st_ctim.tv_nsec / 1000);
	return age >= 0 && age < BUSY_SOON && age < now->monotonic_us ? now->monotonic_us - age : 0;
}

static void presence_note(struct source *source, bool present, const struct moment *now)
{
	if (source->address.kind != ADDRESS_PATH)
		return;
	if (present && !source->present) {
		source->appeared_us = source->looked ? now->monotonic_us : made_us(source->where, now);
		source->backoff_us = BACKOFF_FIRST;
	}
	source->present = present;
	source->looked = true;
}

/* Could not be opened. */
static void wait_for(struct source *source, enum source_cause cause, const char *why, const struct moment *now)
{
	bool was_there = source->present;
	char hint[300] = "";
	char text[SOURCE_TEXT];

	presence_note(source, cause != SOURCE_ABSENT, now);
	if (cause == SOURCE_ABSENT && was_there)
		vanish_hint(hint, sizeof(hint), source, now);
	else if (cause == SOURCE_BUSY)
		busy_hint(hint, sizeof(hint), source, now);
	source->phase = PHASE_AWAY;
	source->cause = cause;
	backoff(source, cause == SOURCE_ABSENT ? BACKOFF_ABSENT : BACKOFF_MOST, now);
	snprintf(text, sizeof(text), "%.1200s", why);
	if (strcmp(text, source->told) == 0)
		return;
	memcpy(source->told, text, sizeof(text));
	snprintf(source_queue(source, SOURCE_WAITING, cause, now)->text, SOURCE_TEXT, "%.1200s%s", text, hint);
}

static void part(struct source *source, enum source_event_type type, enum source_cause cause, const struct moment *now)
{
	stream_close(&source->stream);
	source->parts = true;
	source->cut = true;
	source->asking = false;
	source->parting.type = type;
	source->parting.cause = cause;
	source->parting.when = *now;
}

/* Was open; closed at once, so that a port that comes back can have its old name. */
static void leave(struct source *source, enum source_cause cause, const char *why, const struct moment *now)
{
	char hint[300] = "";

	if (cause == SOURCE_UNPLUGGED && stream_is_terminal(&source->stream)) {
		vanish_hint(hint, sizeof(hint), source, now);
		source->present = false;
	}
	part(source, SOURCE_GONE, cause, now);
	if (source->stream.kind == SOURCE_KIND_FILE)
		source->cut = false; /* the rest of the line comes when reading goes on */
	snprintf(source->parting.text, SOURCE_TEXT, "%.600s %.300s%s", source->stream.path, why, hint);
	snprintf(source->told, sizeof(source->told), "%.600s %.300s", source->stream.path, why);
	source->phase = PHASE_AWAY;
	source->cause = cause;
	if (now->monotonic_us - source->opened_us > STAYED)
		source->backoff_us = BACKOFF_FIRST;
	backoff(source, BACKOFF_MOST, now);
	if (cause == SOURCE_SLEPT)
		source->phase_us = now->monotonic_us;
}

static const char *unread_why(char *out, size_t size, const struct source *source)
{
	if (source->stream.failed != 0)
		snprintf(out, size, "can't be read: %s; trying again", strerror(source->stream.failed));
	else
		snprintf(out, size, "is another one now; trying again");
	return out;
}

static void leave_by_itself(struct source *source, const struct moment *now)
{
	char why[200];

	if (source->stream.kind == SOURCE_KIND_TCP)
		leave(source, SOURCE_PEER_CLOSED, "was closed by the other end; connecting again", now);
	else if (stream_is_terminal(&source->stream))
		leave(source, SOURCE_UNPLUGGED, "is gone: unplugged, or closed by its other end; waiting for it", now);
	else
		leave(source, SOURCE_FAILED, unread_why(why, sizeof(why), source), now);
}

static void end(struct source *source, const struct moment *now)
{
	part(source, SOURCE_END, SOURCE_CAUSE_NONE, now);
	lines_idle(&source->lines, INT64_MAX);
	if (source->stream.failed != 0)
		snprintf(source->parting.text, SOURCE_TEXT, "%.600s can't be read: %s; nothing more is taken from it",
		         source->stream.path, strerror(source->stream.failed));
	else
		snprintf(source->parting.text, SOURCE_TEXT, "%.600s has ended", source->stream.path);
	source->phase = PHASE_ENDED;
}

static void opened(struct source *source, size_t stale, const struct moment *now)
{
	struct source_message *message = source_queue(source, SOURCE_OPENED, SOURCE_CAUSE_NONE, now);
	char settings[PORT_SETTINGS_TEXT];
	int used;

	source->phase = PHASE_OPEN;
	source->cause = SOURCE_CAUSE_NONE;
	source->told[0] = '\0';
	source->opened_us = now->monotonic_us;
	source->openings++;
	source->ask_us = now->monotonic_us;
	source->recheck_us = now->monotonic_us + SOURCE_RECHECK_MS * (int64_t)1000;
	if (strcmp(source->stream.path, source->where) == 0 || source->address.kind != ADDRESS_PATH)
		used = snprintf(message->text, SOURCE_TEXT, "%s is open", source->stream.path);
	else
		used = snprintf(message->text, SOURCE_TEXT, "%.500s (%s) is open", source->where, source->stream.path);
	if (source->stream.kind == SOURCE_KIND_PORT)
		used += snprintf(message->text + used, SOURCE_TEXT - (size_t)used, " at %s",
		                 port_settings_print(settings, sizeof(settings), &source->profile->port));
	if (stale > 0)
		snprintf(message->text + used, SOURCE_TEXT - (size_t)used,
		         "; %zu bytes stood in its buffers and are %s", stale,
		         source->policy == SOURCE_STALE_DROP ? "thrown away" :
		                                               "marked as stale: when they came is not known");
}

static void attempt(struct source *source, const struct moment *now)
{
	struct port_error error;
	enum source_cause cause = stream_open(&source->stream, &source->address, source->attempts++, source->profile,
	                                      &error);

	if (cause != SOURCE_CAUSE_NONE) {
		wait_for(source, cause, error.text, now);
		return;
	}
	presence_note(source, true, now);
	if (!source->stream.resumed)
		source_forget(source);
	source->marking = source->stream.port && port_marks(source->stream.port);
	if (source->stream.kind == SOURCE_KIND_FILE && !source->stream.resumed &&
	    source->profile->line_end == LINE_END_GAP)
		lines_init(&source->lines, LINE_END_AUTO, 0);
	if (source->stream.connecting) {
		source->phase = PHASE_CONNECTING;
		source->phase_us = now->monotonic_us + CONNECT_LIMIT;
	} else if (stream_is_terminal(&source->stream)) {
		source->phase = PHASE_SETTLING;
		source->phase_us = now->monotonic_us + SOURCE_SETTLE_MS * (int64_t)1000;
	} else {
		opened(source, 0, now);
	}
}

static void connect_on(struct source *source, short revents, const struct moment *now)
{
	struct port_error error;
	enum source_cause cause;

	if (!revents && now->monotonic_us < source->phase_us)
		return;
	cause = stream_connected(&source->stream, &error);
	if (cause == SOURCE_CAUSE_NONE)
		opened(source, 0, now);
	else
		wait_for(source, cause, error.text, now);
}

static void settle_on(struct source *source, short revents, const struct moment *now)
{
	struct port_error error;
	ssize_t stale;

	if (!(revents & (POLLHUP | POLLERR | POLLNVAL)) && now->monotonic_us < source->phase_us)
		return;
	stale = port_waiting(source->stream.port);
	if (stale < 0) {
		snprintf(error.text, sizeof(error.text), "%s went while it was being opened", source->stream.path);
		stream_close(&source->stream);
		wait_for(source, SOURCE_UNPLUGGED, error.text, now);
		return;
	}
	opened(source, (size_t)stale, now);
	source->stale_left = (size_t)stale;
	source->stale_more = stale >= BUFFERS_FULL;
	source->stale_us = now->monotonic_us;
}

/* The end of a line is seen with the parity bit on it, too, where the profile does not look at that bit. */
static void ends_strip(char *bytes, size_t len)
{
	for (size_t i = 0; i < len; i++) {
		char stripped = (char)(bytes[i] & 0x7f);

		if (stripped == '\r' || stripped == '\n')
			bytes[i] = stripped;
	}
}

/*
 * Buffers that were full may have more behind them, which the kernel brings on in its own time: until there is a pause,
 * all is old. A meter that never pauses is believed soon.
 */
static void stale_extend(struct source *source, size_t len, const struct moment *now)
{
	source->stale_more = now->monotonic_us - source->stale_us < DRAIN_PAUSE &&
	                     now->monotonic_us - source->opened_us < DRAINED;
	if (source->stale_more && source->stale_left < len)
		source->stale_left = len;
}

static void took_in(struct source *source, size_t len, const struct moment *now)
{
	source->in_at = 0;
	source->in_len = len;
	source->in_when = *now;
	source->heard_us = now->monotonic_us;
	source->byte_count += len;
	if (source->profile->strip_parity)
		ends_strip(source->in, len);
	if (source->stale_more)
		stale_extend(source, len, now);
}

static void read_some(struct source *source, short revents, const struct moment *now)
{
	ssize_t len = stream_read(&source->stream, source->in, sizeof(source->in));
	bool hung_up = (revents & (POLLERR | POLLNVAL)) != 0 ||
	               ((revents & POLLHUP) != 0 && stream_is_terminal(&source->stream));

	if (len > 0)
		took_in(source, (size_t)len, now);
	if (len == STREAM_TURN) {
		lines_idle(&source->lines, INT64_MAX);
		source->cut = true;
	} else if (len == STREAM_END) {
		end(source, now);
	} else if (len == STREAM_GONE || (hung_up && (len == STREAM_NOTHING || stream_is_terminal(&source->stream)))) {
		leave_by_itself(source, now);
	}
}

/* Sends what is left of the ask. */
static void ask_on(struct source *source, const struct moment *now)
{
	struct slice rest = slice_part(source->profile->ask, source->asked, source->profile->ask.len);
	ssize_t sent = stream_write(&source->stream, rest.text, rest.len);

	if (sent == STREAM_GONE) {
		leave_by_itself(source, now);
		return;
	}
	source->asked += (size_t)sent;
	source->asking = source->asked < source->profile->ask.len;
}

static void ask_start(struct source *source, const struct moment *now)
{
	source->asking = true;
	source->asked = 0;
	source->ask_us = now->monotonic_us + (int64_t)source->profile->ask_every_ms * 1000;
	ask_on(source, now);
}

static bool asks(const struct source *source)
{
	return source->profile->ask.len > 0 && source->profile->ask_every_ms > 0 && stream_writable(&source->stream);
}

static void recheck(struct source *source, const struct moment *now)
{
	struct port_error error;
	enum port_drift drift = port_recheck(source->stream.port, &error);

	source->recheck_us = now->monotonic_us + SOURCE_RECHECK_MS * (int64_t)1000;
	if (drift == PORT_VANISHED) {
		leave_by_itself(source, now);
		return;
	}
	if (drift == PORT_AS_SET)
		return;
	if (source->noted_us != 0 && now->monotonic_us - source->noted_us < NOTE_EVERY)
		return;
	source->noted_us = now->monotonic_us;
	snprintf(source_queue(source, SOURCE_NOTE, SOURCE_SETTINGS, now)->text, SOURCE_TEXT, "%s", error.text);
}

/* When a line that has begun is given up, or with LINE_END_GAP is whole. */
static int64_t silence_us(const struct source *source)
{
	bool by_gap = source->profile->line_end == LINE_END_GAP;
	int64_t limit_ms = by_gap ? source->profile->gap_ms : SOURCE_IDLE_MS;

	if (lines_pending(&source->lines).len == 0 && !source->line_long)
		return CLOCK_NEVER;
	return source->heard_us + limit_ms * 1000;
}

static void silence(struct source *source, const struct moment *now)
{
	if (now->monotonic_us < silence_us(source))
		return;
	if (source->profile->line_end == LINE_END_GAP)
		lines_idle(&source->lines, now->monotonic_us);
	else
		source->cut = true;
	source->line_long = false;
}

static void open_on(struct source *source, short revents, const struct moment *now)
{
	if (revents & ~POLLOUT)
		read_some(source, revents, now);
	else
		silence(source, now);
	if (source->phase == PHASE_OPEN && source->asking && (revents & POLLOUT))
		ask_on(source, now);
	if (source->phase == PHASE_OPEN && asks(source) && !source->asking && now->monotonic_us >= source->ask_us)
		ask_start(source, now);
	if (source->phase == PHASE_OPEN && stream_is_terminal(&source->stream) &&
	    now->monotonic_us >= source->recheck_us)
		recheck(source, now);
}

/* Did the machine sleep since the last step? Then the device behind the descriptor may be another one. */
static bool slept(struct source *source, const struct moment *now)
{
	int64_t asleep_us = now->boottime_us - now->monotonic_us;
	bool grown = source->asleep_us != 0 && asleep_us - source->asleep_us > SLEPT_AT_LEAST;

	source->asleep_us = asleep_us != 0 ? asleep_us : 1;
	return grown && stream_is_terminal(&source->stream) && source->phase == PHASE_OPEN;
}

void source_step(struct source *source, short revents, const struct moment *now)
{
	if (source_has_more(source))
		return;
	if (slept(source, now)) {
		leave(source, SOURCE_SLEPT, "is opened anew, since the machine slept", now);
		return;
	}
	switch (source->phase) {
	case PHASE_AWAY:
		if (now->monotonic_us >= source->phase_us)
			attempt(source, now);
		break;
	case PHASE_CONNECTING:
		connect_on(source, revents, now);
		break;
	case PHASE_SETTLING:
		settle_on(source, revents, now);
		break;
	case PHASE_OPEN:
		open_on(source, revents, now);
		break;
	case PHASE_ENDED:
		break;
	}
}

void source_poll(const struct source *source, struct pollfd *out)
{
	short events = 0;

	switch (source->phase) {
	case PHASE_CONNECTING:
		events = POLLOUT;
		break;
	case PHASE_OPEN:
		events = (short)(POLLIN | (source->asking ? POLLOUT : 0));
		break;
	case PHASE_AWAY:
	case PHASE_SETTLING:
	case PHASE_ENDED:
		break;
	}
	*out = (struct pollfd){ .fd = source->stream.fd, .events = events };
}

static int64_t earlier(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

int64_t source_deadline_us(const struct source *source)
{
	int64_t deadline;

	if (source_has_more(source))
		return 0;
	switch (source->phase) {
	case PHASE_AWAY:
	case PHASE_CONNECTING:
	case PHASE_SETTLING:
		return source->phase_us;
	case PHASE_OPEN:
		break;
	case PHASE_ENDED:
		return CLOCK_NEVER;
	}
	deadline = silence_us(source);
	if (asks(source) && !source->asking)
		deadline = earlier(deadline, source->ask_us);
	if (stream_is_terminal(&source->stream))
		deadline = earlier(deadline, source->recheck_us);
	return deadline;
}

enum status source_ask(struct source *source, const struct moment *now, struct error *error)
{
	if (source->profile->ask.len == 0)
		return error_set(error, STATUS_INVALID, "the profile of %s has nothing to ask the meter with",
		                 source->name);
	if (source->phase != PHASE_OPEN)
		return error_set(error, STATUS_BUSY, "%s is not open", source->name);
	if (!stream_writable(&source->stream))
		return error_set(error, STATUS_INVALID, "%s can't be asked: it is no serial port", source->name);
	if (source->asking)
		return error_set(error, STATUS_BUSY, "the last ask of %s is not sent yet", source->name);
	ask_start(source, now);
	return STATUS_OK;
}

const char *source_name(const struct source *source)
{
	return source->name;
}

const char *source_where(const struct source *source)
{
	return source->where;
}

const char *source_path(const struct source *source)
{
	return source->stream.path;
}

enum source_kind source_kind(const struct source *source)
{
	return source->stream.kind;
}

static enum source_state state_of(enum source_phase phase)
{
	switch (phase) {
	case PHASE_AWAY:
	case PHASE_CONNECTING:
	case PHASE_SETTLING:
		return SOURCE_STATE_WAITING;
	case PHASE_OPEN:
		return SOURCE_STATE_OPEN;
	case PHASE_ENDED:
		break;
	}
	return SOURCE_STATE_ENDED;
}

struct source_info source_info(const struct source *source)
{
	return (struct source_info){
		.state = state_of(source->phase),
		.cause = source->cause,
		.text = source->told,
		.opened_us = source->opened_us,
		.heard_us = source->heard_us,
		.openings = source->openings,
		.bytes = source->byte_count,
		.lines = source->line_count,
		.broken = source->broken_count,
		.nuls = source->lines.nul_count,
		.damaged = source->damaged_count,
		.pending = lines_pending(&source->lines),
	};
}
