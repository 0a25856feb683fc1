/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * simulator.c: an invented meter that sends whatever a script says.
 *
 *   simulator pty LINK        LINK leads to a pseudo-terminal, switched to a new one by each plug
 *   simulator fifo PATH       writes into a FIFO, which it makes
 *   simulator tcp FILE        listens on 127.0.0.1; FILE gets the number of the port
 *
 * The script comes from standard input, one command a line, # for remarks. Each line is answered by "ok" on standard
 * output once it is done, after "ready" at the start; at the script's end the meter goes away.
 *
 *   send "TEXT"     \r \n \t \0 \\ \" \xHH understood
 *   hex 00ff 8d     bytes
 *   file PATH       all bytes of a file
 *   flood N         N lines of the form R 0001 1.38 % 22.4 C
 *   noise N         N bytes of noise, the same at every run
 *   endless N       N bytes of text without a line end
 *   pace MS         between bytes from now on
 *   wait MS
 *   await           until somebody reads (FIFO) or connects (TCP)
 *   hangup          pulls the cable: closes this end; pty: LINK goes, too
 *   plug            puts it back: pty: a new one, which LINK then leads to
 *   expect "TEXT"   until the other side sent TEXT, at most 5 s
 *   stty WORDS      changes the terminal's settings behind the reader's back, as stty(1) is told
 */
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

enum { ROOM = 1 << 17 };

struct meter {
	enum { METER_PTY, METER_FIFO, METER_TCP } kind;
	const char *path;
	int fd; /* -1: unplugged */
	int listening;
	long pace_ms;
	char heard[4096];
	size_t heard_len;
};

static _Noreturn void give_up(const char *what)
{
	fprintf(stderr, "simulator: %s: %s\n", what, strerror(errno));
	exit(1);
}

static void sleep_ms(long ms)
{
	struct timespec span = { .tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000 };

	while (nanosleep(&span, &span) != 0 && errno == EINTR)
		continue;
}

static void pty_plug(struct meter *meter)
{
	char next[4096];
	struct termios terminal;
	const char *name;

	meter->fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
	if (meter->fd < 0 || grantpt(meter->fd) != 0 || unlockpt(meter->fd) != 0 || !(name = ptsname(meter->fd)))
		give_up("pseudo-terminal");
	if (tcgetattr(meter->fd, &terminal) != 0)
		give_up("pseudo-terminal");
	cfmakeraw(&terminal);
	tcsetattr(meter->fd, TCSANOW, &terminal);
	fcntl(meter->fd, F_SETFL, O_NONBLOCK);
	snprintf(next, sizeof(next), "%.4000s.next", meter->path);
	unlink(next);
	if (symlink(name, next) != 0 || rename(next, meter->path) != 0)
		give_up(meter->path);
}

