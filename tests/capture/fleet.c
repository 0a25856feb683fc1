/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * fleet.c: many invented meters at once, each on a pseudo-terminal of its own, sending numbered lines at a set pace.
 *
 *   fleet FOLDER METERS BYTES-A-SECOND SECONDS
 *
 * Makes FOLDER/meter-01 ..., says "ready", and waits for a line on standard input. Then it sends lines of the form
 * "R 0000001 1.38 % 22.4 C" CR LF and at the end says how many each meter sent, "sent N", and how late the last byte
 * was, "late N ms". It holds the terminals open until its standard input ends.
 */
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

enum { METERS = 64, TICK_MS = 2 };

struct meter {
	int fd;
	char line[64];
	size_t len, at; /* of the line that is being sent */
	unsigned long lines;
	double owed; /* bytes */
};

static _Noreturn void give_up(const char *what)
{
	fprintf(stderr, "fleet: %s: %s\n", what, strerror(errno));
	exit(1);
}

static double seconds_now(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static void meter_plug(struct meter *meter, const char *folder, int number)
{
	struct termios terminal;
	char path[4096];
	const char *name;

	*meter = (struct meter){ .fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC) };
	if (meter->fd < 0 || grantpt(meter->fd) != 0 || unlockpt(meter->fd) != 0 || !(name = ptsname(meter->fd)))
		give_up("pseudo-terminal");
	tcgetattr(meter->fd, &terminal);
	cfmakeraw(&terminal);
	tcsetattr(meter->fd, TCSANOW, &terminal);
	fcntl(meter->fd, F_SETFL, O_NONBLOCK);
	snprintf(path, sizeof(path), "%s/meter-%02d", folder, number);
	unlink(path);
	if (symlink(name, path) != 0)
		give_up(path);
}

/* Sends what is owed, whole lines or not. False: the other side takes no more for now. */
static bool meter_send(struct meter *meter)
{
	while (meter->owed >= 1) {
		size_t len;
		ssize_t sent;

		if (meter->at == meter->len) {
			meter->len = (size_t)snprintf(meter->line, sizeof(meter->line), "R %07lu 1.38 %% 22.4 C\r\n",
			                              ++meter->lines);
			meter->at = 0;
		}
		len = meter->len - meter->at;
		len = len < (size_t)meter->owed ? len : (size_t)meter->owed;
		sent = write(meter->fd, meter->line + meter->at, len);
		if (sent <= 0)
			return false;
		meter->at += (size_t)sent;
		meter->owed -= (double)sent;
	}
	return true;
}

/* The last line is sent whole. */
static void meter_finish(struct meter *meter)
{
	for (int tries = 0; tries < 5000 && meter->at < meter->len; tries++) {
		meter->owed = (double)(meter->len - meter->at);
		if (!meter_send(meter))
			usleep(1000);
	}
}

static void send_all(struct meter *meters, int count, double rate, double seconds)
{
	double begin = seconds_now(), last = begin;
	double now = begin;

	while (now - begin < seconds) {
		usleep(TICK_MS * 1000);
		now = seconds_now();
		for (int i = 0; i < count; i++) {
			meters[i].owed += (now - last) * rate;
			meter_send(&meters[i]);
		}
		last = now;
	}
}

int main(int argc, char **argv)
{
	struct meter meters[METERS];
	char word[64];
	int count;
	double owed = 0;

	if (argc != 5 || (count = (int)strtol(argv[2], NULL, 10)) < 1 || count > METERS) {
		fprintf(stderr, "usage: fleet FOLDER METERS BYTES-A-SECOND SECONDS\n");
		return 2;
	}
	for (int i = 0; i < count; i++)
		meter_plug(&meters[i], argv[1], i + 1);
	setvbuf(stdout, NULL, _IOLBF, 0);
	puts("ready");
	if (!fgets(word, sizeof(word), stdin))
		return 0;
	send_all(meters, count, strtod(argv[3], NULL), strtod(argv[4], NULL));
	for (int i = 0; i < count; i++)
		owed = meters[i].owed > owed ? meters[i].owed : owed;
	printf("late %.0f ms\n", 1000 * owed / strtod(argv[3], NULL));
	for (int i = 0; i < count; i++)
		meter_finish(&meters[i]);
	for (int i = 0; i < count; i++)
		printf("sent %lu\n", meters[i].lines);
	puts("done");
	while (fgets(word, sizeof(word), stdin))
		continue;
	return 0;
}
