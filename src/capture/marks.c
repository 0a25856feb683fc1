/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "marks.h"

#include <string.h>

enum { MARK = 0xff };

static void run_of_kept(struct marks *marks, struct marks_run *out, size_t len)
{
	out->bytes = out->kept;
	out->len = len;
	marks->seen = 0;
}

void marks_take(struct marks *marks, struct marks_run *out, const char *in, size_t len)
{
	const char *mark;

	*out = (struct marks_run){ .bytes = in, .used = len > 0 };
	if (len == 0)
		return;
	switch (marks->seen) {
	case 0:
		mark = memchr(in, MARK, len);
		out->len = mark ? (size_t)(mark - in) : len;
		if (out->len > 0)
			out->used = out->len;
		else
			marks->seen = 1;
		return;
	case 1:
		if (in[0] == '\0') {
			marks->seen = 2;
			return;
		}
		out->kept[0] = (char)MARK;
		out->kept[1] = in[0];
		/* a lone mark can't be, unless the terminal was tampered with: then both bytes are what came */
		run_of_kept(marks, out, (unsigned char)in[0] == MARK ? 1 : 2);
		return;
	default:
		out->kept[0] = in[0];
		out->damaged = true;
		run_of_kept(marks, out, 1);
	}
}
