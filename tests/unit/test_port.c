/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * test_port.c: libserialport itself over pseudo-terminals, whose missing modem lines a preloaded shim supplies.
 *
 * The program starts itself anew with the shim. A pseudo-terminal gets by the library's check of names as
 * /dev/../..PATH, which stands for the same file below /dev and, as far as the library looks, below /sys/class/tty.
 */
#include "capture_bench.h"

#include <grp.h>
#include <signal.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <sys/wait.h>

#include "port.h"
#include "without_sys.h"

struct rig {
	struct bench_pty pty;
	char name[512]; /* that the library takes */
	struct port *port;
	struct port_error error;
};

static const struct port_settings usual = {
	.baud = 9600,
	.data_bits = 8,
	.parity = PARITY_NONE,
	.stop_bits = 1,
	.dtr = true,
	.rts = true,
};

static int rig_up(void **state)
{
	struct rig *rig = calloc(1, sizeof(*rig));

	assert_non_null(rig);
	rig->pty = pty_plug("port");
	snprintf(rig->name, sizeof(rig->name), "/dev/../../..%s", rig->pty.link);
	*state = rig;
	return 0;
}

static int rig_down(void **state)
{
	struct rig *rig = *state;

	port_close(rig->port);
	pty_pull(&rig->pty);
	free(rig);
	return 0;
}

static enum port_failure rig_open(struct rig *rig, const char *path, const struct port_settings *settings)
{
	struct port_name name;
	enum port_failure failure = port_find(&name, path, &rig->error);

	if (failure != PORT_OK)
		return failure;
	return port_open(&rig->port, &name, settings, false, &rig->error);
}

static struct termios rig_settings(const struct rig *rig)
{
	struct termios terminal;

	assert_int_equal(tcgetattr(rig->pty.master, &terminal), 0);
	return terminal;
}

static void assert_opens(struct rig *rig, const char *path, const struct port_settings *settings)
{
	if (rig_open(rig, path, settings) != PORT_OK)
		fail_msg("%s", rig->error.text);
}

static void settings_of_the_program_before_are_overridden(void **state)
{
	struct rig *rig = *state;
	struct termios before = rig_settings(rig);
	struct termios after;

	cfsetspeed(&before, B1200);
	before.c_cflag |= CSTOPB | CRTSCTS;
	before.c_iflag |= IXON | IXOFF | ICRNL | ISTRIP | IGNCR;
	before.c_lflag |= ICANON | ECHO | ISIG;
	before.c_oflag |= OPOST;
	assert_int_equal(tcsetattr(rig->pty.master, TCSANOW, &before), 0);
	assert_opens(rig, rig->name, &usual);
	after = rig_settings(rig);
	assert_int_equal(cfgetospeed(&after), B9600);
	assert_int_equal(after.c_cflag & (CSIZE | CSTOPB | CRTSCTS | PARENB), CS8);
	assert_int_equal(after.c_iflag & (IXON | IXOFF | ICRNL | ISTRIP | IGNCR | INLCR | IGNBRK), 0);
	assert_int_equal(after.c_lflag & (ICANON | ECHO | ISIG), 0);
	assert_int_equal(after.c_oflag & OPOST, 0);
}

static void flow_control_by_rts_cts_is_really_set(void **state)
{
	struct rig *rig = *state;
	struct port_settings settings = usual;

	settings.flow = FLOW_RTSCTS;
	settings.stop_bits = 2;
	settings.baud = 38400;
	assert_opens(rig, rig->name, &settings);
	assert_int_equal(rig_settings(rig).c_cflag & (CRTSCTS | CSTOPB), CRTSCTS | CSTOPB);
	/* where the library's own call puts the flag, by mistake */
	assert_int_equal(rig_settings(rig).c_iflag & CRTSCTS, 0);
	assert_int_equal(cfgetispeed(&(struct termios){ .c_cflag = rig_settings(rig).c_cflag,
	                                                .c_ispeed = rig_settings(rig).c_ispeed }),
	                 B38400);
}

