/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <string.h>

#include "timestamp.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define S            INT64_C(1000000)

struct stamp_case {
	const char *name;
	const char *text;
	int64_t us; /* -1: none */
	size_t used;
};

/* Seconds since 1970 as `date -u -d … +%s` gives them. */
static const struct stamp_case stamp_cases[] = {
	{ "the beginning", "1970-01-01 00:00", 0, 16 },
	{ "minutes", "2026-03-01 10:15", 1772360100 * S, 16 },
	{ "seconds", "2026-03-01T10:15:22", 1772360122 * S, 19 },
	{ "Z", "2026-03-01T10:15:22Z", 1772360122 * S, 20 },
	{ "fraction", "2026-03-01 10:15:22.250", 1772360122 * S + 250000, 23 },
	{ "fraction with a comma", "2026-03-01 10:15:22,5", 1772360122 * S + 500000, 21 },
	{ "more digits than are kept", "2026-03-01 10:15:22.1234567", 1772360122 * S + 123456, 27 },
	{ "east", "2026-03-01 10:15:22+01:00", 1772356522 * S, 25 },
	{ "west, without colon", "2026-03-01 10:15:22-0530", 1772379922 * S, 24 },
	{ "an offset without minutes", "2026-03-01 10:15:22+01", -1, 0 },
	{ "time of day", "10:15:22", 36922 * S, 8 },
	{ "time of day, minutes", "00:01", 60 * S, 5 },
	{ "more behind it", "10:15:22 A1 1.38", 36922 * S, 8 },
	{ "comma behind it", "10:15:22,A1", 36922 * S, 8 },
	{ "tab behind it", "2026-03-01 10:15\tA1", 1772360100 * S, 16 },
	{ "29 February", "2024-02-29 00:00", 1709164800 * S, 16 },
	{ "before 1970", "1969-12-31 23:59:59", -1 * S, 19 },
	{ "no 29 February", "2025-02-29 00:00", -1, 0 },
	{ "nor in 1900", "1900-02-29 00:00", -1, 0 },
	{ "but in 2000", "2000-02-29 00:00", 951782400 * S, 16 },
	{ "month 13", "2026-13-01 00:00", -1, 0 },
	{ "day 0", "2026-01-00 00:00", -1, 0 },
	{ "31 April", "2026-04-31 00:00", -1, 0 },
	{ "25 hours", "2026-01-01 25:00", -1, 0 },
	{ "60 minutes", "10:60", -1, 0 },
	{ "60 seconds", "10:15:60", -1, 0 },
	{ "an offset too far", "10:15:22+15:00", -1, 0 },
	{ "an offset cut short", "10:15:22+1", -1, 0 },
	{ "date alone", "2026-03-01", -1, 0 },
	{ "year 1800", "1800-01-01 00:00", -1, 0 },
	{ "day first", "01.03.2026 10:15", -1, 0 },
	{ "one digit", "9:15", -1, 0 },
	{ "glued to a word", "10:15:22A1", -1, 0 },
	{ "three digits of minutes", "10:155", -1, 0 },
	{ "nothing", "", -1, 0 },
	{ "cut short", "2026-03-0", -1, 0 },
};

static void parses_as_told(void **state)
{
	const struct stamp_case *c = *state;
	bool expected = c->used > 0;
	int64_t us = 7;
	size_t used = 77;

	assert_int_equal(timestamp_parse(&us, &used, slice_from(c->text)), expected);
	assert_true(us == (expected ? c->us : 7));
	assert_int_equal(used, expected ? c->used : 77);
	assert_int_equal(timestamp_parse(&us, NULL, slice_from(c->text)), expected);
}

static void prints_with_so_many_decimals(void **state)
{
	int64_t us = 1772360122 * S + 250999;
	char text[TIMESTAMP_TEXT];

	(void)state;
	assert_string_equal(timestamp_print(text, sizeof(text), us, 0), "2026-03-01T10:15:22Z");
	assert_string_equal(timestamp_print(text, sizeof(text), us, 3), "2026-03-01T10:15:22.250Z");
	assert_string_equal(timestamp_print(text, sizeof(text), us, 6), "2026-03-01T10:15:22.250999Z");
	assert_string_equal(timestamp_print(text, sizeof(text), -1, 6), "1969-12-31T23:59:59.999999Z");
}