static void tcp_listen(struct meter *meter)
{
	struct sockaddr_in name = { .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
	socklen_t len = sizeof(name);
	char next[4096];
	FILE *file;

	meter->listening = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (meter->listening < 0 || bind(meter->listening, (struct sockaddr *)&name, len) != 0 ||
	    listen(meter->listening, 1) != 0 || getsockname(meter->listening, (struct sockaddr *)&name, &len) != 0)
		give_up("socket");
	snprintf(next, sizeof(next), "%.4000s.next", meter->path);
	file = fopen(next, "w");
	if (!file || fprintf(file, "%d\n", ntohs(name.sin_port)) < 0 || fclose(file) != 0 ||
	    rename(next, meter->path) != 0)
		give_up(meter->path);
}

static void await(struct meter *meter)
{
	if (meter->fd >= 0)
		return;
	if (meter->kind == METER_FIFO)
		meter->fd = open(meter->path, O_WRONLY | O_CLOEXEC);
	else
		meter->fd = accept(meter->listening, NULL, NULL);
	if (meter->fd < 0)
		give_up(meter->path);
}

static void plug(struct meter *meter)
{
	if (meter->kind == METER_PTY && meter->fd < 0)
		pty_plug(meter);
}

static void hang_up(struct meter *meter)
{
	/* the next pseudo-terminal has the same name, and may be another test's: nobody is to be led there */
	if (meter->kind == METER_PTY)
		unlink(meter->path);
	if (meter->fd >= 0)
		close(meter->fd);
	meter->fd = -1;
}

static void bytes_send(struct meter *meter, const char *bytes, size_t len)
{
	size_t step = meter->pace_ms > 0 ? 1 : len;

	if (meter->kind != METER_PTY)
		await(meter);
	for (size_t at = 0; at < len && meter->fd >= 0;) {
		ssize_t sent = write(meter->fd, bytes + at, step < len - at ? step : len - at);

		if (sent > 0)
			at += (size_t)sent;
		else if (errno != EAGAIN)
			give_up("sending");
		if (meter->pace_ms > 0 || sent <= 0)
			sleep_ms(meter->pace_ms > 0 ? meter->pace_ms : 1);
	}
}

static int hex_digit(char c)
{
	const char *digits = "0123456789abcdef";
	const char *found = c ? strchr(digits, c | 0x20) : NULL;

	return found ? (int)(found - digits) : -1;
}

static char escape_read(const char **text)
{
	static const char letters[] = "rnt0";
	static const char values[] = { '\r', '\n', '\t', '\0' };
	const char *at = *text;
	const char *found = strchr(letters, *at);

	if (*at == 'x' && hex_digit(at[1]) >= 0 && hex_digit(at[2]) >= 0) {
		*text += 2;
		return (char)(hex_digit(at[1]) * 16 + hex_digit(at[2]));
	}
	return found && *at ? values[found - letters] : *at;
}

/* What stands between the first quote and the next that has no \ before it. */
static size_t quoted_read(char *out, const char *text)
{
	size_t len = 0;

	text = strchr(text, '"');
	for (text = text ? text + 1 : ""; *text && *text != '"' && len < ROOM; text++) {
		if (*text == '\\' && text[1]) {
			text++;
			out[len++] = escape_read(&text);
		} else {
			out[len++] = *text;
		}
	}
	return len;
}

static size_t hex_read(char *out, const char *text)
{
	size_t len = 0;
	int high = -1;

	for (; *text && len < ROOM; text++) {
		int digit = hex_digit(*text);

		if (digit < 0)
			continue;
		if (high < 0) {
			high = digit;
		} else {
			out[len++] = (char)(high * 16 + digit);
			high = -1;
		}
	}
	return len;
}

static size_t file_read(char *out, const char *path)
{
	FILE *file = fopen(path, "rb");
	size_t len;

	if (!file)
		give_up(path);
	len = fread(out, 1, ROOM, file);
	fclose(file);
	return len;
}

static size_t noise_make(char *out, size_t count)
{
	uint32_t state = 2463534242u;

	for (size_t i = 0; i < count && i < ROOM; i++) {
		state ^= state << 13;
		state ^= state >> 17;
		state ^= state << 5;
		out[i] = (char)(state >> 11);
	}
	return count < ROOM ? count : ROOM;
}

static void flood(struct meter *meter, size_t count)
{
	for (size_t i = 1; i <= count; i++) {
		char line[64];
		int len = snprintf(line, sizeof(line), "R %04zu 1.38 %% 22.4 C\r\n", i % 10000);

		bytes_send(meter, line, (size_t)len);
	}
}

static void expect(struct meter *meter, const char *text, size_t len)
{
	struct pollfd polled = { .fd = meter->fd, .events = POLLIN };

	for (int tries = 0; tries < 50; tries++) {
		ssize_t got = 0;

		if (memmem(meter->heard, meter->heard_len, text, len)) {
			meter->heard_len = 0;
			return;
		}
		if (poll(&polled, 1, 100) > 0)
			got = read(meter->fd, meter->heard + meter->heard_len, sizeof(meter->heard) - meter->heard_len);
		meter->heard_len += got > 0 ? (size_t)got : 0;
	}
	errno = ETIMEDOUT;
	give_up("expect");
}

static void settings_change(const struct meter *meter, const char *words)
{
	char command[4096];

	snprintf(command, sizeof(command), "stty -F '%.2000s' %.2000s", meter->path, words);
	if (system(command) != 0)
		give_up(command);
}

static bool is_word(const char *line, const char *word, const char **rest)
{
	size_t len = strlen(word);

	if (strncmp(line, word, len) != 0 || (line[len] != ' ' && line[len] != '\0'))
		return false;
	*rest = line + len + (line[len] == ' ');
	return true;
}

static void obey(struct meter *meter, const char *line, char *room)
{
	const char *rest;

	if (line[0] == '#' || line[0] == '\0')
		return;
	if (is_word(line, "send", &rest))
		bytes_send(meter, room, quoted_read(room, rest));
	else if (is_word(line, "hex", &rest))
		bytes_send(meter, room, hex_read(room, rest));
	else if (is_word(line, "file", &rest))
		bytes_send(meter, room, file_read(room, rest));
	else if (is_word(line, "noise", &rest))
		bytes_send(meter, room, noise_make(room, strtoul(rest, NULL, 10)));
	else if (is_word(line, "endless", &rest))
		bytes_send(meter, memset(room, 'x', ROOM), strtoul(rest, NULL, 10) % (ROOM + 1));
	else if (is_word(line, "flood", &rest))
		flood(meter, strtoul(rest, NULL, 10));
	else if (is_word(line, "pace", &rest))
		meter->pace_ms = strtol(rest, NULL, 10);
	else if (is_word(line, "wait", &rest))
		sleep_ms(strtol(rest, NULL, 10));
	else if (is_word(line, "await", &rest))
		await(meter);
	else if (is_word(line, "hangup", &rest))
		hang_up(meter);
	else if (is_word(line, "plug", &rest))
		plug(meter);
	else if (is_word(line, "expect", &rest))
		expect(meter, room, quoted_read(room, rest));
	else if (is_word(line, "stty", &rest))
		settings_change(meter, rest);
	else {
		errno = EINVAL;
		give_up(line);
	}
}

static bool meter_start(struct meter *meter, const char *kind)
{
	if (strcmp(kind, "pty") == 0) {
		meter->kind = METER_PTY;
		pty_plug(meter);
	} else if (strcmp(kind, "fifo") == 0) {
		meter->kind = METER_FIFO;
		if (mkfifo(meter->path, 0600) != 0 && errno != EEXIST)
			give_up(meter->path);
	} else if (strcmp(kind, "tcp") == 0) {
		meter->kind = METER_TCP;
		tcp_listen(meter);
	} else {
		return false;
	}
	return true;
}

int main(int argc, char **argv)
{
	struct meter meter = { .fd = -1, .listening = -1 };
	char *room = malloc(ROOM);
	char line[8192];

	if (argc != 3 || !room) {
		fprintf(stderr, "usage: simulator pty LINK | fifo PATH | tcp FILE <SCRIPT\n");
		return 2;
	}
	signal(SIGPIPE, SIG_IGN);
	meter.path = argv[2];
	if (!meter_start(&meter, argv[1])) {
		fprintf(stderr, "simulator: no meter of the kind %s\n", argv[1]);
		return 2;
	}
	setvbuf(stdout, NULL, _IOLBF, 0);
	puts("ready");
	while (fgets(line, sizeof(line), stdin)) {
		line[strcspn(line, "\n")] = '\0';
		obey(&meter, line, room);
		puts("ok");
	}
	free(room);
	return 0;
}
