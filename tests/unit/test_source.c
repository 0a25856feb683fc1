/* SPDX-License-Identifier: GPL-3.0-or-later */
/* test_source.c: sources of every kind, driven by a loop as the program's own, over pseudo-terminals, FIFOs and TCP. */
#include "capture_bench.h"
#include "without_sys.h"

#include <arpa/inet.h>
#include <grp.h>
#include <netinet/in.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>

#define GOOD "R 0001 1.38 % 22.4 C\r\n"

struct rig {
	struct bench_pty pty;
	struct bench *bench;
};

/* A pseudo-terminal with a source on its link, open. */
static int rig_up(void **state)
{
	struct rig *rig = calloc(1, sizeof(*rig));

	assert_non_null(rig);
	rig->pty = pty_plug("source");
	rig->bench = bench_start(rig->pty.link, NULL, SOURCE_STALE_MARK);
	bench_await(rig->bench, SOURCE_OPENED);
	*state = rig;
	return 0;
}

static int rig_down(void **state)
{
	struct rig *rig = *state;

	bench_end(rig->bench);
	pty_pull(&rig->pty);
	free(rig);
	return 0;
}

static void send_capture(const struct rig *rig, const char *name)
{
	size_t len;
	char *bytes = capture_load(name, &len);

	pty_send(&rig->pty, rig->bench, bytes, len);
	free(bytes);
	bench_run(rig->bench, 100);
}