static void flow_control_by_characters_is_set_only_where_asked(void **state)
{
	struct rig *rig = *state;
	struct port_settings settings = usual;

	settings.flow = FLOW_XONXOFF;
	assert_opens(rig, rig->name, &settings);
	assert_int_equal(rig_settings(rig).c_iflag & (IXON | IXOFF | IXANY), IXON | IXOFF);
}

static void a_speed_without_a_constant_is_set(void **state)
{
	struct rig *rig = *state;
	struct port_settings settings = usual;

	settings.baud = 14400;
	assert_opens(rig, rig->name, &settings);
}

static void a_setting_that_the_port_does_not_take_is_refused(void **state)
{
	struct rig *rig = *state;
	struct port_settings settings = usual;

	settings.data_bits = 7;
	settings.parity = PARITY_EVEN;
	assert_int_equal(rig_open(rig, rig->name, &settings), PORT_SETTINGS);
	assert_says(rig->error.text, "9600 7E1");
	assert_null(rig->port);
}

static void a_driver_without_modem_lines_is_told_as_such(void **state)
{
	struct rig *rig = *state;

	setenv("SHIM_MODEM", "none", 1);
	assert_int_equal(rig_open(rig, rig->name, &usual), PORT_NO_MODEM);
	unsetenv("SHIM_MODEM");
	assert_says(rig->error.text, "driver knows no modem lines");
}

static void lines_are_raised_as_the_profile_says(void **state)
{
	struct rig *rig = *state;
	struct port_settings settings = usual;
	int lines = 0;

	settings.dtr = false;
	assert_opens(rig, rig->name, &settings);
	assert_int_equal(ioctl(port_fd(rig->port), TIOCMGET, &lines), 0);
	assert_int_equal(lines & (TIOCM_DTR | TIOCM_RTS), TIOCM_RTS);
	port_close(rig->port);
	assert_opens(rig, rig->name, &usual);
	assert_int_equal(ioctl(port_fd(rig->port), TIOCMGET, &lines), 0);
	assert_int_equal(lines & (TIOCM_DTR | TIOCM_RTS), TIOCM_DTR | TIOCM_RTS);
}

static void a_pulled_cable_is_neither_silence_nor_data(void **state)
{
	struct rig *rig = *state;
	char bytes[16];

	assert_opens(rig, rig->name, &usual);
	assert_int_equal(port_read(rig->port, bytes, sizeof(bytes)), PORT_NOTHING);
	assert_int_equal(port_waiting(rig->port), 0);
	pty_pull(&rig->pty);
	assert_int_equal(port_read(rig->port, bytes, sizeof(bytes)), PORT_GONE);
	assert_int_equal(port_waiting(rig->port), PORT_GONE);
	assert_int_equal(port_recheck(rig->port, &rig->error), PORT_VANISHED);
	assert_int_equal(port_find(&(struct port_name){ .pseudo = false }, rig->name, &rig->error), PORT_ABSENT);
}

static void what_another_program_changes_is_restored_and_told(void **state)
{
	struct rig *rig = *state;
	struct termios tampered;

	assert_opens(rig, rig->name, &usual);
	assert_int_equal(port_recheck(rig->port, &rig->error), PORT_AS_SET);
	tampered = rig_settings(rig);
	cfsetspeed(&tampered, B115200);
	tampered.c_cflag |= CRTSCTS;
	assert_int_equal(tcsetattr(rig->pty.master, TCSANOW, &tampered), 0);
	assert_int_equal(port_recheck(rig->port, &rig->error), PORT_RESTORED);
	assert_says(rig->error.text, "speed 115200");
	assert_says(rig->error.text, "flow control");
	tampered = rig_settings(rig);
	assert_int_equal(cfgetospeed(&tampered), B9600);
	assert_int_equal(tampered.c_cflag & CRTSCTS, 0);
	assert_int_equal(port_recheck(rig->port, &rig->error), PORT_AS_SET);
}

