/* SPDX-License-Identifier: GPL-3.0-or-later */
/* source_events.c: what was read, cut into lines, and what happened, one by one. */
#include "source_private.h"

#include <stdio.h>

/* A silence so long between bytes that stood in the buffers and fresh ones: they are of different lines. */
enum { FRAGMENT_US = 30000 };

/* So long after an opening, text that is not understood is an instrument's greeting. */
enum { GREETING_US = 2000000 };

struct source_message *source_queue(struct source *source, enum source_event_type type, enum source_cause cause,
                                    const struct moment *now)
{
	struct source_message *message;

	/* a step makes two messages at most, and makes none while there are any: the oldest is never wanted */
	if (source->queued == SOURCE_QUEUE) {
		source->queue_at = (source->queue_at + 1) % SOURCE_QUEUE;
		source->queued--;
	}
	message = &source->queue[(source->queue_at + source->queued++) % SOURCE_QUEUE];
	message->type = type;
	message->cause = cause;
	message->when = *now;
	message->text[0] = '\0';
	return message;
}

bool source_has_more(const struct source *source)
{
	return source->queued > 0 || source->in_at < source->in_len || source->run_at < source->run.len ||
	       source->parts || source->cut;
}

void source_forget(struct source *source)
{
	lines_clear(&source->lines);
	source->in_at = source->in_len = 0;
	source->run_at = source->run.len = 0;
	source->marks = (struct marks)MARKS_INIT;
	source->stale_left = 0;
	source->stale_more = source->run_stale = false;
	source->line_stale = source->line_damaged = source->line_long = false;
}

static void message_event(struct source_event *out, const struct source_message *message)
{
	*out = (struct source_event){
		.type = message->type,
		.cause = message->cause,
		.when = message->when,
		.text = message->text,
	};
}

static bool queue_next(struct source *source, struct source_event *out)
{
	if (source->queued == 0)
		return false;
	message_event(out, &source->queue[source->queue_at]);
	source->queue_at = (source->queue_at + 1) % SOURCE_QUEUE;
	source->queued--;
	return true;
}

static void line_event(struct source *source, struct source_event *out, enum source_event_type type,
                       const struct line *line)
{
	*out = (struct source_event){
		.type = type,
		.line = *line,
		.when = source->in_when,
		.stale = source->line_stale,
		.damaged = source->line_damaged,
		.text = "",
	};
	source->line_stale = source->line_stale && source->run_stale;
	source->last = line->text;
	source->last_damaged = source->line_damaged;
	source->line_damaged = source->line_long = false;
	source->line_count += type == SOURCE_LINE;
	source->broken_count += type == SOURCE_BROKEN && !line->again;
}

static void diagnose(struct source *source, struct slice line, bool damaged)
{
	char text[DIAGNOSIS_TEXT];

	diagnosis_add(&source->diagnosis, line, damaged);
	if (!diagnosis_tell(&source->diagnosis, source->profile, source->in_when.monotonic_us, text, sizeof(text)))
		return;
	snprintf(source_queue(source, SOURCE_DIAGNOSIS, SOURCE_CAUSE_NONE, &source->in_when)->text, SOURCE_TEXT, "%s",
	         text);
	/* perhaps somebody changed the settings */
	source->recheck_us = 0;
}

static void broken_event(struct source *source, struct source_event *out, const struct line *line)
{
	line_event(source, out, SOURCE_BROKEN, line);
	source->line_long = line->raw.len == LINES_CAP;
	out->cause = SOURCE_TOO_LONG;
	if (line->again)
		return;
	out->text = "a line is longer than 4096 bytes: it is kept in pieces, and not read";
	diagnose(source, line->raw, out->damaged);
}

/* Gives up what is held of a line. False: nothing is. */
static bool cut_event(struct source *source, struct source_event *out)
{
	struct slice pending = lines_pending(&source->lines);
	struct line line = { .raw = pending };

	source->cut = false;
	line.text = line_without_nuls(pending, &line.nuls);
	lines_clear(&source->lines);
	if (pending.len == 0)
		return false;
	line_event(source, out, SOURCE_BROKEN, &line);
	source->line_stale = false;
	out->cause = SOURCE_UNFINISHED;
	out->text = "a line has not ended: it is kept, and not read";
	diagnose(source, line.raw, out->damaged);
	return true;
}