static double processor_s(void)
{
	struct rusage usage;

	getrusage(RUSAGE_SELF, &usage);
	return (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
	       (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1e6;
}

/* Lines */

static void a_line_split_by_a_pause_is_one_reading(void **state)
{
	struct rig *rig = *state;

	pty_say(&rig->pty, "R 0001 1.");
	bench_run(rig->bench, 400);
	assert_int_equal(bench_count(rig->bench, SOURCE_LINE), 0);
	assert_int_equal(source_info(rig->bench->source).pending.len, 9);
	pty_say(&rig->pty, "38 % 22.4 C\r\n");
	assert_true(bench_await(rig->bench, SOURCE_LINE)->read);
	bench_run(rig->bench, 50);
	assert_int_equal(rig->bench->count, 2);
}

static void a_carriage_return_alone_ends_a_line_at_once(void **state)
{
	struct rig *rig = *state;

	send_capture(rig, "cr-only.bin");
	assert_int_equal(bench_readings(rig->bench), 5);
	assert_int_equal(bench_count(rig->bench, SOURCE_LINE), 5);
}

static void nuls_and_a_cut_first_line_cost_no_later_line(void **state)
{
	struct rig *rig = *state;
	struct source_info info;

	send_capture(rig, "joined-in-mid-line.bin");
	info = source_info(rig->bench->source);
	assert_int_equal(bench_readings(rig->bench), 4);
	assert_int_equal(bench_count(rig->bench, SOURCE_LINE), 5);
	assert_int_equal(info.nuls, 3);
	assert_int_equal(info.pending.len, 10);
	assert_memory_equal(info.pending.text, "R 0116 1.2", 10);
}

static void seven_bits_with_even_parity_give_a_hint_and_no_reading(void **state)
{
	struct rig *rig = *state;

	send_capture(rig, "seven-even-read-as-eight-none.bin");
	assert_int_equal(bench_readings(rig->bench), 0);
	assert_int_equal(bench_count(rig->bench, SOURCE_LINE), 4);
	assert_says(bench_await(rig->bench, SOURCE_DIAGNOSIS)->text, "7E1");
}

static void parity_that_the_profile_strips_is_no_obstacle(void **state)
{
	struct rig *rig = *state;
	struct bench *bench = bench_start(rig->pty.link, BENCH_PATTERN "strip-parity = yes\nend = cr\n",
	                                  SOURCE_STALE_MARK);

	bench_end(rig->bench);
	rig->bench = bench;
	bench_await(bench, SOURCE_OPENED);
	send_capture(rig, "seven-even-read-as-eight-none.bin");
	/* ended by CR alone, the LF stays on the next line, and these lines do not match; the first does */
	assert_int_equal(bench_count(bench, SOURCE_LINE), 4);
	assert_int_equal(bench_readings(bench), 1);
}

static void noise_is_diagnosed_once_a_minute(void **state)
{
	struct rig *rig = *state;
	const struct bench_event *diagnosis;

	send_capture(rig, "noise.bin");
	diagnosis = bench_await(rig->bench, SOURCE_DIAGNOSIS);
	assert_says(diagnosis->text, "9600 8N1");
	assert_says(diagnosis->text, "noise");
	assert_int_equal(bench_readings(rig->bench), 0);
	send_capture(rig, "noise.bin");
	assert_int_equal(bench_count(rig->bench, SOURCE_DIAGNOSIS), 1);
	bench_skip(rig->bench, 61000);
	send_capture(rig, "noise.bin");
	assert_int_equal(bench_count(rig->bench, SOURCE_DIAGNOSIS), 2);
}

static void an_endless_line_costs_itself_alone(void **state)
{
	struct rig *rig = *state;
	size_t told = 0;
	size_t bytes = 0;

	send_capture(rig, "endless-line.bin");
	assert_int_equal(bench_readings(rig->bench), 2);
	for (size_t i = 0; i < rig->bench->count; i++) {
		const struct bench_event *event = &rig->bench->events[i];

		if (event->type != SOURCE_BROKEN)
			continue;
		assert_int_equal(event->cause, SOURCE_TOO_LONG);
		assert_true(event->len <= LINES_CAP);
		told += !event->again;
		bytes += event->len;
	}
	assert_int_equal(told, 1);
	assert_int_equal(bytes, 70000);
	assert_int_equal(source_info(rig->bench->source).broken, 1);
}

static void glued_lines_give_nothing(void **state)
{
	struct rig *rig = *state;

	send_capture(rig, "glued-lines.bin");
	assert_int_equal(bench_readings(rig->bench), 2);
	assert_int_equal(bench_count(rig->bench, SOURCE_LINE), 4);
}

static void flow_control_characters_arrive_and_spoil_their_line(void **state)
{
	struct rig *rig = *state;
	const struct bench_event *line;

	pty_send(&rig->pty, rig->bench,
	         "R 0001 1.3\x11"
	         "8\x13 % 22.4 C\xff\0\r\n",
	         26);
	line = bench_await(rig->bench, SOURCE_LINE);
	assert_int_equal(line->len, 24);
	assert_memory_equal(line->text,
	                    "R 0001 1.3\x11"
	                    "8\x13 % 22.4 C\xff\0",
	                    24);
	assert_false(line->read);
}

static void a_line_that_never_ends_does_not_spoil_the_next(void **state)
{
	struct rig *rig = *state;
	const struct bench_event *piece;

	pty_say(&rig->pty, "R 0001 1.3");
	bench_run(rig->bench, 30);
	bench_skip(rig->bench, SOURCE_IDLE_MS - 1000);
	assert_int_equal(bench_count(rig->bench, SOURCE_BROKEN), 0);
	bench_skip(rig->bench, 1001);
	piece = bench_await(rig->bench, SOURCE_BROKEN);
	assert_int_equal(piece->cause, SOURCE_UNFINISHED);
	assert_string_equal(piece->text, "R 0001 1.3");
	pty_say(&rig->pty, GOOD);
	assert_true(bench_await(rig->bench, SOURCE_LINE)->read);
}

static void a_silence_ends_a_line_where_the_profile_says_so(void **state)
{
	struct rig *rig = *state;
	struct bench *bench = bench_start(rig->pty.link, BENCH_PATTERN "end = gap\ngap = 60\n", SOURCE_STALE_MARK);

	bench_end(rig->bench);
	rig->bench = bench;
	bench_await(bench, SOURCE_OPENED);
	pty_say(&rig->pty, "R 0001 1.38");
	bench_run(bench, 20);
	pty_say(&rig->pty, " % 22.4 C");
	assert_true(bench_await(bench, SOURCE_LINE)->read);
	assert_int_equal(bench_count(bench, SOURCE_LINE), 1);
}

static void a_greeting_is_no_error_but_a_wrong_profile_is(void **state)
{
	struct rig *rig = *state;

	for (int i = 0; i < 12; i++)
		pty_say(&rig->pty, "Bench meter, firmware 3, please wait\r\n");
	bench_run(rig->bench, 50);
	assert_int_equal(bench_count(rig->bench, SOURCE_LINE), 12);
	assert_int_equal(bench_count(rig->bench, SOURCE_DIAGNOSIS), 0);
	bench_skip(rig->bench, 2500);
	for (int i = 0; i < 8; i++)
		pty_say(&rig->pty, "TDS=1.38\r\n");
	assert_says(bench_await(rig->bench, SOURCE_DIAGNOSIS)->text, "not in the form of this profile");
}

static void a_flood_of_lines_arrives_whole_and_in_order(void **state)
{
	enum { LINES = 300 };
	struct rig *rig = *state;
	char text[64];

	for (int i = 1; i <= LINES; i++) {
		snprintf(text, sizeof(text), "R %04d 1.38 %% 22.4 C\r\n", i);
		pty_send(&rig->pty, rig->bench, text, strlen(text));
	}
	for (int i = 1; i <= LINES; i++) {
		snprintf(text, sizeof(text), "R %04d 1.38 %% 22.4 C", i);
		assert_string_equal(bench_await(rig->bench, SOURCE_LINE)->text, text);
	}
}

/* Stale bytes */

static void what_stood_in_the_buffers_is_marked_and_what_comes_after_is_not(void **state)
{
	struct bench_pty pty = pty_plug("stale");
	struct bench *bench = bench_start(pty.link, NULL, SOURCE_STALE_MARK);
	const struct bench_event *line;

	(void)state;
	pty_say(&pty, "R 0001 1.20 % 22.4 C\r\n");
	assert_says(bench_await(bench, SOURCE_OPENED)->text, "22 bytes stood in its buffers");
	line = bench_await(bench, SOURCE_LINE);
	assert_true(line->stale);
	assert_true(line->read);
	bench_run(bench, 30);
	pty_say(&pty, GOOD);
	line = bench_await(bench, SOURCE_LINE);
	assert_false(line->stale);
	assert_true(line->read);
	bench_end(bench);
	pty_pull(&pty);
}

static void an_old_piece_in_the_buffers_does_not_spoil_the_first_fresh_line(void **state)
{
	struct bench_pty pty = pty_plug("piece");
	struct bench *bench = bench_start(pty.link, NULL, SOURCE_STALE_MARK);
	const struct bench_event *event;

	(void)state;
	pty_say(&pty, "R 0001 1.20 % 22.4 C\r\nR 0002 1.2");
	bench_await(bench, SOURCE_OPENED);
	assert_true(bench_await(bench, SOURCE_LINE)->stale);
	bench_run(bench, 50);
	pty_say(&pty, GOOD);
	event = bench_await(bench, SOURCE_BROKEN);
	assert_true(event->stale);
	assert_string_equal(event->text, "R 0002 1.2");
	event = bench_await(bench, SOURCE_LINE);
	assert_false(event->stale);
	assert_true(event->read);
	bench_end(bench);
	pty_pull(&pty);
}

static void what_stood_in_the_buffers_can_be_thrown_away(void **state)
{
	struct bench_pty pty = pty_plug("drop");
	struct bench *bench = bench_start(pty.link, NULL, SOURCE_STALE_DROP);
	const struct bench_event *line;

	(void)state;
	for (int i = 0; i < 400; i++)
		pty_say(&pty, "R 0001 1.20 % 22.4 C\r\n");
	assert_says(bench_await(bench, SOURCE_OPENED)->text, "thrown away");
	bench_run(bench, 150);
	pty_say(&pty, "R 0777 1.38 % 22.4 C\r\n");
	line = bench_await(bench, SOURCE_LINE);
	assert_int_equal(bench_count(bench, SOURCE_LINE), 1);
	assert_string_equal(line->text, "R 0777 1.38 % 22.4 C");
	assert_false(line->stale);
	bench_end(bench);
	pty_pull(&pty);
}

static void the_rest_of_a_line_that_was_on_its_way_is_no_line(void **state)
{
	struct bench_pty pty = pty_plug("way");
	struct bench *bench = bench_start(pty.link, "[line]\npattern = (?<value>\\d\\.\\d\\d)\n", SOURCE_STALE_DROP);

	(void)state;
	pty_say(&pty, "1");
	bench_await(bench, SOURCE_OPENED);
	pty_say(&pty, "1.38\r\n");
	bench_run(bench, 150);
	assert_int_equal(bench_count(bench, SOURCE_LINE), 0);
	pty_say(&pty, "1.38\r\n");
	assert_true(bench_await(bench, SOURCE_LINE)->read);
	bench_end(bench);
	pty_pull(&pty);
}

static void more_than_one_buffer_of_old_bytes_is_marked(void **state)
{
	enum { LINES = 300 };
	struct bench_pty pty = pty_plug("deep");
	struct bench *bench = bench_start(pty.link, NULL, SOURCE_STALE_MARK);

	(void)state;
	for (int i = 0; i < LINES; i++)
		pty_say(&pty, GOOD);
	bench_await(bench, SOURCE_OPENED);
	for (int i = 0; i < LINES; i++)
		assert_true(bench_await(bench, SOURCE_LINE)->stale);
	bench_run(bench, 150);
	pty_say(&pty, GOOD);
	assert_false(bench_await(bench, SOURCE_LINE)->stale);
	bench_end(bench);
	pty_pull(&pty);
}

/* Going and coming */

static void a_pulled_cable_is_told_and_the_descriptor_closed_at_once(void **state)
{
	struct rig *rig = *state;
	const struct bench_event *event;
	int64_t pulled_us;

	pty_say(&rig->pty, GOOD "R 0002 1.3");
	bench_run(rig->bench, 50);
	pulled_us = clock_monotonic_us();
	pty_pull(&rig->pty);
	event = bench_await(rig->bench, SOURCE_BROKEN);
	assert_int_equal(event->cause, SOURCE_UNFINISHED);
	assert_string_equal(event->text, "R 0002 1.3");
	event = bench_await(rig->bench, SOURCE_GONE);
	assert_int_equal(event->cause, SOURCE_UNPLUGGED);
	assert_true(clock_monotonic_us() - pulled_us < 2000000);
	source_poll(rig->bench->source, &rig->bench->polled);
	assert_int_equal(rig->bench->polled.fd, -1);
	assert_int_equal(source_info(rig->bench->source).state, SOURCE_STATE_WAITING);
	assert_int_equal(bench_readings(rig->bench), 1);
}

static void a_hung_up_terminal_is_gone(void **state)
{
	struct rig *rig = *state;
	int fd = open(rig->pty.name, O_RDONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);

	/* memcheck does not know the call, and says so */
	if (geteuid() != 0 || bench_is_slow()) {
		close(fd);
		skip();
	}
	assert_int_equal(ioctl(fd, TIOCVHANGUP), 0);
	close(fd);
	assert_int_equal(bench_await(rig->bench, SOURCE_GONE)->cause, SOURCE_UNPLUGGED);
}

static void an_unplugged_source_takes_next_to_no_processor_time(void **state)
{
	struct rig *rig = *state;
	int64_t until_us;
	double before_s;
	int turns = 0;

	pty_pull(&rig->pty);
	bench_await(rig->bench, SOURCE_WAITING);
	before_s = processor_s();
	until_us = clock_monotonic_us() + 2000000;
	for (; clock_monotonic_us() < until_us; turns++)
		bench_turn(rig->bench, 1000);
	assert_true(turns < 15);
	/* 5 % of two seconds; spinning would be 2 s */
	assert_true(processor_s() - before_s < (bench_is_slow() ? 1.0 : 0.1));
}

static void it_comes_back_under_another_name(void **state)
{
	struct rig *rig = *state;
	struct bench_pty other;
	char first[64];

	snprintf(first, sizeof(first), "%s", source_path(rig->bench->source));
	/* something else takes the old name while it is away */
	pty_pull(&rig->pty);
	bench_await(rig->bench, SOURCE_GONE);
	other = pty_plug(NULL);
	rig->pty = pty_plug("source");
	bench_await(rig->bench, SOURCE_OPENED);
	assert_string_equal(source_path(rig->bench->source), rig->pty.name);
	assert_string_not_equal(source_path(rig->bench->source), first);
	assert_string_equal(source_where(rig->bench->source), rig->pty.link);
	pty_say(&rig->pty, GOOD);
	assert_true(bench_await(rig->bench, SOURCE_LINE)->read);
	assert_int_equal(source_info(rig->bench->source).openings, 2);
	pty_pull(&other);
}

static void a_link_to_nothing_is_told_with_the_ports_that_are(void **state)
{
	struct bench *bench = bench_start("/dev/serial/by-id/usb-Bench_Meter", NULL, SOURCE_STALE_MARK);
	const struct bench_event *event = bench_await(bench, SOURCE_WAITING);

	(void)state;
	assert_int_equal(event->cause, SOURCE_ABSENT);
	assert_says(event->text, "/dev/serial/by-id/usb-Bench_Meter");
	assert_says(event->text, "ports that are: ");
	/* told once, tried for ever */
	for (int i = 0; i < 20; i++)
		bench_skip(bench, 5000);
	assert_int_equal(bench_count(bench, SOURCE_WAITING), 1);
	assert_true(source_deadline_us(bench->source) - bench_now(bench).monotonic_us <= 5000000);
	bench_end(bench);
}

static void a_port_that_vanishes_soon_after_it_appeared_brings_a_hint(void **state)
{
	char link[300];
	struct bench_pty pty;
	struct bench *bench;

	(void)state;
	snprintf(link, sizeof(link), "%s/vanish-%ld", bench_folder(), (long)getpid());
	unlink(link);
	bench = bench_start(link, NULL, SOURCE_STALE_MARK);
	bench_await(bench, SOURCE_WAITING);
	pty = pty_plug("vanish");
	bench_await(bench, SOURCE_OPENED);
	pty_pull(&pty);
	assert_says(bench_await(bench, SOURCE_GONE)->text, "brltty");
	bench_end(bench);
}

static void a_port_that_stayed_vanishes_without_a_hint(void **state)
{
	struct rig *rig = *state;

	bench_skip(rig->bench, 40000);
	pty_pull(&rig->pty);
	assert_null(strstr(bench_await(rig->bench, SOURCE_GONE)->text, "brltty"));
}

static void after_a_sleep_the_port_is_opened_anew(void **state)
{
	struct rig *rig = *state;

	rig->bench->asleep_us = 3600 * (int64_t)1000000;
	bench_turn(rig->bench, 0);
	assert_int_equal(bench_await(rig->bench, SOURCE_GONE)->cause, SOURCE_SLEPT);
	bench_await(rig->bench, SOURCE_OPENED);
	pty_say(&rig->pty, GOOD);
	assert_true(bench_await(rig->bench, SOURCE_LINE)->read);
	/* the sleep is noticed within seconds even where nothing comes */
	assert_true(source_deadline_us(rig->bench->source) <= bench_now(rig->bench).monotonic_us + 3000000);
}

static void a_long_silence_is_no_unplugging(void **state)
{
	struct rig *rig = *state;

	for (int i = 0; i < 10; i++)
		bench_skip(rig->bench, 60000);
	pty_say(&rig->pty, GOOD);
	assert_true(bench_await(rig->bench, SOURCE_LINE)->read);
	assert_int_equal(bench_count(rig->bench, SOURCE_GONE), 0);
}

static void a_wall_clock_that_is_set_back_changes_nothing(void **state)
{
	struct rig *rig = *state;
	struct moment now;
	struct source_event event;

	pty_say(&rig->pty, GOOD);
	bench_await(rig->bench, SOURCE_LINE);
	now = bench_now(rig->bench);
	now.wall_us -= 14 * 86400 * (int64_t)1000000;
	pty_say(&rig->pty, GOOD);
	source_poll(rig->bench->source, &rig->bench->polled);
	assert_int_equal(poll(&rig->bench->polled, 1, 1000), 1);
	source_step(rig->bench->source, rig->bench->polled.revents, &now);
	assert_true(source_next(rig->bench->source, &event));
	assert_int_equal(event.type, SOURCE_LINE);
	assert_true(event.when.wall_us == now.wall_us);
	assert_true(event.when.monotonic_us == now.monotonic_us);
	assert_false(source_next(rig->bench->source, &event));
}

static void settings_changed_by_another_program_are_restored(void **state)
{
	struct rig *rig = *state;
	struct termios tampered;

	assert_int_equal(tcgetattr(rig->pty.master, &tampered), 0);
	tampered.c_iflag |= ICRNL | IXON;
	tampered.c_lflag |= ICANON | ECHO;
	assert_int_equal(tcsetattr(rig->pty.master, TCSANOW, &tampered), 0);
	bench_skip(rig->bench, SOURCE_RECHECK_MS);
	assert_says(bench_await(rig->bench, SOURCE_NOTE)->text, "another program changed the settings");
	assert_int_equal(tcgetattr(rig->pty.master, &tampered), 0);
	assert_int_equal(tampered.c_iflag & (ICRNL | IXON), 0);
	assert_int_equal(tampered.c_lflag & (ICANON | ECHO), 0);
	/* one that does so again and again fills no log */
	for (int i = 0; i < 10; i++) {
		tampered.c_lflag |= ECHO;
		assert_int_equal(tcsetattr(rig->pty.master, TCSANOW, &tampered), 0);
		bench_skip(rig->bench, SOURCE_RECHECK_MS);
	}
	assert_int_equal(bench_count(rig->bench, SOURCE_NOTE), 1);
}

/* Refusals */

static void the_same_device_is_not_opened_twice(void **state)
{
	struct rig *rig = *state;
	struct bench *second = bench_start(rig->pty.name, NULL, SOURCE_STALE_MARK);
	const struct bench_event *event = bench_await(second, SOURCE_WAITING);

	assert_int_equal(event->cause, SOURCE_TWICE);
	pty_say(&rig->pty, GOOD);
	assert_true(bench_await(rig->bench, SOURCE_LINE)->read);
	/* free as soon as the first one lets go */
	bench_end(rig->bench);
	rig->bench = second;
	bench_await(second, SOURCE_OPENED);
}

static void a_port_that_another_program_has_is_waited_for(void **state)
{
	struct bench_pty pty = pty_plug("held");
	struct bench *bench = bench_start(pty.link, NULL, SOURCE_STALE_MARK);
	const struct bench_event *event;
	int ready[2];
	char byte;
	pid_t pid;

	(void)state;
	assert_int_equal(pipe(ready), 0);
	pid = fork();
	if (pid == 0) {
		/* nor does it outlive a test that failed */
		int dies = prctl(PR_SET_PDEATHSIG, SIGKILL);
		int fd = open(pty.name, O_RDWR | O_NOCTTY);

		if (dies != 0 || fd < 0 || flock(fd, LOCK_EX) != 0 || write(ready[1], "", 1) != 1)
			_exit(1);
		for (;;)
			pause();
	}
	assert_int_equal(read(ready[0], &byte, 1), 1);
	event = bench_await(bench, SOURCE_WAITING);
	assert_int_equal(event->cause, SOURCE_BUSY);
	assert_says(event->text, "ModemManager");
	kill(pid, SIGKILL);
	waitpid(pid, NULL, 0);
	bench_await(bench, SOURCE_OPENED);
	close(ready[0]);
	close(ready[1]);
	bench_end(bench);
	pty_pull(&pty);
}

static void no_permission_is_not_called_absence(void **state)
{
	char path[300];
	struct bench *bench;
	const struct bench_event *event;

	(void)state;
	snprintf(path, sizeof(path), "%s/denied-%ld", bench_folder(), (long)getpid());
	unlink(path);
	assert_int_equal(mkfifo(path, 0), 0);
	bench = bench_start(path, NULL, SOURCE_STALE_MARK);
	if (geteuid() == 0)
		assert_int_equal(seteuid(65534), 0);
	bench_turn(bench, 0);
	if (getuid() == 0)
		assert_int_equal(seteuid(0), 0);
	event = bench_await(bench, SOURCE_WAITING);
	/* the folder itself may be closed to that account */
	assert_int_equal(event->cause, SOURCE_DENIED);
	assert_says(event->text, "no permission");
	assert_says(event->text, path);
	bench_end(bench);
	unlink(path);
}

static void a_folder_is_no_source(void **state)
{
	struct bench *bench = bench_start(bench_folder(), NULL, SOURCE_STALE_MARK);

	(void)state;
	assert_int_equal(bench_await(bench, SOURCE_WAITING)->cause, SOURCE_NO_SOURCE);
	bench_end(bench);
}

struct where_case {
	const char *name, *where;
	enum status status;
};

static void what_names_no_source_is_refused(void **state)
{
	const struct where_case *c = *state;
	struct profile *profile = bench_profile(BENCH_PATTERN);
	struct source_request request = { .where = c->where, .profile = profile };
	struct source *source;
	struct error error = ERROR_INIT;

	assert_int_equal(source_new(&source, &request, &error), c->status);
	assert_true((source == NULL) == (c->status != STATUS_OK));
	assert_true((error.text[0] == '\0') == (c->status == STATUS_OK));
	source_free(source);
	profile_free(profile);
}

/* Asking */

#define ASKING BENCH_PATTERN "[ask]\nsend = M\\r\nevery = 300\n"

static size_t heard(const struct rig *rig, char *out, size_t size)
{
	ssize_t len = read(rig->pty.master, out, size);

	return len > 0 ? (size_t)len : 0;
}

static void a_meter_that_has_to_be_asked_is_asked(void **state)
{
	struct rig *rig = *state;
	struct bench *bench = bench_start(rig->pty.link, ASKING, SOURCE_STALE_MARK);
	struct moment now;
	struct error error;
	char bytes[16];

	bench_end(rig->bench);
	rig->bench = bench;
	bench_await(bench, SOURCE_OPENED);
	bench_run(bench, 20);
	assert_int_equal(heard(rig, bytes, sizeof(bytes)), 2);
	assert_memory_equal(bytes, "M\r", 2);
	bench_run(bench, 20);
	assert_int_equal(heard(rig, bytes, sizeof(bytes)), 0);
	bench_skip(bench, 300);
	assert_int_equal(heard(rig, bytes, sizeof(bytes)), 2);
	now = bench_now(bench);
	assert_int_equal(source_ask(bench->source, &now, &error), STATUS_OK);
	assert_int_equal(heard(rig, bytes, sizeof(bytes)), 2);
}

static void a_meter_that_sends_by_itself_is_never_written_to(void **state)
{
	struct rig *rig = *state;
	struct error error;
	struct moment now = bench_now(rig->bench);
	char bytes[16];

	pty_say(&rig->pty, GOOD);
	bench_run(rig->bench, 50);
	assert_int_equal(source_ask(rig->bench->source, &now, &error), STATUS_INVALID);
	assert_int_equal(heard(rig, bytes, sizeof(bytes)), 0);
	source_poll(rig->bench->source, &rig->bench->polled);
	assert_int_equal(fcntl(rig->bench->polled.fd, F_GETFL) & O_ACCMODE, O_RDONLY);
}

static void it_can_be_stopped_at_once_in_every_state(void **state)
{
	struct rig *rig = *state;
	struct bench *bench = bench_start(rig->pty.link, ASKING, SOURCE_STALE_MARK);
	int64_t since_us;

	bench_end(rig->bench);
	rig->bench = bench;
	bench_await(bench, SOURCE_OPENED);
	/* nobody reads what it asks: in the end it can't be sent */
	for (int i = 0; i < 4000; i++) {
		struct moment now = bench_now(bench);
		struct error error;

		if (source_ask(bench->source, &now, &error) != STATUS_OK)
			break;
	}
	since_us = clock_monotonic_us();
	bench_end(bench);
	rig->bench = bench_start(rig->pty.link, ASKING, SOURCE_STALE_MARK);
	bench_turn(rig->bench, 0); /* settling */
	bench_end(rig->bench);
	rig->bench = bench_start("/dev/ttyUSB99", NULL, SOURCE_STALE_MARK);
	bench_turn(rig->bench, 0); /* away */
	assert_true(clock_monotonic_us() - since_us < 1000000);
}

static void descriptors_beyond_1024_are_as_good(void **state)
{
	enum { MANY = 1100 };
	struct rig *rig = *state;
	struct rlimit limit;
	int opened[MANY];
	struct bench *bench;

	assert_int_equal(getrlimit(RLIMIT_NOFILE, &limit), 0);
	limit.rlim_cur = limit.rlim_max;
	if (limit.rlim_max < MANY + 50)
		skip();
	assert_int_equal(setrlimit(RLIMIT_NOFILE, &limit), 0);
	for (int i = 0; i < MANY; i++)
		opened[i] = open("/dev/null", O_RDONLY | O_CLOEXEC);
	assert_true(opened[MANY - 1] >= 1024);
	bench_end(rig->bench);
	bench = rig->bench = bench_start(rig->pty.link, NULL, SOURCE_STALE_MARK);
	/* and those that are free below them */
	for (int fd = 3; fd < 64; fd++)
		if (fcntl(fd, F_GETFD) < 0)
			assert_int_equal(dup2(opened[MANY - 1], fd), fd);
	bench_await(bench, SOURCE_OPENED);
	source_poll(bench->source, &bench->polled);
	assert_true(bench->polled.fd >= 1024);
	pty_say(&rig->pty, GOOD);
	assert_true(bench_await(bench, SOURCE_LINE)->read);
	for (int i = 0; i < MANY; i++)
		close(opened[i]);
}

/* FIFO, file, standard input */

static void a_fifo_waits_for_the_next_writer(void **state)
{
	char path[300];
	struct bench *bench;
	int writer;

	(void)state;
	snprintf(path, sizeof(path), "%s/fifo-%ld", bench_folder(), (long)getpid());
	unlink(path);
	assert_int_equal(mkfifo(path, 0600), 0);
	bench = bench_start(path, NULL, SOURCE_STALE_MARK);
	bench_await(bench, SOURCE_OPENED);
	for (int i = 0; i < 3; i++) {
		writer = open(path, O_WRONLY | O_NONBLOCK | O_CLOEXEC);
		assert_true(writer >= 0);
		assert_int_equal(write(writer, GOOD "R 00", sizeof(GOOD) + 3), sizeof(GOOD) + 3);
		close(writer);
		assert_true(bench_await(bench, SOURCE_LINE)->read);
		/* what one writer left unfinished is not glued to what the next one sends */
		assert_string_equal(bench_await(bench, SOURCE_BROKEN)->text, "R 00");
	}
	{
		double before_s = processor_s();

		bench_run(bench, 300);
		assert_true(processor_s() - before_s < 0.2);
	}
	assert_int_equal(bench_count(bench, SOURCE_GONE), 0);
	assert_int_equal(source_info(bench->source).state, SOURCE_STATE_OPEN);
	bench_end(bench);
	unlink(path);
}

static void a_file_is_read_to_its_end(void **state)
{
	struct bench *bench = bench_start("fixtures/captures/joined-in-mid-line.bin", NULL, SOURCE_STALE_MARK);

	(void)state;
	assert_says(bench_await(bench, SOURCE_END)->text, "has ended");
	assert_int_equal(bench_readings(bench), 4);
	assert_int_equal(bench_count(bench, SOURCE_BROKEN), 1);
	assert_int_equal(source_info(bench->source).state, SOURCE_STATE_ENDED);
	assert_true(source_deadline_us(bench->source) == CLOCK_NEVER);
	source_poll(bench->source, &bench->polled);
	assert_int_equal(bench->polled.fd, -1);
	bench_end(bench);
}

static void standard_input_is_read_to_its_end_and_its_flags_left_alone(void **state)
{
	int kept = dup(STDIN_FILENO);
	int ends[2];
	struct bench *bench;

	(void)state;
	assert_int_equal(pipe(ends), 0);
	assert_true(dup2(ends[0], STDIN_FILENO) == STDIN_FILENO);
	close(ends[0]);
	bench = bench_start("-", NULL, SOURCE_STALE_MARK);
	bench_await(bench, SOURCE_OPENED);
	bench_run(bench, 30);
	assert_int_equal(fcntl(STDIN_FILENO, F_GETFL) & O_NONBLOCK, 0);
	assert_int_equal(write(ends[1], GOOD, sizeof(GOOD) - 1), sizeof(GOOD) - 1);
	assert_true(bench_await(bench, SOURCE_LINE)->read);
	assert_int_equal(bench_count(bench, SOURCE_END), 0);
	close(ends[1]);
	bench_await(bench, SOURCE_END);
	bench_end(bench);
	dup2(kept, STDIN_FILENO);
	close(kept);
}

/* TCP */

static int server_start(char *where, size_t size, in_port_t port)
{
	struct sockaddr_in name = { .sin_family = AF_INET, .sin_port = port };
	socklen_t len = sizeof(name);
	int on = 1;
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

	name.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
	setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof(on));
	assert_int_equal(bind(fd, (struct sockaddr *)&name, len), 0);
	assert_int_equal(listen(fd, 2), 0);
	assert_int_equal(getsockname(fd, (struct sockaddr *)&name, &len), 0);
	if (where)
		snprintf(where, size, "tcp:127.0.0.1:%d", ntohs(name.sin_port));
	return fd;
}

static void a_connection_is_made_again_when_it_was_closed(void **state)
{
	char where[64];
	int server = server_start(where, sizeof(where), 0);
	struct bench *bench = bench_start(where, NULL, SOURCE_STALE_MARK);

	(void)state;
	for (int i = 0; i < 2; i++) {
		int fd;

		bench_await(bench, SOURCE_OPENED);
		fd = accept(server, NULL, NULL);
		assert_int_equal(write(fd, GOOD "R 00", sizeof(GOOD) + 3), sizeof(GOOD) + 3);
		assert_true(bench_await(bench, SOURCE_LINE)->read);
		close(fd);
		assert_string_equal(bench_await(bench, SOURCE_BROKEN)->text, "R 00");
		assert_int_equal(bench_await(bench, SOURCE_GONE)->cause, SOURCE_PEER_CLOSED);
	}
	bench_end(bench);
	close(server);
}

static void a_host_that_does_not_answer_is_tried_again(void **state)
{
	char where[64];
	int server = server_start(where, sizeof(where), 0);
	struct sockaddr_in name;
	socklen_t len = sizeof(name);
	struct bench *bench;

	(void)state;
	assert_int_equal(getsockname(server, (struct sockaddr *)&name, &len), 0);
	close(server);
	bench = bench_start(where, NULL, SOURCE_STALE_MARK);
	assert_int_equal(bench_await(bench, SOURCE_WAITING)->cause, SOURCE_UNREACHABLE);
	server = server_start(NULL, 0, name.sin_port);
	bench_await(bench, SOURCE_OPENED);
	bench_end(bench);
	close(server);
}

#define WITH_RIG(test) cmocka_unit_test_setup_teardown(test, rig_up, rig_down)

int main(void)
{
	static struct where_case places[] = {
		{ "nothing", "", STATUS_INVALID },
		{ "tcp without a host", "tcp:", STATUS_INVALID },
		{ "tcp without a port", "tcp:127.0.0.1", STATUS_INVALID },
		{ "tcp with an empty host", "tcp::4001", STATUS_INVALID },
		{ "a port of 0", "tcp:127.0.0.1:0", STATUS_INVALID },
		{ "a port beyond 65535", "tcp:127.0.0.1:65536", STATUS_INVALID },
		{ "a port that is no number", "tcp:127.0.0.1:http", STATUS_INVALID },
		{ "brackets that do not close", "tcp:[::1:4001", STATUS_INVALID },
		{ "a number for a host", "tcp:127.0.0.1:4001", STATUS_OK },
		{ "a long number", "tcp:[::1]:4001", STATUS_OK },
		{ "standard input", "-", STATUS_OK },
		{ "a path that is not there yet", "/dev/ttyUSB99", STATUS_OK },
	};
	const struct CMUnitTest tests[] = {
		WITH_RIG(a_line_split_by_a_pause_is_one_reading),
		WITH_RIG(a_carriage_return_alone_ends_a_line_at_once),
		WITH_RIG(nuls_and_a_cut_first_line_cost_no_later_line),
		WITH_RIG(seven_bits_with_even_parity_give_a_hint_and_no_reading),
		WITH_RIG(parity_that_the_profile_strips_is_no_obstacle),
		WITH_RIG(noise_is_diagnosed_once_a_minute),
		WITH_RIG(an_endless_line_costs_itself_alone),
		WITH_RIG(glued_lines_give_nothing),
		WITH_RIG(flow_control_characters_arrive_and_spoil_their_line),
		WITH_RIG(a_line_that_never_ends_does_not_spoil_the_next),
		WITH_RIG(a_silence_ends_a_line_where_the_profile_says_so),
		WITH_RIG(a_greeting_is_no_error_but_a_wrong_profile_is),
		WITH_RIG(a_flood_of_lines_arrives_whole_and_in_order),
		cmocka_unit_test(what_stood_in_the_buffers_is_marked_and_what_comes_after_is_not),
		cmocka_unit_test(an_old_piece_in_the_buffers_does_not_spoil_the_first_fresh_line),
		cmocka_unit_test(what_stood_in_the_buffers_can_be_thrown_away),
		cmocka_unit_test(the_rest_of_a_line_that_was_on_its_way_is_no_line),
		cmocka_unit_test(more_than_one_buffer_of_old_bytes_is_marked),
		WITH_RIG(a_pulled_cable_is_told_and_the_descriptor_closed_at_once),
		WITH_RIG(a_hung_up_terminal_is_gone),
		WITH_RIG(an_unplugged_source_takes_next_to_no_processor_time),
		WITH_RIG(it_comes_back_under_another_name),
		cmocka_unit_test(a_link_to_nothing_is_told_with_the_ports_that_are),
		cmocka_unit_test(a_port_that_vanishes_soon_after_it_appeared_brings_a_hint),
		WITH_RIG(a_port_that_stayed_vanishes_without_a_hint),
		WITH_RIG(after_a_sleep_the_port_is_opened_anew),
		WITH_RIG(a_long_silence_is_no_unplugging),
		WITH_RIG(a_wall_clock_that_is_set_back_changes_nothing),
		WITH_RIG(settings_changed_by_another_program_are_restored),
		WITH_RIG(the_same_device_is_not_opened_twice),
		cmocka_unit_test(a_port_that_another_program_has_is_waited_for),
		cmocka_unit_test(no_permission_is_not_called_absence),
		cmocka_unit_test(a_folder_is_no_source),
		WITH_RIG(a_meter_that_has_to_be_asked_is_asked),
		WITH_RIG(a_meter_that_sends_by_itself_is_never_written_to),
		WITH_RIG(it_can_be_stopped_at_once_in_every_state),
		WITH_RIG(descriptors_beyond_1024_are_as_good),
		cmocka_unit_test(a_fifo_waits_for_the_next_writer),
		cmocka_unit_test(a_file_is_read_to_its_end),
		cmocka_unit_test(standard_input_is_read_to_its_end_and_its_flags_left_alone),
		cmocka_unit_test(a_connection_is_made_again_when_it_was_closed),
		cmocka_unit_test(a_host_that_does_not_answer_is_tried_again),
	};
	struct CMUnitTest place_tests[sizeof(places) / sizeof(places[0])];
	int failed;

	if (without_sys("sources"))
		return 0;
	for (size_t i = 0; i < sizeof(places) / sizeof(places[0]); i++)
		place_tests[i] = (struct CMUnitTest){
			.name = places[i].name,
			.test_func = what_names_no_source_is_refused,
			.initial_state = &places[i],
		};
	failed = cmocka_run_group_tests_name("sources", tests, NULL, NULL);
	failed += cmocka_run_group_tests_name("names of sources", place_tests, NULL, NULL);
	return failed;
}