static void a_port_is_not_inherited_by_programs_that_are_started(void **state)
{
	struct rig *rig = *state;

	assert_opens(rig, rig->name, &usual);
	assert_int_equal(fcntl(port_fd(rig->port), F_GETFD) & FD_CLOEXEC, FD_CLOEXEC);
	assert_int_equal(fcntl(port_fd(rig->port), F_GETFL) & O_NONBLOCK, O_NONBLOCK);
}

static void the_same_device_by_another_path_is_refused(void **state)
{
	struct rig *rig = *state;
	struct port_name name;
	struct port *second = NULL;
	char twisted[80];

	assert_opens(rig, rig->name, &usual);
	snprintf(twisted, sizeof(twisted), "/dev/./pts//%s", strrchr(rig->pty.name, '/') + 1);
	assert_int_equal(port_find(&name, twisted, &rig->error), PORT_OK);
	assert_int_equal(port_open(&second, &name, &usual, false, &rig->error), PORT_TWICE);
	assert_null(second);
	assert_says(rig->error.text, "which this program reads already");
	/* its settings are as they were */
	assert_int_equal(port_recheck(rig->port, &rig->error), PORT_AS_SET);
}

/* A process that has name open and locked, or exclusively, as long as it lives. */
static pid_t hold(const char *name, bool locked)
{
	int ready[2];
	pid_t pid;
	char byte;

	assert_int_equal(pipe(ready), 0);
	pid = fork();
	if (pid == 0) {
		/* nor does it outlive a test that failed */
		int dies = prctl(PR_SET_PDEATHSIG, SIGKILL);
		int fd = open(name, O_RDWR | O_NOCTTY);
		int rc = locked ? flock(fd, LOCK_EX) : ioctl(fd, TIOCEXCL);

		if (dies != 0 || fd < 0 || rc != 0 || write(ready[1], "", 1) != 1)
			_exit(1);
		for (;;)
			pause();
	}
	assert_true(pid > 0);
	close(ready[1]);
	assert_int_equal(read(ready[0], &byte, 1), 1);
	close(ready[0]);
	return pid;
}

static void release(pid_t pid)
{
	kill(pid, SIGKILL);
	waitpid(pid, NULL, 0);
}

static void a_port_that_another_program_has_is_busy_and_says_whose(void **state)
{
	struct rig *rig = *state;
	pid_t holder = hold(rig->pty.name, true);
	struct termios before = rig_settings(rig);
	struct termios after;
	char number[32];

	assert_int_equal(rig_open(rig, rig->name, &usual), PORT_BUSY);
	snprintf(number, sizeof(number), "process %ld", (long)holder);
	assert_says(rig->error.text, number);
	after = rig_settings(rig);
	assert_int_equal(before.c_iflag, after.c_iflag);
	assert_int_equal(before.c_cflag, after.c_cflag);
	release(holder);
	assert_opens(rig, rig->name, &usual);
}

/* As an account that is not root, and in no group. */
static void as_nobody(void)
{
	if (geteuid() != 0)
		skip();
	assert_int_equal(setgroups(0, NULL), 0);
	assert_int_equal(setegid(65534), 0);
	assert_int_equal(seteuid(65534), 0);
}

static void as_root(void)
{
	assert_int_equal(seteuid(0), 0);
	assert_int_equal(setegid(0), 0);
}

static void no_permission_names_port_group_and_account(void **state)
{
	struct rig *rig = *state;
	enum port_failure failure;

	assert_int_equal(chmod(rig->pty.name, 0660), 0);
	as_nobody();
	failure = rig_open(rig, rig->pty.name, &usual);
	as_root();
	assert_int_equal(failure, PORT_DENIED);
	assert_says(rig->error.text, "nobody");
	assert_says(rig->error.text, rig->pty.name);
	assert_says(rig->error.text, "group");
	assert_says(rig->error.text, "adduser nobody ");
}

