/* SPDX-License-Identifier: GPL-3.0-or-later */
/* source_private.h: what a source is made of; for source.c, which opens and reads, and source_events.c, which frames. */
#ifndef BREWSPREAD_SOURCE_PRIVATE_H
#define BREWSPREAD_SOURCE_PRIVATE_H

#include "address.h"
#include "diagnosis.h"
#include "marks.h"
#include "source.h"
#include "stream.h"

enum source_phase { PHASE_AWAY, PHASE_CONNECTING, PHASE_SETTLING, PHASE_OPEN, PHASE_ENDED };

enum { SOURCE_IN = 4096, SOURCE_QUEUE = 4, SOURCE_TEXT = 1600 };

struct source_message {
	enum source_event_type type;
	enum source_cause cause;
	struct moment when;
	char text[SOURCE_TEXT];
};

struct source {
	char *where;
	char *name;
	const struct profile *profile;
	enum source_stale policy;
	struct address address;
	struct stream stream;
	enum source_phase phase;
	enum source_cause cause; /* why it is away */

	/* When what is due; monotonic µs. */
	int64_t phase_us; /* PHASE_AWAY: the next attempt; CONNECTING: given up; SETTLING: settled */
	int64_t backoff_us;
	int64_t ask_us;
	int64_t recheck_us;
	int64_t opened_us;
	int64_t heard_us;
	int64_t noted_us;
	int64_t asleep_us; /* boot time less monotonic time, when last looked at */
	size_t attempts;
	size_t openings;

	/* Comings and goings of what the path names. */
	bool looked;
	bool present;
	int64_t appeared_us; /* 0: not known */

	/* Bytes read, not framed yet. */
	char in[SOURCE_IN];
	size_t in_at, in_len;
	struct moment in_when;
	size_t stale_left; /* so many of what is read next stood in the port's buffers */
	bool stale_more;   /* and perhaps more behind them: those buffers were full */
	int64_t stale_us;  /* when the last of them was read */
	bool marking;
	struct marks marks;
	struct marks_run run; /* piece of in that is being framed */
	size_t run_at;
	bool run_stale;

	/* The line that is being framed. */
	struct lines lines;
	bool line_stale;
	bool line_damaged;
	bool line_long;    /* pieces of it were given out, and more of it may come */
	bool cut;          /* what is held of it is to be given up */
	struct slice last; /* the line given last */
	bool last_damaged;
	struct diagnosis diagnosis;

	/* Messages: in order before what is read later; parting: after what was read before. */
	struct source_message queue[SOURCE_QUEUE];
	size_t queue_at, queued;
	struct source_message parting;
	bool parts;
	char told[SOURCE_TEXT]; /* reason that was last given for being away */

	bool asking;
	size_t asked; /* bytes of the ask that are sent */
	size_t byte_count, line_count, broken_count, damaged_count;
};

/* Puts a message in the queue; its text is then to be filled in. */
struct source_message *source_queue(struct source *source, enum source_event_type type, enum source_cause cause,
                                    const struct moment *now);

/* Is there something for source_next() to give, as far as can be seen without framing? */
bool source_has_more(const struct source *source);

/* Forgets whatever was read and is not given out. */
void source_forget(struct source *source);

#endif