/* Is what is held the beginning of some earlier line, rather than of the one that comes now? */
static bool fragment_is_old(const struct source *source)
{
	return source->line_stale && source->stale_left == 0 && source->run_at == source->run.len &&
	       source->in_at < source->in_len && lines_pending(&source->lines).len > 0 &&
	       source->in_when.monotonic_us - source->stale_us >= FRAGMENT_US;
}

/* The next piece of what was read: all of one age, a damaged byte by itself. */
static void run_take(struct source *source)
{
	size_t limit = source->in_len - source->in_at;

	source->run_stale = source->stale_left > 0;
	if (source->run_stale && source->stale_left < limit)
		limit = source->stale_left;
	if (source->marking)
		marks_take(&source->marks, &source->run, source->in + source->in_at, limit);
	else
		source->run = (struct marks_run){ .bytes = source->in + source->in_at, .len = limit, .used = limit };
	source->run_at = 0;
	source->in_at += source->run.used;
	if (source->run_stale) {
		source->stale_left -= source->run.used;
		source->stale_us = source->in_when.monotonic_us;
	}
}

/* Does the damaged byte spoil the line that is being framed? A break before it, and errors between lines, do not. */
static bool run_spoils(const struct source *source)
{
	struct slice pending = lines_pending(&source->lines);
	char byte = source->run.bytes[0];
	size_t nuls;

	if (line_without_nuls(pending, &nuls).len > 0)
		return true;
	return byte != '\0' && byte != '\r' && byte != '\n';
}

static bool feed(struct source *source)
{
	if (source->run_at == source->run.len) {
		if (source->in_at == source->in_len)
			return false;
		run_take(source);
		if (source->run.damaged) {
			source->damaged_count++;
			source->line_damaged = source->line_damaged || run_spoils(source);
		}
		if (source->run_stale)
			source->line_stale = true;
		else if (lines_pending(&source->lines).len == 0)
			source->line_stale = false;
	}
	source->run_at += lines_add(&source->lines, source->run.bytes + source->run_at,
	                            source->run.len - source->run_at, source->in_when.monotonic_us);
	return true;
}

static bool line_frame(struct source *source, struct source_event *out)
{
	struct line line;

	do {
		switch (lines_next(&source->lines, &line)) {
		case FRAMING_LINE:
			line_event(source, out, SOURCE_LINE, &line);
			return true;
		case FRAMING_BROKEN:
			broken_event(source, out, &line);
			return true;
		case FRAMING_MORE:
			break;
		}
		if (fragment_is_old(source) && cut_event(source, out))
			return true;
	} while (feed(source));
	return false;
}

static bool is_wanted(const struct source *source, const struct source_event *event)
{
	return !event->stale || source->policy == SOURCE_STALE_MARK;
}

/* Lines are dropped whole: of one that was on its way at the opening, the rest may look like another number. */
static bool line_next(struct source *source, struct source_event *out)
{
	while (line_frame(source, out))
		if (is_wanted(source, out))
			return true;
	return false;
}

bool source_next(struct source *source, struct source_event *out)
{
	if (queue_next(source, out) || line_next(source, out))
		return true;
	if (source->cut && cut_event(source, out) && is_wanted(source, out))
		return true;
	if (queue_next(source, out))
		return true;
	if (!source->parts)
		return false;
	source->parts = false;
	message_event(out, &source->parting);
	return true;
}

static bool is_greeting(const struct source *source)
{
	bool greets = source->marking || source->stream.kind == SOURCE_KIND_PSEUDO ||
	              source->stream.kind == SOURCE_KIND_TCP;

	return greets && source->in_when.monotonic_us - source->opened_us < GREETING_US &&
	       diagnosis_is_text(source->last);
}

void source_judge(struct source *source, bool understood)
{
	if (understood)
		diagnosis_clear(&source->diagnosis);
	else if (!is_greeting(source))
		diagnose(source, source->last, source->last_damaged);
}