static void a_port_that_is_taken_exclusively_is_busy(void **state)
{
	struct rig *rig = *state;
	enum port_failure failure;
	pid_t holder;

	if (geteuid() != 0)
		skip();
	holder = hold(rig->pty.name, false);
	assert_int_equal(chmod(rig->pty.name, 0666), 0);
	as_nobody();
	failure = rig_open(rig, rig->pty.name, &usual);
	as_root();
	release(holder);
	assert_int_equal(failure, PORT_BUSY);
}

static void a_pseudo_terminal_by_its_own_name_needs_no_library(void **state)
{
	struct rig *rig = *state;
	struct port_name name;
	char bytes[16];

	setenv("SHIM_MODEM", "none", 1);
	assert_int_equal(port_find(&name, rig->pty.link, &rig->error), PORT_OK);
	assert_string_equal(name.path, rig->pty.name);
	assert_true(name.pseudo);
	assert_opens(rig, rig->pty.link, &usual);
	unsetenv("SHIM_MODEM");
	assert_false(port_marks(rig->port));
	pty_say(&rig->pty, "a\xff\x11");
	while (port_waiting(rig->port) < 3)
		continue;
	assert_int_equal(port_read(rig->port, bytes, sizeof(bytes)), 3);
	assert_memory_equal(bytes, "a\xff\x11", 3);
}

struct path_case {
	const char *name, *path;
	enum port_failure failure;
	const char *says;
};

static void what_is_no_port_is_refused_with_its_reason(void **state)
{
	const struct path_case *c = *state;
	struct port_name name;
	struct port_error error;

	if (c->failure != PORT_ABSENT && access(c->path, F_OK) != 0)
		skip(); /* a container has few devices */
	assert_int_equal(port_find(&name, c->path, &error), c->failure);
	assert_says(error.text, c->says);
	assert_says(error.text, c->path);
}

static void settings_are_printed_as_people_write_them(void **state)
{
	struct port_settings settings = usual;
	char text[PORT_SETTINGS_TEXT];

	(void)state;
	assert_string_equal(port_settings_print(text, sizeof(text), &settings), "9600 8N1");
	settings = (struct port_settings){ .baud = 1200, .data_bits = 7, .parity = PARITY_MARK, .stop_bits = 2 };
	settings.flow = FLOW_RTSCTS;
	assert_string_equal(port_settings_print(text, sizeof(text), &settings), "1200 7M2 rtscts");
}

/* Through the source above it: what the marks of a terminal are for. */
static void every_byte_value_arrives_as_it_was_sent(void **state)
{
	struct rig *rig = *state;
	struct bench *bench = bench_start(rig->name, NULL, SOURCE_STALE_MARK);
	char bytes[256];
	size_t len = 0;
	struct bench_event *line;

	for (int c = 0; c < 256; c++)
		if (c != '\r' && c != '\n')
			bytes[len++] = (char)c;
	assert_says(bench_await(bench, SOURCE_OPENED)->text, "9600 8N1");
	assert_int_equal(source_kind(bench->source), SOURCE_KIND_PORT);
	bytes[len] = '\n';
	pty_send(&rig->pty, bench, bytes, len + 1);
	line = bench_await(bench, SOURCE_LINE);
	assert_int_equal(line->len, len);
	assert_memory_equal(line->text, bytes, len);
	assert_false(line->damaged);
	bench_end(bench);
}

