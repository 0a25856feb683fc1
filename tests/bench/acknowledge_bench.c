/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * acknowledge_bench PROGRAM [FOLDER [READINGS]]: from the last byte of a line to the daemon's word that it is stored. A
 * bench of one meter, a pseudo-terminal: it sends a line, waits for the answer of listen --json, sends the next. Then a bench
 * of 32 that send a line at once; the time until each is told is taken. Medians, and the 95 of 100; one line each. Two floors take their turns
 * in between: append + fdatasync of as many bytes to a plain file on the same disk, here in this process, and a daemon that
 * does that and no more: its meters' lines come by pseudo-terminals too, and its word goes through a pipe.
 */
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include "bench.h"
#include "number.h"

enum { METERS = 32, READINGS_MOST = 20000, LINE_ROOM = 4096 };

enum { FLOOR_BYTES = 512 }; /* about what a reading adds to the ledger, its index and its log */

/* A daemon and its meters. */
struct rig {
	char folder[4000];
	int meters;
	int meter[METERS];
	char port[METERS][64];
	int told; /* standard output of the daemon */
	pid_t daemon;
	char pending[1 << 16];
};

struct times {
	double ours[READINGS_MOST], bare[READINGS_MOST], append[READINGS_MOST];
	size_t lines, turns; /* of ours and bare; of append */
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
	for (int i = 0; i < rig->meters; i++) {
		struct termios terminal;
		int fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);

		if (fd < 0 || grantpt(fd) != 0 || unlockpt(fd) != 0 ||
		    ptsname_r(fd, rig->port[i], sizeof(rig->port[i])) != 0)
			give_up("pseudo-terminal");
		tcgetattr(fd, &terminal);
		cfmakeraw(&terminal);
		tcsetattr(fd, TCSANOW, &terminal);
		rig->meter[i] = fd;
	}
}

static void bench_write(const struct rig *rig)
{
	static char ini[METERS * 80 + 8];
	size_t len = 0;

	for (int i = 0; i < rig->meters; i++) {
		char name[32], path[LINE_ROOM];

		snprintf(name, sizeof(name), "m%02d.tty", i);
		path_in(path, sizeof(path), rig, name);
		if (symlink(rig->port[i], path) != 0)
			give_up(path);
		len += (size_t)snprintf(ini + len, sizeof(ini) - len,
		                        "[meter m%02d]\nport = m%02d.tty\nprofile = bare-number\n", i, i);
	}
	write_file(rig, "bench.ini", ini);
}

