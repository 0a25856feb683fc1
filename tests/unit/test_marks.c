/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <string.h>

#include "marks.h"

struct mark_case {
	const char *name;
	const char *in;
	size_t in_len;
	const char *out;
	size_t out_len;
	size_t damaged; /* how many bytes are */
};

#define CASE(title, given, wanted, count)                                          \
	{                                                                          \
		title, given, sizeof(given) - 1, wanted, sizeof(wanted) - 1, count \
	}

/* In pieces of step bytes: a mark may be cut anywhere. */
static void undo(const struct mark_case *c, size_t step)
{
	struct marks marks = MARKS_INIT;
	char out[64];
	size_t len = 0;
	size_t damaged = 0;

	for (size_t at = 0; at < c->in_len;) {
		struct marks_run run;

		marks_take(&marks, &run, c->in + at, step < c->in_len - at ? step : c->in_len - at);
		assert_true(run.used > 0);
		assert_true(!run.damaged || run.len == 1);
		assert_true(len + run.len <= sizeof(out));
		memcpy(out + len, run.bytes, run.len);
		len += run.len;
		damaged += run.damaged;
		at += run.used;
	}
	assert_int_equal(len, c->out_len);
	assert_memory_equal(out, c->out, len);
	assert_int_equal(damaged, c->damaged);
}

static void marks_are_undone_wherever_they_are_cut(void **state)
{
	const struct mark_case *c = *state;

	for (size_t step = 1; step <= c->in_len; step++)
		undo(c, step);
}

int main(void)
{
	/* as termios(3) has it for PARMRK without IGNPAR and ISTRIP */
	static struct mark_case cases[] = {
		CASE("no mark", "1.38\r\n", "1.38\r\n", 0),
		CASE("0xff comes twice", "a\377\377b", "a\377b", 0),
		CASE("two of them", "\377\377\377\377", "\377\377", 0),
		CASE("a byte with an error", "1.3\377\0008\r\n", "1.38\r\n", 1),
		CASE("a break", "\377\0\0R 1", "\0R 1", 1),
		CASE("0xff with an error", "\377\0\377x", "\377x", 1),
		CASE("two errors in a row", "\377\0a\377\0b", "ab", 2),
		CASE("a NUL without a mark", "a\0b", "a\0b", 0),
		CASE("a mark that can't be: both bytes came", "a\377b", "a\377b", 0),
	};
	struct CMUnitTest tests[sizeof(cases) / sizeof(cases[0])];

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		tests[i] = (struct CMUnitTest){
			.name = cases[i].name,
			.test_func = marks_are_undone_wherever_they_are_cut,
			.initial_state = &cases[i],
		};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