static void a_line_with_a_damaged_byte_is_no_reading(void **state)
{
	struct rig *rig = *state;
	struct bench *bench = bench_start(rig->name, NULL, SOURCE_STALE_MARK);
	struct termios terminal;
	struct bench_event *line;

	bench_await(bench, SOURCE_OPENED);
	/* a pseudo-terminal has no damaged bytes: with the marking off, marks can be sent */
	terminal = rig_settings(rig);
	assert_int_equal(terminal.c_iflag & (PARMRK | INPCK | IGNPAR), PARMRK | INPCK);
	terminal.c_iflag &= ~(tcflag_t)PARMRK;
	assert_int_equal(tcsetattr(rig->pty.master, TCSANOW, &terminal), 0);
	pty_send(&rig->pty, bench, "R 0001 1.3\377\0008 % 22.4 C\r\nR 0002 1.39 % 22.4 C\r\n", 46);
	line = bench_await(bench, SOURCE_LINE);
	assert_true(line->damaged);
	assert_false(line->read);
	assert_string_equal(line->text, "R 0001 1.38 % 22.4 C");
	line = bench_await(bench, SOURCE_LINE);
	assert_false(line->damaged);
	assert_true(line->read);
	/* a break before a line, as at power-up, spoils nothing */
	pty_send(&rig->pty, bench,
	         "\377\0\0"
	         "R 0003 1.40 % 22.4 C\r\n",
	         25);
	line = bench_await(bench, SOURCE_LINE);
	assert_false(line->damaged);
	assert_true(line->read);
	assert_int_equal(source_info(bench->source).damaged, 2);
	bench_end(bench);
}

static void woken(int number)
{
	(void)number;
}

static void a_device_that_takes_no_bytes_does_not_hold_up_the_closing(void **state)
{
	struct rig *rig = *state;
	const struct sigaction waking = { .sa_handler = woken };
	struct sigaction after;
	struct itimerval timer;
	int64_t since_us;
	int fd = open(rig->pty.name, O_WRONLY | O_NOCTTY);

	setenv("SHIM_MODEM", "stuck", 1);
	assert_int_equal(sigaction(SIGALRM, &waking, NULL), 0);
	assert_int_equal(write(fd, "M\r", 2), 2);
	since_us = clock_monotonic_us();
	alarm(1);
	close(fd); /* such a device does hold it up, until a signal comes */
	assert_true(clock_monotonic_us() - since_us > 900000);
	for (int pulled = 0; pulled <= 1; pulled++) {
		struct port_name name;

		assert_int_equal(port_find(&name, rig->name, &rig->error), PORT_OK);
		assert_int_equal(port_open(&rig->port, &name, &usual, true, &rig->error), PORT_OK);
		assert_int_equal(port_write(rig->port, "M\r", 2), 2);
		if (pulled)
			pty_pull(&rig->pty);
		since_us = clock_monotonic_us();
		port_close(rig->port);
		rig->port = NULL;
		assert_true(clock_monotonic_us() - since_us < 2000000);
	}
	unsetenv("SHIM_MODEM");
	/* what the program itself does with that signal is as it was */
	assert_int_equal(sigaction(SIGALRM, NULL, &after), 0);
	assert_ptr_equal(after.sa_handler, woken);
	assert_int_equal(getitimer(ITIMER_REAL, &timer), 0);
	assert_true(timer.it_value.tv_sec == 0 && timer.it_value.tv_usec == 0);
}

static void a_port_comes_back_and_is_read_again(void **state)
{
	struct rig *rig = *state;
	struct bench *bench = bench_start(rig->name, NULL, SOURCE_STALE_MARK);

	bench_await(bench, SOURCE_OPENED);
	pty_say(&rig->pty, "R 0001 1.38 % 22.4 C\r\n");
	bench_await(bench, SOURCE_LINE);
	pty_pull(&rig->pty);
	assert_int_equal(bench_await(bench, SOURCE_GONE)->cause, SOURCE_UNPLUGGED);
	assert_int_equal(bench_await(bench, SOURCE_WAITING)->cause, SOURCE_ABSENT);
	rig->pty = pty_plug("port");
	bench_await(bench, SOURCE_OPENED);
	pty_say(&rig->pty, "R 0002 1.38 % 22.4 C\r\n");
	assert_true(bench_await(bench, SOURCE_LINE)->read);
	bench_end(bench);
}

