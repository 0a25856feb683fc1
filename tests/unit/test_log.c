/* SPDX-License-Identifier: GPL-3.0-or-later */
/* test_log.c: messages that could not be written are told of with the next one, and why. */
#include "near.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "log.h"

struct read_end {
	int fd;
	char text[4096];
};

/* All that the pipe holds; ends the log. */
static const char *read_all(struct read_end *end, struct log *log)
{
	ssize_t got;

	close(log->fd);
	got = read(end->fd, end->text, sizeof(end->text) - 1);
	close(end->fd);
	assert_true(got >= 0);
	end->text[got] = '\0';
	return end->text;
}

static void a_failure_is_named(void **state)
{
	struct read_end end;
	struct log log;
	int ends[2];

	(void)state;
	log_init(&log, open("/dev/full", O_WRONLY | O_CLOEXEC));
	assert_true(log.fd >= 0);
	log_line(&log, LOG_LEVEL_NEWS, "first");
	assert_int_equal(pipe2(ends, O_CLOEXEC), 0);
	close(log.fd);
	log.fd = ends[1];
	end.fd = ends[0];
	log_line(&log, LOG_LEVEL_NEWS, "second");
	assert_string_equal(read_all(&end, &log),
	                    "brewspread: 1 messages were lost: No space left on device\nbrewspread: second\n");
}

static void a_slow_reader_is_named(void **state)
{
	struct read_end end;
	struct log log;
	int ends[2];
	char page[4096] = "";

	(void)state;
	assert_int_equal(pipe2(ends, O_CLOEXEC | O_NONBLOCK), 0);
	end.fd = ends[0];
	log_init(&log, ends[1]);
	while (write(ends[1], page, sizeof(page)) > 0)
		continue;
	log_line(&log, LOG_LEVEL_NEWS, "first");
	log_line(&log, LOG_LEVEL_NEWS, "second");
	while (read(ends[0], page, sizeof(page)) > 0)
		continue;
	log_line(&log, LOG_LEVEL_NEWS, "third");
	assert_string_equal(
		read_all(&end, &log),
		"brewspread: 2 messages were lost: they came faster than they were read\nbrewspread: third\n");
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_failure_is_named),
		cmocka_unit_test(a_slow_reader_is_named),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
