/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The framer: the first byte chooses the line end, each further one how many bytes come at once and whether a silence
 * follows. Every byte comes out again, once, in order, line ends aside.
 */
#include "fuzz.h"
#include "lines.h"

static size_t given; /* bytes given out so far */

static void drain(struct lines *lines)
{
	struct line line;
	enum framing framing;

	while ((framing = lines_next(lines, &line)) != FRAMING_MORE) {
		FUZZ_HOLDS(line.raw.len <= LINES_CAP);
		FUZZ_HOLDS(line.text.len <= line.raw.len);
		given += line.raw.len;
	}
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct lines lines;
	size_t taken = 0, ends = 0;
	int64_t now_us = 0;

	if (size == 0)
		return 0;
	given = 0;
	lines_init(&lines, (enum line_end)(data[0] % 5), 50);
	for (size_t at = 1; at < size;) {
		size_t chunk = 1 + data[at] % 64;

		if (data[at] > 200)
			now_us += 100000;
		lines_idle(&lines, now_us);
		drain(&lines);
		at++;
		chunk = chunk < size - at ? chunk : size - at;
		for (size_t done = 0; done < chunk;) {
			char *copy = fuzz_copy(data + at + done, chunk - done);
			size_t fitted = copy ? lines_add(&lines, copy, chunk - done, now_us) : chunk - done;

			free(copy);
			drain(&lines);
			FUZZ_HOLDS(fitted > 0);
			for (size_t i = 0; i < fitted; i++)
				ends += data[at + done + i] == '\n' || data[at + done + i] == '\r';
			taken += fitted;
			done += fitted;
			now_us += 10;
		}
		at += chunk;
	}
	given += lines_pending(&lines).len;
	FUZZ_HOLDS(given <= taken && given + ends >= taken);
	return 0;
}