/* Starts this program anew with the shim, unless it was. */
static void with_shim(char **argv)
{
	const char *build = getenv("TEST_BUILD");
	char shim[512];

	if (getenv("SHIM_LOADED"))
		return;
	snprintf(shim, sizeof(shim), "%.400s/capture/pty_modem_shim.so", build ? build : "build/tests");
	if (access(shim, R_OK) != 0) {
		print_error("%s is missing: make tests\n", shim);
		exit(1);
	}
	setenv("SHIM_LOADED", "1", 1);
	setenv("LD_PRELOAD", shim, 1);
	/* the sanitizer wants to be first */
	if (getenv("ASAN_OPTIONS")) {
		char options[1024];

		snprintf(options, sizeof(options), "%.900s:verify_asan_link_order=0", getenv("ASAN_OPTIONS"));
		setenv("ASAN_OPTIONS", options, 1);
	}
	execv("/proc/self/exe", argv);
	print_error("execv: %s\n", strerror(errno));
	exit(1);
}

#define WITH_RIG(test) cmocka_unit_test_setup_teardown(test, rig_up, rig_down)

int main(int argc, char **argv)
{
	static struct path_case paths[] = {
		{ "a port that is not there: others are named", "/dev/ttyUSB99", PORT_ABSENT, "ports that are: " },
		{ "a by-id link that is not there", "/dev/serial/by-id/usb-none", PORT_ABSENT, "there is no" },
		{ "a virtual console", "/dev/tty63", PORT_CONSOLE, "is a console" },
		{ "the controlling terminal", "/dev/tty", PORT_CONSOLE, "is a console" },
		{ "a device of another kind", "/dev/null", PORT_NOT_ONE, "no serial port" },
		{ "a folder", "/dev/pts", PORT_NOT_ONE, "no serial port" },
	};
	const struct CMUnitTest tests[] = {
		WITH_RIG(settings_of_the_program_before_are_overridden),
		WITH_RIG(flow_control_by_rts_cts_is_really_set),
		WITH_RIG(flow_control_by_characters_is_set_only_where_asked),
		WITH_RIG(a_speed_without_a_constant_is_set),
		WITH_RIG(a_setting_that_the_port_does_not_take_is_refused),
		WITH_RIG(a_driver_without_modem_lines_is_told_as_such),
		WITH_RIG(lines_are_raised_as_the_profile_says),
		WITH_RIG(a_pulled_cable_is_neither_silence_nor_data),
		WITH_RIG(what_another_program_changes_is_restored_and_told),
		WITH_RIG(a_port_is_not_inherited_by_programs_that_are_started),
		WITH_RIG(the_same_device_by_another_path_is_refused),
		WITH_RIG(a_port_that_another_program_has_is_busy_and_says_whose),
		WITH_RIG(no_permission_names_port_group_and_account),
		WITH_RIG(a_port_that_is_taken_exclusively_is_busy),
		WITH_RIG(a_pseudo_terminal_by_its_own_name_needs_no_library),
		cmocka_unit_test(settings_are_printed_as_people_write_them),
		WITH_RIG(every_byte_value_arrives_as_it_was_sent),
		WITH_RIG(a_line_with_a_damaged_byte_is_no_reading),
		WITH_RIG(a_device_that_takes_no_bytes_does_not_hold_up_the_closing),
		WITH_RIG(a_port_comes_back_and_is_read_again),
	};
	struct CMUnitTest path_tests[sizeof(paths) / sizeof(paths[0])];
	int failed;

	(void)argc;
	if (without_sys("ports"))
		return 0;
	with_shim(argv);
	for (size_t i = 0; i < sizeof(paths) / sizeof(paths[0]); i++)
		path_tests[i] = (struct CMUnitTest){
			.name = paths[i].name,
			.test_func = what_is_no_port_is_refused_with_its_reason,
			.initial_state = &paths[i],
		};
	failed = cmocka_run_group_tests_name("ports", tests, NULL, NULL);
	failed += cmocka_run_group_tests_name("paths", path_tests, NULL, NULL);
	return failed;
}
