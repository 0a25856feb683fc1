/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * lines.h: a stream of bytes cut into lines, no byte lost, none waited for longer than needed.
 *
 * Instruments end a line with CR, LF, both, or with nothing but silence. In LINE_END_AUTO each of CR, LF, CRLF and
 * LFCR is one end, and the line is there as soon as the first byte of its end is.
 */
#ifndef BREWSPREAD_LINES_H
#define BREWSPREAD_LINES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "slice.h"

enum line_end {
	LINE_END_AUTO, /* CR, LF, CRLF or LFCR */
	LINE_END_LF,
	LINE_END_CR,
	LINE_END_CRLF, /* both, in this order; one alone is part of the line */
	LINE_END_GAP,  /* a silence */
};

/* "auto", "lf", "cr", "crlf", "gap" */
const char *line_end_name(enum line_end end);

enum { LINES_CAP = 4096 }; /* bytes of the longest line */

enum framing {
	FRAMING_LINE,   /* a line, its end taken off; may be empty */
	FRAMING_MORE,   /* nothing to give yet: more bytes, or more silence, are needed */
	FRAMING_BROKEN, /* a piece of a line that is longer than LINES_CAP: to be kept, not to be read */
};

struct line {
	struct slice raw;   /* as it came, without its end */
	struct slice text;  /* raw without the NULs at its beginning and end, which a break on the wire leaves */
	int64_t arrived_us; /* when its last byte came, by the clock of lines_add() */
	size_t nuls;        /* in raw */
	bool again; /* FRAMING_BROKEN: a further piece of a line that was told of already, its last one included */
};

/* A fixed buffer: no memory is asked for. Fields are the module's own, but for the counts. */
struct lines {
	enum line_end end;
	int64_t gap_us;
	int64_t arrived_us; /* of the last byte held */
	size_t from, len;   /* bytes[from .. from+len) is not given out yet */
	char twin;          /* the other half of an end just taken: swallowed if it comes next; 0: none */
	bool broken;        /* inside a line that is too long */
	bool closed;        /* a silence ended what is held */
	size_t nul_count;   /* NUL bytes seen so far */
	size_t long_count;  /* lines that were too long so far */
	char bytes[LINES_CAP + 2];
};

/* Ready for the first byte. gap_ms: length of the silence that ends a line; used for LINE_END_GAP only. */
void lines_init(struct lines *lines, enum line_end end, int gap_ms);

/*
 * Takes bytes that came at now_us (µs of any clock that does not step back); returns how many fitted. Call
 * lines_next() until FRAMING_MORE after each call, then hand over the rest: at least one byte is taken then.
 */
size_t lines_add(struct lines *lines, const char *bytes, size_t len, int64_t now_us);

/* The next line. Its slices show the buffer of lines and hold until the next call with it. */
enum framing lines_next(struct lines *lines, struct line *out);

/* Tells that nothing has come up to now_us; with LINE_END_GAP that may end a line: call lines_next(). */
void lines_idle(struct lines *lines, int64_t now_us);

/* What is held of a line that has no end yet: at the end of a stream it is kept, not read. */
struct slice lines_pending(const struct lines *lines);

/* Forgets what is held, not the counts: after a port was opened anew. */
void lines_clear(struct lines *lines);

/* The lines of a text that is all in memory, by the same rules, but LINE_END_GAP is as LINE_END_AUTO. */
struct line_walk {
	struct slice rest;
	enum line_end end;
	uint32_t number; /* of the line last given, from 1 */
};

/* The next line without its end, of any length; *ended, which may be NULL: it had one. False: no more. */
bool line_walk_next(struct line_walk *walk, struct slice *line, bool *ended);

/* text without NULs at its beginning and end; *nuls: how many it has in all. */
struct slice line_without_nuls(struct slice text, size_t *nuls);

/*
 * text for a message: what is not printable UTF-8 becomes \x.., and what does not fit "...". Ended by NUL; returns
 * out. size at least 8.
 */
const char *line_print(char *out, size_t size, struct slice text);

#define LINE_PRINT 80 /* a good size for that */

/*
 * Why lines are not understood: counts over lines that no pattern matched. Start with all zero, add line by line,
 * start anew when a line matches.
 */
struct line_doubt {
	size_t lines;
	size_t bytes;
	size_t even;    /* bytes with an even number of ones */
	size_t high;    /* bytes with the top bit */
	size_t control; /* control characters, tabs aside */
};

enum doubt_cause {
	DOUBT_NONE,        /* nothing to be seen in the bytes, or too few lines */
	DOUBT_EVEN_PARITY, /* 7 data bits and even parity, read as 8 without: every byte has an even number of ones */
	DOUBT_ODD_PARITY,  /* likewise, odd */
	DOUBT_SPEED,       /* noise: wrong speed or frame */
};

enum { DOUBT_LINES = 4 }; /* lines that it takes for a diagnosis, or 400 bytes */

void line_doubt_add(struct line_doubt *doubt, struct slice line);

/* What the lines added so far suggest. */
enum doubt_cause line_doubt_cause(const struct line_doubt *doubt);

/* What to try, as a sentence without a full stop; "" for DOUBT_NONE. */
const char *doubt_cause_advice(enum doubt_cause cause);

#endif