static int floor_open(const struct rig *rig, const char *name)
{
	char path[LINE_ROOM];
	int fd;

	path_in(path, sizeof(path), rig, name);
	fd = open(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
	if (fd < 0)
		give_up(path);
	return fd;
}

static void append_durably(int file, size_t lines)
{
	static const char bytes[FLOOR_BYTES * METERS] = { 0 };
	size_t len = lines * FLOOR_BYTES;

	if (write(file, bytes, len) != (ssize_t)len || fdatasync(file) != 0)
		give_up("floor");
}

/* How many lines the meter has sent; they are read away. */
static size_t lines_read(int meter)
{
	char bytes[4096];
	ssize_t len = read(meter, bytes, sizeof(bytes));
	size_t lines = 0;

	for (ssize_t i = 0; i < len; i++)
		lines += bytes[i] == '\n';
	return lines;
}

/* Lines come, they are stored together, and for each a word goes out. */
static _Noreturn void bare_daemon(const struct rig *rig, int out)
{
	static const char word[METERS + 1] = "\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n";
	struct pollfd polled[METERS];
	int file = floor_open(rig, "floor");

	for (int i = 0; i < rig->meters; i++) {
		polled[i] = (struct pollfd){ open(rig->port[i], O_RDWR | O_NOCTTY | O_CLOEXEC), POLLIN, 0 };
		if (polled[i].fd < 0)
			give_up(rig->port[i]);
	}
	while (poll(polled, (nfds_t)rig->meters, -1) > 0) {
		size_t lines = 0;

		for (int i = 0; i < rig->meters; i++)
			if (polled[i].revents & POLLIN)
				lines += lines_read(polled[i].fd);
		if (lines == 0)
			continue;
		if (lines > METERS)
			give_up("more lines than meters");
		append_durably(file, lines);
		if (write(out, word, lines) != (ssize_t)lines)
			break;
	}
	_exit(0);
}

static _Noreturn void program_run(const struct rig *rig, const char *program, int out)
{
	int quiet = open("/dev/null", O_RDWR);

	dup2(out, STDOUT_FILENO);
	dup2(quiet, STDERR_FILENO);
	dup2(quiet, STDIN_FILENO);
	execl(program, program, "listen", "--bench", rig->folder, "--json", (char *)NULL);
	_exit(127);
}

/* program NULL: the bare one. */
static void daemon_start(struct rig *rig, const char *program)
{
	int out[2];

	if (pipe2(out, O_CLOEXEC) != 0)
		give_up("pipe");
	rig->daemon = fork();
	if (rig->daemon < 0)
		give_up("fork");
	if (rig->daemon == 0)
		prctl(PR_SET_PDEATHSIG, SIGTERM); /* where this program gives up, its daemons end too */
	if (rig->daemon == 0 && program)
		program_run(rig, program, out[1]);
	if (rig->daemon == 0)
		bare_daemon(rig, out[1]);
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

	for (int i = 0; i < rig->meters; i++) {
		size_t got = 0;

		for (int tries = 0; tries < 100 && got == 0; tries++) {
			send_line(rig, i, (unsigned)tries);
			got = await_told(rig, 1, 200, at);
		}
		if (got == 0)
			give_up("a meter was not read");
	}
	while (await_told(rig, (size_t)rig->meters, 300, at) > 0)
		continue;
}

static double append_once(int file)
{
	double since = now_ms();

	append_durably(file, 1);
	return now_ms() - since;
}

/* The meters of the rig send a line each; told[] is when each was told. */
static void lines_send(struct rig *rig, size_t turn, double *told)
{
	size_t meters = (size_t)rig->meters;
	double at[METERS], since = now_ms();

	for (int m = 0; m < rig->meters; m++)
		send_line(rig, m, (unsigned)turn);
	if (await_told(rig, meters, 10000, at) != meters)
		give_up("a reading was not told");
	for (size_t m = 0; m < meters; m++)
		told[m] = at[m] - since;
}

static void take_turns(struct times *times, struct rig *ours, struct rig *bare, int file, size_t turns)
{
	size_t meters = (size_t)ours->meters;

	for (size_t i = 0; i < turns; i++) {
		lines_send(ours, i, times->ours + i * meters);
		lines_send(bare, i, times->bare + i * meters);
		times->append[i] = append_once(file);
	}
	times->lines = turns * meters;
	times->turns = turns;
}

static void tell(const char *what, struct times *times)
{
	double ours = bench_quantile(times->ours, times->lines, 0.5);
	double bare = bench_quantile(times->bare, times->lines, 0.5);
	double append = bench_quantile(times->append, times->turns, 0.5);

	printf("%-36s %7.3f ms, 95 of 100 within %7.3f ms; a bare daemon %7.3f ms: %.2f times; append + fdatasync alone %7.3f ms: "
	       "%.2f times\n",
	       what, ours, bench_quantile(times->ours, times->lines, 0.95), bare, ours / bare, append, ours / append);
}

static void tidy(const struct rig *rig)
{
	static const char *const names[] = {
		"bench.ini", "ledger.brewspread", "ledger.brewspread-wal", "ledger.brewspread-shm", "floor",
		"append",    "control.lock"
	};
	char path[LINE_ROOM];

	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++) {
		path_in(path, sizeof(path), rig, names[i]);
		unlink(path);
	}
	for (int i = 0; i < rig->meters; i++) {
		char name[32];

		snprintf(name, sizeof(name), "m%02d.tty", i);
		path_in(path, sizeof(path), rig, name);
		unlink(path);
	}
	rmdir(rig->folder);
}

static void daemon_end(const struct rig *rig)
{
	kill(rig->daemon, SIGTERM);
	waitpid(rig->daemon, NULL, 0);
	close(rig->told);
	for (int i = 0; i < rig->meters; i++)
		close(rig->meter[i]);
}

static void measure(const char *what, const char *program, const char *above, int meters, size_t turns)
{
	static struct rig ours, bare;
	static struct times times;
	int file;

	snprintf(ours.folder, sizeof(ours.folder), "%s/acknowledge-XXXXXX", above);
	if (!mkdtemp(ours.folder))
		give_up(ours.folder);
	memcpy(bare.folder, ours.folder, sizeof(bare.folder));
	ours.meters = bare.meters = meters;
	file = floor_open(&ours, "append");
	meters_make(&ours);
	meters_make(&bare);
	bench_write(&ours);
	daemon_start(&ours, program);
	daemon_start(&bare, NULL);
	warm_up(&ours);
	warm_up(&bare);
	take_turns(&times, &ours, &bare, file, turns);
	tell(what, &times);
	daemon_end(&ours);
	daemon_end(&bare);
	close(file);
	tidy(&ours);
}

int main(int argc, char **argv)
{
	const char *above = argc > 2 ? argv[2] : "/tmp";
	long long readings = 400;

	if (argc < 2 || (argc > 3 && (!number_parse_count(&readings, slice_from(argv[3])) || readings < METERS ||
	                              readings > READINGS_MOST)))
		give_up("expected PROGRAM [FOLDER [READINGS]]");
	measure("one meter: line to word", argv[1], above, 1, (size_t)readings);
	measure("32 meters at once: line to word, each", argv[1], above, METERS, (size_t)readings / METERS);
	return 0;
}
