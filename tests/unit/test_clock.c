/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <limits.h>
#include <time.h>

#include "clock.h"

static void the_three_clocks_are_the_systems(void **state)
{
	struct timespec wall;
	struct moment now = moment_now();
	struct moment later;

	(void)state;
	clock_gettime(CLOCK_REALTIME, &wall);
	assert_near((double)now.wall_us / 1e6, (double)wall.tv_sec, 5.0);
	assert_true(now.monotonic_us > 0);
	assert_true(now.boottime_us >= now.monotonic_us);
	later = moment_now();
	assert_true(later.monotonic_us >= now.monotonic_us);
	assert_true(clock_monotonic_us() >= later.monotonic_us);
	assert_true(clock_wall_us() > 1600000000000000);
}

struct wait_case {
	const char *name;
	int64_t deadline_us, now_us;
	int ms;
};

static void waits_until_the_deadline_has_passed(void **state)
{
	const struct wait_case *c = *state;

	assert_int_equal(clock_poll_ms(c->deadline_us, c->now_us), c->ms);
}

int main(void)
{
	static struct wait_case cases[] = {
		{ "never waits for ever", CLOCK_NEVER, 5, -1 },
		{ "past is now", 5, 6, 0 },
		{ "this very moment is now", 6, 6, 0 },
		{ "a microsecond is rounded up, lest it spin", 7, 6, 1 },
		{ "a whole millisecond is not", 1006, 6, 1 },
		{ "one more is two", 1007, 6, 2 },
		{ "longer than poll can wait", INT64_MAX - 1, 0, INT_MAX },
	};
	struct CMUnitTest tests[sizeof(cases) / sizeof(cases[0]) + 1] = {
		cmocka_unit_test(the_three_clocks_are_the_systems),
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		tests[i + 1] = (struct CMUnitTest){
			.name = cases[i].name,
			.test_func = waits_until_the_deadline_has_passed,
			.initial_state = &cases[i],
		};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