static void no_moment_is_beyond_the_calendar(void **state)
{
	char text[TIMESTAMP_TEXT];

	(void)state;
	/* 292,000 years are within the calendar's reach: what is printed must only fit */
	timestamp_print(text, sizeof(text), INT64_MAX, 6);
	assert_true(strlen(text) < sizeof(text));
	timestamp_print(text, sizeof(text), INT64_MIN, 6);
	assert_true(strlen(text) < sizeof(text));
}

static void a_day_alone_is_its_beginning(void **state)
{
	static const char *const wrong[] = { "",      "2026-02-29",        "2026-03-01 ", "2026-03", "2026-03-01T",
		                             "today", "2026-03-01 10:15 x" };
	int64_t us = 7;

	(void)state;
	for (size_t i = 0; i < COUNT(wrong); i++)
		if (moment_parse(&us, slice_from(wrong[i])) || us != 7)
			fail_msg("\"%s\" was taken", wrong[i]);
	assert_true(moment_parse(&us, SLICE_OF("2026-03-01")));
	assert_true(us == 1772323200 * S); /* date -u -d 2026-03-01 +%s */
	assert_true(moment_parse(&us, SLICE_OF("2026-03-01T10:15")));
	assert_true(us == 1772360100 * S);
}

static void what_is_printed_reads_back(void **state)
{
	char text[TIMESTAMP_TEXT];

	(void)state;
	for (int64_t us = -5 * S; us < 4000000000 * S; us += INT64_C(123456789012345)) {
		int64_t back;
		size_t used;

		timestamp_print(text, sizeof(text), us, 6);
		assert_true(timestamp_parse(&back, &used, slice_from(text)));
		assert_true(back == us);
		assert_int_equal(used, strlen(text));
	}
}

static void times_of_day_follow_dates(void **state)
{
	const int64_t hour = INT64_C(3600000000), day = 24 * hour, march = 20526 * day; /* 2026-03-14 */
	char text[TIMESTAMP_TEXT];

	(void)state;
	assert_int_equal(moment_following(10 * hour, march + 9 * hour), march + 10 * hour);
	assert_int_equal(moment_following(9 * hour, march + 10 * hour), march + 9 * hour); /* a line typed late */
	assert_int_equal(moment_following(hour / 2, march + 23 * hour), march + day + hour / 2);
	assert_int_equal(moment_following(march + hour, march + 9 * hour), march + hour);
	assert_int_equal(moment_following(hour, 23 * hour), day + hour);
	assert_true(moment_undated(0) && moment_undated(23 * hour) && moment_undated(day + hour));
	assert_false(moment_undated(march) || moment_undated(-1) || moment_undated(INT64_MIN));
	assert_int_equal(moment_day(march + 23 * hour), 20526);
	assert_int_equal(moment_day(-1), -1);
	assert_string_equal(moment_print(text, sizeof(text), 10 * hour + 1500000, 3), "10:00:01.500");
	assert_string_equal(moment_print(text, sizeof(text), march + 10 * hour, 0), "2026-03-14T10:00:00Z");
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(prints_with_so_many_decimals), cmocka_unit_test(no_moment_is_beyond_the_calendar),
		cmocka_unit_test(a_day_alone_is_its_beginning), cmocka_unit_test(what_is_printed_reads_back),
		cmocka_unit_test(times_of_day_follow_dates),
	};
	struct CMUnitTest tests[COUNT(stamp_cases) + COUNT(others)];

	for (size_t i = 0; i < COUNT(stamp_cases); i++)
		tests[i] = (struct CMUnitTest){ .name = stamp_cases[i].name,
			                        .test_func = parses_as_told,
			                        .initial_state = (void *)(uintptr_t)&stamp_cases[i] };
	memcpy(&tests[COUNT(stamp_cases)], others, sizeof(others));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
