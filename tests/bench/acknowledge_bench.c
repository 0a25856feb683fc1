/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * acknowledge_bench PROGRAM [FOLDER [READINGS]]: from the last byte of a line to the daemon's word that it is stored, beside
 * append + fdatasync of as many bytes to a plain file on the same disk. One meter, a pseudo-terminal, sends a line, waits
 * for the answer of listen --json, sends the next; the floor takes its turn after each. Then 32 meters send a line at once,
 * and the time until each is told is taken. Medians, and the 95 of 100; one line each.
 */
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include "bench.h"
#include "number.h"

enum { METERS = 32, READINGS_MOST = 20000, LINE_ROOM = 4096 };

struct rig {
	char folder[4000];
	int meter[METERS];
	int told; /* standard output of the daemon */
	int floor_file;
	pid_t daemon;
	char pending[1 << 16];
	size_t held;
};

static double now_ms(void)
{
	return bench_now_s() * 1e3;
}

static _Noreturn void give_up(const char *what)
{
	fprintf(stderr, "acknowledge_bench: %s: %s\n", what, strerror(errno));
	exit(3);
}

static void path_in(char *out, size_t size, const struct rig *rig, const char *name)
{
	if (snprintf(out, size, "%s/%s", rig->folder, name) >= (int)size)
		give_up("path");
}

static void write_file(const struct rig *rig, const char *name, const char *text)
{
	char path[LINE_ROOM];
	FILE *file;

	path_in(path, sizeof(path), rig, name);
	file = fopen(path, "w");
	if (!file || fputs(text, file) < 0 || fclose(file) != 0)
		give_up(path);
}

static void meters_make(struct rig *rig)
{
	static char ini[METERS * 80 + 8];
	size_t len = 0;

	for (int i = 0; i < METERS; i++) {
		struct termios terminal;
		char name[32], path[LINE_ROOM];
		const char *pty;
		int fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);

		if (fd < 0 || grantpt(fd) != 0 || unlockpt(fd) != 0 || !(pty = ptsname(fd)))
			give_up("pseudo-terminal");
		tcgetattr(fd, &terminal);
		cfmakeraw(&terminal);
		tcsetattr(fd, TCSANOW, &terminal);
		snprintf(name, sizeof(name), "m%02d.tty", i);
		path_in(path, sizeof(path), rig, name);
		if (symlink(pty, path) != 0)
			give_up(path);
		rig->meter[i] = fd;
		len += (size_t)snprintf(ini + len, sizeof(ini) - len,
		                        "[meter m%02d]\nport = m%02d.tty\nprofile = bare-number\n", i, i);
	}
	write_file(rig, "bench.ini", ini);
}

static void daemon_start(struct rig *rig, const char *program)
{
	int out[2];

	if (pipe2(out, O_CLOEXEC) != 0)
		give_up("pipe");
	rig->daemon = fork();
	if (rig->daemon < 0)
		give_up("fork");
	if (rig->daemon == 0) {
		int quiet = open("/dev/null", O_RDWR);

		dup2(out[1], STDOUT_FILENO);
		dup2(quiet, STDERR_FILENO);
		dup2(quiet, STDIN_FILENO);
		execl(program, program, "listen", "--bench", rig->folder, "--json", (char *)NULL);
		_exit(127);
	}
	close(out[1]);
	rig->told = out[0];
}

/* Lines told from now on, at most wanted, until limit_ms have passed; when each came goes to at[]. */
static size_t await_told(struct rig *rig, size_t wanted, double limit_ms, double *at)
{
	double until = now_ms() + limit_ms;
	size_t got = 0;

	while (got < wanted && now_ms() < until) {
		struct pollfd polled = { rig->told, POLLIN, 0 };
		ssize_t len;

		if (poll(&polled, 1, (int)(until - now_ms()) + 1) <= 0)
			continue;
		len = read(rig->told, rig->pending, sizeof(rig->pending));
		if (len <= 0)
			give_up("the daemon ended");
		for (ssize_t i = 0; i < len; i++)
			if (rig->pending[i] == '\n' && got < wanted)
				at[got++] = now_ms();
	}
	return got;
}

static void send_line(const struct rig *rig, int meter, unsigned number)
{
	char line[32];
	int len = snprintf(line, sizeof(line), "%.2f\r\n", 1.0 + (double)(number % 100) / 100);

	if (write(rig->meter[meter], line, (size_t)len) != len)
		give_up("a meter's line");
}

