/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdalign.h>
#include <stdint.h>
#include <string.h>

#include "arena.h"

static void memory_is_zero_and_aligned(void **state)
{
	struct arena arena = ARENA_INIT;

	(void)state;
	for (size_t size = 1; size < 5000; size += 37) {
		unsigned char *bytes = arena_take(&arena, size);

		assert_non_null(bytes);
		assert_int_equal((uintptr_t)bytes % alignof(max_align_t), 0);
		for (size_t i = 0; i < size; i++)
			assert_int_equal(bytes[i], 0);
		memset(bytes, 0xff, size); /* whatever is taken next must not show this */
	}
	arena_release(&arena);
}

static void blocks_do_not_overlap(void **state)
{
	enum { TAKEN = 200 };
	struct arena arena = ARENA_INIT;
	uint32_t *taken[TAKEN];

	(void)state;
	for (uint32_t i = 0; i < TAKEN; i++) {
		taken[i] = arena_take(&arena, 4096); /* more than one block in all */
		assert_non_null(taken[i]);
		for (size_t j = 0; j < 1024; j++)
			taken[i][j] = i;
	}
	for (uint32_t i = 0; i < TAKEN; i++) {
		assert_int_equal(taken[i][0], i);
		assert_int_equal(taken[i][1023], i);
	}
	arena_release(&arena);
}

static void large_and_empty_ones_are_had(void **state)
{
	struct arena arena = ARENA_INIT;
	char *large = arena_take(&arena, 10 << 20);

	(void)state;
	assert_non_null(large);
	large[(10 << 20) - 1] = 'x';
	assert_non_null(arena_take(&arena, 0));
	arena_release(&arena);
}

static void too_much_is_refused(void **state)
{
	struct arena arena = ARENA_INIT;

	(void)state;
	assert_null(arena_take(&arena, SIZE_MAX));
	assert_null(arena_take(&arena, SIZE_MAX - 32));
	assert_null(arena_copy(&arena, (struct slice){ "x", SIZE_MAX }).text);
	assert_non_null(arena_take(&arena, 8));
	arena_release(&arena);
}

static void copies_end_in_nul(void **state)
{
	struct arena arena = ARENA_INIT;
	char text[] = "A3 and more";
	struct slice copy = arena_copy(&arena, (struct slice){ text, 2 });
	struct slice nothing = arena_copy(&arena, (struct slice){ NULL, 0 });

	(void)state;
	text[0] = 'x';
	assert_int_equal(copy.len, 2);
	assert_string_equal(copy.text, "A3");
	assert_int_equal(nothing.len, 0);
	assert_string_equal(nothing.text, "");
	arena_release(&arena);
}

static void texts_are_made(void **state)
{
	struct arena arena = ARENA_INIT;
	char *text = arena_print(&arena, "%s of %d%%", "7", 30);
	char *longer = arena_print(&arena, "%0*d", 100000, 5);

	(void)state;
	assert_string_equal(text, "7 of 30%");
	assert_int_equal(strlen(longer), 100000);
	assert_int_equal(longer[99999], '5');
	arena_release(&arena);
}

static void release_leaves_it_usable(void **state)
{
	struct arena arena = ARENA_INIT;

	(void)state;
	arena_release(&arena);
	assert_non_null(arena_take(&arena, 100));
	arena_release(&arena);
	assert_null(arena.last);
	assert_non_null(arena_take(&arena, 100));
	arena_release(&arena);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(memory_is_zero_and_aligned),
		cmocka_unit_test(blocks_do_not_overlap),
		cmocka_unit_test(large_and_empty_ones_are_had),
		cmocka_unit_test(too_much_is_refused),
		cmocka_unit_test(copies_end_in_nul),
		cmocka_unit_test(texts_are_made),
		cmocka_unit_test(release_leaves_it_usable),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
