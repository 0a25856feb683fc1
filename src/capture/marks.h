/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * marks.h: undoes the marks that a terminal with PARMRK set puts into what it gives (termios(3)): 0xff 0x00 before a
 * byte that came with a parity or framing error, and 0xff twice for one that came.
 */
#ifndef BREWSPREAD_MARKS_H
#define BREWSPREAD_MARKS_H

#include <stdbool.h>
#include <stddef.h>

struct marks {
	int seen; /* bytes of a mark: 0, 1, 2 */
};

#define MARKS_INIT        \
	{                 \
		.seen = 0 \
	}

struct marks_run {
	const char *bytes; /* what came on the wire; shows the input, or kept */
	size_t len;
	size_t used;  /* bytes of the input that it took; at least 1 if there was any */
	bool damaged; /* a single byte that came with an error; of value 0: a break, the line held low */
	char kept[2];
};

/* The next run of in[0..len), which may end anywhere in a mark. out->len may be 0: more input is needed. */
void marks_take(struct marks *marks, struct marks_run *out, const char *in, size_t len);

#endif