/* Every meter is open once a line of it was told. */
static void warm_up(struct rig *rig)
{
	double at[METERS];

	for (int i = 0; i < METERS; i++) {
		size_t got = 0;

		for (int tries = 0; tries < 100 && got == 0; tries++) {
			send_line(rig, i, (unsigned)tries);
			got = await_told(rig, 1, 200, at);
		}
		if (got == 0)
			give_up("a meter was not read");
	}
	while (await_told(rig, METERS, 300, at) > 0)
		continue;
}

static double floor_once(const struct rig *rig)
{
	static const char bytes[512] = { 0 };
	double since = now_ms();

	if (write(rig->floor_file, bytes, sizeof(bytes)) != (ssize_t)sizeof(bytes) || fdatasync(rig->floor_file) != 0)
		give_up("floor");
	return now_ms() - since;
}

static void one_meter(struct rig *rig, size_t readings, double *told, double *floor)
{
	double at[1];

	for (size_t i = 0; i < readings; i++) {
		double since = now_ms();

		send_line(rig, 0, (unsigned)i);
		if (await_told(rig, 1, 5000, at) != 1)
			give_up("a reading was not told");
		told[i] = at[0] - since;
		floor[i] = floor_once(rig);
	}
}

static void all_meters(struct rig *rig, size_t turns, double *told, double *floor)
{
	double at[METERS];

	for (size_t i = 0; i < turns; i++) {
		double since = now_ms();

		for (int m = 0; m < METERS; m++)
			send_line(rig, m, (unsigned)i);
		if (await_told(rig, METERS, 10000, at) != METERS)
			give_up("a reading was not told");
		for (size_t m = 0; m < METERS; m++)
			told[i * METERS + m] = at[m] - since;
		floor[i] = floor_once(rig);
	}
}

static void tell(const char *what, double *told, size_t n, double *floor, size_t floors)
{
	double median = bench_quantile(told, n, 0.5), least = bench_quantile(floor, floors, 0.5);

	printf("%-44s %7.3f ms, 95 of 100 within %7.3f ms; append + fdatasync %7.3f ms: %.2f times\n", what, median,
	       bench_quantile(told, n, 0.95), least, median / least);
}

static void tidy(const struct rig *rig)
{
	static const char *const names[] = {
		"bench.ini", "ledger.brewspread", "ledger.brewspread-wal", "ledger.brewspread-shm",
		"floor",     "control.lock"
	};
	char path[LINE_ROOM];

	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++) {
		path_in(path, sizeof(path), rig, names[i]);
		unlink(path);
	}
	for (int i = 0; i < METERS; i++) {
		char name[32];

		snprintf(name, sizeof(name), "m%02d.tty", i);
		path_in(path, sizeof(path), rig, name);
		unlink(path);
	}
	rmdir(rig->folder);
}

int main(int argc, char **argv)
{
	static struct rig rig;
	static double told[READINGS_MOST], floor[READINGS_MOST];
	const char *above = argc > 2 ? argv[2] : "/tmp";
	long long readings = 400;
	char path[LINE_ROOM];
	size_t turns;

	if (argc < 2 || (argc > 3 && (!number_parse_count(&readings, slice_from(argv[3])) || readings < 2 ||
	                              readings > READINGS_MOST)))
		give_up("expected PROGRAM [FOLDER [READINGS]]");
	snprintf(rig.folder, sizeof(rig.folder), "%s/acknowledge-XXXXXX", above);
	if (!mkdtemp(rig.folder))
		give_up(rig.folder);
	path_in(path, sizeof(path), &rig, "floor");
	rig.floor_file = open(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
	if (rig.floor_file < 0)
		give_up(path);
	meters_make(&rig);
	daemon_start(&rig, argv[1]);
	warm_up(&rig);
	one_meter(&rig, (size_t)readings, told, floor);
	tell("one meter: line to word", told, (size_t)readings, floor, (size_t)readings);
	turns = (size_t)readings / METERS + 2;
	all_meters(&rig, turns, told, floor);
	tell("32 meters at once: line to word, each", told, turns * METERS, floor, turns);
	kill(rig.daemon, SIGTERM);
	waitpid(rig.daemon, NULL, 0);
	tidy(&rig);
	return 0;
}
